"""Sixteen simulated learners, a month, 5 minutes a day; all ways to study with ranges: bench_school.py."""

import random
from collections.abc import Mapping

import numpy as np
import pytest
from sim_learners import MODELS, HalfLife
from sim_school import Outcome, at_the_same_share, by_ladder, by_plan, studied

from coach.school.schedule import Plan

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


@pytest.mark.parametrize("model", MODELS)
def test_what_is_spaced_is_kept_longer_than_what_is_massed(model: str) -> None:
    # the spacing effect (Cepeda et al. 2006, MEMORY), which each of the publications sets out to describe
    def after_a_month(times: tuple[float, ...]) -> float:
        memory = MODELS[model](random.Random(2), 1.0)
        memory.first(0)
        for at in times:
            memory.answer(at, right=True)
        return memory.recall(times[-1] + 30)

    assert after_a_month((1, 4)) > after_a_month((0.001, 0.002))


def test_the_half_lives_are_those_of_the_publication() -> None:
    # Ye, Su & Cao 2022, formulas of the published simulator worked out by hand for difficulty 5:
    # h0 = -1/log2(0.675) = 1.7635; after recall at p = 1/2: h (1 + 45.09·0.42326·0.93029·0.51128)
    memory = HalfLife(random.Random(0), 1.0)
    memory.difficulty = 5
    memory.first(0)
    assert memory.half_life == pytest.approx(1.7635, abs=1e-4)
    memory.answer(memory.half_life, right=True)
    assert memory.half_life == pytest.approx(17.772, abs=0.001)
