"""Posts the outbox: within Telegram's limits, in order in each chat, and nothing is dropped on a fault.

One letter is on its way at a time. After a kill it is not known of that one whether it arrived, so
it is sent again: at most one repeated message a kill. (Edits may be repeated without harm.)
"""

from __future__ import annotations

import asyncio
import contextlib
import heapq
import time
from collections import deque
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

from coach.front.telegram.office import move_chat
from coach.front.telegram.secrecy import kind_of, log
from coach.post import crew, outbox
from coach.post.outbox import Letter
from coach.store import Rows, Store, StoreError

GAP_S = 1.0
GROUP_GAP_S = 3.0
"""Telegram lets through one message a second to a chat, 20 a minute to a group."""
PER_SECOND = 28
"""Of 30 over all chats; two are left for answers to taps."""
_MARGIN_S = 0.03
_WORST_S = 60.0
_MOST_TRIES = 8
"""After so many tries a letter that breaks the bot itself is given up."""


class Post(Protocol):
    """Sends one letter; the number of the message it made, if it made one."""

    async def __call__(self, letter: Letter) -> int | None:
        """Raises TelegramError."""
        ...


class Limits:
    """When the next letter may go. Times in seconds on the clock that is passed in."""

    def __init__(self, per_second: int = PER_SECOND) -> None:
        self._latest: deque[float] = deque(maxlen=per_second)
        self._free_at: dict[str, float] = {}
        self._paused: dict[str, float] = {}
        self._all_free_at = 0.0

    def free_at(self, chat: str) -> float:
        """From when on a letter to this chat may go, as far as the chat itself goes."""
        return self._free_at.get(chat, 0.0)

    def all_free_at(self) -> float:
        """From when on any letter may go."""
        is_full = len(self._latest) == self._latest.maxlen
        return max(self._all_free_at, self._latest[0] + 1 + _MARGIN_S if is_full else 0.0)

    def went(self, chat: str, now: float) -> None:
        """A letter went to this chat."""
        self._latest.append(now)
        gap = GROUP_GAP_S if chat.startswith("-") else GAP_S
        self._free_at[chat] = now + gap + _MARGIN_S
        if len(self._free_at) > 5_000:
            self._free_at = {key: at for key, at in self._free_at.items() if at > now}

    def pause(self, chat: str, now: float, until: float) -> None:
        """Telegram wants nothing for this chat until then; if two chats are told so at once, for any."""
        self._paused = {key: at for key, at in self._paused.items() if at > now and key != chat}
        if self._paused:
            self._all_free_at = until
        self._paused[chat] = until
        self.later(chat, until)

    def later(self, chat: str, until: float) -> None:
        """Try this chat again then, not earlier."""
        self._free_at[chat] = max(until, self.free_at(chat))


class Sender:
    """Takes letters and posts them. `on_fatal` is told if the token is refused."""

    def __init__(
        self, store: Store, scribe: Executor, post: Post, on_fatal: Callable[[BaseException], None]
    ) -> None:
        self._store, self._scribe, self._post, self._on_fatal = store, scribe, post, on_fatal
        self.limits = Limits()
        self._held: dict[str, list[tuple[int, Letter]]] = {}
        self._ready: list[tuple[float, int, str]] = []
        self._lined_up: set[str] = set()
        self._on_its_way = 0
        self._tries: dict[int, int] = {}
        self._wake = asyncio.Event()

    def load(self) -> int:
        """Take up what was left when the bot stopped; how much it was."""
        with self._store.reading() as rows:
            left = [letter for letter in outbox.waiting(rows) if letter.id != self._on_its_way]
        self.add(left)
        return len(left)

    def reload(self) -> None:
        """Take the outbox as it is now: something was taken out of it."""
        self._held.clear()
        self.load()

    def add(self, letters: Iterable[Letter]) -> None:
        """Take letters that stand in the outbox."""
        for letter in letters:
            held = self._held.setdefault(letter.chat, [])
            heapq.heappush(held, (letter.id, letter))
            if len(held) == 1:
                self._line_up(letter.chat)
        self._wake.set()

    def dropped(self, chat: str) -> None:
        """The outbox of a chat was emptied."""
        self._held.pop(chat, None)

    async def run(self) -> None:
        """Post for ever."""
        while True:
            self._wake.clear()
            now = time.monotonic()
            if not self._ready:
                await self._wake.wait()
                continue
            at = max(self._ready[0][0], self.limits.all_free_at())
            if at > now:
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(self._wake.wait(), at - now)
                continue
            _, _, chat = heapq.heappop(self._ready)
            self._lined_up.discard(chat)
            if self._held.get(chat):
                await self._next(chat)

    async def _next(self, chat: str) -> None:
        """Post the first letter of a chat; what happens to it decides when the chat comes next."""
        _, letter = heapq.heappop(self._held[chat])
        self._on_its_way = letter.id
        try:
            made = None if self._is_overtaken(letter) else await self._post_one(letter)
            await self._mark(letter, made)
        except TelegramError as error:
            self._on_its_way = 0
            await self._refused(letter, error)
        except Exception as error:  # a letter that breaks the bot must not hold up the others
            self._on_its_way = 0
            log.error("a message could not be made: %s", kind_of(error))
            if not self._later(letter, most=_MOST_TRIES):
                await self._mark(letter, None)
        self._on_its_way = 0
        if self._held.get(chat):
            self._line_up(chat)
        else:
            self._held.pop(chat, None)

    def _line_up(self, chat: str) -> None:
        if chat not in self._lined_up:
            self._lined_up.add(chat)
            first = self._held[chat][0][0]
            heapq.heappush(self._ready, (self.limits.free_at(chat), first, chat))

    def _is_overtaken(self, letter: Letter) -> bool:
        """An edit that a later edit of the same message makes pointless."""
        return letter.kind == "edit" and any(
            other.kind == "edit" and other.message_id == letter.message_id
            for _, other in self._held.get(letter.chat, ())
        )

    async def _post_one(self, letter: Letter) -> int | None:
        try:
            made = await self._post(letter)
        finally:
            self.limits.went(letter.chat, time.monotonic())
        self._tries.pop(letter.id, None)
        return made

    async def _refused(self, letter: Letter, error: TelegramError) -> None:
        """What Telegram's refusal means for a letter: later, otherwise, or never."""
        now = time.monotonic()
        if isinstance(error, RetryAfter):
            wait = error.retry_after
            seconds = wait if isinstance(wait, int | float) else wait.total_seconds()
            self.limits.pause(letter.chat, now, now + seconds + _MARGIN_S)
            self._again(letter)
        elif isinstance(error, InvalidToken):
            self._on_fatal(error)
        elif isinstance(error, ChatMigrated):
            await self._kept(lambda rows: move_chat(rows, letter.chat, str(error.new_chat_id)))
            self.reload()
        elif isinstance(error, Forbidden):
            await self._kept(lambda rows: outbox.drop(rows, letter.chat))
            self.dropped(letter.chat)
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
        heapq.heappush(self._held.setdefault(letter.chat, []), (letter.id, letter))

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
