"""A place told, named or shown: its nearest tide station, and the place as facts."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from functools import cache
from typing import NamedTuple

from coach.figures.stations import TideStation, distance_nmi, find, nearest, tide_stations
from coach.model import Fact, Scalar

WHERE = ("place.lat_deg", "place.lon_deg")
_WORD = re.compile(r"[a-z0-9]+")
_LONGEST_NAME = 5
_LEAST_LETTERS = 4
_LEAST_WORDS = 2
_TOGETHER_NMI = 3.0
_DEGREES = re.compile(r"(-?\d{1,3}(?:\.\d+)?)°?\s?([NS]?)[,;\s]+(-?\d{1,3}(?:\.\d+)?)°?\s?([EW]?)", re.I)
_ROUNDED = 2
FAR_NMI = 15.0
"""A station farther off than this says little about the water here (assumption)."""


class Ground(NamedTuple):
    """Where a boat is: the station that speaks for it, its zone's name, how far it is [nautical miles],
    and the place [degrees], rounded as it came."""

    station: TideStation
    zone: str
    off_nmi: float
    lat_deg: float
    lon_deg: float


def ground_at(lat_deg: float, lon_deg: float) -> Ground:
    """The ground at a place. Raises ValueError for a place that is none."""
    station, off_nmi = nearest(lat_deg, lon_deg, tide_stations().values())
    return Ground(station, station.spot.zone, off_nmi, lat_deg, lon_deg)


def ground_named(words: str) -> Ground:
    """The ground of a station by its name or number, or at degrees north and east such as "30.1 -85.6" or
    "30.1N 85.6W", rounded. Raises ValueError where it is not one."""
    if degrees := _DEGREES.fullmatch(words.strip()):
        return ground_at(_signed(degrees[1], degrees[2]), _signed(degrees[3], degrees[4]))
    station = find(" ".join(words.split()), tide_stations())
    return Ground(
        station, station.spot.zone, 0.0, round(station.spot.lat_deg, 2), round(station.spot.lon_deg, 2)
    )


def ground_in(text: str, known: Collection[str], *, before: Collection[str]) -> Ground | None:
    """The ground of a station that a sentence names after one of the words `before` ("at", "off", "near");
    None if none.

    Only whole words of a name count, and one of them must be no ordinary word (`known`), unless it is
    the whole of a name: "at the hull" is no place, "off Ponce Inlet" and "at Crescent Beach" are. Of
    several stations by that name that lie close together the first stands for all.
    """
    words = _WORD.findall(text.casefold())
    for at in (i for i, word in enumerate(words) if word in before):
        for length in range(min(_LONGEST_NAME, len(words) - at - 1), 0, -1):
            found = _named(tuple(words[at + 1 : at + 1 + length]), known)
            if found is not None:
                spot = found.spot
                return Ground(found, spot.zone, 0.0, round(spot.lat_deg, 2), round(spot.lon_deg, 2))
    return None


def _named(name: tuple[str, ...], known: Collection[str]) -> TideStation | None:
    is_proper = any(word not in known and len(word) >= _LEAST_LETTERS for word in name)
    if not is_proper and len(name) < _LEAST_WORDS:
        return None
    bearers = [id_ for id_, words in _names().items() if set(name) <= set(words)]
    whole = [id_ for id_ in bearers if _names()[id_] == name]
    bearers = whole or (bearers if is_proper else [])
    stations = [tide_stations()[id_] for id_ in bearers]
    return stations[0] if stations and _lie_together(stations) else None


def _lie_together(stations: Sequence[TideStation]) -> bool:
    first = stations[0].spot
    return all(
        distance_nmi(first.lat_deg, first.lon_deg, to_lat_deg=s.spot.lat_deg, to_lon_deg=s.spot.lon_deg)
        <= _TOGETHER_NMI
        for s in stations
    )


@cache
def _names() -> Mapping[str, tuple[str, ...]]:
    """The words of every station's name."""
    return {id_: tuple(_WORD.findall(s.spot.name.casefold())) for id_, s in tide_stations().items()}


def where_facts(ground: Ground, declared: Mapping[str, Fact]) -> dict[str, Scalar]:
    """A ground as facts, whose tables the sums look up; none for a place farther north or south than the
    facts reach."""
    facts = dict(zip(WHERE, (ground.lat_deg, ground.lon_deg), strict=True))
    reach = [declared[name].range for name in facts]
    is_in_reach = all(r is None or r[0] <= v <= r[1] for r, v in zip(reach, facts.values(), strict=True))
    return {**facts} if is_in_reach else {}


def places_named(words: str) -> tuple[tuple[str, str], ...]:
    """Stations whose name holds all these words: number and name of each, the shortest names first."""
    wanted = words.casefold().replace(",", " ").split()
    fits = [
        (id_, f"{station.spot.name}, {station.spot.state}")
        for id_, station in tide_stations().items()
        if wanted and all(word in f"{station.spot.name} {station.spot.state}".casefold() for word in wanted)
    ]
    return tuple(sorted(fits, key=lambda fit: (len(fit[1]), fit[1])))


def _signed(degrees: str, side: str) -> float:
    """Degrees as a number: south and west are negative."""
    value = round(float(degrees), _ROUNDED)
    return -abs(value) if side.upper() in ("S", "W") else value
