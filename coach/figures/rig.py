"""The numbers of the trade that the calculators need, by name and unit.

No value stands here: all come from the captain's `numbers.toml`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Rig:
    """One value for each number that a calculator uses; the unit ends each name, `share` is of 1."""

    lamp_depth_rule_ft: float
    clip_min_ft: float
    clip_max_share: float
    depth_min_ft: float
    depth_max_ft: float
    rope_usable_ft: float
    lit_band_ft: float
    reclip_slack_ft: float
    circle_clear_ft: float
    circle_clear_low_ft: float
    circle_clear_high_ft: float
    secchi_clear_ft: float
    secchi_clear_low_ft: float
    secchi_clear_high_ft: float
    secchi_stained_ft: float
    secchi_stained_low_ft: float
    secchi_stained_high_ft: float
    secchi_murky_ft: float
    secchi_murky_low_ft: float
    secchi_murky_high_ft: float
    secchi_constant: float
    secchi_constant_turbid: float
    green_nm: float
    green_width_nm: float
    white_blue_nm: float
    white_blue_width_nm: float
    white_yellow_nm: float
    white_yellow_width_nm: float
    false_alarm_share: float
    deep_lamp_decide_min: float
    deep_good_jumps: float
    deep_poor_jumps: float
    deep_prior_db: float
    deep_false_keep_share: float
    deep_false_lift_share: float
    weight_lb: float
    lamp_width_in: float
    lamp_length_in: float
    lamp_lift_n: float
    line_width_in: float
    drag_cylinder: float
    drag_cube: float
    bottom_friction: float
    water_density_kg_m3: float
    lead_density_kg_m3: float
    steel_density_kg_m3: float
    concrete_density_kg_m3: float
    air_density_kg_m3: float
    lamp_power_w: float
    lamp_rated_v: float
    lamp_dim_v: float
    battery_rated_h: float
    peukert_lead: float
    peukert_lithium: float
    usable_lead_share: float
    usable_lithium_share: float
    lead_full_v: float
    lead_half_v: float
    lead_flat_v: float
    lithium_full_v: float
    lithium_half_v: float
    lithium_flat_v: float
    drop_allowed_share: float
    fuse_within_in: float
    fuse_headroom: float
    copper_ohm_m: float
    scope: float
    scope_light: float
    under_keel_ft: float
    clear_lamp_min: float
    clear_net_min: float
    clear_anchor_min: float
    clear_slip_min: float
    clear_engine_min: float
    clear_margin: float
    wind_setup_coefficient: float
    drift_share: float
    dark_sun_deg: float
    moon_bright_share: float
    moon_dark_share: float
    moon_high_deg: float
    flow_enough_kn: float
    flow_kn_per_ft_h: float
    ebb_enough_h: float
    depth_about_share: float
    clip_doubt_ft: float
    too_windy_kn: float
    season_brown_first_month: float
    season_brown_last_month: float
    season_pink_first_month: float
    season_pink_last_month: float
    season_white_first_month: float
    season_white_last_month: float
    circles_overlap_ft: float
    after_low_min: float
    reach_worth_saying_ft: float
    station_far_nmi: float
    station_near_nmi: float
    table_least_range_ft: float
    table_turn_min: float

    @classmethod
    def from_numbers(cls, numbers: Mapping[str, float]) -> Rig:
        """Pick the fields out of all numbers by name.

        Raises ValueError naming every number that is missing or is not finite.
        """
        names = [field.name for field in fields(cls)]
        missing = [name for name in names if not math.isfinite(numbers.get(name, math.nan))]
        if missing:
            raise ValueError(f"numbers.toml: no number for {', '.join(missing)}; the calculators need them")
        return cls(**{name: float(numbers[name]) for name in names})
