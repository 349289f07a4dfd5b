"""The figures of a consultation beyond the lamps' heights: tables, battery, lead, low water, counts."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from coach import rulebook
from coach.model import Rulebook, Scalar
from coach.sums.row import row_until
from coach.worked_out import STOOD_IN, Figures

HELD_OUT = json.loads((Path(__file__).parent / "data" / "noaa_heldout.json").read_text())
HIGH = datetime(2027, 2, 11, 23, 0, tzinfo=UTC)
INLET: Mapping[str, Scalar] = {"place.lat_deg": 29.08, "place.lon_deg": -80.93}
FULL_MOON = datetime(2027, 2, 21, 4, 0, tzinfo=UTC)
"""Some hours after the full moon of 20 February 2027, 23:24 UTC (almanacs, MEMORY): 23:00 in Florida."""


@cache
def book() -> Rulebook:
    return rulebook.load()


@cache
def figures() -> Figures:
    return Figures(book().facts, book().numbers)


def worked(facts: Mapping[str, Scalar], now: datetime = HIGH) -> dict[str, Scalar]:
    return figures().work_out(facts, now=now)


def table(
    high: datetime = HIGH, hours: float = 6.2, high_ft: float = 4, low_ft: float = 0
) -> dict[str, Scalar]:
    return {
        "tide.high_at": high.isoformat(),
        "tide.high_ft": float(high_ft),
        "tide.low_at": (high + timedelta(hours=hours)).isoformat(),
        "tide.low_ft": float(low_ft),
    }


def at(value: Scalar) -> datetime:
    return datetime.fromisoformat(str(value))


# --- tables ----------------------------------------------------------------------------------------


def test_at_a_pier_the_next_high_water_is_the_one_that_noaa_published() -> None:
    # NOAA CO-OPS, Lake Worth Pier 8722670: high on 2026-09-28 01:11 GMT, 33.315 ft above station datum,
    # of which MLLW is 9.141 m (READ in public text: held out); tolerance 1 min, .03 ft
    pier = HELD_OUT["8722670"]
    when, ft, _ = pier["published_gmt_stnd_ft"][0]
    high = datetime.fromisoformat(when).replace(tzinfo=UTC)
    found = worked({"place.lat_deg": 26.61, "place.lon_deg": -80.03}, high - timedelta(hours=2))
    assert found["tide.state"] == "rising"
    assert abs((at(found["tide.high_at"]) - high).total_seconds()) <= 60
    assert found["tide.high_ft"] == pytest.approx(float(ft) - pier["datums_m"]["MLLW"] / 0.3048, abs=0.03)


@pytest.mark.parametrize(("hours", "fall_ft"), [(1.426, 0.5), (2.067, 1), (3.1, 2), (4.133, 3)])
def test_the_fall_since_the_lamps_were_set_follows_from_a_table(hours: float, fall_ft: float) -> None:
    # 4 ft in 6.2 h by the cosine, set at high water: hours computed outside
    found = worked({**table(), "lamps.minutes_since_set": 60 * hours}, HIGH + timedelta(hours=hours))
    assert found["tide.fall_since_set_ft"] == pytest.approx(fall_ft, abs=0.002)
    assert found["tide.fall_to_low_ft"] == pytest.approx(4 - fall_ft, abs=0.002)


def test_what_was_told_goes_before_what_a_table_says() -> None:
    now = HIGH + timedelta(hours=2)
    told = {"tide.state": "slack", "tide.fall_since_set_ft": 0.3}
    found = worked({**table(), **told, "lamps.minutes_since_set": 120.0}, now)
    assert {name: found[name] for name in told} == told
    assert STOOD_IN not in found


def test_what_stands_in_is_noted_as_such() -> None:
    found = worked({**table(), "lamps.minutes_since_set": 60.0}, HIGH + timedelta(hours=2))
    assert str(found[STOOD_IN]).split() == ["tide.fall_since_set_ft", "tide.state"]


def test_two_times_alone_tell_whether_it_falls() -> None:
    times = {name: value for name, value in table().items() if name.endswith("_at")}
    assert worked(times, HIGH + timedelta(hours=1))["tide.state"] == "falling"
    assert "tide.state" not in worked(times, HIGH - timedelta(hours=1))


def test_a_table_that_no_longer_holds_is_let_go_for_the_stations() -> None:
    now = HIGH + timedelta(hours=8)
    assert "tide.state" not in worked(table(), now)
    assert worked({**table(), **INLET}, now)["tide.state"] == worked(INLET, now)["tide.state"]


def test_a_lagoon_lags_its_station_by_the_hours_that_were_told() -> None:
    now = datetime(2027, 2, 11, 20, 0, tzinfo=UTC)
    early, late = worked(INLET, now), worked({**INLET, "tide.lag_h": 1.0}, now)
    assert at(late["tide.low_at"]) - at(early["tide.low_at"]) == timedelta(hours=1)


def test_where_only_the_wind_moves_the_water_no_table_is_taken() -> None:
    assert "tide.leg" not in worked({**INLET, "water.kind": "wind_driven"})


def test_far_from_every_station_nothing_is_known_of_the_tide() -> None:
    found = worked({"place.lat_deg": 50.0, "place.lon_deg": 0.0})
    assert not {"tide.leg", "tide.state", "flow.table_kn"} & set(found)


# --- the sky ---------------------------------------------------------------------------------------


def test_a_full_moon_has_to_be_looked_at_and_one_that_is_down_does_not() -> None:
    up = worked(INLET, FULL_MOON)
    assert up["sky.moon_by_table"] == "bright"
    assert "sky.moon" not in up  # cloud may hide it
    down = worked(INLET, datetime(2027, 2, 7, 4, 0, tzinfo=UTC))  # new moon on 6 February (MEMORY)
    assert down["sky.moon"] == "dark"


def test_a_moon_past_its_full_goes_down_after_the_dark_and_a_half_one_within_it() -> None:
    # a full moon stands opposite to the sun and sets as it rises; a first quarter sets about midnight
    assert "sky.moonset_at" not in worked(INLET, FULL_MOON)
    quarter = worked(INLET, datetime(2027, 2, 14, 1, 0, tzinfo=UTC))  # 14 February 2027, 07:58 UTC (MEMORY)
    midnight = datetime(2027, 2, 14, 5, 0, tzinfo=UTC)
    assert abs(at(quarter["sky.moonset_at"]) - midnight) < timedelta(hours=2)


# --- power -----------------------------------------------------------------------------------------


def test_four_lamps_run_on_half_of_a_hundred_amp_hours() -> None:
    # 100 Ah, 10 A, exponent 1.2: 8.7055 h to empty (MEMORY); half of a lead-acid battery (common practice)
    facts = {"power.battery_ah": 100.0, "power.battery_kind": "lead", "lamps.total": 4.0, "lamps.watts": 30.0}
    found = worked(facts)
    assert found["power.draw_a"] == 10
    assert found["power.hours_left"] == pytest.approx(8.7055 / 2, abs=0.001)
    assert worked({**facts, "lamps.minutes_since_set": 60.0})["power.hours_left"] == pytest.approx(
        8.7055 / 2 - 1, abs=0.001
    )
    assert worked({**facts, "stay.minutes_more": 240.0})["power.spare_h"] == pytest.approx(0.353, abs=0.001)


def test_a_thin_lead_loses_what_the_wire_tables_say() -> None:
    # gauge 18 has 6.385 ohm in 1000 ft (wire tables, MEMORY): V(12 - V) = 30 W x .5108 ohm over 2 x 40 ft
    facts = {"power.battery_v": 12.0, "power.lead_ft": 40.0, "power.lead_awg": "18", "lamps.watts": 30.0}
    volts = worked(facts)["lamps.volts_at_lamp"]
    assert volts == pytest.approx((12 + (144 - 4 * 30 * 6.385 * 0.08) ** 0.5) / 2, abs=0.01)
    assert worked({**facts, "lamps.volts_at_lamp": 11.9})["lamps.volts_at_lamp"] == 11.9


def test_a_lead_that_cannot_carry_the_lamp_gives_no_volts() -> None:
    facts = {"power.battery_v": 6.0, "power.lead_ft": 50.0, "power.lead_awg": "18", "lamps.watts": 100.0}
    assert "lamps.volts_at_lamp" not in worked(facts)


# --- counts ----------------------------------------------------------------------------------------


def test_a_break_of_the_counts_is_found_where_it_is() -> None:
    now = HIGH
    found = worked(row_until([30, 28, 31, 29, 30, 32, 29, 5, 6, 5], now), now)
    assert found["catch.has_dropped"] is True
    assert at(found["catch.broke_at"]) == now - timedelta(minutes=20)
    assert found["catch.broke_from_per_10min"] == pytest.approx(209 / 7)
    assert found["catch.broke_to_per_10min"] == pytest.approx(16 / 3)


def test_few_counts_and_steady_counts_say_nothing() -> None:
    assert row_until([30, 5, 5], HIGH) == {}
    found = worked(row_until([30, 28, 31, 29, 30, 32, 29, 27, 31, 30], HIGH))
    assert found["catch.has_dropped"] is False
    assert "catch.broke_at" not in found


# --- water under her -------------------------------------------------------------------------------


def test_depth_and_water_under_her_at_low_water() -> None:
    # trade arithmetic: 6 ft now less 3 of the 4 still to fall (a third of the cosine's time gone: 3 ft up)
    now = HIGH + timedelta(hours=6.2 / 3)
    found = worked({**table(), "water.depth_ft": 6.0, "boat.draft_ft": 1.5}, now)
    assert found["boat.depth_at_low_ft"] == pytest.approx(3, abs=0.001)
    assert found["boat.under_at_low_ft"] == pytest.approx(1.5, abs=0.001)


def test_a_figure_beyond_its_calculators_limits_is_absent_and_never_guessed() -> None:
    found = worked(
        {"lamps.apart_ft": 9.0, "water.secchi_ft": 0.2, "water.flow_kn": 8.0, "boat.rode_ft": 600.0}
    )
    assert "anchor.scope" not in found
