"""Lean and hold of a lamp, anchoring, clearing the water, wind on a lagoon."""

import dataclasses
import math

import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st

from coach.figures.anchor import clearing, low_water, rode_ft, scope_of
from coach.figures.lean import drag_n, lamp_lean, lean_deg, weight_hold, weight_in_water_n
from coach.figures.units import feet, knots, metres_per_second
from coach.figures.wind import (
    FORCE_TOP_KN,
    beaufort,
    drift_kn,
    setup_ft,
    setup_m,
    waves,
    waves_adjusted,
    waves_shallow,
)

# A lamp of 5 by 25 cm on a line of 4 mm: the size of the sums computed outside this program.
SLIM = dataclasses.replace(RIG, lamp_width_in=5 / 2.54, lamp_length_in=25 / 2.54, line_width_in=0.4 / 2.54)
THREE_METRES_FT = feet(3)


def test_drag_and_lean_of_a_slim_lamp_at_half_a_metre_a_second() -> None:
    # ½ρC_dAv², C_d 1.2 (handbooks, MEMORY): 1.9219 N, 21.03° with 5 N of lift; computed outside, .5 %
    drag = drag_n(1.2, 0.05 * 0.25, 0.5, density_kg_m3=1025)
    assert drag == pytest.approx(1.9219, rel=0.005)
    assert lean_deg(drag, 5) == pytest.approx(21.03, abs=0.01)
    # 2 m of tether lose .133 m of height
    assert 2 * (1 - math.cos(math.radians(lean_deg(drag, 5)))) == pytest.approx(0.133, abs=0.001)


@pytest.mark.parametrize(("flow_kn", "lean"), [(0.5, 8.6), (1, 31.1), (1.5, 53.6), (2, 67.5)])
def test_half_of_the_lines_drag_leans_the_lamp_too(flow_kn: float, lean: float) -> None:
    # lamp as above on 3 m of 4 mm line, computed outside this program; tolerance .1°
    assert lamp_lean(flow_kn, THREE_METRES_FT, SLIM).lean_deg == pytest.approx(lean, abs=0.1)


@pytest.mark.parametrize(("material", "newton"), [("lead", 28.32), ("steel", 27.07), ("concrete", 17.84)])
def test_seven_pounds_weigh_less_in_sea_water(material: str, newton: float) -> None:
    # Archimedes, densities of handbooks (MEMORY); computed outside this program, .5 %
    assert weight_in_water_n(7, RIG, material=material) == pytest.approx(newton, rel=0.005)


def test_seven_pounds_of_lead_hold_at_one_knot_and_slide_at_two() -> None:
    # friction 11.66 N; pull 4.60 N at 1 kn, 18.39 N at 2 kn; slides near 1.6 kn; computed outside, .5 %
    one, two = (weight_hold(flow, THREE_METRES_FT, SLIM, material="lead") for flow in (1, 2))
    assert one.holds_n == pytest.approx(11.66, rel=0.005)
    assert (one.pull_n, two.pull_n) == pytest.approx((4.60, 18.39), rel=0.005)
    assert one.slides_at_kn == pytest.approx(1.6, abs=0.05)


@given(flow_kn=st.floats(0, 8), more_kn=st.floats(0, 4), clip_ft=st.floats(0.5, 15))
def test_more_flow_never_leans_a_lamp_less(flow_kn: float, more_kn: float, clip_ft: float) -> None:
    calm, strong = lamp_lean(flow_kn, clip_ft, RIG), lamp_lean(min(8, flow_kn + more_kn), clip_ft, RIG)
    assert 0 <= calm.lean_deg <= strong.lean_deg + 1e-12
    assert strong.lean_deg < 90
    assert strong.height_lost_ft <= clip_ft


@pytest.mark.parametrize("flow_kn", [-1, 9, float("nan")])
def test_an_impossible_flow_is_refused(flow_kn: float) -> None:
    with pytest.raises(ValueError, match=r"flow_kn: got .*; allowed 0 to 8 kn"):
        lamp_lean(flow_kn, 3, RIG)


def test_a_weight_of_another_stuff_is_refused() -> None:
    with pytest.raises(ValueError, match="material: got 'wood'; allowed lead, steel, concrete"):
        weight_in_water_n(7, RIG, material="wood")


@pytest.mark.parametrize(
    ("depth_ft", "bow_ft", "rise_ft", "scope", "rode"),
    [
        (10, 0, 0, 7, 70),  # boating safety page (READ)
        (10, 5, 0, 5, 75),  # boating magazine (READ)
        (6, 3, 2, 7, 77),  # arithmetic
    ],
)
def test_rode_is_scope_times_depth_bow_and_rise(
    depth_ft: float, bow_ft: float, rise_ft: float, scope: float, rode: float
) -> None:
    assert rode_ft(depth_ft, bow_ft, rise_ft=rise_ft, scope=scope) == rode


def test_thirty_feet_of_rode_in_six_with_a_high_bow_are_three_to_one() -> None:
    # marine insurer's page (READ): 30 ft in 6 ft with 4 ft of bow is 3:1
    assert scope_of(30, 6, bow_height_ft=4) == 3


def test_clearing_counts_every_lamp_net_and_anchor() -> None:
    # assumptions of the rules folder: (2·1 + 1·2 + 1·4 + 1)·1.5 = 13.5 min, buoyed (2 + 2 + .5 + 1)·1.5
    assert clearing(RIG, lamps=2, nets=1, anchors=1, is_buoyed=False).minutes == pytest.approx(13.5)
    buoyed = clearing(RIG, lamps=2, nets=1, anchors=1, is_buoyed=True, traffic_min=10)
    assert buoyed == pytest.approx((8.25, 1.75))


@given(lamps=st.integers(0, 11), nets=st.integers(0, 11), anchors=st.integers(0, 11), buoyed=st.booleans())
def test_more_gear_never_clears_faster(lamps: int, nets: int, anchors: int, buoyed: bool) -> None:
    gear = {"lamps": lamps, "nets": nets, "anchors": anchors}
    least = clearing(RIG, **gear, is_buoyed=buoyed).minutes
    for name, count in gear.items():
        assert clearing(RIG, **{**gear, name: count + 1}, is_buoyed=buoyed).minutes > least


def test_half_a_lamp_is_refused() -> None:
    with pytest.raises(ValueError, match=r"lamps: got 2\.5; allowed whole numbers 0 to 12"):
        clearing(RIG, lamps=2.5, nets=0, anchors=1, is_buoyed=False)


def test_low_water_leaves_the_depth_now_less_the_fall() -> None:
    assert low_water(5, RIG, fall_to_low_ft=3, draft_ft=1.5) == pytest.approx((2, 0.5, False))
    assert low_water(6, RIG, fall_to_low_ft=3, draft_ft=1.5).is_enough
    assert low_water(2, RIG, fall_to_low_ft=3, draft_ft=1).depth_ft == -1


def test_ten_metres_a_second_tilt_a_shallow_lagoon_by_eight_centimetres() -> None:
    # engineering page (READ): c 2e-3, densities 1.21 and 1030, 5 km, 1.5 m; .0798 m computed outside
    found = setup_m(10, 5000, depth_m=1.5, coefficient=2e-3, density_ratio=1.21 / 1030)
    assert found == pytest.approx(0.0798, abs=1e-4)


def test_the_tilt_is_that_of_the_zuider_zee_to_a_fifth() -> None:
    # Zuider Zee formula U²F/(1400·D) in mph, miles, feet (MEMORY): 50, 10, 10 gives 1.786 ft
    wind_kn, fetch_nmi = 50 * 1609.344 / 1852, 10 * 1609.344 / 1852
    zuider_zee_ft = 50**2 * 10 / (1400 * 10)
    assert zuider_zee_ft == pytest.approx(1.786, abs=0.001)
    assert setup_ft(wind_kn, fetch_nmi, RIG, depth_ft=10) == pytest.approx(zuider_zee_ft, rel=0.2)


def test_the_manuals_wave_example_comes_out() -> None:
    # Shore Protection Manual 1984 (MEMORY): F 24.4 km, adjusted wind 22.4 m/s, 10.7 m deep: T 4.4 s,
    # H remembered as 1.4 to 1.5 m
    height, period = waves_adjusted(22.4, 24_400, depth_m=10.7)
    assert period == pytest.approx(4.4, abs=0.05)
    assert 1.4 < height < 1.55


@pytest.mark.parametrize(
    ("wind_m_s", "height_m", "period_s"), [(5, 0.130, 1.35), (7.5, 0.203, 1.61), (10, 0.274, 1.81)]
)
def test_waves_of_a_lagoon(wind_m_s: float, height_m: float, period_s: float) -> None:
    # the same formula, 3 km of fetch, 1.5 m deep, computed outside this program; .001 m, .01 s
    found = waves_shallow(wind_m_s, 3000, depth_m=1.5)
    assert found == (pytest.approx(height_m, abs=0.001), pytest.approx(period_s, abs=0.01))


def test_waves_agree_with_the_coastal_engineering_manual_on_height() -> None:
    # CEM II-2-36 (MEMORY): gH/u*² = .0413·(gX/u*²)^½, C_D = .001·(1.1 + .035·U); 10 m/s, 3 km: .2750 m
    drag = 0.001 * (1.1 + 0.035 * 10)
    friction = math.sqrt(drag) * 10
    manual = 0.0413 * math.sqrt(9.81 * 3000 / friction**2) * friction**2 / 9.81
    assert manual == pytest.approx(0.2750, abs=0.0005)
    assert waves_shallow(10, 3000, depth_m=1.5)[0] == pytest.approx(manual, rel=0.02)


@given(wind_kn=st.floats(0.5, 80), fetch_nmi=st.floats(0.1, 30), depth_ft=st.floats(1, 60))
def test_more_wind_raises_level_and_waves(wind_kn: float, fetch_nmi: float, depth_ft: float) -> None:
    half = wind_kn / 2
    assert setup_ft(half, fetch_nmi, RIG, depth_ft=depth_ft) <= setup_ft(
        wind_kn, fetch_nmi, RIG, depth_ft=depth_ft
    )
    small, big = (waves(wind, fetch_nmi, depth_ft=depth_ft) for wind in (half, wind_kn))
    assert small.height_ft <= big.height_ft
    assert small.period_s <= big.period_s + 1e-12


def test_the_surface_drifts_at_three_parts_in_a_hundred_of_the_wind() -> None:
    # glossary of the American Meteorological Society (READ): 3 %; 15 kn gives .45 kn
    assert drift_kn(15, RIG) == pytest.approx(0.45)


def test_forces_are_those_of_beauforts_scale() -> None:
    # WMO limits (MEMORY): 1–3, 4–6, 7–10, 11–16, 17–21, 22–27, 28–33, 34–40 kn
    assert [beaufort(kn) for kn in (0, 1, 3, 4, 6, 7, 10, 11, 16, 17, 21, 22, 27, 28, 33, 34, 40)] == (
        [0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8]
    )
    # v = .836·B^1.5 m/s (MEMORY) falls inside the limits of each force from 1 to 11
    for force in range(1, 12):
        speed = round(knots(0.836 * force**1.5))
        assert FORCE_TOP_KN[force - 1] < speed <= FORCE_TOP_KN[force]


@given(kn=st.floats(0, 1000))
def test_knots_come_back_from_metres_a_second(kn: float) -> None:
    assert knots(metres_per_second(kn)) == pytest.approx(kn)
