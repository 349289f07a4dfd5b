"""`coach figure nights | moon`: which night to go, by its parts."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from coach.figures.flow import current_events
from coach.figures.ics import calendar
from coach.figures.light import background_lux
from coach.figures.limits import checked
from coach.figures.nights import Night, Where, depth_at_low_ft, ebb_of_currents, ebb_of_legs, nights
from coach.figures.options import (
    TZ,
    Answer,
    Figure,
    Given,
    Option,
    amount,
    counted,
    day,
    moment,
    stamp,
    told_at,
)
from coach.figures.rig import Rig
from coach.figures.show_water import PLACE, station_given
from coach.figures.sky import moon_at, moon_word, moonlight_lux
from coach.figures.stations import (
    LEAST_TURN_FT,
    TideStation,
    current_stations,
    find,
    tide_extremes,
    tide_level_ft,
    tide_stations,
    zone_of,
)
from coach.figures.tide import legs_between, main_turns


def _winds(given: Given) -> dict[date, float]:
    """Wind typed for some nights, like 2027-02-11=15."""
    found = {}
    for text in given["wind"] or []:
        on, _, kn = text.partition("=")
        try:
            found[date.fromisoformat(on)] = checked("wind_kn", float(kn))
        except ValueError as wrong:
            raise ValueError(f"--wind: got {text}; allowed a day and knots, like 2027-02-11=15") from wrong
    return found


def _found(given: Given, station: TideStation, where: Where, rig: Rig) -> list[Night]:
    """The nights asked for, from the current station that was named or else from the tide's fall."""
    noon = datetime.combine(given["first"], time(12), where.zone)
    start, until = noon - timedelta(days=1), noon + timedelta(days=given["nights"] + 1)
    rows = tide_extremes(station, start, until=until, stations=tide_stations())
    if given["current"] is None:
        legs = legs_between(main_turns(rows, least_ft=LEAST_TURN_FT))
        windows = list(ebb_of_legs(legs, rig, slack_after_high_h=given["slack_after_high_h"]))
    else:
        currents = current_stations()
        events = current_events(find(given["current"], currents), start, until=until, stations=currents)
        windows = list(ebb_of_currents(events, rig))
    return nights(where, given["first"], rig, count=given["nights"], windows=windows, extremes=rows)


def _values(night: Night, depth_ft: float | None, wind_kn: float | None) -> dict[str, Any]:
    times = {
        name: at and stamp(at) for name, at in (("dark_from", night.dark_from), ("low_at", night.low_at))
    }
    more = {"depth_at_low_ft": depth_ft, "wind_kn": wind_kn}
    return {
        **night._asdict(),
        **times,
        "on": night.on.isoformat(),
        "dark_until": night.dark_until and stamp(night.dark_until),
        "windows": [{**w._asdict(), "start": stamp(w.start), "end": stamp(w.end)} for w in night.windows],
        **{name: value for name, value in more.items() if value is not None},
    }


def _told(night: Night, depth_ft: float | None, wind_kn: float | None, rig: Rig) -> str:
    ebb = ", ".join(f"{w.start:%H:%M} to {w.end:%H:%M}" for w in night.windows) or "none"
    bright = f", bright and high for {night.bright_moon_h:.1f} h of it" if night.bright_moon_h else ""
    low = "" if night.low_ft is None else f"; low {night.low_ft:.1f} ft"
    low += "" if depth_ft is None else f", {depth_ft:.1f} ft here"
    wind = "" if wind_kn is None else f"; wind {wind_kn:g} kn"
    wind += (
        " (too windy for a small open boat)" if wind_kn is not None and wind_kn >= rig.too_windy_kn else ""
    )
    return (
        f"{night.on:%a %d %b}  {night.ebb_h:.1f} h of dark ebb ({ebb}), up to {night.strongest_kn:.1f} kn;"
        f" moon {night.moon_lit:.0%} lit{bright}{low}{wind};"
        f" in season {', '.join(night.in_season) or 'none'}."
    )


def _level_when_sounded(given: Given, station: TideStation, where: Where) -> float | None:
    if (given["depth_ft"] is None) != (given["sounded_at"] is None):
        raise ValueError("--depth-ft, --sounded-at: got one of them; allowed both or neither")
    if given["depth_ft"] is None:
        return None
    at = told_at({**given, "tz": given["tz"] or where.zone}, "sounded_at")
    return tide_level_ft(station, at, stations=tide_stations())


def _write(given: Given, found: list[Night], place: str) -> None:
    made_at = datetime.now(UTC) if given["made_at"] is None else told_at(given, "made_at")
    try:
        Path(given["ics"]).write_bytes(calendar(found, place=place, made_at=made_at).encode())
    except OSError:
        raise ValueError(f"--ics: got {given['ics']}; allowed a file that can be written") from None


def _nights(given: Given, rig: Rig) -> Answer:
    station, about = station_given(given, dict(tide_stations()))
    spot = station.spot
    lat = spot.lat_deg if given["lat"] is None else given["lat"]
    lon = spot.lon_deg if given["lon"] is None else given["lon"]
    where = Where(lat, lon, given["tz"] or zone_of(station))
    found, level = _found(given, station, where, rig), _level_when_sounded(given, station, where)
    winds: Mapping[date, float] = _winds(given)
    rows = [
        (
            night,
            None if level is None else depth_at_low_ft(night, sounded_ft=given["depth_ft"], level_ft=level),
            winds.get(night.on),
        )
        for night in found
    ]
    if given["ics"] is not None:
        _write(given, found, f"{spot.name}, {spot.state}")
    flow = (
        "current station"
        if given["current"]
        else f"{rig.flow_kn_per_ft_h:g} kn for a foot an hour of fall, assumed"
    )
    last = f"Ebb with at least {rig.flow_enough_kn:g} kn ({flow}). Seasons by and large: ask locally."
    values = {"station": {"id": spot.id, "name": spot.name, "state": spot.state}}
    return Answer(
        {**values, "nights": [_values(*row) for row in rows]},
        (about, *(_told(*row, rig) for row in rows), last),
    )


def _moon(given: Given, rig: Rig) -> Answer:
    at = told_at(given, "at")
    if at.tzinfo is None:
        raise ValueError("--at: got a time without offset; allowed one with offset, or --tz")
    found = moon_at(given["lat"], given["lon"], at=at)
    lux = moonlight_lux(found.lit, found.altitude_deg)
    word = moon_word(found, rig)
    lines = [
        f"{at:%a %d %b %H:%M}: {found.lit:.0%} lit, {found.altitude_deg:.0f} degrees high: {word}.",
        f"About {lux:.2f} lux on the water under a clear sky.",
    ]
    values = {**found._asdict(), "moon": word, "surface_lux": lux}
    if given["secchi_ft"] is not None and given["lamp_depth_ft"] is not None:
        left = background_lux(lux, given["lamp_depth_ft"], rig, secchi_ft=given["secchi_ft"])
        values["lamp_depth_lux"] = left
        lines.append(f"At {given['lamp_depth_ft']:g} ft about {left:.4f} lux of it is left.")
    return Answer(values, tuple(lines))


FIGURES = {
    "nights": Figure(
        "the coming nights by their hours of dark ebb with enough flow",
        (
            *PLACE,
            Option("--first", day, "evening of the first night, like 2027-02-11", needed=True),
            Option("--nights", counted("nights"), "how many nights", default=7),
            Option("--current", str, "a current station, by number or name, for the flow"),
            Option("--slack-after-high-h", amount("lag_h"), "hours from high water to slack", default=0.0),
            Option("--depth-ft", amount("water_depth_ft"), "a depth sounded at the anchorage"),
            Option("--sounded-at", moment, "and when"),
            Option("--wind", str, "wind of a night if known, like 2027-02-11=15 [kn]", many=True),
            Option("--ics", str, "write a calendar file as well"),
            Option("--made-at", moment, "time that the calendar says it was made (default: now)"),
            TZ,
        ),
        _nights,
    ),
    "moon": Figure(
        "the moon at a moment: how bright, how high, how much light at a lamp",
        (
            Option("--lat", amount("lat_deg"), "latitude, north", needed=True),
            Option("--lon", amount("lon_deg"), "longitude, east (so negative in America)", needed=True),
            Option("--at", moment, "the moment", needed=True),
            Option("--secchi-ft", amount("secchi_ft"), "depth at which a white disc is lost"),
            Option("--lamp-depth-ft", amount("lamp_depth_ft"), "depth to work out the light for"),
            TZ,
        ),
        _moon,
    ),
}
