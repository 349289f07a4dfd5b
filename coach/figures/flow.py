"""Flow of the water: between slack and its strongest, at NOAA's current stations, and a lagoon's lag."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import NamedTuple

from coach.figures import harmonics
from coach.figures.clock import hours_between
from coach.figures.limits import checked, positive
from coach.figures.stations import CurrentStation, Offset, zone_of


class FlowEvent(NamedTuple):
    """A moment of a current: "slack before flood", "slack before ebb", "flood" or "ebb" at its strongest.

    `kn` is along the flood, negative on the ebb.
    """

    at: datetime
    kn: float
    kind: str


class Lag(NamedTuple):
    """How a place inside follows its inlet: hours later, and its range as a share of the inlet's."""

    hours: float
    height_share: float


def flow_from_slack_kn(hours_from_slack: float, hours_to_max: float, *, max_kn: float) -> float:
    """Flow [kn] some hours after (or before) slack water: v·sin(π/2·t/T).

    Source: NOAA's table 3 by its sine form; a worked example from a Navy manual agrees to .02 in the
    factor (READ). Raises ValueError unless 0 <= t <= T, T above 0.
    """
    positive("hours_to_max", hours_to_max, unit="h")
    if not 0 <= hours_from_slack <= hours_to_max:
        raise ValueError(f"hours_from_slack: got {hours_from_slack}; allowed 0 to {hours_to_max:g} h")
    checked("flow_kn", abs(max_kn), name="max_kn")
    return max_kn * math.sin(math.pi / 2 * hours_from_slack / hours_to_max)


def flow_at_kn(events: Sequence[FlowEvent], at: datetime) -> float:
    """Flow [kn] at a time between two events of a current, by the sine from its slack.

    Between two maxima without a slack it goes straight from one to the other.
    Raises ValueError outside the events.
    """
    for one, two in pairwise(events):
        whole, gone = hours_between(one.at, two.at), hours_between(one.at, at)
        if 0 <= gone <= whole:
            return _between_kn(one, two, gone / whole if whole else 0.0)
    raise ValueError(f"time: got {at.isoformat()}; allowed between two events of the current")


def _between_kn(one: FlowEvent, two: FlowEvent, share: float) -> float:
    if one.kn == 0:
        return two.kn * math.sin(math.pi / 2 * share)
    if two.kn == 0:
        return one.kn * math.cos(math.pi / 2 * share)
    return one.kn + (two.kn - one.kn) * share


def _named(turn: harmonics.Turn, is_slack: bool) -> str | None:
    """What a turn of the curve is called; None for a mere dip in a flood or an ebb."""
    if is_slack:
        return "slack before flood" if turn.was_rising else "slack before ebb"
    if turn.was_rising:
        return "flood" if turn.value > 0 else None
    return "ebb" if turn.value < 0 else None


def _offsets(station: CurrentStation) -> dict[str, Offset]:
    return {
        "slack before flood": Offset(station.slack_before_flood_min, 1),
        "slack before ebb": Offset(station.slack_before_ebb_min, 1),
        "flood": station.flood,
        "ebb": station.ebb,
    }


def current_events(
    station: CurrentStation, start: datetime, *, until: datetime, stations: Mapping[str, CurrentStation]
) -> tuple[FlowEvent, ...]:
    """Slacks and strongest flows [kn] of a station between two aware times, on its own clock.

    A subordinate station takes those of its reference, with a shift for each kind of event and a
    ratio for flood and ebb. Raises ValueError for times without zone, out of order, or over 400 days.
    """
    if start.tzinfo is None or until.tzinfo is None or not timedelta() < until - start <= timedelta(days=400):
        raise ValueError(f"from, until: got {start}, {until}; allowed zoned times up to 400 days apart")
    source = stations[station.reference] if station.reference else station
    given, mean = source.constants, source.mean_kn
    first, last = start - timedelta(days=1), until + timedelta(days=1)
    turns = [(turn, True) for turn in harmonics.crossings(given, first, until=last, mean=mean)]
    turns += [(turn, False) for turn in harmonics.extremes(given, first, until=last, mean=mean)]
    offsets, zone = _offsets(station), zone_of(station)
    named = ((turn, _named(turn, is_slack)) for turn, is_slack in turns)
    events = (
        FlowEvent(turn.at + timedelta(minutes=offsets[kind].minutes), turn.value * offsets[kind].ratio, kind)
        for turn, kind in named
        if kind is not None
    )
    kept = sorted(event for event in events if start <= event.at <= until)
    return tuple(event._replace(at=event.at.astimezone(zone)) for event in kept)


def lagoon_lag(
    inlet_amplitude: float, inlet_lag_deg: float, *, inside_amplitude: float, inside_lag_deg: float
) -> Lag:
    """How far a place inside a lagoon is behind its inlet, from the M2 constants of both.

    Difference of the phase lags over the speed of M2; amplitudes in one unit.
    Source: definition of the constants. Raises ValueError for an amplitude that is not above 0.
    """
    inlet = positive("inlet_amplitude", inlet_amplitude)
    share = positive("inside_amplitude", inside_amplitude) / inlet
    return Lag(harmonics.lag_h(inside_lag_deg, inlet_lag_deg), share)
