"""The log sheet of a boat as it lies in the store: her turns, counts and bells, each with its time."""

from __future__ import annotations

from dataclasses import dataclass

from coach.store import Rows


@dataclass(frozen=True, slots=True)
class Turned:
    """A turn as kept: `said` and `reply` are JSON text, `at` is ISO 8601."""

    seq: int
    at: str
    said: str | None
    reply: str


@dataclass(frozen=True, slots=True)
class Tallied:
    """What was counted in one message; `at` in seconds since 1970."""

    batch: int
    at: float
    side: str
    amount: float
    unit: str


@dataclass(frozen=True, slots=True)
class Rang:
    """A bell that rang; `at` is when it was due [s since 1970], `state` rung or done."""

    id: int
    kind: str
    at: float
    say: str
    state: str


def turns(rows: Rows, boat: str, *, most: int) -> list[Turned]:
    """The latest turns of a boat, oldest first."""
    sql = "SELECT seq, at, said, reply FROM turns WHERE chat = ? ORDER BY seq DESC LIMIT ?"
    return [Turned(*row) for row in rows.execute(sql, (boat, most))][::-1]


def counts(rows: Rows, boat: str, *, since: float, most: int = 2_000) -> list[Tallied]:
    """What was counted since a time, oldest first."""
    sql = (
        "SELECT batch, at, side, amount, unit FROM counts WHERE boat = ? AND at >= ? ORDER BY id DESC LIMIT ?"
    )
    return [Tallied(*row) for row in rows.execute(sql, (boat, since, most))][::-1]


def rang(rows: Rows, boat: str, *, since: float) -> list[Rang]:
    """The bells that rang and were due since a time, oldest first."""
    sql = "SELECT id, kind, at, say, state FROM due WHERE boat = ? AND state != 'waiting' AND at >= ?"
    return [Rang(*row) for row in rows.execute(f"{sql} ORDER BY at, id", (boat, since))]


def next_batch(rows: Rows, boat: str) -> int:
    """The number of the next message with counts."""
    found = rows.execute("SELECT coalesce(max(batch), 0) + 1 FROM counts WHERE boat = ?", (boat,))
    return int(found.fetchone()[0])
