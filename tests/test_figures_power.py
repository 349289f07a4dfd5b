"""Battery, lead, wire and fuse."""

import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st

from coach.figures.power import (
    GAUGES,
    TABLE_FT,
    at_lamp,
    battery_hours,
    charge_share,
    circular_mils,
    fuse_a,
    gauge_diameter_mm,
    hours_at_current,
    hours_from_volts,
    is_dim,
    lamp_current_a,
    lead_drop_v,
    lead_ohm,
    wire_gauge,
)


def test_a_driver_lamp_draws_more_as_the_volts_sag() -> None:
    # P/V: 30 W is 2.50 A at 12.0 V and 2.61 A at 11.5 V (arithmetic, two digits)
    assert lamp_current_a(30, 12) == pytest.approx(2.50, abs=0.005)
    assert lamp_current_a(30, 11.5) == pytest.approx(2.61, abs=0.005)


def test_peukerts_rule_in_its_rated_form_gives_the_known_example() -> None:
    # 100 Ah at 20 h, exponent 1.2, 10 A: 8.7 h and 87 Ah (MEMORY); 8.7055 h computed outside this program
    hours = hours_at_current(100, 10, rated_h=20, exponent=1.2)
    assert hours == pytest.approx(8.7055, abs=1e-4)
    assert 10 * hours == pytest.approx(87.06, abs=0.01)


def test_the_form_that_takes_capacity_at_one_ampere_is_not_the_one_used() -> None:
    # C/I^k gives 14.5 h for 100 Ah, 5 A, 1.2 (published example, READ); a 20-hour rating means 20 h
    assert hours_at_current(100, 5, rated_h=20, exponent=1.2) == pytest.approx(20)
    assert pytest.approx(14.5, abs=0.05) == 100 / 5**1.2


def test_slow_discharge_gives_the_rated_amp_hours_and_no_more() -> None:
    assert hours_at_current(100, 2.5, rated_h=20, exponent=1.2) == 40


def test_thirty_watts_on_a_hundred_amp_hours() -> None:
    # common practice: half of lead-acid, 80 % of LiFePO4 to use: 20.0 h and 32.0 h at 2.5 A
    assert battery_hours(100, 2.5, RIG, battery="lead") == pytest.approx(20)
    assert battery_hours(100, 2.5, RIG, battery="lithium") == pytest.approx(32)


@given(capacity=st.floats(10, 500), current=st.floats(0.1, 60), more=st.floats(1, 3))
def test_more_current_never_lasts_longer(capacity: float, current: float, more: float) -> None:
    for kind in ("lead", "lithium"):
        few, many = (battery_hours(capacity, amps, RIG, battery=kind) for amps in (current * more, current))
        assert few <= many + 1e-9
        assert many * current <= capacity * (1 + 1e-12)


@pytest.mark.parametrize(
    ("volts", "share"), [(13, 1), (12.7, 1), (12.4, 0.75), (12.1, 0.5), (11.6, 0), (11, 0)]
)
def test_rested_volts_of_lead_acid_tell_the_charge(volts: float, share: float) -> None:
    # makers' tables (MEMORY): 12.7 V full, 12.1 V half, 11.6 V flat; straight lines between
    assert charge_share(volts, RIG, battery="lead") == pytest.approx(share)


def test_a_half_full_lead_acid_battery_is_used_up() -> None:
    # common practice: half of it is to be used
    assert hours_from_volts(12.1, 100, 5, RIG, battery="lead") == 0
    full = battery_hours(100, 5, RIG, battery="lead")
    assert hours_from_volts(12.7, 100, 5, RIG, battery="lead") == pytest.approx(full)


@pytest.mark.parametrize(
    ("awg", "ohm_per_1000_ft"),
    [(18, 6.385), (16, 4.016), (14, 2.525), (12, 1.588), (10, 0.999), (8, 0.628), (6, 0.395)],
)
def test_wire_has_the_resistance_of_the_standard_tables(awg: int, ohm_per_1000_ft: float) -> None:
    # copper wire tables at 20 °C (MEMORY), tolerance 0.1 %; the lead has two wires
    assert lead_ohm(50, awg, RIG) * 10 == pytest.approx(ohm_per_1000_ft, rel=1.3e-3)


@pytest.mark.parametrize(
    ("awg", "mils"),
    [(18, 1624), (16, 2583), (14, 4107), (12, 6530), (10, 10383), (8, 16510), (6, 26251)],
)
def test_wire_has_the_area_of_the_standard_tables(awg: int, mils: float) -> None:
    # American wire gauge, circular mils (MEMORY), to the unit
    assert circular_mils(awg) == pytest.approx(mils, abs=1)


@pytest.mark.parametrize("awg", [0, 7, 15, 20])
def test_a_gauge_that_boats_do_not_use_is_refused(awg: int) -> None:
    with pytest.raises(ValueError, match="awg: got"):
        gauge_diameter_mm(awg)


def test_five_amps_through_twenty_feet_of_14_gauge_lose_half_a_volt() -> None:
    # by resistance .505 V, by the boat wire formula .523 V (computed outside this program, .001)
    assert lead_drop_v(5, 20, RIG, awg=14) == pytest.approx(0.505, abs=0.001)
    assert 10.75 * 5 * 40 / circular_mils(14) == pytest.approx(0.523, abs=0.001)


@pytest.mark.parametrize(
    ("round_trip_ft", "awg"), list(zip(TABLE_FT, (18, 14, 12, 12, 10, 10, 8, 8, 6, 6, 6, 4, 4), strict=True))
)
def test_ten_amps_need_the_wire_of_the_published_table(round_trip_ft: float, awg: int) -> None:
    # 3 % table for 12 V boats, row 10 A (READ)
    assert wire_gauge(10, round_trip_ft, volts=12, drop_share=0.03) == awg


def test_a_length_between_two_columns_takes_the_longer_one() -> None:
    # worked example of the table's publisher (READ): 10 A over 11 + 10 ft, 10 AWG at 3 %, 16 AWG at 10 %
    assert wire_gauge(10, 21, volts=12, drop_share=0.03) == 10
    assert wire_gauge(10, 21, volts=12, drop_share=0.10) == 16


def test_where_no_wire_is_thick_enough_none_is_named() -> None:
    assert wire_gauge(100, 100, volts=12, drop_share=0.03) is None


@given(
    power=st.floats(5, 100), volts=st.floats(11, 14.6), length=st.floats(1, 20), awg=st.sampled_from(GAUGES)
)
def test_power_at_the_lamp_and_loss_in_the_lead_add_up(
    power: float, volts: float, length: float, awg: int
) -> None:
    found = at_lamp(power, volts, RIG, one_way_ft=length, awg=awg)
    assert found.volts * found.current_a == pytest.approx(power)
    assert found.volts + found.drop_v == pytest.approx(volts)
    assert found.drop_v == pytest.approx(lead_drop_v(found.current_a, length, RIG, awg=awg), rel=1e-6)


def test_a_lead_that_cannot_carry_the_lamp_is_refused() -> None:
    with pytest.raises(ValueError, match="allowed a thicker one"):
        at_lamp(400, 12, RIG, one_way_ft=50, awg=18)


def test_a_thin_long_lead_makes_a_lamp_dim_before_the_battery_is_flat() -> None:
    # trade: voltage drop along the lead dims a lamp before the battery is flat
    assert is_dim(at_lamp(30, 12.1, RIG, one_way_ft=20, awg=18).volts, RIG)
    assert not is_dim(at_lamp(30, 12.1, RIG, one_way_ft=20, awg=10).volts, RIG)


def test_the_fuse_leaves_a_fifth_of_itself_free() -> None:
    # usual practice (MEMORY): 80 % of a fuse at most; 5 A needs 6.25, the next size is 7.5 A
    assert fuse_a(5, RIG) == 7.5
    assert fuse_a(12, RIG) == 15
    assert fuse_a(60, RIG) is None
