"""`coach figure tide | current | flow | lag`: levels and flows."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any

from coach.figures.clock import hours_between
from coach.figures.flow import current_events, flow_at_kn, flow_from_slack_kn, lagoon_lag
from coach.figures.options import TZ, Answer, Figure, Given, Option, amount, moment, stamp, told_at, word
from coach.figures.rig import Rig
from coach.figures.stations import (
    LEAST_TURN_FT,
    P,
    TideStation,
    current_stations,
    find,
    nearest,
    tide_extremes,
    tide_level_ft,
    tide_stations,
    zone_of,
)
from coach.figures.tables import read_table
from coach.figures.tide import Extreme, Leg, height_ft, leg_at, legs_between, main_turns, rate_ft_per_h
from coach.figures.units import metres

_DAY = timedelta(days=2)

PLACE = (
    Option("--station", str, "a NOAA station by number or name"),
    Option("--lat", amount("lat_deg"), "or the nearest to this latitude, north"),
    Option("--lon", amount("lon_deg"), "and longitude, east (so negative in America)"),
)
TABLE = (
    Option("--table", str, "a file of high and low waters instead, or - for standard input"),
    Option("--row", str, "or rows typed, like '2027-02-11 19:04 2.4 H'", many=True),
    Option("--table-unit", word("ft", "m"), "unit of the table's levels", default="ft"),
)
SPAN = (
    Option("--from", moment, "start of the time asked for"),
    Option("--until", moment, "end of it"),
    Option("--at", moment, "one moment to work out as well"),
    TZ,
)


def station_given(given: Given, stations: dict[str, P]) -> tuple[P, str]:
    """The station that was asked for, and a line that tells which one it is."""
    if given["station"] is not None:
        station, far = find(given["station"], stations), ""
    elif given["lat"] is not None and given["lon"] is not None:
        station, nmi = nearest(given["lat"], given["lon"], stations.values())
        far = f", {nmi:.1f} nautical miles off as the gull flies"
    else:
        raise ValueError("--station: got nothing; allowed a station, or --lat and --lon")
    spot = station.spot
    clock = given["tz"] or spot.zone
    return station, f"{spot.name}, {spot.state} ({spot.id}){far}. Times on the clock of {clock}."


def _zoned(given: Given, name: str, zone: tzinfo) -> datetime:
    if given[name] is None:
        raise ValueError(f"--{name}: got nothing; needed is a time")
    return told_at({**given, "tz": given["tz"] or zone}, name)


def _rows(given: Given) -> str:
    if given["table"] is None:
        return "\n".join(given["row"] or [])
    try:
        return sys.stdin.read() if given["table"] == "-" else Path(given["table"]).read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        raise ValueError(f"--table: got {given['table']}; allowed a text file that can be read") from None


def _line(row: Extreme) -> str:
    return f"{row.at:%a %d %b %H:%M}  {row.kind:<4}  {row.ft:5.2f} ft ({metres(row.ft):.2f} m)."


def _level(rows: Sequence[Extreme], at: datetime, level: float | None) -> tuple[dict[str, Any], str]:
    """Level and speed at a moment; `level` where the constants themselves give it."""
    leg = leg_at(legs_between(main_turns(rows, least_ft=LEAST_TURN_FT)), at)
    ft, rate = height_ft(leg, at) if level is None else level, rate_ft_per_h(leg, at)
    way = "falling" if leg.is_falling else "rising"
    told = f"{at:%a %d %b %H:%M}  {ft:.2f} ft, {way} by {abs(rate):.2f} ft an hour."
    return {"at": stamp(at), "level_ft": ft, "rate_ft_per_h": rate, "state": way}, told


def _tide_answer(rows: Sequence[Extreme], more: dict[str, Any], lines: Sequence[str]) -> Answer:
    told = [{**row._asdict(), "at": stamp(row.at)} for row in rows]
    last = "Levels by the tables alone: wind and rain move a lagoon too. Slack is not high water."
    return Answer({"extremes": told, **more}, (*lines[:1], *map(_line, rows), *lines[1:], last))


def on_station_clock(given: Given) -> Given:
    """The options with the clock of the station, if one is named and no other clock is."""
    if given["tz"] is not None or (given["station"] is None and given["lat"] is None):
        return given
    return {**given, "tz": zone_of(station_given(given, dict(tide_stations()))[0])}


def legs_given(given: Given) -> tuple[Leg, ...]:
    """The falls and rises of the table or the station given, a day and more around the stay."""
    if given["table"] is not None or given["row"]:
        return legs_between(_table(given))
    stations = tide_stations()
    station, _ = station_given(given, dict(stations))
    start, until = (told_at(given, name) for name in ("from", "until"))
    around = tide_extremes(station, start - _DAY, until=until + _DAY, stations=stations)
    return legs_between(main_turns(around, least_ft=LEAST_TURN_FT))


def _table(given: Given) -> tuple[Extreme, ...]:
    return read_table(_rows(given), zone=given["tz"], unit=given["table_unit"])


def _tide_of_table(given: Given) -> Answer:
    rows = _table(given)
    first, last = (given[name] and told_at(given, name) for name in ("from", "until"))
    kept = [row for row in rows if (not first or row.at >= first) and (not last or row.at <= last)]
    if given["at"] is None:
        return _tide_answer(kept, {}, ("From the table given.",))
    more, line = _level(rows, told_at(given, "at"), None)
    return _tide_answer(kept, more, ("From the table given.", line))


def _tide_of_station(given: Given, station: TideStation, about: str) -> Answer:
    stations, zone = tide_stations(), given["tz"] or zone_of(station)
    start, until = (_zoned(given, name, zone) for name in ("from", "until"))
    found = tide_extremes(station, start, until=until, stations=stations)
    rows = [row._replace(at=row.at.astimezone(zone)) for row in found]
    spot = station.spot
    more: dict[str, Any] = {
        "station": {"id": spot.id, "name": spot.name, "state": spot.state},
        "datum": "MLLW",
    }
    if given["at"] is None:
        return _tide_answer(rows, more, (about,))
    at = _zoned(given, "at", zone)
    around = tide_extremes(station, at - _DAY, until=at + _DAY, stations=stations)
    level, line = _level(around, at, tide_level_ft(station, at, stations=stations))
    return _tide_answer(rows, {**more, **level}, (about, line))


def _tide(given: Given, rig: Rig) -> Answer:
    del rig
    if given["table"] is not None or given["row"]:
        return _tide_of_table(given)
    return _tide_of_station(given, *station_given(given, dict(tide_stations())))


def _current(given: Given, rig: Rig) -> Answer:
    stations = dict(current_stations())
    station, about = station_given(given, stations)
    zone = given["tz"] or zone_of(station)
    start, until = (_zoned(given, name, zone) for name in ("from", "until"))
    events = current_events(station, start, until=until, stations=stations)
    told = [event._replace(at=event.at.astimezone(zone)) for event in events]
    values: dict[str, Any] = {
        "station": {"id": station.spot.id, "name": station.spot.name, "state": station.spot.state},
        "events": [{**event._asdict(), "at": stamp(event.at)} for event in told],
    }
    lines = [f"{event.at:%a %d %b %H:%M}  {event.kind}  {abs(event.kn):.1f} kn." for event in told]
    if given["at"] is not None:
        at = _zoned(given, "at", zone)
        values["at"], values["flow_kn"] = stamp(at), flow_at_kn(_around(station, at, stations), at)
        enough = "enough" if abs(values["flow_kn"]) >= rig.flow_enough_kn else "too little"
        lines.append(f"{at:%a %d %b %H:%M}  {abs(values['flow_kn']):.1f} kn: {enough} to carry a run.")
    return Answer(values, (about, *lines))


def _around(station: Any, at: datetime, stations: Any) -> Any:
    return current_events(station, at - _DAY, until=at + _DAY, stations=stations)


def _flow(given: Given, rig: Rig) -> Answer:
    slack, most, at = (told_at(given, name) for name in ("slack_at", "max_at", "at"))
    whole, gone = hours_between(slack, most), hours_between(slack, at)
    if whole < 0:
        whole, gone = -whole, -gone
    kn = flow_from_slack_kn(gone, whole, max_kn=given["max_kn"])
    enough = "enough" if kn >= rig.flow_enough_kn else "too little"
    line = f"{kn:.2f} kn at {at:%H:%M}, {gone:.1f} h of {whole:.1f} h from slack: {enough} to carry a run."
    return Answer({"flow_kn": kn, "share_of_max": kn / given["max_kn"] if given["max_kn"] else 0.0}, (line,))


def _lag(given: Given, rig: Rig) -> Answer:
    del rig
    inlet, inside = ((given[f"{end}_m2"], given[f"{end}_lag_deg"]) for end in ("inlet", "inside"))
    found = lagoon_lag(*inlet, inside_amplitude=inside[0], inside_lag_deg=inside[1])
    line = (
        f"High and low water come about {found.hours:.1f} h after the inlet's,"
        f" with {found.height_share:.0%} of its range."
    )
    last = "Where the range is that small, the wind moves the level as much as the tide does."
    return Answer(found._asdict(), (line, last))


_AMPLITUDE, _PHASE = "M2 amplitude {}, in any one unit", "M2 phase lag {} [degrees]"

FIGURES = {
    "tide": Figure(
        "high and low waters of a station, or of a table that is typed or pasted",
        (
            *PLACE,
            *TABLE,
            *SPAN,
        ),
        _tide,
    ),
    "current": Figure("slacks and strongest flows of a current station", (*PLACE, *SPAN), _current),
    "flow": Figure(
        "flow between slack water and its strongest",
        (
            Option("--slack-at", moment, "time of slack water", needed=True),
            Option("--max-at", moment, "time of the strongest flow", needed=True),
            Option("--max-kn", amount("flow_kn"), "the strongest flow", needed=True),
            Option("--at", moment, "the moment to work out", needed=True),
            TZ,
        ),
        _flow,
    ),
    "lag": Figure(
        "how far a lagoon's tide is behind its inlet's",
        (
            Option("--inlet-m2", amount("amplitude"), _AMPLITUDE.format("at the inlet"), needed=True),
            Option("--inlet-lag-deg", amount("phase_deg"), _PHASE.format("at the inlet"), needed=True),
            Option("--inside-m2", amount("amplitude"), _AMPLITUDE.format("inside"), needed=True),
            Option("--inside-lag-deg", amount("phase_deg"), _PHASE.format("inside"), needed=True),
        ),
        _lag,
    ),
}
