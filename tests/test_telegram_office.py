"""How the bot behaves for people in a boat: taps, digits, words, counts, bells, crews, export, forget."""

import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from boats import START, Harbour

from coach.front.telegram import words
from coach.front.telegram.config import Config
from coach.model import Rulebook, Session
from coach.places import WHERE
from coach.post import inbox, privacy
from coach.store import Store
from coach.tabled import with_table

ANNA, BEN, CREW = 11, 22, -33
COMPLAINT = "was good till nine then it faded"
SECRET = "Quillfeather-lost-her-oar"


@pytest.fixture
def harbour(tmp_path: Path, shipped: Rulebook, plain: Any) -> Iterator[Harbour]:
    made = Harbour(tmp_path / "a.db", shipped, plain)
    yield made
    made.store.close()


# --- the first words, questions, answers -----------------------------------------------------------------


def test_the_first_message_of_a_chat_brings_the_greeting_and_the_board(harbour: Harbour) -> None:
    greeting, question = harbour.say(ANNA, COMPLAINT)
    assert greeting.text == words.GREETING
    assert greeting.board
    assert question.rows
    assert not any(each.board for each in harbour.say(ANNA, "1"))


def test_start_greets_once_and_asks_the_open_question_again(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    open_question = harbour.latest(ANNA).text
    greeting, again = harbour.say(ANNA, "/start")
    assert (greeting.board, greeting.text) == (True, words.GREETING)
    assert open_question.endswith(again.text)


@pytest.mark.parametrize("way", ["tap", "digit", "word"])
def test_a_question_can_be_answered_by_tap_digit_or_word(harbour: Harbour, way: str) -> None:
    harbour.say(ANNA, COMPLAINT)
    assert harbour.latest(ANNA).rows[0][0][0] == "Yes"
    {"tap": lambda: harbour.tap(ANNA, "Yes"), "digit": lambda: harbour.say(ANNA, "1"),
     "word": lambda: harbour.say(ANNA, "yes")}[way]()  # fmt: skip
    assert harbour.facts(ANNA)["safety.all_clear"] is True


def test_a_digit_means_the_answer_that_stands_at_its_place(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, "1")
    while len(harbour.latest(ANNA).rows) < 3:  # a question for a number has no places
        harbour.say(ANNA, "0")
    shown = [row[0][0] for row in harbour.latest(ANNA).rows[:-1]]
    fact = harbour.office._book.facts
    before = harbour.facts(ANNA)
    harbour.say(ANNA, "2")
    ((name, value),) = [(name, value) for name, value in harbour.facts(ANNA).items() if name not in before]
    labels = {option.id: option.label for option in fact[name].options} or {True: "Yes", False: "No"}
    assert labels[value] == shown[1]


def test_a_tap_turns_the_question_into_the_next_one_where_it_stands(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    messages = len(harbour.chats[ANNA])
    harbour.tap(ANNA, "Yes")
    assert len(harbour.chats[ANNA]) == messages
    assert harbour.latest(ANNA).was


def test_a_tap_on_an_older_message_answers_below_not_far_above(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, "b1")
    messages = len(harbour.chats[ANNA])
    harbour.tap(ANNA, "Yes")
    assert len(harbour.chats[ANNA]) == messages + 1


def test_a_tap_on_a_question_that_is_closed_changes_nothing_and_shows_the_open_one(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    first = harbour.latest(ANNA)
    data, number = first.buttons["Yes"], first.number
    harbour.say(ANNA, "yes")
    before, open_question = harbour.facts(ANNA), harbour.latest(ANNA).text
    harbour.tap_data(ANNA, data, number=number)
    assert harbour.facts(ANNA) == before
    assert first.text == words.CLOSED
    assert harbour.latest(ANNA).text == open_question


def test_dont_know_why_and_back_are_on_every_question(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.tap(ANNA, "Yes")
    question = harbour.latest(ANNA).text
    harbour.tap(ANNA, "Why?")
    assert "Why I ask" in harbour.latest(ANNA).text
    harbour.tap(ANNA, "Don't know")
    assert question not in harbour.latest(ANNA).text
    harbour.tap(ANNA, "Back")
    assert harbour.latest(ANNA).text.startswith("Taken back.")
    assert question in harbour.latest(ANNA).text


def test_clear_the_water_is_one_button_from_anywhere_and_the_question_stays(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    question = harbour.latest(ANNA).text.rpartition("\n\n")[2]
    for ask in (words.CLEAR, "/clear", "/clear the water"):
        harbour.say(ANNA, ask)
        assert "Clear the water, in this order:\n1. " in harbour.latest(ANNA).text
        assert harbour.latest(ANNA).text.endswith(question)
    assert words.BOARD[0][0] == words.CLEAR
    assert words.BOARD_GROUP[0][0].startswith("/clear")


def test_every_command_of_the_menu_is_answered(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    for name in words.COMMANDS:
        assert harbour.say(ANNA, f"/{name}"), name
    assert harbour.say(ANNA, "/no_such")[0].text == words.NO_COMMAND
    assert "Feet" in harbour.say(ANNA, "/units feet")[0].text


@pytest.mark.parametrize("text", ["x" * 2001, "🔔" * 2000])
def test_a_text_of_any_length_is_answered(harbour: Harbour, text: str) -> None:
    assert harbour.say(ANNA, text)


@pytest.mark.parametrize(
    "data", ["", "a", "a:", "a:x:1", "r:x:d", "r:99:d", "m:1", "c:x", "f:", "x:drop", "h:9", "z:z:z"]
)
def test_a_made_up_tap_breaks_nothing(harbour: Harbour, data: str) -> None:
    harbour.say(ANNA, COMPLAINT)
    number = harbour.latest(ANNA).number
    harbour.tap_data(ANNA, data, number=number)
    harbour.say(ANNA, "/summary")


def test_an_update_is_handled_once(harbour: Harbour) -> None:
    harbour.say(ANNA, "b1")
    with harbour.store.reading() as rows, pytest.raises(inbox.HandledBefore):
        from coach.front.telegram.event import Event

        assert rows
        harbour.office.handle(
            Event(update_id=1, chat="11", is_group=False, person="11", kind="text", at=harbour.at, text="b1")
        )
    assert harbour.say(ANNA, "count")[0].text == "Bow 1"


def test_strangers_are_turned_away_and_leave_no_trace(tmp_path: Path, shipped: Rulebook, plain: Any) -> None:
    harbour = Harbour(tmp_path / "a.db", shipped, plain, Config(allow=frozenset({ANNA})))
    (told,) = harbour.say(BEN, SECRET)
    assert str(BEN) in told.text
    assert harbour.say(ANNA, COMPLAINT)
    with harbour.store.reading() as rows:
        assert rows.execute("SELECT chat FROM phones").fetchall() == [(str(ANNA),)]
    harbour.store.close()


def test_somebody_who_writes_too_fast_is_told_once(tmp_path: Path, shipped: Rulebook, plain: Any) -> None:
    harbour = Harbour(tmp_path / "a.db", shipped, plain, Config(per_minute=0.1, burst=2))
    said = [[each.text for each in harbour.say(ANNA, "b1")] for _ in range(5)]
    assert said[2] == [words.TOO_FAST]
    assert said[3:] == [[], []]
    harbour.store.close()


# --- counting --------------------------------------------------------------------------------------------


def test_counts_are_added_shown_and_taken_back(harbour: Harbour) -> None:
    harbour.say(ANNA, "b3 s5")
    assert harbour.latest(ANNA).text == "Bow 3, stern 5"
    harbour.tap(ANNA, "Bow +1")
    assert harbour.latest(ANNA).text == "Bow 4, stern 5"
    harbour.tap(ANNA, "Take back")
    assert harbour.latest(ANNA).text == "Bow 3, stern 5"
    harbour.say(ANNA, "undo count")
    assert harbour.latest(ANNA).text == words.CARD_EMPTY
    assert harbour.say(ANNA, "undo count")[-1].text.startswith(words.NOTHING_TO_TAKE_BACK)


def test_nets_buckets_and_weights_are_counted_and_unlike_ones_are_not_added_up(harbour: Harbour) -> None:
    harbour.say(ANNA, "bow 2 nets stern 1 net")
    assert harbour.latest(ANNA).text == "Bow 2 net, stern 1 net"
    harbour.say(ANNA, "s 3 lb")
    assert words.CARD_UNLIKE in harbour.latest(ANNA).text


def test_a_one_sided_share_is_told_and_leads_into_the_consultation(harbour: Harbour) -> None:
    for _ in range(6):
        harbour.later(6)
        harbour.say(ANNA, "b9 s1")
    (told,) = [each for each in harbour.chats[ANNA] if "more than luck" in each.text]
    assert "The bow has 90%" in told.text
    harbour.tap(ANNA, words.FIND_OUT)
    facts = harbour.facts(ANNA)
    assert facts["crew.one_sided"] == "bow"
    assert facts["crew.bow_count"] >= 9


def test_a_drop_is_told_once_and_its_rates_are_told_to_the_consultation(harbour: Harbour) -> None:
    for count in (20, 20, 20, 20, 20, 4, 4, 4, 4):
        harbour.later(11)
        harbour.say(ANNA, f"b{count} s{count}")
    told = [each.text for each in harbour.chats[ANNA] if "It dropped" in each.text]
    assert len(told) == 1
    harbour.tap(ANNA, words.FIND_OUT)
    assert harbour.facts(ANNA)["catch.course"] == "faded"
    assert harbour.facts(ANNA)["catch.now_per_10min"] < harbour.facts(ANNA)["catch.before_per_10min"]


def test_a_long_silence_after_a_good_run_is_asked_about_once(harbour: Harbour) -> None:
    for _ in range(60):
        harbour.later(1)
        harbour.say(ANNA, "b1")
    rang = [each for _ in range(90) for each in harbour.later(1)]
    assert [each.text for each in rang] == [words.SILENT]
    harbour.tap(ANNA, words.STOPPED)
    assert harbour.facts(ANNA)["catch.course"] == "stopped"


def test_a_deep_lamp_brings_its_button_and_its_bell(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, "the deep lamp is in the water")
    assert harbour.facts(ANNA).get("deep_lamp.in_water") is True
    harbour.say(ANNA, "j2")
    assert "Jump +1" in harbour.latest(ANNA).buttons
    assert "deep" in [each.kind for each in harbour.bells(ANNA)]


# --- bells -----------------------------------------------------------------------------------------------


def hazy_night(harbour: Harbour, chat: int = ANNA) -> None:
    """A tide table and a depth, told by the core's own means: words."""
    harbour.say(chat, COMPLAINT)
    for said in ("high water at 19:00", "low water at 01:00", "12 ft deep", "tide is falling"):
        harbour.say(chat, said)


def test_a_bell_rings_can_be_put_off_and_be_seen_to(harbour: Harbour) -> None:
    hazy_night(harbour)
    assert "low" in [each.kind for each in harbour.bells(ANNA)]
    rang = harbour.later(60 * 4 + 55)
    (low,) = [each for each in rang if "Low water" in each.text]
    harbour.tap(ANNA, "In 10 minutes")
    assert "I ring again at" in low.text
    (again,) = [each for each in harbour.later(11) if "Low water" in each.text]
    harbour.tap(ANNA, "Done")
    assert again.text.endswith(words.BELL_DONE)
    assert harbour.later(60) == []
    harbour.tap_data(ANNA, "r:1:s", number=again.number)
    assert harbour.later(60) == []


def test_bells_to_come_are_listed(harbour: Harbour) -> None:
    assert words.BELLS_NONE in harbour.say(ANNA, "/bells")[-1].text
    hazy_night(harbour)
    assert "00:50  Low water at about 01:00" in harbour.say(ANNA, "bells")[-1].text


def test_starting_afresh_takes_the_bells_of_the_old_night_away(harbour: Harbour) -> None:
    hazy_night(harbour)
    harbour.say(ANNA, "/fresh")
    assert harbour.bells(ANNA) == []


def test_a_verdict_says_what_will_ring_and_look_again_asks_whether_it_helped(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    answers = {
        "safety.all_clear": "yes", "tide.state": "falling", "water.depth_ft": "9", "lamps.clip_left_ft": "3",
        "lamps.clip_right_ft": "3", "tide.fall_since_set_ft": "2", "others.catching": "yes",
    }  # fmt: skip
    for _ in range(25):
        line = harbour.store.look(harbour.boat(ANNA)).reply
        assert line
        ask = json.loads(line)["ask"]
        if ask is None:
            break
        harbour.say(ANNA, answers.get(ask["fact"], "don't know"))
    verdict, shown = harbour.chats[ANNA][-2:]
    assert "look again" in verdict.text
    assert shown.text.startswith("(picture) The set from the side.")
    (look,) = [each for each in harbour.bells(ANNA) if each.kind == "look"]
    rang = harbour.later((look.at - harbour.at) / 60 + 0.1)
    assert list(rang[0].buttons)[:2] == ["Yes", "No"]
    harbour.tap(ANNA, "Yes")
    session = json.loads(harbour.store.look(harbour.boat(ANNA)).session or "{}")
    assert [outcome["helped"] for outcome in session["outcomes"]] == [True]


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


def bytes_on_disk(folder: Path) -> bytes:
    return b"".join(file.read_bytes() for file in folder.rglob("*") if file.is_file())


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
