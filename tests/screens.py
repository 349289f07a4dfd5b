"""A real chat in a real terminal: a pseudo-terminal, what is typed into it, and the screen as one sees it.

The screen is drawn by pyte, which knows nothing of the library behind the prompt.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable
from pathlib import Path

import pexpect
import pyte

CHECKOUT = Path(__file__).resolve().parent.parent
PATIENCE_S = 30
ENTER, TAB, UP, LEFT, CTRL_C, CTRL_D, CTRL_Z = "\r", "\t", "\x1b[A", "\x1b[D", "\x03", "\x04", "\x1a"


class Seat:
    """A person's home folder and the terminals they open there."""

    def __init__(self, home: Path, **environment: str) -> None:
        self.home, self.environment = home, environment

    @property
    def store(self) -> Path:
        """Where the chats of this home lie."""
        return self.home / "data" / "lampcoach" / "coach.db"

    def environ(self) -> dict[str, str]:
        """The environment of a program started here: nothing of the machine's own folders or settings."""
        places = {f"XDG_{kind.upper()}_HOME": str(self.home / kind) for kind in ("data", "state", "config")}
        kept = {
            name: value
            for name, value in os.environ.items()
            if name not in ("COLUMNS", "LINES", "NO_COLOR") and not name.startswith("COACH_")
        }
        named = {"HOME": str(self.home), "TERM": "xterm-256color", "PYTHONUTF8": "1"}
        return {**kept, **named, **places, "PYTHONPATH": str(CHECKOUT), **self.environment}

    def sit(self, *options: str, columns: int = 80, rows: int = 40, command: str = "chat") -> Terminal:
        """Open a chat."""
        return Terminal(
            [sys.executable, "-m", "coach", command, *options], self.environ(), columns=columns, rows=rows
        )

    def bytes_kept(self) -> bytes:
        """All that lies in this home, file after file."""
        return b"\0".join(file.read_bytes() for file in sorted(self.home.rglob("*")) if file.is_file())


class Terminal:
    """A program in a terminal of so many columns and rows."""

    def __init__(self, command: list[str], environment: dict[str, str], *, columns: int, rows: int) -> None:
        program, *arguments = command
        self.sent = b""
        self._child = pexpect.spawn(
            program,
            arguments,
            cwd=str(CHECKOUT),
            env=environment,
            dimensions=(rows, columns),
            timeout=PATIENCE_S,
        )
        self._child.delaybeforesend = None
        self._screen = pyte.HistoryScreen(columns, rows, history=5000)
        self._stream = pyte.ByteStream(self._screen)

    def send(self, sent: bytes) -> None:
        """Send bytes that no keyboard makes."""
        self._child.send(sent)

    def type(self, *keys: str) -> None:
        """Press these keys."""
        self._child.send("".join(keys))

    def say(self, *lines: str) -> None:
        """Type each line at a prompt of its own."""
        for line in lines:
            before = self.until_prompt()
            self.type(line, ENTER)
            self.until(lambda text, before=before: text != before and text.endswith("\n>"))

    def until_prompt(self) -> str:
        """Wait for an empty prompt; the screen."""
        return self.until(lambda text: text.endswith("\n>") or text == ">")

    def until(self, wanted: object) -> str:
        """Wait until the screen shows a text, or fulfils a condition; the screen. Raises AssertionError."""
        deadline = time.monotonic() + PATIENCE_S
        while True:
            shown = self.shown()
            if wanted(shown) if callable(wanted) else str(wanted) in shown:
                return shown
            assert time.monotonic() < deadline, f"not seen: {wanted}\n{shown}"
            self.take()

    def shown(self) -> str:
        """What stands on the screen and above it, blanks at line ends and empty last lines left out."""
        self.take(0)
        above = [self._line(line) for line in self._screen.history.top]
        return "\n".join((*above, *(line.rstrip() for line in self._screen.display))).rstrip()

    def on_screen(self) -> list[str]:
        """The lines on the screen alone."""
        return [line.rstrip() for line in self._screen.display]

    def looks(self, text: str) -> set[tuple[str, bool]]:
        """In which colours the signs of a text stand on the screen, and whether bold."""
        for row, line in enumerate(self._screen.display):
            if (at := line.find(text)) >= 0:
                cells = [self._screen.buffer[row][column] for column in range(at, at + len(text))]
                return {(cell.fg, cell.bold) for cell in cells}
        raise AssertionError(f"not on the screen: {text}")

    def resize(self, columns: int, rows: int = 40) -> None:
        """Make the window narrower or wider."""
        self._child.setwinsize(rows, columns)
        self._screen.resize(rows, columns)

    def kill(self, number: int) -> None:
        """Send a signal."""
        self._child.kill(number)

    def echoes(self) -> bool:
        """Whether the terminal itself echoes what is typed, as it does for a shell."""
        return bool(self._child.getecho())

    def ended(self) -> int:
        """Wait for the end of the program; its exit code, or 128 and the signal that ended it."""
        deadline = time.monotonic() + PATIENCE_S
        while self.take():
            assert time.monotonic() < deadline, self.shown()
        self._child.close()
        return (
            self._child.exitstatus if self._child.exitstatus is not None else 128 + self._child.signalstatus
        )

    def take(self, wait_s: float = 0.2) -> bool:
        """Take in what the program sent; False at its end."""
        if self._child.closed:
            return False
        try:
            sent = self._child.read_nonblocking(65536, wait_s)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            return False
        self.sent += sent
        self._stream.feed(sent)
        return True

    def _line(self, cells: Iterable[object]) -> str:
        assert isinstance(cells, dict)
        return "".join(cells[column].data for column in range(self._screen.columns)).rstrip()
