"""One text being searched: what stands between words, and what was found where."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from coach.language.clock import Clock, clock_at
from coach.language.quantities import Quantity, quantity_at, rate_at
from coach.language.tokens import Text

NUMBER = "\x00number"
"""Stands for "any word a number can start with" among the words a phrase may start with."""

SOFT = frozenset({"-", "(", ")", '"', "'", ":", "=", "~", "/"})
"""Signs that may stand between any two words of a phrase."""

PAUSES = frozenset({",", "—"})
"""Signs that may stand where a phrase has a comma or may have an "and"."""

HARD = frozenset({".", ";", "!", "?", "\n"})
BORDERS = frozenset({
    "but", "and", "then", "so", "because", "cause", "cos", "while", "whereas", "though", "although",
    "yet", "however",
    "except", "whilst", "if", "unless", "&", "+", "plus", "since", "until", "till",
})  # fmt: skip
"""Words a gap does not reach over."""

_AFTER_SO = frozenset({"far", "much", "many", "few", "little"})


def is_so_far(words: Sequence[str], at: int) -> bool:
    """True for the "so" of "so far", which opens nothing."""
    return words[at] == "so" and at + 1 < len(words) and words[at + 1] in _AFTER_SO


GAP = ""
_MOST_SOFT = 4


@dataclass(frozen=True, slots=True)
class Held:
    """What a slot took, or a gap skipped: words `start` to before `end`."""

    name: str
    start: int
    end: int
    value: Quantity | Clock | None = None


End = tuple[int, tuple[Held, ...]]
"""Where a part ended, and what its slots and gaps hold."""


@dataclass(slots=True)
class Scan:
    """One text being searched, with what has been found at each place so far."""

    text: Text
    words: tuple[str, ...]
    now: datetime
    memo: dict[tuple[object, int], Sequence[End]] = field(default_factory=dict)
    values: dict[tuple[str, int], Quantity | Clock | None] = field(default_factory=dict)

    def after_soft(self, at: int) -> int:
        """The next place that is not a sign such as a dash, nor a "not"; a few at most are passed."""
        end = min(at + _MOST_SOFT, len(self.words))
        while at < end and (self.words[at] in SOFT or self.words[at] == "not"):
            at += 1
        return at

    def value(self, kind: str, at: int) -> Quantity | Clock | None:
        """The quantity or time of this kind that starts at a word."""
        key = (kind, at)
        if key not in self.values:
            self.values[key] = (
                _READERS[kind](self.text, at) if kind in _READERS else _quantity(self.text, at, kind=kind)
            )
        return self.values[key]


def _quantity(text: Text, at: int, *, kind: str) -> Quantity | None:
    if kind.startswith("per_"):
        return rate_at(text, at, per_min=float(kind[4:-3]))
    return quantity_at(text, at, kind=kind)


_READERS: dict[str, Callable[[Text, int], Quantity | Clock | None]] = {"time": clock_at}
