"""`coach chat`: the plain terminal chat. Text in, a message to the core, its reply as text out.

Works on any terminal, at any width, and with input or output piped.
"""

from __future__ import annotations

import os
import select
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from coach.consult import Desk, opened
from coach.exchange import COMMANDS, TEXT_LIMIT, Envelope, open_question
from coach.front import beside, render
from coach.front.bells import HELP as BELL_HELP
from coach.front.bells import Bells
from coach.front.talk import local_now
from coach.model import UNKNOWN, Message, Question, Reply
from coach.store import Standing

GREETING = (
    "This is the lamp coach, for dipping shrimp at night. Type in your own words what is wrong, "
    "or 'help' for what else you can type."
)
HELP = (
    "Answer with a digit or in words; '?' when you don't know.",
    "why      why I ask this, or how I came to what I said",
    "undo     take back your last answer",
    "summary  what I know so far and what I make of it",
    "clear the water   what to take in, in which order, when you must get away",
    *beside.HELP,
    *BELL_HELP,
    "new      start afresh",
    "forget   erase this chat from the disk",
    "bye      leave; the chat is kept and goes on next time",
)
FAREWELL = "Bye. Keep a hand for the boat."
TOO_LONG = f"That is more than {TEXT_LIMIT} characters. Say it shorter; nothing of it was taken."
LEAVE = frozenset({"bye", "quit", "exit"})
DONT_KNOW = frozenset({"?", "0"})


@dataclass(frozen=True, slots=True)
class Terminal:
    """A place to type and to read. `read` gives a line, or None at the end of input; `is_typed` waits a
    little and says whether there is one, so that a reminder can ring meanwhile."""

    read: Callable[[], str | None]
    show: Callable[[str], None]
    width: Callable[[], int]
    clock: Callable[[], datetime]
    is_typed: Callable[[], bool] = lambda: True


def serve(chat: str, store: str | None = None, rules: Path | None = None, picture: Path | None = None) -> int:
    """Chat on standard input and output until the person leaves; the exit code: 0, or 1 if nobody
    reads on. Pictures go to the folder `picture`, if one is named. Raises as `opened` does before the
    first line."""
    try:
        with opened(store, rules) as desk:
            run(desk, chat, _standard(), pictures=picture)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # quiet at exit too
        return 1
    return 0


def run(desk: Desk, chat: str, terminal: Terminal, *, pictures: Path | None = None) -> None:
    """Greet, say where the chat stands, and answer line by line. Ctrl-C and Ctrl-D leave."""
    try:
        _converse(desk, chat, terminal, beside.BesideTalk(desk, chat, pictures), Bells(desk, chat))
    except KeyboardInterrupt:
        terminal.show("")
    _show(terminal, FAREWELL)


def meant(text: str, ask: Question | None) -> Message:
    """The message behind what was typed while `ask` was open.

    A digit picks an option; for a number or a time it is what it says. Anything else is words.
    """
    word = text.casefold().strip(" .!")
    if word in COMMANDS:
        return Message(command=word)
    if ask is not None and text in _picks(ask):
        return Message(pick=_picks(ask)[text], has_pick=True)
    return Message(text=text)


def _picks(ask: Question) -> dict[str, object]:
    if ask.type in {"number", "time"}:
        return {"?": UNKNOWN}
    listed = {str(digit): answer for digit, (answer, _) in enumerate(render.answers(ask), 1)}
    return listed | dict.fromkeys(DONT_KNOW, UNKNOWN)


def _converse(desk: Desk, chat: str, terminal: Terminal, pages: beside.BesideTalk, bells: Bells) -> None:
    standing = desk.standing(chat)
    ask = open_question(standing.reply)
    _show(terminal, GREETING, *_resumed(standing))
    _show_question(terminal, ask)
    while (line := _next_line(terminal, bells)) is not None:
        text = render.typed(line)
        if text.casefold() in LEAVE:
            return
        lines = bells.typed(text, now=terminal.clock()) or _beside(pages, text, terminal)
        if lines is not None:
            _show(terminal, *lines)
            _show_question(terminal, ask)
            continue
        reply = _answered(desk, chat, text, ask, terminal=terminal, bells=bells)
        ask = ask if reply is None else reply.ask
        if reply is not None and reply.verdict is not None:
            _show(terminal, *_drawn(pages, terminal))


def _beside(pages: beside.BesideTalk, text: str, terminal: Terminal) -> beside.Lines | None:
    """What is shown beside the talk; a store or a file that cannot be used is said, and the talk goes on."""
    try:
        return pages.asked(text, now=terminal.clock())
    except (OSError, ValueError) as wrong:
        return tuple(str(wrong).splitlines())


def _next_line(terminal: Terminal, bells: Bells) -> str | None:
    """The next line that is typed; what is due rings before and meanwhile."""
    while True:
        _show(terminal, *bells.ring(terminal.clock()))
        if terminal.is_typed():
            return terminal.read()


def _answered(
    desk: Desk, chat: str, text: str, ask: Question | None, *, terminal: Terminal, bells: Bells
) -> Reply | None:
    """Show the answer to one line; the reply, or None where nothing was sent on."""
    if text.casefold() in {"", "help"} or len(text) > TEXT_LIMIT:
        _show(terminal, *((TOO_LONG,) if len(text) > TEXT_LIMIT else HELP if text else ()))
        _show_question(terminal, ask)
        return None
    now = terminal.clock()
    taken = desk.answer(Envelope(chat, message=meant(text, ask)), now=now, also=bells.along(now))
    assert taken.reply is not None  # no message ids here, so no repeats
    terminal.show(render.reply_text(taken.reply, terminal.width()))
    return taken.reply


def _drawn(pages: beside.BesideTalk, terminal: Terminal) -> beside.Lines:
    try:
        return pages.after_verdict(now=terminal.clock())
    except OSError as wrong:  # the folder cannot be written: the advice stands all the same
        return (str(wrong),)


def _resumed(standing: Standing) -> tuple[str, ...]:
    if standing.at is None:
        return ()
    when = datetime.fromisoformat(standing.at)
    return (f"We go on where we stood on {when:%d %b %Y at %H:%M}. Type 'new' to start afresh.",)


def _show(terminal: Terminal, *texts: str | Path) -> None:
    """Show texts broken into lines; the name of a file that was written stays in one piece."""
    for text in texts:
        is_file = isinstance(text, Path)
        terminal.show(f"File: {text}" if is_file else render.filled(str(text), terminal.width()))


def _show_question(terminal: Terminal, ask: Question | None) -> None:
    if ask is not None:
        terminal.show(render.question_text(ask, terminal.width()))


def _standard() -> Terminal:
    for stream in (sys.stdin, sys.stdout):
        stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    if not sys.stdin.isatty():
        return Terminal(_piped_line, _print, _width, local_now)
    keys = _Keyboard()
    return Terminal(keys.line, keys.show, _width, local_now, keys.is_typed)


class _Keyboard:
    """Lines typed at a prompt that gives way to what rings."""

    _WAIT_S = 1.0

    def __init__(self) -> None:
        self._is_asking = False

    def is_typed(self) -> bool:
        """Show the prompt and wait a little; whether a line was typed. (A terminal hands over one line
        at a time, so none hides in a buffer.)"""
        if not self._is_asking:
            print("> ", end="", flush=True)
            self._is_asking = True
        return bool(select.select([sys.stdin], [], [], self._WAIT_S)[0])

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
        _print(text)


def _piped_line() -> str | None:
    return sys.stdin.readline() or None


def _print(text: str) -> None:
    print(render.fit(text, sys.stdout.encoding), flush=True)


def _width() -> int:
    columns = shutil.get_terminal_size().columns
    return max(render.NARROWEST, min(render.WIDEST, columns) - 1)
