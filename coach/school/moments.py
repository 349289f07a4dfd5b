"""Items about moments: what follows from these facts, and what would have to be otherwise.

The moments are the captain's own situations, those in which a rule fires and those in which it just does not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from coach.consultation import Assessment
from coach.model import Rule, Scalar
from coach.rulebook.topics import GROUP as SPOKEN_OF
from coach.school.keys import change, read_change
from coach.school.kitchen import Kitchen, dice
from coach.school.parts import Item, Slip
from coach.school.slips import others
from coach.school.told import filled, large
from coach.wording import in_words

_MOST = 3
_MOST_TOLD = 9
_MOST_MOMENTS = 4
_MOST_TRIED = 40
_HARD, _HARDER = 0.4, 0.9


def follows(name: str, kitchen: Kitchen) -> Item | None:
    """What follows from the facts on which a rule concludes something?"""
    rule, facts = kitchen.rule(name), kitchen.moment(name)
    if facts is None or not rule.concludes or len(facts) > _MOST_TOLD:
        return None
    found = kitchen.bench.assessed(facts)
    concluded = [fact for each in kitchen.rules[name] for fact in each.concludes]
    right = next(fact for fact in concluded if fact in found.inference.facts)
    drawn = _conclusions(found, kitchen)
    slips = kitchen.slips.wrong(
        facts, found, lambda other: _conclusions(other, kitchen), never=drawn, most=_MOST
    )
    slips |= _assumed(facts, drawn, kitchen, most=_MOST - len(slips))
    wrong = {
        fact: (_says(fact, kitchen), kitchen.slips.why(slip, found, kitchen.text), slip)
        for fact, slip in slips.items()
    }
    ids = [rule.id for rule in kitchen.rules[name]]
    fired = [firing.rule for firing in found.inference.firings if firing.rule in ids]
    because = tuple(kitchen.slips.because(rule, found) for rule in fired[:1])
    told = kitchen.told(facts)
    return kitchen.item(
        f"follows/{name}",
        _says(right, kitchen),
        wrong,
        looks=told if len(told) > 1 else (),
        topic=kitchen.topic_of(name) or "",
        ask=kitchen.text["ask_follows"],
        told=told,
        right=right,
        because=because,
        rules=(name,),
        judge="follows",
        facts=facts,
        hardness=_HARD,
    )


def _conclusions(found: Assessment, kitchen: Kitchen) -> list[str]:
    facts = kitchen.book.facts
    return [name for name in found.inference.facts if facts[name].origin == "concluded"]


def _assumed(
    facts: Mapping[str, Scalar], drawn: Iterable[str], kitchen: Kitchen, *, most: int
) -> dict[str, Slip]:
    """Conclusions for which something has to be taken for granted that nobody told."""
    chosen: dict[str, Slip] = {}
    gone = set(drawn)
    for name, value in _single_answers(facts, kitchen):
        if len(chosen) >= most:
            break
        for fact in _conclusions(kitchen.bench.assessed({**facts, name: value}), kitchen):
            if fact not in gone and fact not in chosen:
                chosen[fact] = Slip("assumed", fact=name, value=value)
                break
    return chosen


def _single_answers(facts: Mapping[str, Scalar], kitchen: Kitchen) -> Iterator[tuple[str, Scalar]]:
    """Answers to questions that were not asked, in an order that differs from moment to moment."""
    answers = [
        (fact.name, value)
        for fact in kitchen.book.facts.values()
        if fact.origin == "asked" and fact.name not in facts
        for value, _ in fact.expect
    ]
    yield from sorted(answers, key=lambda answer: dice(*sorted(facts), *answer))


def _says(fact: str, kitchen: Kitchen) -> str:
    return large(kitchen.book.facts[fact].says)


# --- what would have to be otherwise -----------------------------------------------------------------------


def would(name: str, kitchen: Kitchen) -> Item | None:
    """Which one change makes a rule fire that just does not? None where no single one does, or where the
    question would only say itself again."""
    rule = kitchen.rule(name)
    only_says_itself = len(rule.when) == 1 and not rule.unless and _is_asked(rule, kitchen)
    if rule.group == SPOKEN_OF or (only_says_itself and (rule.weighs or rule.hazard)):
        return None
    for facts in (*_near_misses(name, kitchen), *_misread_moments(name, kitchen)):
        right, idle = _found(name, facts, kitchen)
        if right and (item := _would(name, facts, right, idle, kitchen)) is not None:
            return item
    return None


def _is_asked(rule: Rule, kitchen: Kitchen) -> bool:
    return kitchen.book.facts[rule.when[0].fact].origin == "asked"


def _near_misses(name: str, kitchen: Kitchen) -> Iterator[Mapping[str, Scalar]]:
    """Situations that say that the rule keeps silent, the shortest first."""
    ids = {name, *(rule.id for rule in kitchen.rules[name])}
    here = [kitchen.facts_of(s) for s in kitchen.situations if ids & {*s.silent}]
    for facts in sorted(here, key=len)[:_MOST_MOMENTS]:
        if len(facts) <= _MOST_TOLD and not kitchen.fires(name, kitchen.bench.assessed(facts)):
            yield facts


def _misread_moments(name: str, kitchen: Kitchen) -> Iterator[Mapping[str, Scalar]]:
    """The moment in which it fires, with one fact otherwise so that it does not."""
    moment = kitchen.moment(name) or {}
    for fact, value in moment.items():
        for other in others(kitchen.book.facts[fact], value):
            facts = {**moment, fact: other}
            if not kitchen.fires(name, kitchen.bench.assessed(facts)):
                yield facts
                break


def _found(
    name: str, facts: Mapping[str, Scalar], kitchen: Kitchen
) -> tuple[str, dict[tuple[str, Scalar], Assessment]]:
    """The first change that makes the rule fire, and some of other facts that do not."""
    right = ""
    idle: dict[tuple[str, Scalar], Assessment] = {}
    told = [
        (fact, other) for fact, value in facts.items() for other in others(kitchen.book.facts[fact], value)
    ]
    near = _near_facts(name, kitchen)
    answers = sorted(_single_answers(facts, kitchen), key=lambda answer: answer[0] not in near)
    for fact, value in (*told, *answers[:_MOST_TRIED]):
        mine = read_change(right)[0] if right else None
        if fact == mine or (right and fact in {name for name, _ in idle}):
            continue
        if right and len({name for name, _ in idle if name != mine}) >= _MOST:
            break
        found = kitchen.bench.assessed({**facts, fact: value})
        if kitchen.fires(name, found):
            right = right or change(fact, value)
        else:
            idle[fact, value] = found
    if right:
        idle = {key: found for key, found in idle.items() if key[0] != read_change(right)[0]}
    return right, idle


def _near_facts(name: str, kitchen: Kitchen) -> set[str]:
    """The facts on which the rules of the same topic stand."""
    topic = kitchen.topic_of(name)
    return {
        condition.fact
        for other, rules in kitchen.rules.items()
        if kitchen.topic_of(other) == topic
        for condition in rules[0].when
    }


def _would(
    name: str,
    facts: Mapping[str, Scalar],
    right: str,
    idle: Mapping[tuple[str, Scalar], Assessment],
    kitchen: Kitchen,
) -> Item | None:
    before = {firing.rule for firing in kitchen.bench.assessed(facts).inference.firings}
    wrong: dict[str, tuple[str, str, Slip]] = {}
    for (fact, value), found in {key[0]: (key, found) for key, found in idle.items()}.values():
        if len(wrong) < _MOST:
            why = _idle_why(fact, value, found, before, kitchen)
            slip = Slip("other", fact=fact, value=value)
            wrong[change(fact, value)] = (_change_says(fact, value, kitchen), why, slip)
    text = _change_says(*read_change(right), kitchen)
    changed = kitchen.bench.assessed({**facts, **dict([read_change(right)])})
    ids = [each.id for each in kitchen.rules[name]]
    fired = [f.rule for f in changed.inference.firings if f.rule in ids]
    because = tuple(kitchen.slips.because(rule, changed) for rule in fired[:1])
    return kitchen.item(
        f"would/{name}",
        text,
        wrong,
        topic=kitchen.topic_of(name) or "",
        ask=filled(kitchen.text["ask_would"], title=kitchen.rule(name).title),
        told=kitchen.told(facts),
        right=right,
        because=because,
        rules=(name,),
        judge="would",
        about=name,
        facts=facts,
        hardness=_HARDER,
    )


def _idle_why(fact: str, value: Scalar, found: Assessment, before: set[str], kitchen: Kitchen) -> str:
    """What one could say instead with a change that does not help."""
    slots = {"says": kitchen.book.facts[fact].says, "value": in_words(value, kitchen.book.facts[fact])}
    new = [f.rule for f in found.inference.firings if f.rule not in before]
    if not new:
        return filled(kitchen.text["slip_no_effect"], **slots)
    return filled(kitchen.text["slip_gained"], **slots, because=kitchen.slips.because(new[0], found))


def _change_says(fact: str, value: Scalar, kitchen: Kitchen) -> str:
    return filled(
        kitchen.text["would_be"],
        says=large(kitchen.book.facts[fact].says),
        value=in_words(value, kitchen.book.facts[fact]),
    )
