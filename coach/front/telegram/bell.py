"""Rings what is due: looked up each second, marked as rung and put into the outbox in one transaction."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from concurrent.futures import Executor

from coach.front import tally
from coach.front.telegram import deck, words
from coach.front.telegram.beside import follow_question
from coach.front.telegram.screens import Row, Screen, bell, label, likeliest
from coach.front.telegram.secrecy import kind_of, log
from coach.model import Rulebook
from coach.post import crew, due, inbox, outbox
from coach.post.due import Due
from coach.post.outbox import Letter
from coach.reminders import SNOOZE_MIN
from coach.store import Rows, Store, StoreError

EACH_S = 1.0
_KEPT_S = 3 * 24 * 3600
_PRUNE_S = 3600.0
_STALE_S = 1800.0


class Bell:
    """Looks for bells whose time has come and hands their letters on."""

    def __init__(
        self, store: Store, scribe: Executor, book: Rulebook, on_letters: Callable[[list[Letter]], None]
    ) -> None:
        self._store, self._scribe, self._book, self._on_letters = store, scribe, book, on_letters
        self._pruned = 0.0

    async def run(self) -> None:
        """Ring for ever."""
        loop = asyncio.get_running_loop()
        while True:
            try:
                letters = await loop.run_in_executor(self._scribe, self.ring, time.time())
                if letters:
                    self._on_letters(letters)
            except StoreError as error:
                log.error("%s", error)
            await asyncio.sleep(EACH_S)

    def ring(self, now: float) -> list[Letter]:
        """Ring all that is due at `now` [s since 1970]; the letters that were put into the outbox."""
        with self._store.reading() as rows:
            found = due.ringing(rows, now)
        if now - self._pruned > _PRUNE_S:
            self._pruned = now
            with self._store.writing() as rows:
                inbox.prune(rows, now=now)
                due.prune(rows, before=now - _KEPT_S)
            if self._store.is_sweep_due:
                self._store.sweep()
        if not found:
            return []
        letters: list[Letter] = []
        for each in found:
            try:
                letters += self._alone(each, now)
            except StoreError as error:  # what rang so far is on its way; the others wait
                log.error("%s", error)
                break
        return letters

    def _alone(self, each: Due, now: float) -> list[Letter]:
        """Ring one; what breaks it must hold up no other."""
        try:
            with self._store.writing() as rows:
                return self._rung(rows, each, now)
        except StoreError:
            raise
        except Exception as error:
            log.error("a bell could not be rung: %s", kind_of(error))
            with self._store.writing() as rows:
                due.rung(rows, each.id)
            return []

    def _rung(self, rows: Rows, each: Due, now: float) -> list[Letter]:
        if not due.rung(rows, each.id):
            return []
        if each.kind == "silence" and now - each.at > _STALE_S:
            return []  # whoever did not count for so long has gone home, or the bot was away
        screen = self._screen(rows, each)
        due_at = None if each.kind == "silence" else each.at
        body = {**screen.body(), "urgent": True}
        letters = [Letter(chat, "send", body, None, due_at) for chat in crew.phones_of(rows, each.boat)]
        return outbox.put(rows, letters)

    def _screen(self, rows: Rows, each: Due) -> Screen:
        if each.kind == "silence":
            tally.silence_told(rows, each.boat)
            return deck.silence_screen()
        follow: list[Row] = []
        if each.kind == "look":
            answers = likeliest(follow_question(self._book), self._book.facts)
            follow = [[[label(text), f"h:{place}"]] for place, (_, text) in enumerate(answers, 1)]
        if each.kind == "leave":
            follow = [[[words.CLEAR, "k"]]]
        return bell(each.say, each.id, snooze_min=SNOOZE_MIN, follow=follow)
