"""A night's counts told one after another: has the rate dropped, and when did it?

The counts are those of ten minutes that were told in answers, each with its time. Looks repeated all
night are counted as such, so that luck alone cries wolf on few nights.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

from coach.figures.looks import drop_watch, level_for_look
from coach.figures.rates import Change, change_point
from coach.figures.rig import Rig
from coach.model import Scalar
from coach.sums.counts import COUNTED_MIN
from coach.sums.declare import gives

ROW = "catch.row"
"""The fact under which the program hands over the counts told so far, as text."""
_LEAST = 4
"""Fewer counts show no break that luck would not."""


class Row(NamedTuple):
    """Counts of ten minutes, and when each was told."""

    times: tuple[datetime, ...]
    counts: tuple[int, ...]


def row_fact(told: Sequence[tuple[str, float]]) -> dict[str, Scalar]:
    """Counts (when told, how many in ten minutes) as one fact for the sums; nothing while they are few."""
    return {ROW: "|".join(f"{at} {count:g}" for at, count in told)} if len(told) >= _LEAST else {}


def row_until(counts: Sequence[float], last: datetime) -> dict[str, Scalar]:
    """The same for counts told every ten minutes, the last at a moment."""
    ago = (timedelta(minutes=COUNTED_MIN * back) for back in reversed(range(len(counts))))
    return row_fact([((last - each).isoformat(), count) for each, count in zip(ago, counts, strict=True)])


@gives("catch.has_dropped")
def has_dropped(catch_row: str, rig: Rig) -> bool:
    """Whether the last of the counts have dropped more than luck allows."""
    return _has_dropped(catch_row, rig.false_alarm_share)


@gives("catch.broke_at")
def broke_at(catch_row: str, catch_has_dropped: bool, rig: Rig) -> str | None:
    """When the counts broke: the first of those after it."""
    found = _break(catch_row, rig.false_alarm_share) if catch_has_dropped else None
    return None if found is None else _read(catch_row).times[found.after].isoformat(timespec="seconds")


@gives("catch.broke_from_per_10min")
def broke_from(catch_row: str, catch_broke_at: str, rig: Rig) -> float | None:
    """The rate before the break."""
    found = _break(catch_row, rig.false_alarm_share) if catch_broke_at else None
    return None if found is None else COUNTED_MIN * found.rate_before


@gives("catch.broke_to_per_10min")
def broke_to(catch_row: str, catch_broke_at: str, rig: Rig) -> float | None:
    """The rate after the break."""
    found = _break(catch_row, rig.false_alarm_share) if catch_broke_at else None
    return None if found is None else COUNTED_MIN * found.rate_after


def _read(row: str) -> Row:
    pairs = [each.split(" ") for each in row.split("|")]
    times = tuple(datetime.fromisoformat(at) for at, _ in pairs)
    return Row(times, tuple(round(float(count)) for _, count in pairs))


@lru_cache(maxsize=64)
def _has_dropped(row: str, false_alarm_share: float) -> bool:
    counts = _read(row).counts
    return drop_watch(counts, [COUNTED_MIN] * len(counts), false_alarm_share=false_alarm_share).has_dropped


@lru_cache(maxsize=64)
def _break(row: str, false_alarm_share: float) -> Change | None:
    """The break of the counts downwards, if luck alone does not make one so clear."""
    counts = _read(row).counts
    found = change_point(counts, [COUNTED_MIN] * len(counts), permutations=199)
    is_clear = found.p_value <= level_for_look(1, false_alarm_share=2 * false_alarm_share)
    return found if is_clear and found.rate_after < found.rate_before else None


def forget() -> None:
    """Drop the breaks that were worked out."""
    _has_dropped.cache_clear()
    _break.cache_clear()
