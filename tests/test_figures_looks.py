"""Repeated looks, stopping rules, rates with their range, the break of a row of counts."""

import math
import random

import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from coach.figures.binomial import two_sided_p
from coach.figures.looks import (
    DECIBANS_PER_NAT,
    deep_lamp_bounds_db,
    deep_lamp_decision,
    deep_lamp_odds_db,
    drop_watch,
    level_for_look,
    wald_bounds_db,
)
from coach.figures.rates import catch_rate, change_point, garwood, regularized_gamma

# Yearly counts of British coal-mining disasters, 1851 to 1961 (111 years, 191 disasters), as the
# examples of a Bayesian modelling library print them (READ).
COAL = [
    *(
        4,
        5,
        4,
        0,
        1,
        4,
        3,
        4,
        0,
        6,
        3,
        3,
        4,
        0,
        2,
        6,
        3,
        3,
        5,
        4,
        5,
        3,
        1,
        4,
        4,
        1,
        5,
        5,
        3,
        4,
        2,
        5,
        2,
        2,
        3,
    ),
    *(
        4,
        2,
        1,
        3,
        2,
        2,
        1,
        1,
        1,
        1,
        3,
        0,
        0,
        1,
        0,
        1,
        1,
        0,
        0,
        3,
        1,
        0,
        3,
        2,
        2,
        0,
        1,
        1,
        1,
        0,
        1,
        0,
        1,
        0,
        0,
    ),
    *(
        0,
        2,
        1,
        0,
        0,
        0,
        1,
        1,
        0,
        2,
        3,
        3,
        1,
        1,
        2,
        1,
        1,
        1,
        1,
        2,
        4,
        2,
        0,
        0,
        1,
        4,
        0,
        0,
        0,
        1,
        0,
        0,
        0,
        0,
        0,
    ),
    *(1, 0, 0, 1, 0, 1),
]


def test_the_coal_disasters_break_where_it_is_published() -> None:
    # Carlin, Gelfand & Smith 1992 (MEMORY): after 41 years, through 1891, about 3.1 and 0.9 a year;
    # 3.0976, 0.9143 and the likelihood ratio 68.378 computed outside this program, tolerance 1e-3
    assert (len(COAL), sum(COAL)) == (111, 191)
    found = change_point(COAL, [1.0] * len(COAL), permutations=99)
    assert found.after == 41
    assert (found.rate_before, found.rate_after) == pytest.approx((3.0976, 0.9143), abs=1e-4)
    assert found.likelihood_ratio == pytest.approx(68.378, abs=1e-3)
    assert found.p_value == 1 / 100


def test_the_same_row_always_gets_the_same_answer() -> None:
    row = [12, 9, 11, 3, 2, 1, 4, 2]
    assert change_point(row, [10] * 8) == change_point(row, [10] * 8)


def test_a_row_without_a_break_is_seldom_called_broken() -> None:
    # by construction a level of 5 % may be wrong in 5 % of rows; 60 rows, fixed seed, at most 7 (p 0.999)
    chance = random.Random(20)
    rows = [[sum(chance.random() < 0.1 for _ in range(100)) for _ in range(20)] for _ in range(60)]
    called = sum(change_point(row, [10] * 20, permutations=59).p_value <= 0.05 for row in rows)
    assert called <= stats.binom.ppf(0.999, 60, 0.05)


@pytest.mark.parametrize(("row", "times"), [([], []), ([3], [10]), ([3, 4], [10]), ([3, -1], [10, 10])])
def test_a_row_that_cannot_break_is_refused(row: list[int], times: list[float]) -> None:
    with pytest.raises(ValueError, match="count"):
        change_point(row, times)


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [(0, 0, 2.9957), (5, 1.6235, 11.6683), (10, 4.7954, 18.3904)],
)
def test_a_count_has_the_range_of_garwood(count: int, low: float, high: float) -> None:
    # Garwood 1936 by chi-squared, computed outside this program (0: one-sided); tolerance 1e-4
    assert garwood(count) == pytest.approx((low, high), abs=1e-4)


@given(count=st.integers(1, 5000))
def test_the_range_of_a_count_is_the_one_of_chi_squared(count: int) -> None:
    # scipy.stats.chi2, in this test
    wanted = stats.chi2.ppf(0.025, 2 * count) / 2, stats.chi2.ppf(0.975, 2 * count + 2) / 2
    assert garwood(count) == pytest.approx(wanted, rel=1e-9)


@given(a=st.floats(0.5, 2000), x=st.floats(0, 4000))
def test_our_incomplete_gamma_is_the_one_of_scipy(a: float, x: float) -> None:
    # scipy.stats.gamma, in this test
    assert regularized_gamma(a, x) == pytest.approx(stats.gamma.cdf(x, a), rel=1e-8, abs=1e-12)


def test_the_catch_rate_is_all_catch_over_all_lamp_hours() -> None:
    # Garwood for 10: 4.7954 to 18.3904, over 4 lamp-hours
    assert catch_rate(10, 4) == pytest.approx((2.5, 4.7954 / 4, 18.3904 / 4), abs=1e-4)


@pytest.mark.parametrize(
    ("p0", "p1", "alpha", "beta", "h1", "h0"),
    [
        (0.01, 0.10, 0.05, 0.10, 1.2054, -0.9389),  # NIST handbook (MEMORY)
        (0.1, 0.3, 0.02, 0.03, 2.8754, -2.5826),  # Wald (MEMORY)
    ],
)
def test_the_stopping_odds_are_those_of_wald(  # noqa: PLR0917  (one line of a table)
    p0: float, p1: float, alpha: float, beta: float, h1: float, h0: float
) -> None:
    # the intercepts of his lines are the stopping odds over the odds ratio of one event; tolerance 1e-4
    bounds = wald_bounds_db(false_yes_share=alpha, false_no_share=beta)
    one_event_db = DECIBANS_PER_NAT * math.log(p1 * (1 - p0) / (p0 * (1 - p1)))
    assert (bounds.yes_db / one_event_db, bounds.no_db / one_event_db) == pytest.approx((h1, h0), abs=1e-4)


def test_the_deep_lamp_has_the_lines_computed_for_it_elsewhere() -> None:
    # poor 5, good 15 in 90 min, errors .05 and .10: h1 2.6309, h0 −2.0492, s .10114 a minute, nothing at
    # all settles it after 20.3 min; at 90 min 7 are too few, 12 enough. Computed outside this program.
    jump_db = deep_lamp_odds_db(0, 1, RIG) - deep_lamp_odds_db(0, 0, RIG)
    bounds = deep_lamp_bounds_db(RIG)
    assert bounds.yes_db / jump_db == pytest.approx(2.6309, abs=1e-4)
    assert bounds.no_db / jump_db == pytest.approx(-2.0492, abs=1e-4)
    assert -deep_lamp_odds_db(1, 0, RIG) / jump_db == pytest.approx(0.10114, abs=1e-5)
    assert deep_lamp_odds_db(20.3, 0, RIG) == pytest.approx(bounds.no_db, abs=0.05)
    decisions = [deep_lamp_decision(90, jumps, RIG) for jumps in (7, 8, 11, 12)]
    assert decisions == ["lift", "wait", "wait", "keep"]


@given(minutes=st.floats(0, 89.9), jumps=st.integers(0, 100))
def test_before_the_trades_time_the_deep_lamp_is_never_lifted(minutes: float, jumps: int) -> None:
    # common practice: "lift it" is said at 90 min
    assert deep_lamp_decision(minutes, jumps, RIG) != "lift"


def test_a_deep_lamp_without_a_jump_is_lifted_at_ninety_minutes() -> None:
    # common practice: if it has not paid in 90 min, lift it
    assert deep_lamp_decision(90, 0, RIG) == "lift"


@given(minutes=st.floats(0, 1440), jumps=st.integers(0, 500))
def test_more_jumps_and_less_time_speak_for_the_deep_lamp(minutes: float, jumps: int) -> None:
    odds = deep_lamp_odds_db(minutes, jumps, RIG)
    assert deep_lamp_odds_db(minutes, jumps + 1, RIG) > odds
    assert deep_lamp_odds_db(minutes / 2, jumps, RIG) >= odds


def test_the_levels_of_all_looks_add_up_to_the_share_of_false_alarms() -> None:
    # telescoping sum: 1 − 1/(n + 1)
    total = math.fsum(level_for_look(look, false_alarm_share=0.05) for look in range(1, 1001))
    assert total == pytest.approx(0.05 * (1 - 1 / 1001))


def poisson(chance: random.Random, mean: float) -> int:
    """A Poisson count by its waiting times."""
    count, left = -1, mean
    while left >= 0:
        left -= chance.expovariate(1)
        count += 1
    return count


def is_alarmed(means: list[float], chance: random.Random) -> bool:
    """Whether any look of a night with these means per ten minutes says that the rate dropped."""
    row = [poisson(chance, mean) for mean in means]
    return any(
        drop_watch(row[:n], [10] * n, false_alarm_share=0.05).has_dropped for n in range(2, len(row) + 1)
    )


def test_over_a_night_of_looks_at_a_steady_run_false_alarms_stay_below_one_in_twenty() -> None:
    # 36 looks, six hours; 200 nights, fixed seed. Bound: Boole's inequality.
    chance = random.Random(11)
    assert sum(is_alarmed([12.0] * 37, chance) for _ in range(200)) <= 0.05 * 200


def test_looks_taken_one_by_one_at_five_percent_would_cry_wolf() -> None:
    # the same nights, each look by itself: what the rule of levels is for
    chance, crying = random.Random(11), 0
    for _ in range(50):
        row = [poisson(chance, 12) for _ in range(37)]
        crying += any(two_sided_p(row[n], sum(row[: n + 1]), 1 / (n + 1)) <= 0.05 for n in range(1, len(row)))
    assert crying > 0.5 * 50


def test_a_run_that_stops_is_noticed_within_half_an_hour_on_nearly_every_night() -> None:
    chance = random.Random(12)
    assert sum(is_alarmed([12.0] * 12 + [2.0] * 3, chance) for _ in range(100)) >= 95


def test_a_rate_that_rises_is_no_drop() -> None:
    assert not drop_watch([2, 3, 2, 30], [10] * 4, false_alarm_share=0.05).has_dropped


@pytest.mark.parametrize(("row", "times"), [([3], [10]), ([3, 4], [10]), ([3, 4.5], [10, 10])])
def test_a_row_that_cannot_be_watched_is_refused(row: list[float], times: list[float]) -> None:
    with pytest.raises(ValueError, match="count"):
        drop_watch(row, times, false_alarm_share=0.05)


def test_over_a_night_of_looks_at_equal_dippers_false_alarms_stay_below_one_in_twenty() -> None:
    # 30 looks at the growing counts of two equal dippers; 300 nights, fixed seed; the p-value of bow_share
    chance = random.Random(13)
    crying = 0
    for _ in range(300):
        bow = stern = 0
        p_values = []
        for _ in range(30):
            bow, stern = bow + poisson(chance, 5), stern + poisson(chance, 5)
            p_values.append(two_sided_p(bow, bow + stern, 0.5))
        crying += any(p <= level_for_look(look, false_alarm_share=0.05) for look, p in enumerate(p_values, 1))
    assert crying / 300 <= 0.05
