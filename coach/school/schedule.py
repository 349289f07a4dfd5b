"""When an item of the school comes again, and which few come today. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from coach.school import spacing
from coach.school.cards import CardState, Grade, graded, retaught

__all__ = ["CardState", "Grade", "Plan", "graded", "interleaved", "retaught"]

EARLY_H = 12
"""Hours before it is due at which an item may be asked, on the same day of study: never twice in a night."""
AIM_LOW, AIM_HIGH = 0.7, 0.98
"""Outside these the spacing no longer pays: days too many or items forgotten too often."""


@dataclass(frozen=True, slots=True)
class Plan:
    """How one learner studies; all that may be chosen, with what was found to serve.

    `target`: share of answers that should still be right when an item comes again. `memory`: this
    learner's memory as a multiple of the usual one (see `memory.memory_of`). `quiet`: from and until by the
    learner's clock. `stuck_after`: so many wrong answers put an item aside until it is taught anew (see
    `retaught`). `day_starts_h`: a night's work belongs to the evening it began. `steps_min`: minutes after
    which a new item comes again in the same sitting, `again_min` one forgotten; simulated learners kept
    less for each minute with such steps, so there are none unless asked for.
    Raises ValueError for what lies outside: all faults in one sentence.
    """

    target: float = 0.9
    memory: float = 1.0
    cards_a_day: int = 10
    new_a_day: int = 3
    quiet: tuple[time, time] | None = None
    stuck_after: int = 4
    day_starts_h: float = 12
    steps_min: tuple[float, ...] = ()
    again_min: tuple[float, ...] = ()
    longest_days: int = 365

    def __post_init__(self) -> None:
        faults = [
            f"{name}: got {getattr(self, name)}; allowed {low:g} to {high:g}"
            for name, low, high in _LIMITS
            if not low <= getattr(self, name) <= high
        ]
        faults += [
            f"{name}: got {step}; allowed above 0, up to 1440 minutes"
            for name in ("steps_min", "again_min")
            for step in getattr(self, name)
            if not 0 < step <= 1440
        ]
        if faults:
            raise ValueError("; ".join(faults))

    @property
    def aim(self) -> float:
        """The share the package is asked for, so that this learner reaches `target`, 0.7 to 0.98."""
        return min(max(spacing.stretched(self.target, 1 / self.memory), AIM_LOW), AIM_HIGH)

    def after(self, card: CardState | None, grade: Grade, now: datetime) -> CardState:
        """What is kept after an answer at `now` (aware); `card` is None for the first answer.

        An item asked some hours early, on the day of study it is due, counts as answered when due: else a
        sitting that begins a minute sooner than yesterday's would lose the day.
        Raises ValueError for a time without a zone, or on a day before the answer before it.
        """
        return spacing.answered(
            card,
            grade,
            at=self._counted_at(card, now),
            aim=self.aim,
            steps_min=self.steps_min,
            again_min=self.again_min,
            longest_days=self.longest_days,
        )

    def _counted_at(self, card: CardState | None, now: datetime) -> datetime:
        _must_be_aware(now)
        if card is None:
            return now
        if self._day(card.last_at, now) > self._day(now, now):
            raise ValueError(
                f"now: got {now.isoformat()}; the answer before was at {card.last_at.isoformat()}"
            )
        return max(now, card.due_at if self._is_due(card, now) else card.last_at)

    def _is_due(self, card: CardState, now: datetime) -> bool:
        """Due by now or, where days are counted, later on this day of study."""
        if card.due_at <= now or card.due_at - card.last_at < timedelta(days=1):
            return card.due_at <= now
        is_near = card.due_at - now <= timedelta(hours=EARLY_H)
        return is_near and self._day(card.due_at, now) <= self._day(now, now)

    def recall(self, card: CardState, now: datetime) -> float:
        """The chance from 0 to 1 that the item would be recalled at `now`, by the curve of FSRS-6."""
        elapsed_days = max(0.0, (now - card.last_at) / timedelta(days=1))
        return spacing.recall_after(elapsed_days, card.stability_days * self.memory)

    def due(
        self, cards: Mapping[str, CardState], now: datetime, topics: Mapping[str, str], *, asked: bool = False
    ) -> tuple[str, ...]:
        """What to ask now: items that are due and a few new ones, topics mixed; () in quiet hours.

        `topics` gives the topic of every item there is, in the order in which new ones should come;
        cards of items that are no longer there are passed over, and so are stuck ones. Where the day is
        too short, what is most likely forgotten comes first. Items that come again in
        the same sitting are on top of the day's number. `asked`: the learner came on his own, also at night.
        Raises ValueError for a time without a zone.
        """
        _must_be_aware(now)
        if self.is_quiet(now) and not asked:
            return ()
        known = {item: cards[item] for item in topics if item in cards and not self.is_stuck(cards[item])}
        today = self._day(now, now)
        done = {item for item, card in cards.items() if self._day(card.last_at, now) == today}
        ripe = [item for item, card in known.items() if self._is_due(card, now)]
        back = [item for item in ripe if item in done]
        waiting = sorted(
            (item for item in ripe if item not in done), key=lambda i: self.recall(cards[i], now)
        )
        room = max(0, self.cards_a_day - len(done))
        begun = sum(self._day(card.first_at, now) == today for card in cards.values())
        new = max(0, min(room - len(waiting), self.new_a_day - begun))
        fresh = [item for item in topics if item not in cards][:new]
        return interleaved([*back, *waiting[:room], *fresh], topics)

    def is_stuck(self, card: CardState) -> bool:
        """Was it wrong so often that asking it again wastes time, and another explanation is due?"""
        return card.wrong >= self.stuck_after

    def is_quiet(self, now: datetime) -> bool:
        """Is it an hour in which nobody wants to be asked? By the clock of `now`."""
        if self.quiet is None:
            return False
        begin, end = self.quiet
        clock = now.time()
        return begin <= clock < end if begin <= end else clock >= begin or clock < end

    def _day(self, at: datetime, now: datetime) -> date:
        """The day of study that `at` belongs to, by the clock of `now`."""
        return (at.astimezone(now.tzinfo) - timedelta(hours=self.day_starts_h)).date()


_LIMITS = (
    ("target", AIM_LOW, AIM_HIGH),
    ("memory", 0.05, 20),
    ("cards_a_day", 1, 1000),
    ("new_a_day", 0, 1000),
    ("stuck_after", 1, 1000),
    ("day_starts_h", 0, 24),
    ("longest_days", 1, 36500),
)


def interleaved(items: Iterable[str], topics: Mapping[str, str]) -> tuple[str, ...]:
    """The items with topics mixed: no two of a topic in a row where that can be had.

    Within a topic the order stays. Source of the order: always from the topic with the most left that was
    not the last; so repeats are as few as can be.
    """
    left: dict[str, list[str]] = {}
    for item in items:
        left.setdefault(topics[item], []).append(item)
    mixed: list[str] = []
    last = None
    while left:
        free = [topic for topic in left if topic != last] or list(left)
        last = max(free, key=lambda topic: len(left[topic]))
        mixed.append(left[last].pop(0))
        if not left[last]:
            del left[last]
    return tuple(mixed)


def _must_be_aware(now: datetime) -> None:
    if now.tzinfo is None:
        raise ValueError(f"now: got {now.isoformat()}; a time with its zone is needed")
