"""How high above the bottom a lamp hangs, and what that leaves dark above and below it.

surface  ~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~  |              |
                                          | dark band    | lamp depth
         = = = = top of lit band = = = =                 |
                     (lamp)                              |  |
         = = = = bottom of lit band = = =                   | clip height
                       |                  | under-path      |
bottom   __________[weight]_____________  |                 |
"""

from __future__ import annotations

import math
from typing import NamedTuple

from coach.figures.limits import checked
from coach.figures.rig import Rig


class Hang(NamedTuple):
    """How a lamp hangs, in feet."""

    lamp_depth_ft: float
    dark_band_ft: float
    under_path_ft: float


class SinceSet(NamedTuple):
    """How far a lamp stood above the sum when it was set and stands now, in feet.

    None where the depth of that moment is one for which the sum gives no clip height.
    """

    depth_when_set_ft: float
    high_when_set_ft: float | None
    high_now_ft: float | None


def why_no_clip(water_depth_ft: float, rig: Rig) -> str:
    """Return the sentence why there is no clip height at this depth [ft], or "" where there is one.

    Source: the trade's assumptions, in numbers.toml. Raises ValueError outside 0.5 to 60 ft.
    """
    depth = checked("water_depth_ft", water_depth_ft)
    if depth < rig.depth_min_ft:
        return (
            f"No clip height in {depth:g} ft: under {rig.depth_min_ft:g} ft a lamp on a weight leaves"
            " too little dark water above its light. Find deeper water."
        )
    if depth > rig.depth_max_ft:
        return (
            f"No clip height in {depth:g} ft: over {rig.depth_max_ft:g} ft the {rig.rope_usable_ft:g} ft"
            f" of usable rope do not bring a lamp to {rig.lamp_depth_rule_ft:g} ft under the surface."
            " Find shallower water."
        )
    return ""


def clip_height_ft(water_depth_ft: float, rig: Rig) -> float | None:
    """Clip height [ft] for the depth under this lamp [ft], or None where `why_no_clip` says why.

    depth − 8, at least 1 ft, at most half the depth. Source: common practice (the 8 ft), and
    assumptions (both limits). Raises ValueError outside 0.5 to 60 ft.
    """
    if why_no_clip(water_depth_ft, rig):
        return None
    by_rule = water_depth_ft - rig.lamp_depth_rule_ft
    return max(rig.clip_min_ft, min(by_rule, rig.clip_max_share * water_depth_ft))


def depth_for_clip_ft(clip_ft: float, rig: Rig) -> float:
    """Greatest depth [ft] at which the sum gives this clip height [ft]: `clip_height_ft` backwards.

    Raises ValueError below the lowest clip height or above 60 ft.
    """
    if not clip_ft >= rig.clip_min_ft:
        raise ValueError(f"clip_ft: got {clip_ft}; allowed {rig.clip_min_ft:g} to 60 ft")
    checked("clip_ft", clip_ft)
    return max(clip_ft + rig.lamp_depth_rule_ft, clip_ft / rig.clip_max_share)


def lamp_height_ft(clip_ft: float, *, lean_deg: float = 0.0) -> float:
    """Height of the lamp above the bottom [ft]: clip height [ft] times the cosine of its lean.

    Raises ValueError outside 0 to 60 ft and 0 to 90 degrees.
    """
    checked("lean_deg", lean_deg)
    return checked("clip_ft", clip_ft) * math.cos(math.radians(lean_deg))


def lamp_depth_ft(water_depth_ft: float, clip_ft: float, *, lean_deg: float = 0.0) -> float:
    """Depth of the lamp's middle under the surface [ft]; 0 where the rope is longer than the water.

    Water depth − clip height × cos(lean), for a lamp tethered to a weight. Source: geometry.
    Raises ValueError outside the limits of each.
    """
    depth = checked("water_depth_ft", water_depth_ft)
    return max(0.0, depth - lamp_height_ft(clip_ft, lean_deg=lean_deg))


def dark_band_ft(lamp_depth_ft: float, rig: Rig) -> float:
    """Unlit water above the lit band [ft]: lamp depth less half the band, never below 0."""
    return max(0.0, checked("lamp_depth_ft", lamp_depth_ft) - rig.lit_band_ft / 2)


def under_path_ft(lamp_height_ft: float, rig: Rig) -> float:
    """Unlit water beneath the lit band [ft]: lamp height less half the band, never below 0."""
    return max(0.0, checked("lamp_height_ft", lamp_height_ft) - rig.lit_band_ft / 2)


def hang(water_depth_ft: float, clip_ft: float, rig: Rig, *, lean_deg: float = 0.0) -> Hang:
    """Lamp depth, dark band and under-path together [ft], for a lamp tethered to a weight.

    A rope longer than the water leaves the lamp at the surface. Raises ValueError outside limits.
    """
    depth = lamp_depth_ft(water_depth_ft, clip_ft, lean_deg=lean_deg)
    return Hang(depth, dark_band_ft(depth, rig), under_path_ft(water_depth_ft - depth, rig))


def high_above_sum_ft(water_depth_ft: float, clip_ft: float, rig: Rig) -> float | None:
    """How much higher than the sum the lamp is clipped [ft]; negative: lower. None: there is no sum."""
    checked("clip_ft", clip_ft)
    right = clip_height_ft(water_depth_ft, rig)
    return None if right is None else clip_ft - right


def since_set(water_depth_ft: float, clip_ft: float, rig: Rig, *, fall_since_set_ft: float) -> SinceSet:
    """How far above the sum the lamp stood when set, and stands now that the water fell [ft].

    `fall_since_set_ft` is negative where the water rose. Source: trade arithmetic, depth then =
    depth now + fall. Raises ValueError outside limits, also where the depth when set is.
    """
    fall = checked("fall_since_set_ft", fall_since_set_ft)
    then = checked("water_depth_ft", water_depth_ft + fall, name="depth_when_set_ft")
    return SinceSet(
        depth_when_set_ft=then,
        high_when_set_ft=high_above_sum_ft(then, clip_ft, rig),
        high_now_ft=high_above_sum_ft(water_depth_ft, clip_ft, rig),
    )


def under_path_wins(found: Hang) -> bool:
    """Whether more dark water lies beneath the light than above it. Source: an assumption of the trade."""
    return found.under_path_ft > found.dark_band_ft
