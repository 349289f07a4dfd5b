"""What the log makes of a night's turns, and of many nights.

Expected numbers: catch per lamp-hour and its exact range are checked against scipy's chi-square form of
Garwood's interval, shares against scipy's exact binomial interval, the dispersion against Pearson's formula
by numpy. How small a number is "few" is this program's own promise.
"""

from __future__ import annotations

import json
import math
import random
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nights import DEEPER, START, at, good_night, helped, row, undo
from scipy.stats import binomtest, chi2

from coach import rulebook
from coach.apparatus import apparatus
from coach.commands import is_undo
from coach.counting import Entry
from coach.dialogue import step
from coach.exchange import write
from coach.model import Message, Session
from coach.plain import PlainEvaluator
from coach.trips.catches import (
    catches,
    dispersion,
    grouped,
    moon_word_of,
    overall,
    place_word,
    set_word,
    tide_word,
)
from coach.trips.changes import changes
from coach.trips.kept import Kept
from coach.trips.looks import Look, chosen, on_deck, timed
from coach.trips.trip import OVER_AFTER_H, Place, Trip, trips_of
from coach.trips.words import by_words, rate_line, summary, title

BOOK = rulebook.load()
DAY_MIN = 24 * 60


def one(rows: list[Any], **more: Any) -> Trip:
    (trip,) = trips_of(rows, **more)
    return trip


def later(rows: list[Any], minutes: float) -> list[Any]:
    moved = timedelta(minutes=minutes)
    return [replace(each, at=(datetime.fromisoformat(each.at) + moved).isoformat()) for each in rows]


# --- a trip ------------------------------------------------------------------------------------------


def test_a_night_becomes_a_trip_with_its_set_ups_counts_and_advice() -> None:
    trip = one(good_night())
    assert (trip.start_at, trip.end_at) == (at(0), at(80))
    assert [(look.at, look.bow, look.stern) for look in trip.looks] == [
        (at(20), 5, 4),
        (at(50), 25, 22),
        (at(80), 30, 28),
    ]
    (advice,) = trip.advice
    assert (advice.causes, advice.action, advice.helped) == (("lamp-too-shallow",), DEEPER, True)
    first, second = trip.set_ups
    assert first.facts["lamps.clip_left_ft"] == 6.5
    assert first.facts["set.intended"] == "two-lamp"  # heard a minute later: it fills in, it changes nothing
    assert set(second.changed) == {"lamps.clip_left_ft", "lamps.clip_right_ft"}
    assert second.at == at(26)


def test_a_long_pause_parts_two_trips_and_a_shorter_one_does_not() -> None:
    pause = OVER_AFTER_H * 60
    assert len(trips_of([row(0, {"lamps.count": 2.0}), row(pause - 1, {"lamps.count": 3.0})])) == 1
    two = trips_of([row(0, {"lamps.count": 2.0}), row(pause, {"lamps.count": 3.0})])
    assert [trip.number for trip in two] == [1, 2]
    assert two[1].facts == {"lamps.count": 3.0}  # last night's facts are not tonight's


def test_what_was_taken_back_is_not_in_the_log() -> None:
    kept = good_night()
    slip = [row(52, {"crew.bow_count": 500.0}), undo(53)]
    assert one([*kept[:7], *slip, kept[7]]).looks == one(kept).looks
    advised = [row(60, {"run.seen": "edges"}, causes=["centre-gap"], action="Close the middle."), undo(61)]
    assert one([*kept[:7], *advised, kept[7]]).advice == one(kept).advice
    moved = [row(70, {"lamps.clip_left_ft": 1.0}), undo(71)]
    assert one([*kept[:7], *moved, kept[7]]).set_ups == one(kept).set_ups


def test_an_answer_taken_back_leaves_the_advice_open() -> None:
    rows = good_night()[:6]
    trip = one([*rows, helped(51, "yes"), undo(52)])
    assert trip.advice[0].helped is None
    trip = one([*rows, helped(51, "yes"), undo(52), helped(53, "no")])
    assert trip.advice[0].helped is False


def test_undo_after_a_turn_that_told_no_fact_takes_back_that_turn_only() -> None:
    # "don't know" changes what is asked next, so undo takes it back, and not the fact before it
    unknown = row(30, changed={"facts": {}, "remembered": True}, understood={"water.clarity": "unknown"})
    trip = one([*good_night()[:3], unknown, undo(31)])
    assert trip.looks == one(good_night()[:3]).looks


def test_a_refused_turn_changes_nothing() -> None:
    refused = row(30, understood={"lamps.clip_left_ft": 99.0}, changed={}, refused=True)
    assert one([*good_night()[:3], refused]).set_ups == one(good_night()[:3]).set_ups


def test_what_the_boat_knows_stays_where_a_persons_words_were_forgotten() -> None:
    from_another = row(26, {"lamps.clip_left_ft": 3.0}, understood={}, said=None)
    assert one([*good_night()[:3], from_another]).facts["lamps.clip_left_ft"] == 3.0


def test_the_same_advice_again_is_no_new_advice() -> None:
    again = row(28, {"water.clarity": "clear"}, causes=["lamp-too-shallow"])
    assert len(one([*good_night()[:4], again]).advice) == 1


def test_hazards_are_kept_with_their_time() -> None:
    trip = one([row(0, {"sky.fog": True}, hazards=[("fog", "Fog: get out of the way.")])])
    assert trip.hazards == ((at(0), "fog", "Fog: get out of the way."),)


def test_rows_of_an_older_store_without_what_changed_are_read_from_what_was_understood() -> None:
    old = [row(0, understood={"lamps.count": 4.0, "water.clarity": "unknown"}, changed={})]
    assert one(old).facts == {"lamps.count": 4.0}


def test_a_trip_of_two_hundred_events_replays_to_the_same_summary() -> None:
    chance = random.Random(7)
    rows = [row(0, {"lamps.minutes_since_set": 5.0, "lamps.clip_left_ft": 3.0, "tide.state": "falling"})]
    for i in range(1, 200):
        choice = chance.randrange(5)
        minute = i * 2.5
        if choice == 0:
            rows.append(row(minute, {"lamps.clip_left_ft": float(chance.randrange(1, 8))}))
        elif choice == 1:
            rows.append(undo(minute))
        elif choice == 2:
            rows.append(row(minute, {"water.clarity": "clear"}, causes=["tide-fell"], action=f"Re-clip {i}."))
        elif choice == 3:
            rows.append(helped(minute, chance.choice(["yes", "no", "too_early"])))
        else:
            rows.append(row(minute, {"crew.bow_count": float(chance.randrange(40)), "crew.stern_count": 3.0}))
    first = summary(one(rows), BOOK)
    assert first == summary(one(list(rows)), BOOK)
    assert len(first) > 50
    assert first[-1].startswith("One thing to do differently:")


@settings(max_examples=25)
@given(data=st.data())
def test_the_log_of_a_real_talk_holds_exactly_the_facts_that_the_chat_holds(data: st.DataObject) -> None:
    # the dialogue itself is the model: whatever is said, answered, taken back or started afresh, the log ends
    # with the facts that the session ends with
    infer = PlainEvaluator(rulebook.clauses(BOOK)).evaluate
    session, rows, now = Session(), [], START
    moves = st.sampled_from(["pick", "unknown", "undo", "new", "count", "clip", "nonsense", "helped", "text"])
    for _ in range(data.draw(st.integers(1, 12))):
        now += timedelta(minutes=11)
        message = _message(data.draw(moves), session, data)
        after, reply = step(session, message, now=now, book=BOOK, infer=infer)
        if reply.error is None:
            rows.append(
                Kept(
                    at=now.isoformat(),
                    said=message.model_dump_json(exclude_defaults=True),
                    understood=json.dumps(dict(reply.understood)),
                    reply=write("me", reply),
                    changed=json.dumps(changes(session, after, undone=is_undo(message))),
                )
            )
            session = after
    if rows:
        assert one(rows).facts == {name: heard.value for name, heard in session.facts.items()}


def _message(kind: str, session: Session, data: st.DataObject) -> Message:
    if kind in ("pick", "unknown"):
        fact = BOOK.facts.get(session.asking or "")
        if kind == "unknown" or fact is None or not (fact.options or fact.type == "bool"):
            return Message(pick="unknown", has_pick=True)
        answers = [option.id for option in fact.options] or [True, False]
        return Message(pick=data.draw(st.sampled_from(answers)), has_pick=True)
    count = float(data.draw(st.integers(0, 40)))
    return {
        "undo": Message(command="undo"),
        "new": Message(command="new"),
        "count": Message(facts={"crew.bow_count": count, "crew.stern_count": 3.0}),
        "clip": Message(
            facts={"lamps.clip_left_ft": count, "water.depth_ft": 11.0, "safety.all_clear": True}
        ),
        "nonsense": Message(text="xyzzy"),
        "helped": Message(facts={"advice.helped": "yes"}),
        "text": Message(text="never started, the others catch"),
    }[kind]


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


# --- the summary ---------------------------------------------------------------------------------------


def test_the_summary_says_what_happened_and_ends_in_one_thing() -> None:
    lines = summary(one(good_night()), BOOK)
    text = "\n".join(lines)
    assert "19:26 Changed: the left lamp's clip height: 3 ft; the right lamp's clip height: 3 ft." in lines
    assert "Lifted: 114 in 3 looks (19:20 9, 19:50 47, 20:20 58)." in lines
    assert "It helped. Catch in ten minutes: 3 before, 16 after." in text  # 9 in 35 min, 47 in 30 min
    assert lines[-1].startswith(
        "One thing to do differently: look for this first: the lamps were set too near"
    )
    assert text.count("One thing to do differently") == 1
    assert "2 m" not in text
    assert "2 m" in "\n".join(summary(one(good_night()), BOOK, metric=True))  # 6.5 ft is 1.98 m


def test_the_one_thing_follows_from_what_the_trip_shows() -> None:
    def thing(rows: list[Any]) -> str:
        return summary(one(rows), BOOK)[-1].removeprefix("One thing to do differently: ")

    night = good_night()
    hazard = row(90, {"crew.jackets": False}, hazards=[("fog", "Fog."), ("no-jackets", "Jackets on.")])
    assert thing([*night, hazard]).endswith("20:30. Fog.")  # the graver first, in the order of the rule base
    assert thing([*night[:6], helped(51, "no")]).startswith("what was tried did not help")
    assert thing(night[:6]).startswith("count ten minutes before and after")
    assert thing([row(0, {"lamps.count": 2.0})]).startswith("count, bow and stern apart")
    assert thing([row(0, {"crew.bow_count": 3.0, "crew.stern_count": 3.0})]).startswith("note when you set")
    assert thing([*night[:3]]).startswith("nothing in the set")


def test_the_bows_share_is_the_exact_one_and_luck_is_called_luck() -> None:
    trip = one(good_night())
    exact = binomtest(60, 114).proportion_ci(method="exact")
    assert (
        f"Bow 60, stern 54: the bow's share is 53% ({exact.low:.0%} to {exact.high:.0%}), within luck."
        in summary(trip, BOOK)
    )
    uneven = one([row(0, {"crew.bow_count": 44.0, "crew.stern_count": 3.0})])
    assert "more than luck" in "\n".join(summary(uneven, BOOK))


def test_a_trip_without_counts_says_so_and_no_rate_is_made_of_counts_without_minutes() -> None:
    assert "No counts were told." in summary(one([row(0, {"lamps.count": 2.0})]), BOOK)
    blind = one([row(0, {"crew.bow_count": 3.0, "crew.stern_count": 3.0})])
    assert "Catch per lamp-hour: not known" in "\n".join(summary(blind, BOOK))


def test_a_title_tells_day_hours_place_and_count() -> None:
    trip = one(good_night(), places=[(at(0), Place("Gull Point"))])
    assert title(trip) == "1  11 Feb 2027 19:00-20:20, Gull Point, 114 lifted"


# --- across trips --------------------------------------------------------------------------------------


def test_catch_per_lamp_hour_is_all_counts_over_all_lamp_hours_with_the_exact_range() -> None:
    night = [
        row(0, {"lamps.minutes_since_set": 1.0, "lamps.count": 4.0}),
        row(29, {"crew.bow_count": 7.0, "crew.stern_count": 5.0}),
    ]
    group = overall(catches(trips_of(night)))
    hours = 4 * 30 / 60
    assert (group.count, group.lamp_hours) == (12, pytest.approx(hours))
    assert group.rate == pytest.approx(12 / hours)
    # Garwood's range by the chi-square quantiles (scipy)
    assert group.low == pytest.approx(chi2.ppf(0.025, 24) / 2 / hours, rel=1e-6)
    assert group.high == pytest.approx(chi2.ppf(0.975, 26) / 2 / hours, rel=1e-6)


def test_two_lamps_are_taken_where_no_number_was_told() -> None:
    group = overall(catches(trips_of(good_night())))
    assert group.lamp_hours == pytest.approx(2 * 95 / 60)


@given(st.lists(st.tuples(st.integers(0, 200), st.floats(0.1, 5)), min_size=2, max_size=10))
def test_the_dispersion_is_pearsons_and_never_below_one(looks: list[tuple[int, float]]) -> None:
    counts = np.array([count for count, _ in looks], dtype=float)
    hours = np.array([length for _, length in looks])
    if counts.sum() == 0:
        assert dispersion(looks) == 1
        return
    expected = counts.sum() * hours / hours.sum()
    pearson = float(((counts - expected) ** 2 / expected).sum() / (len(looks) - 1))
    assert dispersion(looks) == pytest.approx(max(1.0, pearson))


def test_looks_that_differ_by_more_than_luck_widen_the_range() -> None:
    def night(counts: list[float]) -> list[Any]:
        first = row(0, {"lamps.minutes_since_set": 1.0})
        return [
            first,
            *(row(29 + 30 * i, {"crew.bow_count": n, "crew.stern_count": 0.0}) for i, n in enumerate(counts)),
        ]

    even, uneven = (
        overall(catches(trips_of(night(each)))) for each in ([20.0, 20.0, 20.0], [2.0, 55.0, 3.0])
    )
    assert even.rate == uneven.rate
    assert uneven.low < even.low
    assert (uneven.high or 0) > (even.high or 0)


def test_small_numbers_are_said_to_be_small() -> None:
    def few(count: float, nights: int) -> str:
        rows = [
            each
            for i in range(nights)
            for each in later(
                [
                    row(0, {"lamps.minutes_since_set": 1.0}),
                    row(29, {"crew.bow_count": count, "crew.stern_count": 0.0}),
                ],
                i * DAY_MIN,
            )
        ]
        return overall(catches(trips_of(rows))).few

    assert few(9, 1) == "far too few to tell"
    assert few(100, 1) == "one trip only: a hint"
    assert few(10, 2) == "few: a hint, no more"
    assert few(20, 2) == ""
    # 35 is where the exact range spans no more than a factor of two (scipy), 10 where about four
    assert chi2.ppf(0.975, 72) / chi2.ppf(0.025, 70) == pytest.approx(2, abs=0.02)
    assert chi2.ppf(0.975, 22) / chi2.ppf(0.025, 20) == pytest.approx(4, abs=0.2)


def test_catches_are_parted_by_tide_set_up_place_and_moon() -> None:
    rising = [row(0, {"tide.state": "rising", "lamps.minutes_since_set": 1.0, "sky.moon": "bright"})]
    rising += [row(30, {"crew.bow_count": 4.0, "crew.stern_count": 0.0})]
    trips = trips_of([*good_night(), *later(rising, DAY_MIN)], places=[(at(0), Place("Gull Point"))])
    found = catches(trips)
    moon = moon_word_of(apparatus(BOOK).figures.rig)
    assert [group.word for group in grouped(found, tide_word)] == ["falling", "rising"]
    assert [group.word for group in grouped(found, set_word)] == ["two-lamp", "not told"]
    assert [group.word for group in grouped(found, place_word)] == ["Gull Point", "not told"]
    # told: bright; not told: by the calendar the moon of 12 Feb 2027 is between new (6th) and first quarter
    # (14th; U.S. Naval Observatory's phases, MEMORY): lit by less than half
    assert {group.word for group in grouped(found, moon)} == {"bright", "half"}
    assert sum(group.count for group in grouped(found, tide_word)) == overall(found).count


def test_groups_are_told_with_range_and_smallness() -> None:
    lines = list(by_words({"tide": grouped(catches(trips_of(good_night())), tide_word)}))
    assert lines[0] == "tide:"
    assert "114 in 3.2 lamp-hours on 1 trip; one trip only: a hint" in lines[1]
    assert rate_line(overall([])).startswith("Catch per lamp-hour: not known")
