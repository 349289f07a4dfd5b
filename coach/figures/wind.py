"""What the wind does to a lagoon: its level, its waves, its surface drift.

Engineering estimates: read them as "about", and look at the water.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from coach.figures.limits import checked
from coach.figures.rig import Rig
from coach.figures.units import M_PER_NMI, feet, metres, metres_per_second

GRAVITY_M_S2 = 9.81

# Highest whole knots of forces 0 to 11 (WMO, MEMORY).
FORCE_TOP_KN = (0, 3, 6, 10, 16, 21, 27, 33, 40, 47, 55, 63)


class Waves(NamedTuple):
    """Height [ft] of the highest third and peak period [s]."""

    height_ft: float
    period_s: float


def setup_m(
    wind_m_s: float, fetch_m: float, *, depth_m: float, coefficient: float, density_ratio: float
) -> float:
    """Difference of level [m] from end to end of a closed lagoon under a steady wind.

    c·(ρa/ρw)·U²·F/(g·d); half of it at an open shore. Source: coastal engineering pages (READ).
    Raises ValueError for a value that is not above 0 (wind: below 0).
    """
    if not (wind_m_s >= 0 and min(fetch_m, depth_m, coefficient, density_ratio) > 0):
        raise ValueError(f"wind, fetch, depth: got {wind_m_s}, {fetch_m}, {depth_m}; allowed above 0")
    return coefficient * density_ratio * wind_m_s**2 * fetch_m / (GRAVITY_M_S2 * depth_m)


def setup_ft(wind_kn: float, fetch_nmi: float, rig: Rig, *, depth_ft: float) -> float:
    """The same [ft] for wind [kn], fetch [nautical miles] and mean depth [ft] of the lagoon.

    Raises ValueError outside 0 to 80 kn, 0.1 to 60 nautical miles, 0.5 to 60 ft.
    """
    wind = metres_per_second(checked("wind_kn", wind_kn))
    fetch = checked("fetch_nmi", fetch_nmi) * M_PER_NMI
    depth = metres(checked("water_depth_ft", depth_ft))
    ratio = rig.air_density_kg_m3 / rig.water_density_kg_m3
    level = setup_m(wind, fetch, depth_m=depth, coefficient=rig.wind_setup_coefficient, density_ratio=ratio)
    return feet(level)


def drift_kn(wind_kn: float, rig: Rig) -> float:
    """Drift of the surface [kn] under a wind [kn]: 3 % of it, some 10° to the right of it.

    Source: glossary of the American Meteorological Society (READ). Raises ValueError outside 0 to 80 kn.
    """
    return rig.drift_share * checked("wind_kn", wind_kn)


def waves_shallow(wind_m_s: float, fetch_m: float, *, depth_m: float) -> tuple[float, float]:
    """Height [m] and period [s] of waves that a steady wind has raised in shallow water.

    Source: Shore Protection Manual 1984, equations 3-39 and 3-40 with the adjusted wind
    U_A = 0.71·U^1.23 (MEMORY). Raises ValueError for a value that is not above 0.
    """
    if not min(wind_m_s, fetch_m, depth_m) > 0:
        raise ValueError(f"wind, fetch, depth: got {wind_m_s}, {fetch_m}, {depth_m}; allowed above 0")
    return waves_adjusted(0.71 * wind_m_s**1.23, fetch_m, depth_m=depth_m)


def waves_adjusted(adjusted_m_s: float, fetch_m: float, *, depth_m: float) -> tuple[float, float]:
    """The same for a wind that is adjusted already, as the manual's worked example gives it."""
    scale = GRAVITY_M_S2 / adjusted_m_s**2
    d, f = scale * depth_m, scale * fetch_m
    deep_h, deep_t = math.tanh(0.530 * d**0.75), math.tanh(0.833 * d**0.375)
    height = 0.283 * deep_h * math.tanh(0.00565 * f**0.5 / deep_h) / scale
    period = 7.54 * deep_t * math.tanh(0.0379 * f ** (1 / 3) / deep_t) * adjusted_m_s / GRAVITY_M_S2
    return height, period


def waves(wind_kn: float, fetch_nmi: float, *, depth_ft: float) -> Waves:
    """Waves for wind [kn], fetch [nautical miles] and depth [ft]; none without wind.

    Raises ValueError outside 0 to 80 kn, 0.1 to 60 nautical miles, 0.5 to 60 ft.
    """
    wind = metres_per_second(checked("wind_kn", wind_kn))
    fetch = checked("fetch_nmi", fetch_nmi) * M_PER_NMI
    depth = metres(checked("water_depth_ft", depth_ft))
    if wind == 0:
        return Waves(0.0, 0.0)
    height, period = waves_shallow(wind, fetch, depth_m=depth)
    return Waves(feet(height), period)


def beaufort(wind_kn: float) -> int:
    """Force on Beaufort's scale for a wind [kn]. Source: limits of the WMO (MEMORY).

    Raises ValueError outside 0 to 80 kn.
    """
    rounded = round(checked("wind_kn", wind_kn))
    return next((force for force, top in enumerate(FORCE_TOP_KN) if rounded <= top), 12)
