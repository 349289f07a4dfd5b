"""The binomial distribution in plain arithmetic: tails, exact test, exact range."""

from __future__ import annotations

import math
from collections.abc import Callable


def regularized_beta(x: float, a: float, b: float) -> float:
    """I_x(a, b), the share of a Beta(a, b) below x, for 0 <= x <= 1 and a, b > 0.

    Continued fraction by Lentz's method, 1e-15 relative. Source: Abramowitz & Stegun 26.5.8 (MEMORY).
    """
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - regularized_beta(1 - x, b, a)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    return front / a * _beta_fraction(x, a, b)


def _beta_fraction(x: float, a: float, b: float) -> float:
    tiny = 1e-300
    d = 1 / ((1 - (a + b) * x / (a + 1)) or tiny)
    c, value = 1.0, d
    for m in range(1, 20_000):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        before = value
        for part in (even, odd):
            d = 1 / ((1 + part * d) or tiny)
            c = (1 + part / c) or tiny
            value *= c * d
        if abs(value - before) <= 1e-16 * abs(value):
            break
    return value


def at_most(k: int, n: int, p: float) -> float:
    """Chance of k or fewer in n tries of chance p."""
    if k < 0 or k >= n:
        return float(k >= n)
    return regularized_beta(1 - p, n - k, k + 1)


def at_least(k: int, n: int, p: float) -> float:
    """Chance of k or more in n tries of chance p."""
    if k <= 0 or k > n:
        return float(k <= 0)
    return regularized_beta(p, k, n - k + 1)


def _log_chance(k: int, n: int, p: float) -> float:
    ways = math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
    return ways + k * math.log(p) + (n - k) * math.log1p(-p)


def _first_as_rare(low: int, high: int, n: int, p: float, limit: float, *, rising: bool) -> int:
    """Bisect for the boundary in [low, high] where the chance of a count passes `limit` (a log).

    On the rising side: the smallest count above the limit. On the falling side: the smallest not above.
    """
    while low < high:
        middle = (low + high) // 2
        if (_log_chance(middle, n, p) > limit) == rising:
            high = middle
        else:
            low = middle + 1
    return low


def two_sided_p(k: int, n: int, p: float) -> float:
    """Exact two-sided p-value: the chance of all counts not more likely than k, in n tries of chance p.

    Source: the definition of R's binom.test, with its tolerance of 1e-7 for ties (MEMORY). 0 < p < 1.
    """
    limit = _log_chance(k, n, p) + 1e-7
    peak = min(n, int((n + 1) * p))
    if _log_chance(peak, n, p) <= limit:
        return 1.0
    if k < peak:
        far = _first_as_rare(peak, n + 1, n, p, limit, rising=False)
        return min(1.0, at_most(k, n, p) + at_least(far, n, p))
    far = _first_as_rare(0, peak, n, p, limit, rising=True)
    return min(1.0, at_least(k, n, p) + at_most(far - 1, n, p))


def clopper_pearson(k: int, n: int, *, level: float) -> tuple[float, float]:
    """Exact range for the chance behind k out of n, at a level such as 0.95; (0, 1) for n = 0.

    Source: Clopper & Pearson 1934 (MEMORY). Found by bisection on the tails to 1e-12.
    """
    tail = (1 - level) / 2
    low = 0.0 if k == 0 else _solve(lambda p: at_least(k, n, p) > tail)
    high = 1.0 if k == n else _solve(lambda p: at_most(k, n, p) <= tail)
    return low, high


def _solve(is_above: Callable[[float], bool]) -> float:
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if is_above(middle) else (middle, high)
    return (low + high) / 2
