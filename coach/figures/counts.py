"""Small counts of a night: is one dipper's share real, did the rate really drop?

Exact tests in plain arithmetic. One look may use a p-value as it stands; repeated looks may not,
see `looks`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from coach.figures.binomial import clopper_pearson, two_sided_p
from coach.figures.limits import checked, whole


class Share(NamedTuple):
    """The bow's part of the crew's count, its 95 % range, and how easily luck alone gives it."""

    p_value: float
    bow_share: float | None
    bow_share_low: float
    bow_share_high: float


class Drop(NamedTuple):
    """The rate now as a multiple of the rate before (None: nothing before), its range, the tests.

    `p_value` is the conditional test (never too sure), `p_value_e` the E-test (sharper on small
    counts; None where the counts are too large for it and the two agree anyway).
    """

    p_value: float
    p_value_e: float | None
    ratio: float | None
    ratio_low: float
    ratio_high: float | None


def bow_share(bow_count: float, stern_count: float, *, expected_share: float = 0.5) -> Share:
    """Test the bow's share against the share of lamp-hours that the bow dipper had.

    Exact two-sided binomial test (probabilities not above that of the count seen), with the
    Clopper-Pearson 95 % range. With no count at all the share is None and the range is everything.
    Source: Conover 1971 as in R's binom.test (MEMORY). Raises ValueError for counts that are not
    whole or outside 0 to 100,000, or a share outside 0 to 1.
    """
    bow = whole("count", bow_count, name="bow_count")
    crew = bow + whole("count", stern_count, name="stern_count")
    expected = checked("share", expected_share, name="expected_share")
    low, high = clopper_pearson(bow, crew, level=0.95)
    return Share(two_sided_p(bow, crew, expected), bow / crew if crew else None, low, high)


def rate_drop(before_count: float, before_min: float, *, now_count: float, now_min: float) -> Drop:
    """Test whether the rate now differs from the rate before, from two counts and their minutes.

    Conditional test (Przyborowski & Wilenski 1940) and E-test (Krishnamoorthy & Thomson 2004, abstract
    READ), both two-sided; range of the ratio from the Clopper-Pearson 95 % range of the share.
    Raises ValueError for counts that are not whole, or minutes outside 0.1 to 1440.
    """
    before = whole("count", before_count, name="before_count")
    now = whole("count", now_count, name="now_count")
    before_h = checked("minutes", before_min, name="before_min") / 60
    now_h = checked("minutes", now_min, name="now_min") / 60
    time_share = now_h / (now_h + before_h)
    low, high = clopper_pearson(now, now + before, level=0.95)
    scale = before_h / now_h
    return Drop(
        p_value=two_sided_p(now, now + before, time_share),
        p_value_e=e_test_p(now, now_min, before_count=before, before_min=before_min),
        ratio=now / before * scale if before else None,
        ratio_low=low / (1 - low) * scale,
        ratio_high=high / (1 - high) * scale if high < 1 else None,
    )


def _likely(mean: float) -> tuple[int, list[float]]:
    """First count and probabilities of the Poisson counts that matter (all but 1e-13) at a mean above 0."""
    width = 8 * math.sqrt(mean) + 20
    first, last = max(0, int(mean - width)), int(mean + width)
    logs = math.log(mean)
    return first, [math.exp(k * logs - mean - math.lgamma(k + 1)) for k in range(first, last + 1)]


def _wald(first_rate: float, second_rate: float, *, spread: float) -> float:
    """Size of the difference of two rates in standard errors (0 where both counts are 0)."""
    return abs(first_rate - second_rate) / math.sqrt(spread) if spread > 0 else 0.0


def e_test_p(count: float, minutes: float, *, before_count: float, before_min: float) -> float | None:
    """Two-sided E-test for equal rates; None above 500 counts in all (slow, and C- and E-test agree).

    Sums the Poisson probabilities of all pairs of counts that differ at least as much in standard
    errors, at the pooled rate. Ties are kept by a relative tolerance, since exposures need not be
    whole. Source: Krishnamoorthy & Thomson 2004, "A more powerful test for comparing two Poisson
    means", J. Stat. Plan. Inference 119 (abstract READ). Raises ValueError outside limits.
    """
    x, y = whole("count", count), whole("count", before_count, name="before_count")
    t, u = checked("minutes", minutes), checked("minutes", before_min, name="before_min")
    if x + y > 500:
        return None
    seen = _wald(x / t, y / u, spread=x / t**2 + y / u**2)
    if seen == 0:
        return 1.0
    pooled = (x + y) / (t + u)
    return _tail(pooled, t, u, seen * (1 - 1e-9))


def _tail(pooled: float, t: float, u: float, at_least: float) -> float:
    first_x, chances_x = _likely(pooled * t)
    first_y, chances_y = _likely(pooled * u)
    total = 0.0
    for i, chance_x in enumerate(chances_x, first_x):
        rate_x, spread_x = i / t, i / t**2
        total += chance_x * math.fsum(
            chance_y
            for j, chance_y in enumerate(chances_y, first_y)
            if _wald(rate_x, j / u, spread=spread_x + j / u**2) >= at_least
        )
    return min(1.0, total)
