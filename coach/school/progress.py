"""How a learner stands, in words: topics, confidence against results, the sheet a captain signs, a group."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.school.afterwards import TRIP
from coach.school.gate import Gate, gates
from coach.school.kept import Signature
from coach.school.memory import Fit, calibration
from coach.school.parts import School
from coach.school.state import Answer, Learner
from coach.school.told import filled, large
from coach.trips.export import harmless

VERSION = 1
COLUMNS = ("learner", "at", "item", "topic", "picked", "right", "first", "sure", "hints", "shown")


@dataclass(frozen=True, slots=True)
class Row:
    """One topic on the sheet: how it stands, and who signed it."""

    gate: Gate
    title: str
    ability: str
    signed: Signature | None
    waits_for: tuple[str, ...]

    @property
    def is_ready(self) -> bool:
        """Whether a captain may look and sign."""
        return self.gate.mastered and not self.waits_for


def sheet(learner: Learner, school: School, signed: Mapping[str, Signature]) -> tuple[Row, ...]:
    """Every topic in order, with what it still waits for."""
    found = gates(learner.tries, school)
    return tuple(
        Row(
            found[topic.id],
            topic.title,
            topic.ability,
            signed.get(topic.id),
            tuple(school.topics[name].title for name in topic.after if not found[name].mastered),
        )
        for topic in school.topics.values()
    )


def words(learner: Learner, answers: Sequence[Answer], school: School) -> tuple[str, ...]:
    """What is mastered and what is shaky, and how far confidence fits."""
    topics = topic_lines(sheet(learner, school, {}), school)
    return (*topics, *sure_lines(learner, answers, school), *trip_line(answers, school))


def trip_line(answers: Iterable[Answer], school: School) -> tuple[str, ...]:
    """How often what one thought of one's own trips was what it was."""
    trips = [answer.right for answer in answers if answer.item.startswith(TRIP)]
    return (filled(school.texts["trip_line"], right=sum(trips), count=len(trips)),) if trips else ()


def topic_lines(rows: Iterable[Row], school: School) -> tuple[str, ...]:
    """A line a topic."""
    return tuple(_topic_line(row, school.texts) for row in rows)


def _topic_line(row: Row, text: Mapping[str, str]) -> str:
    gate = row.gate
    if not gate.count:
        line = filled(text["topic_new"], title=row.title)
        if not row.waits_for:
            return line
        return f"{line.rstrip('.')}; {filled(text['topic_locked'], after=', '.join(row.waits_for))}."
    line = filled(text["topic_line"], title=row.title, right=gate.right, count=gate.count)
    going = "topic_shaky" if gate.right < gate.count else "topic_begun"
    return f"{line.rstrip('.')}: {text['topic_mastered' if gate.mastered else going]}."


def sure_lines(learner: Learner, answers: Sequence[Answer], school: School) -> tuple[str, ...]:
    """How often one was right for each way to say how sure one was, and what that means."""
    lines = []
    for each in school.sure:
        count, right = learner.sure.get(each.id, (0, 0))
        if count:
            slots = {"says": each.says, "right": right, "count": count, "share": round(100 * right / count)}
            lines.append(filled(school.texts["sure_line"], **slots))
    if (fit := confidence(answers, school)) in ("overconfident", "underconfident"):
        name = "sure_too_much" if fit == "overconfident" else "sure_too_little"
        lines.append(filled(school.texts[name], says=school.sure[-1].says))
    return tuple(lines)


def confidence(answers: Iterable[Answer], school: School) -> Fit:
    """Whether what one said fits what came of it."""
    promises = {each.id: each.promises for each in school.sure}
    pairs = [(promises[a.sure], a.right) for a in answers if a.first and a.sure in promises]
    found = calibration(pairs)
    return "too few" if found is None else found.fit


# --- the sheet that a captain signs, and a group -----------------------------------------------------------


def sheet_lines(learner: Learner, school: School, signed: Mapping[str, Signature]) -> tuple[str, ...]:
    """The abilities, with a box for the captain."""
    lines = []
    for row in sheet(learner, school, signed):
        box = "[x]" if row.signed else "[ ]"
        lines.append(f"{box} {row.ability}: {state_words(row, school)}.")
    return tuple(lines)


def state_words(row: Row, school: School) -> str:
    """How an ability stands: signed, ready, or what is missing."""
    text = school.texts
    if row.signed is not None:
        return filled(text["signed"], by=row.signed.by, day=row.signed.at[:10])
    if row.is_ready:
        return text["ready"]
    if row.waits_for:
        return filled(text["topic_locked"], after=", ".join(row.waits_for))
    return text["not_ready"]


def group_lines(
    group: Sequence[tuple[Learner, Mapping[str, Signature], str]], school: School
) -> tuple[str, ...]:
    """A line a learner: mastered, ready to be signed, signed, weakest, last seen."""
    lines = []
    for learner, signed, seen in group:
        rows = sheet(learner, school, signed)
        mastered = sum(row.gate.mastered for row in rows)
        ready = [row.title for row in rows if row.is_ready and row.signed is None]
        begun = [row for row in rows if row.gate.count and not row.gate.mastered]
        weakest = min(begun, key=lambda row: row.gate.right / row.gate.count, default=None)
        slots = {
            "name": f"{learner.called} ({learner.name})" if learner.called else learner.name,
            "mastered": mastered,
            "all": len(rows),
            "signed": len(signed),
            "ready": ", ".join(ready) or school.texts["play_none"],
            "weakest": school.texts["play_none"] if weakest is None else weakest.title,
            "seen": seen[:10],
        }
        lines.append(filled(school.texts["group_line"], **slots))
    return tuple(lines)


def topics_by_name(names: Iterable[str], school: School) -> tuple[str, ...]:
    """Topics by id or title. Raises ValueError naming the one that is none."""
    found = []
    for name in names:
        fits = [t.id for t in school.topics.values() if name.casefold() in (t.id, t.title.casefold())]
        if not fits:
            raise ValueError(f"topic: got '{name[:60]}'; allowed {', '.join(school.topics)}")
        found += fits
    return tuple(found)


# --- for other programs ------------------------------------------------------------------------------------


def as_csv(logs: Mapping[str, Sequence[Answer]]) -> str:
    """Every answer a row; a text that a spreadsheet would work out is led by an apostrophe."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for name, answers in logs.items():
        for answer in answers:
            writer.writerow({column: harmless(value) for column, value in _cells(name, answer).items()})
    return out.getvalue()


def _cells(name: str, answer: Answer) -> dict[str, Any]:
    row = answer.model_dump(mode="json")
    return {"learner": name, **{column: row[column] for column in COLUMNS[1:]}}


def as_json(
    learner: Learner, answers: Sequence[Answer], school: School, signed: Mapping[str, Signature]
) -> str:
    """Where a learner stands and every answer, as one JSON object."""
    rows = sheet(learner, school, signed)
    made = {
        "v": VERSION,
        "learner": learner.name,
        "confidence": confidence(answers, school),
        "topics": [_plain(row) for row in rows],
        "sure": {name: {"answers": count, "right": right} for name, (count, right) in learner.sure.items()},
        "answers": [answer.model_dump(mode="json") for answer in answers],
    }
    return json.dumps(made, indent=1, ensure_ascii=False) + "\n"


def _plain(row: Row) -> dict[str, Any]:
    gate = row.gate
    return {
        "id": gate.topic,
        "title": large(row.title),
        "first_tries": gate.count,
        "right": gate.right,
        "surely_at_least": round(gate.at_least, 4),
        "mastered": gate.mastered,
        "open": gate.is_open,
        "signed": None if row.signed is None else {"by": row.signed.by, "at": row.signed.at},
    }
