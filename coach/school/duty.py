"""Items about dangers, the gravest first, and about which set the water wants."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

from coach.consultation import Assessment
from coach.model import Scalar
from coach.school.kitchen import Kitchen, dice
from coach.school.parts import Item, Slip
from coach.school.told import filled, large
from coach.verdict import conclude

_MOST = 3
_EASY, _HARD = -0.6, 0.2


# --- dangers -----------------------------------------------------------------------------------------------


def hazard(name: str, kitchen: Kitchen) -> Item | None:
    """One danger: what do you do first?"""
    rule, facts = kitchen.rule(name), kitchen.moment(name)
    if facts is None or rule.hazard is None:
        return None
    return _danger(f"hazard/{name}", facts, rule.hazard, (name,), kitchen)


def two_hazards(pair: tuple[str, str], kitchen: Kitchen) -> Item | None:
    """Two dangers at once: which comes first?"""
    moments = [kitchen.moment(name) for name in pair]
    if None in moments:
        return None
    facts = {name: value for moment in moments for name, value in (moment or {}).items()}
    found = kitchen.bench.assessed(facts)
    if len(found.hazards) < 2:
        return None
    return _danger(f"two-hazards/{'+'.join(pair)}", facts, found.hazards[0][0], pair, kitchen)


def hazard_pairs(kitchen: Kitchen) -> Iterator[tuple[str, str]]:
    """Each danger with the two that come after it in gravity."""
    of: dict[str | None, str] = {}
    dangers = [name for name, rules in kitchen.rules.items() if rules[0].hazard]
    for name in sorted(dangers, key=lambda name: len(kitchen.moment(name) or kitchen.rules)):
        of.setdefault(kitchen.rule(name).hazard, name)
    names = [of[hazard] for hazard in kitchen.book.hazards if hazard in of]
    for place, name in enumerate(names):
        for other in names[place + 1 : place + 3]:
            yield name, other


def _danger(
    item_id: str, facts: Mapping[str, Scalar], right: str, rules: tuple[str, ...], kitchen: Kitchen
) -> Item | None:
    found = kitchen.bench.assessed(facts)
    says = dict(found.hazards)
    if right not in says:
        return None
    wrong = _second(found, kitchen) | _not_in_force(item_id, found, kitchen)
    fired = [f.rule for f in found.inference.firings if kitchen.tools.scales.rules[f.rule].hazard == right]
    because = (kitchen.slips.because(fired[0], found),)
    return kitchen.item(
        item_id,
        says[right],
        dict(list(wrong.items())[:_MOST]),
        topic=kitchen.topic_of(rules[0]) or "",
        ask=kitchen.text["ask_hazard"],
        told=kitchen.told(facts),
        right=right,
        because=because,
        rules=rules,
        judge="hazard",
        facts=facts,
        hardness=_EASY if len(rules) < 2 else _HARD,
    )


def _second(found: Assessment, kitchen: Kitchen) -> dict[str, tuple[str, str, Slip]]:
    """The dangers that are there too but come later."""
    gravest, first = found.hazards[0]
    why, slip = (
        filled(kitchen.text["slip_second"], first=first),
        Slip("left-out", rule=_rule_of(gravest, kitchen)),
    )
    return {name: (say, why, slip) for name, say in found.hazards[1:]}


def _rule_of(hazard_id: str, kitchen: Kitchen) -> str:
    return next(name for name, rules in kitchen.rules.items() if rules[0].hazard == hazard_id)


def _not_in_force(item_id: str, found: Assessment, kitchen: Kitchen) -> dict[str, tuple[str, str, Slip]]:
    """What would be done in dangers that nobody told of."""
    wrong: dict[str, tuple[str, str, Slip]] = {}
    in_force = {name for name, _ in found.hazards}
    named = [name for name, rules in kitchen.rules.items() if rules[0].hazard]
    for name in sorted(named, key=lambda other: dice(item_id, other)):
        moment, other = kitchen.moment(name), kitchen.rule(name).hazard
        if moment is None or other is None or other in in_force or len(moment) != 1 or other in wrong:
            continue
        (fact, value), *_ = moment.items()
        slip = Slip("misread" if fact in found.given else "assumed", fact=fact, value=value)
        says = dict(kitchen.bench.assessed(moment).hazards)[other]
        wrong[other] = (says, kitchen.slips.why(slip, found, kitchen.text), slip)
    return wrong


# --- set-ups -----------------------------------------------------------------------------------------------


def set_up(name: str, kitchen: Kitchen) -> Item | None:
    """Which set for these facts?"""
    rule = kitchen.rule(name)
    facts = _night_for(name, kitchen) if rule.advises_set else None
    if facts is None:
        return None
    found = kitchen.bench.assessed(facts)
    right = str(kitchen.bench.verdict(found).record["set"])
    slips = kitchen.slips.wrong(
        facts, found, lambda other: [str(_set_of(other, kitchen))], never=[right, "None"], most=_MOST
    )
    slips |= _other_sets(name, facts, {right, *slips}, kitchen, most=_MOST - len(slips))
    slips |= _sets_for_else(name, {right, *slips}, kitchen, most=_MOST - len(slips))
    sets = kitchen.book.sets
    wrong = {each: (large(sets[each]), _why_not(slip, found, kitchen), slip) for each, slip in slips.items()}
    told = kitchen.told(facts)
    because = (rule.because,)
    return kitchen.item(
        f"set/{name}",
        large(sets[right]),
        wrong,
        looks=told,
        topic=kitchen.topic_of(name) or "",
        ask=kitchen.text["ask_set"],
        told=told,
        right=right,
        because=because,
        rules=(name,),
        judge="set",
        facts=facts,
        hardness=_HARD,
    )


def set_for(name: str, kitchen: Kitchen) -> Item | None:
    """On which of these nights is it this set?"""
    wanted = kitchen.rule(name).advises_set
    mine = _night_for(name, kitchen) if wanted else None
    if mine is None or wanted is None:
        return None
    wrong: dict[str, tuple[str, str, Slip]] = {}
    for other in sorted(kitchen.rules, key=lambda each: dice(name, "night", each)):
        there = kitchen.rule(other).advises_set
        night = _night_for(other, kitchen) if there and there != wanted else None
        if night is not None and there is not None and len(wrong) < _MOST:
            why = filled(kitchen.text["slip_set_there"], set=large(kitchen.book.sets[there]))
            wrong[json.dumps(night)] = ("; ".join(kitchen.told(night)), why, Slip("other", rule=other))
    text = "; ".join(kitchen.told(mine))
    because = (kitchen.rule(name).because,)
    return kitchen.item(
        f"set-for/{name}",
        text,
        wrong,
        topic=kitchen.topic_of(name) or "",
        ask=filled(kitchen.text["ask_set_for"], set=kitchen.book.sets[wanted]),
        told=(),
        right=json.dumps(mine),
        because=because,
        rules=(name,),
        judge="set for",
        about=wanted,
        hardness=_HARD,
    )


def _night_for(name: str, kitchen: Kitchen) -> Mapping[str, Scalar] | None:
    """The shortest moment in which a rule's set is the one advised."""
    wanted = kitchen.rule(name).advises_set

    def holds(found: Assessment) -> bool:
        return kitchen.fires(name, found) and _set_of(found, kitchen) == wanted

    here = [kitchen.facts_of(s) for s in kitchen.situations if name in s.fires]
    for facts in sorted(here, key=len):
        if holds(kitchen.bench.assessed(facts)):
            return kitchen.less(facts, holds)
    return None


def _set_of(found: Assessment, kitchen: Kitchen) -> object:
    """The set advised on what was found; a rule that was left out stays left out."""
    fired = {firing.rule for firing in found.inference.firings}
    advised = (rule.advises_set for rule in kitchen.book.rules if rule.advises_set and rule.id in fired)
    if not found.named:
        return next(advised, None)
    return conclude(found, kitchen.tools, infer=kitchen.bench.infer).record["set"]


def _other_sets(
    name: str, facts: Mapping[str, Scalar], gone: set[str], kitchen: Kitchen, *, most: int
) -> dict[str, Slip]:
    """Sets that would be right had something else been told."""
    chosen: dict[str, Slip] = {}
    named = [other for other, rules in kitchen.rules.items() if rules[0].advises_set and other != name]
    for other in sorted(named, key=lambda each: dice(name, each)):
        moment = kitchen.moment(other) or {}
        new = [each for each in moment.items() if facts.get(each[0]) != each[1]]
        if len(chosen) >= most or len(new) != 1:
            continue
        fact, value = new[0]
        there = str(_set_of(kitchen.bench.assessed({**facts, fact: value}), kitchen))
        if there not in gone and there not in chosen and there != "None":
            chosen[there] = Slip("misread" if fact in facts else "assumed", fact=fact, value=value)
    return chosen


def _sets_for_else(name: str, gone: set[str], kitchen: Kitchen, *, most: int) -> dict[str, Slip]:
    """Sets that other rules advise, for other water."""
    chosen: dict[str, Slip] = {}
    for other in sorted(kitchen.rules, key=lambda each: dice(name, "else", each)):
        there = kitchen.rule(other).advises_set
        if there and there not in gone and there not in chosen and len(chosen) < most:
            chosen[there] = Slip("other", rule=other)
    return chosen


def _why_not(slip: Slip, found: Assessment, kitchen: Kitchen) -> str:
    if slip.kind != "other":
        return kitchen.slips.why(slip, found, kitchen.text)
    when = "; ".join(kitchen.told(kitchen.moment(slip.rule) or {}))
    return filled(kitchen.text["slip_other_set"], when=when)
