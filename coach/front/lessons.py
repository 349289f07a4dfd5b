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
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path

from coach.consultation import Infer
from coach.conversation import Choice, Message, Session
from coach.dialogue import step as turn
from coach.front import asides
from coach.front.asides import PLAY, TRIPS, Asides, Stepped
from coach.front.school import Classroom
from coach.front.taught import (
    NOT_TAUGHT,
    Moved,
    Shown,
    Taught,
    answer_in_words,
    before_question,
    is_same,
    split,
    why_not,
)
from coach.language.read import read
from coach.model import Rulebook
from coach.pictures import Picture
from coach.rulebook import default_folder
from coach.school import kept, progress
from coach.school.asking import picks, question_lines
from coach.school.lesson import MORE, STOP
from coach.school.parts import Item
from coach.school.rail import html, rail
from coach.school.state import Learner, Open
from coach.store import Rows, Store

LEFT_H = 3.0
"""Hours after which whoever left a lesson open is taken to speak to the coach again."""


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

    @cached_property
    def asides(self) -> Asides:
        """Role plays and trips. Raises RuleFaults."""
        return Asides(self._store, self.room)

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
            if state.open is not None and asides.is_boater(state.open):
                return self._boater(state.open)
            item = self._item(state)
            if state.open is None or item is None:
                return None
            return self._shown(state.open, item)

    def _item(self, state: Learner) -> Item | None:
        if state.open is None or asides.is_boater(state.open):
            return None
        if asides.is_trip(state.open):
            return self.asides.trip(state, state.open)
        return self.room.bank.item(state.open.item, state.open.turn)

    def _boater(self, opened: Open) -> Shown:
        hello, token = self.asides.hello(opened), hashlib.sha256(opened.item.encode()).hexdigest()[:8]
        return Shown(token, "boater", hello, (hello,), (), (), "", "", has_picture=False)

    def _shown(self, opened: Open, item: Item) -> Shown:
        is_sure, school = opened.phase == "sure", self.room.school
        sures = tuple(Choice(each.id, each.says) for each in school.sure)
        choices = sures if is_sure else picks(item, opened.turn)
        listed = [opened.item, opened.turn, opened.phase, *(choice.id for choice in choices)]
        return Shown(
            token=hashlib.sha256(json.dumps(listed).encode()).hexdigest()[:8],
            kind="sure" if is_sure else "trip" if asides.is_trip(opened) else "item",
            ask=item.ask,
            lines=(school.texts["how_sure"],) if is_sure else question_lines(item),
            hints=() if is_sure else item.hints[: opened.hints],
            choices=choices,
            unit=item.wanted.unit if item.wanted is not None and not is_sure else "",
            answered=answer_in_words(item, opened.picked) if is_sure else "",
            has_picture=bool(item.picture) and not is_sure,
        )

    def picture(self, state: Learner, *, now: datetime, theme: str) -> Picture | None:
        """The picture of the open question, if it has one."""
        with self._lock:
            shown = self.shown(state)
            if shown is None or not shown.has_picture:
                return None
            return self.room.lesson.picture(state, now=now, theme=theme)

    # -- steps

    def step(self, name: str, text: str, *, now: datetime, called: str = "", boat: str = "") -> Taught:
        """A step worked out on what is kept; `boat` is whose trips are looked back on. Raises one of
        NOT_TAUGHT."""
        with self._lock:
            before = self.learner(name)
            awake = before.model_copy(update={"called": called, "rests": False, "fresh": ()})
            after, lines = self._stepped(awake, text, now, boat)
            return self._taught(before, after, lines)

    def _stepped(self, state: Learner, text: str, now: datetime, boat: str) -> Stepped:
        opened = state.open
        if opened is None and text in (PLAY, TRIPS):
            return self.asides.begin(state, text, boat=boat)
        if opened is not None and (asides.is_boater(opened) or asides.is_trip(opened)):
            return self.asides.step(state, opened, text, now=now)
        made = self.room.lesson.step(state, text, now=now)
        return made.state, made.lines

    def _taught(self, before: Learner, after: Learner, lines: tuple[str, ...]) -> Taught:
        item = self._item(after)
        was, now_open = before.open, after.open
        if asides.is_boater(now_open):
            return Taught(before, after.model_copy(update={"said": lines}), note=lines)
        if was is not None and now_open is not None and is_same(was, now_open):
            is_hint = now_open.hints > was.hints
            note = () if is_hint else tuple(line for line in lines if item is None or line != item.ask)
            return Taught(before, after, note=note)
        if now_open is not None and now_open.phase == "sure":
            return Taught(before, after)
        said = before_question(lines, item)
        marked, told = split(said) if was is not None else ((), said)
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
        if shown is not None and shown.kind == "boater" and asides.is_part_of_play(text):
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


__all__ = ["MORE", "NOT_TAUGHT", "PLAY", "STOP", "TRIPS", "Lessons", "Moved", "Shown", "Taught", "why_not"]
