"""Looks: what was lifted in a span of the night, from answers in the chat and from counts on deck.

A look has minutes only where it is known since when it counts: since the look before, since the
lamps were set, or the ten minutes that were asked about. Without minutes it has no rate.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby
from typing import Any, Protocol

from coach.figures.clock import hours_between
from coach.model import Scalar

BOW, STERN = "crew.bow_count", "crew.stern_count"
TEN = "catch.now_per_10min"
SINCE_SET = "lamps.minutes_since_set"
TEN_MIN = 10.0
SAME_LOOK_MIN = 10.0
"""Bow and stern answered within so many minutes belong to one look."""
LONGEST_MIN = 180.0
"""Counts farther apart than this were hardly kept up between: no rate is made of them."""
PIECE = "piece"
_STAGE = {"tide": "tide.state", "moon": "sky.moon", "set_up": "set.intended", "lamps": "lamps.count"}


@dataclass(frozen=True, slots=True)
class Stage:
    """What the night was like at a look, as far as it was told."""

    tide: str | None = None
    moon: str | None = None
    set_up: str | None = None
    lamps: float | None = None


@dataclass(frozen=True, slots=True)
class Look:
    """Counts up to a moment. `minutes` is None where it is not known over how long; `whole` is the
    crew's count where nobody said who lifted them."""

    at: datetime
    minutes: float | None
    bow: float | None = None
    stern: float | None = None
    whole: float | None = None
    stage: Stage = Stage()

    @property
    def total(self) -> float:
        """All that was lifted."""
        if self.whole is not None:
            return self.whole
        return (self.bow or 0.0) + (self.stern or 0.0)

    @property
    def per_10min(self) -> float | None:
        """The catch in ten minutes; None where the minutes are not known."""
        return None if not self.minutes else self.total / self.minutes * TEN_MIN


class Entry(Protocol):
    """A count on deck, as kept: seconds since 1970, side, how much, of what."""

    @property
    def at(self) -> float:
        """When it was."""
        ...

    @property
    def side(self) -> str:
        """Bow or stern."""
        ...

    @property
    def amount(self) -> float:
        """How much."""
        ...

    @property
    def unit(self) -> str:
        """Of what."""
        ...


def stage_of(facts: Mapping[str, Scalar]) -> Stage:
    """The stage that facts tell of."""
    found: dict[str, Any] = {name: facts.get(fact) for name, fact in _STAGE.items()}
    lamps = found.pop("lamps")
    words = {name: None if value is None else str(value) for name, value in found.items()}
    return Stage(**words, lamps=None if lamps is None else float(lamps))


def counted(
    looks: Sequence[Look], heard: Mapping[str, Scalar], at: datetime, stage: Stage
) -> tuple[Look, ...]:
    """The looks with what was heard of counts at a moment; bow and stern of one look are joined."""
    made = list(looks)
    if BOW in heard or STERN in heard:
        told = {side: heard.get(fact) for side, fact in (("bow", BOW), ("stern", STERN))}
        sides: dict[str, Any] = {side: float(value) for side, value in told.items() if value is not None}
        last = next((look for look in reversed(made) if look.whole is None), None)
        if last is not None and _goes_on(last, sides, at):
            made[made.index(last)] = replace(last, at=at, stage=stage, **sides)
        else:
            made.append(Look(at, None, stage=stage, **sides))
    if TEN in heard:
        made.append(Look(at, TEN_MIN, whole=float(heard[TEN]), stage=stage))
    return tuple(made)


def _goes_on(last: Look, sides: Mapping[str, float], at: datetime) -> bool:
    """Whether a count is the other half of the last look."""
    near = hours_between(last.at, at) * 60 <= SAME_LOOK_MIN
    return near and all(getattr(last, side) is None for side in sides)


def timed(looks: Iterable[Look], *, set_at: datetime | None) -> tuple[Look, ...]:
    """The looks in order, each crew look with the minutes since the one before.

    The first counts from when the lamps were set, where that is known.
    """
    made: list[Look] = []
    since = set_at
    for look in sorted(looks, key=lambda look: look.at.timestamp()):
        if look.whole is not None:
            made.append(look)
            continue
        minutes = None if since is None else hours_between(since, look.at) * 60
        made.append(replace(look, minutes=minutes if minutes and 1 <= minutes <= LONGEST_MIN else None))
        since = look.at
    return tuple(made)


def on_deck(
    entries: Sequence[Entry], *, like: datetime, stages: Sequence[tuple[datetime, Stage]]
) -> tuple[Look, ...]:
    """Looks of ten minutes or more from single counts on deck, of pieces only, oldest first.

    What was written down at once stays together. Nobody knows since when the first count counts: it is
    a look without minutes, and the next begins with it. Where somebody counted without saying on which
    side, no look is parted by sides, lest their share be nobody's. Counts in other units cannot be added
    to pieces. `like` gives the clock of the times; `stages` are what the night was like from when on.
    """
    made: list[Look] = []
    start: datetime | None = None
    last: datetime | None = None
    sums: dict[str, float] = {}
    pieces = [entry for entry in entries if entry.unit == PIECE and entry.side != "deep"]
    is_by_side = all(entry.side for entry in pieces)
    for seconds, together in groupby(pieces, key=lambda entry: entry.at):
        last = datetime.fromtimestamp(seconds, like.tzinfo)
        for entry in together:
            side = entry.side if is_by_side else ""
            sums[side] = sums.get(side, 0.0) + entry.amount
        if start is None or hours_between(start, last) * 60 >= TEN_MIN:
            made.append(_deck_look(start or last, last, sums, stages))
            start, sums = last, {}
    if sums and start is not None and last is not None:
        made.append(_deck_look(start, last, sums, stages))
    return tuple(made)


def _deck_look(
    start: datetime, end: datetime, sums: Mapping[str, float], stages: Sequence[tuple[datetime, Stage]]
) -> Look:
    minutes = hours_between(start, end) * 60
    known = minutes if 1 <= minutes <= LONGEST_MIN else None
    stage = next((stage for at, stage in reversed(stages) if hours_between(at, end) >= 0), Stage())
    if "" in sums:  # somebody counted for the crew as a whole
        return Look(end, known, whole=sum(sums.values()), stage=stage)
    return Look(end, known, bow=sums.get("bow", 0.0), stern=sums.get("stern", 0.0), stage=stage)


def chosen(looks: Sequence[Look]) -> tuple[Look, ...]:
    """The looks that count towards totals: those of bow and stern where any has minutes, otherwise
    the answers for ten minutes. Both would count the same animals twice."""
    crew = tuple(look for look in looks if look.whole is None)
    whole = tuple(look for look in looks if look.whole is not None)
    return crew if not whole or any(look.minutes for look in crew) else whole
