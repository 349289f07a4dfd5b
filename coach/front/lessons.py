"""A lesson in a chat that also consults: what is open in it, what is shown of that, what the coach must hear.

What the bot and the page share. A lesson is open in a chat as long as one of its questions is; the
consultation beside it is never touched. Each step is worked out first and kept later, in a transaction of
whoever shows it, so that it is kept together with the message that brought it, or not at all.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path

from coach.consultation import Infer
from coach.dialogue import step as turn
from coach.front.school import Classroom
from coach.language.read import read
from coach.model import Choice, Message, Rulebook, RuleFaults, Session
from coach.pictures import Picture
from coach.rulebook import default_folder
from coach.school import kept, progress
from coach.school.asking import picks, question_lines
from coach.school.kept import OtherVersionError
from coach.school.lesson import MORE, STOP
from coach.school.numbers import said as in_unit
from coach.school.parts import Item
from coach.school.rail import html, rail
from coach.school.spacing import MissingSchedulerError
from coach.school.state import Learner, Open
from coach.store import Rows, Store

LEFT_H = 3.0
"""Hours after which whoever left a lesson open is taken to speak to the coach again."""
NOT_TAUGHT = (MissingSchedulerError, RuleFaults, OtherVersionError)
"""Why there may be no lesson on this machine, or for this learner."""
_FAULTY = "The school's questions have faults. On the machine of the coach run: coach rules check"
_OLD = "What is kept of your lessons was kept by another version of the coach. Forgetting starts afresh."


class Moved(RuntimeError):  # noqa: N818  (what happened)
    """The learner answered elsewhere meanwhile: work the step out again."""


@dataclass(frozen=True, slots=True)
class Shown:
    """The open question as a screen of any kind.

    `token` tells it from every other; `lines` are the facts and the question, `hints` those given so far,
    `unit` what a number is wanted in ("" where there are choices). `answered` is what was answered, while it
    is asked how sure one is.
    """

    token: str
    is_sure: bool
    ask: str
    lines: tuple[str, ...]
    hints: tuple[str, ...]
    choices: tuple[Choice, ...]
    unit: str
    answered: str
    has_picture: bool


@dataclass(frozen=True, slots=True)
class Taught:
    """A step that is worked out and not yet kept. `marked` is said about the answer, `told` what comes before
    the next question, `note` what is said where the same question stays open."""

    before: Learner
    after: Learner
    marked: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    note: tuple[str, ...] = ()

    @property
    def is_over(self) -> bool:
        """Whether nothing is asked any more."""
        return self.after.open is None

    def keep(self, rows: Rows, *, at: datetime) -> None:
        """Keep it. Raises Moved, and keeps nothing, if the learner does not stand where he stood."""
        if kept.learner(rows, self.before.name) != self.before:
            raise Moved(self.before.name)
        kept.keep(rows, self.after, at=at)


class Lessons:
    """Lessons for the learners of a store. From several threads; one at a time. Raises StoreError, and one of
    NOT_TAUGHT where it says so."""

    def __init__(self, store: Store, book: Rulebook, folder: Path | None, *, infer: Infer) -> None:
        self._store, self._book, self._infer = store, book, infer
        self._folder, self._lock = folder or default_folder(), threading.RLock()

    @cached_property
    def room(self) -> Classroom:
        """The school, made when it is first wanted. Raises RuleFaults."""
        return Classroom(self._store, self._book, self._folder)

    # -- where a learner stands

    def learner(self, name: str) -> Learner:
        """Where a learner stands. Raises OtherVersionError."""
        with self._store.reading() as rows:
            return kept.learner(rows, name)

    def open_for(self, name: str, *, now: datetime) -> Learner | None:
        """The learner, if words written at `now` are for the lesson: a question is open, and not left alone
        for LEFT_H hours."""
        try:
            with self._store.reading() as rows:
                at = kept.last_at(rows, name)
                if at is None or now - at > timedelta(hours=LEFT_H):
                    return None
                state = kept.learner(rows, name)
            return state if not state.rests and self.shown(state) is not None else None
        except NOT_TAUGHT:
            return None

    def shown(self, state: Learner) -> Shown | None:
        """The open question; None where none is. Raises RuleFaults."""
        with self._lock:
            item = self._item(state.open)
            if state.open is None or item is None:
                return None
            return self._shown(state.open, item)

    def _item(self, opened: Open | None) -> Item | None:
        return None if opened is None else self.room.bank.item(opened.item, opened.turn)

    def _shown(self, opened: Open, item: Item) -> Shown:
        is_sure, school = opened.phase == "sure", self.room.school
        sures = tuple(Choice(each.id, each.says) for each in school.sure)
        choices = sures if is_sure else picks(item, opened.turn)
        listed = [opened.item, opened.turn, opened.phase, *(choice.id for choice in choices)]
        return Shown(
            token=hashlib.sha256(json.dumps(listed).encode()).hexdigest()[:8],
            is_sure=is_sure,
            ask=item.ask,
            lines=(school.texts["how_sure"],) if is_sure else question_lines(item),
            hints=() if is_sure else item.hints[: opened.hints],
            choices=choices,
            unit=item.wanted.unit if item.wanted is not None and not is_sure else "",
            answered=_answer(item, opened.picked) if is_sure else "",
            has_picture=bool(item.picture) and not is_sure,
        )

    def picture(self, state: Learner, *, now: datetime, theme: str) -> Picture | None:
        """The picture of the open question, if it has one."""
        with self._lock:
            return self.room.lesson.picture(state, now=now, theme=theme)

    # -- steps

    def step(self, name: str, text: str, *, now: datetime, called: str = "") -> Taught:
        """A step worked out on what is kept. Raises one of NOT_TAUGHT."""
        with self._lock:
            before = self.learner(name)
            awake = before.model_copy(update={"called": called, "rests": False})
            made = self.room.lesson.step(awake, text, now=now)
            return self._taught(before, made.state, made.lines)

    def _taught(self, before: Learner, after: Learner, lines: tuple[str, ...]) -> Taught:
        item = self._item(after.open)
        was, now_open = before.open, after.open
        if was is not None and now_open is not None and _is_same(was, now_open):
            is_hint = now_open.hints > was.hints
            note = () if is_hint else tuple(line for line in lines if item is None or line != item.ask)
            return Taught(before, after, note=note)
        if now_open is not None and now_open.phase == "sure":
            return Taught(before, after)
        said = _before_question(lines, item)
        marked, told = _split(said) if was is not None else ((), said)
        return Taught(before, after.model_copy(update={"said": said}), marked, told)

    def goes_on(self, name: str) -> Taught:
        """A lesson that was left or that rests is taken up where it stood. Raises OtherVersionError."""
        before = self.learner(name)
        return Taught(before, before.model_copy(update={"rests": False}))

    def rest(self, rows: Rows, name: str, *, at: datetime) -> None:
        """Let a lesson wait, for something more urgent was said."""
        state = kept.learner(rows, name)
        kept.keep(rows, state.model_copy(update={"rests": True, "fresh": ()}), at=at)

    # -- what the coach must hear

    def is_hazard(self, text: str, state: Learner, *, now: datetime) -> bool:
        """Whether words written during a lesson tell the coach of a danger. An answer of the open question,
        word for word, does not; all else that the coach would warn of does."""
        shown = self.shown(state)
        said = " ".join(text.casefold().split())
        if shown is not None and said in {each.label.casefold() for each in shown.choices}:
            return False
        if not read(text, asked=None, lexicon=self._book.lexicon, now=now).facts:
            return False
        _, reply = turn(Session(), Message(text=text), now=now, book=self._book, infer=self._infer)
        return bool(reply.hazards)

    # -- how one stands

    def standing(self, name: str) -> tuple[str, ...]:
        """How a learner stands, topic by topic, and what a captain signed. Raises as `learner` does."""
        state, answers, signed = self.room.known(name)
        school = self.room.school
        return (*progress.words(state, answers, school), "", *progress.sheet_lines(state, school, signed))

    def ready(self, name: str) -> tuple[str, ...]:
        """The topics that a captain may sign now, by id. Raises as `learner` does."""
        state, _, signed = self.room.known(name)
        rows = progress.sheet(state, self.room.school, signed)
        return tuple(row.gate.topic for row in rows if row.is_ready and row.signed is None)

    def papers(self, name: str, *, now: datetime) -> Mapping[str, str]:
        """What is kept of a learner, as files by name. Raises as `learner` does."""
        state, answers, signed = self.room.known(name)
        with self._lock:
            page = rail(state, self.room.bank, signed, answers, day=f"{now:%d %b %Y}")
        return {
            "lessons.csv": progress.as_csv({name: answers}),
            "lessons.json": progress.as_json(state, answers, self.room.school, signed),
            "sheet.html": html(page),
        }


def why_not(error: BaseException) -> str:
    """What a learner is told where there is no lesson."""
    if isinstance(error, RuleFaults):
        return _FAULTY
    return _OLD if isinstance(error, OtherVersionError) else str(error)


def _is_same(one: Open, other: Open) -> bool:
    return (one.item, one.turn, one.phase) == (other.item, other.turn, other.phase)


def _answer(item: Item, picked: str) -> str:
    """An answer in words."""
    return in_unit(float(picked), item.wanted.unit) if item.wanted else item.choice(picked).text


def _before_question(lines: tuple[str, ...], item: Item | None) -> tuple[str, ...]:
    """The lines less the question at their end."""
    asked = set(question_lines(item)) if item is not None else set()
    end = len(lines)
    while end and lines[end - 1] in asked:
        end -= 1
    while end and not lines[end - 1]:
        end -= 1
    return lines[:end]


def _split(said: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is said about an answer, and what is told before the next question: a gap lies between them."""
    gap = said.index("") if "" in said else len(said)
    return said[:gap], said[gap + 1 :]


__all__ = ["MORE", "NOT_TAUGHT", "STOP", "Lessons", "Moved", "Shown", "Taught", "why_not"]
