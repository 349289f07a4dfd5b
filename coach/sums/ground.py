"""A place on the water looked up: its stations, and their tables around a day. Kept for the latest few."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

from coach.figures.flow import FlowEvent, current_events, lagoon_lag
from coach.figures.harmonics import Constants
from coach.figures.stations import (
    LEAST_TURN_FT,
    CurrentStation,
    TideStation,
    current_stations,
    distance_nmi,
    nearest,
    tide_extremes,
    tide_stations,
)
from coach.figures.tide import Extreme, main_turns

_AROUND = timedelta(days=2)
_MAIN = "M2"
"""The tide's main constituent, whose lag from place to place tells how tables differ."""


class Near(NamedTuple):
    """The stations nearest to a place, and how far off they are [nautical miles]."""

    tide: TideStation
    tide_nmi: float
    current: CurrentStation
    current_nmi: float


@lru_cache(maxsize=64)
def near(lat_deg: float, lon_deg: float) -> Near:
    """What lies nearest to a place. Raises ValueError for a place that is none."""
    tide, tide_nmi = nearest(lat_deg, lon_deg, tide_stations().values())
    current, current_nmi = nearest(lat_deg, lon_deg, current_stations().values())
    return Near(tide, tide_nmi, current, current_nmi)


@lru_cache(maxsize=64)
def turns(station_id: str, day: datetime) -> tuple[Extreme, ...]:
    """High and low waters of a station from two days before a moment to two days after."""
    stations = tide_stations()
    rows = tide_extremes(stations[station_id], day - _AROUND, until=day + _AROUND, stations=stations)
    return main_turns(rows, least_ft=LEAST_TURN_FT)


@lru_cache(maxsize=64)
def events(station_id: str, day: datetime) -> tuple[FlowEvent, ...]:
    """Slacks and strongest flows of a current station from two days before a moment to two days after."""
    stations = current_stations()
    return current_events(stations[station_id], day - _AROUND, until=day + _AROUND, stations=stations)


def day_of(now: datetime) -> datetime:
    """The midnight (UTC) before a moment: tables are looked up a day at a time."""
    return now.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)


@lru_cache(maxsize=64)
def lag_doubt_h(lat_deg: float, lon_deg: float) -> float | None:
    """By how many hours the table used here may be out for lying between stations.

    The lag between the two nearest ones with constants, by how near this place is to the station used
    against the farther of them: none at a station, all of it half way.
    """
    two = sorted(_with_constants(), key=lambda each: _off_nmi(each, lat_deg, lon_deg))[:2]
    pairs = [constant for each in two for constant in each.constants if constant[0] == _MAIN]
    if len(pairs) < 2:
        return None
    (_, one, one_deg), (_, other, other_deg) = pairs
    lag = abs(lagoon_lag(one, one_deg, inside_amplitude=other, inside_lag_deg=other_deg).hours)
    farther = _off_nmi(two[1], lat_deg, lon_deg)
    return lag * min(1.0, near(lat_deg, lon_deg).tide_nmi / farther) if farther else lag


def _with_constants() -> Iterable[TideStation]:
    def has_main(constants: Constants) -> bool:
        return any(name == _MAIN and amplitude > 0 for name, amplitude, _ in constants)

    return (each for each in tide_stations().values() if has_main(each.constants))


def _off_nmi(station: TideStation, lat_deg: float, lon_deg: float) -> float:
    spot = station.spot
    return distance_nmi(lat_deg, lon_deg, to_lat_deg=spot.lat_deg, to_lon_deg=spot.lon_deg)


def forget() -> None:
    """Drop everything that was looked up."""
    for kept in (near, turns, events, lag_doubt_h):
        kept.cache_clear()
