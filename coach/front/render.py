"""Replies as text for a terminal: any width, any encoding; weight is given by a `Mark`, or none."""

from __future__ import annotations

import re
import textwrap
import unicodedata

from coach.conversation import Block, Question, Reply
from coach.exchange import items
from coach.front.weight import Mark, plain

NARROWEST, WIDEST = 20, 100
SAFETY_FIRST = "! SAFETY FIRST"

_MARKED = re.compile(r"\s*(\d+\.|\[ \]|[-*])\s+|\s+")
_ASCII = str.maketrans(
    {"–": "-", "—": "-", "−": "-", "→": "->", "’": "'", "‘": "'", "“": '"', "”": '"', "…": "..."}
    | {
        "━": "=",
        "°": " deg ",
        "×": "x",
        "·": "-",
        "≥": ">=",
        "≤": "<=",
        "½": " 1/2",
        "¼": " 1/4",
        "¾": " 3/4",
    }
)


def reply_text(reply: Reply, width: int, mark: Mark = plain) -> str:
    """A reply as lines of at most `width` characters: hazards first, the open question last.

    With a `mark` that gives weight, hazards and a verdict's first line are framed in words and lines too.
    """
    hazards = [mark("hazard", filled(f"! {say}", width, hang=2)) for _, say in reply.hazards]
    parts = [mark("hazard", SAFETY_FIRST), *hazards] if hazards and mark is not plain else hazards
    parts += [part for block in reply.blocks if (part := _block(block, width, mark))]
    if reply.error:
        parts.append(filled(reply.error[1], width))
    if reply.ask:
        parts += [""] if parts and mark is not plain else []
        parts.append(question_text(reply.ask, width, mark))
    return "\n".join(parts)


def question_text(ask: Question, width: int, mark: Mark = plain) -> str:
    """A question with what can be typed for it: a digit an option, 0 for don't know.

    The unit is not added: the question's own words name it.
    """
    lines = [mark("ask", filled(ask.text, width))]
    for digit, label in labels(ask):
        text = filled(f"{digit} {label}", width, indent=2, hang=2)
        lines.append(text.replace(digit, mark("digit", digit), 1))
    return "\n".join(lines)


def labels(ask: Question) -> list[tuple[str, str]]:
    """What to type beside each answer. A number or a time is typed as it is."""
    if ask.type in {"number", "time"}:
        return [("?", "don't know")]
    numbered = [(str(digit), label) for digit, (_, label) in enumerate(answers(ask), 1)]
    return [*numbered, ("0", "don't know")]


def answers(ask: Question) -> list[tuple[object, str]]:
    """The answers of a question that has them listed, with their labels, in order."""
    if ask.type == "bool" and not ask.options:
        return [(True, "yes"), (False, "no")]
    return [(option.id, option.label) for option in ask.options]


def filled(text: str, width: int, *, indent: int = 0, hang: int = 0) -> str:
    """The text broken into lines; later lines stand `hang` further in than the first."""
    return textwrap.fill(text, width, initial_indent=" " * indent, subsequent_indent=" " * (indent + hang))


def line_filled(line: str, width: int) -> str:
    """A line of a page broken into lines; a numbered or ticked one hangs under its first word."""
    marked = _MARKED.match(line)
    return filled(line, width, hang=marked.end() if marked else 0)


def fit(text: str, encoding: str) -> str:
    """The text with what the terminal's encoding lacks replaced by look-alikes, or by '?'."""
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return text.translate(_ASCII).encode("ascii", "replace").decode()
    return text


def typed(line: str) -> str:
    """A line as a person meant it: without control characters and half characters. Tabs and the line ends
    of a pasted text are blanks."""
    spaced = "".join(" " if c in "\t\r\n" else c for c in line)
    return "".join(c for c in spaced if unicodedata.category(c) not in {"Cc", "Cs"}).strip()


def _block(block: Block, width: int, mark: Mark) -> str:
    if block.kind == "warn":  # stands among the hazards already
        return ""
    text = f"- {block.text}" if block.kind == "reason" else block.text
    lines = [filled(text, width, hang=2 if block.kind == "reason" else 0)] if text else []
    if block.kind == "action" and mark is not plain:
        lines = [_framed(line, mark) for line in lines]
    lines += [filled(item, width, indent=2, hang=item.index(" ") + 1) for item in items(block)]
    return "\n".join(lines)


def _framed(text: str, mark: Mark) -> str:
    """What to do, as large as a terminal can say it."""
    bar = "━" * max(map(len, text.split("\n")))
    return "\n".join(("", mark("action", f"{bar}\n{text}\n{bar}")))
