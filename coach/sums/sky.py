"""Sun and moon over a place that was told: how long it stays dark, and what the moon does."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta, tzinfo
from functools import lru_cache

from coach.figures.light import background_lux
from coach.figures.rig import Rig
from coach.figures.sky import SkyDay, moon_at, moon_word, moonlight_lux, sky_day
from coach.figures.stations import zone_of
from coach.sums.declare import gives, stands_in
from coach.sums.ground import near

_BRIGHT = "bright"


@gives("sky.dark_from_at")
def dark_from_at(place_lat_deg: float, place_lon_deg: float, now: datetime, rig: Rig) -> str | None:
    """From when on it is dark tonight; none while it is."""
    dusk, dawn = (_next(place_lat_deg, place_lon_deg, now, rig, which) for which in (_dusk, _dawn))
    if dusk is None or (dawn is not None and dawn < dusk):
        return None
    return dusk.isoformat(timespec="seconds")


@gives("sky.dark_until_at")
def dark_until_at(place_lat_deg: float, place_lon_deg: float, now: datetime, rig: Rig) -> str | None:
    """Until when it stays dark; none by day."""
    dusk, dawn = (_next(place_lat_deg, place_lon_deg, now, rig, which) for which in (_dusk, _dawn))
    if dawn is None or (dusk is not None and dusk < dawn):
        return None
    return dawn.isoformat(timespec="seconds")


@gives("sky.dark_left_min")
def dark_left_min(sky_dark_until_at: str, now: datetime) -> float:
    """Minutes of dark left."""
    return (datetime.fromisoformat(sky_dark_until_at) - now).total_seconds() / 60


@gives("sky.moon_by_table")
def moon_by_table(place_lat_deg: float, place_lon_deg: float, now: datetime, rig: Rig) -> str:
    """What the moon over the place is called now, as if there were no cloud."""
    return moon_word(moon_at(place_lat_deg, place_lon_deg, at=now), rig)


@stands_in("sky.moon")
def moon(sky_moon_by_table: str) -> str | None:
    """The moon, where the table settles it: a bright one may stand behind cloud, and has to be looked at."""
    return None if sky_moon_by_table == _BRIGHT else sky_moon_by_table


@gives("sky.moonset_at")
def moonset_at(
    place_lat_deg: float, place_lon_deg: float, *, now: datetime, rig: Rig, sky_dark_until_at: str
) -> str | None:
    """When the moon goes down; none if that is after the dark is over."""
    setting = _next(place_lat_deg, place_lon_deg, now, rig, _moonset)
    if setting is None or setting > datetime.fromisoformat(sky_dark_until_at):
        return None
    return setting.isoformat(timespec="seconds")


@gives("sky.moon_lux_at_lamp")
def moon_lux_at_lamp(
    place_lat_deg: float, place_lon_deg: float, *, now: datetime, rig: Rig, water_secchi_ft: float,
    left_lamp_depth_ft: float,
) -> float:  # fmt: skip
    """Moonlight left at the depth of the left lamp [lux], under a clear sky."""
    found = moon_at(place_lat_deg, place_lon_deg, at=now)
    surface = moonlight_lux(found.lit, found.altitude_deg)
    return background_lux(surface, left_lamp_depth_ft, rig, secchi_ft=water_secchi_ft)


Event = Callable[[SkyDay], datetime | None]


def _dusk(day: SkyDay) -> datetime | None:
    return day.dusk


def _dawn(day: SkyDay) -> datetime | None:
    return day.dawn


def _moonset(day: SkyDay) -> datetime | None:
    return day.moonset


def _next(lat_deg: float, lon_deg: float, now: datetime, rig: Rig, which: Event) -> datetime | None:
    """The next such event within two days."""
    zone = zone_of(near(lat_deg, lon_deg).tide)
    first = now.astimezone(zone).date()
    days = (_day(lat_deg, lon_deg, first + timedelta(days=ahead), zone, rig.dark_sun_deg) for ahead in (0, 1))
    return next((at for at in map(which, days) if at is not None and at > now), None)


@lru_cache(maxsize=64)
def _day(lat_deg: float, lon_deg: float, on: date, zone: tzinfo, dark_sun_deg: float) -> SkyDay:
    return sky_day(lat_deg, lon_deg, on=on, zone=zone, dark_sun_deg=dark_sun_deg)


def forget() -> None:
    """Drop the days that were worked out."""
    _day.cache_clear()
