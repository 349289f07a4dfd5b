"""What is still to be sent, chat by chat in order; a row goes once it was sent."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from coach.store import Rows

_ALL = "SELECT id, chat, kind, message_id, body, due_at FROM outbox"


@dataclass(frozen=True, slots=True)
class Letter:
    """One thing to send: "send" a new message, "edit" the one with `message_id`, or "export".

    `due_at` [s since 1970] is when a reminder should have come; one that comes late says so.
    """

    chat: str
    kind: str
    body: Mapping[str, Any]
    message_id: int | None = None
    due_at: float | None = None
    id: int = 0


def put(rows: Rows, letters: Iterable[Letter]) -> list[Letter]:
    """Add letters to the outbox; they come back with their numbers."""
    sql = "INSERT INTO outbox (chat, kind, message_id, body, due_at) VALUES (?, ?, ?, ?, ?)"
    kept = []
    for letter in letters:
        body = json.dumps(letter.body, ensure_ascii=False)
        row = rows.execute(sql, (letter.chat, letter.kind, letter.message_id, body, letter.due_at))
        kept.append(
            Letter(
                letter.chat, letter.kind, letter.body, letter.message_id, letter.due_at, row.lastrowid or 0
            )
        )
    return kept


def waiting(rows: Rows) -> list[Letter]:
    """Everything still to be sent, oldest first."""
    found = rows.execute(f"{_ALL} ORDER BY id")
    return [
        Letter(chat, kind, json.loads(body), message_id, due_at, id_)
        for id_, chat, kind, message_id, body, due_at in found
    ]


def is_empty(rows: Rows, chat: str) -> bool:
    """Whether nothing is waiting to be sent to a chat."""
    return rows.execute("SELECT 1 FROM outbox WHERE chat = ? LIMIT 1", (chat,)).fetchone() is None


def sent(rows: Rows, ids: Iterable[int]) -> None:
    """Take letters out: they were sent, or can never be."""
    for id_ in ids:
        rows.execute("DELETE FROM outbox WHERE id = ?", (id_,))


def drop(rows: Rows, chat: str) -> None:
    """Take out everything for a chat."""
    rows.execute("DELETE FROM outbox WHERE chat = ?", (chat,))
