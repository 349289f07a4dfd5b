"""The queue between Telegram and the bot: an update counts as received once it is on the disk.

It takes the place of the library's queue in memory. `put` returns after the commit, in polling before
the update is confirmed, in webhook mode before the answer 200. Chats wait side by side: within one
the order holds, and a slow chat holds up no other.
"""

from __future__ import annotations

import asyncio
import time
from collections import deque
from collections.abc import Awaitable, Callable
from concurrent.futures import Executor
from typing import Any

from telegram import Update, User
from telegram.error import NetworkError
from telegram.ext import BaseUpdateProcessor

from coach.front.telegram.event import Event, event_of
from coach.front.telegram.secrecy import log
from coach.post import inbox
from coach.store import Store, StoreError

AT_ONCE = 64


class InboxQueue(asyncio.Queue[Any]):
    """An asyncio queue whose content is the inbox. `on_tap` is told of taps as soon as they are kept; `me`
    is the bot itself, once it is known."""

    me: User | None = None

    def __init__(self, store: Store, scribe: Executor, on_tap: Callable[[Event], None]) -> None:
        super().__init__()
        self._store, self._scribe, self._on_tap = store, scribe, on_tap
        self._waiting: dict[str, deque[Event]] = {}
        self._ready: deque[str] = deque()
        self._busy: set[str] = set()
        self._signals: deque[object] = deque()
        self._unwritten: list[tuple[Event, asyncio.Future[bool]]] = []
        self._writing = asyncio.Lock()
        self._wake = asyncio.Event()
        self._idle = asyncio.Event()
        self._idle.set()

    def load(self) -> int:
        """Take up what was received before the start and not handled; how much it was."""
        with self._store.reading() as rows:
            left = inbox.waiting(rows)
        for row in left:
            self._take_up(Event.model_validate_json(row.event))
        return len(left)

    async def put(self, item: Any) -> None:
        """Keep an update. Raises NetworkError if it cannot be kept, so that Telegram sends it again."""
        if not isinstance(item, Update):  # the library's own signal to stop
            self._signals.append(item)
            self._wake.set()
            return
        try:
            event = event_of(item, now=time.time(), me=self.me)
            if event is None:
                return
            is_new = await self._written(event)
        except StoreError as error:
            log.error("%s", error)
            raise NetworkError("an update could not be written down") from error
        except Exception as error:  # anything else would end the library's polling for good
            log.exception("an update could not be taken")
            raise NetworkError("an update could not be taken") from error
        if is_new:
            if event.kind == "tap":
                self._on_tap(event)
            self._take_up(event)

    async def get(self) -> Any:
        """The next event of a chat in which nothing is being handled; chats take turns."""
        while True:
            if self._signals:
                return self._signals.popleft()
            if self._ready:
                chat = self._ready.popleft()
                self._busy.add(chat)
                self._idle.clear()
                return self._waiting[chat].popleft()
            self._wake.clear()
            await self._wake.wait()

    def finished(self, event: Event, *, again: bool) -> None:
        """An event was handled; `again`: it was not, and stands first in its chat once more."""
        self._busy.discard(event.chat)
        if again:
            self._waiting[event.chat].appendleft(event)
        if self._waiting[event.chat]:
            self._ready.append(event.chat)
            self._wake.set()
        else:
            del self._waiting[event.chat]
        if not self._busy:
            self._idle.set()

    def qsize(self) -> int:
        """How many events wait."""
        return sum(map(len, self._waiting.values())) + len(self._signals)

    def empty(self) -> bool:
        """Always: what waits stays in the inbox when the bot stops, so there is nothing to drop."""
        return True

    def task_done(self) -> None:
        """Nothing: `finished` says which chat is free."""

    async def join(self) -> None:
        """Wait until nothing is being handled; what waits is for the next start."""
        await self._idle.wait()

    async def _written(self, event: Event) -> bool:
        """Commit the event, together with all others that come while the disk is busy; whether it is new."""
        loop = asyncio.get_running_loop()
        result: asyncio.Future[bool] = loop.create_future()
        self._unwritten.append((event, result))
        if len(self._unwritten) == 1 and not self._writing.locked():
            loop.create_task(self._write())  # noqa: RUF006  (the futures hold on to what it does)
        return await result

    async def _write(self) -> None:
        async with self._writing:
            while self._unwritten:
                batch, self._unwritten = self._unwritten, []
                try:
                    events = [event for event, _ in batch]
                    found = await asyncio.get_running_loop().run_in_executor(self._scribe, self._keep, events)
                    for (_, result), is_new in zip(batch, found, strict=True):
                        result.set_result(is_new)
                except Exception as error:  # handed to each that waits for it
                    for _, result in batch:
                        result.set_exception(error)

    def _keep(self, events: list[Event]) -> list[bool]:
        with self._store.writing() as rows:
            return [
                inbox.receive(
                    rows,
                    event.update_id,
                    chat=event.chat,
                    at=event.at,
                    event=event.model_dump_json(exclude_defaults=True),
                )
                for event in events
            ]

    def _take_up(self, event: Event) -> None:
        held = self._waiting.setdefault(event.chat, deque())
        held.append(event)
        if len(held) == 1 and event.chat not in self._busy:
            self._ready.append(event.chat)
            self._wake.set()


class OneAtATime(BaseUpdateProcessor):
    """Chats side by side, one event at a time in each (the queue sees to that)."""

    def __init__(self) -> None:
        super().__init__(AT_ONCE)

    async def do_process_update(self, update: object, coroutine: Awaitable[Any]) -> None:
        """Handle one."""
        del update
        await coroutine

    async def initialize(self) -> None:
        """Nothing to prepare."""

    async def shutdown(self) -> None:
        """Nothing to close."""
