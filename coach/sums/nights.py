"""When to come again: the first good one of the coming nights at a place that was told."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import lru_cache

from coach.figures.nights import Night, Where, ebb_of_legs, nights
from coach.figures.rig import Rig
from coach.figures.stations import LEAST_TURN_FT, tide_extremes, tide_stations, zone_of
from coach.figures.tide import legs_between, main_turns
from coach.sums.ground import near

_NIGHTS = 7


def next_night(lat_deg: float, lon_deg: float, now: datetime, rig: Rig) -> Night | None:
    """The first night of the coming week with enough hours of dark ebb; None where none has.

    By the nearest station's tide table, as `coach figure nights`. Raises ValueError for a place that
    is none.
    """
    here = near(lat_deg, lon_deg)
    if here.tide_nmi > rig.station_far_nmi:
        return None
    today = now.astimezone(zone_of(here.tide)).date()
    ranked = _ranked(here.tide.spot.id, lat_deg, lon_deg, today, rig)
    return min((night for night in ranked if night.ebb_h >= rig.ebb_enough_h), key=_date, default=None)


def _date(night: Night) -> date:
    return night.on


@lru_cache(maxsize=32)
def _ranked(station_id: str, lat_deg: float, lon_deg: float, today: date, rig: Rig) -> tuple[Night, ...]:
    stations = tide_stations()
    station = stations[station_id]
    zone = zone_of(station)
    first = datetime(today.year, today.month, today.day, 12, tzinfo=zone)
    until = first + timedelta(days=_NIGHTS + 3)
    rows = tide_extremes(station, first - timedelta(days=1), until=until, stations=stations)
    turns = main_turns(rows, least_ft=LEAST_TURN_FT)
    if len(turns) < 2:
        return ()
    windows = list(ebb_of_legs(legs_between(turns), rig))
    where = Where(lat_deg, lon_deg, zone)
    tomorrow = today + timedelta(days=1)
    return tuple(nights(where, tomorrow, rig, count=_NIGHTS, windows=windows, extremes=turns))


def forget() -> None:
    """Drop the nights that were worked out."""
    _ranked.cache_clear()
