"""Who may use the bot, and how fast: an allow-list and a bucket of messages for each person."""

from __future__ import annotations

from collections import OrderedDict
from typing import Literal

from coach.front.telegram.config import Config
from coach.front.telegram.event import Event

_PEOPLE = 10_000


class Pace:
    """Buckets of all people heard of lately. Times are those at which messages were sent, so that what
    piled up while the bot was away counts as it was sent. Not for several threads at once."""

    def __init__(self, config: Config) -> None:
        self._allow, self._burst, self._per_s = config.allow, config.burst, config.per_minute / 60
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def judge(self, event: Event) -> Literal["", "stranger", "too fast", "much too fast"]:
        """ "" if the event may be handled; "much too fast": said already, be silent."""
        if self._allow and not {int(event.person), int(event.chat)} & self._allow:
            return "stranger"
        left, at = self._buckets.pop(event.person, (float(self._burst), event.at))
        left = min(self._burst, left + max(0.0, event.at - at) * self._per_s)
        self._buckets[event.person] = (max(-1.0, left - 1), max(at, event.at))
        if len(self._buckets) > _PEOPLE:
            self._buckets.popitem(last=False)
        if left >= 1:
            return ""
        return "too fast" if left >= 0 else "much too fast"
