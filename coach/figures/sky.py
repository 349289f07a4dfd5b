"""Sun and moon over a place: rise, set, darkness, phase, height, and how much the moon lights.

The only module that needs `ephem`, and only once a sky is asked for. Events follow the U.S. Naval
Observatory: upper limb, 34' of refraction, level horizon.
"""

from __future__ import annotations

import importlib
import math
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Any, NamedTuple

from coach.figures.limits import checked
from coach.figures.rig import Rig


class SkyDay(NamedTuple):
    """What the sky does on one calendar day of a place; None where it does not happen that day.

    `dusk` and `dawn` are when the sun's centre passes the depth that counts as dark; `moon_lit` is
    the lit part of the moon, 0 to 1, at the midnight that ends the day.
    """

    sunset: datetime | None
    sunrise: datetime | None
    dusk: datetime | None
    dawn: datetime | None
    moonrise: datetime | None
    moonset: datetime | None
    moon_lit: float


class Moon(NamedTuple):
    """The moon at a moment: lit part 0 to 1, height above the horizon and bearing [degrees]."""

    lit: float
    altitude_deg: float
    azimuth_deg: float


def _ephem() -> Any:
    return importlib.import_module("ephem")


def _observer(lat_deg: float, lon_deg: float, at: datetime) -> Any:
    checked("lat_deg", lat_deg)
    checked("lon_deg", lon_deg)
    here = _ephem().Observer()
    here.lat, here.lon = math.radians(lat_deg), math.radians(lon_deg)
    here.pressure, here.horizon = 0, "-0:34"
    here.date = at.astimezone(UTC).replace(tzinfo=None)
    return here


def _within(event: Callable[..., Any], body: Any, end: datetime, **options: Any) -> datetime | None:
    """The time (UTC) of the next event if it comes before `end`; None too where there is none at all."""
    ephem = _ephem()
    try:
        found: datetime = event(body, **options).datetime().replace(tzinfo=UTC)
    except (ephem.AlwaysUpError, ephem.NeverUpError):
        return None
    return found if found < end else None


def sky_day(lat_deg: float, lon_deg: float, *, on: date, zone: tzinfo, dark_sun_deg: float) -> SkyDay:
    """Sun and moon of a calendar day [aware times on the zone's clock] at a place [degrees, north, east].

    Source: ephem (the theories VSOP87 and ELP as it carries them); agrees with the U.S. Naval
    Observatory's tables to a minute. Raises ValueError for a place that is none, or a height of the
    sun for darkness outside −18 to 0 degrees.
    """
    checked("dark_sun_deg", dark_sun_deg)
    start, end = (datetime.combine(on + timedelta(days=days), time(), zone) for days in (0, 1))
    ephem, here = _ephem(), _observer(lat_deg, lon_deg, start)
    sun, moon = ephem.Sun(), ephem.Moon()

    def on_clock(event: Callable[..., Any], body: Any, **options: Any) -> datetime | None:
        found = _within(event, body, end, **options)
        return found and found.astimezone(zone)

    events = [
        on_clock(event, body) for body in (sun, moon) for event in (here.next_setting, here.next_rising)
    ]
    here.horizon = math.radians(dark_sun_deg)
    dark = [on_clock(event, sun, use_center=True) for event in (here.next_setting, here.next_rising)]
    sunset, sunrise, moonset, moonrise = events
    return SkyDay(sunset, sunrise, dark[0], dark[1], moonrise, moonset, moon_lit(end))


def moon_lit(at: datetime) -> float:
    """Lit part of the moon's disc, 0 to 1, at an aware time, seen from the earth's centre."""
    body = _ephem().Moon()
    body.compute(at.astimezone(UTC).replace(tzinfo=None))
    return float(body.phase) / 100


def moon_at(lat_deg: float, lon_deg: float, *, at: datetime) -> Moon:
    """The moon over a place at an aware time: lit part, height and bearing, without refraction.

    Raises ValueError for a place that is none.
    """
    body = _ephem().Moon()
    body.compute(_observer(lat_deg, lon_deg, at))
    return Moon(float(body.phase) / 100, math.degrees(body.alt), math.degrees(body.az))


def moon_share_word(lit: float, rig: Rig) -> str:
    """What a moon with this lit part is called: dark, half or bright. Source: assumptions in numbers.toml."""
    if checked("lit", lit) >= rig.moon_bright_share:
        return "bright"
    return "dark" if lit <= rig.moon_dark_share else "half"


def moon_word(moon: Moon, rig: Rig) -> str:
    """What the moon's light on the water is called: a bright one counts as half while it is low.

    Below the horizon it is dark. Source: assumptions in numbers.toml.
    """
    if moon.altitude_deg <= 0:
        return "dark"
    word = moon_share_word(moon.lit, rig)
    return "half" if word == "bright" and moon.altitude_deg < rig.moon_high_deg else word


def sun_altitude_deg(lat_deg: float, lon_deg: float, *, at: datetime) -> float:
    """Height of the sun's centre above the horizon [degrees], without refraction."""
    body = _ephem().Sun()
    body.compute(_observer(lat_deg, lon_deg, at))
    return math.degrees(body.alt)


def moon_phases(start: datetime, *, until: datetime) -> list[tuple[str, datetime]]:
    """New moons, quarters and full moons between two aware times, in order (UTC)."""
    ephem = _ephem()
    kinds = {
        "new": ephem.next_new_moon,
        "first quarter": ephem.next_first_quarter_moon,
        "full": ephem.next_full_moon,
        "last quarter": ephem.next_last_quarter_moon,
    }
    found = []
    for kind, following in kinds.items():
        at = following(start.astimezone(UTC).replace(tzinfo=None))
        while at.datetime().replace(tzinfo=UTC) <= until:
            found.append((kind, at.datetime().replace(tzinfo=UTC)))
            at = following(at)
    return sorted(found, key=lambda phase: phase[1])


def moonlight_lux(lit: float, altitude_deg: float) -> float:
    """Light of the moon on level ground under a clear sky [lux], about a factor 2 either way.

    Falls off from full by 10^(−0.4·(0.026·α + 4e-9·α⁴)) for the phase angle α [degrees], by the sine of
    the height, and by 0.17 magnitudes of haze per thickness of air. Source: Krisciunas & Schaefer 1991
    (MEMORY), full moon overhead taken as 0.27 lux (within .05 to .3 of Kyba et al. 2017, MEMORY).
    0 below the horizon. Raises ValueError for a lit part outside 0 to 1.
    """
    checked("lit", lit)
    height = math.sin(math.radians(altitude_deg))
    if height <= 0:
        return 0.0
    phase = math.degrees(math.acos(2 * lit - 1))
    dimmed = 0.026 * phase + 4e-9 * phase**4 + 0.17 / max(height, 0.03)
    return float(0.27 * 10 ** (-0.4 * (dimmed - 0.17)) * height)
