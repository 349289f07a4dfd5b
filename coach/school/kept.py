"""What the school keeps in the store: where each learner stands, every answer, and what a captain signed.

The one module of the school that touches the store. A learner goes by the name of a chat; what is kept goes
when that chat is forgotten.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from pydantic import ValidationError

from coach.school.difficulty import FirstAnswer
from coach.school.roleplay import Play
from coach.school.state import Answer, Learner
from coach.store import Rows

NAME_LIMIT = 60
_ANSWER = ("at", "item", "topic", "picked", "is_right", "is_first", "sure", "hints", "shown")


@dataclass(frozen=True, slots=True)
class Signature:
    """A captain's word that a learner can do what a topic teaches."""

    topic: str
    by: str
    at: str


class OtherVersionError(Exception):
    """A learner's state was kept in a form that this version cannot read."""


def learners(rows: Rows) -> list[str]:
    """The names of all learners."""
    return [str(row[0]) for row in rows.execute("SELECT boat FROM learners ORDER BY boat")]


def learner(rows: Rows, name: str) -> Learner:
    """Where a learner stands; one never heard of stands at the beginning. Raises OtherVersionError."""
    row = rows.execute("SELECT state FROM learners WHERE boat = ?", (name,)).fetchone()
    if row is None:
        return Learner(name=name)
    try:
        return Learner.model_validate_json(row[0])
    except ValidationError as wrong:
        why = f"{name}: kept by another version of the coach; 'forget' starts afresh"
        raise OtherVersionError(why) from wrong


def last_at(rows: Rows, name: str) -> datetime | None:
    """When a learner was last seen; None for one never heard of."""
    row = rows.execute("SELECT at FROM learners WHERE boat = ?", (name,)).fetchone()
    return None if row is None else datetime.fromisoformat(row[0])


def keep(rows: Rows, state: Learner, *, at: datetime) -> None:
    """Keep where a learner stands, and the answers of the latest step."""
    bare = state.model_copy(update={"fresh": ()})
    sql = (
        "INSERT INTO learners (boat, at, state) VALUES (?, ?, ?)"
        " ON CONFLICT (boat) DO UPDATE SET at = excluded.at, state = excluded.state"
    )
    rows.execute(sql, (state.name, at.isoformat(), bare.model_dump_json(exclude_defaults=True)))
    for answer in state.fresh:
        _log(rows, state.name, answer)


def _log(rows: Rows, name: str, answer: Answer) -> None:
    last = rows.execute("SELECT coalesce(max(seq), 0) FROM lessons WHERE boat = ?", (name,)).fetchone()
    values = (
        answer.at.isoformat(),
        answer.item,
        answer.topic,
        answer.picked,
        int(answer.right),
        int(answer.first),
        answer.sure,
        answer.hints,
        int(answer.shown),
    )
    columns, marks = ", ".join(_ANSWER), ", ".join("?" * (len(values) + 2))
    sql = f"INSERT INTO lessons (boat, seq, {columns}) VALUES ({marks})"
    rows.execute(sql, (name, last[0] + 1, *values))


def answers(rows: Rows, name: str) -> tuple[Answer, ...]:
    """Every answer of a learner, the oldest first."""
    sql = f"SELECT {', '.join(_ANSWER)} FROM lessons WHERE boat = ? ORDER BY seq"
    return tuple(
        Answer(
            at=datetime.fromisoformat(at),
            item=item,
            topic=topic,
            picked=picked,
            right=bool(right),
            first=bool(first),
            sure=sure,
            hints=hints,
            shown=bool(shown),
        )
        for at, item, topic, picked, right, first, sure, hints, shown in rows.execute(sql, (name,))
    )


def first_answers(rows: Rows, weights: Mapping[str, float]) -> list[FirstAnswer]:
    """The very first answer of each learner to each item, without hints: what tells how hard an item is.

    `weights`: how much a right answer counts by how sure one said to be, 1 where that was not asked.
    """
    sql = (
        "SELECT boat, item, is_right AND NOT shown AND hints = 0, sure FROM lessons l WHERE seq ="
        " (SELECT min(seq) FROM lessons f WHERE f.boat = l.boat AND f.item = l.item) ORDER BY boat, seq"
    )
    return [
        FirstAnswer(str(boat), str(item), weights.get(sure, 1.0) if right else 0.0)
        for boat, item, right, sure in rows.execute(sql)
    ]


# --- the role play -----------------------------------------------------------------------------------------


def play(rows: Rows, name: str) -> Play | None:
    """The role play that is open, if one is."""
    row = rows.execute("SELECT play FROM learners WHERE boat = ?", (name,)).fetchone()
    try:
        return None if row is None or row[0] is None else Play.model_validate_json(row[0])
    except ValidationError:
        return None


def keep_play(rows: Rows, name: str, state: Play | None, *, at: datetime) -> None:
    """Keep where a role play stands."""
    if rows.execute("SELECT 1 FROM learners WHERE boat = ?", (name,)).fetchone() is None:
        keep(rows, Learner(name=name), at=at)
    text = None if state is None else state.model_dump_json()
    rows.execute("UPDATE learners SET play = ? WHERE boat = ?", (text, name))


# --- the sheet ---------------------------------------------------------------------------------------------


def checked_name(by: str) -> str:
    """The captain's name. Raises ValueError for none, or too long a one."""
    if not by.strip() or len(by) > NAME_LIMIT:
        raise ValueError(f"by: got {len(by.strip())} characters; allowed 1 to {NAME_LIMIT}")
    return by.strip()


def sign(rows: Rows, name: str, topics: Iterable[str], *, by: str, at: datetime) -> None:
    """A captain signs."""
    for topic in topics:
        values = (name, topic, by, at.isoformat())
        rows.execute("INSERT OR REPLACE INTO signed (boat, topic, by, at) VALUES (?, ?, ?, ?)", values)


def unsign(rows: Rows, name: str, topics: Iterable[str]) -> None:
    """Take a signature back."""
    for topic in topics:
        rows.execute("DELETE FROM signed WHERE boat = ? AND topic = ?", (name, topic))


def signatures(rows: Rows, name: str) -> dict[str, Signature]:
    """What was signed for a learner, by topic."""
    sql = "SELECT topic, by, at FROM signed WHERE boat = ? ORDER BY at"
    return {row[0]: Signature(*map(str, row)) for row in rows.execute(sql, (name,))}


def forget(rows: Rows, name: str) -> None:
    """Delete everything of a learner."""
    for table in ("learners", "lessons", "signed"):
        rows.execute(f"DELETE FROM {table} WHERE boat = ?", (name,))
