"""Places to type and to read: a pipe, and the plain lines of a terminal that can do no more."""

from __future__ import annotations

import select
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from coach.conversation import Question
from coach.front import render
from coach.front.weight import Mark, plain

ENDLESS = 1_000_000
WAIT_S = 1.0
"""So long a prompt waits before what is due may ring."""


def _nothing() -> None:
    """Nothing is to be done."""


def _unasked(ask: Question | None) -> None:
    del ask


@dataclass(frozen=True, slots=True)
class Terminal:
    """A place to type and to read. `read` gives a line, or None at the end of input; `is_typed` waits a
    little and says whether there is one, so that a reminder can ring meanwhile. `asks` is told what
    question is open, `forgot` that the chat was erased; `ring` makes itself heard; `mark` gives weight to
    what is shown. `height`: how many lines are seen at once, where what is above them is soon lost."""

    read: Callable[[], str | None]
    show: Callable[[str], None]
    width: Callable[[], int]
    clock: Callable[[], datetime]
    is_typed: Callable[[], bool] = lambda: True
    asks: Callable[[Question | None], None] = _unasked
    forgot: Callable[[], None] = _nothing
    ring: Callable[[], None] = _nothing
    mark: Mark = plain
    height: Callable[[], int] = lambda: ENDLESS


def piped_line() -> str | None:
    """The next line of a pipe; None at its end."""
    return sys.stdin.readline() or None


def show(text: str) -> None:
    """Show a text at once, with the signs that the terminal has."""
    print(render.fit(text, sys.stdout.encoding), flush=True)


def width() -> int:
    """How many characters fit into a line now; one less than the terminal has, which some break at."""
    columns = shutil.get_terminal_size().columns
    return max(render.NARROWEST, min(render.WIDEST, columns) - 1)


def height() -> int:
    """How many lines the terminal shows now."""
    return shutil.get_terminal_size().lines


class Keyboard:
    """Lines typed at a prompt that gives way to what rings."""

    def __init__(self) -> None:
        self._is_asking = False

    def is_typed(self) -> bool:
        """Show the prompt and wait a little; whether a line was typed. (A terminal hands over one line
        at a time, so none hides in a buffer.)"""
        if not self._is_asking:
            print("> ", end="", flush=True)
            self._is_asking = True
        return bool(select.select([sys.stdin], [], [], WAIT_S)[0])

    def line(self) -> str | None:
        """The line that was typed."""
        self._is_asking = False
        found = sys.stdin.readline()
        if not found:
            print()
        return found or None

    def show(self, text: str) -> None:
        """Show a text, on a line of its own."""
        if self._is_asking:
            print()
        self._is_asking = False
        show(text)
