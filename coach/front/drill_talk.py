"""`coach drill --json`: lessons for programs: a JSON object a line in, one out, in order.

In: {"learner": "...", "text": "...", "play": false, "at": "..."}; `text` "" begins a lesson, `play` true
speaks to the role play; `at` is the clock to use. Unknown keys are an error. Out:
{"v": 1, "learner", "say": [...], "choices": [{"id", "label"}], "picture": {"svg", "words"} | null,
"over": bool, "error": {"code", "say"} | null}; an error changes nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import Annotated, Any, BinaryIO

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from coach.exchange import TEXT_LIMIT
from coach.front.school import Classroom
from coach.front.talk import lines, send
from coach.school.kept import NAME_LIMIT, OtherVersionError
from coach.store import StoreError

VERSION = 1


class _Asked(BaseModel):
    """What a line may hold."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    learner: Annotated[str, Field(min_length=1, max_length=NAME_LIMIT)]
    text: Annotated[str, Field(max_length=TEXT_LIMIT)] = ""
    play: bool = False
    at: AwareDatetime | None = None


def talk(room: Classroom, source: BinaryIO, out: BinaryIO, *, clock: Callable[[], datetime]) -> None:
    """Answer each line with one line, until the input ends."""
    for line in lines(source):
        send(out, json.dumps(answered(room, line, clock)))


def answered(room: Classroom, line: bytes, clock: Callable[[], datetime]) -> dict[str, Any]:
    """The answer to one line; never raises for what the line holds."""
    try:
        asked = _Asked.model_validate_json(line)
    except ValidationError as wrong:
        first = wrong.errors()[0]
        where = ".".join(str(step) for step in first["loc"])
        return _refused(None, "bad-message", f"{where}: {first['msg']}" if where else first["msg"])
    now = asked.at or clock()
    try:
        step = room.play_step if asked.play else room.lesson_step
        said = step(asked.learner, asked.text, now=now)
        picture = None if asked.play else room.picture(asked.learner, now=now)
    except OtherVersionError as wrong:
        return _refused(asked.learner, "old-state", str(wrong))
    except StoreError as wrong:
        return _refused(asked.learner, "store", str(wrong))
    drawn = None if picture is None else {"svg": picture.svg, "words": list(picture.words)}
    choices = [{"id": choice.id, "label": choice.label} for choice in said.choices]
    say = [line for line in said.lines if line]
    return _line(asked.learner, say=say, choices=choices, picture=drawn, over=said.is_over)


def _refused(learner: str | None, code: str, say: str) -> dict[str, Any]:
    return _line(learner, error={"code": code, "say": say})


def _line(learner: str | None, **parts: Any) -> dict[str, Any]:
    empty: dict[str, Any] = {"say": [], "choices": [], "picture": None, "over": False, "error": None}
    return {"v": VERSION, "learner": learner, **empty, **parts}
