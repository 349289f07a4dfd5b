"""What rings and when: a table of its own, so that a bell survives a restart and a kill."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from coach.reminders import Bell
from coach.store import Rows

_COLUMNS = "SELECT id, boat, kind, at, say, state FROM due"


@dataclass(frozen=True, slots=True)
class Due:
    """One bell as kept: `at` in seconds since 1970; `state` is waiting, rung or done."""

    id: int
    boat: str
    kind: str
    at: float
    say: str
    state: str


def follow(rows: Rows, boat: str, bells: Mapping[str, Iterable[Bell]], *, now: datetime) -> None:
    """Bring the bells of these kinds up to date: new ones come, those that no longer hold go.

    One that has rung or was seen to stays so; one that was put off by hand keeps its later time, as
    long as what it rings for still holds. One whose time had gone by at `now` is not set any more.
    """
    for kind, wanted in bells.items():
        keys = set()
        for bell in wanted:
            keys.add(bell.key)
            if bell.at > now:
                ring(rows, boat, bell)
        held = rows.execute(
            "SELECT id, key FROM due WHERE boat = ? AND kind = ? AND state = 'waiting'", (boat, kind)
        )
        for id_, key in held.fetchall():
            if key not in keys:
                rows.execute("DELETE FROM due WHERE id = ?", (id_,))


def ring(rows: Rows, boat: str, bell: Bell) -> None:
    """Set one bell, unless one of this key is there."""
    rows.execute(
        "INSERT OR IGNORE INTO due (boat, key, kind, at, say, state) VALUES (?, ?, ?, ?, ?, 'waiting')",
        (boat, bell.key, bell.kind, bell.at.timestamp(), bell.say),
    )


def set_at(rows: Rows, boat: str, kind: str, at: float | None, say: str = "") -> None:
    """Set the only bell of a kind to a time [s since 1970], or take it away."""
    rows.execute("DELETE FROM due WHERE boat = ? AND kind = ?", (boat, kind))
    if at is not None:
        rows.execute(
            "INSERT INTO due (boat, key, kind, at, say, state) VALUES (?, ?, ?, ?, ?, 'waiting')",
            (boat, kind, kind, at, say),
        )


def ringing(rows: Rows, now: float) -> list[Due]:
    """Every bell on a boat with a phone whose time has come and that has not rung, the earliest first."""
    sql = (
        f"{_COLUMNS} WHERE state = 'waiting' AND at <= ?"
        " AND EXISTS (SELECT 1 FROM phones WHERE phones.boat = due.boat) ORDER BY at, id"
    )
    return [Due(*row) for row in rows.execute(sql, (now,))]


def ringing_on(rows: Rows, boat: str, now: float) -> list[Due]:
    """Those of one boat."""
    sql = f"{_COLUMNS} WHERE state = 'waiting' AND at <= ? AND boat = ? ORDER BY at, id"
    return [Due(*row) for row in rows.execute(sql, (now, boat))]


def of_boat(rows: Rows, boat: str) -> list[Due]:
    """The bells still to ring on a boat, the earliest first."""
    found = rows.execute(f"{_COLUMNS} WHERE boat = ? AND state = 'waiting' ORDER BY at, id", (boat,))
    return [Due(*row) for row in found]


def find(rows: Rows, boat: str, id_: int) -> Due | None:
    """A bell of this boat by its number; None if there is none on her."""
    row = rows.execute(f"{_COLUMNS} WHERE boat = ? AND id = ?", (boat, id_)).fetchone()
    return Due(*row) if row else None


def rung(rows: Rows, id_: int) -> bool:
    """Mark a bell as rung; False if it was not waiting (any more)."""
    sql = "UPDATE due SET state = 'rung' WHERE id = ? AND state = 'waiting'"
    return rows.execute(sql, (id_,)).rowcount == 1


def done(rows: Rows, id_: int) -> None:
    """Mark a bell as seen to."""
    rows.execute("UPDATE due SET state = 'done' WHERE id = ?", (id_,))


def put_off(rows: Rows, id_: int, until: datetime) -> None:
    """Let a bell ring again later; it keeps its key, so that it goes when what it rings for is over."""
    rows.execute("UPDATE due SET state = 'waiting', at = ? WHERE id = ?", (until.timestamp(), id_))


def prune(rows: Rows, *, before: float) -> None:
    """Let go of bells that rang before a time [s since 1970]."""
    rows.execute("DELETE FROM due WHERE state != 'waiting' AND at < ?", (before,))
