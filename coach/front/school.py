"""The school on a store: each step is worked out by the pure core and kept before it is shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path

from coach.consult import prepared
from coach.conversation import Choice
from coach.model import Rulebook
from coach.pictures import Picture
from coach.rulebook import default_folder
from coach.rulebook.situations import read_situations
from coach.school import afterwards, kept, marking, progress
from coach.school.asking import given, picks, question_lines
from coach.school.bank import Bank, bank_of
from coach.school.difficulty import difficulties, sure_weights
from coach.school.lesson import Lesson
from coach.school.parts import Item, School
from coach.school.reading import read_school
from coach.school.roleplay import RolePlay
from coach.school.spacing import recall_after
from coach.school.state import Answer, Learner, Open
from coach.store import Store, StoreError
from coach.trips import kept as trip_log

ATTEMPTS = 20
Known = tuple[Learner, tuple[Answer, ...], dict[str, kept.Signature]]


@dataclass(frozen=True, slots=True)
class Said:
    """What is shown: lines, choices, and whether it is over."""

    lines: tuple[str, ...]
    choices: tuple[Choice, ...] = ()
    is_over: bool = False


def opened(store: Store, rules: Path | None) -> Classroom:
    """A classroom on a store and a folder of rules. Raises RuleFaults with every fault of either."""
    book = prepared(rules)
    return Classroom(store, book, rules or default_folder())


class Classroom:
    """One school, one store, any number of learners. Raises StoreError as the store does."""

    def __init__(self, store: Store, book: Rulebook, folder: Path) -> None:
        self._store, self._book, self._folder = store, book, folder
        self.school: School = read_school(book, folder)

    @cached_property
    def bank(self) -> Bank:
        """The items."""
        return bank_of(self.school, self._book, read_situations(self._folder, self._book))

    @cached_property
    def lesson(self) -> Lesson:
        """Lessons, with what all answers so far have told of how hard items are. Raises
        MissingSchedulerError at once where the scheduler is not installed."""
        recall_after(0.0, 1.0)
        weights = sure_weights({each.id: each.promises for each in self.school.sure})
        with self._store.reading() as rows:
            first = kept.first_answers(rows, weights)
        rated = {name: item.hardness for name in {a.item for a in first} if (item := self.bank.item(name))}
        found = difficulties([a for a in first if a.item in rated], rated=rated)
        enough = self.school.plan["difficulty.answers"]
        return Lesson(self.bank, hardness={n: d.logits for n, d in found.items() if d.answers >= enough})

    # -- steps

    def lesson_step(self, name: str, text: str, *, now: datetime) -> Said:
        """One step of a learner's lesson, kept before it is shown."""
        for _ in range(ATTEMPTS):
            with self._store.reading() as rows:
                before = kept.learner(rows, name)
            step = self.lesson.step(before, text, now=now)
            with self._store.writing() as rows:
                if kept.learner(rows, name) == before:  # nobody answered for this learner meanwhile
                    kept.keep(rows, step.state, at=now)
                    over = step.state.sitting.is_over and step.state.open is None
                    return Said(step.lines, step.choices, over)
        raise StoreError("other programs keep changing this learner. Try again.")

    def picture(self, name: str, *, now: datetime) -> Picture | None:
        """The picture of the learner's open question."""
        with self._store.reading() as rows:
            return self.lesson.picture(kept.learner(rows, name), now=now)

    def play_step(self, name: str, text: str, *, now: datetime) -> Said:
        """One step of a role play; the first begins one."""
        role = RolePlay(self.bank.kitchen)
        with self._store.writing() as rows:
            state = kept.play(rows, name)
            if state is None or state.is_over:
                said = role.begin(role.after(state.case if state else None))
            elif not text:
                said = role.begin(state.case)
            else:
                said = role.step(state, text, now=now)
            kept.keep_play(rows, name, said.state, at=now)
        return Said(said.lines, said.choices, said.state.is_over)

    # -- trips

    def trip_items(self, name: str) -> tuple[Item, ...]:
        """Questions about the trips in the learner's own log that were not asked yet, the latest first."""
        with self._store.reading() as rows:
            trips = trip_log.trips(rows, name)
            done = {answer.item for answer in kept.answers(rows, name)}
        made = afterwards.items_of(trips, self.bank.kitchen)
        return tuple(item for item in made if item.id not in done)

    def trip_step(self, name: str, text: str, *, now: datetime) -> Said:
        """Ask what the latest trip was, or mark what was answered."""
        items = self.trip_items(name)
        if not items:
            return Said((self.school.texts["trip_none"],), is_over=True)
        item, opened_at = items[0], Open(item=items[0].id)
        if not text:
            return Said(question_lines(item), picks(item, 0))
        tools = self.bank.kitchen.tools
        meant = given(text, item, 0, book=self._book, lexicon=tools.lexicon, now=now)
        if meant.kind not in ("picked", "unknown"):
            return Said((self.school.texts["not_understood_choice"],), picks(item, 0))
        mark = marking.marked(item, meant.picked or None, opened_at, self.school.texts)
        self._log_trip(name, item, mark, now)
        lines = tuple(line for line in mark.lines if line != self.school.texts["comes_back"])
        more = self.trip_items(name)
        after = ("", *question_lines(more[0])) if more else ()
        return Said((*lines, *after), picks(more[0], 0) if more else (), is_over=not more)

    def _log_trip(self, name: str, item: Item, mark: marking.Mark, now: datetime) -> None:
        answer = Answer(
            item=item.id, topic=item.topic, picked=mark.picked, right=mark.right, first=True, at=now
        )
        with self._store.writing() as rows:
            state = kept.learner(rows, name)
            kept.keep(rows, state.model_copy(update={"fresh": (answer,)}), at=now)

    # -- what is known

    def known(self, name: str) -> Known:
        """Where a learner stands, with every answer and signature."""
        with self._store.reading() as rows:
            return kept.learner(rows, name), kept.answers(rows, name), kept.signatures(rows, name)

    def all_learners(self) -> list[tuple[str, Known, str]]:
        """All learners by name, with when they were last seen."""
        with self._store.reading() as rows:
            names = kept.learners(rows)
            seen = {
                name: rows.execute("SELECT at FROM learners WHERE boat = ?", (name,)).fetchone()[0]
                for name in names
            }
        return [(name, self.known(name), str(seen[name])) for name in names]

    def group(self) -> list[tuple[Learner, dict[str, kept.Signature], str]]:
        """All learners for the captain."""
        return [(known[0], known[2], seen) for _, known, seen in self.all_learners()]

    def sign(
        self, name: str, topics: Sequence[str], *, by: str, now: datetime, back: bool
    ) -> tuple[str, ...]:
        """A captain signs topics, or takes signatures back. Raises ValueError for what is not ready."""
        chosen = progress.topics_by_name(topics, self.school)
        state, _, signed = self.known(name)
        rows_of = {row.gate.topic: row for row in progress.sheet(state, self.school, signed)}
        if not back:
            unready = [rows_of[topic].title for topic in chosen if not rows_of[topic].is_ready]
            if unready:
                raise ValueError(f"not ready to be signed: {', '.join(unready)}")
        signer = "" if back else kept.checked_name(by)
        with self._store.writing() as rows:
            if back:
                kept.unsign(rows, name, chosen)
            else:
                kept.sign(rows, name, chosen, by=signer, at=now)
        state, _, signed = self.known(name)
        return progress.sheet_lines(state, self.school, signed)

    def forget(self, name: str) -> None:
        """Erase a learner."""
        with self._store.writing() as rows:
            kept.forget(rows, name)
        self._store.sweep()
