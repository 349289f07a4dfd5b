"""Items about whole nights, in the steps of a consultation: ask first, what is wrong, do, look again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from coach.consultation import Assessment
from coach.explain import Chains
from coach.model import Scalar
from coach.questions import Case as Asked
from coach.questions import Scored
from coach.school.blame import cause_says, leader, reasons, slips_of, why_not
from coach.school.keys import of
from coach.school.kitchen import Kitchen, dice
from coach.school.parts import NOTHING, Case, Item, Slip
from coach.school.sums import drawn, picture_kind
from coach.school.told import filled
from coach.wording import unit_in_words

STEPS = ("first", "wrong", "do", "again")
_MOST = 3
_MUCH_LESS = 0.5
_HARD = {"first": 0.8, "wrong": 0.7, "do": 0.4, "again": 0.5}


def night(case: Case, step: str, kitchen: Kitchen) -> Item | None:
    """One step of a case; None where it cannot be asked of this one."""
    return {"first": _first, "wrong": _wrong, "do": _do, "again": _again}[step](case, kitchen)


def topic_of(case: Case, kitchen: Kitchen) -> str:
    """Where a case is taught: as it says, or with its cause."""
    if case.topic:
        return case.topic
    named = kitchen.bench.assessed(case.facts).named
    return (kitchen.topic_of_cause(named[0]) if named else None) or ""


def _item(
    case: Case,
    step: str,
    kitchen: Kitchen,
    right_text: str,
    wrong: Mapping[str, tuple[str, str, Slip]],
    **parts: Any,
) -> Item | None:
    return kitchen.item(
        f"case/{case.id}/{step}",
        right_text,
        wrong,
        topic=topic_of(case, kitchen),
        ask=kitchen.text[f"ask_{step}"],
        case=case.id,
        hardness=_HARD[step],
        **parts,
    )


# --- what do you ask first? --------------------------------------------------------------------------------


def opening_facts(case: Case, kitchen: Kitchen) -> dict[str, Scalar]:
    """What is known when the boater has said the first sentence; the safety check is behind us."""
    return {kitchen.book.safety_check: True, **{name: case.facts[name] for name in case.hears}}


def _first(case: Case, kitchen: Kitchen) -> Item | None:
    facts = opening_facts(case, kitchen)
    found = kitchen.bench.assessed(facts)
    right = next(iter(of("first", facts, "", (), kitchen.bench)), None)
    scores = {scored.candidate.fact: scored for scored in reversed(ranked(found, kitchen))}
    if right is None or right not in scores or not case.hears:
        return None
    best = _score(scores[right])
    safety = {kitchen.book.safety_check, *kitchen.book.safety_singles}  # never wrong to ask
    less = [
        name
        for name, scored in scores.items()
        if name != right and name not in safety and _score(scored) < _MUCH_LESS * best
    ]
    wrong = {
        name: (
            _ask(name, kitchen),
            _why_later(name, _score(scores[name]) / best, kitchen),
            Slip("other", fact=name),
        )
        for name in sorted(less, key=lambda name: dice(case.id, name))[:_MOST]
    }
    because = (kitchen.book.facts[right].why,)
    return _item(
        case,
        "first",
        kitchen,
        _ask(right, kitchen),
        wrong,
        told=(f'"{case.opening}"', *kitchen.told({name: case.facts[name] for name in case.hears})),
        right=right,
        because=because,
        rules=(),
        judge="first",
        facts=facts,
    )


def ranked(found: Assessment, kitchen: Kitchen, closed: Iterable[str] = ()) -> list[Scored]:
    """The questions that the coach weighs, the most telling for the trouble first."""
    asked = Asked(found.given, found.known, tuple(closed), found.inference, found.weighed, found.now)
    return kitchen.tools.planner.ranked(asked)


def _score(scored: Scored) -> float:
    return scored.bits / scored.candidate.trouble


def _ask(name: str, kitchen: Kitchen) -> str:
    fact = kitchen.book.facts[name]
    return fact.ask.replace("{unit}", unit_in_words(fact.unit))


def _why_later(name: str, share: float, kitchen: Kitchen) -> str:
    why = kitchen.book.facts[name].why
    if share < 0.01:
        return filled(kitchen.text["slip_first_nothing"], why=why)
    return filled(kitchen.text["slip_first_less"], share=share_words(share), why=why)


def share_words(share: float) -> str:
    """A part of a whole in words."""
    steps = ((0.06, "next to nothing"), (0.15, "a tenth"), (0.29, "a quarter"), (0.42, "a third"))
    return next((says for most, says in steps if share <= most), "half")


# --- what is wrong, what do you do, when do you look again? ------------------------------------------------


def _wrong(case: Case, kitchen: Kitchen) -> Item | None:
    found = kitchen.bench.assessed(case.facts)
    right = leader(found)[0]
    wrong = {
        cause: (cause_says(cause, kitchen), why_not(slip, cause, found, kitchen), slip)
        for cause, slip in slips_of(case.facts, found, kitchen).items()
    }
    kind = picture_kind(case.facts)
    told = _told(case, kitchen)
    because = reasons(found, kitchen)
    return _item(
        case,
        "wrong",
        kitchen,
        cause_says(right, kitchen),
        wrong,
        looks=_looks(found, kitchen),
        think=because if found.named else (),
        told=told,
        right=right,
        because=because,
        rules=_evidence(found, kitchen),
        judge="wrong",
        facts=case.facts,
        picture=kind if kind and drawn(case.facts, kind) else "",
    )


def _told(case: Case, kitchen: Kitchen) -> tuple[str, ...]:
    return (f'"{case.opening}"', *kitchen.told(case.facts))


def _evidence(found: Assessment, kitchen: Kitchen) -> tuple[str, ...]:
    """The captain's ids of the rules that made the coach name what it names."""
    chains = Chains(found.inference, kitchen.tools.scales)
    rules = [rule for cause in found.named[:1] for rule in chains.for_cause(found.weighed[cause])]
    return tuple(dict.fromkeys(kitchen.slips.name_of(rule) for rule in rules))


def _looks(found: Assessment, kitchen: Kitchen) -> list[str]:
    """The told facts that the strongest voice stands on."""
    voices = [e for cause in found.named[:1] for e in found.weighed[cause].evidence if e.counted and e.db > 0]
    best = max(voices, key=lambda voice: voice.db, default=None)
    firing = next((f for f in found.inference.firings if best is not None and f.rule == best.rule), None)
    if firing is None:
        return []
    names = [name for name in kitchen.slips.stood_on(firing, found) if name in found.given]
    return ["; ".join(kitchen.slips.line(name, found.given[name]) for name in names[:3])] if names else []


def _do(case: Case, kitchen: Kitchen) -> Item | None:
    found = kitchen.bench.assessed(case.facts)
    right = leader(found)[0]
    wrong = {
        cause: (_action_of(cause, case, slip, kitchen), why_not(slip, cause, found, kitchen), slip)
        for cause, slip in slips_of(case.facts, found, kitchen).items()
    }
    verdict = kitchen.bench.verdict(found)
    text = verdict.blocks[0].text
    because = tuple(block.text for block in verdict.blocks[1:2])
    fix = kitchen.doable.get(right)
    return _item(
        case,
        "do",
        kitchen,
        text,
        wrong,
        told=_told(case, kitchen),
        right=right,
        because=because,
        rules=() if fix is None else (kitchen.slips.name_of(fix.id),),
        judge="wrong",
        facts=case.facts,
    )


def _action_of(cause: str, case: Case, slip: Slip, kitchen: Kitchen) -> str:
    """What the coach would say to do if it took this for the cause."""
    if cause == NOTHING:
        return kitchen.book.texts["healthy"]
    facts: Mapping[str, Scalar] = case.facts
    if slip.kind in ("misread", "assumed") and slip.value is not None:
        facts = {**facts, slip.fact: slip.value}
    found = kitchen.bench.assessed(facts)
    if found.named[:1] == (cause,):
        return kitchen.bench.verdict(found).blocks[0].text
    return kitchen.action(cause)


def _again(case: Case, kitchen: Kitchen) -> Item | None:
    found = kitchen.bench.assessed(case.facts)
    right = next(iter(of("again", case.facts, "", (), kitchen.bench)), None)
    if right is None:
        return None
    wrong: dict[str, tuple[str, str, Slip]] = {}
    for minutes, cause in _other_times(case, right, kitchen):
        why = filled(kitchen.text["slip_again"], minutes=minutes, cause=kitchen.book.causes[cause].says)
        if len(wrong) < _MOST:
            wrong[minutes] = (
                _minutes(minutes, kitchen),
                why,
                Slip("other", fact=f"named.{cause}", value=True),
            )
    verdict = kitchen.bench.verdict(found)
    because = tuple(block.text for block in (verdict.blocks[0], verdict.blocks[-1]))
    fix = kitchen.doable.get(found.named[0])
    return _item(
        case,
        "again",
        kitchen,
        _minutes(right, kitchen),
        wrong,
        think=(),
        told=(f'"{case.opening}"', f"{verdict.blocks[1].text} {verdict.blocks[0].text}"),
        right=right,
        because=because,
        rules=() if fix is None else (kitchen.slips.name_of(fix.id),),
        judge="again",
        facts=case.facts,
    )


def _other_times(case: Case, right: str, kitchen: Kitchen) -> Iterator[tuple[str, str]]:
    """The times of other fixes, each with a cause it belongs to."""
    for cause in sorted(kitchen.doable, key=lambda cause: dice(case.id, cause)):
        look = kitchen.doable[cause].look_again_min
        if look is not None and f"{look:g}" != right:
            yield f"{look:g}", cause


def _minutes(minutes: str, kitchen: Kitchen) -> str:
    return filled(kitchen.text["minutes"], minutes=minutes)
