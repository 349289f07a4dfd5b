"""The shipped stations: what is in them, how one is found, their currents; flow between slack and most."""

import json
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.figures.clock import hours_between
from coach.figures.flow import FlowEvent, current_events, flow_at_kn, flow_from_slack_kn
from coach.figures.stations import (
    LEAST_TURN_FT,
    current_stations,
    distance_nmi,
    find,
    nearest,
    tide_extremes,
    tide_level_ft,
    tide_stations,
)
from coach.figures.tables import read_table
from coach.figures.tide import Extreme, legs_between, main_turns

DATA = Path(__file__).parent / "data"
NEW_YORK = ZoneInfo("America/New_York")
NIGHT = datetime(2027, 2, 11, 18, tzinfo=NEW_YORK)


def test_the_shipped_constants_are_those_that_noaa_published() -> None:
    # NOAA CO-OPS, Fernandina Beach 8720030 (READ); tolerance half of the last printed digit
    published = json.loads((DATA / "noaa_8720030.json").read_text())
    station = tide_stations()["8720030"]
    shipped = {name: (amplitude, lag) for name, amplitude, lag in station.constants}
    for name, amplitude, lag, _ in published["constituents"]:
        if amplitude > 0:
            assert shipped[name] == (pytest.approx(amplitude, abs=5e-4), pytest.approx(lag % 360, abs=0.05))
    datums = published["datums_m"]
    assert station.mean_m == pytest.approx(datums["MSL"] - datums["MLLW"], abs=0.001)


def test_every_station_of_the_south_is_there_and_complete() -> None:
    # counted in the data package outside this program: 1,229 tide stations from NC to TX
    tides, currents = tide_stations(), current_stations()
    assert len(tides) == 1229
    assert all(station.constants or station.reference in tides for station in tides.values())
    assert all(station.constants or station.reference in currents for station in currents.values())
    assert {station.spot.state for station in tides.values()} == {
        *("NC", "SC", "GA", "FL", "AL", "MS", "LA", "TX")
    }


def test_every_station_gives_a_month_of_high_and_low_in_turn() -> None:
    tides = tide_stations()
    for station in list(tides.values())[::40]:
        found = tide_extremes(station, NIGHT, until=NIGHT + timedelta(days=30), stations=tides)
        legs = legs_between(main_turns(found, least_ft=LEAST_TURN_FT))
        assert all(leg.is_falling != after.is_falling for leg, after in pairwise(legs))
        assert 20 <= len(legs) <= 130


@pytest.mark.parametrize(
    ("text", "id_"),
    [
        ("8721138", "8721138"),
        ("ponce inlet", "8721138"),
        ("Ponce de Leon Inlet, FL", "8721147"),
        ("fernandina beach", "8720030"),
    ],
)
def test_a_station_is_found_by_number_or_by_its_words(text: str, id_: str) -> None:
    assert find(text, tide_stations()).spot.id == id_


@pytest.mark.parametrize("text", ["ponce", "atlantis", "", "9447130"])
def test_a_name_that_fits_none_or_many_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="station: got"):
        find(text, tide_stations())


def test_the_nearest_station_is_the_one_in_the_inlet() -> None:
    station, nmi = nearest(29.064, -80.915, tide_stations().values())
    assert station.spot.id == "8721147"
    assert nmi < 1


def test_a_minute_of_latitude_is_a_nautical_mile() -> None:
    # definition of the nautical mile; sphere of 6371 km, tolerance .5 %
    assert distance_nmi(29, -81, to_lat_deg=30, to_lon_deg=-81) == pytest.approx(60, rel=0.005)


def test_times_of_a_station_are_on_its_own_clock_across_the_change() -> None:
    # U.S. rule (MEMORY): clocks go forward on 14 March 2027; tides pay no heed
    tides = tide_stations()
    start = datetime(2027, 3, 13, 12, tzinfo=NEW_YORK)
    rows = tide_extremes(tides["8721147"], start, until=start + timedelta(days=2), stations=tides)
    assert {row.at.utcoffset() for row in rows} == {timedelta(hours=-5), timedelta(hours=-4)}
    gaps = [hours_between(one.at, two.at) for one, two in pairwise(rows)]
    assert all(5 < gap < 8 for gap in gaps)


def test_at_an_extreme_the_level_is_that_of_the_extreme() -> None:
    tides = tide_stations()
    for id_ in ("8721147", "8721138"):
        for row in tide_extremes(tides[id_], NIGHT, until=NIGHT + timedelta(days=1), stations=tides):
            assert tide_level_ft(tides[id_], row.at, stations=tides) == pytest.approx(row.ft, abs=0.001)


def test_times_without_a_zone_or_out_of_order_are_refused() -> None:
    tides = tide_stations()
    naive = datetime(2027, 2, 11)
    for start, until in (
        (naive, naive),
        (NIGHT, NIGHT - timedelta(hours=1)),
        (NIGHT, NIGHT + timedelta(days=401)),
    ):
        with pytest.raises(ValueError, match="allowed"):
            tide_extremes(tides["8721147"], start, until=until, stations=tides)
        with pytest.raises(ValueError, match="allowed"):
            current_events(current_stations()["MIH0901"], start, until=until, stations=current_stations())


def test_slack_and_strongest_flow_of_a_current_take_turns() -> None:
    currents = current_stations()
    events = current_events(currents["MIH0901"], NIGHT, until=NIGHT + timedelta(days=3), stations=currents)
    kinds = [event.kind for event in events]
    cycle = ["slack before flood", "flood", "slack before ebb", "ebb"]
    first = cycle.index(kinds[0])
    assert kinds == [cycle[(first + i) % 4] for i in range(len(kinds))]
    assert all((event.kn > 0) == (event.kind == "flood") for event in events if event.kn)


def test_a_subordinate_current_follows_its_reference() -> None:
    # Fort Clinch: reference FEB1102, ebb ×.7 and 18 min later (public-domain data of NOAA)
    currents = current_stations()
    span = {"until": NIGHT + timedelta(days=1), "stations": currents}
    mine = [e for e in current_events(currents["ACT7886"], NIGHT, **span) if e.kind == "ebb"]
    theirs = [e for e in current_events(currents["FEB1102"], NIGHT, **span) if e.kind == "ebb"]
    assert mine
    for ebb in mine:
        match = min(theirs, key=lambda event: abs(event.at - ebb.at))
        assert ebb.at - match.at == timedelta(minutes=18)
        assert ebb.kn == pytest.approx(0.7 * match.kn)


def test_flow_between_slack_and_most_is_that_of_the_navy_manual() -> None:
    # Navy Quartermaster manual, NOAA table 3 (READ): slack 09:31, most 11:59 .66 kn (1.1 × .6), 11:00 is
    # factor .8, .528 kn; tolerance .02 in the factor, .05 kn; the sine itself .8103 (outside this program)
    assert pytest.approx(0.66) == 1.1 * 0.6
    found = flow_from_slack_kn(89 / 60, 148 / 60, max_kn=0.66)
    assert found == pytest.approx(0.528, abs=0.05)
    assert found / 0.66 == pytest.approx(0.8, abs=0.02)
    assert found / 0.66 == pytest.approx(0.8103, abs=1e-4)


def test_flow_by_the_sine_keeps_to_the_fifty_ninety_rule() -> None:
    # rule of thumb, nauticalcharts.com (READ): 0, 50, 90, 100 % at whole hours; the sine 0, 50, 86.6, 100
    shares = [flow_from_slack_kn(hour, 3, max_kn=1) for hour in range(4)]
    assert shares == pytest.approx([0, 0.5, 0.9, 1], abs=0.04)


def test_flow_at_a_time_lies_between_its_events() -> None:
    events = (
        FlowEvent(NIGHT, 0.0, "slack before ebb"),
        FlowEvent(NIGHT + timedelta(hours=3), -1.2, "ebb"),
        FlowEvent(NIGHT + timedelta(hours=6), 0.0, "slack before flood"),
    )
    at = [flow_at_kn(events, NIGHT + timedelta(hours=hour)) for hour in (0, 1, 3, 5, 6)]
    assert at == pytest.approx([0, -0.6, -1.2, -0.6, 0])
    with pytest.raises(ValueError, match="allowed between two events"):
        flow_at_kn(events, NIGHT - timedelta(hours=1))


@pytest.mark.parametrize(("hours", "whole"), [(-1, 3), (4, 3), (1, 0), (float("nan"), 3)])
def test_an_impossible_time_from_slack_is_refused(hours: float, whole: float) -> None:
    with pytest.raises(ValueError, match="got"):
        flow_from_slack_kn(hours, whole, max_kn=1)


TABLE = """Date Time, Prediction, Type
2027-02-11 19:04,2.4,H
2027-02-12 01:14,0.1,L
"""


@pytest.mark.parametrize(
    "text",
    [
        TABLE,
        "2027-02-11T19:04 2.4\n2027-02-12T01:14 0.1\n",
        "2027/02/11\tThu\t07:04 PM\t2.4\t73\tH\n2027/02/12\tFri\t01:14 AM\t0.1\t3\tL\n",
        "2027-02-12 00:04Z 2.4 High\n2027-02-12 06:14:00+00:00, 0.1, Low",
    ],
)
def test_tables_are_read_as_people_have_them(text: str) -> None:
    high, low = read_table(text, zone=NEW_YORK)
    assert high == (datetime(2027, 2, 11, 19, 4, tzinfo=NEW_YORK), 2.4, "high")
    assert low == (datetime(2027, 2, 12, 1, 14, tzinfo=NEW_YORK), 0.1, "low")


def test_levels_in_metres_become_feet() -> None:
    # international foot (MEMORY)
    assert read_table(TABLE, zone=NEW_YORK, unit="m")[0].ft == pytest.approx(2.4 / 0.3048)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "got 0 rows"),
        ("2027-02-11 19:04 2.4 H", "got 1 rows"),
        ("2027-02-11 19:04 0.4 H\n2027-02-12 01:14 2.1 L", "allowed the low below the high"),
        ("2027-02-12 01:14 2.4 H\n2027-02-11 19:04 0.1 L", "allowed rows in order of time"),
        ("2027-02-11 19:04 2.4 H\n2027-02-12 01:14 2.1 H", "allowed high and low in turn"),
        ("2027-02-11 19:04 2.4 m H\n2027-02-12 01:14 0.1 m L", "line 1: got a level in m; allowed ft"),
        ("2027-02-11 19:04 high H", "line 1: got '2027-02-11 19:04 high H'; allowed date"),
        ("2027-02-30 19:04 2.4 H", "line 1: got 2027-02-30 19:04; allowed a date and time that exist"),
        ("2027-02-11 19:04 PM 2.4 H", "line 1: got 19:04 PM; allowed 1:00 to 12:59"),
        ("2027-02-11 19:04 240 H", "line 1: level: got 240.0; allowed -10 to 60 ft"),
        ("2027-03-14 02:30 2.4 H", "line 1: got 2027-03-14 02:30, which the clock of America/New_York skips"),
    ],
)
def test_a_table_that_cannot_be_is_refused_with_its_line(text: str, says: str) -> None:
    with pytest.raises(ValueError, match="table") as told:
        read_table(text, zone=NEW_YORK)
    assert says in str(told.value)
    assert "\n" not in str(told.value)


def test_wiggles_are_taken_out_and_turns_are_kept() -> None:
    rows = [
        Extreme(NIGHT + timedelta(hours=hour), ft, kind)
        for hour, ft, kind in (
            (0, 2.0, "high"),
            (4, 0.50, "low"),
            (5, 0.53, "high"),
            (6, 0.4, "low"),
            (12, 2.1, "high"),
        )
    ]
    assert [row.ft for row in main_turns(rows, least_ft=0.1)] == [2.0, 0.4, 2.1]


@given(levels=st.lists(st.floats(0, 5), min_size=2, max_size=12))
def test_what_is_left_of_a_table_always_turns_by_more_than_the_least(levels: list[float]) -> None:
    rows = [
        Extreme(datetime(2027, 1, 1, hour, tzinfo=UTC), ft, "high" if hour % 2 else "low")
        for hour, ft in enumerate(levels)
    ]
    kept = main_turns(rows, least_ft=0.1)
    assert all(abs(one.ft - two.ft) >= 0.1 for one, two in pairwise(kept))
    assert all(one.kind != two.kind for one, two in pairwise(kept))
