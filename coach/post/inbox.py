"""What came in: written down before it counts as received, marked when it was handled."""

from __future__ import annotations

from dataclasses import dataclass

from coach.store import Rows

KEPT_S = 8 * 24 * 3600
"""How long the bare number of a handled update is kept, to know a repeat: longer than any is repeated."""


class HandledBefore(RuntimeError):  # noqa: N818  (what happened, not an error of somebody)
    """This update was handled already: nothing of a second time may be kept."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """An update that was received and not handled yet; `event` is its JSON text."""

    update_id: int
    chat: str
    event: str


def receive(rows: Rows, update_id: int, *, chat: str, at: float, event: str) -> bool:
    """Write an update down; False if it was received before. `at` in seconds since 1970."""
    sql = "INSERT OR IGNORE INTO inbox (update_id, chat, at, event) VALUES (?, ?, ?, ?)"
    return rows.execute(sql, (update_id, chat, at, event)).rowcount == 1


def waiting(rows: Rows) -> list[Waiting]:
    """All updates not handled yet, in the order in which they were sent."""
    sql = "SELECT update_id, chat, event FROM inbox WHERE event IS NOT NULL ORDER BY update_id"
    return [Waiting(*row) for row in rows.execute(sql)]


def handled(rows: Rows, update_id: int) -> None:
    """Mark an update as handled and erase what it said. Raises HandledBefore if it was marked."""
    sql = "UPDATE inbox SET event = NULL, chat = NULL WHERE update_id = ? AND event IS NOT NULL"
    if rows.execute(sql, (update_id,)).rowcount != 1:
        raise HandledBefore(update_id)


def prune(rows: Rows, *, now: float) -> None:
    """Let go of the numbers of updates handled long ago."""
    rows.execute("DELETE FROM inbox WHERE event IS NULL AND at < ?", (now - KEPT_S,))
