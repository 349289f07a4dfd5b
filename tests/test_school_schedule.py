"""When items of the school come again, and which come today: against the package and its golden values."""

import json
import random
import subprocess
import sys
from datetime import time, timedelta, timezone
from itertools import pairwise, permutations
from zoneinfo import ZoneInfo

import pytest
from fsrs import Card, Rating, Scheduler
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from sim_school import DAY, answered
from sim_school import START as EVENING

from coach.school.schedule import CardState, Grade, Plan, graded, interleaved, retaught
from coach.school.spacing import recall_after, stretched

WITH_STEPS = Plan(steps_min=(1, 10), again_min=(10,), longest_days=36500)
"""The package's own short steps, with which the golden intervals were made."""

grades = st.sampled_from(list(Grade))


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


def test_a_card_remembers_when_it_was_met_and_how_often_it_went_wrong() -> None:
    *_, card = answered(Plan(), [Grade.GOOD, Grade.AGAIN, Grade.HARD, Grade.AGAIN])
    assert (card.first_at, card.answers, card.wrong) == (EVENING, 4, 2)


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
        "import sys, coach.consult, coach.school.schedule, coach.school.memory, coach.school.difficulty;"
        "before = set(sys.modules); assert 'fsrs' not in before;"
        "import fsrs; assert not {'torch', 'numpy', 'pandas'} & (set(sys.modules) - before)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


def test_where_the_scheduler_is_not_installed_it_is_said_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "fsrs", None)
    with pytest.raises(OSError, match=r"pip install -e '.\[school\]'"):
        Plan(longest_days=123).after(None, Grade.GOOD, EVENING)


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


def test_what_is_foretold_is_of_this_learners_memory() -> None:
    card = Plan().after(None, Grade.GOOD, EVENING)
    later = EVENING + 20 * DAY
    assert Plan(memory=2).recall(card, later) == pytest.approx(Plan().recall(card, EVENING + 10 * DAY))


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
    assert plan.is_stuck(card)
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
