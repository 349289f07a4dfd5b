"""Items about signs: what does this speak for, or against, and which sign speaks for a cause.

One of each for every rule that is evidence, out of the rule itself: its facts, its weights, its reason.
"""

from __future__ import annotations

from collections.abc import Iterable

from coach.consultation import Assessment
from coach.model import Rule
from coach.rulebook.topics import GROUP as SPOKEN_OF
from coach.rulebook.topics import fact_name
from coach.school.keys import of
from coach.school.kitchen import Kitchen, dice
from coach.school.parts import Item, Slip
from coach.school.told import filled, large, small

_MOST = 3
_HARD_SIGN, _HARD_BACK, _EASY = 0.3, 0.0, -0.5


def points(name: str, kitchen: Kitchen) -> Item | None:
    """What do these facts speak for most, or against most? None where nothing can be told apart."""
    rule, facts = kitchen.rule(name), kitchen.moment(name)
    if facts is None or not rule.weighs:
        return None
    found = kitchen.bench.assessed(facts)
    is_for = max(db for _, db in rule.weighs) > 0
    judge = "points" if is_for else "rules out"
    right = _leads(found, kitchen, is_for)
    if not right:
        return None
    ids = tuple(kitchen.book.causes)
    never = of(judge, facts, "", ids, kitchen.bench)
    left = [cause for cause in ids if cause not in never]  # in the order of the rules where equal
    assume = sorted(left, key=lambda cause: -found.weighed[cause].db) if is_for else []
    slips = kitchen.slips.wrong(
        facts, found, lambda other: _leads(other, kitchen, is_for), never=never, most=_MOST, assume=assume
    )
    if not is_for:  # fill up with what the facts speak for, or leave alone
        slips |= _left_alone(name, ids, never, kitchen, most=_MOST - len(slips))
    wrong = {
        cause: (_says(cause, kitchen), _why(slip, cause, found, kitchen), slip)
        for cause, slip in slips.items()
    }
    because = _reasons(name, right[0], found, kitchen)
    told = kitchen.told(facts)
    ask = kitchen.text["ask_points" if is_for else "ask_rules_out"]
    if rule.group == SPOKEN_OF:
        ask = filled(kitchen.text["ask_talk"], topic=_talk(facts, kitchen))
        told, because = (), (filled(kitchen.text["talk"], cause=kitchen.book.causes[right[0]].says),)
    return kitchen.item(
        f"points/{name}",
        _says(right[0], kitchen),
        wrong,
        looks=told if len(told) > 1 else (),
        topic=kitchen.topic_of(name) or "",
        ask=ask,
        told=told,
        right=right[0],
        because=because,
        rules=(name,),
        judge=judge,
        facts=facts,
        hardness=_EASY if len(told) < 2 else _HARD_SIGN,
    )


def _talk(facts: Iterable[str], kitchen: Kitchen) -> str:
    """What is spoken of, as topics call it."""
    return next(topic.says for topic in kitchen.book.topics if fact_name(topic.id) in set(facts))


def _leads(found: Assessment, kitchen: Kitchen, is_for: bool) -> list[str]:
    """The cause that the facts speak for (or against) most; none where they do for none."""
    gains = kitchen.bench.gains(found)
    ranked = sorted(gains, key=lambda cause: -gains[cause] if is_for else gains[cause])
    best = gains[ranked[0]]
    return [] if (best <= 0 if is_for else best >= 0) else ranked[:1]


def _left_alone(
    name: str, ids: Iterable[str], never: Iterable[str], kitchen: Kitchen, *, most: int
) -> dict[str, Slip]:
    gone = set(never)
    left = sorted((cause for cause in ids if cause not in gone), key=lambda cause: dice(name, cause))
    return {cause: Slip("other", rule=_strongest(cause, kitchen)) for cause in left[: max(0, most)]}


def _strongest(cause: str, kitchen: Kitchen, *, sign: int = 1) -> str:
    """The rule that speaks most for a cause (or against it)."""
    voices = [
        (sign * db, rule.id) for rule in kitchen.book.rules for speaks, db in rule.weighs if speaks == cause
    ]
    best = max(db for db, _ in voices)
    return kitchen.slips.name_of(next(rule for db, rule in voices if db == best))


def _why(slip: Slip, cause: str, found: Assessment, kitchen: Kitchen) -> str:
    if slip.kind != "other":
        return kitchen.slips.why(slip, found, kitchen.text)
    rule = kitchen.rule(slip.rule)
    voice = next((db for speaks, db in rule.weighs if speaks == cause), 0)
    told = filled(
        kitchen.text["slip_other_rule" if voice > 0 else "slip_other_against"],
        cause=kitchen.book.causes[cause].says,
    )
    is_more = "{" not in rule.because and voice > 0 and rule.group != SPOKEN_OF
    return f"{told} {rule.because}" if is_more else told


def _says(cause: str, kitchen: Kitchen) -> str:
    return large(kitchen.book.causes[cause].says)


def _plain(rule: Rule) -> str:
    """A rule's reason without figures; its title where the reason has some."""
    return f"{rule.title}." if "{" in rule.because else rule.because


def _reasons(name: str, cause: str, found: Assessment, kitchen: Kitchen) -> tuple[str, ...]:
    """The rule's own reason, and that of the strongest other voice about the cause."""
    ids = [rule.id for rule in kitchen.rules[name]]
    fired = [firing.rule for firing in found.inference.firings if firing.rule in ids][:1]
    voices = sorted((e for e in found.weighed[cause].evidence if e.counted), key=lambda e: -abs(e.db))
    rules = [*fired, *(voice.rule for voice in voices if voice.rule not in ids)][:2]
    return tuple(dict.fromkeys(kitchen.slips.because(rule, found) for rule in rules))


# --- the other way round -----------------------------------------------------------------------------------


def shows(name: str, kitchen: Kitchen) -> Item | None:
    """Which of these speaks for a cause, or against it? The rule among others that do not."""
    rule = kitchen.rule(name)
    if not rule.weighs:
        return None
    is_for = max(db for _, db in rule.weighs) > 0
    cause, _ = max(rule.weighs, key=lambda speaks: speaks[1] if is_for else -speaks[1])
    judge = "shows" if is_for else "denies"
    others = _others(name, cause, kitchen, judge)
    wrong = {}
    for other in others:
        there = _speaks_most(kitchen.rule(other))
        slip = Slip("other", rule=other)
        wrong[other] = (
            kitchen.rule(other).title,
            _why(slip, there, kitchen.bench.assessed({}), kitchen),
            slip,
        )
    slot = kitchen.book.causes[cause].says
    because = (_plain(rule) if rule.group != SPOKEN_OF else filled(kitchen.text["talk"], cause=slot),)
    return kitchen.item(
        f"shows/{name}",
        rule.title,
        wrong,
        think=because if small(rule.title) not in small(because[0]) else (),
        topic=kitchen.topic_of(name) or "",
        ask=filled(kitchen.text["ask_shows" if is_for else "ask_denies"], cause=slot),
        told=(),
        right=name,
        because=because,
        rules=(name,),
        judge=judge,
        about=cause,
        hardness=_HARD_BACK,
    )


def _others(name: str, cause: str, kitchen: Kitchen, judge: str) -> list[str]:
    """Rules on other evidence, the same topic's first, that do not speak so about the cause."""
    mine = kitchen.rule(name)
    sign = 1 if judge == "shows" else -1
    fit = [
        other
        for other, rules in kitchen.rules.items()
        if rules[0].weighs
        and rules[0].group != mine.group
        and (rules[0].group == SPOKEN_OF) == (mine.group == SPOKEN_OF)
        and all(sign * db <= 0 for speaks, db in rules[0].weighs if speaks == cause)
        and (max(db for _, db in rules[0].weighs) > 0) == (sign > 0)
    ]
    if mine.group == SPOKEN_OF:
        fit = [
            other
            for other, rules in kitchen.rules.items()
            if rules[0].group == SPOKEN_OF and all(speaks != cause for speaks, _ in rules[0].weighs)
        ]
    own = kitchen.topic_of(name)
    ranked = sorted(fit, key=lambda other: (kitchen.topic_of(other) != own, dice(name, other)))
    chosen: dict[str, str] = {}
    titles = {mine.title}
    for other in ranked:
        there, title = _speaks_most(kitchen.rule(other)), kitchen.rule(other).title
        if there not in chosen and title not in titles:
            chosen[there] = other
            titles.add(title)
    return list(chosen.values())[:_MOST]


def _speaks_most(rule: Rule) -> str:
    """The cause about which a rule says most."""
    return max(rule.weighs, key=lambda speaks: abs(speaks[1]))[0]
