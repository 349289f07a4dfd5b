"""What was counted on deck, as rows; a batch is what came in one message, and what undo takes back."""

from __future__ import annotations

from collections.abc import Iterable

from coach.counting import Entry
from coach.store import Rows

_LATEST = 2_000


def add(rows: Rows, boat: str, entries: Iterable[Entry], *, person: str, batch: int) -> None:
    """Keep counts of one message; `batch` is its number."""
    sql = (
        "INSERT INTO counts (boat, at, person, dipper, side, amount, unit, batch)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
    )
    for entry in entries:
        row = (boat, entry.at, person, entry.dipper, entry.side, entry.amount, entry.unit, batch)
        rows.execute(sql, row)


def undo(rows: Rows, boat: str, person: str, *, since: float) -> bool:
    """Take back what this person counted last on this boat since a time [s since 1970]; False if there is
    nothing. (The number of a message says nothing of order: it is drawn anew after a quiet week.)"""
    sql = "SELECT batch FROM counts WHERE boat = ? AND person = ? AND at >= ? ORDER BY id DESC LIMIT 1"
    row = rows.execute(sql, (boat, person, since)).fetchone()
    if row is None:
        return False
    batch = row[0]
    rows.execute("DELETE FROM counts WHERE boat = ? AND person = ? AND batch = ?", (boat, person, batch))
    return True


def latest_at(rows: Rows, boat: str, person: str) -> float | None:
    """When this person counted last on this boat [s since 1970]."""
    sql = "SELECT at FROM counts WHERE boat = ? AND person = ? ORDER BY id DESC LIMIT 1"
    row = rows.execute(sql, (boat, person)).fetchone()
    return None if row is None else float(row[0])


def of_boat(rows: Rows, boat: str) -> list[Entry]:
    """The latest counts of a boat, oldest first."""
    sql = "SELECT at, side, dipper, amount, unit FROM counts WHERE boat = ? ORDER BY id DESC LIMIT ?"
    found = [Entry(*row) for row in rows.execute(sql, (boat, _LATEST))]
    return sorted(found, key=lambda entry: entry.at)
