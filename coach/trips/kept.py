"""What the log reads from the store and writes into it: turns, places, counts on deck."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coach.store import Rows
from coach.trips.trip import Place, Trip, trips_of

ROUNDED_TO = 1
"""Decimals of a degree that a place is kept with: about seven miles, so that no spot is given away."""
NAME_LIMIT = 60

_TURN = ("at", "said", "understood", "reply", "changed")


@dataclass(frozen=True, slots=True)
class Kept:
    """A turn as kept; all but `at` are JSON text."""

    at: str
    said: str | None
    understood: str
    reply: str
    changed: str


@dataclass(frozen=True, slots=True)
class _Entry:
    """A count on deck, as kept."""

    at: float
    side: str
    amount: float
    unit: str


def chats(rows: Rows) -> list[str]:
    """The chats that have turns, by name."""
    return [str(row[0]) for row in rows.execute("SELECT chat FROM chats ORDER BY chat")]


def turns(rows: Rows, chat: str) -> list[Kept]:
    """The turns of a chat, oldest first."""
    sql = f"SELECT {', '.join(_TURN)} FROM turns WHERE chat = ? ORDER BY seq"
    return [Kept(*row) for row in rows.execute(sql, (chat,))]


def trips(rows: Rows, chat: str) -> tuple[Trip, ...]:
    """The trips of a chat, oldest first."""
    found = rows.execute("SELECT at, name, lat_deg, lon_deg FROM places WHERE boat = ? ORDER BY at", (chat,))
    places = [(datetime.fromisoformat(at), Place(name, lat, lon)) for at, name, lat, lon in found]
    return trips_of(turns(rows, chat), places=places, entries=_counts(rows, chat))


def _counts(rows: Rows, chat: str) -> list[_Entry]:
    sql = "SELECT at, side, amount, unit FROM counts WHERE boat = ? ORDER BY at, id"
    return [_Entry(*row) for row in rows.execute(sql, (chat,))]


def put_place(rows: Rows, chat: str, place: Place, *, at: datetime) -> Place:
    """Keep where a boat is from a time (aware) on, rounded; what was kept is returned.

    Raises ValueError for degrees that are none, or a name that is too long.
    """
    if len(place.name) > NAME_LIMIT:
        raise ValueError(f"place: got {len(place.name)} characters; allowed {NAME_LIMIT}")
    kept = Place(place.name, _rounded(place.lat_deg, 90), _rounded(place.lon_deg, 180))
    sql = "INSERT OR REPLACE INTO places (boat, at, name, lat_deg, lon_deg) VALUES (?, ?, ?, ?, ?)"
    rows.execute(sql, (chat, at.isoformat(), kept.name, kept.lat_deg, kept.lon_deg))
    return kept


def _rounded(degrees: float | None, most: float) -> float | None:
    if degrees is None:
        return None
    if not -most <= degrees <= most:
        raise ValueError(f"degrees: got {degrees}; allowed -{most:g} to {most:g}")
    return round(degrees, ROUNDED_TO)


def plain(trip: Trip) -> dict[str, Any]:
    """A trip as plain values for JSON."""
    return {
        "number": trip.number,
        "start": trip.start_at.isoformat(),
        "end": trip.end_at.isoformat(),
        "place": {"name": trip.place.name, "lat_deg": trip.place.lat_deg, "lon_deg": trip.place.lon_deg},
        "set_ups": [
            {"at": each.at.isoformat(), "facts": dict(each.facts), "changed": list(each.changed)}
            for each in trip.set_ups
        ],
        "looks": list(_looks(trip)),
        "advice": [
            {
                "at": each.at.isoformat(),
                "causes": list(each.causes),
                "action": each.action,
                "numbers": dict(each.numbers),
                "helped": each.helped,
                "answered_at": None if each.answered_at is None else each.answered_at.isoformat(),
            }
            for each in trip.advice
        ],
        "hazards": [{"at": at.isoformat(), "id": name, "say": say} for at, name, say in trip.hazards],
    }


def _looks(trip: Trip) -> Iterable[dict[str, Any]]:
    for look in trip.looks:
        yield {
            "at": look.at.isoformat(),
            "minutes": look.minutes,
            "bow": look.bow,
            "stern": look.stern,
            "crew": look.whole,
            "tide": look.stage.tide,
            "moon": look.stage.moon,
            "set": look.stage.set_up,
            "lamps": look.stage.lamps,
        }
