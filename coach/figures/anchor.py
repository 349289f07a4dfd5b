"""Anchoring: how much rode, how much water at low tide, how long to be out of the way."""

from __future__ import annotations

from typing import NamedTuple

from coach.figures.limits import checked, positive, whole
from coach.figures.rig import Rig


class Clearing(NamedTuple):
    """How long clearing the water takes, and what is left of the time until traffic is here [min]."""

    minutes: float
    spare_min: float | None


class LowWater(NamedTuple):
    """Depth at this anchorage at low water [ft], what is left under the boat, whether that is enough."""

    depth_ft: float
    under_boat_ft: float
    is_enough: bool


def rode_ft(depth_ft: float, bow_height_ft: float, *, rise_ft: float, scope: float) -> float:
    """Rode to let out [ft]: scope times depth, height of the bow, and the tide's rise still to come.

    Source: boating safety pages (READ): 7 to 1, 5 to 1 for a light anchor in good weather.
    Raises ValueError outside 0.5 to 60 ft, 0 to 20 ft, 0 to 40 ft, 1 to 12.
    """
    depth, bow = checked("water_depth_ft", depth_ft), checked("bow_height_ft", bow_height_ft)
    return checked("scope", scope) * (depth + bow + checked("rise_ft", rise_ft))


def scope_of(rode_out_ft: float, depth_ft: float, *, bow_height_ft: float) -> float:
    """Scope that a rode [ft] gives in a depth [ft] under a bow of some height [ft].

    Raises ValueError outside limits.
    """
    height = checked("water_depth_ft", depth_ft) + checked("bow_height_ft", bow_height_ft)
    return positive("rode_out_ft", rode_out_ft, unit="ft") / height


def clearing(
    rig: Rig, *, lamps: float, nets: float, anchors: float, is_buoyed: bool, traffic_min: float | None = None
) -> Clearing:
    """Minutes to have lamps, nets, cords and anchors out of the way and the engine running.

    Buoyed anchor lines are let go instead of lifted. Times are assumptions, with a margin for the
    dark. `traffic_min` is when the vessel will be here. Raises ValueError for counts that are not
    whole or outside 0 to 12, or traffic outside 0 to 1440 min.
    """
    each_anchor = rig.clear_slip_min if is_buoyed else rig.clear_anchor_min
    work = (
        whole("gear", lamps, name="lamps") * rig.clear_lamp_min
        + whole("gear", nets, name="nets") * rig.clear_net_min
        + whole("gear", anchors, name="anchors") * each_anchor
        + rig.clear_engine_min
    )
    needed = rig.clear_margin * work
    if traffic_min is None:
        return Clearing(needed, None)
    return Clearing(needed, checked("watched_min", traffic_min, name="traffic_min") - needed)


def low_water(depth_ft: float, rig: Rig, *, fall_to_low_ft: float, draft_ft: float) -> LowWater:
    """Depth here at low water, from the depth now and the fall still to come [ft], against the draft.

    A depth at or below 0 means the place dries. Wind off the shore can take more than the table says.
    Raises ValueError outside 0.5 to 60 ft, 0 to 40 ft of fall, 0.2 to 10 ft of draft.
    """
    depth = checked("water_depth_ft", depth_ft) - checked("rise_ft", fall_to_low_ft, name="fall_to_low_ft")
    left = depth - checked("draft_ft", draft_ft)
    return LowWater(depth, left, left >= rig.under_keel_ft)
