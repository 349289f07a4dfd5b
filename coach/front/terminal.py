"""`coach chat`: the chat in a terminal. Text in, a message to the core, its reply as text out.

Works on any terminal, at any width, and with input or output piped. Where the terminal can move its
cursor, lines are edited (`coach.front.prompt`); where it cannot, or lines only are wanted, they are not.
"""

from __future__ import annotations

import json
import os
import sys
from datetime import datetime
from pathlib import Path
from typing import Any

from coach.consult import Desk, opened
from coach.conversation import Message, Question, Reply
from coach.exchange import COMMANDS, TEXT_LIMIT, Envelope, open_question
from coach.front import beside, render, seats
from coach.front.bells import HELP as BELL_HELP
from coach.front.bells import Bells
from coach.front.guide import helped
from coach.front.keyboard import Terminal
from coach.model import UNKNOWN
from coach.store import Standing, StoreError

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
    "metric   metres and °C from now on; 'us units' goes back to feet",
    "new      start afresh",
    "forget   erase this chat from the disk, with the lines typed for it",
    "bye      leave; the chat is kept and goes on next time",
    "One letter is enough: w why, u undo, d don't know, h help, q bye. Enter alone begins the questions.",
)
FAREWELL = "Bye. Keep a hand for the boat."
TOO_LONG = f"That is more than {TEXT_LIMIT} characters. Say it shorter; nothing of it was taken."
LEAVE = frozenset({"bye", "quit", "exit"})
DONT_KNOW = frozenset({"?", "0"})
SHORT = {"w": "why", "u": "undo", "d": "?", "h": "help", "q": "bye"}
"""Letters that stand for a word: no answer to any question is one of them."""
INTERRUPTED = 130
_PROMPT_LINES = 2


def serve(
    chat: str = "me",
    store: str | None = None,
    rules: Path | None = None,
    picture: Path | None = None,
    *,
    units: str = "us",
    insists: bool = False,
    colour: str = "auto",
    theme: str = "dim",
    history: bool = True,
    plain: bool = False,
) -> int:
    """Chat on standard input and output until the person leaves; the exit code: 0, 130 after Ctrl-C, or 1
    if nobody reads on. Pictures go to the folder `picture`, if one is named. `insists`: the units hold
    also for a chat that spoke of others. Raises as `opened` does before the first line."""
    is_metric = units == "metric"
    try:
        with opened(store, rules, metric=is_metric) as desk:
            lines = seats.kept(desk, chat, is_wanted=history)
            with seats.seat(lines, colour=colour, theme=theme, lines_only=plain) as place:
                if insists:
                    _change_units(desk, chat, place, is_metric=is_metric)
                return run(desk, chat, place, pictures=picture)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # quiet at exit too
        return 1


def run(desk: Desk, chat: str, terminal: Terminal, *, pictures: Path | None = None) -> int:
    """Greet, say where the chat stands, and answer line by line. Ctrl-C and Ctrl-D leave; the exit code."""
    code = 0
    try:
        _converse(desk, chat, terminal, beside.BesideTalk(desk, chat, pictures), Bells(desk, chat))
    except KeyboardInterrupt:
        terminal.show("")
        code = INTERRUPTED
    _show(terminal, FAREWELL)
    return code


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
    while (line := _next_line(terminal, bells, ask)) is not None:
        text = _spelt_out(render.typed(line), ask)
        if text.casefold().strip(" .!") in LEAVE:
            return
        lines = _beside(pages, bells, text, terminal)
        if lines is not None:
            _show(terminal, *lines)
            _show_question(terminal, ask)
            continue
        reply = _answered(desk, chat, text, ask, terminal=terminal, bells=bells)
        ask = ask if reply is None else reply.ask
        if reply is not None and reply.verdict is not None:
            _show(terminal, *_drawn(pages, terminal))


def _spelt_out(text: str, ask: Question | None) -> str:
    """The word behind a letter; '?' asks for help where no question is open."""
    text = SHORT.get(text.casefold(), text)
    return "help" if text == "?" and ask is None else text


def _beside(pages: beside.BesideTalk, bells: Bells, text: str, terminal: Terminal) -> beside.Lines | None:
    """What is shown beside the talk; a store or a file that cannot be used is said, and the talk goes on."""
    now = terminal.clock()
    try:
        return bells.typed(text, now=now) or pages.asked(text, now=now)
    except (OSError, ValueError) as wrong:
        return tuple(str(wrong).splitlines())


def _next_line(terminal: Terminal, bells: Bells, ask: Question | None) -> str | None:
    """The next line that is typed; what is due rings before and meanwhile. A store that cannot be looked
    into is said once: it may come back, and half a line is not to be lost for it."""
    terminal.asks(ask)
    is_told = False
    while True:
        try:
            _ring(terminal, bells)
        except StoreError as wrong:
            if not is_told:
                _show(terminal, str(wrong))
            is_told = True
        if terminal.is_typed():
            return terminal.read()


def _ring(terminal: Terminal, bells: Bells) -> None:
    rung = bells.ring(terminal.clock())
    for text in rung:
        terminal.show(terminal.mark("bell", render.filled(text, terminal.width(), hang=2)))
    if rung:
        terminal.ring()


def _answered(
    desk: Desk, chat: str, text: str, ask: Question | None, *, terminal: Terminal, bells: Bells
) -> Reply | None:
    """Show the answer to one line; the reply, or None where nothing was sent on."""
    if len(text) > TEXT_LIMIT:
        _show(terminal, TOO_LONG)
    elif text.casefold() == "help":
        terminal.show("\n".join(helped(line, terminal.width()) for line in HELP))
    elif text or (ask is None and not _state(desk, chat).get("facts")):
        message = meant(text, ask) if text else Message(facts={})  # Enter alone: ask me
        return _sent(desk, chat, message, terminal=terminal, bells=bells)
    _show_question(terminal, ask)
    return None


def _state(desk: Desk, chat: str) -> dict[str, Any]:
    """The chat's state as it is kept, of whatever version; nothing where it cannot be looked up now."""
    try:
        kept = desk.standing(chat).session
    except StoreError:
        return {}
    found = {} if kept is None else json.loads(kept)
    return found if isinstance(found, dict) else {}


def _sent(desk: Desk, chat: str, message: Message, *, terminal: Terminal, bells: Bells) -> Reply:
    now = terminal.clock()
    taken = desk.answer(Envelope(chat, message=message), now=now, also=bells.along(now))
    assert taken.reply is not None  # no message ids here, so no repeats
    if taken.reply.forget:
        terminal.forgot()
    text = render.reply_text(taken.reply, terminal.width(), terminal.mark)
    terminal.show(text)
    if text.count("\n") + _PROMPT_LINES > terminal.height():
        _repeat_action(taken.reply, terminal)
    return taken.reply


def _repeat_action(reply: Reply, terminal: Terminal) -> None:
    """Say once more what to do, where the first line of a verdict has left the screen already."""
    for block in reply.blocks:
        if block.kind == "action":
            terminal.show(terminal.mark("action", render.filled(f"So: {block.text}", terminal.width())))


def _drawn(pages: beside.BesideTalk, terminal: Terminal) -> beside.Lines:
    try:
        return pages.after_verdict(now=terminal.clock())
    except OSError as wrong:  # the folder cannot be written: the advice stands all the same
        return (str(wrong),)


def _resumed(standing: Standing) -> tuple[str, ...]:
    """Since when the chat stands, and the advice it ended with: it may have left the screen with the line."""
    if standing.at is None:
        return ()
    when = datetime.fromisoformat(standing.at)
    lines = [f"We go on where we stood on {when:%d %b %Y at %H:%M}. Type 'new' to start afresh."]
    last = json.loads(standing.reply) if standing.reply else {}
    if last.get("verdict") is not None and last.get("say"):
        lines.append(f"My last advice: {last['say'][0]} ('summary' says all of it.)")
    return tuple(lines)


def _show(terminal: Terminal, *texts: str | Path) -> None:
    """Show texts broken into lines; the name of a file that was written stays in one piece."""
    for text in texts:
        is_file = isinstance(text, Path)
        terminal.show(f"File: {text}" if is_file else render.line_filled(str(text), terminal.width()))


def _show_question(terminal: Terminal, ask: Question | None) -> None:
    if ask is not None:
        terminal.show(render.question_text(ask, terminal.width(), terminal.mark))


def _change_units(desk: Desk, chat: str, terminal: Terminal, *, is_metric: bool) -> None:
    """Let a chat that spoke of other units speak of these."""
    if bool(_state(desk, chat).get("metric", is_metric)) == is_metric:
        return
    message = Message(command="metric" if is_metric else "us units")
    reply = desk.answer(Envelope(chat, message=message), now=terminal.clock()).reply
    assert reply is not None
    _show(terminal, *(block.text for block in reply.blocks))
