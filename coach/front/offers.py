"""What can be typed now, for the Tab key: the open answers and the words that always work. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from coach.conversation import Question
from coach.front.render import labels

STANDING = (
    "why",
    "undo",
    "summary",
    "clear the water",
    "picture",
    "picture above",
    "picture side",
    "picture tide",
    "picture counts",
    "card",
    "log",
    "bells",
    "done",
    "later",
    "metric",
    "us units",
    "new",
    "forget",
    "help",
    "bye",
)
"""Words that work at every moment, those needed most first."""


def offers(typed: str, ask: Question | None) -> Iterator[tuple[str, str]]:
    """What may be meant by the beginning `typed`: the whole line to type, and how it is shown.

    Nothing typed: the open answers, with their digits. A digit: its answer. Letters: every answer in which a
    word begins so, and every standing word that does.
    """
    begun = " ".join(typed.casefold().split())
    answers = [] if ask is None else labels(ask)
    if not begun:
        yield from ((digit, f"{digit} {label}") for digit, label in answers)
    if begun in [digit for digit, _ in answers]:
        answers = [(digit, label) for digit, label in answers if digit == begun]
    yield from (_answer(digit, label) for digit, label in answers if begun and _fits(begun, digit, label))
    if begun or not answers:
        yield from ((word, word) for word in STANDING if word.startswith(begun) and word != begun)


def _fits(begun: str, digit: str, label: str) -> bool:
    words = label.casefold().split()
    return begun == digit or any(" ".join(words[at:]).startswith(begun) for at in range(len(words)))


def _answer(digit: str, label: str) -> tuple[str, str]:
    """An answer is completed to its words where these are an answer of their own, else to its digit."""
    return (label.casefold(), f"{digit} {label}") if digit.isdigit() else (digit, f"{digit} {label}")
