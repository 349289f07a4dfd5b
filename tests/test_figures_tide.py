"""Levels between high and low water, clock changes, and the plan of clipping again."""

import math
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st

from coach.figures.clock import hours_between, later, on_clock, read_time
from coach.figures.lamp import high_above_sum_ft
from coach.figures.reclip import Plan, clip_for_time_ft, reclip_over, reclip_plan, stay_on, stays_over
from coach.figures.tide import (
    Leg,
    depth_at_ft,
    height_ft,
    hours_for_change,
    leg_between,
    rate_ft_per_h,
    time_at_height,
    twelfths_ft,
)

EVENING = datetime(2027, 2, 11, 19, 0, tzinfo=UTC)
NEW_YORK = ZoneInfo("America/New_York")


def falling(range_ft: float = 4.0, hours: float = 6.2) -> Leg:
    return leg_between(EVENING, range_ft, low_at=later(EVENING, hours), low_ft=0)


def test_the_cosine_gives_the_worked_height_of_the_official_table() -> None:
    # Canadian tide tables, table 5, worked example as quoted in a sailing forum thread (READ):
    # LW 03:27 2.2 ft, HW 11:41 11.4 ft, at 07:00 5.8 ft; tolerance 0.1 ft
    day = datetime(2027, 1, 1, tzinfo=UTC)
    leg = leg_between(
        day.replace(hour=11, minute=41), 11.4, low_at=day.replace(hour=3, minute=27), low_ft=2.2
    )
    assert height_ft(leg, day.replace(hour=7)) == pytest.approx(5.8, abs=0.1)


@pytest.mark.parametrize(
    ("fall_ft", "hours"),
    [(0.5, 1.426), (1, 2.067), (2, 3.1), (3, 4.133)],
)
def test_a_fall_takes_the_hours_of_the_cosine(fall_ft: float, hours: float) -> None:
    # R 4 ft, T 6.2 h: (T/π)·acos(1 − 2d/R), computed outside this program; tolerance 0.001 h
    assert hours_for_change(4, 6.2, change_ft=fall_ft) == pytest.approx(hours, abs=0.001)


def test_the_level_moves_fastest_at_half_tide() -> None:
    # πR/(2T) = 1.0134 ft/h for R 4 ft, T 6.2 h, computed outside this program; tolerance 0.001
    leg = falling()
    assert -rate_ft_per_h(leg, later(leg.start_at, 3.1)) == pytest.approx(1.0134, abs=0.001)
    assert rate_ft_per_h(leg, leg.start_at) == pytest.approx(0, abs=1e-12)


def test_twelfths_add_up_as_taught() -> None:
    # rules of thumb, nauticalcharts.com (READ): cumulative 1, 3, 6, 9, 11, 12 for a range of 12
    parts = twelfths_ft(12)
    assert [sum(parts[: hour + 1]) for hour in range(6)] == [1, 3, 6, 9, 11, 12]
    # six feet over six hours: 6, 12, 18, 18, 12, 6 inches an hour (sailing forum thread, READ)
    assert [part * 12 for part in twelfths_ft(6)] == [6, 12, 18, 18, 12, 6]


def test_cosine_and_twelfths_differ_by_less_than_two_parts_in_a_hundred_of_the_range() -> None:
    # computed outside this program for T = 6 h: .0670 .25 .5 .75 .9330 1; at most 1.7 % of R apart
    leg = falling(1, 6)
    cosine = [1 - height_ft(leg, later(leg.start_at, hour)) for hour in range(1, 7)]
    assert cosine == pytest.approx([0.0670, 0.25, 0.5, 0.75, 0.9330, 1], abs=1e-4)
    twelfths = [sum(twelfths_ft(1)[: hour + 1]) for hour in range(6)]
    assert max(abs(a - b) for a, b in zip(cosine, twelfths, strict=True)) < 0.017


@given(range_ft=st.floats(0.1, 40), hours=st.floats(1.01, 25.9), share=st.floats(0, 1))
def test_the_time_of_a_height_has_that_height(range_ft: float, hours: float, share: float) -> None:
    leg = falling(range_ft, hours)
    at = time_at_height(leg, range_ft * share)
    assert at is not None
    # times are held to a microsecond, in which the level moves less than 1e-7 ft
    inside = min(max(at, leg.start_at), leg.end_at)
    assert height_ft(leg, inside) == pytest.approx(range_ft * share, abs=1e-7 + 1e-9 * range_ft)


@given(range_ft=st.floats(0.1, 40), hours=st.floats(1.01, 25.9), share=st.floats(0, 1))
def test_the_level_stays_between_high_and_low(range_ft: float, hours: float, share: float) -> None:
    leg = falling(range_ft, hours)
    at = min(later(leg.start_at, leg.hours * share), leg.end_at)
    assert -1e-9 <= height_ft(leg, at) <= range_ft + 1e-9


def test_depth_here_moves_as_the_level_does() -> None:
    leg = falling(4, 6)
    at_half = later(leg.start_at, 3)
    assert depth_at_ft(leg, at_half, known_depth_ft=11, known_at=leg.start_at) == pytest.approx(9)


@pytest.mark.parametrize(
    ("high_ft", "low_ft", "hours", "words"),
    [
        (1, 2, 6, "low_ft: got 2; allowed below high_ft"),
        (2, 2, 6, "low_ft: got 2; allowed below high_ft"),
        (2, 0, 0, "hours between high_at and low_at: got 0"),
        (2, 0, 40, "hours between high_at and low_at: got 40"),
        (99, 0, 6, "high_ft: got 99; allowed -10 to 60 ft"),
        (float("nan"), 0, 6, "high_ft: got nan"),
    ],
)
def test_an_impossible_tide_is_refused(high_ft: float, low_ft: float, hours: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        leg_between(EVENING, high_ft, low_at=EVENING + timedelta(hours=hours), low_ft=low_ft)


def test_a_time_outside_the_leg_is_refused_and_told_the_leg() -> None:
    with pytest.raises(ValueError, match="allowed 2027-02-11T19:00:00"):
        height_ft(falling(), later(EVENING, -1))


def test_hours_count_right_across_the_change_of_the_clocks() -> None:
    # U.S. rule (Energy Policy Act 2005, MEMORY): clocks skip 02:00 to 03:00 on 14 March 2027
    before = datetime(2027, 3, 14, 0, 0, tzinfo=NEW_YORK)
    after = datetime(2027, 3, 14, 6, 0, tzinfo=NEW_YORK)
    assert hours_between(before, after) == 5
    assert later(before, 5) == after
    assert later(before, 5).utcoffset() == timedelta(hours=-4)


def test_a_clock_reading_that_never_comes_or_comes_twice_is_refused() -> None:
    # the same rule: 02:30 never comes on 14 March 2027, 01:30 comes twice on 7 November 2027
    with pytest.raises(ValueError, match="skips that night"):
        on_clock(datetime(2027, 3, 14, 2, 30), NEW_YORK)
    with pytest.raises(ValueError, match="shows twice that night"):
        on_clock(datetime(2027, 11, 7, 1, 30), NEW_YORK)


@pytest.mark.parametrize("text", ["", "nine", "21:05", "2027-02-11", "2027-02-30T21:00:00-05:00"])
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="allowed a"):
        read_time(text)


def test_a_time_with_and_one_without_a_zone_are_not_compared() -> None:
    with pytest.raises(ValueError, match="both with a zone or both without"):
        hours_between(datetime(2027, 1, 1), EVENING)


def plan_of(
    depth_ft: float, clip_ft: float, *, leg: Leg, start_h: float = 0, hours: float = 24, slack_ft: float = 1
) -> Plan:
    start = later(leg.start_at, start_h)
    until = later(start, hours)
    stay = stay_on(leg, depth_ft, from_at=start, until_at=until)
    return reclip_plan(stay, clip_ft, RIG, slack_ft=slack_ft, asked_until=until)


def test_each_foot_of_fall_asks_for_a_clip_one_foot_lower() -> None:
    # trade arithmetic on the hours above: 4 ft over 6.2 h, 11 ft at high water, clip 3 ft
    plan = plan_of(11, 3, leg=falling(), hours=6)
    assert [(step.clip_ft, step.depth_ft) for step in plan.steps] == [(2, 10), (1, 9)]
    hours = [hours_between(EVENING, step.at) for step in plan.steps]
    assert hours == pytest.approx([2.067, 3.1], abs=0.001)
    assert plan.note == ""


def test_a_lamp_at_the_lowest_clip_is_left_alone() -> None:
    assert plan_of(9, 1, leg=falling(2)).steps == ()


def test_a_lamp_that_is_off_already_is_clipped_at_once() -> None:
    first = plan_of(11, 7, leg=falling(), hours=2).steps[0]
    assert (first.at, first.clip_ft) == (EVENING, 3)


def test_rising_water_asks_for_a_higher_clip() -> None:
    rising = leg_between(later(EVENING, 6), 4, low_at=EVENING, low_ft=0)
    plan = plan_of(9, 1, leg=rising)
    assert [(step.clip_ft, step.depth_ft) for step in plan.steps] == [(2, 10), (3, 11), (4, 12), (5, 13)]


def test_the_plan_says_when_the_water_gets_too_shallow_or_too_deep() -> None:
    assert "under 6 ft" in plan_of(8, 1, leg=falling()).note
    rising = leg_between(later(EVENING, 6), 4, low_at=EVENING, low_ft=0)
    assert "over 23 ft" in plan_of(22, 11, leg=rising).note


def test_a_place_too_deep_at_first_is_clipped_when_the_water_has_come_down() -> None:
    first = plan_of(24, 12, leg=falling()).steps[0]
    assert (first.clip_ft, first.depth_ft) == pytest.approx((11.5, 23))


def test_nothing_is_said_after_the_end_of_the_table() -> None:
    assert "The table ends with the low water of 01:12" in plan_of(11, 3, leg=falling(), hours=9).note


def test_one_clip_height_for_a_named_time_is_the_one_of_the_depth_then() -> None:
    leg = falling(4, 6)
    stay = stay_on(leg, 11, from_at=EVENING, until_at=leg.end_at)
    assert clip_for_time_ft(stay, later(EVENING, 3), RIG) == pytest.approx(1)


def test_an_end_before_the_start_is_refused() -> None:
    with pytest.raises(ValueError, match="until: got"):
        stay_on(falling(), 11, from_at=later(EVENING, 2), until_at=later(EVENING, 1))


@given(
    depth_ft=st.floats(6, 23),
    range_ft=st.floats(0.2, 12),
    hours=st.floats(3, 20),
    slack_ft=st.floats(0.25, 3),
    is_rising=st.booleans(),
)
def test_between_the_steps_no_lamp_is_ever_further_off_than_the_slack(
    depth_ft: float, range_ft: float, hours: float, slack_ft: float, is_rising: bool
) -> None:
    high, low = (later(EVENING, hours), EVENING) if is_rising else (EVENING, later(EVENING, hours))
    leg = leg_between(high, range_ft, low_at=low, low_ft=0)
    stay = stay_on(leg, depth_ft, from_at=EVENING, until_at=leg.end_at)
    clip = max(1.0, min(depth_ft - 8, depth_ft / 2))
    plan = reclip_plan(stay, clip, RIG, slack_ft=slack_ft, asked_until=leg.end_at)
    for minute in range(0, int(hours * 60), 20):
        at = later(EVENING, minute / 60)
        clip = next((step.clip_ft for step in reversed(plan.steps) if step.at <= at), clip)
        depth = stay.depth_at(at)
        off = high_above_sum_ft(depth, clip, RIG) if depth >= 0.5 else None
        assert off is None or abs(off) <= slack_ft + 1e-6 or math.isclose(clip, RIG.clip_min_ft)


def test_a_stay_over_low_water_clips_down_and_up_again() -> None:
    # trade arithmetic: 13 ft at high water, 4 ft of range, back to 13 ft
    legs = (falling(4, 6), leg_between(later(EVENING, 12), 4, low_at=later(EVENING, 6), low_ft=0))
    until = later(EVENING, 12)
    stays = stays_over(legs, 13, from_at=EVENING, until_at=until)
    plan = reclip_over(stays, 5, RIG, slack_ft=1, asked_until=until)
    assert [step.clip_ft for step in plan.steps] == [4, 3, 2, 1, 2, 3, 4, 5]
    assert [step.depth_ft for step in plan.steps] == pytest.approx([12, 11, 10, 9, 10, 11, 12, 13])
    assert plan.note == ""


def test_a_stay_ends_where_the_place_dries() -> None:
    legs = (falling(4, 6), leg_between(later(EVENING, 12), 4, low_at=later(EVENING, 6), low_ft=0))
    assert len(stays_over(legs, 3, from_at=EVENING, until_at=later(EVENING, 12))) == 1


def test_small_slacks_reach_the_lowest_clip_too() -> None:
    # ten steps of a fifth of a foot from 3 ft end at 1 ft
    plan = plan_of(11, 3, leg=falling(4, 6), slack_ft=0.2)
    assert len(plan.steps) == 10
    assert plan.steps[-1].clip_ft == pytest.approx(1)
