"""Nights on which nothing ever changes, and how often the watch over the counts cries wolf on them."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

from figures_rig import RIG

from coach.counting import Entry
from coach.watching import Watch, look, silent_from

HOURS = 8
WINDOW_MIN = 10.0
Way = Callable[[random.Random], list[Entry]]


def taps(chance: random.Random) -> list[Entry]:
    """Every animal a tap, both dippers alike, at 6 to 60 an hour all night."""
    rate_h = chance.choice([6, 20, 60])
    return [_entry(at, chance.choice(["bow", "stern"]), 1) for at in _poisson(chance, rate_h)]


def batches(chance: random.Random) -> list[Entry]:
    """Numbers written down every so often, both sides at once, at 20 to 300 an hour."""
    rate_h, entries, at = chance.choice([20, 60, 300]), [], 0.0
    while at < HOURS * 3600:
        pause = chance.uniform(3, 25) * 60
        at += pause
        for side in ("bow", "stern"):
            entries.append(_entry(at, side, _count(chance, rate_h / 2 * pause / 3600)))
    return entries


def buckets(chance: random.Random) -> list[Entry]:
    """Whole buckets of 60 animals each, at 300 an hour."""
    filled = {"bow": 0, "stern": 0}
    entries = []
    for at in _poisson(chance, 300):
        side = chance.choice(["bow", "stern"])
        filled[side] += 1
        if filled[side] % 60 == 0:
            entries.append(_entry(at, side, 1, "bucket"))
    return entries


def idle_deep_lamp(chance: random.Random) -> list[Entry]:
    """Taps of a deep lamp that does not pay (5 jumps in 90 minutes), beside a steady catch."""
    jumps = [_entry(at, "deep", 1) for at in _poisson(chance, 5 / 1.5)]
    steady = [_entry(at, chance.choice(["bow", "stern"]), 1) for at in _poisson(chance, 25)]
    return sorted([*jumps, *steady], key=lambda entry: entry.at)


def ways() -> dict[str, Way]:
    return {
        "tap by tap": taps,
        "in batches": batches,
        "by the bucket": buckets,
        "with an idle deep lamp": idle_deep_lamp,
    }


def findings_of(entries: list[Entry]) -> Iterator[str]:
    """What the watch says over a night, entry by entry, as the bot asks it."""
    watch = Watch(entries[0].at if entries else 0.0)
    for place in range(1, len(entries)):
        silent = silent_from(watch, entries[:place], RIG)
        if silent is not None and silent < entries[place].at:
            yield "silence"
            watch = Watch(watch.since, watch.seen, watch.looks, (*watch.told, "silence"))
        if place + 1 < len(entries) and entries[place].at == entries[place + 1].at:
            continue  # one message holds both sides
        watch, found = look(watch, entries[: place + 1], RIG, window_min=WINDOW_MIN, deep_since=0.0)
        yield from (finding.kind for finding in found)


def alarm_share(way: Way, *, nights: int, chance: random.Random) -> float:
    """The share of nights on which anything at all is said."""
    return sum(any(True for _ in findings_of(way(chance))) for _ in range(nights)) / nights


def _entry(at: float, side: str, amount: float, unit: str = "piece") -> Entry:
    return Entry(at, side, "", amount, unit)  # type: ignore[arg-type]


def _poisson(chance: random.Random, rate_h: float) -> Iterator[float]:
    at = chance.expovariate(rate_h / 3600)
    while at < HOURS * 3600:
        yield at
        at += chance.expovariate(rate_h / 3600)


def _count(chance: random.Random, mean: float) -> int:
    count, at = 0, chance.expovariate(1.0)
    while at < mean:
        count += 1
        at += chance.expovariate(1.0)
    return count
