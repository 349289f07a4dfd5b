"""The prompt of a terminal that can move its cursor: editing, typed lines, the Tab key, resizing, Ctrl-Z.

The only module that knows prompt_toolkit. The prompt lives in an event loop that runs in slices: between
two slices what is due may ring, and is shown above the line that is being typed.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import sys
from collections.abc import Iterable
from pathlib import Path

from prompt_toolkit import PromptSession
from prompt_toolkit.application import run_in_terminal
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.data_structures import Size
from prompt_toolkit.document import Document
from prompt_toolkit.history import History
from prompt_toolkit.output.color_depth import ColorDepth
from prompt_toolkit.output.vt100 import Vt100_Output
from prompt_toolkit.shortcuts import CompleteStyle

from coach import typed
from coach.conversation import Question
from coach.exchange import TEXT_LIMIT
from coach.front import keyboard, offers

TOO_SHORT_TO_KEEP = 2
"""A digit is sooner typed than found again."""


class _Left(Exception):  # noqa: N818  (a wish, not an error)
    """Ctrl-C at the prompt."""


def _end(number: int, frame: object) -> None:
    """Leave by way of what gives the terminal back; the exit code is the usual one."""
    del frame
    sys.exit(128 + number)


def _size() -> Size:
    """As large as the terminal is at this moment, whatever the environment says."""
    try:
        columns, rows = os.get_terminal_size(sys.stdout.fileno())
    except OSError:  # it has just gone away
        columns = rows = 0
    return Size(rows=rows or 24, columns=columns or 80)


class Prompt:
    """Lines typed at a prompt. `kept`: the file of the lines typed earlier; None keeps them nowhere."""

    def __init__(self, kept: Path | None) -> None:
        self._kept = kept
        self._ask: Question | None = None
        self._loop = asyncio.new_event_loop()
        self._task: asyncio.Task[str] | None = None
        self._session = self._fresh()

    def __enter__(self) -> Prompt:
        self._ended_by = signal.signal(signal.SIGTERM, _end)
        return self

    def __exit__(self, *_: object) -> None:
        """Give the terminal back as it was found, also when a prompt is still open."""
        signal.signal(signal.SIGTERM, self._ended_by)
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError, _Left, EOFError):
                self._loop.run_until_complete(self._task)
        self._loop.run_until_complete(self._loop.shutdown_asyncgens())
        self._loop.close()

    def asks(self, ask: Question | None) -> None:
        """The Tab key is to offer the answers of this question."""
        self._ask = ask

    def is_typed(self) -> bool:
        """Keep the prompt up a little; whether a line was typed."""
        if self._task is None:
            self._task = self._loop.create_task(self._session.prompt_async("> "))
        self._loop.run_until_complete(asyncio.wait({self._task}, timeout=keyboard.WAIT_S))
        return self._task.done()

    def line(self) -> str | None:
        """The line that was typed; None at Ctrl-D. Raises KeyboardInterrupt at Ctrl-C."""
        assert self._task is not None
        task, self._task = self._task, None
        try:
            return task.result()
        except EOFError:
            return None
        except _Left:
            raise KeyboardInterrupt from None

    def show(self, text: str) -> None:
        """Show a text, above the line that is being typed if there is one."""
        if self._task is None:
            keyboard.show(text)
        else:
            self._loop.run_until_complete(_above(text))

    def ring(self) -> None:
        """Make the terminal ring, or shake."""
        sys.stdout.write("\a")
        sys.stdout.flush()

    def forgot(self) -> None:
        """Know nothing any more of what was typed."""
        self._session = self._fresh()

    def _fresh(self) -> PromptSession[str]:
        return PromptSession(
            history=_Typed(self._kept),
            completer=_Completer(self),
            complete_while_typing=False,
            complete_style=CompleteStyle.READLINE_LIKE,
            reserve_space_for_menu=0,
            enable_suspend=True,
            interrupt_exception=_Left,
            # no asking where the cursor is: over a slow link the answer comes late, and as if it were typed
            output=Vt100_Output(sys.stdout, _size, term=os.environ.get("TERM"), enable_cpr=False),
            color_depth=ColorDepth.DEPTH_1_BIT,
        )

    def offered(self, begun: str) -> Iterable[tuple[str, str]]:
        """What the Tab key offers for a line that begins so."""
        return offers.offers(begun, self._ask)


async def _above(text: str) -> None:
    await run_in_terminal(lambda: keyboard.show(text))


class _Completer(Completer):
    def __init__(self, prompt: Prompt) -> None:
        self._prompt = prompt

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterable[Completion]:
        del complete_event
        begun = document.text_before_cursor
        for line, display in self._prompt.offered(begun):
            yield Completion(line, start_position=-len(begun), display=display)


class _Typed(History):
    """The lines of one chat. A disk that refuses them costs the arrow keys, never the talk."""

    def __init__(self, file: Path | None) -> None:
        super().__init__()
        self._file = file

    def load_history_strings(self) -> Iterable[str]:
        if self._file is not None:
            with contextlib.suppress(OSError):
                yield from reversed(typed.lines(self._file))

    def append_string(self, string: str) -> None:
        """Keep a line, unless it is very short or long, or the one before said the same."""
        is_worth = TOO_SHORT_TO_KEEP <= len(string.strip()) <= TEXT_LIMIT
        if is_worth and string not in self.get_strings()[-1:]:
            super().append_string(string)

    def store_string(self, string: str) -> None:
        if self._file is not None:
            with contextlib.suppress(OSError):
                typed.add(self._file, string)
