"""The coming nights by their hours of dark ebb with enough flow, each with its parts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta, tzinfo
from typing import NamedTuple

from coach.figures.clock import hours_between, later
from coach.figures.flow import FlowEvent
from coach.figures.limits import whole
from coach.figures.rig import Rig
from coach.figures.sky import SkyDay, moon_at, moon_lit, moon_word, sky_day
from coach.figures.tide import Extreme, Leg

SPECIES = ("brown", "pink", "white")

LEAST_WINDOW_H = 1 / 6
"""A shorter span of ebb is not told: nobody sets lamps for ten minutes."""


class Window(NamedTuple):
    """A span of ebb with enough flow, and its strongest flow [kn]."""

    start: datetime
    end: datetime
    strongest_kn: float

    @property
    def hours(self) -> float:
        """Duration [h]."""
        return hours_between(self.start, self.end)


class Night(NamedTuple):
    """One night of a place. Levels in feet above the table's datum, flow in knots, `moon_lit` 0 to 1.

    `ebb_h` sums the windows; `bright_moon_h` is how much of them lies under a bright, high moon.
    """

    on: date
    dark_from: datetime | None
    dark_until: datetime | None
    windows: tuple[Window, ...]
    ebb_h: float
    strongest_kn: float
    moon_lit: float
    bright_moon_h: float
    low_at: datetime | None
    low_ft: float | None
    in_season: tuple[str, ...]


class Where(NamedTuple):
    """A place under the sky [degrees, north and east] and its clock."""

    lat_deg: float
    lon_deg: float
    zone: tzinfo


def ebb_of_legs(legs: Sequence[Leg], rig: Rig, *, slack_after_high_h: float = 0.0) -> Iterator[Window]:
    """Spans of enough ebb from the falls of a tide table, where there is no current table.

    Flow follows the speed of the level by an assumed factor (numbers.toml); a known delay of the ebb
    behind high water shifts the span. Source: cosine tide, trade assumption.
    """
    for leg in legs:
        strongest = rig.flow_kn_per_ft_h * math.pi * (leg.start_ft - leg.end_ft) / (2 * leg.hours)
        if strongest <= rig.flow_enough_kn:
            continue
        idle = leg.hours / math.pi * math.asin(rig.flow_enough_kn / strongest)
        start = later(leg.start_at, idle + slack_after_high_h)
        yield Window(start, later(start, leg.hours - 2 * idle), strongest)


def ebb_of_currents(events: Sequence[FlowEvent], rig: Rig) -> Iterator[Window]:
    """Spans of enough ebb from the events of a current table: slack, ebb, slack."""
    for slack, ebb, after in zip(events, events[1:], events[2:], strict=False):
        strongest = -ebb.kn
        if ebb.kind != "ebb" or slack.kn or after.kn or strongest <= rig.flow_enough_kn:
            continue
        idle = 2 / math.pi * math.asin(rig.flow_enough_kn / strongest)
        start = later(slack.at, idle * hours_between(slack.at, ebb.at))
        end = later(after.at, -idle * hours_between(ebb.at, after.at))
        yield Window(start, end, strongest)


def _overlap(window: Window, first: datetime, last: datetime) -> Window | None:
    start = window.start if hours_between(first, window.start) > 0 else first
    end = window.end if hours_between(window.end, last) > 0 else last
    return window._replace(start=start, end=end) if hours_between(start, end) >= LEAST_WINDOW_H else None


def _dark_span(where: Where, on: date, rig: Rig) -> tuple[datetime | None, datetime | None]:
    def day(which: date) -> SkyDay:
        place = (where.lat_deg, where.lon_deg)
        return sky_day(*place, on=which, zone=where.zone, dark_sun_deg=rig.dark_sun_deg)

    return day(on).dusk, day(on + timedelta(days=1)).dawn


def _bright_moon_h(where: Where, windows: Sequence[Window], rig: Rig) -> float:
    """Hours of the windows under a moon that is bright and high, looked at about every ten minutes."""
    hours = 0.0
    for window in windows:
        looks = math.ceil(window.hours / LEAST_WINDOW_H)
        step = window.hours / looks
        for i in range(looks):
            moon = moon_at(where.lat_deg, where.lon_deg, at=later(window.start, (i + 0.5) * step))
            hours += step * (moon_word(moon, rig) == "bright")
    return hours


def species_in_season(month: int, rig: Rig) -> tuple[str, ...]:
    """Species that run in a month (1 to 12) by and large; months are data of the rules folder."""

    def runs(name: str) -> bool:
        first, last = (getattr(rig, f"season_{name}_{end}_month") for end in ("first", "last"))
        return bool(first <= month <= last if first <= last else month >= first or month <= last)

    return tuple(name for name in SPECIES if runs(name))


def _lowest(rows: Sequence[Extreme], where: Where, on: date) -> Extreme | None:
    """The lowest low water from noon to noon."""
    noon = datetime.combine(on, time(12), where.zone)
    lows = [row for row in rows if row.kind == "low" and 0 <= hours_between(noon, row.at) < 24]
    return min(lows, key=lambda row: row.ft, default=None)


def night_of(
    where: Where, on: date, rig: Rig, *, windows: Sequence[Window], extremes: Sequence[Extreme]
) -> Night:
    """One night, that of the evening of `on`, from all spans of ebb and all extremes around it.

    Raises ValueError for a place that is none.
    """
    dusk, dawn = _dark_span(where, on, rig)
    dark = [_overlap(window, dusk, dawn) for window in windows] if dusk and dawn else []
    kept = tuple(window for window in dark if window is not None)
    low = _lowest(extremes, where, on)
    return Night(
        on=on,
        dark_from=dusk,
        dark_until=dawn,
        windows=kept,
        ebb_h=math.fsum(window.hours for window in kept),
        strongest_kn=max((window.strongest_kn for window in kept), default=0.0),
        moon_lit=moon_lit(datetime.combine(on + timedelta(days=1), time(), where.zone)),
        bright_moon_h=_bright_moon_h(where, kept, rig),
        low_at=low and low.at,
        low_ft=low and low.ft,
        in_season=species_in_season(on.month, rig),
    )


def nights(
    where: Where, first: date, rig: Rig, *, count: int, windows: Sequence[Window], extremes: Sequence[Extreme]
) -> list[Night]:
    """The nights from `first` on, most hours of dark ebb with enough flow first, then by date.

    `windows` and `extremes` must reach from the noon before to the noon after them.
    Raises ValueError unless 1 to 60 nights are asked for.
    """
    every = (first + timedelta(days=i) for i in range(whole("nights", count, name="count")))
    found = [night_of(where, on, rig, windows=windows, extremes=extremes) for on in every]
    return sorted(found, key=lambda night: (-round(night.ebb_h, 2), night.on))


def depth_at_low_ft(night: Night, *, sounded_ft: float, level_ft: float) -> float | None:
    """Depth here [ft] at the night's lowest water, from a sounding [ft] made at a level [ft above datum]."""
    return None if night.low_ft is None else sounded_ft + night.low_ft - level_ft
