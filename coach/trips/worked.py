"""Which advice worked: over trips, how often each cause was named and seeing to it helped."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from coach.figures.binomial import clopper_pearson
from coach.model import Rulebook
from coach.trips.trip import Trip

FEW = 10
"""Below this many answers a share says little, and it is said so."""
_LEVEL = 0.95


@dataclass(frozen=True, slots=True)
class Worked:
    """A cause named in advice: how often, and what came of it. Shares are 0 to 1; None: nobody said."""

    cause: str
    given: int
    helped: int
    did_not: int

    @property
    def told(self) -> int:
        """How often somebody said what came of it."""
        return self.helped + self.did_not

    @property
    def share(self) -> float | None:
        """The part of the answers that said it helped."""
        return self.helped / self.told if self.told else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """95 % interval of that share (Clopper and Pearson 1934, as in figures.binomial)."""
        return clopper_pearson(self.helped, self.told, level=_LEVEL) if self.told else None


def worked(trips: Iterable[Trip]) -> tuple[Worked, ...]:
    """Every cause that was named first in a piece of advice, the most often named first.

    Only the first cause of an advice counts: it is what people were told to see to.
    """
    given: Counter[str] = Counter()
    helped: Counter[str] = Counter()
    did_not: Counter[str] = Counter()
    for advice in (advice for trip in trips for advice in trip.advice if advice.causes):
        cause = advice.causes[0]
        given[cause] += 1
        helped[cause] += advice.helped is True
        did_not[cause] += advice.helped is False
    return tuple(Worked(cause, n, helped[cause], did_not[cause]) for cause, n in given.most_common())


def worked_in_words(found: Iterable[Worked], book: Rulebook) -> tuple[str, ...]:
    """A line a cause, for a captain to read."""
    lines = tuple(_line(each, book) for each in found)
    return lines or ("No advice that names a cause is in the log yet.",)


def _line(each: Worked, book: Rulebook) -> str:
    says = book.causes[each.cause].says if each.cause in book.causes else each.cause
    head = f"{says.capitalize()}: advised {_times(each.given)}"
    if each.interval is None:
        return f"{head}, nobody said whether it helped."
    low, high = each.interval
    few = " Few answers: it may be luck." if each.told < FEW else ""
    return f"{head}, helped in {each.helped} of {each.told} ({low:.0%} to {high:.0%}).{few}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
