"""Figures from values that are only about right: what the doubt changes, and what would settle it."""

from __future__ import annotations

from typing import NamedTuple

from coach.figures.lamp import clip_height_ft, why_no_clip
from coach.figures.light import Range, centre_gap_ft
from coach.figures.limits import LIMITS, checked
from coach.figures.rig import Rig


class Doubt(NamedTuple):
    """A figure with the least and the most it may be (None: it has none there), and what settles it.

    `matters` is whether the two ends call for different work; `settle` is "" where they do not.
    """

    value: float | None
    low: float | None
    high: float | None
    matters: bool
    settle: str


def about(value: float, *, share: float) -> Range:
    """A value that was said to be "about" so much, with the range that stands for.

    Raises ValueError for a share outside 0 to 1.
    """
    checked("share", share)
    return Range(value, value * (1 - share), value * (1 + share))


def clip_about(depth: Range, rig: Rig) -> Doubt:
    """Clip height [ft] over a range of depths [ft]; it matters from half a foot on.

    The clip height never falls as the depth grows, so the ends of the range give its ends.
    Raises ValueError for a depth outside 0.5 to 60 ft; the ends are kept within.
    """
    limit = LIMITS["water_depth_ft"]
    ends = max(limit.low, depth.low), min(limit.high, depth.high)
    low, high = (clip_height_ft(end, rig) for end in ends)
    value = clip_height_ft(depth.value, rig)
    if low is None and high is None and value is None:
        return Doubt(value, None, None, False, "")
    matters = low is None or high is None or high - low >= rig.clip_doubt_ft
    settle = "Sound the depth under this lamp with its own marked rope." if matters else ""
    return Doubt(value, low, high, matters, settle)


def clip_doubt_words(depth: Range, found: Doubt, rig: Rig) -> str:
    """What the doubt about a depth changes, in a sentence; "" where it changes nothing."""
    if not found.matters:
        return ""
    if found.low is None or found.high is None:
        end = depth.low if found.low is None else depth.high
        return f"If it is really {end:.1f} ft there is none: {why_no_clip(end, rig).split(':')[1].strip()}"
    return f"In {depth.low:.1f} to {depth.high:.1f} ft it is {found.low:.1f} to {found.high:.1f} ft."


def gap_about(apart_ft: float, circle: Range) -> Doubt:
    """Centre gap [ft] of two like circles over a range of their width [ft]; negative: they overlap.

    It matters where one end leaves a gap and the other does not. Raises ValueError outside limits.
    """
    value, high, low = (centre_gap_ft(apart_ft, width, circle_right_ft=width) for width in circle)
    matters = low < 0 < high
    settle = (
        "Lower a white disc until it is lost, or look for a dark strip between the lamps." if matters else ""
    )
    return Doubt(value, low, high, matters, settle)
