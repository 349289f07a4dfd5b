"""Invented nights as rows of the log, for the tests of trips: each row as a turn is kept."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from coach.trips.kept import Kept
from coach.trips.trip import Trip, trips_of

DAY_MIN = 24 * 60
START = datetime.fromisoformat("2027-02-11T19:00:00-05:00")
DEEPER = "Lower the lamps: clip left 3 ft, right 3 ft above the weight."


def at(minute: float) -> datetime:
    return START + timedelta(minutes=minute)


def row(
    minute: float,
    facts: Mapping[str, Any] | None = None,
    *,
    understood: Mapping[str, Any] | None = None,
    causes: Sequence[str] | None = None,
    action: str = DEEPER,
    hazards: Sequence[tuple[str, str]] = (),
    said: str | None = '{"text": "..."}',
    refused: bool = False,
    changed: Mapping[str, Any] | None = None,
) -> Kept:
    """A turn: facts heard in it, and the advice or hazards of its answer."""
    verdict = None
    if causes is not None:
        verdict = {"causes": [{"id": cause} for cause in causes], "numbers": {}, "set": "two-lamp"}
    reply = {
        "say": [action] if causes is not None else ["How deep is it?"],
        "hazards": [{"id": name, "say": say} for name, say in hazards],
        "verdict": verdict,
        "error": {"code": "bad-value", "say": "No."} if refused else None,
    }
    if changed is None:
        changed = {"facts": dict(facts), "remembered": True} if facts else {}
    return Kept(
        at=at(minute).isoformat(),
        said=said,
        understood=json.dumps(dict(facts or {} if understood is None else understood)),
        reply=json.dumps(reply),
        changed=json.dumps(changed),
    )


def undo(minute: float) -> Kept:
    return row(minute, changed={"undone": True}, said='{"command": "undo"}')


def helped(minute: float, answer: str) -> Kept:
    """The answer to "did it help?", which the dialogue takes out of the facts again."""
    return row(minute, understood={"advice.helped": answer}, changed={"facts": {}, "remembered": True})


def good_night() -> list[Kept]:
    """Set too high, found out after twenty minutes, put right, and it helped."""
    return [
        row(0, {"lamps.clip_left_ft": 6.5, "lamps.clip_right_ft": 6.5, "lamps.minutes_since_set": 15.0}),
        row(1, {"set.intended": "two-lamp", "tide.state": "falling"}),
        row(20, {"crew.bow_count": 5.0, "crew.stern_count": 4.0}),
        row(25, {"run.seen": "under_boat"}, causes=["lamp-too-shallow"]),
        row(26, {"lamps.clip_left_ft": 3.0, "lamps.clip_right_ft": 3.0}),
        row(50, {"crew.bow_count": 25.0, "crew.stern_count": 22.0}),
        helped(51, "yes"),
        row(80, {"crew.bow_count": 30.0, "crew.stern_count": 28.0}),
    ]


def one(rows: list[Any], **more: Any) -> Trip:
    """The only trip that these turns make."""
    (trip,) = trips_of(rows, **more)
    return trip


def later(rows: list[Any], minutes: float) -> list[Any]:
    """The same turns, so much later."""
    moved = timedelta(minutes=minutes)
    return [replace(each, at=(datetime.fromisoformat(each.at) + moved).isoformat()) for each in rows]
