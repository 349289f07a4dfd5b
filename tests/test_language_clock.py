"""Clock times in words, taken relative to a clock that is given.

Source: common practice of speech (British "half nine" is half past nine, as any usage guide has it,
MEMORY); of the moments a time may mean the nearest to now is taken.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from language_bench import NOW, heard, reading
from num2words import num2words

from coach.language.clock import clock_at, moment
from coach.language.tokens import read_words


def told(text: str, now: datetime = NOW) -> datetime | None:
    found = clock_at(read_words(text, {}), 0)
    return None if found is None else moment(found, now)


@pytest.mark.parametrize(
    ("text", "day_and_time"),
    [
        ("half nine", "11 21:30"), ("half past nine", "11 21:30"), ("quarter to eleven", "11 22:45"),
        ("ten to ten", "11 21:50"),
        ("nine o'clock", "11 21:00"), ("9pm", "11 21:00"), ("9 p.m.", "11 21:00"), ("21:30", "11 21:30"),
        ("22.50", "11 22:50"),
        ("2310", "11 23:10"), ("2200 hours", "11 22:00"), ("eleven thirty", "11 23:30"),
        ("midnight", "12 00:00"),
        ("half past midnight", "12 00:30"), ("twenty past one", "12 01:20"), ("01:05", "12 01:05"),
        ("1 in the morning", "12 01:00"),
        ("quarter past six", "11 18:15"), ("16:50", "11 16:50"), ("an hour ago", "11 20:00"),
        ("in two hours", "11 23:00"),
        ("nine oh five", "11 21:05"), ("five to twelve", "11 23:55"),
        ("twelve thirty in the night", "12 00:30"), ("noon", "11 12:00"),
    ],
)  # fmt: skip
def test_times_as_people_say_them_at_nine_in_the_evening(text: str, day_and_time: str) -> None:
    found = told(text)
    assert found is not None
    assert found.strftime("%d %H:%M") == day_and_time
    assert found.tzinfo is NOW.tzinfo


def test_the_same_words_mean_the_morning_when_it_is_morning() -> None:
    morning = NOW.replace(hour=8)
    assert told("half nine", morning) == morning.replace(hour=9, minute=30)


@pytest.mark.parametrize("text", ["9 ft", "25:70", "99", "the tide", "", "half a foot"])
def test_what_is_no_time_is_none(text: str) -> None:
    assert told(text) is None


PLAIN_HOURS = st.one_of(st.integers(0, 9), st.integers(13, 23))
"""Written with two digits these hours leave no doubt; 10:00 may be ten at night."""


@given(
    st.datetimes(datetime(2000, 1, 1), datetime(2040, 1, 1), timezones=st.just(UTC)),
    PLAIN_HOURS,
    st.integers(0, 59),
)
def test_a_time_by_the_24_hour_clock_is_read_back_at_the_nearest_day(
    now: datetime, hour: int, minute: int
) -> None:
    found = told(f"{hour:02d}:{minute:02d}", now)
    assert found is not None
    assert (found.hour, found.minute) == (hour, minute)
    assert abs(found - now) <= timedelta(hours=12)


@given(st.integers(1, 12), st.integers(1, 29))
def test_minutes_past_and_to_are_read_back(hour: int, minutes: int) -> None:
    past = told(f"{num2words(minutes)} past {num2words(hour)}")
    to = told(f"{num2words(minutes)} to {num2words(hour)}")
    assert past is not None
    assert to is not None
    assert (past.hour * 60 + past.minute) % 720 == (hour * 60 + minutes) % 720
    assert (to.hour * 60 + to.minute) % 720 == (hour * 60 - minutes) % 720


def test_since_a_time_is_a_duration_for_a_fact_in_minutes() -> None:
    assert heard("since half past eight", "lamps.minutes_since_set") == {"lamps.minutes_since_set": 30.0}
    assert heard("put them in at 20:15", "lamps.minutes_since_set") == {"lamps.minutes_since_set": 45.0}
    assert heard("since ten to nine", "deep_lamp.minutes") == {"deep_lamp.minutes": 10.0}


def test_a_chosen_half_of_the_day_is_said_back() -> None:
    assert reading("half nine", "tide.high_at").read_back == ('I took "half nine" as 21:30.',)
    assert reading("21:30", "tide.high_at").read_back == ()


def test_an_hour_ago_is_an_hour_ago_across_a_change_of_the_clocks() -> None:
    zone = ZoneInfo("America/New_York")
    after = datetime(2027, 3, 14, 3, 30, tzinfo=zone)
    found = told("an hour ago", after)
    assert found is not None
    assert found.astimezone(UTC) == after.astimezone(UTC) - timedelta(hours=1)
