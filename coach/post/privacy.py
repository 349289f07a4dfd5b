"""What is kept of a person, and its going: export and forget."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from coach.post import crew
from coach.store import Rows, erase


def author(rows: Rows, boat: str, turn: str, person: str) -> None:
    """Note whose words a turn was."""
    rows.execute("INSERT OR REPLACE INTO authors (boat, turn, person) VALUES (?, ?, ?)", (boat, turn, person))


def export(rows: Rows, boat: str, person: str) -> dict[str, Any]:
    """What is kept of a boat and of this person's words on her; the words of others are theirs."""
    state = rows.execute("SELECT session FROM chats WHERE chat = ?", (boat,)).fetchone()
    turns = rows.execute(
        "SELECT t.at, t.said, t.understood, t.reply FROM turns t JOIN authors a"
        " ON a.boat = t.chat AND a.turn = t.id WHERE t.chat = ? AND a.person = ? ORDER BY t.seq",
        (boat, person),
    )
    return {
        "tonight": json.loads(state[0]) if state and state[0] else None,
        "said": [_turn(*row) for row in turns],
        "counted": _dicts(rows, "counts", ("at", "dipper", "side", "amount", "unit"), boat),
        "rings": _dicts(rows, "due", ("at", "kind", "say", "state"), boat),
        "dippers": _dicts(rows, "crew", ("name", "side"), boat),
        "aboard": crew.aboard(rows, boat),
        "places": _dicts(rows, "places", ("at", "name", "lat_deg", "lon_deg"), boat),
        "trips brought": [
            json.loads(body)
            for (body,) in rows.execute("SELECT body FROM brought WHERE boat = ? ORDER BY start", (boat,))
        ],
    }


def _turn(at: str, said: str | None, understood: str, reply: str) -> dict[str, Any]:
    return {
        "at": at,
        "said": json.loads(said) if said else None,
        "understood": json.loads(understood),
        "answer": json.loads(reply).get("say"),
    }


def _dicts(rows: Rows, table: str, columns: tuple[str, ...], boat: str) -> list[dict[str, Any]]:
    found = rows.execute(f"SELECT {', '.join(columns)} FROM {table} WHERE boat = ? ORDER BY rowid", (boat,))
    made = [dict(zip(columns, row, strict=True)) for row in found]
    for row in made:
        if isinstance(row.get("at"), float):
            row["at"] = datetime.fromtimestamp(row["at"], UTC).isoformat(timespec="seconds")
    return made


def counts_csv(exported: dict[str, Any]) -> str:
    """The counts of an export as a table; a text that a spreadsheet would take for a sum is guarded."""
    lines = ["at,dipper,side,amount,unit"]
    for row in exported["counted"]:
        lines.append(",".join(_cell(row[name]) for name in ("at", "dipper", "side", "amount", "unit")))
    return "\r\n".join(lines) + "\r\n"


def _cell(value: Any) -> str:
    text = str(value)
    if text.startswith(("=", "+", "-", "@", "\t", "\r")):
        text = f"'{text}"
    return '"' + text.replace('"', '""') + '"' if any(sign in text for sign in '",\r\n') else text


def forget_person(rows: Rows, boat: str, person: str) -> None:
    """Erase a person's words, name and counts from a boat that others are on; what the boat knows stays.

    The answers to their words go too, for they may quote them.
    """
    for dipper in crew.dippers(rows, boat):
        if dipper.person == person:  # others may have counted for them by name
            rows.execute("UPDATE counts SET dipper = '' WHERE boat = ? AND dipper = ?", (boat, dipper.name))
    turns = rows.execute("SELECT turn FROM authors WHERE boat = ? AND person = ?", (boat, person)).fetchall()
    for (turn,) in turns:
        found = rows.execute(
            "SELECT seq, reply FROM turns WHERE chat = ? AND id = ?", (boat, turn)
        ).fetchone()
        if found is not None:
            bare = json.dumps({**json.loads(found[1]), "say": [], "understood": {}, "error": None})
            rows.execute(
                "UPDATE turns SET said = NULL, understood = '{}', reply = ? WHERE chat = ? AND seq = ?",
                (bare, boat, found[0]),
            )
    for table in ("authors", "crew", "counts"):
        rows.execute(f"DELETE FROM {table} WHERE boat = ? AND person = ?", (boat, person))


def forget_elsewhere(rows: Rows, chat: str, person: str, *, but: str) -> None:
    """Erase what a chat left on the boats that it was on before: its own ones altogether, where nobody
    else is aboard; of others this person's words, name and counts."""
    for boat, is_own in crew.berths(rows, chat):
        if boat == but:
            continue
        if is_own and set(crew.phones_of(rows, boat)) <= {chat}:
            erase(rows, boat)
        else:
            forget_person(rows, boat, person)
    rows.execute("DELETE FROM berths WHERE chat = ? AND boat != ?", (chat, but))


def forget_boat(rows: Rows, boat: str) -> None:
    """Erase what stands beside the consultation of a boat: her phones and what waits to be sent to them."""
    for chat in crew.phones_of(rows, boat):
        rows.execute("DELETE FROM outbox WHERE chat = ?", (chat,))
        crew.leave(rows, chat)
