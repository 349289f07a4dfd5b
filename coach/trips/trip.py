"""Trips: what happened from the first word of a night to its last, out of the turns that were kept.

Pure: rows in, trips out; the same rows always give the same trip. What was taken back is not in it.
A trip ends when nobody said anything for six hours (an assumption about sleep, not of the trade).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any, Protocol

from coach.figures.clock import hours_between
from coach.model import Scalar
from coach.trips.looks import SINCE_SET, Entry, Look, Stage, counted, on_deck, stage_of, timed

OVER_AFTER_H = 6.0
PLACE_HOLDS_H = 18.0
"""A place told longer before a trip than this is not taken for its place: boats move."""
SET_UP = (
    "set.intended",
    "lamps.count",
    "lamps.clip_left_ft",
    "lamps.clip_right_ft",
    "lamps.out_left_ft",
    "lamps.out_right_ft",
    "lamps.apart_ft",
    "lamps.hung_from",
    "deep_lamp.in_water",
    "net.in_water",
    "net.where",
    "boat.anchors",
    "boat.across_flow",
)
"""The facts that make up a set-up."""
_HELPED = "advice.helped"


class Row(Protocol):
    """A turn as kept; all but `at` are JSON text. See `coach.store.Turn`."""

    @property
    def at(self) -> str:
        """When it was."""
        ...

    @property
    def said(self) -> str | None:
        """What was said."""
        ...

    @property
    def understood(self) -> str:
        """The facts taken from it."""
        ...

    @property
    def reply(self) -> str:
        """The line that answered it."""
        ...

    @property
    def changed(self) -> str:
        """What it changed."""
        ...


@dataclass(frozen=True, slots=True)
class Place:
    """Where a trip was: a name, and degrees rounded so far that no spot is given away."""

    name: str = ""
    lat_deg: float | None = None
    lon_deg: float | None = None


@dataclass(frozen=True, slots=True)
class SetUp:
    """The set-up from a moment on; `changed` names the facts that are otherwise than before."""

    at: datetime
    facts: Mapping[str, Scalar]
    changed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice: what was named, what to do, and what came of it (None: nobody said)."""

    at: datetime
    causes: tuple[str, ...]
    action: str
    numbers: Mapping[str, Any]
    helped: bool | None = None
    answered_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Trip:
    """A night from first to last word. `hazards` are (when, id, what was said)."""

    number: int
    start_at: datetime
    end_at: datetime
    place: Place
    set_ups: tuple[SetUp, ...]
    looks: tuple[Look, ...]
    advice: tuple[Advice, ...]
    hazards: tuple[tuple[datetime, str, str], ...]
    facts: Mapping[str, Scalar]
    turns: int

    @property
    def hours(self) -> float:
        """From the first word to the last [h]."""
        return hours_between(self.start_at, self.end_at)


@dataclass(frozen=True, slots=True)
class _Night:
    """A trip in the making, as it was after some turn."""

    facts: Mapping[str, Scalar] = field(default_factory=dict)
    standing: Mapping[str, Scalar] = field(default_factory=dict)
    set_ups: tuple[SetUp, ...] = ()
    looks: tuple[Look, ...] = ()
    advice: tuple[Advice, ...] = ()
    hazards: tuple[tuple[datetime, str, str], ...] = ()
    set_at: datetime | None = None
    stages: tuple[tuple[datetime, Stage], ...] = ()


def trips_of(
    rows: Sequence[Row],
    *,
    places: Sequence[tuple[datetime, Place]] = (),
    entries: Sequence[Entry] = (),
) -> tuple[Trip, ...]:
    """All trips of a chat, oldest first.

    `places` are where she was from when on, `entries` the counts on deck, both oldest first.
    """
    return tuple(_trip(number, night, places, entries) for number, night in enumerate(_nights(rows), 1))


def last_trip_of(
    rows: Sequence[Row],
    *,
    places: Sequence[tuple[datetime, Place]] = (),
    entries: Sequence[Entry] = (),
) -> Trip | None:
    """The last of all trips of a chat, without going through the others again; None if there is none."""
    nights = list(_nights(rows))
    return _trip(len(nights), nights[-1], places, entries) if nights else None


def _nights(rows: Sequence[Row]) -> Iterable[Sequence[Row]]:
    """The rows parted where the pause is long."""
    night: list[Row] = []
    for row in rows:
        if night and _hours(night[-1], row) >= OVER_AFTER_H:
            yield night
            night = []
        night.append(row)
    if night:
        yield night


def _hours(one: Row, other: Row) -> float:
    return hours_between(datetime.fromisoformat(one.at), datetime.fromisoformat(other.at))


def _trip(
    number: int,
    rows: Sequence[Row],
    places: Sequence[tuple[datetime, Place]],
    entries: Sequence[Entry],
) -> Trip:
    night = replayed(rows)
    start, end = (datetime.fromisoformat(rows[i].at) for i in (0, -1))
    start = start.astimezone(end.tzinfo) if end.tzinfo is not None else start  # her zone may be known later
    late = end + timedelta(hours=OVER_AFTER_H)
    mine = [entry for entry in entries if start.timestamp() - 3600 <= entry.at < late.timestamp()]
    looks = on_deck(mine, like=start, stages=night.stages) or timed(night.looks, set_at=night.set_at)
    if looks and hours_between(end, looks[-1].at) > 0:
        end = looks[-1].at
    told = [(hours_between(start, at), place) for at, place in places]
    here = [place for hours, place in told if -PLACE_HOLDS_H <= hours <= hours_between(start, end)]
    return Trip(
        number=number,
        start_at=start,
        end_at=end,
        place=here[-1] if here else Place(),
        set_ups=night.set_ups,
        looks=looks,
        advice=night.advice,
        hazards=night.hazards,
        facts=night.facts,
        turns=len(rows),
    )


def replayed(rows: Iterable[Row]) -> _Night:
    """Go through the turns of a night; what was taken back is as if it had not been said."""
    night = _Night()
    earlier: list[_Night] = []
    for row in rows:
        changed = json.loads(row.changed)
        if json.loads(row.reply).get("error"):
            continue  # it changed nothing
        if changed.get("undone"):
            night = earlier.pop() if earlier else night
            continue
        after = _after(night, row, _heard(row, changed))
        if changed.get("remembered", after is not night):
            earlier.append(night)
        night = after
    return night


def _heard(row: Row, changed: Mapping[str, Any]) -> dict[str, Scalar | None]:
    """What became known (None: no longer) in a turn."""
    if "facts" in changed:
        return dict(changed["facts"])
    understood: dict[str, Scalar | None] = json.loads(row.understood)
    return {name: value for name, value in understood.items() if value != "unknown"}


def _after(night: _Night, row: Row, heard: Mapping[str, Scalar | None]) -> _Night:
    at = datetime.fromisoformat(row.at)
    reply = json.loads(row.reply)
    told = {name: value for name, value in heard.items() if value is not None}
    facts = {name: value for name, value in {**night.facts, **heard}.items() if value is not None}
    after = night
    if heard:
        stage = stage_of(facts)
        after = replace(
            after,
            facts=facts,
            looks=counted(night.looks, told, at, stage),
            stages=night.stages
            if night.stages and night.stages[-1][1] == stage
            else (*night.stages, (at, stage)),
        )
        after = _set_up(after, told, at)
    understood = json.loads(row.understood)
    if _HELPED in understood:
        after = _answered(after, understood[_HELPED], at)
    return _advised(after, reply, at)


def _set_up(night: _Night, told: Mapping[str, Scalar], at: datetime) -> _Night:
    """A set-up is new where something is otherwise than it was; what is first heard only fills it in."""
    if SINCE_SET in told:
        night = replace(night, set_at=at - timedelta(minutes=float(told[SINCE_SET])))
    mine = {name: told[name] for name in SET_UP if name in told}
    if not mine:
        return night
    standing = {**night.standing, **mine}
    changed = tuple(n for n in mine if n in night.standing and night.standing[n] != mine[n])
    if changed or not night.set_ups:
        made = (*night.set_ups, SetUp(at, standing, changed))
    else:
        made = (*night.set_ups[:-1], replace(night.set_ups[-1], facts=standing))
    return replace(night, standing=standing, set_ups=made)


def _answered(night: _Night, answer: object, at: datetime) -> _Night:
    """What came of the latest advice."""
    if answer not in ("yes", "no") or not night.advice or not night.advice[-1].causes:
        return night
    last = replace(night.advice[-1], helped=answer == "yes", answered_at=at)
    return replace(night, advice=(*night.advice[:-1], last))


def _advised(night: _Night, reply: Mapping[str, Any], at: datetime) -> _Night:
    """The hazards and the advice of an answer; the same advice again is no new one."""
    hazards = tuple((at, hazard["id"], hazard["say"]) for hazard in reply["hazards"])
    if hazards:
        night = replace(night, hazards=(*night.hazards, *hazards))
    verdict = reply["verdict"]
    if verdict is None:
        return night
    causes = tuple(cause["id"] for cause in verdict["causes"])
    action = next(iter(reply["say"]), "")
    numbers = verdict["numbers"]
    if night.advice and (night.advice[-1].causes, night.advice[-1].action) == (causes, action):
        again = replace(night.advice[-1], numbers=numbers)
        return replace(night, advice=(*night.advice[:-1], again))
    return replace(night, advice=(*night.advice, Advice(at, causes, action, numbers)))
