"""Where the person sits: a pipe, the lines of a terminal, or a prompt with all that it can do."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from coach import typed
from coach.consult import Desk
from coach.front import keyboard
from coach.front.keyboard import Terminal
from coach.front.talk import local_now
from coach.front.weight import plain, weighty


def kept(desk: Desk, chat: str, *, is_wanted: bool) -> Path | None:
    """Where typed lines are kept; where none are wanted, those of earlier go too."""
    store, *_ = desk.parts
    file = typed.file_of(store.path, chat)
    if file is not None and not is_wanted:
        try:
            typed.erase(file)
        except OSError as error:
            why = f"the lines typed earlier cannot be erased: {error.strerror}"
            raise OSError(f"{file}: {why}. Delete that file.") from error
    return file if is_wanted else None


@contextlib.contextmanager
def seat(typed_lines: Path | None, *, colour: str, theme: str, lines_only: bool) -> Iterator[Terminal]:
    """The place where the person sits: a pipe, lines of a terminal, or a prompt with all that it can do."""
    for stream in (sys.stdin, sys.stdout):
        stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    is_able = sys.stdin.isatty() and sys.stdout.isatty() and not lines_only
    is_able = is_able and os.environ.get("TERM", "dumb") not in ("", "dumb", "unknown")
    has_weight = colour == "always" or (colour == "auto" and is_able)
    mark = weighty(theme) if has_weight and not lines_only else plain
    if not sys.stdin.isatty():
        yield Terminal(keyboard.piped_line, keyboard.show, keyboard.width, local_now, mark=mark)
    elif not is_able:
        keys = keyboard.Keyboard()
        yield Terminal(keys.line, keys.show, keyboard.width, local_now, keys.is_typed, mark=mark)
    else:
        from coach.front.prompt import Prompt  # noqa: PLC0415  (not needed in pipes)

        with Prompt(typed_lines) as prompt:
            yield Terminal(
                prompt.line,
                prompt.show,
                keyboard.width,
                local_now,
                prompt.is_typed,
                asks=prompt.asks,
                forgot=prompt.forgot,
                ring=prompt.ring,
                mark=mark,
                height=keyboard.height,
            )
