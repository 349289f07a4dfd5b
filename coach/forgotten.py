"""Until when a chat's log was to be forgotten, under a hash alone: an old export must not bring it back."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import datetime
from typing import Any, Protocol


class _Rows(Protocol):
    def execute(self, sql: str, parameters: Any = ..., /) -> Any: ...


def note(rows: _Rows, chat: str) -> None:
    """Note, before the rows of a chat go, when the last of them was. Nothing where there are none."""
    turn = rows.execute("SELECT at FROM turns WHERE chat = ? ORDER BY seq DESC LIMIT 1", [chat]).fetchall()
    brought = rows.execute("SELECT start FROM brought WHERE boat = ?", [chat]).fetchall()
    latest = _latest(str(row[0]) for row in (*turn, *brought))
    if latest is not None:
        sql = "INSERT OR REPLACE INTO forgotten (key, reply) VALUES (?, ?)"
        rows.execute(sql, [_key(chat), latest.isoformat()])


def until(rows: _Rows, chat: str) -> datetime | None:
    """The time of the last turn that was forgotten; None where nothing was."""
    row = rows.execute("SELECT reply FROM forgotten WHERE key = ?", [_key(chat)]).fetchone()
    return None if row is None else datetime.fromisoformat(str(row[0]))


def _latest(texts: Iterable[str]) -> datetime | None:
    times = [at for text in texts if (at := _time(text)) is not None]
    return max(times, default=None)


def _time(text: str) -> datetime | None:
    """A time as kept; None for what no clock of ours wrote."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    return at if at.tzinfo is not None else None


def _key(chat: str) -> str:
    return hashlib.sha256(json.dumps(["log", chat]).encode()).hexdigest()
