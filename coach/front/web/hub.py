"""Tells open pages that something changed, and rings what is due."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Iterable

from coach.front import tally
from coach.front.web.guard import kind_of, log
from coach.post import browsers, due
from coach.store import Rows, Store, StoreError

EACH_S = 1.0
ALIVE_S = 15.0
"""How often a line goes out when nothing changes, so that a dead connection is noticed."""
MOST_OF_A_BOAT, MOST = 12, 200
_PRUNE_S = 3600.0


class Full(RuntimeError):  # noqa: N818  (what happened)
    """Too many pages listen already."""


class Hub:
    """The open pages of every boat. Their events are made in the loop's own thread."""

    def __init__(self) -> None:
        self._listening: dict[str, set[asyncio.Event]] = {}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._is_closed = False

    def open(self) -> None:
        """Take the running loop as the one to wake pages in."""
        self._loop = asyncio.get_running_loop()

    def close(self) -> None:
        """Let every page go; they come back by themselves."""
        self._is_closed = True
        self._wake(list(self._listening))

    def close_soon(self) -> None:
        """The same from any thread, or from within a signal."""
        if self._loop is not None:
            self._loop.call_soon_threadsafe(self.close)

    def changed(self, boats: Iterable[str]) -> None:
        """Tell the pages of these boats, from any thread."""
        if self._loop is not None:
            self._loop.call_soon_threadsafe(self._wake, list(boats))

    def _wake(self, boats: Iterable[str]) -> None:
        for boat in boats:
            for page in self._listening.get(boat, ()):
                page.set()

    def listen(self, boat: str) -> AsyncIterator[str]:
        """The lines of an event stream: an event for each change, with its time [s since 1970]. Raises
        Full."""
        pages = list(self._listening.values())  # a copy: this may be asked from another thread
        if len(self._listening.get(boat, ())) >= MOST_OF_A_BOAT or sum(map(len, pages)) >= MOST:
            raise Full
        return self._events(boat)

    async def _events(self, boat: str) -> AsyncIterator[str]:
        page = asyncio.Event()
        self._listening.setdefault(boat, set()).add(page)
        try:
            yield "retry: 2000\nevent: here\ndata: 0\n\n"
            while not self._is_closed:
                try:
                    await asyncio.wait_for(page.wait(), ALIVE_S)
                except TimeoutError:
                    yield ": still here\n\n"
                    continue
                page.clear()
                if not self._is_closed:
                    yield f"data: {time.time()}\n\n"
        finally:
            self._listening[boat].discard(page)
            if not self._listening[boat]:
                del self._listening[boat]


class Bells:
    """Rings the bells of boats that browsers write for."""

    def __init__(self, store: Store, hub: Hub) -> None:
        self._store, self._hub, self._pruned = store, hub, 0.0

    async def run(self) -> None:
        """Ring for ever."""
        while True:
            try:
                rung = await asyncio.to_thread(self.ring, time.time())
                self._hub.changed(rung)
            except StoreError as error:
                log.error("%s", error)
            except Exception as error:  # one bell that breaks must not silence the others
                log.error("the bells broke: %s", kind_of(error))
            await asyncio.sleep(EACH_S)

    def ring(self, now: float) -> set[str]:
        """Ring all that is due at `now` [s since 1970]; the boats on which something rang."""
        with self._store.reading() as rows:
            found = browsers.ringing(rows, now)
        is_prune_due = now - self._pruned > _PRUNE_S
        if not found and not is_prune_due:
            return set()
        with self._store.writing() as rows:
            if is_prune_due:
                self._pruned = now
                browsers.prune(rows, now=now)
            return {boat for boat, id_, kind in found if _rung(rows, boat, id_, kind)}


def _rung(rows: Rows, boat: str, id_: int, kind: str) -> bool:
    if not due.rung(rows, id_):
        return False
    if kind == "silence":
        tally.silence_told(rows, boat)
    return True
