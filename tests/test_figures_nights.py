"""The coming nights, their calendar, and figures from values that are only about right."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st

from coach.figures.about import about, clip_about, clip_doubt_words, gap_about
from coach.figures.clock import hours_between, later
from coach.figures.flow import current_events, flow_at_kn
from coach.figures.ics import calendar
from coach.figures.lamp import clip_height_ft
from coach.figures.light import Range, circle_of_word
from coach.figures.nights import (
    LEAST_WINDOW_H,
    Night,
    Where,
    depth_at_low_ft,
    ebb_of_currents,
    ebb_of_legs,
    nights,
    species_in_season,
)
from coach.figures.sky import moon_at, moon_word, sun_altitude_deg
from coach.figures.stations import current_stations, tide_extremes, tide_stations
from coach.figures.tide import leg_at, legs_between, rate_ft_per_h

ZONE = ZoneInfo("America/New_York")
PONCE = Where(29.08, -80.93, ZONE)
FIRST = date(2027, 2, 11)
NOON = datetime(2027, 2, 11, 12, tzinfo=ZONE)
EXTREMES = tide_extremes(
    tide_stations()["8721147"],
    NOON - timedelta(days=1),
    until=NOON + timedelta(days=9),
    stations=tide_stations(),
)
LEGS = legs_between(EXTREMES)


def ponce_nights(count: int = 7) -> list[Night]:
    windows = list(ebb_of_legs(LEGS, RIG))
    return nights(PONCE, FIRST, RIG, count=count, windows=windows, extremes=EXTREMES)


def is_dark_ebb(at: datetime) -> bool:
    """The plain meaning: sun low enough, level falling fast enough at this minute."""
    fall = -rate_ft_per_h(leg_at(LEGS, at), at)
    is_dark = sun_altitude_deg(PONCE.lat_deg, PONCE.lon_deg, at=at) <= RIG.dark_sun_deg
    return is_dark and fall * RIG.flow_kn_per_ft_h >= RIG.flow_enough_kn


def test_hours_of_dark_ebb_are_those_counted_minute_by_minute() -> None:
    # the definition, counted over each night with the sun's height and the speed of the level;
    # tolerance 5 min (minutes are whole, ebbs of under ten minutes are left out)
    for night in ponce_nights(5):
        noon = datetime(night.on.year, night.on.month, night.on.day, 12, tzinfo=ZONE)
        counted = sum(is_dark_ebb(later(noon, minute / 60)) for minute in range(0, 1440, 2)) / 30
        assert night.ebb_h == pytest.approx(counted, abs=max(5 / 60, LEAST_WINDOW_H))


def test_nights_come_with_most_dark_ebb_first() -> None:
    found = ponce_nights()
    hours = [round(night.ebb_h, 2) for night in found]
    assert hours == sorted(hours, reverse=True)
    assert {night.on for night in found} == {FIRST + timedelta(days=i) for i in range(7)}


def test_every_span_lies_in_the_dark() -> None:
    for night in ponce_nights():
        assert night.dark_from is not None
        assert night.dark_until is not None
        for window in night.windows:
            assert night.dark_from <= window.start < window.end <= night.dark_until
            assert window.strongest_kn > RIG.flow_enough_kn


def test_the_lowest_water_of_a_night_is_the_lowest_of_the_table() -> None:
    for night in ponce_nights():
        noon = datetime(night.on.year, night.on.month, night.on.day, 12, tzinfo=ZONE)
        levels = [row.ft for row in EXTREMES if 0 <= hours_between(noon, row.at) < 24]
        assert night.low_ft == min(levels)
        assert depth_at_low_ft(night, sounded_ft=7, level_ft=1) == pytest.approx(6 + min(levels))


def test_hours_of_bright_moon_never_exceed_the_hours_of_ebb() -> None:
    found = ponce_nights()
    assert all(0 <= night.bright_moon_h <= night.ebb_h + 1e-9 for night in found)
    # 17 February 2027, three days before full: the moon stands high over the whole evening ebb
    full = next(night for night in found if night.on == date(2027, 2, 17))
    at = full.windows[0].start
    assert moon_word(moon_at(29.08, -80.93, at=at), RIG) == "bright"
    assert full.bright_moon_h == pytest.approx(full.ebb_h)


def test_a_late_slack_shifts_the_ebb_and_keeps_its_length() -> None:
    early, late = (list(ebb_of_legs(LEGS, RIG, slack_after_high_h=hours)) for hours in (0, 1.5))
    for one, two in zip(early, late, strict=True):
        assert hours_between(one.start, two.start) == pytest.approx(1.5)
        assert two.hours == pytest.approx(one.hours)


def test_ebb_of_a_current_station_has_enough_flow_at_its_ends_and_more_between() -> None:
    currents = current_stations()
    events = current_events(currents["MIH0901"], NOON, until=NOON + timedelta(days=3), stations=currents)
    windows = list(ebb_of_currents(events, RIG))
    assert len(windows) >= 5
    for window in windows:
        ends = [flow_at_kn(events, at) for at in (window.start, window.end)]
        assert ends == pytest.approx([-RIG.flow_enough_kn] * 2, abs=0.001)
        assert flow_at_kn(events, later(window.start, window.hours / 2)) < -RIG.flow_enough_kn


def test_water_that_never_runs_gives_a_night_without_ebb() -> None:
    still = replace(RIG, flow_enough_kn=9.0)
    assert list(ebb_of_legs(LEGS, still)) == []
    night = nights(PONCE, FIRST, RIG, count=1, windows=[], extremes=EXTREMES)[0]
    assert (night.windows, night.ebb_h, night.strongest_kn) == ((), 0.0, 0.0)


@given(enough=st.floats(0.05, 1.5), more=st.floats(0, 1))
def test_asking_for_more_flow_never_gives_more_hours(enough: float, more: float) -> None:
    few, many = (
        sum(window.hours for window in ebb_of_legs(LEGS, replace(RIG, flow_enough_kn=kn)))
        for kn in (enough + more, enough)
    )
    assert few <= many + 1e-9


def test_seasons_run_over_the_turn_of_the_year() -> None:
    # months by and large (MEMORY of fishery reports): pink November to May, brown April to August,
    # white September to December
    assert [species_in_season(month, RIG) for month in (1, 4, 7, 10, 12)] == [
        ("pink",),
        ("brown", "pink"),
        ("brown",),
        ("white",),
        ("pink", "white"),
    ]


@pytest.mark.parametrize("count", [0, 61, 2.5])
def test_too_few_or_too_many_nights_are_refused(count: float) -> None:
    with pytest.raises(ValueError, match="count: got"):
        nights(PONCE, FIRST, RIG, count=count, windows=[], extremes=EXTREMES)  # type: ignore[arg-type]


MADE = datetime(2027, 2, 1, 12, tzinfo=UTC)


def test_the_calendar_is_read_by_a_calendar_library() -> None:
    # icalendar, independent of our writer, in this test
    found = ponce_nights()
    text = calendar(found, place="Ponce de Leon Inlet, FL; south side", made_at=MADE)
    read = icalendar.Calendar.from_ical(text)
    events = read.walk("VEVENT")
    windows = [window for night in sorted(found, key=lambda night: night.on) for window in night.windows]
    assert len(events) == len(windows) > 3
    for event, window in zip(events, windows, strict=True):
        assert abs(event["DTSTART"].dt - window.start) < timedelta(seconds=1)
        assert abs(event["DTEND"].dt - window.end) < timedelta(seconds=1)
        assert event["DTSTAMP"].dt == MADE
        assert str(event["LOCATION"]) == "Ponce de Leon Inlet, FL; south side"
        assert "Dark ebb" in str(event["SUMMARY"])
        assert "In season by and large: pink." in str(event["DESCRIPTION"])
    assert len({str(event["UID"]) for event in events}) == len(events)


def test_calendar_lines_are_short_and_end_as_the_rfc_asks() -> None:
    # RFC 5545, section 3.1 (MEMORY): lines of at most 75 octets, ended by CR LF
    text = calendar(ponce_nights(), place="Füße–Landing " * 12, made_at=MADE)
    assert text.endswith("\r\n")
    lines = text.encode().split(b"\r\n")
    assert all(len(line) <= 75 and b"\n" not in line for line in lines)
    read = icalendar.Calendar.from_ical(text)
    assert str(read.walk("VEVENT")[0]["LOCATION"]) == "Füße–Landing " * 12


def test_the_same_night_keeps_its_id_when_it_is_written_again() -> None:
    one, two = (calendar(ponce_nights(), place="x", made_at=MADE + timedelta(days=i)) for i in (0, 1))
    ids = [[line for line in text.splitlines() if line.startswith("UID")] for text in (one, two)]
    assert ids[0] == ids[1]


def test_a_calendar_needs_a_time_with_a_zone() -> None:
    with pytest.raises(ValueError, match="made_at: got"):
        calendar([], place="x", made_at=datetime(2027, 2, 1))


def test_a_depth_of_about_eleven_feet_leaves_two_feet_of_clip_open() -> None:
    # trade arithmetic: 11 ft ± a tenth is 9.9 to 12.1, clip 1.9 to 4.1
    depth = about(11, share=RIG.depth_about_share)
    found = clip_about(depth, RIG)
    assert (found.value, found.low, found.high) == pytest.approx((3, 1.9, 4.1))
    assert found.matters
    assert "Sound the depth" in found.settle
    assert clip_doubt_words(depth, found, RIG) == "In 9.9 to 12.1 ft it is 1.9 to 4.1 ft."


def test_a_doubt_that_changes_nothing_asks_for_nothing() -> None:
    # in 7 to 8 ft the lowest clip height holds anyway (trade limits)
    depth = Range(7.5, 7, 8)
    found = clip_about(depth, RIG)
    assert (found.matters, found.settle, clip_doubt_words(depth, found, RIG)) == (False, "", "")


def test_a_depth_that_may_be_too_shallow_says_so() -> None:
    depth = Range(6.2, 5.7, 6.7)
    found = clip_about(depth, RIG)
    assert (found.low, found.high) == (None, 1)
    assert "really 5.7 ft" in clip_doubt_words(depth, found, RIG)


@given(depth_ft=st.floats(6, 23), share=st.floats(0.001, 0.3))
def test_the_clip_height_lies_within_its_doubt(depth_ft: float, share: float) -> None:
    found = clip_about(about(depth_ft, share=share), RIG)
    inside = clip_height_ft(depth_ft, RIG)
    assert found.value == inside
    assert inside is not None
    assert found.low is None or found.low <= inside
    assert found.high is None or inside <= found.high


def test_circles_in_stained_water_may_gap_or_overlap() -> None:
    found = gap_about(14, circle_of_word("stained", RIG))
    assert found.low is not None
    assert found.high is not None
    assert found.low < 0 < found.high
    assert found.matters
    assert not gap_about(40, circle_of_word("stained", RIG)).matters


def test_a_low_moon_is_no_bright_moon() -> None:
    # assumptions of the rules folder: bright from .6 lit and 15 degrees high; dark below the horizon
    moon = moon_at(29.08, -80.93, at=datetime(2027, 2, 19, 3, tzinfo=UTC))
    words = [moon_word(moon._replace(altitude_deg=height), RIG) for height in (-1, 5, 30)]
    assert words == ["dark", "half", "bright"]
