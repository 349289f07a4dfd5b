"""What a learner holds, his memory and confidence, how hard items are: against scipy and published values."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize
from sim_school import class_of, sure_class_of

from coach.school.difficulty import ENOUGH, FirstAnswer, chance_right, difficulties
from coach.school.memory import calibration, memory_of
from coach.school.spacing import stretched

# --- a learner's memory -------------------------------------------------------------------------------------


@pytest.mark.parametrize("true", [0.3, 1.0, 3.0])
def test_a_memory_is_found_from_enough_answers(true: float) -> None:
    # answers drawn from the curve itself; 1,500 of them leave some 15 %
    dice = random.Random(7)
    foretold = [dice.uniform(0.6, 0.97) for _ in range(1500)]
    known = [stretched(chance, true) for chance in foretold]
    answers = [(chance, dice.random() < right) for chance, right in zip(foretold, known, strict=True)]
    assert memory_of(answers) == pytest.approx(true, rel=0.3)


def test_a_few_answers_say_little_of_a_memory() -> None:
    assert memory_of([]) == pytest.approx(1)
    assert 0.5 < memory_of([(0.9, False)]) < 1
    assert 1 <= memory_of([(0.9, True)] * 3) < 2


# --- confidence --------------------------------------------------------------------------------


@given(st.lists(st.tuples(st.sampled_from([0.25, 0.5, 0.75, 0.95]), st.booleans()), min_size=1, max_size=60))
def test_the_parts_of_the_brier_score_add_up(answers: list[tuple[float, bool]]) -> None:
    # Murphy 1973: brier = reliability - resolution + uncertainty, exact for grouped forecasts (MEMORY)
    found = calibration(answers)
    assert found is not None
    said, right = np.array([a for a, _ in answers]), np.array([b for _, b in answers], float)
    assert found.brier == pytest.approx(np.mean((said - right) ** 2), abs=1e-12)
    assert found.brier == pytest.approx(found.reliability - found.resolution + found.uncertainty, abs=1e-12)
    assert found.bias == pytest.approx(said.mean() - right.mean(), abs=1e-12)


@pytest.mark.parametrize(
    ("right", "fit"), [(9, "too few"), (90, "fits"), (60, "overconfident"), (100, "underconfident")]
)
def test_overconfidence_is_told_only_when_luck_does_not_explain_it(right: int, fit: str) -> None:
    # 0.9 said 100 times has a deviation of 3: 84.1 to 95.9 right fit; arithmetic
    count = 9 if fit == "too few" else 100
    found = calibration([(0.9, k < right) for k in range(count)])
    assert found is not None
    assert found.fit == fit


def test_a_steady_well_calibrated_learner_is_rarely_called_overconfident() -> None:
    # level of the test: one in twenty on both sides; 400 simulated learners of 50 answers
    dice = random.Random(3)
    wrong = 0
    for _ in range(400):
        said = [dice.choice((0.5, 0.7, 0.9)) for _ in range(50)]
        found = calibration((chance, dice.random() < chance) for chance in said)
        wrong += found is not None and found.fit != "fits"
    assert wrong / 400 == pytest.approx(0.05, abs=0.03)


def test_nothing_said_is_no_calibration_and_a_wild_chance_is_refused() -> None:
    assert calibration([]) is None
    with pytest.raises(ValueError, match=r"got 1.2; allowed 0 to 1"):
        calibration([(1.2, True)])


# --- how hard items are -----------------------------------------------------------------------------------


def test_one_logit_above_an_item_is_right_731_times_in_1000() -> None:
    # Rasch 1960: 1/(1 + e^-1) = 0.7311 (published value)
    assert chance_right(1, 0) == pytest.approx(0.7311, abs=5e-5)
    assert chance_right(-50, 0, guess=0.25) == pytest.approx(0.25, abs=1e-9)


def test_the_estimates_are_the_highest_posterior() -> None:
    # scipy.optimize.minimize on the whole posterior, in this test; guessing included
    answers = [a for a in class_of(8, 4, spread=1.0, guess=0.0)[0] if a.item in {f"i{k}" for k in range(6)}]
    guess = {"i1": 0.25, "i4": 0.5}
    rated = {f"i{k}": 0.3 * k - 1 for k in range(6)}
    people = sorted({a.learner for a in answers})

    def minus_log_posterior(x: np.ndarray) -> float:
        ability = dict(zip(people, x, strict=False))
        hard = {f"i{k}": x[len(people) + k] for k in range(6)}
        total = 0.5 * sum(v * v for v in ability.values()) + 0.5 * sum(
            (hard[i] - rated[i]) ** 2 for i in hard
        )
        for a in answers:
            c = guess.get(a.item, 0.0)
            chance = c + (1 - c) / (1 + np.exp(hard[a.item] - ability[a.learner]))
            total -= np.log(chance if a.right else 1 - chance)
        return float(total)

    wanted = optimize.minimize(minus_log_posterior, np.zeros(len(people) + 6), tol=1e-10).x[len(people) :]
    found = difficulties(answers, rated=rated, guess=guess)
    assert [found[f"i{k}"].logits for k in range(6)] == pytest.approx(list(wanted), abs=1e-3)


def test_the_truth_lies_within_the_deviations_as_often_as_it_should() -> None:
    # 95 % of a normal distribution lie within 1.96 deviations; that abilities are estimated costs a little
    inside = []
    for seed in range(10):
        answers, hard = class_of(15, seed, spread=1.0, guess=0.0)
        found = difficulties(answers, rated={})
        inside += [
            abs(found[item].logits - true) < 1.96 * found[item].deviation for item, true in hard.items()
        ]
    assert 0.88 <= np.mean(inside) <= 0.98


def test_an_item_nobody_answered_is_as_hard_as_its_author_says() -> None:
    found = difficulties([], rated={"a": 0.7})["a"]
    assert (found.logits, found.answers, found.is_settled) == (0.7, 0, False)


def test_enough_answers_are_trusted_over_the_author() -> None:
    answers = [FirstAnswer(f"p{k}", "a", False) for k in range(ENOUGH)]
    assert not difficulties(answers[1:], rated={"a": -1.0})["a"].is_settled
    found = difficulties(answers, rated={"a": -1.0})["a"]
    assert found.is_settled
    assert found.logits > 0


def test_a_right_answer_that_was_a_guess_tells_less_of_an_item_than_a_sure_one() -> None:
    hard = [
        difficulties([FirstAnswer(f"p{k}", "a", right) for k in range(20)], rated={})["a"].logits
        for right in (0.0, 0.4, 1.0)
    ]
    assert hard[0] > hard[1] > hard[2]


def test_how_sure_one_was_tells_of_an_item_what_lucky_guesses_hide() -> None:
    # simulated classes, one answer in four lucky where it was not known; ten seeds, even where people tell
    # badly how sure they are
    gained = []
    for seed in range(10):
        bare, weighed, hard, _ = sure_class_of(15, seed, spread=1.0, guess=0.25, blur=3.0, bias=1.0)
        told, truth = dict.fromkeys(hard, 0.25), list(hard.values())
        pairs = (difficulties(bare, rated={}, guess=told), difficulties(weighed, rated={}))
        before, after = (np.corrcoef([at[i].logits for i in hard], truth)[0, 1] for at in pairs)
        gained.append(after - before)
    assert np.mean(gained) > 0


def test_a_second_first_answer_is_refused() -> None:
    with pytest.raises(ValueError, match="item 'a': two first answers of 'p'"):
        difficulties([FirstAnswer("p", "a", True)] * 2, rated={})


def test_difficulties_come_out_right_at_fifteen_answers_an_item() -> None:
    # classes of known difficulty (Rasch 1960), author's ratings off by one deviation; bar 0.85. The author
    # alone has 0.71 in expectation; 15 answers alone cannot tell more than about 0.85 (bench_school.py)
    found, author = [], []
    for seed in range(10):
        answers, hard = class_of(15, seed, spread=1.0, guess=0.0)
        dice = random.Random(f"author {seed}")
        rated = {item: true + dice.gauss(0, 1) for item, true in hard.items()}
        estimate = difficulties(answers, rated=rated)
        found.append(np.corrcoef([estimate[i].logits for i in hard], list(hard.values()))[0, 1])
        author.append(np.corrcoef([rated[i] for i in hard], list(hard.values()))[0, 1])
    assert np.mean(found) >= 0.85
    assert np.mean(author) < 0.8
