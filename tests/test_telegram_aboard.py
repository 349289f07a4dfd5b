"""What the bot keeps of a boat: her place, who is aboard, what goes out and what is forgotten."""

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from boats import COMPLAINT, START, Harbour, hazy_night
from leftovers import bytes_on_disk

from coach.conversation import Session
from coach.front.telegram import words
from coach.model import Rulebook
from coach.places import WHERE
from coach.post import inbox, privacy
from coach.store import Store
from coach.tabled import with_table

ANNA, BEN, CREW = 11, 22, -33
SECRET = "Quillfeather-lost-her-oar"


# --- places and what a boat told of herself ---------------------------------------------------------------


def test_a_place_shared_is_kept_rounded_and_given_to_the_coach_as_a_place(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.show_place(ANNA, 30.15, -85.67)
    told = harbour.facts(ANNA)
    assert {name: told[name] for name in WHERE} == {"place.lat_deg": 30.15, "place.lon_deg": -85.67}
    assert not any(name.startswith("tide.") for name in told)  # what the table says now grows old
    assert any("nearest tide station is" in each.text for each in harbour.chats[ANNA])


def test_what_was_heard_at_a_place_goes_by_the_tables_of_the_hour_and_not_of_when_it_was_shown(
    harbour: Harbour, shipped: Rulebook
) -> None:
    harbour.show_place(ANNA, 30.15, -85.67)
    session = Session.model_validate_json(harbour.store.look(harbour.boat(ANNA)).session or "")
    at = datetime.fromisoformat(session.facts["place.lat_deg"].at)
    tables = [with_table(session, shipped, now=at + timedelta(hours=h)).facts for h in range(0, 26, 2)]
    states = {facts["tide.state"].value for facts in tables if "tide.state" in facts}
    assert states >= {"falling", "rising"}
    assert {"low", "high"} & {bell.kind for bell in harbour.bells(ANNA)}


def test_at_a_place_the_state_of_the_tide_is_not_asked_any_more(harbour: Harbour) -> None:
    harbour.show_place(ANNA, 30.15, -85.67)
    harbour.say(ANNA, COMPLAINT)
    session = json.loads(harbour.store.look(harbour.boat(ANNA)).session or "{}")
    while session["asking"] is not None:
        assert session["asking"] != "tide.state"
        harbour.say(ANNA, "0")
        session = json.loads(harbour.store.look(harbour.boat(ANNA)).session or "{}")


def test_a_place_far_from_any_station_is_noted_and_said_to_be_far(harbour: Harbour) -> None:
    harbour.show_place(ANNA, 0.0, -30.0)
    assert any("too far to go by" in each.text for each in harbour.chats[ANNA])
    assert not any("latitude" in each.text for each in harbour.chats[ANNA])


def test_a_place_that_is_not_one_is_said_so(harbour: Harbour) -> None:
    assert words.PLACE_HOW in harbour.say(ANNA, "/place")[-1].text
    assert words.PLACE_BAD in harbour.say(ANNA, "/place Atlantis")[-1].text


@pytest.mark.parametrize(
    ("said", "answer"),
    [
        ("/draft 1.5", "1.5 ft"), ("/draft 0.45 m", "1.5 ft"),
        ("/draft", "How deep"), ("/draft 99", "How deep"),
        ("/battery 100 lead", "100 Ah, lead"), ("/battery 80ah lifepo4", "80 Ah, lithium"),
        ("/battery", "Send amp-hours"), ("/battery 100 potato", "Send amp-hours"),
    ],
)  # fmt: skip
def test_draft_and_battery_are_noted_or_asked_for_again(harbour: Harbour, said: str, answer: str) -> None:
    assert answer in harbour.say(ANNA, said)[-1].text


# --- crews and boats -------------------------------------------------------------------------------------


def test_in_a_group_each_dipper_is_counted_under_a_name_of_their_choosing(harbour: Harbour) -> None:
    harbour.say(CREW, "/name Maren bow", person=ANNA)
    harbour.say(CREW, "/name Oswin stern", person=BEN)
    harbour.say(CREW, "+3", person=ANNA)
    harbour.say(CREW, "Oswin 2", person=ANNA)
    harbour.tap(CREW, "+1 for me", person=BEN)
    assert harbour.latest(CREW).text == "Bow 3, stern 3\nMaren 3, Oswin 3"
    assert words.NAME_TAKEN.format(name="maren") in harbour.say(CREW, "/name maren", person=BEN)[-1].text
    assert words.NO_SIDE in harbour.say(CREW, "+1", person=99)[-1].text


def test_a_crews_talk_that_is_not_for_the_coach_is_let_pass(harbour: Harbour) -> None:
    harbour.say(CREW, "/tell was good till nine then it faded")
    assert harbour.say(CREW, "who has the sandwiches") == []
    assert harbour.say(CREW, "yes") != []


def test_phones_joined_by_a_code_are_one_boat(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, "/boat")
    code = harbour.latest(ANNA).text.split("/boat ")[1].split()[0]
    harbour.say(BEN, f"/boat {code}")
    assert harbour.boat(ANNA) == harbour.boat(BEN)
    assert harbour.latest(ANNA).text == words.BOAT_NEW
    harbour.say(ANNA, "b2")
    assert harbour.say(BEN, "s1")[-1].text == "Bow 2, stern 1"
    assert words.BOAT_BAD in harbour.say(99, f"/boat {code}")[-1].text
    harbour.say(BEN, "/boat leave")
    assert harbour.boat(ANNA) != harbour.boat(BEN)
    assert harbour.say(BEN, "count")[-1].text == words.CARD_EMPTY
    assert words.BOAT_GROUP in harbour.say(CREW, "/boat")[-1].text


def test_bells_ring_on_every_phone_of_a_boat_and_on_no_other(harbour: Harbour) -> None:
    hazy_night(harbour)
    harbour.say(99, COMPLAINT)
    harbour.say(ANNA, "/boat")
    harbour.say(BEN, f"/boat {harbour.latest(ANNA).text.split('/boat ')[1].split()[0]}")
    harbour.later(60 * 5)
    for chat, rings in ((ANNA, True), (BEN, True), (99, False)):
        assert any("Low water" in each.text for each in harbour.chats[chat]) == rings


# --- export and forget -----------------------------------------------------------------------------------


def test_forgetting_asks_first_and_leaves_no_byte(harbour: Harbour, tmp_path: Path) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, f"my {SECRET} again")
    harbour.say(ANNA, "/name Quill bow")
    harbour.say(BEN, "b7")
    harbour.say(ANNA, "/forget")
    harbour.tap(ANNA, "Keep it")
    assert SECRET.encode() in bytes_on_disk(tmp_path)
    boat = harbour.boat(ANNA)
    harbour.say(ANNA, "forget")
    harbour.tap(ANNA, "Erase it")
    assert harbour.latest(ANNA).text == words.FORGOTTEN
    assert SECRET.encode() not in bytes_on_disk(tmp_path)
    assert b"Quill" not in bytes_on_disk(tmp_path)
    assert boat.encode() not in bytes_on_disk(tmp_path)
    assert harbour.say(BEN, "count")[-1].text == "Bow 7"
    assert harbour.say(ANNA, "count")[-1].text == words.CARD_EMPTY


def test_in_a_crew_one_persons_words_go_and_the_others_stay(harbour: Harbour, tmp_path: Path) -> None:
    harbour.say(CREW, f"/tell {SECRET}", person=ANNA)
    harbour.say(CREW, "/name Maren bow", person=ANNA)
    harbour.say(CREW, "/name Oswin stern", person=BEN)
    harbour.say(CREW, "+4", person=BEN)
    harbour.say(CREW, "/forget", person=ANNA)
    harbour.tap(CREW, "Erase it", person=ANNA)
    assert SECRET.encode() not in bytes_on_disk(tmp_path)
    assert b"Maren" not in bytes_on_disk(tmp_path)
    assert harbour.say(CREW, "/count", person=BEN)[-1].text == "Stern 4\nOswin 4"


def test_an_export_is_two_files_made_when_they_are_sent(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, "b3")
    found = harbour.say(ANNA, "/export")
    assert [each.text for each in found] == ["(file) json", "(file) csv"]
    with harbour.store.reading() as rows:
        exported = privacy.export(rows, harbour.boat(ANNA), str(ANNA))
    assert exported["said"][0]["said"] == {"text": COMPLAINT}
    assert exported["counted"][0]["amount"] == 3.0


def test_a_group_that_moved_keeps_its_boat(harbour: Harbour) -> None:
    harbour.say(CREW, "/name Maren bow", person=ANNA)
    harbour.say(CREW, "b5", person=ANNA)
    harbour._handle(CREW, ANNA, kind="moved", sent_to="-44", message_id=900)
    assert harbour.say(-44, "/count", person=ANNA)[-1].text.startswith("Bow 5")


def test_what_breaks_the_bot_is_apologised_for_once(
    harbour: Harbour, monkeypatch: pytest.MonkeyPatch
) -> None:
    from coach.front.telegram.event import Event

    event = Event(
        update_id=700, chat="11", is_group=False, person="11", kind="text", at=harbour.at, text="b1"
    )
    with harbour.store.writing() as rows:
        inbox.receive(rows, 700, chat="11", at=0.0, event="x")
    assert [letter.body["text"] for letter in harbour.office.apologise(event)][-1] == words.BROKEN
    with pytest.raises(inbox.HandledBefore):
        harbour.office.apologise(event)


def test_a_time_of_day_is_one_of_the_boats_own_clock(harbour: Harbour) -> None:
    hazy_night(harbour)
    assert START.utcoffset() is not None
    assert harbour.facts(ANNA)["tide.low_at"].startswith("2027-02-12T01:00:00-05:00")


def test_a_store_that_cannot_be_written_is_tried_again_not_lost(
    harbour: Harbour, monkeypatch: pytest.MonkeyPatch
) -> None:
    from coach.store import StoreError

    harbour.say(ANNA, COMPLAINT)
    keep = Store.keep

    def full(*_: Any, **__: Any) -> bool:
        raise StoreError("the disk is full")

    monkeypatch.setattr(Store, "keep", full)
    with pytest.raises(StoreError):
        harbour.say(ANNA, "yes")
    monkeypatch.setattr(Store, "keep", keep)
    with harbour.store.reading() as rows:
        (waiting,) = inbox.waiting(rows)
    from coach.front.telegram.event import Event

    harbour._deliver(harbour.office.handle(Event.model_validate_json(waiting.event)))
    assert harbour.facts(ANNA)["safety.all_clear"] is True
