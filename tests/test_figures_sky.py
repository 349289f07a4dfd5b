"""Sun and moon, against tables of the U.S. Naval Observatory and a second, independent library."""

import math
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import astronomy
import pytest
from figures_rig import RIG
from hypothesis import given
from hypothesis import strategies as st

from coach.figures.clock import hours_between
from coach.figures.sky import (
    SkyDay,
    moon_at,
    moon_lit,
    moon_phases,
    moonlight_lux,
    sky_day,
    sun_altitude_deg,
)

DATA = Path(__file__).parent / "data"
EST = timezone(timedelta(hours=-5))
ATLANTA, BOSTON = (33 + 46 / 60, -(84 + 25 / 60)), (42 + 19 / 60, -(71 + 5 / 60))
MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def day_of(place: tuple[float, float], on: date) -> SkyDay:
    return sky_day(*place, on=on, zone=EST, dark_sun_deg=RIG.dark_sun_deg)


def table(name: str, year: int) -> Iterator[tuple[date, str, str]]:
    """Day, rise and set ("hhmm" or blank) of every day of a yearly table of the observatory."""
    for line in (DATA / name).read_text().splitlines():
        if not line[:2].isdigit():
            continue
        for month in range(12):
            first = 4 + 11 * month
            rise, set_ = line[first : first + 4].strip(), line[first + 5 : first + 9].strip()
            try:
                on = date(year, month + 1, int(line[:2]))
            except ValueError:
                continue
            yield on, rise, set_


def minutes_off(found: datetime | None, printed: str, on: date) -> float:
    """How far a time is from a printed one [min]; both or neither must be there."""
    assert (found is None) == (printed == ""), (on, found, printed)
    if found is None:
        return 0.0
    wanted = datetime(on.year, on.month, on.day, int(printed[:2]), int(printed[2:]), tzinfo=EST)
    return abs((found - wanted).total_seconds()) / 60


def test_sunrise_and_sunset_are_those_of_the_naval_observatory_all_year() -> None:
    # U.S. Naval Observatory, Atlanta 2007 (READ); tolerance 1 min
    rows = list(table("riset_sun.txt", 2007))
    assert len(rows) == 365
    for on, rise, set_ in rows:
        found = day_of(ATLANTA, on)
        assert minutes_off(found.sunrise, rise, on) <= 1
        assert minutes_off(found.sunset, set_, on) <= 1


def test_moonrise_and_moonset_are_those_of_the_naval_observatory_all_year() -> None:
    # U.S. Naval Observatory, Boston 1984 (READ), blanks included; tolerance 1 min
    rows = list(table("riset_moon.txt", 1984))
    assert len(rows) == 366
    for on, rise, set_ in rows:
        found = day_of(BOSTON, on)
        assert minutes_off(found.moonrise, rise, on) <= 1
        assert minutes_off(found.moonset, set_, on) <= 1


@pytest.mark.parametrize(
    ("on", "rise", "set_"),
    [
        (date(2007, 1, 1), "0743", "1740"),
        (date(2007, 6, 21), "0527", "1951"),
        (date(2007, 12, 21), "0738", "1733"),
    ],
)
def test_the_tables_are_read_right(on: date, rise: str, set_: str) -> None:
    # three rows as a person reads them off the table (READ)
    assert (on, rise, set_) in list(table("riset_sun.txt", 2007))


def test_a_night_without_moonset_says_none() -> None:
    # Boston, 11 January 1984: rise 1138, no set (READ)
    assert day_of(BOSTON, date(1984, 1, 11)).moonset is None


def test_the_phases_of_a_year_are_those_of_the_naval_observatory() -> None:
    # U.S. Naval Observatory, 1980, Universal Time (READ); tolerance 1 min
    found = moon_phases(datetime(1980, 1, 1, tzinfo=UTC), until=datetime(1980, 12, 31, 23, tzinfo=UTC))
    printed = sorted(printed_phases())
    assert len(printed) == 50
    for (_, at), (kind, wanted) in zip(found, ((kind, at) for at, kind in printed), strict=True):
        assert abs((at - wanted).total_seconds()) <= 60, kind
    assert [kind for kind, _ in found] == [kind for _, kind in printed]


def printed_phases() -> Iterator[tuple[datetime, str]]:
    kinds = ("new", "first quarter", "full", "last quarter")
    for line in (DATA / "moon_phases.txt").read_text().splitlines():
        for column, kind in enumerate(kinds):
            words = line[4 + 16 * column : 16 + 16 * column].split()
            if len(words) == 4 and words[0] in MONTHS:
                month = MONTHS.index(words[0]) + 1
                yield datetime(1980, month, *map(int, words[1:]), tzinfo=UTC), kind


def test_the_lit_part_of_the_moon_is_the_one_of_the_textbook() -> None:
    # Meeus, Astronomical Algorithms, example 48.a, 12 April 1992 0h: .68 (READ in a library's
    # documentation), .6786 (MEMORY); tolerance .001
    assert moon_lit(datetime(1992, 4, 12, tzinfo=UTC)) == pytest.approx(0.6786, abs=0.001)


def test_a_new_moon_of_the_textbook_comes_at_its_minute() -> None:
    # Meeus, example 49.a, 18 February 1977 3:37:42 dynamical time (READ there), 48 s ahead of UT (MEMORY)
    found = moon_phases(datetime(1977, 2, 17, tzinfo=UTC), until=datetime(1977, 2, 20, tzinfo=UTC))
    wanted = datetime(1977, 2, 18, 3, 36, 54, tzinfo=UTC)
    assert found[0][0] == "new"
    assert abs((found[0][1] - wanted).total_seconds()) < 60


PONCE = (29.08, -80.93)
NEW_YORK = ZoneInfo("America/New_York")


def searched(body: astronomy.Body, direction: astronomy.Direction, start: datetime) -> datetime:
    here = astronomy.Observer(*PONCE, 0)
    utc = start.astimezone(UTC)
    begin = astronomy.Time.Make(utc.year, utc.month, utc.day, utc.hour, utc.minute, utc.second)
    found = astronomy.SearchRiseSet(body, here, direction, begin, 2)
    assert found is not None
    return found.Utc().replace(tzinfo=UTC)


@pytest.mark.parametrize("on", [date(2027, month, 10) for month in range(1, 13)])
def test_a_second_library_sees_the_same_sun_and_moon(on: date) -> None:
    # astronomy-engine, independent of ephem, in this test; tolerance 1 min, .002 of the disc
    found = sky_day(*PONCE, on=on, zone=NEW_YORK, dark_sun_deg=RIG.dark_sun_deg)
    start = datetime(on.year, on.month, on.day, tzinfo=NEW_YORK)
    rising, setting = astronomy.Direction.Rise, astronomy.Direction.Set
    pairs = [
        (found.sunrise, searched(astronomy.Body.Sun, rising, start)),
        (found.sunset, searched(astronomy.Body.Sun, setting, start)),
        (found.moonrise, searched(astronomy.Body.Moon, rising, start)),
        (found.moonset, searched(astronomy.Body.Moon, setting, start)),
    ]
    for ours, theirs in pairs:
        if ours is None:  # not on this day: the other library's comes after it
            assert theirs >= datetime(on.year, on.month, on.day, tzinfo=NEW_YORK) + timedelta(hours=23)
        else:
            assert abs((ours - theirs).total_seconds()) <= 60
    end = astronomy.Time.Parse((start + timedelta(days=1)).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))
    theirs_lit = astronomy.Illumination(astronomy.Body.Moon, end).phase_fraction
    assert found.moon_lit == pytest.approx(theirs_lit, abs=0.002)


def test_a_second_library_sees_the_moon_at_the_same_height() -> None:
    # astronomy-engine, in this test; tolerance .05 degrees
    at = datetime(2027, 2, 18, 3, 0, tzinfo=UTC)
    time = astronomy.Time.Make(2027, 2, 18, 3, 0, 0)
    here = astronomy.Observer(*PONCE, 0)
    seen = astronomy.Equator(astronomy.Body.Moon, time, here, True, True)
    theirs = astronomy.Horizon(time, here, seen.ra, seen.dec, astronomy.Refraction.Airless)
    ours = moon_at(*PONCE, at=at)
    assert (ours.altitude_deg, ours.azimuth_deg) == pytest.approx((theirs.altitude, theirs.azimuth), abs=0.05)


def test_at_dusk_the_sun_is_as_low_as_dark_means() -> None:
    found = sky_day(*PONCE, on=date(2027, 2, 11), zone=NEW_YORK, dark_sun_deg=RIG.dark_sun_deg)
    for dark in (found.dusk, found.dawn):
        assert dark is not None
        assert sun_altitude_deg(*PONCE, at=dark) == pytest.approx(RIG.dark_sun_deg, abs=0.02)
    assert found.dusk is not None
    assert found.sunset is not None
    assert found.dusk > found.sunset


def test_events_are_told_on_the_clock_of_the_place_across_its_change() -> None:
    # U.S. rule (MEMORY): from 14 March 2027 on, Eastern time is 4 h behind UTC
    before, after = (
        sky_day(*PONCE, on=date(2027, 3, day), zone=NEW_YORK, dark_sun_deg=RIG.dark_sun_deg).sunset
        for day in (13, 14)
    )
    assert before is not None
    assert after is not None
    assert (before.utcoffset(), after.utcoffset()) == (timedelta(hours=-5), timedelta(hours=-4))
    assert abs(hours_between(before, after) - 24) < 0.05


def test_where_the_sun_does_not_set_there_is_no_sunset() -> None:
    assert sky_day(75, 20, on=date(2027, 6, 21), zone=UTC, dark_sun_deg=-12).sunset is None


def test_a_full_moon_overhead_gives_a_quarter_of_a_lux() -> None:
    # Kyba et al. 2017 (MEMORY): .05 to .3 lx at full moon; a quarter moon gives about a tenth of a full
    # one (Krisciunas & Schaefer 1991, MEMORY)
    assert 0.05 < moonlight_lux(1, 60) < 0.3
    assert moonlight_lux(0.5, 60) == pytest.approx(moonlight_lux(1, 60) / 10, rel=0.3)
    assert moonlight_lux(1, -1) == 0


@given(lit=st.floats(0, 1), altitude_deg=st.floats(1, 89))
def test_a_fuller_and_a_higher_moon_never_gives_less_light(lit: float, altitude_deg: float) -> None:
    light = moonlight_lux(lit, altitude_deg)
    assert light <= moonlight_lux(min(1, lit + 0.05), altitude_deg) * (1 + 1e-12)
    assert light <= moonlight_lux(lit, altitude_deg + 1) * (1 + 1e-12)
    assert math.isfinite(light)


@pytest.mark.parametrize(("lat", "lon"), [(91, 0), (0, 181), (float("nan"), 0)])
def test_a_place_that_is_none_is_refused(lat: float, lon: float) -> None:
    with pytest.raises(ValueError, match=r"lat_deg: got|lon_deg: got"):
        sky_day(lat, lon, on=date(2027, 1, 1), zone=UTC, dark_sun_deg=-12)
