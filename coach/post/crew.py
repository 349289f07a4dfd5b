"""Who is on which boat: phones, codes to join, names and sides of dippers, what a boat told of herself."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coach.store import Rows

CODE_LIVES_S = 1800
CODE_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""No sign that is mistaken for another when it is read out aloud."""
CODE_LENGTH = 8


@dataclass(frozen=True, slots=True)
class Phone:
    """A chat, the boat it is on, the latest message seen in it, and whether it is a group."""

    chat: str
    boat: str
    latest: int
    is_group: bool


@dataclass(frozen=True, slots=True)
class Dipper:
    """A person by the name of their choosing, and the side they dip on ("" if not said)."""

    person: str
    name: str
    side: str


def phone(rows: Rows, chat: str) -> Phone | None:
    """The phone of a chat, if it was heard of."""
    row = rows.execute("SELECT chat, boat, latest, is_group FROM phones WHERE chat = ?", (chat,)).fetchone()
    return Phone(row[0], row[1], row[2], bool(row[3])) if row else None


def put_phone(rows: Rows, found: Phone) -> None:
    """Keep a phone as it is now, and that it was on this boat; one that nobody was on before is its own."""
    sql = "INSERT OR REPLACE INTO phones (chat, boat, latest, is_group) VALUES (?, ?, ?, ?)"
    rows.execute(sql, (found.chat, found.boat, found.latest, found.is_group))
    is_own = rows.execute("SELECT 1 FROM berths WHERE boat = ?", (found.boat,)).fetchone() is None
    sql = "INSERT OR IGNORE INTO berths (chat, boat, own) VALUES (?, ?, ?)"
    rows.execute(sql, (found.chat, found.boat, is_own))


def berths(rows: Rows, chat: str) -> list[tuple[str, bool]]:
    """The boats that a chat was on, the latest first, and whether each is its own."""
    sql = "SELECT boat, own FROM berths WHERE chat = ? ORDER BY rowid DESC"
    return [(boat, bool(own)) for boat, own in rows.execute(sql, (chat,))]


def saw(rows: Rows, chat: str, message_id: int) -> None:
    """Note the number of a message in a chat; the highest counts."""
    rows.execute("UPDATE phones SET latest = max(latest, ?) WHERE chat = ?", (message_id, chat))


def phones_of(rows: Rows, boat: str) -> list[str]:
    """The chats on a boat."""
    return [row[0] for row in rows.execute("SELECT chat FROM phones WHERE boat = ? ORDER BY chat", (boat,))]


def leave(rows: Rows, chat: str) -> None:
    """Take a phone off its boat and forget it."""
    rows.execute("DELETE FROM phones WHERE chat = ?", (chat,))


def move(rows: Rows, chat: str, to: str) -> None:
    """Keep a chat under its new number."""
    for table in ("phones", "berths"):
        rows.execute(f"UPDATE OR REPLACE {table} SET chat = ? WHERE chat = ?", (to, chat))


def put_code(rows: Rows, code: str, boat: str, *, until: float) -> None:
    """Let a code stand for a boat until a time [s since 1970]; an older one of hers no longer holds."""
    rows.execute("DELETE FROM codes WHERE boat = ?", (boat,))
    rows.execute("INSERT OR REPLACE INTO codes (code, boat, until) VALUES (?, ?, ?)", (code, boat, until))


def boat_of_code(rows: Rows, code: str, *, now: float) -> str | None:
    """The boat that a code stands for now; spent with that."""
    row = rows.execute("SELECT boat FROM codes WHERE code = ? AND until > ?", (code, now)).fetchone()
    rows.execute("DELETE FROM codes WHERE code = ? OR until <= ?", (code, now))
    return row and str(row[0])


def dippers(rows: Rows, boat: str) -> list[Dipper]:
    """The dippers of a boat who gave a name."""
    found = rows.execute("SELECT person, name, side FROM crew WHERE boat = ? ORDER BY name", (boat,))
    return [Dipper(person, name, side or "") for person, name, side in found]


def name_dipper(rows: Rows, boat: str, dipper: Dipper) -> None:
    """Keep a dipper's name and side."""
    sql = "INSERT OR REPLACE INTO crew (boat, person, name, side) VALUES (?, ?, ?, ?)"
    rows.execute(sql, (boat, dipper.person, dipper.name, dipper.side))


def aboard(rows: Rows, boat: str) -> dict[str, Any]:
    """What a boat told of herself, by name."""
    found = rows.execute("SELECT name, value FROM aboard WHERE boat = ?", (boat,))
    return {name: json.loads(value) for name, value in found}


def put_aboard(rows: Rows, boat: str, values: Mapping[str, Any]) -> None:
    """Keep values of a boat; None takes one away."""
    for name, value in values.items():
        if value is None:
            rows.execute("DELETE FROM aboard WHERE boat = ? AND name = ?", (boat, name))
            continue
        sql = "INSERT OR REPLACE INTO aboard (boat, name, value) VALUES (?, ?, ?)"
        rows.execute(sql, (boat, name, json.dumps(value)))
