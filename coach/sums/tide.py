"""The tide by a table: one that was told (a high and a low), or that of the station near a place."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from coach.figures.clock import hours_between
from coach.figures.flow import FlowEvent, flow_at_kn
from coach.figures.nights import Window, ebb_of_currents, ebb_of_legs
from coach.figures.rig import Rig
from coach.figures.stations import zone_of
from coach.figures.tide import Leg, height_ft, leg_at, leg_between, legs_between
from coach.sums.declare import gives, stands_in
from coach.sums.ground import day_of, events, lag_doubt_h, near, turns

_BY_WIND = "wind_driven"


# --- the leg that holds now ------------------------------------------------------------------------


@gives("tide.leg")
def leg(
    now: datetime,
    rig: Rig,
    *,
    tide_high_at_told: str | None = None,
    tide_high_ft_told: float | None = None,
    tide_low_at_told: str | None = None,
    tide_low_ft_told: float | None = None,
    place_lat_deg: float | None = None,
    place_lon_deg: float | None = None,
    tide_lag_h: float = 0.0,
    water_kind: str | None = None,
) -> str | None:
    """The fall or rise under way, as text: what was told goes before the station's table."""
    told = (tide_high_at_told, tide_high_ft_told, tide_low_at_told, tide_low_ft_told)
    if None not in told and (found := _told_leg(*told, now=now)):  # type: ignore[arg-type]  # none is None
        return _spelled(found)
    if place_lat_deg is None or place_lon_deg is None or water_kind == _BY_WIND:
        return None
    return _spelled(next(_legs_at(place_lat_deg, place_lon_deg, now, rig, lag_h=tide_lag_h), None))


def _told_leg(high_at: str, high_ft: float, low_at: str, low_ft: float, *, now: datetime) -> Leg | None:
    high, low = datetime.fromisoformat(high_at), datetime.fromisoformat(low_at)
    found = leg_between(high, high_ft, low_at=low, low_ft=low_ft)
    return found if found.start_at <= now <= found.end_at else None


def _legs_at(lat_deg: float, lon_deg: float, now: datetime, rig: Rig, *, lag_h: float) -> Iterator[Leg]:
    """The leg of the station's table that holds now, and those after it; none from a far station, or
    where there is next to no tide."""
    here = near(lat_deg, lon_deg)
    if here.tide_nmi > rig.station_far_nmi:
        return
    zone, lag = zone_of(here.tide), timedelta(hours=lag_h)
    rows = [row._replace(at=row.at + lag) for row in turns(here.tide.spot.id, day_of(now))]
    legs = legs_between(rows) if len(rows) > 1 else ()
    at = leg_at(legs, now)
    for each in legs[legs.index(at) :]:
        if abs(each.start_ft - each.end_ft) >= rig.table_least_range_ft:
            start, end = (moment.astimezone(zone) for moment in (each.start_at, each.end_at))
            yield each._replace(start_at=start, end_at=end)


def _spelled(found: Leg | None) -> str | None:
    if found is None or found.start_ft == found.end_ft:
        return None
    start, end = (at.isoformat(timespec="seconds") for at in (found.start_at, found.end_at))
    return f"{start}|{round(found.start_ft, 2)}|{end}|{round(found.end_ft, 2)}"


def read_leg(text: str) -> Leg:
    """The leg that a tide.leg stands for."""
    start, start_ft, end, end_ft = text.split("|")
    return Leg(datetime.fromisoformat(start), float(start_ft), datetime.fromisoformat(end), float(end_ft))


# --- what follows from it --------------------------------------------------------------------------


@stands_in("tide.state")
def state(
    now: datetime,
    rig: Rig,
    *,
    tide_leg: str | None = None,
    tide_table_doubt_min: float = 0.0,
    tide_high_at_told: str | None = None,
    tide_low_at_told: str | None = None,
) -> str | None:
    """Falling or rising: by the table, or between a high and a low whose times were told.

    None near a turn: there somebody has to look over the side.
    """
    margin_h = (rig.table_turn_min + tide_table_doubt_min) / 60
    if tide_leg is not None:
        found = read_leg(tide_leg)
        if min(hours_between(found.start_at, now), hours_between(now, found.end_at)) < margin_h:
            return None
        return "falling" if found.is_falling else "rising"
    if tide_high_at_told is None or tide_low_at_told is None:
        return None
    high, low = (datetime.fromisoformat(at) for at in (tide_high_at_told, tide_low_at_told))
    inside_h = min(hours_between(min(high, low), now), hours_between(now, max(high, low)))
    if abs(hours_between(high, low)) > _LONGEST_LEG_H or inside_h < margin_h:
        return None
    return "falling" if high < low else "rising"


_LONGEST_LEG_H = 14.0
"""No fall or rise takes longer, even where there is one tide a day."""


@stands_in("tide.high_at")
def high_at(tide_leg: str) -> str:
    """The high water of the leg that holds now."""
    found = read_leg(tide_leg)
    return (found.start_at if found.is_falling else found.end_at).isoformat(timespec="seconds")


@stands_in("tide.high_ft")
def high_ft(tide_leg: str) -> float:
    """Its height [ft]."""
    found = read_leg(tide_leg)
    return max(found.start_ft, found.end_ft)


@stands_in("tide.low_at")
def low_at(tide_leg: str) -> str:
    """The low water of the leg that holds now."""
    found = read_leg(tide_leg)
    return (found.end_at if found.is_falling else found.start_at).isoformat(timespec="seconds")


@stands_in("tide.low_ft")
def low_ft(tide_leg: str) -> float:
    """Its height [ft]."""
    found = read_leg(tide_leg)
    return min(found.start_ft, found.end_ft)


@stands_in("tide.fall_since_set_ft")
def fall_since_set_ft(
    tide_leg: str, lamps_minutes_since_set: float, now: datetime, rig: Rig, tide_station_nmi: float = 0.0
) -> float | None:
    """Fall since the lamps were set [ft], by the table; none from a station that is not near."""
    found = read_leg(tide_leg)
    start = now - timedelta(minutes=lamps_minutes_since_set)
    if tide_station_nmi > rig.station_near_nmi or start < found.start_at:
        return None
    return height_ft(found, start) - height_ft(found, now)


@gives("tide.station_nmi")
def station_nmi(place_lat_deg: float, place_lon_deg: float) -> float:
    """How far off the nearest tide station is [nautical miles]."""
    return near(place_lat_deg, place_lon_deg).tide_nmi


@gives("tide.range_ft")
def range_ft(tide_high_ft: float, tide_low_ft: float) -> float | None:
    """From low to high water [ft]."""
    return tide_high_ft - tide_low_ft if tide_high_ft > tide_low_ft else None


@gives("tide.minutes_to_low")
def minutes_to_low(tide_low_at: str, now: datetime) -> float | None:
    """Minutes until low water; none once it is past."""
    minutes = (datetime.fromisoformat(tide_low_at) - now).total_seconds() / 60
    return minutes if 0 <= minutes <= 1440 else None


@gives("tide.fall_to_low_ft")
def fall_to_low_ft(tide_leg: str, now: datetime) -> float | None:
    """Fall still to come until low water [ft]; none while the water rises."""
    found = read_leg(tide_leg)
    return height_ft(found, now) - found.end_ft if found.is_falling else None


@gives("tide.rise_to_high_ft")
def rise_to_high_ft(tide_leg: str, now: datetime) -> float | None:
    """Rise still to come until high water [ft]; none while the water falls."""
    found = read_leg(tide_leg)
    return None if found.is_falling else found.end_ft - height_ft(found, now)


@gives("tide.table_doubt_min")
def table_doubt_min(place_lat_deg: float, place_lon_deg: float) -> float | None:
    """By how many minutes the table may be out here, since the stations around differ."""
    lag = lag_doubt_h(place_lat_deg, place_lon_deg)
    return None if lag is None else 60 * lag


# --- the flow that it makes ------------------------------------------------------------------------


@gives("flow.table_kn")
def table_kn(place_lat_deg: float, place_lon_deg: float, now: datetime, rig: Rig) -> float | None:
    """Flow now by the current table of a station near by [kn], whichever way it runs."""
    found = _events(place_lat_deg, place_lon_deg, now, rig)
    return abs(flow_at_kn(found, now)) if found else None


@gives("flow.next_slack_at")
def next_slack_at(
    now: datetime,
    rig: Rig,
    place_lat_deg: float | None = None,
    place_lon_deg: float | None = None,
    tide_leg: str | None = None,
) -> str | None:
    """The next slack by a current table near by; else the turn of the level, which it may lag."""
    if place_lat_deg is not None and place_lon_deg is not None:
        for event in _events(place_lat_deg, place_lon_deg, now, rig):
            if event.kn == 0 and event.at > now:
                return event.at.isoformat(timespec="seconds")
    return None if tide_leg is None else read_leg(tide_leg).end_at.isoformat(timespec="seconds")


@gives("flow.ebb_from_at")
def ebb_from_at(
    now: datetime,
    rig: Rig,
    *,
    place_lat_deg: float | None = None,
    place_lon_deg: float | None = None,
    tide_leg: str | None = None,
    tide_lag_h: float = 0.0,
) -> str | None:
    """From when on the next ebb runs well enough; none while one does."""
    found = _next_ebb(now, rig, place_lat_deg, place_lon_deg, tide_leg=tide_leg, lag_h=tide_lag_h)
    return found.start.isoformat(timespec="seconds") if found and found.start > now else None


@gives("flow.ebb_until_at")
def ebb_until_at(
    now: datetime,
    rig: Rig,
    *,
    place_lat_deg: float | None = None,
    place_lon_deg: float | None = None,
    tide_leg: str | None = None,
    tide_lag_h: float = 0.0,
) -> str | None:
    """Until when the ebb runs well enough: the one under way, or the next."""
    found = _next_ebb(now, rig, place_lat_deg, place_lon_deg, tide_leg=tide_leg, lag_h=tide_lag_h)
    return found.end.isoformat(timespec="seconds") if found else None


def _events(lat_deg: float, lon_deg: float, now: datetime, rig: Rig) -> tuple[FlowEvent, ...]:
    here = near(lat_deg, lon_deg)
    return events(here.current.spot.id, day_of(now)) if here.current_nmi <= rig.station_near_nmi else ()


def _next_ebb(
    now: datetime,
    rig: Rig,
    lat_deg: float | None,
    lon_deg: float | None,
    *,
    tide_leg: str | None,
    lag_h: float,
) -> Window | None:
    """The span of ebb with enough flow that holds now or comes next: by a current table near by, else
    by the falls of the tide table."""
    if lat_deg is None or lon_deg is None:
        windows = ebb_of_legs([read_leg(tide_leg)], rig) if tide_leg is not None else iter(())
    elif found := _events(lat_deg, lon_deg, now, rig):
        windows = ebb_of_currents(found, rig)
    else:
        falls = [each for each in _legs_at(lat_deg, lon_deg, now, rig, lag_h=lag_h) if each.is_falling]
        windows = ebb_of_legs(falls, rig)
    return next((window for window in windows if window.end > now), None)
