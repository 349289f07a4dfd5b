"""Lessons in the page: the school of `coach drill` beside a consultation that it leaves alone.

Each browser is a learner of its own, kept under the name of its boat, and forgotten with it.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from coach.conversation import Message
from coach.front.asides import is_boater
from coach.front.lessons import MORE, NOT_TAUGHT, PLAY, STOP, TRIPS, Lessons, Moved, Taught, why_not
from coach.front.school import ATTEMPTS
from coach.front.web import words
from coach.front.web.turns import Answer, Case, Turns
from coach.school import kept
from coach.school.state import Learner
from coach.store import Rows, StoreError

_HELD = '<body><p class="screen"><a href="/">Back to the coach</a></p>'
_LINK = (
    "a { color: inherit; display: inline-block; padding: 14px 0; }"
    " @media print { .screen { display: none; } }"
)
_CLOSED: dict[str, Any] = {
    "is_open": False, "token": "", "kind": "", "said": [], "facts": [], "ask": "", "hints": [],
    "answers": [], "unit": "", "answered": "", "picture": None, "has_played": False,
}  # fmt: skip


class LessonsOfPage:
    """What the page asks of the school. Raises StoreError."""

    def __init__(self, turns: Turns, lessons: Lessons) -> None:
        self._turns, self._lessons = turns, lessons

    # -- steps

    def learn(self, case: Case) -> Answer:
        """A lesson begins ("" or "more"), a boater calls ("play"), trips are looked back on ("trips"), or it
        ends ("stop"); what is open is left as it is."""
        what = case.posted.what
        if what not in ("", MORE, STOP, PLAY, TRIPS):
            return Answer(error=("bad-value", words.NO_SUCH))
        is_danger = set(self._turns.session(case.boat).hazards_told) & set(self._turns.book.emergencies)
        if is_danger and what != STOP:
            return Answer(error=("not-now", words.LESSON_NOT_NOW))
        try:
            shown = self._lessons.shown(self._lessons.learner(case.boat))
            if (shown is not None) == (what == STOP):
                return self._step(case, what)
            return self._turns.beside(case, lambda rows: self._left_as_it_is(rows, case))
        except NOT_TAUGHT as error:
            return Answer(error=("no-lesson", why_not(error)))

    def _left_as_it_is(self, rows: Rows, case: Case) -> str:
        if kept.last_at(rows, case.boat) is not None:
            self._lessons.goes_on(case.boat).keep(rows, at=case.now)
        return ""

    def answer(self, case: Case) -> Answer:
        """Something for the open question: a digit, words, a number, "hint" or "?"."""
        text = case.posted.what
        try:
            state = self._lessons.learner(case.boat)
            shown = self._lessons.shown(state)
            if shown is None or case.posted.about != shown.token:
                return self._turns.beside(case, _closed)
            if self._lessons.is_hazard(text, state, now=case.now):
                return self._turns.turn(case, Message(text=text), first=lambda rows: self._rests(rows, case))
            return self._step(case, text)
        except NOT_TAUGHT as error:
            return Answer(error=("no-lesson", why_not(error)))

    def _rests(self, rows: Rows, case: Case) -> str:
        self._lessons.rest(rows, case.boat, at=case.now)
        return words.LESSON_RESTS

    def _step(self, case: Case, text: str) -> Answer:
        for _ in range(ATTEMPTS):
            taught = self._lessons.step(case.boat, text, now=case.now, boat=case.boat)
            is_play = is_boater(taught.after.open)

            def write(rows: Rows, taught: Taught = taught, is_play: bool = is_play) -> str:
                taught.keep(rows, at=case.now)
                return "" if is_play else " ".join(taught.note)  # what a boater says stands in the lesson

            try:
                return self._turns.beside(case, write)
            except Moved:
                continue
        raise StoreError("other programs keep changing this learner. Try again.")

    def sign(self, case: Case) -> Answer:
        """A captain signs all that is ready."""
        try:
            by = kept.checked_name(case.posted.what)
            topics = self._lessons.ready(case.boat)
        except ValueError:
            return Answer(error=("bad-value", words.SIGN_HOW))
        except NOT_TAUGHT as error:
            return Answer(error=("no-lesson", why_not(error)))
        if not topics:
            return Answer(error=("bad-value", words.SIGN_NOTHING))

        def write(rows: Rows) -> str:
            kept.sign(rows, case.boat, topics, by=by, at=case.now)
            return words.SIGNED.format(by=by, count=len(topics))

        return self._turns.beside(case, write)

    # -- what is shown

    def state(self, boat: str, *, now: datetime) -> dict[str, Any]:
        """The open question and what was said before it, for the page; nothing where there is no lesson."""
        try:
            learner = self._lessons.learner(boat)
            return self._state(learner, now) if learner.began or learner.said else _CLOSED
        except NOT_TAUGHT:
            return _CLOSED

    def _state(self, learner: Learner, now: datetime) -> dict[str, Any]:
        shown = self._lessons.shown(learner)
        if shown is None or learner.rests:
            return {**_CLOSED, "said": list(learner.said), "has_played": bool(learner.last_boater)}
        drawn = None
        if shown.has_picture:
            drawn = self._lessons.picture(learner, now=now, theme="dim")
        return {
            "is_open": True,
            "token": shown.token,
            "kind": shown.kind,
            "said": [] if shown.is_sure else list(learner.said),
            "facts": [] if shown.is_sure else list(shown.lines[:-1]),
            "ask": shown.ask,
            "hints": list(shown.hints),
            "answers": [choice.label for choice in shown.choices],
            "unit": shown.unit,
            "answered": shown.answered,
            "has_played": bool(learner.last_boater),
            "picture": None if drawn is None else list(drawn.words),
        }

    def picture(self, boat: str, *, theme: str, now: datetime) -> str | None:
        """The picture of the open question as SVG; None where there is none. Raises ValueError for a theme
        that is none."""
        try:
            drawn = self._lessons.picture(self._lessons.learner(boat), now=now, theme=theme)
        except NOT_TAUGHT:
            return None
        return None if drawn is None else drawn.svg

    def standing(self, boat: str) -> dict[str, Any]:
        """How the learner stands, in lines, and whether a captain may sign something."""
        try:
            return {"lines": list(self._lessons.standing(boat)), "is_ready": bool(self._lessons.ready(boat))}
        except NOT_TAUGHT as error:
            return {"lines": [why_not(error)], "is_ready": False}

    def paper(self, boat: str, form: str, *, now: datetime) -> str | None:
        """What is kept of the learner as a file; None for a form that is none, or where nothing can be
        read."""
        try:
            return self._lessons.papers(boat, now=now).get(form)
        except NOT_TAUGHT:
            return None

    def sheet(self, boat: str, *, now: datetime) -> str | None:
        """The sheet for the rail as a page, with the way back to the coach (not on paper)."""
        page = self.paper(boat, "sheet.html", now=now)
        if page is None:
            return None
        return page.replace("</style>", f"{_LINK}</style>", 1).replace("<body>", _HELD, 1)


def _closed(rows: Rows) -> str:
    del rows
    return words.CLOSED
