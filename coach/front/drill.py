"""`coach drill`: the school in the terminal: lessons, role play, trips looked back on, progress, sheet."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

from coach.conversation import Choice
from coach.front import keyboard, render
from coach.front.drill_talk import talk
from coach.front.given import clock, write, write_picture
from coach.front.school import Classroom, opened
from coach.front.talk import answers_only
from coach.pictures.png import png
from coach.pictures.themes import THEMES
from coach.school import kept, progress
from coach.school.chart import progress_chart
from coach.school.rail import html, pdf, rail
from coach.store import Store, default_path

FAREWELL = "Bye. Keep a hand for the boat."
ACTIONS = ("lesson", "play", "trips", "progress", "sheet", "sign", "group", "export", "forget")


def serve(action: str | None = None, learner: str = "me", store: str | None = None, **options: Any) -> int:
    """Do what was asked; the exit code: 0, or 2 if something was not understood."""
    if not 1 <= len(learner) <= kept.NAME_LIMIT:
        print(f"learner: got {len(learner)} characters; allowed 1 to {kept.NAME_LIMIT}", file=sys.stderr)
        return 2
    with closing(Store(store or default_path())) as kept_in:
        room = opened(kept_in, options.get("rules"))
        try:
            if options.get("json") and action in (None, "lesson"):
                talk(room, sys.stdin.buffer, answers_only(), clock=lambda: clock(None))
                return 0
            for line in _DOES[action or "lesson"](room, learner, options):
                print(render.fit(line, sys.stdout.encoding))
        except (ValueError, kept.OtherVersionError) as wrong:
            print(wrong, file=sys.stderr)
            return 2
    return 0


# --- what is typed and answered ----------------------------------------------------------------------------


def _lesson(room: Classroom, learner: str, options: Mapping[str, Any]) -> Iterator[str]:
    """A lesson, line by line, until it is over, `bye`, or the end of input."""
    yield from converse(
        room.lesson_step, learner, _clock(options), pictures=options.get("picture"), room=room
    )


def _play(room: Classroom, learner: str, options: Mapping[str, Any]) -> Iterator[str]:
    """A role play."""
    yield from converse(room.play_step, learner, _clock(options), pictures=None, room=room)


def _clock(options: Mapping[str, Any]) -> Callable[[], datetime]:
    at = options.get("at")
    return lambda: clock(at)


LEAVING = ("bye", "exit", "stop")
"""What ends it at once; after the last question an empty line does too, and "more" goes on."""


def converse(
    step: Callable[..., Any],
    learner: str,
    now: Callable[[], datetime],
    *,
    pictures: Path | None,
    room: Classroom,
) -> Iterator[str]:
    """Show what a step says, read a line, and so on. Pictures go to a folder as PNG, if one is named."""
    text = ""
    while True:
        width = keyboard.width()
        said = step(learner, text, now=now())
        yield from shown(said.lines, said.choices, width)
        yield from _drawn(room, learner, now(), pictures, width)
        if said.is_over and text.casefold() in LEAVING:
            break
        line = _line()
        if line is None or line.casefold() in LEAVING[:2] or (said.is_over and not line.strip()):
            break
        text = line
    yield FAREWELL


def shown(lines: Sequence[str], choices: Sequence[Choice], width: int) -> Iterator[str]:
    """Lines broken to the width, and the choices with their digits."""
    for line in lines:
        yield render.filled(line, width) if line else ""
    for digit, choice in enumerate(choices, 1):
        yield render.filled(f"{digit} {choice.label}", width, indent=2, hang=2)


def _drawn(room: Classroom, learner: str, now: datetime, folder: Path | None, width: int) -> Iterator[str]:
    """The picture of the open question: in words, and as a file where a folder is named."""
    picture = room.picture(learner, now=now)
    if picture is None:
        return
    for sentence in picture.words:
        yield render.filled(f"| {sentence}", width, hang=2)
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        file = folder / "question.png"
        write(file, png(picture.svg))
        yield f"Picture: {file}"


def _line() -> str | None:
    """The next line, or None at the end of input; a prompt where a person types."""
    if sys.stdin.isatty():
        print("> ", end="", flush=True)
    line = sys.stdin.readline()
    return render.typed(line) if line else None


# --- looking back, progress, signatures --------------------------------------------------------------------


def _trips(room: Classroom, learner: str, options: Mapping[str, Any]) -> Iterator[str]:
    """The nights in the log as questions: what you thought it was, what it was."""
    yield from converse(room.trip_step, learner, _clock(options), pictures=None, room=room)


def _progress(room: Classroom, learner: str, options: Mapping[str, Any]) -> Iterator[str]:
    state, answers, signed = room.known(learner)
    if options.get("json"):
        yield progress.as_json(state, answers, room.school, signed).rstrip()
        return
    if options.get("picture") is not None:
        drawing = progress_chart(progress.sheet(state, room.school, signed), room.school, name=learner)
        write_picture(options["picture"], drawing.svg(THEMES[options.get("theme") or "dim"]))
        yield f"Picture: {options['picture']}"
    yield from progress.words(state, answers, room.school)


def _sheet(room: Classroom, learner: str, options: Mapping[str, Any]) -> Iterator[str]:
    """The sheet for the rail, with what the captain signs."""
    state, answers, signed = room.known(learner)
    page = rail(state, room.bank, signed, answers, day=f"{clock(options.get('at')):%d %b %Y}")
    files: Sequence[Path] = options.get("out") or ()
    makes: dict[str, Callable[[], str | bytes]] = {
        ".html": lambda: html(page),
        ".pdf": lambda: pdf(page, paper=options.get("paper") or "a4"),
        ".txt": lambda: "\n".join(page.words()) + "\n",
    }
    for file in files:
        if file.suffix.casefold() not in makes:
            raise ValueError(f"{file}: got the ending '{file.suffix}'; allowed {', '.join(makes)}")
        write(file, makes[file.suffix.casefold()]())
        yield f"Sheet: {file}"
    if not files:
        yield from page.words()


def _sign(room: Classroom, learner: str, options: Mapping[str, Any]) -> Iterator[str]:
    """A captain signs topics, or takes a signature back."""
    yield from room.sign(
        learner,
        options.get("topics") or (),
        by=options.get("by") or "",
        now=clock(options.get("at")),
        back=bool(options.get("back")),
    )


def _group(room: Classroom, learner: str, options: Mapping[str, Any]) -> Iterator[str]:
    """A line a learner, for the captain."""
    del learner, options
    yield from progress.group_lines(room.group(), room.school)


def _export(room: Classroom, learner: str, options: Mapping[str, Any]) -> Iterator[str]:
    """Every answer as CSV for a spreadsheet, of one learner or of all."""
    names = [name for name, _, _ in room.all_learners()] if options.get("all") else [learner]
    made = progress.as_csv({name: room.known(name)[1] for name in names})
    file: Path | None = options.get("file")
    if file is None:
        yield made.rstrip("\r\n")
        return
    write(file, made)
    yield f"{len(names)} learners: {file}"


def _forget(room: Classroom, learner: str, options: Mapping[str, Any]) -> Iterator[str]:
    """Erase a learner."""
    del options
    room.forget(learner)
    yield f"Forgotten: nothing of the learner '{learner}' is kept."


_DOES: Mapping[str, Callable[[Classroom, str, Mapping[str, Any]], Iterator[str]]] = {
    "lesson": _lesson,
    "play": _play,
    "trips": _trips,
    "progress": _progress,
    "sheet": _sheet,
    "sign": _sign,
    "group": _group,
    "export": _export,
    "forget": _forget,
}
