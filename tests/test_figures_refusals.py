"""What the calculators refuse, each in one sentence that names the value, what was given, what is allowed."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st

from coach.figures.about import clip_about
from coach.figures.clock import later
from coach.figures.flow import FlowEvent, flow_at_kn
from coach.figures.lamp import clip_height_ft, depth_for_clip_ft, hang, lamp_depth_ft
from coach.figures.lean import drag_n
from coach.figures.light import (
    Range,
    background_lux,
    centre_gap_ft,
    circle_of_secchi,
    footprint_radius_ft,
    range_for_light_m,
)
from coach.figures.limits import LIMITS, checked, positive, whole
from coach.figures.power import battery_hours
from coach.figures.tide import Extreme, hours_for_change, leg_at, legs_between, twelfths_ft
from coach.figures.wind import setup_m, waves, waves_shallow

EVENING = datetime(2027, 2, 11, 19, tzinfo=UTC)


@pytest.mark.parametrize(
    ("work", "says"),
    [
        (lambda: depth_for_clip_ft(0.5, RIG), "clip_ft: got 0.5; allowed 1 to 60 ft"),
        (lambda: lamp_depth_ft(11, -1), "clip_ft: got -1; allowed 0 to 60 ft"),
        (lambda: lamp_depth_ft(11, 3, lean_deg=91), "lean_deg: got 91; allowed 0 to 90 degrees"),
        (lambda: drag_n(1.2, 0.01, -1, density_kg_m3=1025), "speed_m_s: got -1; allowed 0 and more"),
        (lambda: drag_n(1.2, 0, 1, density_kg_m3=1025), "area_m2: got 0; allowed above 0 m2"),
        (lambda: range_for_light_m(-1, reach_clear_m=3), "got -1, 3; allowed 0 and more, above 0"),
        (lambda: background_lux(-1, 8, RIG, secchi_ft=6), "surface_lux: got -1; allowed 0 and more"),
        (lambda: footprint_radius_ft(3, 180), "beam_deg: got 180; allowed above 0 and below 180"),
        (lambda: circle_of_secchi(0, RIG), "secchi_ft: got 0; allowed 0.2 to 60 ft"),
        (lambda: centre_gap_ft(-1, 16, circle_right_ft=16), "apart_ft: got -1; allowed 0 to 100 ft"),
        (lambda: battery_hours(100, 5, RIG, battery="gel"), "battery: got 'gel'; allowed lead, lithium"),  # type: ignore[arg-type]
        (lambda: hours_for_change(4, 6, change_ft=5), "change_ft: got 5; allowed 0 to the range, 4 ft"),
        (lambda: hours_for_change(0, 6, change_ft=0), "range_ft: got 0; allowed above 0 ft"),
        (lambda: twelfths_ft(float("inf")), "range_ft: got inf; allowed above 0 ft"),
        (lambda: setup_m(1, 0, depth_m=1, coefficient=1, density_ratio=1), "got 1, 0, 1; allowed above 0"),
        (lambda: waves_shallow(0, 10, depth_m=1), "got 0, 10, 1; allowed above 0"),
        (lambda: legs_between([]), "table: got 0 rows; allowed 2 and more"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(work: Callable[[], object], says: str) -> None:
    with pytest.raises(ValueError, match="got") as told:
        work()
    assert says in str(told.value)
    assert "\n" not in str(told.value)


@given(quantity=st.sampled_from(sorted(LIMITS)), value=st.floats())
def test_every_quantity_takes_its_range_and_nothing_else(quantity: str, value: float) -> None:
    limit = LIMITS[quantity]
    if limit.low <= value <= limit.high:
        assert checked(quantity, value) == value
        return
    with pytest.raises(ValueError, match=f"{quantity}: got .*; allowed {limit.low:g} to {limit.high:g}"):
        checked(quantity, value)


@given(value=st.floats(0, 100_000))
def test_counts_are_whole(value: float) -> None:
    if value == int(value):
        assert whole("count", value) == value
        return
    with pytest.raises(ValueError, match="allowed whole numbers"):
        whole("count", value)


@pytest.mark.parametrize("value", [0, -1, float("nan"), float("inf")])
def test_what_must_be_above_zero_is(value: float) -> None:
    with pytest.raises(ValueError, match="allowed above 0"):
        positive("x", value)


def test_a_depth_that_has_no_clip_height_either_way_leaves_no_doubt() -> None:
    found = clip_about(Range(4, 3, 5), RIG)
    assert found == (None, None, None, False, "")
    assert clip_about(Range(11, 5, 25), RIG).matters


def test_a_rope_longer_than_the_water_leaves_the_lamp_at_the_surface() -> None:
    assert hang(6, 9, RIG) == pytest.approx((0, 0, 3.5))


def test_a_clock_without_a_zone_counts_as_it_is_read() -> None:
    assert later(datetime(2027, 3, 14, 1), 2) == datetime(2027, 3, 14, 3)


def test_between_two_strengths_without_a_slack_the_flow_goes_straight() -> None:
    events = (FlowEvent(EVENING, 1.0, "flood"), FlowEvent(EVENING + timedelta(hours=2), 0.4, "flood"))
    assert flow_at_kn(events, EVENING + timedelta(hours=1)) == pytest.approx(0.7)


def test_a_time_outside_all_legs_is_told_their_span() -> None:
    rows = [Extreme(EVENING, 2, "high"), Extreme(EVENING + timedelta(hours=6), 0, "low")]
    with pytest.raises(ValueError, match="allowed 2027-02-11T19:00:00"):
        leg_at(legs_between(rows), EVENING - timedelta(hours=1))


def test_without_wind_there_are_no_waves() -> None:
    assert waves(0, 3, depth_ft=5) == (0, 0)


@given(depth_ft=st.floats(0.5, 60), secchi_ft=st.floats(0.2, 60), lux=st.floats(0, 1))
def test_no_depth_has_more_moonlight_than_the_surface(depth_ft: float, secchi_ft: float, lux: float) -> None:
    assert 0 <= background_lux(lux, depth_ft, RIG, secchi_ft=secchi_ft) <= lux
    assert clip_height_ft(depth_ft, RIG) is None or depth_ft >= RIG.depth_min_ft
