"""How high the lamps hang, now and when they were set."""

from __future__ import annotations

from coach.figures.lamp import clip_height_ft as clip_for_depth_ft
from coach.figures.lamp import hang, high_above_sum_ft
from coach.figures.rig import Rig
from coach.sums.declare import gives

_ABOVE = ("boat", "anchor_line")


@gives("lamp.depth_ft", asks=("water.depth_ft",))
def depth_ft(water_depth_lamp_ft: float | None = None, water_depth_ft: float | None = None) -> float | None:
    """Depth under this lamp [ft]; the depth under the boat stands in where it is not known."""
    return water_depth_lamp_ft if water_depth_lamp_ft is not None else water_depth_ft


@gives("lamp.clip_advised_ft")
def clip_advised_ft(lamp_depth_ft: float, rig: Rig) -> float | None:
    """The sum's clip height for this lamp's depth [ft]; none where the sum has none."""
    return clip_for_depth_ft(lamp_depth_ft, rig)


@gives("lamp.lamp_depth_ft")
def lamp_depth_ft(lamp_depth_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """How deep the lamp hangs now [ft]."""
    return hang(lamp_depth_ft, lamps_clip_lamp_ft, rig).lamp_depth_ft


@gives("lamp.dark_band_ft")
def dark_band_ft(lamp_depth_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """Dark water above the light now [ft]."""
    return hang(lamp_depth_ft, lamps_clip_lamp_ft, rig).dark_band_ft


@gives("lamp.under_path_ft")
def under_path_ft(lamp_depth_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """Dark water beneath the light now [ft]."""
    return hang(lamp_depth_ft, lamps_clip_lamp_ft, rig).under_path_ft


@gives("lamp.under_over_dark_ft")
def under_over_dark_ft(lamp_dark_band_ft: float, lamp_under_path_ft: float) -> float:
    """By how much the under-path is thicker than the dark band [ft]."""
    return lamp_under_path_ft - lamp_dark_band_ft


@gives("lamp.too_high_ft")
def too_high_ft(lamp_depth_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float | None:
    """How far above the sum the lamp is clipped now [ft]; negative: below it."""
    return high_above_sum_ft(lamp_depth_ft, lamps_clip_lamp_ft, rig)


@gives("level.change_ft", asks=("tide.fall_since_set_ft",))
def level_change_ft(
    tide_fall_since_set_ft: float | None = None, tide_state: str | None = None
) -> float | None:
    """Fall since the lamps were set [ft]; where there is no tide the level stands."""
    if tide_fall_since_set_ft is not None:
        return tide_fall_since_set_ft
    return 0.0 if tide_state == "none" else None


@gives("lamp.depth_when_set_ft")
def depth_when_set_ft(lamp_depth_ft: float, level_change_ft: float) -> float | None:
    """Depth under this lamp when it was set [ft]; none where the fall would leave no water."""
    depth = lamp_depth_ft + level_change_ft
    return depth if 0.5 <= depth <= 60 else None


@gives("lamp.too_high_when_set_ft")
def too_high_when_set_ft(
    lamp_depth_when_set_ft: float,
    lamps_clip_lamp_ft: float,
    rig: Rig,
    lamp_too_high_ft: float | None = None,
    lamps_hung_from: str | None = None,
) -> float | None:
    """How far above the sum the lamp was clipped when it was set [ft].

    A lamp hung from above keeps its depth, and so does its distance from the sum.
    """
    if lamps_hung_from in _ABOVE:
        return lamp_too_high_ft
    return high_above_sum_ft(lamp_depth_when_set_ft, lamps_clip_lamp_ft, rig)


@gives("lamp.lamp_depth_when_set_ft")
def lamp_depth_when_set_ft(lamp_depth_when_set_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """How deep the lamp hung when it was set [ft]."""
    return hang(lamp_depth_when_set_ft, lamps_clip_lamp_ft, rig).lamp_depth_ft


@gives("lamp.dark_band_when_set_ft")
def dark_band_when_set_ft(lamp_depth_when_set_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """Dark water above the light when the lamp was set [ft]."""
    return hang(lamp_depth_when_set_ft, lamps_clip_lamp_ft, rig).dark_band_ft


@gives("lamps.highest_ft")
def highest_ft(left_too_high_ft: float | None = None, right_too_high_ft: float | None = None) -> float | None:
    """How far above the sum the higher lamp is clipped now [ft]."""
    return max(_known(left_too_high_ft, right_too_high_ft), default=None)


@gives("lamps.lowest_ft")
def lowest_ft(left_too_high_ft: float | None = None, right_too_high_ft: float | None = None) -> float | None:
    """How far above the sum the lower lamp is clipped now [ft]."""
    return min(_known(left_too_high_ft, right_too_high_ft), default=None)


@gives("lamps.highest_when_set_ft")
def highest_when_set_ft(
    left_too_high_when_set_ft: float | None = None, right_too_high_when_set_ft: float | None = None
) -> float | None:
    """How far above the sum the higher lamp was clipped when set [ft]."""
    return max(_known(left_too_high_when_set_ft, right_too_high_when_set_ft), default=None)


@gives("lamps.lowest_when_set_ft")
def lowest_when_set_ft(
    left_too_high_when_set_ft: float | None = None, right_too_high_when_set_ft: float | None = None
) -> float | None:
    """How far above the sum the lower lamp was clipped when set [ft]."""
    return min(_known(left_too_high_when_set_ft, right_too_high_when_set_ft), default=None)


def _known(*values: float | None) -> list[float]:
    return [value for value in values if value is not None]
