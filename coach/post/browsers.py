"""Which browser writes for which boat, and which of its messages were done before."""

from __future__ import annotations

import hashlib
import json

from coach.store import Rows

KEPT_S = 30 * 24 * 3600
"""How long the hash of a message's id is kept, to know a repeat: longer than any is repeated."""


def key_of(shown: str) -> str:
    """What is kept of the secret that a browser shows: its hash, so that the file lets nobody in."""
    return hashlib.sha256(shown.encode()).hexdigest()


def let_in(rows: Rows, shown: str, boat: str, *, at: float) -> None:
    """Let a browser write for a boat from now on; `at` in seconds since 1970."""
    rows.execute("INSERT INTO browsers (key, boat, at) VALUES (?, ?, ?)", (key_of(shown), boat, at))


def boat_of(rows: Rows, shown: str) -> str | None:
    """The boat that a browser writes for; None if it was never let in."""
    row = rows.execute("SELECT boat FROM browsers WHERE key = ?", (key_of(shown),)).fetchone()
    return row and str(row[0])


def ringing(rows: Rows, now: float) -> list[tuple[str, int, str]]:
    """Boat, number and kind of every bell whose time has come on a boat that a browser writes for."""
    sql = (
        "SELECT boat, id, kind FROM due WHERE state = 'waiting' AND at <= ?"
        " AND EXISTS (SELECT 1 FROM browsers WHERE browsers.boat = due.boat) ORDER BY at, id"
    )
    return [(boat, id_, kind) for boat, id_, kind in rows.execute(sql, (now,))]


def is_first(rows: Rows, boat: str, message_id: str, *, at: float) -> bool:
    """Note a message as done; False if it was done before. `at` in seconds since 1970."""
    key = hashlib.sha256(json.dumps([boat, message_id]).encode()).hexdigest()
    sql = "INSERT OR IGNORE INTO deeds (key, at) VALUES (?, ?)"
    return rows.execute(sql, (key, at)).rowcount == 1


def prune(rows: Rows, *, now: float) -> None:
    """Let go of the ids of messages that were done long ago."""
    rows.execute("DELETE FROM deeds WHERE at < ?", (now - KEPT_S,))
