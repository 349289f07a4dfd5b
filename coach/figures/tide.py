"""The level between one high and one low water, by a cosine over their real duration.

For once-a-day tides as for twice-a-day ones: the duration is the one of the table, never an
assumed six hours.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from typing import NamedTuple

from coach.figures.clock import hours_between, later
from coach.figures.limits import checked, positive


class Extreme(NamedTuple):
    """One row of a tide table: a "high" or a "low" water and its level above datum [ft]."""

    at: datetime
    ft: float
    kind: str


class Leg(NamedTuple):
    """One fall or rise of the water: two neighbouring extremes of a tide table, levels in feet."""

    start_at: datetime
    start_ft: float
    end_at: datetime
    end_ft: float

    @property
    def hours(self) -> float:
        """Duration [h]."""
        return hours_between(self.start_at, self.end_at)

    @property
    def is_falling(self) -> bool:
        """Whether the level goes down over this leg."""
        return self.end_ft < self.start_ft


def leg_between(high_at: datetime, high_ft: float, *, low_at: datetime, low_ft: float) -> Leg:
    """The fall (high first) or rise (low first) between a high and a low water, levels [ft].

    Raises ValueError if the low is not below the high, a level is outside −10 to 60 ft, or less
    than 1 h or more than 26 h lie between.
    """
    checked("tide_ft", high_ft, name="high_ft")
    checked("tide_ft", low_ft, name="low_ft")
    if low_ft >= high_ft:
        raise ValueError(f"low_ft: got {low_ft:g}; allowed below high_ft, which is {high_ft:g} ft")
    hours = hours_between(high_at, low_at)
    checked("leg_h", abs(hours), name="hours between high_at and low_at")
    high, low = (high_at, high_ft), (low_at, low_ft)
    return Leg(*high, *low) if hours > 0 else Leg(*low, *high)


def legs_between(extremes: Sequence[Extreme]) -> tuple[Leg, ...]:
    """The falls and rises between the rows of a table, in order.

    Raises ValueError for fewer than two rows, rows out of order or not in turn, or a low that is not
    below its high.
    """
    if len(extremes) < 2:
        raise ValueError(f"table: got {len(extremes)} rows; allowed 2 and more, high and low in turn")
    return tuple(_leg(one, two) for one, two in pairwise(extremes))


def _leg(one: Extreme, two: Extreme) -> Leg:
    told = f"table: got {one.kind} at {one.at.isoformat()} then {two.kind} at {two.at.isoformat()}"
    if one.kind == two.kind:
        raise ValueError(f"{told}; allowed high and low in turn")
    if hours_between(one.at, two.at) <= 0:
        raise ValueError(f"{told}; allowed rows in order of time")
    if (two.ft < one.ft) != (two.kind == "low"):
        raise ValueError(f"{told}; got {one.ft:g} then {two.ft:g} ft, allowed the low below the high")
    return Leg(one.at, one.ft, two.at, two.ft)


def main_turns(extremes: Sequence[Extreme], *, least_ft: float) -> tuple[Extreme, ...]:
    """The rows without the wiggles: pairs less than `least_ft` apart are taken out, smallest first.

    Once-a-day tides have such pairs around their stands, and ratios can even turn them over.
    """
    rows = list(extremes)
    while len(rows) > 1:
        rises = [_rise_ft(one, two) for one, two in pairwise(rows)]
        i = rises.index(min(rises))
        if rises[i] >= least_ft:
            break
        first = i if 0 < i < len(rows) - 2 else 0 if i == 0 else len(rows) - 1
        del rows[first : first + (2 if 0 < i < len(rows) - 2 else 1)]
    return tuple(rows)


def _rise_ft(one: Extreme, two: Extreme) -> float:
    """How far two rows are apart [ft]; negative where the low stands above its high or time goes back."""
    if hours_between(one.at, two.at) <= 0:
        return -math.inf
    return two.ft - one.ft if two.kind == "high" else one.ft - two.ft


def leg_at(legs: Sequence[Leg], at: datetime) -> Leg:
    """The leg in which a time lies. Raises ValueError outside all of them."""
    for leg in legs:
        if hours_between(leg.start_at, at) >= 0 >= hours_between(leg.end_at, at):
            return leg
    first, last = legs[0].start_at.isoformat(), legs[-1].end_at.isoformat()
    raise ValueError(f"time: got {at.isoformat()}; allowed {first} to {last}")


def _share_gone(leg: Leg, at: datetime) -> float:
    """Share of the leg's duration that is over at a time. Raises ValueError outside the leg."""
    share = hours_between(leg.start_at, at) / leg.hours
    if not 0 <= share <= 1:
        raise ValueError(
            f"time: got {at.isoformat()}; allowed {leg.start_at.isoformat()} to {leg.end_at.isoformat()},"
            " between this high and this low"
        )
    return share


def height_ft(leg: Leg, at: datetime) -> float:
    """Level [ft] at a time between the two extremes.

    h1 + (h2 − h1)·(1 − cos(π·t/T))/2. Source: the cosine rule behind the official tables of heights
    at any time (their worked example agrees to 0.1 ft; READ). Raises ValueError outside the leg.
    """
    share = _share_gone(leg, at)
    return leg.start_ft + (leg.end_ft - leg.start_ft) * (1 - math.cos(math.pi * share)) / 2


def rate_ft_per_h(leg: Leg, at: datetime) -> float:
    """Speed of the level [ft/h] at a time, negative while it falls; greatest, πR/2T, at half tide."""
    share = _share_gone(leg, at)
    return (leg.end_ft - leg.start_ft) * math.pi / (2 * leg.hours) * math.sin(math.pi * share)


def hours_for_change(range_ft: float, duration_h: float, *, change_ft: float) -> float:
    """Hours from an extreme until the level has changed by `change_ft` out of `range_ft`.

    (T/π)·acos(1 − 2d/R), for T in hours. Source: the cosine rule turned round.
    Raises ValueError unless 0 <= change <= range, range and duration above 0.
    """
    positive("range_ft", range_ft, unit="ft")
    positive("duration_h", duration_h, unit="h")
    if not 0 <= change_ft <= range_ft:
        raise ValueError(f"change_ft: got {change_ft:g}; allowed 0 to the range, {range_ft:g} ft")
    return duration_h / math.pi * math.acos(1 - 2 * change_ft / range_ft)


def time_at_height(leg: Leg, ft: float) -> datetime | None:
    """When the level passes a height [ft] on this leg, or None if it never does."""
    low, high = sorted((leg.start_ft, leg.end_ft))
    if not low <= ft <= high:
        return None
    hours = hours_for_change(high - low, leg.hours, change_ft=abs(ft - leg.start_ft))
    return later(leg.start_at, hours)


def twelfths_ft(range_ft: float) -> tuple[float, ...]:
    """Change [ft] in each sixth of the leg by the rule of twelfths: 1, 2, 3, 3, 2, 1 of twelve.

    For the head only; `height_ft` is what the program uses. They differ by 1.7 % of the range at most.
    """
    positive("range_ft", range_ft, unit="ft")
    return tuple(range_ft * part / 12 for part in (1, 2, 3, 3, 2, 1))


def depth_at_ft(leg: Leg, at: datetime, *, known_depth_ft: float, known_at: datetime) -> float:
    """Depth here [ft] at a time, from a depth sounded here at another time of the same leg.

    Depth moves as the level does. May come out at or below 0: the place dries.
    Raises ValueError outside the leg or for a sounding outside 0.5 to 60 ft.
    """
    sounded = checked("water_depth_ft", known_depth_ft, name="known_depth_ft")
    return sounded + height_ft(leg, at) - height_ft(leg, known_at)
