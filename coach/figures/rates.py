"""Catch per lamp-hour with its range, and when a rate changed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from coach.figures.limits import checked, whole


class Rate(NamedTuple):
    """A rate with the range that luck leaves open."""

    per_lamp_hour: float
    low: float
    high: float


class Change(NamedTuple):
    """Where a row of counts breaks: after `after` of them; rates before and after; how sure.

    `likelihood_ratio` is twice the gain in log-likelihood, `p_value` its level by permutation.
    """

    after: int
    rate_before: float
    rate_after: float
    likelihood_ratio: float
    p_value: float


def regularized_gamma(a: float, x: float) -> float:
    """P(a, x), the share of a Gamma(a, 1) below x, for a > 0 and x >= 0, to 1e-14.

    Series below a + 1, continued fraction (Lentz) above. Source: Abramowitz & Stegun 6.5.29 and
    6.5.31 (MEMORY).
    """
    if x <= 0:
        return 0.0
    front = math.exp(a * math.log(x) - x - math.lgamma(a))
    return front * _gamma_series(a, x) if x < a + 1 else 1 - front * _gamma_fraction(a, x)


def _gamma_series(a: float, x: float) -> float:
    term = total = 1 / a
    n = a
    while abs(term) > 1e-17 * total:
        n += 1
        term *= x / n
        total += term
    return total


def _gamma_fraction(a: float, x: float) -> float:
    tiny = 1e-300
    b = x + 1 - a
    c, d = 1 / tiny, 1 / b
    value = d
    for i in range(1, 100_000):
        step = i * (a - i)
        b += 2
        d = 1 / ((step * d + b) or tiny)
        c = (b + step / c) or tiny
        value *= c * d
        if abs(c * d - 1) < 1e-16:
            break
    return value


def _root(is_above: Callable[[float], bool], high: float) -> float:
    low = 0.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (low, middle) if is_above(middle) else (middle, high)
    return (low + high) / 2


def garwood(count: float, *, level: float = 0.95) -> tuple[float, float]:
    """Exact range for the mean behind a Poisson count; one-sided from 0 for a count of 0.

    Source: Garwood 1936, Biometrika 28 (MEMORY). Raises ValueError unless the count is whole, 0 to
    100,000, and the level 0.5 to 0.9999.
    """
    k, tail = whole("count", count), (1 - checked("level", level)) / 2
    most = k + 12 * math.sqrt(k + 1) + 30
    if k == 0:
        return 0.0, -math.log(2 * tail)
    low = _root(lambda mean: regularized_gamma(k, mean) > tail, most)
    high = _root(lambda mean: regularized_gamma(k + 1, mean) > 1 - tail, most)
    return low, high


def catch_rate(count: float, lamp_hours: float) -> Rate:
    """Catch per lamp-hour with its 95 % range: all that was lifted over all lamp-hours.

    A ratio of sums, so that short looks do not count as much as long ones (usual for catch per unit
    of effort, MEMORY). Raises ValueError for a count that is not whole, or hours outside 0.01 to 1000.
    """
    hours = checked("lamp_hours", lamp_hours)
    low, high = garwood(count)
    return Rate(count / hours, low / hours, high / hours)


def _gain(before: float, before_t: float, after: float, after_t: float) -> float:
    """Log-likelihood of two Poisson rates over that of one, at their best."""
    pooled = (before + after) / (before_t + after_t)
    parts = ((before, before_t), (after, after_t))
    return math.fsum(n * math.log(n / t / pooled) for n, t in parts if n > 0)


def _best_break(counts: Sequence[int], minutes: Sequence[float]) -> tuple[float, int]:
    total, total_t = sum(counts), math.fsum(minutes)
    best, seen, seen_t = (0.0, 1), 0, 0.0
    for k in range(1, len(counts)):
        seen += counts[k - 1]
        seen_t += minutes[k - 1]
        best = max(best, (_gain(seen, seen_t, total - seen, total_t - seen_t), k), key=lambda found: found[0])
    return best


def change_point(
    counts: Sequence[int], minutes: Sequence[float], *, permutations: int = 999, seed: int = 1
) -> Change:
    """Find the one break of a row of counts that fits a constant rate on either side best.

    Poisson maximum likelihood over all places of the break; its level is the share of shuffled rows
    (counts with their minutes) that break as clearly, this one included. `seed` fixes the shuffles:
    the same row always gets the same answer. Rates are per minute.
    Source: the model of Carlin, Gelfand & Smith 1992 for the coal disasters (MEMORY); least squares
    would put the break of counts elsewhere. Raises ValueError for fewer than 2 counts or bad ones.
    """
    row = [whole("count", count) for count in counts]
    times = [checked("minutes", length) for length in minutes]
    if len(row) < 2 or len(row) != len(times):
        raise ValueError(
            f"counts: got {len(row)} with {len(times)} durations; allowed 2 and more of each alike"
        )
    gain, k = _best_break(row, times)
    from random import Random  # noqa: PLC0415  (slow to import, seldom needed)

    chance = Random(seed)
    pairs = list(zip(row, times, strict=True))
    as_clear = 1
    for _ in range(permutations):
        chance.shuffle(pairs)
        as_clear += _best_break(*zip(*pairs, strict=True))[0] >= gain - 1e-12
    before, after = sum(row[:k]) / math.fsum(times[:k]), sum(row[k:]) / math.fsum(times[k:])
    return Change(k, before, after, 2 * gain, as_clear / (permutations + 1))
