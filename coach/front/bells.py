"""Reminders in the terminal chat: rung before the prompt, or while nobody types.

bells   what is still to ring
done    the reminder that rang last is seen to
later   it rings again in a while
"""

from __future__ import annotations

from datetime import datetime, timedelta

from coach.consult import Also, Desk, Made
from coach.figures.clock import later
from coach.figures.rig import Rig
from coach.post import due, ringing
from coach.reminders import SNOOZE_MIN, lateness
from coach.store import Beside, Rows
from coach.wording import clock

HELP = ("bells    what will ring, and when; 'done' or 'later' when something rang",)
NONE = "Nothing is set to ring."
SEEN_TO = "Seen to."


class Bells:
    """The reminders of one chat. Raises StoreError."""

    def __init__(self, desk: Desk, chat: str) -> None:
        self._store, self._book, _ = desk.parts
        self._chat = chat
        self._latest: int | None = None

    def along(self, now: datetime) -> Also:
        """What is written with a turn: the bells that follow from it."""

        def also(made: Made) -> Beside:
            def write(rows: Rows) -> None:
                rig = Rig.from_numbers(dict(self._book.numbers))
                ringing.follow_turn(rows, self._chat, made, book=self._book, rig=rig, now=now)

            return write

        return also

    def ring(self, now: datetime) -> tuple[str, ...]:
        """What rings now; a reminder that comes late says so."""
        seconds = now.timestamp()
        with self._store.reading() as rows:
            found = due.ringing_on(rows, self._chat, seconds)
        if not found:
            return ()
        with self._store.writing() as rows:
            rung = [each for each in found if due.rung(rows, each.id)]
        self._latest = rung[-1].id if rung else self._latest
        return tuple(f"* {lateness(each.at, seconds)}{each.say}" for each in rung)

    def typed(self, text: str, *, now: datetime) -> tuple[str, ...] | None:
        """The answer to one of our words; None if it is something else."""
        word = text.casefold().strip(" .!")
        if word == "bells":
            return self._listed(now)
        if word not in ("done", "later") or self._latest is None:
            return None
        with self._store.writing() as rows:
            if word == "done":
                due.done(rows, self._latest)
                return (SEEN_TO,)
            until = now + timedelta(minutes=SNOOZE_MIN)
            due.put_off(rows, self._latest, until)
            return (f"It rings again at {clock(until)}.",)

    def _listed(self, now: datetime) -> tuple[str, ...]:
        with self._store.reading() as rows:
            found = due.of_boat(rows, self._chat)
        seconds = now.timestamp()
        return tuple(f"{clock(later(now, (each.at - seconds) / 3600))}  {each.say}" for each in found) or (
            NONE,
        )
