"""What counts on deck become in the log, and where a trip was."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nights import DAY_MIN, START, at, good_night, later, one, row

from coach.counting import Entry
from coach.trips.looks import Look, chosen, on_deck, timed
from coach.trips.trip import Place, trips_of

# --- looks ---------------------------------------------------------------------------------------------


def test_bow_and_stern_answered_one_after_the_other_are_one_look() -> None:
    trip = one([row(20, {"crew.bow_count": 5.0}), row(21, {"crew.stern_count": 4.0})])
    assert [(look.bow, look.stern) for look in trip.looks] == [(5, 4)]
    apart = one([row(20, {"crew.bow_count": 5.0}), row(60, {"crew.stern_count": 4.0})])
    assert [(look.bow, look.stern) for look in apart.looks] == [(5, None), (None, 4)]


def test_minutes_run_from_the_look_before_and_the_first_from_the_setting_of_the_lamps() -> None:
    # set 15 minutes before the first word; counted at 20, 50 and 80
    assert [look.minutes for look in one(good_night()).looks] == pytest.approx([35, 30, 30])
    unknown = one(good_night()[1:])
    assert unknown.looks[0].minutes is None
    assert unknown.looks[0].per_10min is None


def test_looks_too_far_apart_or_all_at_once_have_no_minutes() -> None:
    looks = (Look(at(0), None, 1, 1), Look(at(0.5), None, 1, 1), Look(at(400), None, 1, 1))
    assert [look.minutes for look in timed(looks, set_at=None)] == [None, None, None]


def test_ten_minute_answers_count_only_where_bow_and_stern_give_no_rate() -> None:
    ten = Look(at(10), 10, whole=30)
    crew = Look(at(20), 15, 4, 5)
    assert chosen((ten, crew)) == (crew,)
    assert chosen((ten, Look(at(20), None, 4, 5))) == (ten,)
    assert chosen((crew,)) == (crew,)


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(st.floats(0, 300), st.sampled_from(["bow", "stern", "deep", ""]), st.integers(1, 9)),
        max_size=60,
    )
)
def test_counts_on_deck_lose_nothing_and_jumps_and_buckets_are_no_pieces(
    taps: list[tuple[float, str, int]],
) -> None:
    entries = [
        Entry(at(minute).timestamp(), side, "", float(count), "piece") for minute, side, count in sorted(taps)
    ]  # type: ignore[arg-type]
    entries.append(Entry(at(301).timestamp(), "bow", "", 3.0, "bucket"))
    looks = on_deck(entries, like=START, stages=())
    assert sum(look.total for look in looks) == sum(count for _, side, count in taps if side != "deep")
    assert all(look.minutes is None or look.minutes >= 1 for look in looks)
    assert all(look.at.tzinfo == START.tzinfo for look in looks)
    known = math.fsum(look.minutes or 0 for look in looks)
    pieces = [minute for minute, side, _ in taps if side != "deep"]
    assert known <= (max(pieces) - min(pieces) if pieces else 0) + 1e-6


def test_what_is_written_down_at_once_is_one_look_and_the_first_count_has_no_minutes() -> None:
    entries = [
        Entry(at(minute).timestamp(), side, "", float(count), "piece")
        for minute, side, count in ((0, "bow", 9), (0, "stern", 8), (15, "bow", 24), (15, "stern", 22))
    ]  # type: ignore[arg-type]
    first, second = on_deck(entries, like=START, stages=())
    assert (first.bow, first.stern, first.minutes) == (9, 8, None)
    assert (second.bow, second.stern, second.minutes) == (24, 22, 15)


def test_counts_without_a_side_are_in_the_total_and_no_share_is_made_of_the_rest() -> None:
    entries = [
        Entry(at(minute).timestamp(), side, "", 5.0, "piece")
        for minute, side in ((0, "bow"), (15, "stern"), (30, ""), (45, "bow"))
    ]  # type: ignore[arg-type]
    looks = on_deck(entries, like=START, stages=())
    assert sum(look.total for look in chosen(looks)) == 20
    assert all(look.bow is None for look in looks)


def test_counts_on_deck_belong_to_the_trip_of_their_hour() -> None:
    rows = [*good_night(), *later(good_night(), DAY_MIN)]
    entries = [Entry(at(minute).timestamp(), "bow", "", 2.0, "piece") for minute in (0, 10, 20)]
    first, second = trips_of(rows, entries=entries)
    assert sum(look.total for look in first.looks) == 6
    assert second.looks == later_looks(one(good_night()).looks)


def later_looks(looks: tuple[Look, ...]) -> tuple[Look, ...]:
    return tuple(replace(each, at=each.at + timedelta(minutes=DAY_MIN)) for each in looks)


# --- places --------------------------------------------------------------------------------------------


def test_a_place_is_that_of_the_trip_it_was_told_for_and_not_of_later_ones() -> None:
    rows = [*good_night(), *later(good_night(), DAY_MIN), *later(good_night(), 2 * DAY_MIN)]
    told = [(at(-60), Place("Gull Point")), (at(2 * DAY_MIN + 30), Place("", 28.9, -80.8))]
    trips = trips_of(rows, places=told)
    assert [trip.place for trip in trips] == [Place("Gull Point"), Place(), Place("", 28.9, -80.8)]
