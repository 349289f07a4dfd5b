"""Replies as screens of a phone: text in pieces that fit, and few large buttons, one a row.

At most four answers a screen, the likeliest first; "More" turns the page; one row with the standing
three. What is typed is as good: a digit is the answer at that place, words are words.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.conversation import Block, Question, Reply
from coach.exchange import items
from coach.front import render
from coach.model import Fact, Scalar

TEXT_UNITS = 4096
"""Most UTF-16 units of a message's text."""
BUTTON_UNITS = 60
DATA_BYTES = 64
ANSWERS = 4

_OF_A_SUM = re.compile(r"[+\-−]\d")
Row = list[list[str]]
"""A row of buttons, each a label and its data."""

DONT_KNOW, WHY, BACK, MORE, CLEAR = "Don't know", "Why?", "Back", "More answers", "Clear the water"
TYPE_IT = {"number": "Type the number.", "time": "Type the time, such as 21:40."}


@dataclass(frozen=True, slots=True)
class Screen:
    """A text and the buttons under it."""

    text: str
    rows: tuple[Row, ...] = ()
    is_tally: bool = False

    def body(self) -> dict[str, Any]:
        """As it stands in the outbox."""
        tally = {"tally": True} if self.is_tally else {}
        return {"text": self.text, "rows": list(self.rows), **tally}


def units(text: str) -> int:
    """How long Telegram takes a text to be: its UTF-16 units."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def pieces(text: str, limit: int = TEXT_UNITS) -> list[str]:
    """The text in pieces of at most `limit` units, broken at line ends or blanks where there are any."""
    found = []
    while units(text) > limit:
        head = _fitting(text, limit)
        cut = max(head.rfind("\n"), 0) or max(head.rfind(" "), 0) or len(head)
        found.append(text[:cut].rstrip())
        text = text[cut:].lstrip()
    return [*(piece for piece in found if piece), *([text] if text.strip() else [])]


def _fitting(text: str, limit: int) -> str:
    """The longest beginning of at most `limit` units."""
    low, high = 0, min(len(text), limit)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if units(text[:middle]) <= limit else (low, middle - 1)
    return text[:low]


def label(text: str) -> str:
    """A button's label, shortened to what a phone shows."""
    return text if units(text) <= BUTTON_UNITS else _fitting(text, BUTTON_UNITS - 1).rstrip() + "…"


def token(ask: Question) -> str:
    """What tells one open question from another in a button's data."""
    return hashlib.sha256(ask.fact.encode()).hexdigest()[:8]


def likeliest(ask: Question, facts: Mapping[str, Fact]) -> list[tuple[Scalar, str]]:
    """The answers of a question with their labels, the likeliest first."""
    fact = facts.get(ask.fact)
    weight: dict[Any, float] = dict(fact.expect) if fact else {}
    listed: list[tuple[Any, str]] = list(render.answers(ask))
    return sorted(listed, key=lambda each: -weight.get(each[0], 0.0))


def question(ask: Question, facts: Mapping[str, Fact], *, page: int = 0) -> tuple[str, tuple[Row, ...]]:
    """A question's words and its buttons; `page` counts from 0 and goes round."""
    answers = likeliest(ask, facts)
    if not answers:
        return f"{ask.text}\n{TYPE_IT[ask.type]}", (_standing(ask),)
    pages = -(-len(answers) // ANSWERS)
    first = page % pages * ANSWERS
    shown = answers[first : first + ANSWERS]
    lines = [f"{place}  {text}" for place, (_, text) in enumerate(shown, first + 1)]
    rows = [[[label(text), f"a:{token(ask)}:{place}"]] for place, (_, text) in enumerate(shown, first + 1)]
    if pages > 1:
        rows.append([[MORE, f"m:{token(ask)}:{(page + 1) % pages}"]])
    return "\n".join([ask.text, *lines]), (*rows, _standing(ask))


def _standing(ask: Question) -> Row:
    return [[DONT_KNOW, f"u:{token(ask)}"], [WHY, "w"], [BACK, "z"]]


def reply_screens(reply: Reply, facts: Mapping[str, Fact], *, page: int = 0, noted: str = "") -> list[Screen]:
    """A reply as one or more screens; the buttons stand under the last. `noted` is what was understood:
    before a question, and behind a verdict, whose first line is what to do."""
    parts = [f"⚠ {say}" for _, say in reply.hazards]
    parts += [noted] if noted and reply.verdict is None else []
    parts += _blocks(reply.blocks)
    parts += [noted] if noted and reply.verdict is not None else []
    if reply.error:
        parts.append(reply.error[1])
    rows: tuple[Row, ...] = ()
    if reply.ask is not None:
        words, rows = question(reply.ask, facts, page=page)
        parts.append(words)
    elif reply.verdict is not None:
        rows = ([[WHY, "w"], [BACK, "z"]],)
    return screens("\n\n".join(parts) or "…", rows)


def screens(text: str, rows: Sequence[Row] = ()) -> list[Screen]:
    """A text of any length as screens."""
    *before, last = pieces(text) or ["…"]
    return [*(Screen(piece) for piece in before), Screen(last, tuple(rows))]


def _blocks(blocks: Sequence[Block]) -> list[str]:
    """The blocks as parts of a message; reasons, and the lines of a sum, stand line by line in one."""
    parts: list[str] = []
    before = ""
    for block in blocks:
        if part := _block(block):
            kind = "sum" if _OF_A_SUM.match(part) else block.kind
            if kind == before and kind in ("reason", "sum"):
                parts[-1] += f"\n{part}"
            else:
                parts.append(part)
            before = kind
    return parts


def _block(block: Block) -> str:
    if block.kind == "warn":  # stands among the hazards already
        return ""
    text = f"• {block.text}" if block.kind == "reason" else block.text
    return "\n".join([*([text] if text else []), *items(block)])


def bell(say: str, id_: int, *, snooze_min: int, follow: Sequence[Row] = ()) -> Screen:
    """A reminder with what can be done about it; `follow` are answers to what it asks."""
    seen_to: Row = [["Done", f"r:{id_}:d"], [f"In {snooze_min} minutes", f"r:{id_}:s"]]
    return Screen(f"🔔 {say}", (*follow, seen_to))
