"""What a browser sends beside the talk: counts, bells seen to, what the boat tells of herself."""

from __future__ import annotations

from datetime import timedelta
from typing import TypeVar, cast

from coach.conversation import Message
from coach.counting import Counted, Side
from coach.front import tally
from coach.front.web import aboard, deck, words
from coach.front.web.asked import follow_question, likeliest
from coach.front.web.turns import Answer, Case, Turns
from coach.places import where_facts
from coach.post import crew, due
from coach.reminders import SNOOZE_MIN
from coach.store import Rows
from coach.watching import Finding, facts_of
from coach.wording import clock

T = TypeVar("T")


class Errands:
    """Does what is no word of the talk. Raises StoreError."""

    def __init__(self, turns: Turns) -> None:
        self._turns, self._book = turns, turns.book

    # -- counts

    def count(self, case: Case) -> Answer:
        """One more by a tap."""
        side = case.posted.what
        if side not in deck.BUTTONS:
            return Answer(error=("bad-value", words.NO_SIDE))
        return self.counted(case, (Counted(cast(Side, side), 1),))

    def counted(self, case: Case, counts: tuple[Counted, ...]) -> Answer:
        """Counts as they were said or tapped."""
        session = self._turns.session(case.boat)

        def write(rows: Rows) -> str:
            deck.counted(
                rows,
                case.boat,
                counts,
                at=case.now.timestamp(),
                session=session,
                rig=self._turns.rig,
                window_min=self._book.numbers["look_again_min"],
            )
            return ""

        return self._turns.beside(case, write)

    def uncount(self, case: Case) -> Answer:
        """What was counted last is taken back."""

        def write(rows: Rows) -> str:
            is_done = deck.taken_back(rows, case.boat, now=case.now.timestamp())
            return words.TAKEN_BACK if is_done else words.NOTHING_TO_TAKE_BACK

        return self._turns.beside(case, write)

    def found(self, case: Case) -> Answer:
        """What the watch over the counts found is told to the core, or let go."""
        kind = case.posted.what
        if kind == "off":
            return self._turns.beside(case, lambda rows: _seen_to(rows, case))
        facts = facts_of(finding) if (finding := self._finding(case.boat, kind)) is not None else {}
        known = {name: value for name, value in facts.items() if name in self._book.facts}
        if not known:
            return Answer(error=("closed", words.NO_SUCH))
        return self._turns.turn(case, Message(facts=known), first=lambda rows: _seen_to(rows, case))

    def _finding(self, boat: str, kind: str) -> Finding | None:
        if kind == "silence":
            return Finding(kind)
        with self._turns.store.reading() as rows:
            return tally.found_now(rows, boat, kind)

    # -- bells

    def bell(self, case: Case) -> Answer:
        """A bell seen to, or put off."""

        def write(rows: Rows) -> str:
            held = due.find(rows, case.boat, number(case.posted.about))
            if held is None or held.state == "waiting":
                return words.NO_SUCH
            if case.posted.what != "later":
                due.done(rows, held.id)
                return words.SEEN_TO
            until = case.now + timedelta(minutes=SNOOZE_MIN)
            due.put_off(rows, held.id, until)
            return words.RINGS_AGAIN.format(time=clock(until))

        return self._turns.beside(case, write)

    def helped(self, case: Case) -> Answer:
        """The answer to "did it help?", asked by a bell."""
        ask = follow_question(self._book)
        answer = at_place(case.posted.what, [value for value, _ in likeliest(ask, self._book.facts)])
        if answer is None:
            return Answer(error=("closed", words.NO_SUCH))
        told = Message(facts={ask.fact: answer})
        return self._turns.turn(case, told, first=lambda rows: _seen_to(rows, case))

    # -- what she tells of herself

    def place(self, case: Case) -> Answer:
        """Where she lies, by the name of a station or by degrees; the core looks up its tables."""
        said = case.posted.what
        try:
            found = aboard.ground_here(said) if case.posted.do == "here" else aboard.named_ground(said)
        except ValueError as error:
            return Answer(error=("bad-value", str(error)))
        told = aboard.placed(found)
        if facts := where_facts(found, self._book.facts):
            return self._turns.turn(case, Message(facts=facts), first=lambda rows: _keep(rows, case, told))
        return self._turns.beside(case, lambda rows: _keep(rows, case, told))

    def told(self, case: Case) -> Answer:
        """Her draft or her battery."""
        said = case.posted.what
        try:
            is_draft = case.posted.do == "draft"
            told = aboard.draft(said) if is_draft else aboard.battery(said, now=case.now)
        except ValueError as error:
            return Answer(error=("bad-value", str(error)))
        return self._turns.beside(case, lambda rows: _keep(rows, case, told))


def number(said: str) -> int:
    """A whole number as the page sends it; 0 for anything else."""
    return int(said) if said.isascii() and said.isdecimal() and len(said) < 16 else 0


def at_place(said: str, answers: list[T]) -> T | None:
    """The answer at a place counted from 1; None where there is none."""
    place = number(said)
    return answers[place - 1] if 1 <= place <= len(answers) else None


def _keep(rows: Rows, case: Case, told: aboard.Told) -> str:
    values, note = told
    crew.put_aboard(rows, case.boat, values)
    return note


def _seen_to(rows: Rows, case: Case) -> str:
    """The bell that asked is seen to."""
    held = due.find(rows, case.boat, number(case.posted.about))
    if held is not None and held.state == "rung":
        due.done(rows, held.id)
    return ""
