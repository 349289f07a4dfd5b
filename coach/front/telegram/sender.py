"""Posts the outbox: within Telegram's limits, in order in each chat, and nothing is dropped on a fault.

As a rule one letter is on its way at a time: after a kill it is not known of it whether it arrived, so
it is sent again, and that is one repeated message a kill. (Edits may be repeated without harm.) Only
when it is on its way for longer than PATIENCE_S does the next leave, to another chat: one bad
connection holds up nobody else.
"""

from __future__ import annotations

import asyncio
import contextlib
import heapq
import time
from collections.abc import Callable, Iterable
from concurrent.futures import Executor
from typing import Protocol

from telegram.error import (
    BadRequest,
    ChatMigrated,
    Forbidden,
    InvalidToken,
    NetworkError,
    RetryAfter,
    TelegramError,
)

from coach.front.telegram import limits
from coach.front.telegram.limits import MARGIN_S, Limits
from coach.front.telegram.office import move_chat
from coach.front.telegram.secrecy import kind_of, log
from coach.post import crew, outbox
from coach.post.outbox import Letter
from coach.store import Rows, Store, StoreError

PATIENCE_S = 0.1
"""Ten messages a second go out however long each is on its way; more where they arrive sooner."""
MOST_AWAY = 8
LAST_S = 5.0
"""How long what is on its way is waited for when the bot stops."""
_WORST_S = 60.0
_MOST_TRIES = 8
"""After so many tries a letter that breaks the bot itself is given up."""


class Post(Protocol):
    """Sends one letter; the number of the message it made, if it made one."""

    async def __call__(self, letter: Letter) -> int | None:
        """Raises TelegramError."""
        ...


class Sender:
    """Takes letters and posts them. `on_fatal` is told if the token is refused."""

    def __init__(
        self, store: Store, scribe: Executor, post: Post, on_fatal: Callable[[BaseException], None]
    ) -> None:
        self._store, self._scribe, self._post, self._on_fatal = store, scribe, post, on_fatal
        self.limits = Limits(gap_s=limits.GAP_S)
        self._held: dict[str, list[tuple[tuple[bool, int], Letter]]] = {}
        self._ready: list[tuple[float, int, str]] = []
        self._lined_up: set[str] = set()
        self._away: dict[str, int] = {}
        self._left_at = 0.0
        self._tries: dict[int, int] = {}
        self._wake = asyncio.Event()

    def load(self) -> int:
        """Take up what was left when the bot stopped; how much it was."""
        away = set(self._away.values())
        with self._store.reading() as rows:
            left = [letter for letter in outbox.waiting(rows) if letter.id not in away]
        self.add(left)
        return len(left)

    def reload(self) -> None:
        """Take the outbox as it is now: something was taken out of it."""
        self._held.clear()
        self.load()

    def add(self, letters: Iterable[Letter]) -> None:
        """Take letters that stand in the outbox."""
        for letter in letters:
            self._again(letter)
            self._line_up(letter.chat)
        self._wake.set()

    async def run(self) -> None:
        """Post for ever."""
        away: set[asyncio.Task[None]] = set()
        try:
            while True:
                self._wake.clear()
                for task in [each for each in away if each.done()]:
                    away.discard(task)
                    task.result()
                wait_s = self._wait_s(time.monotonic())
                if wait_s > 0:
                    with contextlib.suppress(TimeoutError):  # (wait_for may swallow that it is to end)
                        async with asyncio.timeout(wait_s):
                            await self._wake.wait()
                elif (letter := self._next()) is not None:
                    away.add(asyncio.create_task(self._sent(letter)))
        finally:
            if away:
                _, late = await asyncio.wait(away, timeout=LAST_S)
                for task in late:
                    task.cancel()

    def _wait_s(self, now: float) -> float:
        """How long until a letter may leave; a minute where nothing waits or too much is on its way."""
        if not self._ready or len(self._away) >= MOST_AWAY:
            return 60.0
        at = max(self._ready[0][0], self.limits.all_free_at())
        return (max(at, self._left_at + PATIENCE_S) if self._away else at) - now

    def _next(self) -> Letter | None:
        """The letter that leaves now; None if those of its chat were dropped meanwhile."""
        _, _, chat = heapq.heappop(self._ready)
        self._lined_up.discard(chat)
        if not self._held.get(chat):
            return None
        _, letter = heapq.heappop(self._held[chat])
        self._away[chat] = letter.id
        self._left_at = time.monotonic()
        return letter

    async def _sent(self, letter: Letter) -> None:
        """Post a letter; what happens to it decides when its chat comes next."""
        chat = letter.chat
        try:
            made = None if self._is_overtaken(letter) else await self._post_one(letter)
            await self._mark(letter, made)
        except TelegramError as error:
            self._away[chat] = 0
            await self._refused(letter, error)
        except Exception as error:  # a letter that breaks the bot must not hold up the others
            self._away[chat] = 0
            log.error("a message could not be made: %s", kind_of(error))
            if not self._later(letter, most=_MOST_TRIES):
                await self._mark(letter, None)
        finally:
            self._away.pop(chat, None)
            self._line_up(chat)
            self._wake.set()

    def _line_up(self, chat: str) -> None:
        """Let a chat wait for its turn, unless it does, or one of its letters is on its way."""
        if not self._held.get(chat):
            self._held.pop(chat, None)
        elif chat not in self._lined_up and chat not in self._away:
            self._lined_up.add(chat)
            heapq.heappush(self._ready, (self.limits.free_at(chat), self._held[chat][0][1].id, chat))

    def _is_overtaken(self, letter: Letter) -> bool:
        """An edit that a later edit of the same message makes pointless; in a group, where few messages
        may go, a tally that a later one makes pointless."""
        later = [other for _, other in self._held.get(letter.chat, ()) if other.id > letter.id]
        if letter.kind == "edit":
            return any(each.kind == "edit" and each.message_id == letter.message_id for each in later)
        is_tally = letter.chat.startswith("-") and bool(letter.body.get("tally"))
        return is_tally and any(each.kind == "send" and each.body.get("tally") for each in later)

    async def _post_one(self, letter: Letter) -> int | None:
        self.limits.leaves(time.monotonic())
        try:
            made = await self._post(letter)
        finally:
            self.limits.arrived(letter.chat, time.monotonic())
        self._tries.pop(letter.id, None)
        return made

    async def _refused(self, letter: Letter, error: TelegramError) -> None:
        """What Telegram's refusal means for a letter: later, otherwise, or never."""
        now = time.monotonic()
        if isinstance(error, RetryAfter):
            wait = error.retry_after
            seconds = wait if isinstance(wait, int | float) else wait.total_seconds()
            self.limits.pause(letter.chat, now, now + seconds + MARGIN_S)
            self._again(letter)
        elif isinstance(error, InvalidToken):
            self._on_fatal(error)
        elif isinstance(error, ChatMigrated):
            await self._kept(lambda rows: move_chat(rows, letter.chat, str(error.new_chat_id)))
            self.reload()
        elif isinstance(error, Forbidden):
            await self._kept(lambda rows: outbox.drop(rows, letter.chat))
            self._held.pop(letter.chat, None)
        elif isinstance(error, BadRequest):
            await self._bad(letter, error)
        else:
            if not isinstance(error, NetworkError):
                log.warning("a message was refused: %s; trying again", kind_of(error))
            self._later(letter)

    async def _bad(self, letter: Letter, error: BadRequest) -> None:
        said = str(error).casefold()
        if letter.kind == "edit" and "not modified" not in said and "message" in said:
            # the message to turn is gone or too old: say it in a new one
            again = Letter(letter.chat, "send", letter.body, None, letter.due_at, letter.id)
            self._again(again)
            return
        if "not modified" not in said:
            log.warning("a message can not be sent: %s", "the chat is gone" if "chat" in said else "refused")
        await self._mark(letter, None)

    def _later(self, letter: Letter, *, most: int | None = None) -> bool:
        """Try a letter again after a pause that grows; False if it was tried `most` times."""
        tries = self._tries[letter.id] = self._tries.get(letter.id, 0) + 1
        if most is not None and tries >= most:
            del self._tries[letter.id]
            return False
        self.limits.later(letter.chat, time.monotonic() + min(_WORST_S, 0.5 * 2 ** min(tries, 8)))
        self._again(letter)
        return True

    def _again(self, letter: Letter) -> None:
        """Let a letter wait among those of its chat: what is urgent first, then as they were written."""
        key = not letter.body.get("urgent"), letter.id
        heapq.heappush(self._held.setdefault(letter.chat, []), (key, letter))

    async def _mark(self, letter: Letter, made: int | None) -> None:
        """Take a letter out of the outbox. Tried until it works, rather than send it twice."""

        def note(rows: Rows) -> None:
            outbox.sent(rows, (letter.id,))
            if made is not None:
                crew.saw(rows, letter.chat, made)

        while True:
            try:
                return await self._kept(note)
            except StoreError as error:
                log.error("%s", error)
                await asyncio.sleep(1)

    async def _kept(self, write: Callable[[Rows], None]) -> None:
        def keep() -> None:
            with self._store.writing() as rows:
                write(rows)

        await asyncio.get_running_loop().run_in_executor(self._scribe, keep)
