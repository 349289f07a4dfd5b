"""What one may take for the cause of a night, and why it is not that: wrong choices of cases and pictures."""

from __future__ import annotations

from collections.abc import Mapping

from coach.consultation import Assessment
from coach.model import Scalar
from coach.school.kitchen import Kitchen
from coach.school.parts import NOTHING, Slip
from coach.school.told import large

_MOST = 3


def slips_of(facts: Mapping[str, Scalar], found: Assessment, kitchen: Kitchen) -> dict[str, Slip]:
    """What one might take for the cause, with the slip that leads to it."""
    never = set(found.named or (NOTHING,))
    left = [cause for cause in found.weighed if cause not in never]  # in the order of the rules where equal
    causes = sorted(left, key=lambda cause: -found.weighed[cause].db)
    chosen = kitchen.slips.wrong(facts, found, leader, never=never, most=_MOST, assume=causes)
    told = {why_not(slip, cause, found, kitchen) for cause, slip in chosen.items()}
    for cause in causes:  # what the coach weighs too, and finds lighter
        slip = Slip("weighed", fact=f"named.{cause}")
        if len(chosen) < _MOST and cause not in chosen and why_not(slip, cause, found, kitchen) not in told:
            chosen[cause] = slip
            told.add(why_not(slip, cause, found, kitchen))
    return chosen


def why_not(slip: Slip, cause: str, found: Assessment, kitchen: Kitchen) -> str:
    """Why a cause is not it, in words."""
    if slip.kind == "weighed":
        return kitchen.slips.lighter(cause, found, kitchen.text)
    return kitchen.slips.why(slip, found, kitchen.text)


def leader(found: Assessment) -> list[str]:
    """What somebody takes for the cause who has come to this."""
    return list(found.named[:1]) or [NOTHING]


def cause_says(cause: str, kitchen: Kitchen) -> str:
    """A cause as a choice, or that nothing is wrong."""
    return kitchen.text["nothing_wrong"] if cause == NOTHING else large(kitchen.book.causes[cause].says)


def reasons(found: Assessment, kitchen: Kitchen) -> tuple[str, ...]:
    """The reasons that the coach would say; what makes it call a set healthy, where it does."""
    said = tuple(block.text for block in kitchen.bench.verdict(found).blocks if block.kind == "reason")
    if said or found.named:
        return said
    return tuple(block.text for block in kitchen.bench.verdict(found).blocks[:2])
