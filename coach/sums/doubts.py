"""What is only about right among the facts: the range that it stands for, and what hangs on it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from coach.figures.about import Doubt, about, clip_about, gap_about
from coach.figures.light import Range, circle_of_word, secchi_of_word_ft
from coach.figures.rig import Rig
from coach.model import Scalar

_DEPTHS = ("water.depth_ft", "water.depth_left_ft", "water.depth_right_ft")
_OTHERS = (
    "lamps.clip_left_ft",
    "lamps.clip_right_ft",
    "tide.fall_since_set_ft",
    "lamps.apart_ft",
    "lamps.out_left_ft",
    "lamps.out_right_ft",
)


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A fact that is only about right: what would be told at either end of its range [in its unit], and
    for a depth what clip heights [ft] that means."""

    fact: str
    low: float
    high: float
    lowest: Mapping[str, Scalar]
    highest: Mapping[str, Scalar]
    clip: Doubt | None = None


def doubtful(given: Mapping[str, Scalar], roughly: Collection[str], rig: Rig) -> Iterable[Doubtful]:
    """What is only about right: numbers told as `roughly` so much, and a word for the water where the
    circles by the figures could come out as a gap or not."""
    for name in (*_DEPTHS, *_OTHERS):
        value = given.get(name)
        if name in roughly and isinstance(value, float) and value:
            span = about(value, share=rig.depth_about_share)
            low, high = sorted((span.low, span.high))
            clip = _clip(Range(value, low, high), rig) if name in _DEPTHS else None
            yield Doubtful(name, low, high, {name: low}, {name: high}, clip)
    yield from _murk(given, rig)


def _clip(depth: Range, rig: Rig) -> Doubt | None:
    found = clip_about(depth, rig)
    return found if found.matters and None not in (found.low, found.high) else None


def _murk(given: Mapping[str, Scalar], rig: Rig) -> Iterable[Doubtful]:
    """A word for the water, without a disc lowered: its circle may close the middle or not."""
    word, apart = given.get("water.clarity"), given.get("lamps.apart_ft")
    if not isinstance(word, str) or not isinstance(apart, float) or "water.secchi_ft" in given:
        return
    if gap_about(apart, circle_of_word(word, rig)).matters:
        disc = secchi_of_word_ft(word, rig)
        ends = ({"water.secchi_ft": end} for end in (disc.low, disc.high))
        yield Doubtful("water.clarity", disc.low, disc.high, next(ends), next(ends))
