"""When items come again, what is held, how hard items are: against the package and published values."""

import json
import random
import subprocess
import sys
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, time, timedelta, timezone
from itertools import pairwise, permutations
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from fsrs import Card, Rating, Scheduler
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from scipy import optimize, stats
from sim_learners import MODELS, HalfLife
from sim_school import Outcome, at_the_same_share, by_ladder, by_plan, class_of, studied

from coach.school.difficulty import ENOUGH, FirstAnswer, chance_right, difficulties
from coach.school.mastery import calibration, mastery, memory_of, sure_right
from coach.school.schedule import CardState, Grade, Plan, graded, interleaved, retaught
from coach.school.spacing import recall_after, stretched

EVENING = datetime(2026, 6, 1, 20, 0, tzinfo=UTC)
DAY = timedelta(days=1)
WITH_STEPS = Plan(steps_min=(1, 10), again_min=(10,), longest_days=36500)
"""The package's own short steps, with which the published intervals were made."""

grades = st.sampled_from(list(Grade))


def answered(plan: Plan, marks: list[Grade], *, start: datetime = EVENING) -> Iterator[CardState]:
    """The card after each answer, every one given when due."""
    card, now = None, start
    for grade in marks:
        card = plan.after(card, grade, now)
        yield card
        now = card.due_at


def met_long_ago(items: int, *, due: int = 0) -> dict[str, CardState]:
    """Cards of items met ten days ago; the first `due` of them are due."""
    begun = EVENING - 10 * DAY
    long = Plan().after(None, Grade.EASY, begun)
    return {
        f"i{k}": long.model_copy(update={"due_at": EVENING + (3 * DAY if k >= due else -DAY)})
        for k in range(items)
    }


# --- intervals ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("marks", "days"),
    [
        # FSRS-6 with the 21 default weights, no spread, reviewed when due: golden values taken from the
        # package `fsrs` 6.3.2 alone, before this module was written
        ([Grade.GOOD] * 6, [10 / 1440, 2, 11, 46, 163, 498]),
        ([Grade.EASY] * 3, [8, 66, 397]),
        ([Grade.AGAIN, *[Grade.GOOD] * 4], [1 / 1440, 10 / 1440, 1, 2, 7]),
    ],
)
def test_the_golden_intervals_come_out(marks: list[Grade], days: list[float]) -> None:
    found = [(card.due_at - card.last_at) / DAY for card in answered(WITH_STEPS, marks)]
    assert found == pytest.approx(days, abs=1e-12)


def test_the_stability_after_six_good_answers_is_the_published_one() -> None:
    # same source: 2.3065 after the first, 497.8766 days after the sixth
    first, *_, last = answered(WITH_STEPS, [Grade.GOOD] * 6)
    assert first.stability_days == pytest.approx(2.3065, abs=1e-9)
    assert last.stability_days == pytest.approx(497.8766, abs=5e-5)


@settings(max_examples=150)
@given(
    marks=st.lists(st.tuples(grades, st.integers(0, 40 * 86400)), min_size=1, max_size=12),
    target=st.floats(0.75, 0.97),
    steps=st.sampled_from([(), (10.0,), (1.0, 10.0)]),
)
def test_schedules_are_those_of_the_package_to_the_second(
    marks: list[tuple[Grade, int]], target: float, steps: tuple[float, ...]
) -> None:
    # the `fsrs` package with its spread off, in this test; every answer when due or late
    plan = Plan(target=target, steps_min=steps, again_min=steps[-1:])
    package = Scheduler(
        desired_retention=plan.aim,
        learning_steps=[timedelta(minutes=m) for m in steps],
        relearning_steps=[timedelta(minutes=m) for m in steps[-1:]],
        maximum_interval=365,
        enable_fuzzing=False,
    )
    assert plan.aim == pytest.approx(target, abs=1e-12)
    now, ours, theirs = EVENING, None, Card(card_id=1, due=EVENING)
    for grade, late_s in marks:
        ours = plan.after(ours, grade, now)
        theirs, _ = package.review_card(theirs, Rating(int(grade)), now)
        assert (ours.due_at, ours.last_at) == (theirs.due, theirs.last_review)
        assert (ours.stability_days, ours.difficulty) == (theirs.stability, theirs.difficulty)
        now = ours.due_at + timedelta(seconds=late_s)


@given(grade=grades, days=st.integers(1, 300))
def test_the_chance_of_recall_is_the_one_of_the_package(grade: Grade, days: int) -> None:
    # the `fsrs` package, in this test; it counts whole days
    card = Plan().after(None, grade, EVENING)
    theirs, _ = Scheduler(enable_fuzzing=False, learning_steps=[]).review_card(
        Card(card_id=1, due=EVENING), Rating(int(grade)), EVENING
    )
    wanted = Scheduler().get_card_retrievability(theirs, EVENING + days * DAY)
    assert Plan().recall(card, EVENING + days * DAY) == pytest.approx(wanted, abs=1e-12)


def test_nine_in_ten_are_recalled_when_the_stability_has_passed() -> None:
    # definition of stability in FSRS
    assert recall_after(37.5, 37.5) == pytest.approx(0.9, abs=1e-12)


def test_the_same_answers_give_the_same_days_whatever_the_zone_of_the_clock() -> None:
    there = ZoneInfo("America/New_York")
    marks = [Grade.GOOD, Grade.AGAIN, Grade.GOOD, Grade.EASY]
    assert list(answered(Plan(), marks)) == list(answered(Plan(), marks, start=EVENING.astimezone(there)))


def test_a_sitting_that_begins_sooner_than_yesterdays_loses_no_day() -> None:
    plan = Plan()
    card = plan.after(None, Grade.AGAIN, EVENING)
    assert card.due_at == EVENING + DAY
    sooner = EVENING + DAY - timedelta(hours=2)
    assert plan.due({"a": card}, sooner, {"a": "t"}) == ("a",)
    assert plan.after(card, Grade.GOOD, sooner) == plan.after(card, Grade.GOOD, card.due_at)


def test_an_item_is_not_asked_twice_in_a_night_that_lasts_over_the_start_of_a_day() -> None:
    plan = Plan()
    card = plan.after(None, Grade.AGAIN, EVENING.replace(hour=11))
    assert plan.due({"a": card}, EVENING.replace(hour=12), {"a": "t"}) == ()
    assert plan.due({"a": card}, EVENING + timedelta(hours=4), {"a": "t"}) == ("a",)


def test_an_item_that_is_due_another_day_is_not_asked_and_counts_as_early() -> None:
    plan = Plan()
    card = plan.after(None, Grade.GOOD, EVENING)
    assert plan.due({"a": card}, EVENING + DAY, {"a": "t"}) == ()
    assert plan.after(card, Grade.GOOD, EVENING + DAY).last_at == EVENING + DAY


def test_a_second_answer_on_the_evening_of_an_early_one_is_taken() -> None:
    plan = Plan()
    sooner = EVENING + DAY - timedelta(hours=2)
    once = plan.after(plan.after(None, Grade.AGAIN, EVENING), Grade.GOOD, sooner)
    again = plan.after(once, Grade.AGAIN, sooner + timedelta(minutes=5))
    assert (again.answers, again.wrong, again.last_at) == (3, 2, once.last_at)


def test_an_answer_on_a_day_before_the_last_one_is_refused() -> None:
    card = Plan().after(None, Grade.GOOD, EVENING)
    with pytest.raises(ValueError, match=r"2026-05-30.*the answer before was at 2026-06-01"):
        Plan().after(card, Grade.GOOD, EVENING - 2 * DAY)


def test_a_time_without_a_zone_is_refused() -> None:
    bare = EVENING.replace(tzinfo=None)
    with pytest.raises(ValueError, match="zone"):
        Plan().after(None, Grade.GOOD, bare)
    with pytest.raises(ValueError, match="zone"):
        Plan().due({}, bare, {})


def test_a_plan_tells_all_its_faults_at_once() -> None:
    with pytest.raises(ValueError, match=r"target: got 1.5.*new_a_day: got -1.*again_min: got 0"):
        Plan(target=1.5, new_a_day=-1, again_min=(0,))


def test_a_card_survives_its_json_and_a_broken_one_is_refused() -> None:
    *_, card = answered(WITH_STEPS, [Grade.GOOD, Grade.GOOD, Grade.AGAIN])
    kept = json.loads(json.dumps(card.model_dump(mode="json")))
    assert CardState.model_validate(kept) == card
    for name, value in [
        ("stability_days", 0),
        ("stage", "gone"),
        ("due_at", "2026-06-01T20:00"),
        ("more", 1),
    ]:
        with pytest.raises(ValidationError, match=name):
            CardState.model_validate({**kept, name: value})


def test_a_right_answer_without_being_sure_is_a_hard_one() -> None:
    assert [graded(right=r, sure=s) for r, s in ((False, True), (True, False), (True, True))] == [
        Grade.AGAIN,
        Grade.HARD,
        Grade.GOOD,
    ]


def test_a_consultation_loads_neither_the_scheduler_nor_what_trains_it() -> None:
    code = (
        "import sys, coach.consult, coach.school.schedule, coach.school.mastery, coach.school.difficulty;"
        "before = set(sys.modules); assert 'fsrs' not in before;"
        "import fsrs; assert not {'torch', 'numpy', 'pandas'} & (set(sys.modules) - before)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


# --- a learner's memory -------------------------------------------------------------------------------------


@given(memory=st.floats(0.5, 2), target=st.floats(0.8, 0.92))
def test_intervals_stretch_so_that_this_learner_is_at_the_target_when_due(
    memory: float, target: float
) -> None:
    # the curve itself: recall after a time with a memory k times as good is that of a k-th of the time
    plan = Plan(target=target, memory=memory)
    stability = 1000.0
    days = stability * (stretched(plan.aim, 1.0) ** (-1 / 0.1542) - 1) / (0.9 ** (-1 / 0.1542) - 1)
    assert recall_after(days, stability * memory) == pytest.approx(target, abs=1e-9)


@given(days=st.floats(0.1, 300), stability=st.floats(0.3, 300), memory=st.floats(0.1, 10))
def test_a_memory_so_many_times_as_good_runs_through_the_same_curve_slower(
    days: float, stability: float, memory: float
) -> None:
    assert stretched(recall_after(days, stability), memory) == pytest.approx(
        recall_after(days, stability * memory), abs=1e-9
    )


@pytest.mark.parametrize("true", [0.3, 1.0, 3.0])
def test_a_memory_is_found_from_enough_answers(true: float) -> None:
    # answers drawn from the curve itself; 600 of them leave about 15 %
    dice = random.Random(7)
    foretold = [dice.uniform(0.6, 0.97) for _ in range(600)]
    answers = [(chance, dice.random() < stretched(chance, true)) for chance in foretold]
    assert memory_of(answers) == pytest.approx(true, rel=0.4)


def test_a_few_answers_say_little_of_a_memory() -> None:
    assert memory_of([]) == pytest.approx(1)
    assert 0.5 < memory_of([(0.9, False)]) < 1
    assert 1 <= memory_of([(0.9, True)] * 3) < 2


# --- few a day --------------------------------------------------------------------------------------------


def test_no_more_than_the_days_number_is_asked_and_the_weakest_come_first() -> None:
    cards = met_long_ago(8, due=8)
    weak = cards["i5"].model_copy(update={"stability_days": 1.0})
    found = Plan(cards_a_day=3).due({**cards, "i5": weak}, EVENING, dict.fromkeys(cards, "t"))
    assert len(found) == 3
    assert found[0] == "i5"


def test_what_was_answered_today_is_on_todays_account() -> None:
    plan = Plan(cards_a_day=3, new_a_day=2)
    topics = {f"n{k}": "t" for k in range(9)}
    cards: dict[str, CardState] = {}
    asked = []
    for minute in range(0, 60, 10):
        now = EVENING + timedelta(minutes=minute)
        for item in plan.due(cards, now, topics)[:1]:
            cards[item] = plan.after(None, Grade.GOOD, now)
            asked.append(item)
    assert asked == ["n0", "n1"]
    assert plan.due(cards, EVENING + DAY, topics) == ("n2", "n3")


def test_after_midnight_it_is_still_the_evening_it_began() -> None:
    plan = Plan(new_a_day=1)
    cards = {"a": plan.after(None, Grade.GOOD, EVENING)}
    topics = {"a": "t", "b": "t"}
    assert plan.due(cards, EVENING + timedelta(hours=5), topics) == ()
    assert plan.due(cards, EVENING + timedelta(hours=17), topics) == ("b",)


def test_new_items_wait_while_old_ones_fill_the_day() -> None:
    cards = met_long_ago(4, due=4)
    topics = dict.fromkeys([*cards, "new"], "t")
    assert "new" not in Plan(cards_a_day=4).due(cards, EVENING, topics)
    assert "new" in Plan(cards_a_day=5).due(cards, EVENING, topics)


def test_new_items_come_in_the_order_of_the_lessons() -> None:
    assert Plan(new_a_day=2).due({}, EVENING, dict.fromkeys("zyx", "t")) == ("z", "y")


def test_an_item_that_is_no_longer_taught_is_not_asked() -> None:
    assert Plan().due(met_long_ago(2, due=2), EVENING, {"i1": "t"}) == ("i1",)


def test_an_item_wrong_again_and_again_waits_until_it_is_taught_anew() -> None:
    plan = Plan()
    *_, card = answered(plan, [Grade.AGAIN] * 4)
    topics = {"a": "t"}
    assert plan.due({"a": card}, card.due_at, topics) == ()
    assert mastery({"a": card}, card.due_at, topics, plan)["t"].stuck == ("a",)
    assert plan.due({"a": retaught(card)}, card.due_at, topics) == ("a",)


def test_a_forgotten_item_comes_back_in_the_same_sitting_where_steps_are_wanted() -> None:
    plan = Plan(cards_a_day=1, new_a_day=1, steps_min=(10,), again_min=(10,))
    cards = {"a": plan.after(None, Grade.AGAIN, EVENING)}
    assert plan.due(cards, EVENING + timedelta(minutes=9), {"a": "t"}) == ()
    assert plan.due(cards, EVENING + timedelta(minutes=10), {"a": "t"}) == ("a",)


@pytest.mark.parametrize(
    ("quiet", "hour", "is_quiet"),
    [
        ((time(9), time(17)), 12, True),
        ((time(9), time(17)), 17, False),
        ((time(22), time(6)), 23, True),
        ((time(22), time(6)), 5, True),
        ((time(22), time(6)), 6, False),
        (None, 3, False),
    ],
)
def test_nothing_is_asked_in_quiet_hours_unless_the_learner_comes_himself(
    quiet: tuple[time, time] | None, hour: int, is_quiet: bool
) -> None:
    plan = Plan(quiet=quiet)
    now = EVENING.replace(hour=hour)
    assert (plan.due({}, now, {"a": "t"}) == ()) is is_quiet
    assert plan.due({}, now, {"a": "t"}, asked=True) == ("a",)


def test_quiet_hours_go_by_the_learners_clock() -> None:
    plan = Plan(quiet=(time(22), time(6)))
    assert plan.is_quiet(EVENING.astimezone(timezone(timedelta(hours=3))))
    assert not plan.is_quiet(EVENING)


@given(st.dictionaries(st.text("abcdefg", min_size=1, max_size=2), st.sampled_from("xyz"), max_size=7))
def test_topics_are_mixed_as_well_as_can_be(topics: dict[str, str]) -> None:
    # every order tried, in this test
    def repeats(order: tuple[str, ...]) -> int:
        return sum(topics[a] == topics[b] for a, b in pairwise(order))

    mixed = interleaved(topics, topics)
    assert sorted(mixed) == sorted(topics)
    most = max((list(topics.values()).count(t) for t in topics.values()), default=0)
    assert repeats(mixed) == max(0, 2 * most - len(topics) - 1)
    if len(topics) <= 5:
        assert repeats(mixed) == min(map(repeats, permutations(topics)))
    for topic in set(topics.values()):
        assert [i for i in mixed if topics[i] == topic] == [i for i in topics if topics[i] == topic]


@settings(max_examples=60, deadline=None)
@given(
    sittings=st.lists(st.tuples(st.floats(0.1, 60), st.integers(0, 6)), min_size=1, max_size=25),
    marks=st.randoms(use_true_random=False),
)
def test_however_one_studies_the_day_keeps_its_numbers(
    sittings: list[tuple[float, int]], marks: random.Random
) -> None:
    plan = Plan(cards_a_day=5, new_a_day=2, again_min=(10,))
    topics = {f"i{k}": "xyz"[k % 3] for k in range(20)}
    cards: dict[str, CardState] = {}
    days: dict[object, set[str]] = {}
    begun: dict[object, set[str]] = {}
    now = EVENING
    for hours, take in sittings:
        now += timedelta(hours=hours)
        today = (now - timedelta(hours=12)).date()
        asked = plan.due(cards, now, topics)
        assert len(set(asked)) == len(asked)
        for item in asked[:take]:
            before = cards.get(item)
            if before is None:
                begun.setdefault(today, set()).add(item)
            days.setdefault(today, set()).add(item)
            cards[item] = plan.after(before, marks.choice(list(Grade)), now)
            assert cards[item].due_at > cards[item].last_at >= now
    assert all(len(items) <= 5 for items in days.values())
    assert all(len(items) <= 2 for items in begun.values())


# --- mastery and confidence --------------------------------------------------------------------------------


@given(st.lists(st.floats(0, 1), max_size=25), st.floats(0.5, 0.99))
def test_how_many_are_surely_right_is_the_exact_distribution(chances: list[float], assurance: float) -> None:
    # scipy.stats.poisson_binom, in this test
    if not chances:
        assert sure_right(chances, assurance=assurance) == 0
        return
    law = stats.poisson_binom(chances)
    found = sure_right(chances, assurance=assurance)
    assert law.sf(found - 1) >= assurance - 1e-9
    assert found == len(chances) or law.sf(found) < assurance + 1e-9


def test_a_topic_goes_from_new_over_shaky_to_mastered() -> None:
    plan, topics = Plan(new_a_day=10), {f"i{k}": "t" for k in range(10)}
    cards: dict[str, CardState] = {}
    seen = [mastery(cards, EVENING, topics, plan)["t"].level]
    for evening in range(60):
        now = EVENING + evening * DAY
        for item in plan.due(cards, now, topics):
            cards[item] = plan.after(cards.get(item), Grade.GOOD, now)
        seen.append(mastery(cards, now, topics, plan)["t"].level)
    assert (seen[0], seen[1], seen[-1]) == ("new", "shaky", "mastered")


def test_a_topic_is_not_mastered_while_one_item_was_never_met() -> None:
    strong = next(answered(Plan(), [Grade.EASY])).model_copy(update={"stability_days": 5000.0})
    cards = {f"i{k}": strong for k in range(20)}
    assert mastery(cards, EVENING, dict.fromkeys(cards, "t"), Plan())["t"].level == "mastered"
    found = mastery(cards, EVENING, dict.fromkeys([*cards, "more"], "t"), Plan())["t"]
    assert (found.level, found.met, found.items) == ("shaky", 20, 21)


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


def test_an_item_nobody_answered_is_as_hard_as_its_author_says() -> None:
    found = difficulties([], rated={"a": 0.7})["a"]
    assert (found.logits, found.answers, found.is_settled) == (0.7, 0, False)


def test_enough_answers_are_trusted_over_the_author() -> None:
    answers = [FirstAnswer(f"p{k}", "a", False) for k in range(ENOUGH)]
    assert not difficulties(answers[1:], rated={"a": -1.0})["a"].is_settled
    found = difficulties(answers, rated={"a": -1.0})["a"]
    assert found.is_settled
    assert found.logits > 0


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


# --- simulated learners: sixteen, a month, 5 minutes a day (all ways and ranges: bench_school.py) ---------

MINUTES = Plan(cards_a_day=1000, new_a_day=10)
"""The plan as shipped, held back by minutes like the other ways, not by numbers of cards."""
FEW, ALL = 16, np.arange(16)


@pytest.fixture(scope="module")
def month() -> Mapping[str, Outcome]:
    return {name: studied(by_plan(MINUTES), model, FEW) for name, model in MODELS.items()}


def fixed(model: str, *intervals: int) -> list[Outcome]:
    return [studied(by_ladder((days,), new_a_day=10), MODELS[model], FEW) for days in intervals]


@pytest.mark.parametrize("model", ["half-life (Ye 2022)", "stability (FSRS-4)"])
def test_a_quarter_more_is_kept_per_minute_than_by_a_fixed_interval_that_keeps_as_large_a_share(
    model: str, month: Mapping[str, Outcome]
) -> None:
    # memory models of Ye, Su & Cao 2022 (READ) and FSRS-4 (READ as an excerpt), not the scheduler's; bar 25 %
    plan = month[model]
    other = at_the_same_share(fixed(model, 1, 2, 3, 4, 5, 7, 10, 14), plan.share(ALL), ALL)
    assert plan.per_minute(ALL) >= 1.25 * other


def test_no_less_is_kept_even_by_a_memory_of_another_kind(month: Mapping[str, Outcome]) -> None:
    # Pavlik & Anderson 2005 (parameters MEMORY): no stability, no difficulty; here the bar of 25 % is missed
    model = "activation (Pavlik 2005)"
    other = at_the_same_share(fixed(model, 1, 2, 3, 4, 5, 7, 10, 14), month[model].share(ALL), ALL)
    assert month[model].per_minute(ALL) >= other


@pytest.mark.parametrize("model", ["half-life (Ye 2022)", "stability (FSRS-4)"])
def test_a_quarter_more_is_kept_per_minute_than_by_asking_every_three_days(
    model: str, month: Mapping[str, Outcome]
) -> None:
    assert month[model].per_minute(ALL) >= 1.25 * fixed(model, 3)[0].per_minute(ALL)


@pytest.mark.parametrize("model", ["half-life (Ye 2022)", "stability (FSRS-4)"])
def test_nine_in_ten_are_right_where_the_plan_could_choose_the_day(
    model: str, month: Mapping[str, Outcome]
) -> None:
    # planned for two days or more; the bar is 88 to 92 % at an aim of 90 %
    assert 0.88 <= month[model].retention(ALL) <= 0.92


def test_a_plan_that_is_told_the_memory_comes_nearer_to_its_aim_with_a_memory_of_another_kind(
    month: Mapping[str, Outcome],
) -> None:
    model = "activation (Pavlik 2005)"
    told = studied(by_plan(MINUTES, steered=True), MODELS[model], FEW)
    assert month[model].retention(ALL) < told.retention(ALL) <= 0.92


@pytest.mark.parametrize("model", MODELS)
def test_the_simulated_memories_fade_and_are_refreshed(model: str) -> None:
    # what any of the three publications says of recall: it falls with time, and answering lifts it
    memory = MODELS[model](random.Random(1), 1.0)
    assert memory.recall(0) == 0
    memory.first(0)
    chances = [memory.recall(day) for day in (1, 2, 4, 8, 16)]
    assert chances == sorted(chances, reverse=True)
    before = memory.recall(5)
    memory.answer(3, right=True)
    assert memory.recall(5) > before


def test_the_half_lives_are_those_of_the_publication() -> None:
    # Ye, Su & Cao 2022, formulas of the published simulator worked out by hand for difficulty 5:
    # h0 = -1/log2(0.675) = 1.7635; after recall at p = 1/2: h (1 + 45.09·0.42326·0.93029·0.51128)
    memory = HalfLife(random.Random(0), 1.0)
    memory.difficulty = 5
    memory.first(0)
    assert memory.half_life == pytest.approx(1.7635, abs=1e-4)
    memory.answer(memory.half_life, right=True)
    assert memory.half_life == pytest.approx(17.772, abs=0.001)
