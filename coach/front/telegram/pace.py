"""Who may use the bot, and how fast: an allow-list and a bucket of messages for each person."""

from __future__ import annotations

from collections import OrderedDict
from typing import Literal

from coach.front.telegram.config import Config
from coach.front.telegram.event import Event

_PEOPLE = 10_000
_TOLD_AGAIN_S = 3600.0
"""A stranger is told so once an hour: an answer to each message would be a flood of ours."""
_STRANGERS_A_MIN = 20
"""So many strangers are told so within a minute, that a crowd of them slows down nobody else."""

Verdict = Literal["", "stranger", "too fast", "silent"]


class Pace:
    """Buckets of all people heard of lately. Times are those at which messages were sent, so that what
    piled up while the bot was away counts as it was sent. Not for several threads at once."""

    def __init__(self, config: Config) -> None:
        self._allow, self._burst, self._per_s = config.allow, config.burst, config.per_minute / 60
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._told: OrderedDict[str, float] = OrderedDict()

    def judge(self, event: Event) -> Verdict:
        """ "" if the event may be handled; "silent" if it may not, and nothing is to be said."""
        if self._allow and not {int(event.person), int(event.chat)} & self._allow:
            return self._stranger(event)
        left = self._spent(event.person, event.at)
        if event.is_group:  # many people must not do together what one may not
            left = min(left, self._spent(event.chat, event.at))
        if left >= 1:
            return ""
        return "too fast" if left >= 0 else "silent"

    def _spent(self, who: str, at: float) -> float:
        """What was left in a bucket before this message was taken out of it."""
        left, last = self._buckets.pop(who, (float(self._burst), at))
        left = min(self._burst, left + max(0.0, at - last) * self._per_s)
        self._buckets[who] = (max(-1.0, left - 1), max(last, at))
        if len(self._buckets) > _PEOPLE:
            self._buckets.popitem(last=False)
        return left

    def _stranger(self, event: Event) -> Verdict:
        at = self._told.get(event.person)
        if event.is_group or (at is not None and event.at - at < _TOLD_AGAIN_S):
            return "silent"
        if sum(event.at - told < 60 for told in self._told.values()) >= _STRANGERS_A_MIN:
            return "silent"
        self._told[event.person] = event.at
        if len(self._told) > _PEOPLE:
            self._told.popitem(last=False)
        return "stranger"
