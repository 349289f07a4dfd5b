"""What each quantity may be, and the one sentence that is raised when it is not.

The ranges are those within which an answer is taken at all (slips of the thumb lie outside);
what the trade does with a value inside them is not decided here.
"""

from __future__ import annotations

import math
from typing import NamedTuple


class Limit(NamedTuple):
    """Lowest and highest value that is taken, and the unit as a person reads it."""

    low: float
    high: float
    unit: str


LIMITS: dict[str, Limit] = {
    "water_depth_ft": Limit(0.5, 60, "ft"),
    "clip_ft": Limit(0, 60, "ft"),
    "lamp_depth_ft": Limit(0, 60, "ft"),
    "lamp_height_ft": Limit(0, 60, "ft"),
    "lean_deg": Limit(0, 90, "degrees"),
    "fall_since_set_ft": Limit(-12, 12, "ft"),
    "slack_ft": Limit(0.1, 8, "ft"),
    "tide_ft": Limit(-10, 60, "ft"),
    "secchi_ft": Limit(0.2, 60, "ft"),
    "circle_ft": Limit(0, 60, "ft"),
    "apart_ft": Limit(0, 100, "ft"),
    "out_ft": Limit(0, 60, "ft"),
    "count": Limit(0, 100_000, ""),
    "minutes": Limit(0.1, 1440, "min"),
    "lamp_hours": Limit(0.01, 1000, "lamp-hours"),
    "level": Limit(0.5, 0.9999, ""),
    "share": Limit(0.0001, 0.9999, ""),
    "leg_h": Limit(1, 26, "h"),
    "lat_deg": Limit(-90, 90, "degrees"),
    "lon_deg": Limit(-180, 180, "degrees"),
    "dark_sun_deg": Limit(-18, 0, "degrees"),
    "lit": Limit(0, 1, ""),
    "wavelength_nm": Limit(400, 700, "nm"),
    "path_ft": Limit(0, 60, "ft"),
    "amplitude": Limit(0.0001, 1000, ""),
    "phase_deg": Limit(0, 360, "degrees"),
    "nights": Limit(1, 60, ""),
    "lag_h": Limit(-3, 6, "h"),
    "off_ft": Limit(0, 10, "ft"),
    "watched_min": Limit(0, 1440, "min"),
    "look": Limit(1, 1000, ""),
    "power_w": Limit(0.1, 2000, "W"),
    "volts": Limit(1, 60, "V"),
    "capacity_ah": Limit(1, 2000, "Ah"),
    "current_a": Limit(0.01, 200, "A"),
    "peukert": Limit(1, 1.6, ""),
    "lead_ft": Limit(0.5, 50, "ft"),
    "round_trip_ft": Limit(1, 100, "ft"),
    "gear": Limit(0, 12, ""),
    "flow_kn": Limit(0, 8, "kn"),
    "weight_lb": Limit(0.5, 100, "lb"),
    "bow_height_ft": Limit(0, 20, "ft"),
    "rise_ft": Limit(0, 40, "ft"),
    "scope": Limit(1, 12, "to 1"),
    "draft_ft": Limit(0.2, 10, "ft"),
    "wind_kn": Limit(0, 80, "kn"),
    "fetch_nmi": Limit(0.1, 60, "nautical miles"),
}


def _range(limit: Limit) -> str:
    return f"{limit.low:g} to {limit.high:g} {limit.unit}".rstrip()


def checked(quantity: str, value: float, *, name: str = "") -> float:
    """Return `value` if it is a number within the limits of `quantity`.

    `name` is what the message calls it, by default the quantity itself.
    Raises ValueError naming the value, what was given and what is allowed.
    """
    limit = LIMITS[quantity]
    if not (isinstance(value, int | float) and math.isfinite(value) and limit.low <= value <= limit.high):
        raise ValueError(f"{name or quantity}: got {value}; allowed {_range(limit)}")
    return float(value)


def whole(quantity: str, value: float, *, name: str = "") -> int:
    """Return `value` as a whole number within the limits of `quantity`.

    Raises ValueError naming the value, what was given and what is allowed.
    """
    number = checked(quantity, value, name=name)
    if number != int(number):
        raise ValueError(f"{name or quantity}: got {value}; allowed whole numbers {_range(LIMITS[quantity])}")
    return int(number)


def positive(name: str, value: float, *, unit: str = "") -> float:
    """Return `value` if it is a finite number above 0. Raises ValueError otherwise."""
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name}: got {value}; allowed above 0 {unit}".rstrip())
    return float(value)
