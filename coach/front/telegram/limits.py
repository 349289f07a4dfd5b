"""Telegram's limits on sending: when the next letter may leave. Times in seconds on the clock passed in."""

from __future__ import annotations

from collections import deque

GAP_S = 1.0
"""Telegram lets through one message a second to a chat (documented as not precise)."""
PER_SECOND = 25
"""Of 30 over all chats: some are left for answers to taps, and for those that were late on their way."""
GROUP_PER_MIN = 18
"""Of 20 to a group; two are left for what was on its way longer than others."""
MARGIN_S = 0.03


class Limits:
    """What left lately, and from when on more may."""

    def __init__(self, per_second: int = PER_SECOND, *, gap_s: float = GAP_S) -> None:
        self._gap_s = gap_s
        self._latest: deque[float] = deque(maxlen=per_second)
        self._groups: dict[str, deque[float]] = {}
        self._free_at: dict[str, float] = {}
        self._paused: dict[str, float] = {}
        self._all_free_at = 0.0

    def free_at(self, chat: str) -> float:
        """From when on a letter to this chat may leave, as far as the chat itself goes."""
        return self._free_at.get(chat, 0.0)

    def all_free_at(self) -> float:
        """From when on any letter may leave."""
        is_full = len(self._latest) == self._latest.maxlen
        return max(self._all_free_at, self._latest[0] + 1 + MARGIN_S if is_full else 0.0)

    def leaves(self, now: float) -> None:
        """A letter leaves."""
        self._latest.append(now)

    def arrived(self, chat: str, now: float) -> None:
        """A letter arrived in this chat: from here its pause counts, however long it was on its way."""
        free_at = now + self._gap_s + MARGIN_S
        if chat.startswith("-"):
            times = self._groups.setdefault(chat, deque(maxlen=GROUP_PER_MIN))
            times.append(now)
            if len(times) == GROUP_PER_MIN:
                free_at = max(free_at, times[0] + 60 + MARGIN_S)
        self._free_at[chat] = free_at
        if len(self._free_at) > 5_000:
            self._free_at = {key: at for key, at in self._free_at.items() if at > now}
            self._groups = {key: times for key, times in self._groups.items() if times[-1] > now - 60}

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
