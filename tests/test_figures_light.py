"""Lit circles: their size by the water's clarity, and how they lie to each other."""

import math

import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import bisect
from scipy.special import lambertw
from shapely.geometry import Point

from coach.figures.light import (
    beam_in_water_deg,
    centre_gap_ft,
    circle_of_secchi,
    circle_of_word,
    footprint_radius_ft,
    hull_gap_ft,
    lambert_w,
    overlap_ft2,
    range_for_light_m,
    secchi_of_word_ft,
)
from coach.figures.units import feet, metres


@given(x=st.floats(0, 1e12))
def test_our_lambert_w_is_the_one_of_scipy(x: float) -> None:
    # scipy.special.lambertw, in this test
    assert lambert_w(x) == pytest.approx(lambertw(x).real, rel=1e-13, abs=1e-300)


@pytest.mark.parametrize("x", [-0.1, math.nan, math.inf])
def test_lambert_w_refuses_what_it_is_not_made_for(x: float) -> None:
    with pytest.raises(ValueError, match="allowed 0 and more"):
        lambert_w(x)


@pytest.mark.parametrize(
    ("k_per_m", "to_1_lx_m", "to_tenth_lx_m"),
    [
        (0.12, 9.869, 18.544),
        (0.30, 6.615, 10.937),
        (0.63, 4.426, 6.744),
        (1.2, 2.982, 4.293),
        (2.0, 2.127, 2.951),
    ],
)
def test_the_range_of_a_lamp_of_1000_lumen(k_per_m: float, to_1_lx_m: float, to_tenth_lx_m: float) -> None:
    # I = 1000 lm/π = 318.31 cd; ranges by bisection, computed outside this program; tolerance 0.005 m
    candela = 1000 / math.pi
    for lux, wanted in ((1, to_1_lx_m), (0.1, to_tenth_lx_m)):
        found = range_for_light_m(k_per_m, reach_clear_m=math.sqrt(candela / lux))
        assert found == pytest.approx(wanted, abs=0.005)


@given(k_per_m=st.floats(1e-6, 10), clear_m=st.floats(0.1, 50))
def test_the_closed_form_is_the_root_that_bisection_finds(k_per_m: float, clear_m: float) -> None:
    # scipy.optimize.bisect on (c/r)²·e^(−K·r) = 1, in this test
    root = bisect(lambda r: 2 * math.log(clear_m / r) - k_per_m * r, 1e-9, clear_m * 1.001, xtol=1e-13)
    assert range_for_light_m(k_per_m, reach_clear_m=clear_m) == pytest.approx(root, rel=1e-9)


def test_in_water_without_loss_the_range_is_the_clear_one() -> None:
    assert range_for_light_m(0, reach_clear_m=7) == 7
    assert range_for_light_m(1e-12, reach_clear_m=7) == pytest.approx(7)


def test_clear_water_gives_the_circle_of_a_clear_night_with_its_range() -> None:
    # common practice: 15 to 18 ft across on a clear night, 16.5 taken as calibration
    assert circle_of_word("clear", RIG) == pytest.approx((16.5, 15, 18), abs=0.05)
    assert circle_of_secchi(RIG.secchi_clear_ft, RIG) == pytest.approx((16.5, 15, 18))


def test_murky_water_has_a_much_smaller_circle() -> None:
    # common practice: "in murky water much less"
    assert circle_of_word("murky", RIG).value < 0.6 * circle_of_word("clear", RIG).value
    assert circle_of_word("murky", RIG).high < circle_of_word("stained", RIG).value


@given(one_ft=st.floats(0.2, 60), other_ft=st.floats(0.2, 60))
def test_clearer_water_never_has_a_smaller_circle(one_ft: float, other_ft: float) -> None:
    less, more = (circle_of_secchi(secchi, RIG) for secchi in sorted((one_ft, other_ft)))
    assert less.value <= more.value + 1e-9
    assert less.low <= less.value <= less.high


@pytest.mark.parametrize("word", ["clear", "stained", "murky"])
def test_each_word_for_the_water_is_a_range_around_its_value(word: str) -> None:
    secchi, circle = secchi_of_word_ft(word, RIG), circle_of_word(word, RIG)
    assert secchi.low < secchi.value < secchi.high
    assert circle.low < circle.value < circle.high


def test_another_word_for_the_water_is_refused() -> None:
    with pytest.raises(ValueError, match="clarity: got 'milky'; allowed clear, stained, murky"):
        circle_of_word("milky", RIG)


def test_two_circles_of_eight_feet_radius_twenty_apart_leave_four_dark() -> None:
    # common practice: the trade's own example
    assert centre_gap_ft(20, 16, circle_right_ft=16) == 4
    assert centre_gap_ft(14, 16, circle_right_ft=16) == -2
    assert hull_gap_ft(8, 16) == 0


@pytest.mark.parametrize(
    ("a", "b", "d", "area"),
    [
        (1, 1, 1, 2 * math.pi / 3 - math.sqrt(3) / 2),
        (5, 5, 6, 22.364761),
        (5, 3, 6, 6.927129),
        (5, 3, 1, 28.274334),
        (2, 2, 5, 0),
    ],
)
def test_the_overlap_has_the_area_of_the_lens(a: float, b: float, d: float, area: float) -> None:
    # plane geometry; the first is exact, the others computed outside this program; tolerance 1e-6
    assert overlap_ft2(d, 2 * a, circle_right_ft=2 * b) == pytest.approx(area, rel=1e-6)


@given(a=st.floats(0.5, 20), b=st.floats(0.5, 20), share=st.floats(0, 0.98))
def test_the_overlap_is_the_one_of_shapely(a: float, b: float, share: float) -> None:
    # shapely, circles of 2048 corners, in this test; its inscribed polygons are up to 4e-6 too small
    d = share * (a + b)
    drawn = Point(0, 0).buffer(a, quad_segs=512).intersection(Point(d, 0).buffer(b, quad_segs=512)).area
    assert overlap_ft2(d, 2 * a, circle_right_ft=2 * b) == pytest.approx(drawn, rel=1e-4, abs=1e-4)


@given(apart_ft=st.floats(0, 100), left_ft=st.floats(0.1, 60), right_ft=st.floats(0.1, 60))
def test_left_and_right_may_be_exchanged(apart_ft: float, left_ft: float, right_ft: float) -> None:
    one = overlap_ft2(apart_ft, left_ft, circle_right_ft=right_ft)
    assert one == pytest.approx(overlap_ft2(apart_ft, right_ft, circle_right_ft=left_ft), abs=1e-6)
    assert 0 <= one <= math.pi * (min(left_ft, right_ft) / 2) ** 2 + 1e-9
    assert (one > 0) <= (centre_gap_ft(apart_ft, left_ft, circle_right_ft=right_ft) < 0)


def test_a_beam_of_120_degrees_lights_five_feet_either_side_at_three() -> None:
    # geometry: 3·tan 60° = 5.196. Behind a flat window, index 1.34, 60° off the axis becomes 40.26°
    # and the radius 2.541 ft; computed outside this program, tolerance 0.001
    assert footprint_radius_ft(3, 120) == pytest.approx(5.196, abs=0.001)
    assert beam_in_water_deg(120) / 2 == pytest.approx(40.26, abs=0.005)
    assert footprint_radius_ft(3, beam_in_water_deg(120)) == pytest.approx(2.541, abs=0.001)


@given(ft=st.floats(-1e6, 1e6))
def test_feet_come_back_from_metres(ft: float) -> None:
    assert feet(metres(ft)) == pytest.approx(ft)


def test_a_foot_is_0_3048_metres() -> None:
    # international foot of 1959 (MEMORY)
    assert metres(1) == 0.3048
