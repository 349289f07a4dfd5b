"""An exported log brought back: from another machine, or after a loss; never what was forgotten."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, Any

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from coach import forgotten
from coach.store import Rows
from coach.trips.export import VERSION, plain
from coach.trips.looks import Look, Stage
from coach.trips.trip import Advice, Place, SetUp, Trip

SIZE_LIMIT = 20_000_000
_Text = Annotated[str, Field(max_length=2_000)]
_Count = Annotated[float, Field(ge=0, le=1_000_000)]
_Scalar = bool | float | _Text


class _Form(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)


class _Place(_Form):
    name: Annotated[str, Field(max_length=60)] = ""
    lat_deg: Annotated[float, Field(ge=-90, le=90)] | None = None
    lon_deg: Annotated[float, Field(ge=-180, le=180)] | None = None


class _Look(_Form):
    at: AwareDatetime
    minutes: Annotated[float, Field(gt=0, le=1440)] | None
    bow: _Count | None
    stern: _Count | None
    crew: _Count | None
    tide: _Text | None
    moon: _Text | None
    set: _Text | None
    lamps: Annotated[float, Field(ge=0, le=100)] | None


class _SetUp(_Form):
    at: AwareDatetime
    facts: dict[_Text, _Scalar]
    changed: tuple[_Text, ...]


class _Advice(_Form):
    at: AwareDatetime
    causes: tuple[_Text, ...]
    action: _Text
    numbers: dict[_Text, Any]
    helped: bool | None
    answered_at: AwareDatetime | None


class _Hazard(_Form):
    at: AwareDatetime
    id: _Text
    say: _Text


class _Trip(_Form):
    number: int
    start: AwareDatetime
    end: AwareDatetime
    place: _Place
    set_ups: tuple[_SetUp, ...]
    looks: tuple[_Look, ...]
    advice: tuple[_Advice, ...]
    hazards: tuple[_Hazard, ...]


class _Log(_Form):
    v: int
    chat: _Text
    trips: tuple[_Trip, ...]


def read_log(content: bytes) -> tuple[Trip, ...]:
    """The trips of an export. Raises ValueError saying what is wrong with it."""
    if len(content) > SIZE_LIMIT:
        raise ValueError(f"the log: got {len(content)} bytes; allowed {SIZE_LIMIT}")
    try:
        log = _Log.model_validate_json(content)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise ValueError(f"the log, {where or 'as a whole'}: {first['msg']}. Give a JSON export.") from error
    if log.v != VERSION:
        raise ValueError(f"the log: got version {log.v}; allowed {VERSION}")
    return tuple(_trip(each) for each in log.trips)


def _trip(form: _Trip) -> Trip:
    return Trip(
        number=form.number,
        start_at=form.start,
        end_at=form.end,
        place=Place(form.place.name, form.place.lat_deg, form.place.lon_deg),
        set_ups=tuple(SetUp(each.at, each.facts, each.changed) for each in form.set_ups),
        looks=tuple(
            Look(
                look.at,
                look.minutes,
                look.bow,
                look.stern,
                look.crew,
                Stage(look.tide, look.moon, look.set, look.lamps),
            )
            for look in form.looks
        ),
        advice=tuple(
            Advice(each.at, each.causes, each.action, each.numbers, each.helped, each.answered_at)
            for each in form.advice
        ),
        hazards=tuple((each.at, each.id, each.say) for each in form.hazards),
        facts=form.set_ups[-1].facts if form.set_ups else {},
        turns=0,
    )


# --- in the store ------------------------------------------------------------------------------------


def bring(rows: Rows, chat: str, trips: Sequence[Trip], *, here: Sequence[Trip]) -> tuple[int, int, int]:
    """Keep the trips of an export beside those of the chat; how many were kept, are here already, and
    were forgotten here and stay so."""
    until = forgotten.until(rows, chat)
    known = {trip.start_at.timestamp() for trip in here}
    gone = [trip for trip in trips if until is not None and trip.start_at <= until]
    rest = [trip for trip in trips if trip not in gone]
    new = {trip.start_at.timestamp(): trip for trip in rest if trip.start_at.timestamp() not in known}
    sql = "INSERT OR REPLACE INTO brought (boat, start, body) VALUES (?, ?, ?)"
    for trip in new.values():
        rows.execute(sql, (chat, trip.start_at.isoformat(), json.dumps(plain(trip))))
    return len(new), len(rest) - len(new), len(gone)


def brought(rows: Rows, chat: str) -> list[Trip]:
    """The trips that were brought back to a chat."""
    found = rows.execute("SELECT body FROM brought WHERE boat = ?", (chat,))
    return [_trip(_Trip.model_validate_json(body)) for (body,) in found]


def with_brought(trips: Sequence[Trip], others: Sequence[Trip]) -> tuple[Trip, ...]:
    """All trips in order of time, numbered anew."""
    ordered = sorted((*trips, *others), key=lambda trip: trip.start_at.timestamp())
    return tuple(replace(trip, number=number) for number, trip in enumerate(ordered, 1))
