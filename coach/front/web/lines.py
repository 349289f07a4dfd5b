"""The rows of the log sheet: what was asked, told and answered, as typed lines without any markup."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from coach.conversation import Question
from coach.exchange import open_question
from coach.front import render
from coach.front.web import words
from coach.model import UNKNOWN, Rulebook
from coach.post.sheet import Turned
from coach.wording import clock, in_words

_STEP = re.compile(r"\d+\. ")


def turn_row(turn: Turned, before: Turned | None, book: Rulebook) -> dict[str, Any]:
    """A turn as a row of the log: when, what was asked before it, what was told, and the answer's lines."""
    at = datetime.fromisoformat(turn.at)
    ask = open_question(before.reply) if before is not None else None
    said = json.loads(turn.said) if turn.said else {}
    is_answer = "pick" in said or "text" in said
    return {
        "key": f"t{turn.seq}",
        "at": at.timestamp(),
        "day": f"{at:%a %d %b %Y}",
        "clock": clock(at),
        "asked": ask.text if ask is not None and is_answer else "",
        "told": told(said, ask, book),
        "lines": list(lines(json.loads(turn.reply))),
    }


def told(said: dict[str, Any], ask: Question | None, book: Rulebook) -> str:
    """What a person said, as it stands in the log."""
    if "text" in said:
        return str(said["text"])
    if "command" in said:
        return words.COMMANDS.get(said["command"], str(said["command"]))
    if "facts" in said:
        return "; ".join(_fact(name, value, book) for name, value in said["facts"].items())
    return _picked(said["pick"], ask) if "pick" in said else ""


def _picked(value: Any, ask: Question | None) -> str:
    if value == UNKNOWN:
        return words.DONT_KNOW
    labels = dict(render.answers(ask)) if ask is not None else {}
    return labels.get(value, str(value))


def _fact(name: str, value: Any, book: Rulebook) -> str:
    fact = book.facts.get(name)
    if fact is None:
        return f"{name}: {value}"
    try:
        return f"{fact.says}: {in_words(value, fact)}"
    except ValueError:  # a value that was refused
        return f"{fact.says}: {value}"


def lines(reply: dict[str, Any]) -> Iterator[dict[str, str]]:
    """The lines of an answer, each with its kind: hazard, action, reason, item, step, say or error."""
    for hazard in reply["hazards"]:
        yield {"kind": "hazard", "say": hazard["say"]}
    verdict = reply["verdict"]
    reasons = {said for cause in (verdict or {}).get("causes", ()) for said in cause["because"]}
    for place, said in enumerate(reply["say"]):
        kind = _kind(said, reasons, is_action=verdict is not None and place == 0)
        yield {"kind": kind, "say": said[2:] if kind == "item" else said}
    if reply["error"] is not None:
        yield {"kind": "error", "say": reply["error"]["say"]}


def _kind(said: str, reasons: set[str], *, is_action: bool) -> str:
    if is_action:
        return "action"
    if said in reasons:
        return "reason"
    if said.startswith("- "):
        return "item"
    return "step" if _STEP.match(said) else "say"
