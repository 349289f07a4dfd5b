"""Catch per lamp-hour over many trips, by what the night was like; small numbers said to be small.

A rate is all that was lifted over all lamp-hours, with the exact 95 % range of its count. Counts of
different looks differ by more than luck (nights, runs), so the range is stretched by how much they do:
the square root of Pearson's dispersion on the log of the rate (McCullagh & Nelder 1989, quasi-Poisson,
MEMORY). Nothing here says that one thing causes another.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from coach.figures.rates import garwood
from coach.figures.rig import Rig
from coach.figures.sky import moon_lit, moon_share_word
from coach.trips.looks import Look, chosen
from coach.trips.trip import Place, Trip

DEFAULT_LAMPS = 2.0
"""Left and right: what the coach speaks of unless another number was told."""
FAR_TOO_FEW, FEW = 10, 35
"""Below 35 the range spans more than a factor of two, below 10 more than one of four."""
NOT_TOLD = "not told"


@dataclass(frozen=True, slots=True)
class Catch:
    """One look that has minutes: what was lifted in how many lamp-hours, on which trip."""

    trip: int
    count: float
    lamp_hours: float
    look: Look
    place: Place


@dataclass(frozen=True, slots=True)
class Group:
    """The looks that one word stands for. `rate` per lamp-hour with its range, None without any."""

    word: str
    count: float
    lamp_hours: float
    looks: int
    trips: int
    rate: float | None
    low: float
    high: float | None

    @property
    def few(self) -> str:
        """What is to be said of small numbers; "" where there is nothing to say."""
        if self.count < FAR_TOO_FEW:
            return "far too few to tell"
        if self.trips == 1:
            return "one trip only: a hint"
        return "few: a hint, no more" if self.count < FEW else ""


def catches(trips: Iterable[Trip]) -> list[Catch]:
    """Every look of every trip that has minutes, so that a rate can be made of it."""
    made = []
    for trip in trips:
        for look in chosen(trip.looks):
            lamps = DEFAULT_LAMPS if look.stage.lamps is None else look.stage.lamps
            if look.minutes and lamps > 0:
                made.append(Catch(trip.number, look.total, lamps * look.minutes / 60, look, trip.place))
    return made


def grouped(found: Sequence[Catch], word_of: Callable[[Catch], str]) -> list[Group]:
    """The catches by a word each, the highest rate first, what was not told last."""
    words = dict.fromkeys(word_of(catch) for catch in found)
    groups = [_group(word, [catch for catch in found if word_of(catch) == word]) for word in words]
    return sorted(groups, key=lambda group: (group.word == NOT_TOLD, -(group.rate or 0.0), group.word))


def overall(found: Sequence[Catch]) -> Group:
    """All catches as one group."""
    return _group("all", found)


def _group(word: str, found: Sequence[Catch]) -> Group:
    count, hours = math.fsum(c.count for c in found), math.fsum(c.lamp_hours for c in found)
    trips = len({catch.trip for catch in found})
    if hours <= 0:
        return Group(word, count, hours, len(found), trips, None, 0.0, None)
    rate = count / hours
    low, high = (mean / hours for mean in garwood(round(count)))
    stretch = math.sqrt(dispersion([(catch.count, catch.lamp_hours) for catch in found]))
    if rate > 0:
        low, high = (rate * (end / rate) ** stretch if end > 0 else 0.0 for end in (low, high))
    return Group(word, count, hours, len(found), trips, rate, low, high)


def dispersion(counts: Sequence[tuple[float, float]]) -> float:
    """Pearson's chi-square over its degrees of freedom for counts with their exposures, at least 1."""
    total, exposure = math.fsum(n for n, _ in counts), math.fsum(t for _, t in counts)
    if len(counts) < 2 or total <= 0:
        return 1.0
    expected = [(n, total * t / exposure) for n, t in counts]
    return max(1.0, math.fsum((n - mean) ** 2 / mean for n, mean in expected) / (len(counts) - 1))


# --- the words that looks are grouped by -----------------------------------------------------------


def tide_word(catch: Catch) -> str:
    """The tide at the look, as it was told."""
    return catch.look.stage.tide or NOT_TOLD


def set_word(catch: Catch) -> str:
    """The set-up that was meant."""
    return catch.look.stage.set_up or NOT_TOLD


def place_word(catch: Catch) -> str:
    """The place by its name, or by its rounded degrees."""
    place = catch.place
    if place.name:
        return place.name
    if place.lat_deg is None or place.lon_deg is None:
        return NOT_TOLD
    return f"{place.lat_deg:g}, {place.lon_deg:g}"


def moon_word_of(rig: Rig) -> Callable[[Catch], str]:
    """The moon as it was told; otherwise its lit part by the calendar, whatever the clouds did."""

    def word(catch: Catch) -> str:
        return catch.look.stage.moon or moon_share_word(_lit(catch.look.at), rig)

    return word


def _lit(at: datetime) -> float:
    return min(1.0, max(0.0, moon_lit(at.astimezone() if at.tzinfo is None else at)))


def by_ways(found: Sequence[Catch], rig: Rig, *, only: str | None = None) -> dict[str, list[Group]]:
    """The catches grouped by tide, moon, set and place, or by one of these only."""
    ways: dict[str, Callable[[Catch], str]] = {
        "tide": tide_word,
        "moon": moon_word_of(rig),
        "set": set_word,
        "place": place_word,
    }
    return {name: grouped(found, way) for name, way in ways.items() if only in (None, name)}
