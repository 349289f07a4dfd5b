"""The boat and what hangs from her: lean in the flow, rode, clearing the water, low water, wind."""

from __future__ import annotations

from coach.figures.anchor import clearing, low_water, rode_ft, scope_of
from coach.figures.lean import lamp_lean, weight_hold
from coach.figures.rig import Rig
from coach.figures.wind import setup_ft, waves
from coach.sums.declare import gives

_ABOVE = ("boat", "anchor_line")
_BEST_WEIGHT = "lead"
"""What a weight is made of is not known: what even lead does not hold, no other does."""


# --- lamps in the flow -----------------------------------------------------------------------------


@gives("lamp.lean_deg")
def lean_deg(
    water_flow_kn: float, lamps_clip_lamp_ft: float, rig: Rig, lamps_hung_from: str | None = None
) -> float | None:
    """Lean of the lamp from the vertical in this flow [degrees]; none where it hangs from above."""
    return None if lamps_hung_from in _ABOVE else lamp_lean(water_flow_kn, lamps_clip_lamp_ft, rig).lean_deg


@gives("lamp.lean_lost_ft")
def lean_lost_ft(
    water_flow_kn: float, lamps_clip_lamp_ft: float, rig: Rig, lamps_hung_from: str | None = None
) -> float | None:
    """How much lower it hangs by its lean [ft]."""
    if lamps_hung_from in _ABOVE:
        return None
    return lamp_lean(water_flow_kn, lamps_clip_lamp_ft, rig).height_lost_ft


@gives("lamp.weight_slides_kn")
def weight_slides_kn(
    water_flow_kn: float, lamps_clip_lamp_ft: float, rig: Rig, lamps_hung_from: str | None = None
) -> float | None:
    """Flow from which even a weight of lead slides [kn]."""
    if lamps_hung_from in _ABOVE:
        return None
    return weight_hold(water_flow_kn, lamps_clip_lamp_ft, rig, material=_BEST_WEIGHT).slides_at_kn


@gives("lamp.weight_spare_kn")
def weight_spare_kn(lamp_weight_slides_kn: float, water_flow_kn: float) -> float:
    """How much more flow the weight stands [kn]; negative: it slides."""
    return lamp_weight_slides_kn - water_flow_kn


# --- anchoring and leaving -------------------------------------------------------------------------


@gives("anchor.rode_needed_ft")
def rode_needed_ft(
    water_depth_ft: float, boat_bow_height_ft: float, rig: Rig, tide_rise_to_high_ft: float = 0.0
) -> float:
    """Rode to let out [ft], with the rise still to come."""
    return rode_ft(water_depth_ft, boat_bow_height_ft, rise_ft=tide_rise_to_high_ft, scope=rig.scope)


@gives("anchor.scope")
def scope(boat_rode_ft: float, water_depth_ft: float, boat_bow_height_ft: float) -> float:
    """Rode out by depth and bow height."""
    return scope_of(boat_rode_ft, water_depth_ft, bow_height_ft=boat_bow_height_ft)


@gives("clear.minutes")
def clear_minutes(
    boat_anchors: float,
    rig: Rig,
    *,
    lamps_total: float | None = None,
    lamps_count: float | None = None,
    net_in_water: bool = True,
    boat_buoyed: bool = False,
) -> float | None:
    """Minutes to clear the water; a net that nobody spoke of counts as out, the safer way."""
    lamps = lamps_count if lamps_total is None else lamps_total
    if lamps is None:
        return None
    nets = float(net_in_water)
    return clearing(rig, lamps=lamps, nets=nets, anchors=boat_anchors, is_buoyed=boat_buoyed).minutes


@gives("clear.spare_min")
def clear_spare_min(clear_minutes: float, boat_traffic_min: float) -> float:
    """Minutes to spare before she is here; negative: too late to clear everything."""
    return boat_traffic_min - clear_minutes


@gives("boat.depth_at_low_ft")
def depth_at_low_ft(water_depth_ft: float, tide_fall_to_low_ft: float) -> float:
    """Depth here at low water [ft]."""
    return water_depth_ft - tide_fall_to_low_ft


@gives("boat.under_at_low_ft")
def under_at_low_ft(
    water_depth_ft: float, tide_fall_to_low_ft: float, boat_draft_ft: float, rig: Rig
) -> float:
    """Water left under the boat at low water [ft]; negative: she sits on the bottom."""
    found = low_water(
        water_depth_ft, rig, fall_to_low_ft=max(0.0, tide_fall_to_low_ft), draft_ft=boat_draft_ft
    )
    return found.under_boat_ft


# --- wind ------------------------------------------------------------------------------------------


@gives("wind.setup_ft")
def wind_setup_ft(wind_speed_kn: float, wind_fetch_nmi: float, water_depth_ft: float, rig: Rig) -> float:
    """How much the wind tilts the lagoon's level from end to end [ft]; the depth here stands for hers."""
    return setup_ft(wind_speed_kn, wind_fetch_nmi, rig, depth_ft=water_depth_ft)


@gives("wind.setup_share")
def wind_setup_share(wind_setup_ft: float, tide_range_ft: float) -> float:
    """That as a part of the tide's range."""
    return wind_setup_ft / tide_range_ft


@gives("wind.wave_ft")
def wave_ft(wind_speed_kn: float, wind_fetch_nmi: float, water_depth_ft: float) -> float:
    """Waves that the wind raises over its fetch [ft]."""
    return waves(wind_speed_kn, wind_fetch_nmi, depth_ft=water_depth_ft).height_ft
