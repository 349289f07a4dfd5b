"""The hang of a lamp. Worked examples: common practice of the trade, except where another source stands."""

import dataclasses
import math

import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st

from coach.figures.lamp import (
    clip_height_ft,
    depth_for_clip_ft,
    hang,
    high_above_sum_ft,
    lamp_depth_ft,
    since_set,
    under_path_wins,
    why_no_clip,
)
from coach.figures.rig import Rig

WORKABLE_FT = st.floats(RIG.depth_min_ft, RIG.depth_max_ft)
ANY_DEPTH_FT = st.floats(0.5, 60)


def test_in_eleven_feet_the_lamp_is_clipped_at_three_and_hangs_eight_deep() -> None:
    # common practice: depth − 8; in 11 ft 3 ft, 5.5 ft dark above and 0.5 ft beneath
    assert clip_height_ft(11, RIG) == pytest.approx(3)
    assert hang(11, 3, RIG) == pytest.approx((8, 5.5, 0.5))


def test_a_lamp_four_feet_too_high_lets_them_pass_beneath() -> None:
    # common practice: the same lamp 4 ft too high leaves 1.5 ft above, 4.5 ft below
    found = hang(11, 7, RIG)
    assert (found.dark_band_ft, found.under_path_ft) == pytest.approx((1.5, 4.5))
    assert under_path_wins(found)
    assert not under_path_wins(hang(11, 3, RIG))


def test_the_lamp_comes_up_foot_for_foot_as_the_water_falls() -> None:
    # common practice: 8 ft deep now, 6.5 ft after a fall of 1.5 ft
    assert lamp_depth_ft(11 - 1.5, 3) == pytest.approx(6.5)


@pytest.mark.parametrize(
    ("depth_ft", "clip_ft"),
    [(6, 1), (7.5, 1), (9, 1), (9.4, 1.4), (16, 8), (20, 10), (23, 11.5)],
)
def test_the_clip_height_keeps_its_limits(depth_ft: float, clip_ft: float) -> None:
    # common practice with the trade's assumptions: at least 1 ft, at most half the depth
    assert clip_height_ft(depth_ft, RIG) == pytest.approx(clip_ft)


@pytest.mark.parametrize(("depth_ft", "word"), [(5.9, "under 6 ft"), (23.1, "over 23 ft")])
def test_too_little_and_too_much_water_get_a_sentence_and_no_clip_height(depth_ft: float, word: str) -> None:
    assert clip_height_ft(depth_ft, RIG) is None
    assert word in why_no_clip(depth_ft, RIG)


def test_from_sixteen_feet_on_the_under_path_is_as_thick_as_the_dark_band() -> None:
    # common practice (assumption of the trade): "from about 16 ft on"
    at_sixteen = hang(16, 8, RIG)
    assert at_sixteen.dark_band_ft == pytest.approx(at_sixteen.under_path_ft)


@pytest.mark.parametrize("depth_ft", [float("nan"), -3, 0, 61, float("inf")])
def test_an_impossible_depth_is_refused_with_value_and_range(depth_ft: float) -> None:
    with pytest.raises(ValueError, match=r"^water_depth_ft: got .*; allowed 0\.5 to 60 ft$"):
        clip_height_ft(depth_ft, RIG)


def test_a_lamp_right_when_set_has_risen_by_the_fall() -> None:
    # trade arithmetic: set at 11.3 ft with 3.3 ft, 1.9 ft of fall: 1.9 ft above the sum now
    found = since_set(9.4, 3.3, RIG, fall_since_set_ft=1.9)
    assert found == pytest.approx((11.3, 0.0, 1.9))


def test_a_lamp_set_wrong_was_wrong_at_once() -> None:
    # trade arithmetic: 7.5 ft of clip in 11.2 ft stood 4.3 ft above the sum when set
    found = since_set(11, 7.5, RIG, fall_since_set_ft=0.2)
    assert found.high_when_set_ft == pytest.approx(4.3)


def test_where_there_is_no_sum_nothing_stands_above_it() -> None:
    assert high_above_sum_ft(5, 1, RIG) is None
    assert since_set(5.5, 1, RIG, fall_since_set_ft=1).high_now_ft is None


def test_a_depth_when_set_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="depth_when_set_ft"):
        since_set(1, 1, RIG, fall_since_set_ft=-3)


def test_a_leaning_lamp_hangs_lower_by_the_cosine() -> None:
    # geometry: cos 60° = 0.5
    assert lamp_depth_ft(11, 4, lean_deg=60) == pytest.approx(9)


@given(depth_ft=WORKABLE_FT)
def test_a_set_that_follows_the_sum_is_never_called_too_shallow(depth_ft: float) -> None:
    clip = clip_height_ft(depth_ft, RIG)
    assert clip is not None
    assert not under_path_wins(hang(depth_ft, clip, RIG)) or depth_ft > 2 * RIG.lamp_depth_rule_ft - 1e-9
    assert high_above_sum_ft(depth_ft, clip, RIG) == 0


@given(depth_ft=WORKABLE_FT)
def test_the_clip_height_lies_between_a_foot_and_mid_depth(depth_ft: float) -> None:
    clip = clip_height_ft(depth_ft, RIG)
    assert clip is not None
    assert RIG.clip_min_ft <= clip <= max(RIG.clip_min_ft, depth_ft / 2)
    assert clip <= RIG.rope_usable_ft


@given(one_ft=WORKABLE_FT, other_ft=WORKABLE_FT)
def test_more_water_never_means_a_lower_clip(one_ft: float, other_ft: float) -> None:
    low, high = (clip_height_ft(depth, RIG) for depth in sorted((one_ft, other_ft)))
    assert low is not None
    assert high is not None
    assert low <= high


@given(clip_ft=st.floats(RIG.clip_min_ft, 11.5))
def test_the_depth_for_a_clip_gives_that_clip_again(clip_ft: float) -> None:
    assert clip_height_ft(depth_for_clip_ft(clip_ft, RIG), RIG) == pytest.approx(clip_ft, abs=1e-9)


@given(depth_ft=ANY_DEPTH_FT, clip_ft=st.floats(0, 60), lean_deg=st.floats(0, 90))
def test_dark_lit_and_under_make_up_the_water(depth_ft: float, clip_ft: float, lean_deg: float) -> None:
    found = hang(depth_ft, clip_ft, RIG, lean_deg=lean_deg)
    lit = depth_ft - found.dark_band_ft - found.under_path_ft
    assert -1e-9 <= lit <= RIG.lit_band_ft + 1e-9
    assert 0 <= found.lamp_depth_ft <= depth_ft
    assert not math.isnan(lit)


def test_a_missing_number_of_the_rig_is_named() -> None:
    numbers = dataclasses.asdict(RIG)
    del numbers["lit_band_ft"]
    with pytest.raises(ValueError, match="lit_band_ft"):
        Rig.from_numbers(numbers)
