"""One consultation after another: the shell around the pure core.

A `Desk` takes what was sent to a chat, lets the core work out the next state and the reply, and
commits both to the store before anybody sees the answer. Whatever goes wrong in a turn is caught
here, at one place: it is answered, and the chat stands where it stood.

Error codes of its own: store (the answer could not be written down), old-state (the chat was kept
by another version), internal (a fault of the program; its kind is on standard error, never what
the person said).
"""

from __future__ import annotations

import contextlib
import json
import sys
import traceback
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from pydantic import ValidationError

from coach import exchange, rulebook
from coach.apparatus import apparatus
from coach.commands import is_undo
from coach.conversation import Message, Reply, Session
from coach.dialogue import step
from coach.engine import Engine, EngineLimits
from coach.exchange import Envelope
from coach.model import Firing, Inference, Rulebook, RuleFaults, Scalar
from coach.store import Beside, Standing, Store, StoreError, Turn, default_path, nothing_else
from coach.trips.changes import changes

Infer = Callable[[Mapping[str, Scalar]], Inference]
UNUSABLE = (RuleFaults, EngineLimits)
"""What is raised where a rule base cannot be used: its text names every fault, one a line."""

NOTHING_KNOWN = Session()
ATTEMPTS = 20
INTERNAL = "Something is wrong inside the coach; what you sent changed nothing. Say it another way."
OLD_STATE = "This chat was kept by another version of the coach. Send 'new' to start afresh."


class Step(Protocol):
    """The core: `coach.dialogue.step`."""

    def __call__(
        self, session: Session, message: Message, *, now: datetime, book: Rulebook, infer: Infer
    ) -> tuple[Session, Reply]: ...


@dataclass(frozen=True, slots=True)
class Taken:
    """An answer: its line in the exchanged form and the reply behind it.

    `reply` is None for a message id seen before: only the line of that answer is kept.
    """

    line: str
    reply: Reply | None


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What a turn comes to. `session` is JSON text and, if the reply is an error, as before."""

    session: str | None
    reply: Reply
    fired: tuple[str, ...] = ()
    before: Session = NOTHING_KNOWN
    after: Session = NOTHING_KNOWN


@dataclass(frozen=True, slots=True)
class Made:
    """A turn about to be kept: the state before and after (the same with an error), and the reply."""

    before: Session
    after: Session
    reply: Reply


Also = Callable[[Made], Beside]
"""What a front end writes along with a turn."""


def _nothing(made: Made) -> Beside:
    del made
    return nothing_else


class Desk:
    """Answers messages for any number of chats, one at a time. Holds no chat's state itself.

    `metric`: what a chat begins with that has never said whether it speaks of feet or of metres.
    """

    def __init__(
        self, store: Store, book: Rulebook, *, infer: Infer, step: Step, metric: bool = False
    ) -> None:
        self._store, self._book, self._infer, self._step = store, book, infer, step
        self._fresh = Session(metric=metric)

    def answer(self, envelope: Envelope, *, now: datetime, also: Also = _nothing) -> Taken:
        """Answer one message or refused line. Never raises for what happens within the turn.

        What `also` gives is written in the transaction of the turn, or not at all if the turn is not.
        """
        try:
            return self._turn(envelope, now, also)
        except StoreError as error:
            _log(str(error))
            return self._failed(envelope, ("store", f"This could not be written down: {error}"))
        except Exception as error:  # the one place where a fault of the program is caught
            _log(_kind(error))
            return self._failed(envelope, ("internal", INTERNAL))

    @property
    def parts(self) -> tuple[Store, Rulebook, Infer]:
        """What it works with, for whoever shows something beside the talk."""
        return self._store, self._book, self._infer

    def standing(self, chat: str) -> Standing:
        """Where the chat stands. Raises StoreError."""
        return self._store.look(chat)

    def _turn(self, envelope: Envelope, now: datetime, also: Also) -> Taken:
        if envelope.chat is None:
            return _taken(None, Reply(error=envelope.refusal))
        for _ in range(ATTEMPTS):
            before = self._store.look(envelope.chat, envelope.id)
            if before.repeat is not None:
                return Taken(exchange.addressed(before.repeat, envelope.chat), None)
            outcome = self._outcome(envelope, before, now)
            taken = _taken(envelope.chat, outcome.reply)
            beside = also(Made(outcome.before, outcome.after, outcome.reply))
            if self._is_kept(envelope, outcome, taken.line, before=before, now=now, beside=beside):
                return taken
        raise StoreError("other programs keep changing this chat. Try again.")

    def _outcome(self, envelope: Envelope, before: Standing, now: datetime) -> _Outcome:
        still_open = exchange.open_question(before.reply)
        if envelope.message is None:
            return _Outcome(before.session, Reply(error=envelope.refusal, ask=still_open))
        session = self._session(before, envelope.message)
        if session is None:
            return _Outcome(before.session, Reply(error=("old-state", OLD_STATE), ask=still_open))
        noted = Noted(self._infer)
        after, reply = self._step(session, envelope.message, now=now, book=self._book, infer=noted)
        if reply.error:
            reply = replace(reply, ask=reply.ask or still_open)
            return _Outcome(before.session, reply, before=session, after=session)
        return _Outcome(after.model_dump_json(), reply, tuple(noted.firings), session, after)

    def _session(self, before: Standing, message: Message) -> Session | None:
        """The chat's state; None if another version kept it in a form that we cannot read."""
        try:
            return Session.model_validate_json(before.session) if before.session else self._fresh
        except ValidationError:
            return self._fresh if message.command in {"new", "forget"} else None

    def _is_kept(
        self,
        envelope: Envelope,
        outcome: _Outcome,
        line: str,
        *,
        before: Standing,
        now: datetime,
        beside: Beside,
    ) -> bool:
        assert envelope.chat is not None
        if outcome.reply.forget:
            nameless = exchange.write(None, outcome.reply)
            self._store.forget(envelope.chat, message_id=envelope.id, reply=nameless, beside=beside)
            return True
        if outcome.reply.error and envelope.id is None:
            return True  # nothing changed, and nobody can ask for this answer again
        row = self._row(envelope, outcome, line, now)
        return self._store.keep(row, outcome.session, after=before, beside=beside)

    def _row(self, envelope: Envelope, outcome: _Outcome, line: str, now: datetime) -> Turn:
        assert envelope.chat is not None
        heard = None if outcome.reply.error else envelope.message
        said = None if heard is None else heard.model_dump_json(exclude_defaults=True)
        was_undo = heard is not None and is_undo(heard)
        return Turn(
            chat=envelope.chat,
            id=envelope.id,
            at=now.isoformat(),
            said=said,
            understood=json.dumps(dict(outcome.reply.understood)),
            fired=json.dumps(outcome.fired),
            reply=line,
            rules=self._book.digest,
            changed=json.dumps(changes(outcome.before, outcome.after, undone=was_undo)),
        )

    def _failed(self, envelope: Envelope, error: tuple[str, str]) -> Taken:
        """The answer when a turn broke: the question that is still open stays open."""
        ask = None
        with contextlib.suppress(StoreError):  # a store that fails twice is reported once
            ask = exchange.open_question(envelope.chat and self._store.look(envelope.chat).reply)
        return _taken(envelope.chat, Reply(error=error, ask=ask))


class Noted:
    """An inference that remembers which rules fired, by id, over all it is asked in a turn."""

    def __init__(self, infer: Infer) -> None:
        self._infer = infer
        self.firings: dict[str, Firing] = {}

    def __call__(self, facts: Mapping[str, Scalar]) -> Inference:
        inference = self._infer(facts)
        self.firings |= {firing.rule: firing for firing in inference.firings}
        return inference


def _taken(chat: str | None, reply: Reply) -> Taken:
    return Taken(exchange.write(chat, reply), reply)


def _kind(error: Exception) -> str:
    """What broke and where, without the message: it may quote the person."""
    last = traceback.extract_tb(error.__traceback__)[-1]
    place = f"{Path(last.filename).name}:{last.lineno}, {last.name}"
    return f"internal fault: {type(error).__name__} at {place}"


def _log(line: str) -> None:
    print(f"coach: {line}", file=sys.stderr, flush=True)


def prepared(folder: Path | None = None) -> Rulebook:
    """The rule base, with all that is made from it ready. Raises one of UNUSABLE, with every fault."""
    book = rulebook.load(folder)
    apparatus(book)
    return book


@contextlib.contextmanager
def opened(store: str | None = None, rules: Path | None = None, *, metric: bool = False) -> Iterator[Desk]:
    """A desk on the store file and rules folder given (default: the user's, the shipped ones), where new
    chats speak of metres if `metric`.

    Raises one of UNUSABLE, or StoreError if the store cannot be used.
    """
    book = prepared(rules)
    with Store(store or default_path()) as kept, Engine(rulebook.clauses(book)) as engine:
        yield Desk(kept, book, infer=engine.evaluate, step=step, metric=metric)
