"""The commands that print figures, in small: what they count is counted rightly, and the bars that were
set for the figures themselves hold on the worked cases. Nothing here looks at a clock.

Authorities: scipy's Wilson interval; the bars are the order's own (right first, first three, unknown and
wrong answers), with the Leeds trial's 91.8 % beside 79.6 % of a senior clinician as their anchor
(de Dombal and others 1972, abstract READ).
"""

import random
import statistics
from collections.abc import Sequence

import bench_fuzz
import bench_robust
import bench_stable
import play_inside
import pytest
from play_inside import Case, Core, Played
from scipy.stats import binomtest

from coach.model import Rulebook

EVERY = 4
SEEDS = range(2)


@pytest.fixture(scope="module")
def core(shipped: Rulebook) -> Core:
    return Core(shipped)


@pytest.fixture(scope="module")
def played(core: Core) -> list[Played]:
    """Every case, played through once."""
    return [core.play(case) for case in play_inside.read_cases()]


def share(marks: Sequence[bool]) -> float:
    return statistics.mean(marks)


# --- the cases -------------------------------------------------------------------------------------------


def test_of_a_hundred_worked_cases_ninety_two_are_judged_rightly_first(played: Sequence[Played]) -> None:
    assert len(played) > 150
    assert share([each.is_first_right for each in played]) >= 0.92


def test_a_wrong_cause_is_hardly_ever_said_as_almost_certain(
    played: Sequence[Played], shipped: Rulebook
) -> None:
    surest = shipped.sureness[0][0]
    wrong = [each for each in played if each.named and each.named[0][1] >= surest and not each.is_first_right]
    assert len(wrong) <= 0.01 * len(played)


def test_what_is_said_turns_out_at_least_about_as_often_as_it_is_said(played: Sequence[Played]) -> None:
    said = [(p, each.is_true(cause)) for each in played for cause, p in each.named]
    assert len(said) > 100
    assert statistics.mean((p - so) ** 2 for p, so in said) <= 0.10  # Brier's score, the order's bar
    assert statistics.mean(p - so for p, so in said) <= 0.05  # never surer than it should be


def test_half_of_the_cases_are_settled_in_five_questions(played: Sequence[Played]) -> None:
    assert statistics.median(len(each.asked) for each in played) <= 5


def test_three_in_four_are_right_first_where_three_answers_in_ten_are_not_known(core: Core) -> None:
    way = bench_robust.not_known(core, 0.3)
    cases = play_inside.read_cases()[::EVERY]
    assert share([way(case, seed).is_first_right for case in cases for seed in SEEDS]) >= 0.75


# --- how cases are marked --------------------------------------------------------------------------------

ILL = Case("ill", "", {}, ("weed", "murk"), also=("lean",), excluded=("moon",))
WELL = Case("well", "", {}, ())


def outcome(case: Case, *names: str, others: Sequence[str] = (), is_concluded: bool = True) -> Played:
    named = tuple((name, 0.8) for name in names)
    return Played(case, (), named, (*named, *((name, 0.1) for name in others)), {}, frozenset(), is_concluded)


@pytest.mark.parametrize(
    ("found", "first", "three", "right"),
    [
        (outcome(ILL, "weed", "lean"), True, True, True),
        (outcome(ILL, "murk", "lean"), True, True, True),
        (outcome(ILL, "murk"), True, True, False),
        (outcome(ILL, "weed", "lean", "moon"), True, True, False),
        (outcome(ILL, "lean", "weed"), False, True, False),
        (outcome(ILL, others=("moon", "cold", "murk")), False, True, False),
        (outcome(ILL, others=("moon", "cold", "slack", "murk")), False, False, False),
        (outcome(WELL), True, True, True),
        (outcome(WELL, "weed"), False, False, False),
        (outcome(WELL, is_concluded=False), False, False, False),
    ],
)
def test_a_case_is_marked_as_it_says(found: Played, first: bool, three: bool, right: bool) -> None:
    assert (found.is_first_right, found.is_among_three, found.is_right) == (first, three, right)


def test_a_number_counts_within_a_quarter_of_a_foot_and_not_where_it_is_missing() -> None:
    case = Case("numbers", "", {}, (), numbers={"near": 3.0, "far": 3.0, "absent": 3.0})
    found = Played(case, (), (), (), {"near": 3.25, "far": 3.3}, frozenset(), True)
    assert found.numbers_right == {"near": True, "far": False, "absent": False}


# --- answers that are not the truth ----------------------------------------------------------------------


def test_exactly_one_answer_of_a_chat_is_wrong_and_it_could_be_given(core: Core, shipped: Rulebook) -> None:
    changed = 0
    for case in play_inside.read_cases()[::12]:
        truly = core.play(case)
        answers = bench_robust.wrong_answers(shipped, truly, random.Random(case.id), set())
        given = [answers(fact, place) for place, fact in enumerate(truly.asked)]
        true = [case.answer(fact) for fact in truly.asked]
        wrong = [at for at, (one, other) in enumerate(zip(given, true, strict=True)) if one != other]
        assert len(wrong) <= 1
        changed += len(wrong)
        for at in wrong:
            fact = shipped.facts[truly.asked[at]]
            assert given[at] in {option.id for option in fact.options} | {True, False} or fact.range
    assert changed > 10


def test_a_shaken_rulebook_has_the_same_rules_and_weights_within_the_noise(shipped: Rulebook) -> None:
    moved = 0
    for before, after in zip(shipped.rules, bench_stable.shaken(shipped, 3, 0).rules, strict=True):
        assert before.id == after.id
        for (cause, db), (also, other) in zip(before.weighs, after.weighs, strict=True):
            assert cause == also
            assert abs(db - other) <= 3
            assert db * other > 0
            moved += db != other
    assert moved > 100


# --- how sure a rate is ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("hits", "of"), [(0, 31), (1, 36), (29, 31), (180, 188), (188, 188)])
def test_intervals_are_wilsons(hits: int, of: int) -> None:
    # authority: scipy's interval of a binomial share by Wilson's method
    told = binomtest(hits, of).proportion_ci(method="wilson")
    assert play_inside.wilson(hits, of) == pytest.approx((told.low, told.high), abs=1e-12)


def test_drawing_the_cases_anew_gives_about_wilsons_interval_where_each_counts_once() -> None:
    marks = [1.0] * 170 + [0.0] * 18
    low, high = play_inside.resampled(marks, seed=3)
    told = binomtest(170, 188).proportion_ci(method="wilson")
    assert (low, high) == pytest.approx((told.low, told.high), abs=0.02)


# --- random messages -------------------------------------------------------------------------------------


def test_random_messages_break_no_promise(core: Core) -> None:
    fuzz = bench_fuzz.Fuzz(core)
    counts, found = zip(*(fuzz.chat(seed) for seed in range(50)), strict=True)
    assert [broke for each in found for broke in each] == []
    assert sum(count["messages"] for count in counts) > 500
    assert sum(count["words not understood"] for count in counts) > 20
    assert sum(count["verdicts"] for count in counts) > 20
