"""NOAA's tide and current stations of the U.S. South: finding one, and what it predicts.

The constants are public-domain data shipped beside this module, read when first needed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta, tzinfo
from functools import cache
from typing import Any, NamedTuple, Protocol, TypeVar

from coach.figures import harmonics
from coach.figures.harmonics import Constants
from coach.figures.limits import checked
from coach.figures.tide import Extreme, height_ft, leg_at, legs_between, main_turns
from coach.figures.units import M_PER_NMI, feet


class Spot(NamedTuple):
    """Where a station is, and the name of its clock's zone."""

    id: str
    name: str
    state: str
    lat_deg: float
    lon_deg: float
    zone: str


class Place(Protocol):
    """Whatever lies at a spot."""

    @property
    def spot(self) -> Spot:
        """Where it lies."""
        ...


class Offset(NamedTuple):
    """How a subordinate station follows its reference: minutes later, and times its value."""

    minutes: float
    ratio: float


class TideStation(NamedTuple):
    """A tide station. Constants in metres about a mean [m] above MLLW, or offsets from a reference."""

    spot: Spot
    constants: Constants
    mean_m: float
    reference: str
    high: Offset
    low: Offset


class CurrentStation(NamedTuple):
    """A current station. Constants in knots along its flood, or offsets from a reference."""

    spot: Spot
    flood_deg: float | None
    ebb_deg: float | None
    constants: Constants
    mean_kn: float
    reference: str
    slack_before_flood_min: float
    slack_before_ebb_min: float
    flood: Offset
    ebb: Offset


LEAST_TURN_FT = 0.1
"""Turns nearer to each other than this are not told apart: the tables are not that good."""

P = TypeVar("P", bound=Place)

_SAME = [0, 1]


def _read(name: str) -> dict[str, dict[str, Any]]:
    import gzip  # noqa: PLC0415  (these three only where a station is asked for)
    import json  # noqa: PLC0415
    from importlib import resources  # noqa: PLC0415

    packed = resources.files("coach.figures").joinpath("data", f"{name}.json.gz").read_bytes()
    stations: dict[str, dict[str, Any]] = json.loads(gzip.decompress(packed))["stations"]
    return stations


def _constants(row: Mapping[str, Any], unit: str) -> Constants:
    return harmonics.constants({name: tuple(pair) for name, pair in row.get(unit, {}).items()})


def _spot(id_: str, row: Mapping[str, Any]) -> Spot:
    return Spot(id_, row["name"], row["state"], row["lat"], row["lon"], row["zone"])


def tide_station(id_: str, row: Mapping[str, Any]) -> TideStation:
    """A tide station from its row of the data. Raises KeyError for a row without its place."""
    return TideStation(
        spot=_spot(id_, row),
        constants=_constants(row, "m"),
        mean_m=row.get("mean_m", 0.0),
        reference=row.get("reference", ""),
        high=Offset(*row.get("high", _SAME)),
        low=Offset(*row.get("low", _SAME)),
    )


def current_station(id_: str, row: Mapping[str, Any]) -> CurrentStation:
    """A current station from its row of the data. Raises KeyError for a row without its place."""
    return CurrentStation(
        spot=_spot(id_, row),
        flood_deg=row["flood_deg"],
        ebb_deg=row["ebb_deg"],
        constants=_constants(row, "kn"),
        mean_kn=row.get("mean_kn", 0.0),
        reference=row.get("reference", ""),
        slack_before_flood_min=row.get("slack_before_flood", 0),
        slack_before_ebb_min=row.get("slack_before_ebb", 0),
        flood=Offset(row.get("flood_time", 0), row.get("flood_x", 1)),
        ebb=Offset(row.get("ebb_time", 0), row.get("ebb_x", 1)),
    )


@cache
def tide_stations() -> Mapping[str, TideStation]:
    """All tide stations by id."""
    return {id_: tide_station(id_, row) for id_, row in _read("tides").items()}


@cache
def current_stations() -> Mapping[str, CurrentStation]:
    """All current stations by id."""
    return {id_: current_station(id_, row) for id_, row in _read("currents").items()}


def _told(station: Place) -> str:
    return f"{station.spot.id} {station.spot.name}, {station.spot.state}"


def find(text: str, stations: Mapping[str, P]) -> P:
    """The station with this id, or whose name alone holds these words (a state may be among them).

    Raises ValueError where there is none or more than one, naming some.
    """
    if text in stations:
        return stations[text]
    words = text.casefold().replace(",", " ").split()
    rows = list(stations.values())
    fits = [row for row in rows if words and set(words) <= set(_words(row))]
    fits = fits or [row for row in rows if words and all(word in " ".join(_words(row)) for word in words)]
    exact = [row for row in fits if row.spot.name.casefold() == text.casefold()]
    fits = exact if len(exact) == 1 else fits
    if len(fits) == 1:
        return fits[0]
    some = "; ".join(_told(row) for row in fits[:4]) or "a number or a name of a station from NC to TX"
    more = " and others" if len(fits) > 4 else ""
    raise ValueError(f"station: got {text!r}, which fits {len(fits)}; allowed one, as {some}{more}")


def _words(station: Place) -> list[str]:
    plain = "".join(sign if sign.isalnum() else " " for sign in station.spot.name.casefold())
    return [*plain.split(), station.spot.state.casefold()]


def distance_nmi(lat_deg: float, lon_deg: float, *, to_lat_deg: float, to_lon_deg: float) -> float:
    """Great-circle distance [nautical miles] on a sphere of 6371 km (haversine formula, MEMORY)."""
    lat, to_lat = math.radians(lat_deg), math.radians(to_lat_deg)
    half = math.sin((to_lat - lat) / 2) ** 2
    half += math.cos(lat) * math.cos(to_lat) * math.sin(math.radians(to_lon_deg - lon_deg) / 2) ** 2
    return 2 * 6_371_000 / M_PER_NMI * math.asin(min(1.0, math.sqrt(half)))


def nearest(lat_deg: float, lon_deg: float, stations: Iterable[P]) -> tuple[P, float]:
    """The station nearest to a place, with its distance [nautical miles] as the gull flies.

    Water may take a longer way: behind an inlet, choose by name. Raises ValueError for a latitude or
    longitude that is none.
    """
    lat, lon = checked("lat_deg", lat_deg), checked("lon_deg", lon_deg)

    def far(station: Place) -> float:
        return distance_nmi(lat, lon, to_lat_deg=station.spot.lat_deg, to_lon_deg=station.spot.lon_deg)

    best = min(stations, key=far)
    return best, far(best)


def zone_of(station: Place) -> tzinfo:
    """The clock of a station's place, daylight saving and all."""
    from zoneinfo import ZoneInfo  # noqa: PLC0415  (only where a place is given)

    return ZoneInfo(station.spot.zone)


def _span(start: datetime, until: datetime) -> None:
    if start.tzinfo is None or until.tzinfo is None:
        raise ValueError(f"time: got {start} and {until}; allowed times with a zone")
    days = (until - start) / timedelta(days=1)
    if not 0 < days <= 400:
        raise ValueError(f"until: got {until.isoformat()}; allowed up to 400 days after {start.isoformat()}")


def tide_extremes(
    station: TideStation, start: datetime, *, until: datetime, stations: Mapping[str, TideStation]
) -> tuple[Extreme, ...]:
    """High and low waters [ft above MLLW] of a station between two aware times, on its own clock.

    A subordinate station takes those of its reference, later by its minutes and times its ratios.
    Wind and rain are not in it. Raises ValueError for times without zone, out of order, or more than
    400 days.
    """
    _span(start, until)
    turns = _turns(station, start, until, stations)
    zone, found = zone_of(station), []
    for turn in turns:
        offset = station.high if turn.was_rising else station.low
        at = turn.at + timedelta(minutes=offset.minutes)
        if start <= at <= until:
            kind = "high" if turn.was_rising else "low"
            found.append(Extreme(at.astimezone(zone), feet(turn.value) * offset.ratio, kind))
    return tuple(found)


def _turns(
    station: TideStation, start: datetime, until: datetime, stations: Mapping[str, TideStation]
) -> list[harmonics.Turn]:
    """The turns of the station itself, or of its reference from a day before to a day after."""
    if not station.reference:
        return harmonics.extremes(station.constants, start, until=until, mean=station.mean_m)
    source, day = stations[station.reference], timedelta(days=1)
    return harmonics.extremes(source.constants, start - day, until=until + day, mean=source.mean_m)


def tide_level_ft(station: TideStation, at: datetime, *, stations: Mapping[str, TideStation]) -> float:
    """Level [ft above MLLW] of a station at an aware time.

    From its own constants; at a subordinate station by the cosine between its extremes.
    Raises ValueError for a time without zone.
    """
    day = timedelta(days=2)
    _span(at, at + day)
    if not station.reference:
        return feet(harmonics.value_at(station.constants, at, mean=station.mean_m))
    around = tide_extremes(station, at - day, until=at + day, stations=stations)
    return height_ft(leg_at(legs_between(main_turns(around, least_ft=LEAST_TURN_FT)), at), at)
