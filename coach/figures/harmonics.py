"""Tide and current from harmonic constants, as NOAA predicts them.

h(t) = mean + Σ f·A·cos(V + u + speed·t − G): V at the start of the year, f and u of its middle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

from coach.figures.constituents import ARGUMENTS, argument_deg, speed_deg_per_h, year_nodes

STEP_H = 0.5
"""Two turns of a curve nearer than this may be missed; they differ by less than tables print."""

Constants = tuple[tuple[str, float, float], ...]
"""Name, amplitude, and phase lag on Greenwich [degrees] of each constituent."""


class Wave(NamedTuple):
    """One constituent within one year: amplitude, phase at the year's start [rad], speed [rad/h]."""

    amplitude: float
    phase: float
    speed: float


class Curve(NamedTuple):
    """All constituents of a place within one calendar year (UTC), about their mean."""

    start: datetime
    mean: float
    waves: tuple[Wave, ...]

    def value(self, hours: float) -> float:
        """Level or flow at some hours of the year, in the unit of the constants."""
        return self.mean + math.fsum(a * math.cos(p + w * hours) for a, p, w in self.waves)

    def slope(self, hours: float) -> float:
        """Its change per hour."""
        sin = math.sin
        return -sum([a * w * sin(p + w * hours) for a, p, w in self.waves])

    def bend(self, hours: float) -> float:
        """The change of its change per hour, per hour."""
        cos = math.cos
        return -sum([a * w * w * cos(p + w * hours) for a, p, w in self.waves])


class Turn(NamedTuple):
    """A moment of a curve: a highest or lowest value, or where it passes 0.

    `was_rising` tells whether the curve went up before a highest value, or goes up through 0.
    """

    at: datetime
    value: float
    was_rising: bool


def constants(pairs: Mapping[str, tuple[float, float]]) -> Constants:
    """Constants from a table of name: (amplitude, phase lag). Raises ValueError for an unknown name."""
    strange = sorted(set(pairs) - set(ARGUMENTS))
    if strange:
        raise ValueError(f"constituents: got {', '.join(strange)}; allowed {', '.join(ARGUMENTS)}")
    return tuple((name, amplitude, lag) for name, (amplitude, lag) in pairs.items())


@lru_cache(maxsize=64)
def curve_of(given: Constants, year: int, *, mean: float) -> Curve:
    """The curve of a place for one year (UTC), from its constants and its mean above datum.

    Source: Schureman, SP 98 (MEMORY), in the convention found to match NOAA's published predictions
    to 0.4 min and 0.8 mm. Valid for years within a century of 2000.
    """
    start, nodes = datetime(year, 1, 1, tzinfo=UTC), year_nodes(year)
    waves = (
        Wave(
            nodes[name].f * amplitude,
            math.radians((argument_deg(name, start) + nodes[name].u - lag) % 360),
            math.radians(speed_deg_per_h(name)),
        )
        for name, amplitude, lag in given
        if amplitude > 0
    )
    return Curve(start, mean, tuple(waves))


def value_at(given: Constants, at: datetime, *, mean: float) -> float:
    """Level or flow of a place at an aware time, in the unit of its constants."""
    utc = at.astimezone(UTC)
    curve = curve_of(given, utc.year, mean=mean)
    return curve.value((utc - curve.start).total_seconds() / 3600)


def _years(start: datetime, end: datetime) -> Iterator[tuple[int, datetime, datetime]]:
    """Cut a span of time at the turns of the years (UTC)."""
    first, last = start.astimezone(UTC), end.astimezone(UTC)
    for year in range(first.year, last.year + 1):
        new_year = datetime(year + 1, 1, 1, tzinfo=UTC)
        yield year, max(first, datetime(year, 1, 1, tzinfo=UTC)), min(last, new_year)


def _zero_of_slope(curve: Curve, low: float, high: float) -> float:
    """Where the slope passes 0 between two hours, by Newton's steps kept inside a shrinking bracket."""
    left = curve.slope(low)
    hours = (low + high) / 2
    for _ in range(60):
        slope = curve.slope(hours)
        low, high = (hours, high) if (slope > 0) == (left > 0) else (low, hours)
        bend = curve.bend(hours)
        step = hours - slope / bend if bend else low
        better = step if low < step < high else (low + high) / 2
        if abs(better - hours) < 1e-5:
            return better
        hours = better
    return hours


def _zero_of_value(curve: Curve, low: float, high: float) -> float:
    rising = curve.value(low) < 0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if (curve.value(middle) < 0) == rising else (low, middle)
        if high - low < 1e-5:
            break
    return (low + high) / 2


def _steps(curve: Curve, first: datetime, last: datetime) -> list[float]:
    low = (first - curve.start).total_seconds() / 3600
    high = (last - curve.start).total_seconds() / 3600
    count = max(1, math.ceil((high - low) / STEP_H))
    return [low + (high - low) * i / count for i in range(count + 1)]


def extremes(given: Constants, start: datetime, *, until: datetime, mean: float) -> list[Turn]:
    """Highest and lowest values of a place between two aware times, in order of time (UTC)."""
    found = []
    for year, first, last in _years(start, until):
        curve = curve_of(given, year, mean=mean)
        hours = _steps(curve, first, last)
        slopes = [curve.slope(hour) for hour in hours]
        for i in range(len(hours) - 1):
            if (slopes[i] > 0) != (slopes[i + 1] > 0):
                at = _zero_of_slope(curve, hours[i], hours[i + 1])
                found.append(Turn(curve.start + timedelta(hours=at), curve.value(at), slopes[i] > 0))
    return found


def crossings(given: Constants, start: datetime, *, until: datetime, mean: float) -> list[Turn]:
    """Moments between two aware times at which a flow passes 0, in order of time (UTC)."""
    found = []
    for year, first, last in _years(start, until):
        curve = curve_of(given, year, mean=mean)
        hours = _steps(curve, first, last)
        values = [curve.value(hour) for hour in hours]
        for i in range(len(hours) - 1):
            if (values[i] > 0) != (values[i + 1] > 0):
                at = _zero_of_value(curve, hours[i], hours[i + 1])
                found.append(Turn(curve.start + timedelta(hours=at), 0.0, values[i] <= 0))
    return found


def lag_h(lag_deg: float, inlet_lag_deg: float, *, name: str = "M2") -> float:
    """Hours by which a place is behind another, from both phase lags [degrees] of a constituent.

    The difference, taken between −180 and 180 degrees, over the speed. Source: definition of the lag.
    Raises ValueError for an unknown constituent.
    """
    if name not in ARGUMENTS:
        raise ValueError(f"constituent: got {name!r}; allowed {', '.join(ARGUMENTS)}")
    behind = (lag_deg - inlet_lag_deg + 180) % 360 - 180
    return behind / speed_deg_per_h(name)
