"""Tests on small counts, against published values and scipy."""

import math

import numpy as np
import pytest
from figures_rig import RIG
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from coach.figures.binomial import at_least, at_most, clopper_pearson, regularized_beta, two_sided_p
from coach.figures.counts import bow_share, e_test_p, rate_drop

counts = st.integers(0, 300)


def test_the_share_of_tall_plants_has_the_published_p_value_and_range() -> None:
    # Conover 1971 as in R's help page of binom.test (MEMORY): 682 of 925 at 3/4, p 0.38249,
    # range 0.70767 to 0.76541; tolerance 1e-5 of the printed digits
    assert two_sided_p(682, 925, 0.75) == pytest.approx(0.38249, abs=5e-6)
    assert clopper_pearson(682, 925, level=0.95) == pytest.approx((0.70767, 0.76541), abs=5e-6)


def test_the_upper_tail_has_the_published_chance() -> None:
    # scipy's documentation of binomtest (MEMORY): 3 of 15 at 0.1, greater, 0.18406107; tolerance 1e-8
    assert at_least(3, 15, 0.1) == pytest.approx(0.18406107, abs=1e-8)


@given(bow=counts, stern=counts, expected=st.floats(0.02, 0.98))
def test_the_share_test_is_the_one_of_scipy(bow: int, stern: int, expected: float) -> None:
    # scipy.stats.binomtest, in this test
    found = bow_share(bow, stern, expected_share=expected)
    if bow + stern == 0:
        assert found == (1.0, None, 0.0, 1.0)
        return
    wanted = stats.binomtest(bow, bow + stern, expected)
    low, high = wanted.proportion_ci(0.95, method="exact")
    assert found.p_value == pytest.approx(wanted.pvalue, rel=1e-6, abs=1e-12)
    assert (found.bow_share_low, found.bow_share_high) == pytest.approx((low, high), abs=1e-9)


@given(k=st.integers(0, 400), more=st.integers(0, 400), p=st.floats(0.001, 0.999))
def test_the_tails_are_those_of_scipy(k: int, more: int, p: float) -> None:
    # scipy.stats.binom, in this test
    assert at_most(k, k + more, p) == pytest.approx(stats.binom.cdf(k, k + more, p), rel=1e-9, abs=1e-13)
    assert at_least(k, k + more, p) == pytest.approx(stats.binom.sf(k - 1, k + more, p), rel=1e-9, abs=1e-13)


def test_counts_as_large_as_are_taken_still_work() -> None:
    # scipy.stats.binomtest, in this test
    wanted = stats.binomtest(50_400, 100_000, 0.5)
    assert bow_share(50_400, 49_600).p_value == pytest.approx(wanted.pvalue, rel=1e-6)


def test_the_level_of_the_rules_folder_is_the_usual_one() -> None:
    # usual level of tests: one in twenty
    assert RIG.false_alarm_share == 0.05


def test_the_beta_integral_of_everything_is_one() -> None:
    assert (regularized_beta(0, 2, 3), regularized_beta(1, 2, 3)) == (0, 1)


@pytest.mark.parametrize(
    ("now", "now_min", "before", "before_min", "p_value"),
    [
        # exact conditional test; rate ratio in R's help page of poisson.test (data MEMORY, p 0.07967)
        (11, 800, 21, 3011, pytest.approx(0.0796686, abs=1e-6)),
        # 0 against 3 in equal time: 2·(1/2)^3, exact
        (0, 100, 3, 100, pytest.approx(0.25, abs=1e-12)),
        # sizes of the trade, computed outside this program
        (25, 90, 5, 90, pytest.approx(0.00032, abs=1e-5)),
        (12, 30, 3, 30, pytest.approx(0.03516, abs=1e-5)),
    ],
)
def test_the_conditional_test_has_the_published_p_value(
    now: int, now_min: float, before: int, before_min: float, p_value: object
) -> None:
    # exposures above a day are scaled: only their ratio counts in this test
    scale = min(1, 1440 / max(now_min, before_min))
    found = rate_drop(before, before_min * scale, now_count=now, now_min=now_min * scale)
    assert found.p_value == p_value


def test_the_ratio_is_the_rate_now_by_the_rate_before() -> None:
    # R's help page of poisson.test (MEMORY): 11 in 800 against 21 in 3011, ratio 1.971488; minutes in tenths
    assert rate_drop(21, 301.1, now_count=11, now_min=80).ratio == pytest.approx(1.971488, abs=1e-6)
    assert rate_drop(30, 10, now_count=5, now_min=10).ratio == pytest.approx(5 / 30)


@pytest.mark.parametrize(
    ("count", "minutes", "before", "before_min", "p_value"),
    [
        (0, 100, 3, 100, 0.08837901),  # scipy's documentation of poisson_means_test (MEMORY)
        (25, 90, 5, 90, 0.00019108),  # this and the rest: scipy and a second program, computed outside
        (12, 30, 3, 30, 0.0197),
        (20, 60, 35, 60, 0.04327686),
    ],
)
def test_the_e_test_has_the_published_p_value(
    count: int, minutes: float, before: int, before_min: float, p_value: float
) -> None:
    # Krishnamoorthy & Thomson 2004; tolerance 1e-4 absolute
    found = e_test_p(count, minutes, before_count=before, before_min=before_min)
    assert found == pytest.approx(p_value, abs=1e-4)


@pytest.mark.parametrize(("x", "y"), [(0, 3), (25, 5), (12, 3), (20, 35), (7, 2), (40, 31), (1, 0)])
def test_the_e_test_is_the_one_of_scipy_in_equal_times(x: int, y: int) -> None:
    # scipy.stats.poisson_means_test with exposures of 1, in this test; tolerance 1e-4 absolute. A table
    # and not all counts: even so scipy loses ties here and there (12 against 6: .16296, with the tie .16396)
    wanted = stats.poisson_means_test(x, 1, y, 1).pvalue
    assert e_test_p(x, 30, before_count=y, before_min=30) == pytest.approx(wanted, abs=1e-4)


@settings(max_examples=25)
@given(x=st.integers(0, 40), y=st.integers(0, 40), t=st.integers(1, 90), u=st.integers(1, 90))
def test_the_e_test_sums_the_pairs_as_far_apart_ties_and_all(x: int, y: int, t: int, u: int) -> None:
    # the definition of Krishnamoorthy & Thomson 2004 in whole numbers, chances from scipy.stats.poisson
    pooled = (x + y) / (t + u)
    i, j = np.arange(600)[:, None], np.arange(600)[None, :]
    seen_top, seen_bottom = (x * u - y * t) ** 2, max(1, x * u * u + y * t * t)
    apart = (i * u - j * t) ** 2 * seen_bottom >= seen_top * np.maximum(1, i * u * u + j * t * t)
    chance = stats.poisson.pmf(i, pooled * t) * stats.poisson.pmf(j, pooled * u)
    found = e_test_p(x, t, before_count=y, before_min=u)
    # counts above 600 are left out; with up to 40 in the shorter time they can matter
    left_out = stats.poisson.sf(599, pooled * t) + stats.poisson.sf(599, pooled * u)
    assert found == pytest.approx(float(chance[apart].sum()), abs=1e-9 + left_out)


def test_the_e_test_keeps_its_ties_when_hours_are_not_whole() -> None:
    # 25 against 5 in equal times is one test whatever the unit; scipy loses the tie at 1.5 (0.0001718)
    in_minutes = e_test_p(25, 90, before_count=5, before_min=90)
    assert e_test_p(25, 1.5, before_count=5, before_min=1.5) == pytest.approx(in_minutes, abs=1e-12)


def test_the_e_test_leaves_large_counts_to_the_conditional_one() -> None:
    assert e_test_p(400, 60, before_count=400, before_min=60) is None
    assert rate_drop(400, 60, now_count=300, now_min=60).p_value_e is None


@given(before=counts, now=counts, before_min=st.floats(1, 600), now_min=st.floats(1, 600))
@settings(max_examples=40)
def test_the_range_holds_the_ratio(before: int, now: int, before_min: float, now_min: float) -> None:
    found = rate_drop(before, before_min, now_count=now, now_min=now_min)
    assert 0 <= found.p_value <= 1
    if found.ratio is not None:
        high = math.inf if found.ratio_high is None else found.ratio_high
        assert found.ratio_low - 1e-9 <= found.ratio <= high + 1e-9


@pytest.mark.parametrize(
    ("before", "before_min", "now", "now_min", "words"),
    [
        (-1, 10, 5, 10, "before_count: got -1; allowed 0 to 100000"),
        (30, 0, 5, 10, "before_min: got 0; allowed 0.1 to 1440 min"),
        (30, 10, 5.5, 10, "now_count: got 5.5; allowed whole numbers 0 to 100000"),
        (30, 10, 5, float("nan"), "now_min: got nan"),
    ],
)
def test_impossible_counts_are_refused(
    before: float, before_min: float, now: float, now_min: float, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        rate_drop(before, before_min, now_count=now, now_min=now_min)
