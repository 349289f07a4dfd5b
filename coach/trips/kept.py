"""What the log reads from the store and writes into it: turns, places, counts on deck."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from coach.store import Rows
from coach.trips.bring import brought, with_brought
from coach.trips.trip import Place, Trip, last_trip_of, trips_of

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
    """The trips of a chat, oldest first, with those brought from an export."""
    own = trips_of(turns(rows, chat), places=_places(rows, chat), entries=_counts(rows, chat))
    others = brought(rows, chat)
    return with_brought(own, others) if others else own


def last_trip(rows: Rows, chat: str) -> Trip | None:
    """The last of the trips of a chat, worked out without the others where that can be."""
    if brought(rows, chat):
        return trips(rows, chat)[-1]
    return last_trip_of(turns(rows, chat), places=_places(rows, chat), entries=_counts(rows, chat))


def _places(rows: Rows, chat: str) -> list[tuple[datetime, Place]]:
    found = rows.execute("SELECT at, name, lat_deg, lon_deg FROM places WHERE boat = ? ORDER BY at", (chat,))
    return [(datetime.fromisoformat(at), Place(name, lat, lon)) for at, name, lat, lon in found]


def _counts(rows: Rows, chat: str) -> list[_Entry]:
    sql = "SELECT at, side, amount, unit FROM counts WHERE boat = ? ORDER BY at, id"
    return [_Entry(*row) for row in rows.execute(sql, (chat,))]


def rounded(place: Place) -> Place:
    """The place as it may be kept. Raises ValueError for degrees that are none, or too long a name."""
    if (place.lat_deg is None) != (place.lon_deg is None) or not (place.name or place.lat_deg is not None):
        raise ValueError("place: got too little; allowed a name, degrees north with degrees east, or both")
    if len(place.name) > NAME_LIMIT:
        raise ValueError(f"place: got {len(place.name)} characters; allowed {NAME_LIMIT}")
    return Place(place.name, _rounded(place.lat_deg, 90), _rounded(place.lon_deg, 180))


def put_place(rows: Rows, chat: str, place: Place, *, at: datetime) -> None:
    """Keep where a boat is from a time (aware) on, rounded. Raises ValueError as `rounded` does."""
    kept = rounded(place)
    sql = "INSERT OR REPLACE INTO places (boat, at, name, lat_deg, lon_deg) VALUES (?, ?, ?, ?, ?)"
    rows.execute(sql, (chat, at.isoformat(), kept.name, kept.lat_deg, kept.lon_deg))


def _rounded(degrees: float | None, most: float) -> float | None:
    if degrees is None:
        return None
    if not -most <= degrees <= most:
        raise ValueError(f"degrees: got {degrees}; allowed -{most:g} to {most:g}")
    return round(degrees, ROUNDED_TO)
