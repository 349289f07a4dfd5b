"""What the log makes of a night's turns."""

from __future__ import annotations

import json
import random
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from nights import DEEPER, START, at, good_night, helped, one, row, undo

from coach import rulebook
from coach.commands import is_undo
from coach.conversation import Message, Session
from coach.dialogue import step
from coach.exchange import write
from coach.plain import PlainEvaluator
from coach.trips.changes import changes
from coach.trips.kept import Kept
from coach.trips.trip import OVER_AFTER_H, trips_of
from coach.trips.words import summary

BOOK = rulebook.load()


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
