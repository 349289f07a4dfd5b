"""Beside the lessons: coaching a boater whose night is hidden, and looking back on one's own trips.

Both are open as a lesson's question is, so that a chat needs no other state: "play/CASE" is a boater, with
the questions asked so far, and "trip/..." a trip. Pure but for reading the log of trips.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from coach.front.school import Classroom
from coach.school import kept, marking
from coach.school.afterwards import TRIP, items_of
from coach.school.asking import given, question_lines
from coach.school.lesson import STOP
from coach.school.parts import Item
from coach.school.roleplay import Play, RolePlay
from coach.school.state import Answer, Learner, Open
from coach.store import Store
from coach.trips import kept as trip_log

PLAY, TRIPS = "play", "trips"
BOATER = "play/"
_FINDS = ("it is", "it's", "its ", "i think", "i say")
Stepped = tuple[Learner, tuple[str, ...]]
"""The learner after a step, and what is said."""


def is_boater(opened: Open | None) -> bool:
    """Whether a boater is being coached."""
    return opened is not None and opened.item.startswith(BOATER)


def is_trip(opened: Open | None) -> bool:
    """Whether a trip is asked about."""
    return opened is not None and opened.item.startswith(TRIP)


def is_part_of_play(text: str) -> bool:
    """Whether words are a question to the boater, or a finding, and so tell of no danger of one's own."""
    return "?" in text or text.strip().casefold().startswith(_FINDS)


class Asides:
    """Role plays and trips for the learners of one school. Raises StoreError."""

    def __init__(self, store: Store, room: Classroom) -> None:
        self._store, self._room, self._text = store, room, room.school.texts
        self._role = RolePlay(room.bank.kitchen)

    def begin(self, state: Learner, what: str, *, boat: str) -> Stepped:
        """Let a boater call, or ask about the latest trip of a boat that was not asked about yet."""
        if what == PLAY:
            case = self._role.after(state.last_boater or None)
            return _opened(state, Open(item=f"{BOATER}{case}")).model_copy(update={"last_boater": case}), ()
        state = state.model_copy(update={"boat": boat})
        item = self._next_trip(state, ())
        if item is None:
            return state.model_copy(update={"open": None}), (self._text["trip_none"],)
        return _opened(state, Open(item=item.id)), ()

    def step(self, state: Learner, opened: Open, text: str, *, now: datetime) -> Stepped:
        """Answer one text while one of both is open."""
        if " ".join(text.casefold().split()).strip(" .!") == STOP:
            return state.model_copy(update={"open": None}), (self._text["stopped"],)
        if is_boater(opened):
            return self._played(state, opened, text, now)
        return self._looked_back(state, opened, text, now)

    # -- a boater

    def hello(self, opened: Open) -> str:
        """How the boater calls."""
        return self._role.begin(opened.item.removeprefix(BOATER)).lines[0]

    def _played(self, state: Learner, opened: Open, text: str, now: datetime) -> Stepped:
        play = Play(case=opened.item.removeprefix(BOATER), asked=opened.asked)
        said = self._role.step(play, text, now=now)
        left = None if said.state.is_over else opened.model_copy(update={"asked": said.state.asked})
        return state.model_copy(update={"open": left}), said.lines

    # -- trips

    def trip(self, state: Learner, opened: Open) -> Item | None:
        """The question about the trip that is open."""
        return next(iter(self._items(state, (), only=opened.item)), None)

    def _looked_back(self, state: Learner, opened: Open, text: str, now: datetime) -> Stepped:
        item = self.trip(state, opened)
        if item is None:
            return state.model_copy(update={"open": None}), (self._text["trip_none"],)
        if text.strip().casefold() == "hint" and opened.hints < len(item.hints):
            return _opened(state, opened.model_copy(update={"hints": opened.hints + 1})), ()
        kitchen = self._room.bank.kitchen
        meant = given(text, item, 0, book=kitchen.book, lexicon=kitchen.tools.lexicon, now=now)
        if meant.kind not in ("picked", "unknown"):
            return state, (self._text["not_understood_choice"],)
        mark = marking.marked(item, meant.picked or None, opened, self._text)
        answer = Answer(
            item=item.id, topic=item.topic, picked=mark.picked, right=mark.right, first=True,
            hints=opened.hints, shown=meant.kind == "unknown", at=now,
        )  # fmt: skip
        lines = tuple(line for line in mark.lines if line != self._text["comes_back"])
        following = self._next_trip(state, (item.id,))
        state = state.model_copy(update={"fresh": (answer,), "open": None})
        if following is None:
            return state, lines
        return _opened(state, Open(item=following.id)), (*lines, "", *question_lines(following))

    def _next_trip(self, state: Learner, done: Iterable[str]) -> Item | None:
        return next(iter(self._items(state, done)), None)

    def _items(self, state: Learner, done: Iterable[str], *, only: str = "") -> Iterable[Item]:
        """Questions about the trips of the learner's boat that were not asked yet, the latest first."""
        with self._store.reading() as rows:
            trips = trip_log.trips(rows, state.boat)
            gone = {*done, *(answer.item for answer in kept.answers(rows, state.name))}
        made = items_of(trips, self._room.bank.kitchen)
        return (item for item in made if (item.id == only if only else item.id not in gone))


def _opened(state: Learner, opened: Open) -> Learner:
    return state.model_copy(update={"open": opened, "began": True})
