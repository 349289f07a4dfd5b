"""What a browser's message means, and doing it: from any browser, in several threads at once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from coach.commands import spoken_command
from coach.consult import Desk
from coach.conversation import Message, Question
from coach.counting import read_count
from coach.front.lessons import Lessons
from coach.front.web import words
from coach.front.web.asked import likeliest, token
from coach.front.web.errands import Errands, at_place
from coach.front.web.lessons import LessonsOfPage
from coach.front.web.posted import AGE_LIMIT_S, Posted
from coach.front.web.turns import Answer, Case, Turns
from coach.language.read import read
from coach.model import UNKNOWN

_CLOSED = Answer(error=("closed", words.CLOSED))
_UNKNOWN = Message(pick=UNKNOWN, has_pick=True)


class Office:
    """Handles messages. Raises StoreError if nothing could be kept: then it may be sent again."""

    def __init__(self, desk: Desk, lessons: Lessons) -> None:
        self._turns = Turns(desk)
        self._lessons = LessonsOfPage(self._turns, lessons)
        self._errands = Errands(self._turns)
        self._facts, self._lexicon = self._turns.book.facts, self._turns.book.lexicon

    def handle(self, boat: str, posted: Posted, *, now: datetime) -> Answer:
        """Do it, unless it was done before."""
        said_at = now - timedelta(seconds=min(posted.age_s, AGE_LIMIT_S))
        case = Case(boat, posted, said_at.astimezone(self._turns.zone(boat)))
        errands = self._errands
        doings: dict[str, Callable[[Case], Answer]] = {
            "say": self._say,
            "pick": self._picked,
            "unknown": self._picked,
            "command": self._command,
            "count": errands.count,
            "uncount": errands.uncount,
            "bell": errands.bell,
            "found": errands.found,
            "helped": errands.helped,
            "place": errands.place,
            "here": errands.place,
            "draft": errands.told,
            "battery": errands.told,
            "learn": self._lessons.learn,
            "answer": self._lessons.answer,
            "sign": self._lessons.sign,
        }
        return doings[posted.do](case)

    def _say(self, case: Case) -> Answer:
        text = case.posted.what
        if counts := read_count(" ".join(text.split())):
            return self._errands.counted(case, counts)
        ask, is_repeat = self._turns.ask(case)
        if is_repeat:
            return Answer()
        if case.posted.about != token(ask) and not self._stands_alone(text, case.now):
            return Answer(error=("changed", words.CHANGED))
        return self._turns.turn(case, self._meant(text, ask))

    def _stands_alone(self, text: str, now: datetime) -> bool:
        """Whether a text means something by itself, whatever question is open. A bare number that was
        typed for one question must never answer the next."""
        if spoken_command(text) is not None:
            return True
        return bool(read(text, asked=None, lexicon=self._lexicon, now=now).facts)

    def _meant(self, text: str, ask: Question | None) -> Message:
        word = text.strip(" .!")
        if ask is None or not word:
            return Message(text=text)
        has_list = ask.type not in {"number", "time"}
        if word == "?" or (has_list and word == "0"):
            return _UNKNOWN
        answer = at_place(word, likeliest(ask, self._facts)) if has_list else None
        return Message(text=text) if answer is None else Message(pick=answer[0], has_pick=True)

    def _picked(self, case: Case) -> Answer:
        ask, is_repeat = self._turns.ask(case)
        if is_repeat:
            return Answer()
        if ask is None or case.posted.about != token(ask):
            return _CLOSED
        if case.posted.do == "unknown":
            return self._turns.turn(case, _UNKNOWN)
        answer = at_place(case.posted.what, likeliest(ask, self._facts))
        if answer is None:
            return _CLOSED
        return self._turns.turn(case, Message(pick=answer[0], has_pick=True))

    def _command(self, case: Case) -> Answer:
        if case.posted.what not in words.COMMANDS:
            return Answer(error=("bad-command", words.NO_SUCH))
        return self._turns.turn(case, Message(command=case.posted.what))
