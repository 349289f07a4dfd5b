"""How what a browser sent is kept: with a turn of the core, or beside it; each message once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from coach.consult import Desk, Made
from coach.conversation import Message, Question, Session
from coach.exchange import Envelope, open_question
from coach.figures.rig import Rig
from coach.front import tally
from coach.front.web.posted import Posted
from coach.post import browsers, crew, ringing
from coach.store import Beside, Rows, StoreError

Writes = Callable[[Rows], str]
"""What is written beside the core, and what is said about it."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What is said about a message beside the log: a note, or an error (code, words) if nothing was taken."""

    note: str = ""
    error: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """A message with the boat it is for and the time at which it was said."""

    boat: str
    posted: Posted
    now: datetime


class Turns:
    """Keeps what messages do. Raises StoreError if nothing could be kept."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.store, self.book, _ = desk.parts
        self.rig = Rig.from_numbers(dict(self.book.numbers))

    def turn(self, case: Case, message: Message, *, first: Writes | None = None) -> Answer:
        """A turn of the core with all that follows from it; what `first` writes is kept with it."""
        noted: list[str] = []

        def also(made: Made) -> Beside:
            def write(rows: Rows) -> None:
                noted[:] = [first(rows)] if first is not None and not made.reply.error else []
                self._follow(rows, case, made)

            return write

        taken = self._desk.answer(Envelope(case.boat, case.posted.id, message), now=case.now, also=also)
        error = taken.reply.error if taken.reply is not None else None
        if error is not None and error[0] == "store":
            raise StoreError(error[1])
        if error is not None and error[0] == "internal":
            return Answer(error=error)
        return Answer(" ".join(noted))

    def beside(self, case: Case, writes: Writes) -> Answer:
        """One transaction beside the core, unless this message was done before."""
        with self.store.writing() as rows:
            if not browsers.is_first(rows, case.boat, case.posted.id, at=case.now.timestamp()):
                return Answer()
            return Answer(writes(rows))

    def ask(self, case: Case) -> tuple[Question | None, bool]:
        """The open question, and whether this message was answered before."""
        standing = self.store.look(case.boat, case.posted.id)
        return open_question(standing.reply), standing.repeat is not None

    def session(self, boat: str) -> Session:
        """What the chat knows; nothing where another version kept it."""
        standing = self.store.look(boat)
        try:
            return Session.model_validate_json(standing.session) if standing.session else Session()
        except ValidationError:
            return Session()

    def zone(self, boat: str) -> ZoneInfo | None:
        """The zone of the boat's clock; None for this machine's."""
        with self.store.reading() as rows:
            told = crew.aboard(rows, boat)
        return ZoneInfo(told["zone"]) if "zone" in told else None

    def _follow(self, rows: Rows, case: Case, made: Made) -> None:
        ringing.follow_turn(rows, case.boat, made, book=self.book, rig=self.rig, now=case.now)
        if made.reply.verdict is not None and made.reply.verdict["causes"]:
            tally.new_stretch(rows, case.boat, case.now.timestamp())
