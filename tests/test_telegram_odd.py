"""What people do that nobody planned for: crews that talk of other things, floods, forged taps, changes
of phone and place, words of yesterday. Each is a fault that was found by use, or one that was feared."""

import json
from pathlib import Path
from typing import Any

import pytest
from boats import START, Harbour
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from leftovers import bytes_on_disk

from coach.counting import RESERVED
from coach.front.telegram import beside, words
from coach.front.telegram.config import Config
from coach.front.telegram.event import Event, readable
from coach.front.telegram.screens import Screen
from coach.model import Rulebook
from coach.post import crew, due, privacy
from coach.post.outbox import Letter
from coach.reminders import Bell
from coach.trips import kept

ANNA, BEN, CREW = 11, 22, -33
COMPLAINT = "was good till nine then it faded"
SECRET = "Quillfeather-lost-her-oar"
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=80)


def other(harbour: Harbour, kind: str, chat: int = ANNA) -> list[str]:
    return [each.text for each in harbour._handle(chat, None, kind=kind, message_id=900)]


def boat_code(harbour: Harbour, chat: int) -> str:
    harbour.say(chat, "/boat")
    return harbour.latest(chat).text.split("/boat ")[1].split()[0]


# --- crews -----------------------------------------------------------------------------------------------


def test_a_crew_whose_first_words_are_not_for_the_coach_is_greeted_when_they_are(harbour: Harbour) -> None:
    assert harbour.say(CREW, "who has the sandwiches") == []
    assert harbour.say(CREW, "not me", person=BEN) == []
    with harbour.store.reading() as rows:
        assert crew.phone(rows, str(CREW)) is None
    greeting, *_ = harbour.say(CREW, "/tell was good till nine then it faded")
    assert greeting.text == words.GREETING_GROUP


def test_a_crew_is_greeted_when_the_coach_is_let_in(harbour: Harbour) -> None:
    assert other(harbour, "joined", CREW)[0] == words.GREETING_GROUP


def test_a_number_in_a_crews_talk_is_an_answer_only_where_it_can_be_one(harbour: Harbour) -> None:
    harbour.say(CREW, "/tell was good till nine then it faded")
    assert harbour.say(CREW, "10", person=BEN) == []
    assert harbour.say(CREW, "1", person=BEN) != []


def test_only_who_asked_to_be_forgotten_can_say_yes(harbour: Harbour) -> None:
    harbour.say(CREW, "/name Maren bow", person=ANNA)
    harbour.say(CREW, "/name Oswin stern", person=BEN)
    harbour.say(CREW, "+4", person=BEN)
    harbour.say(CREW, "/forget", person=ANNA)
    harbour.tap(CREW, "Erase it", person=BEN)
    assert harbour.latest(CREW).text == words.KEPT
    assert "Oswin 4" in harbour.say(CREW, "/count", person=BEN)[-1].text


@pytest.mark.parametrize("name", sorted(word for word in RESERVED if word.isalpha()))
def test_nobody_is_called_by_a_word_that_counts(harbour: Harbour, name: str) -> None:
    assert words.NAME_COUNTS.format(name=name) in harbour.say(CREW, f"/name {name} bow")[-1].text


def test_many_people_together_may_not_flood_a_crews_chat(
    tmp_path: Path, shipped: Rulebook, plain: Any
) -> None:
    harbour = Harbour(tmp_path / "a.db", shipped, plain, Config(per_minute=0.1, burst=3))
    answered = [bool(harbour.say(CREW, "b1", person=person)) for person in range(100, 110)]
    assert answered == [True] * 3 + [True] + [False] * 6  # the fourth is told that it was too fast
    harbour.store.close()


# --- words of others, of before, of yesterday --------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "said"),
    [("edited", words.EDITED), ("forwarded", words.FORWARDED), ("other", words.NOT_TEXT)],
)
def test_what_is_not_taken_is_said_to_be_so_and_a_crew_is_left_alone(
    harbour: Harbour, kind: str, said: str
) -> None:
    assert other(harbour, kind)[-1] == said
    assert other(harbour, kind, CREW) == []


def test_yesterdays_counts_are_neither_shown_nor_taken_back_today(harbour: Harbour) -> None:
    harbour.say(ANNA, "b3 s5")
    harbour.later(60 * 20)
    assert harbour.say(ANNA, "count")[-1].text == words.CARD_EMPTY
    assert harbour.say(ANNA, "undo count")[-1].text.startswith(words.NOTHING_TO_TAKE_BACK)
    harbour.say(ANNA, "b1")
    assert harbour.latest(ANNA).text == "Bow 1"


def test_undo_takes_back_what_was_done_last_be_it_a_count_or_an_answer(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, "b3")
    assert harbour.say(ANNA, "undo")[-1].text == words.CARD_EMPTY
    assert harbour.facts(ANNA) == {"catch.course": "faded"}
    harbour.say(ANNA, "b3")
    harbour.say(ANNA, "yes")
    harbour.say(ANNA, "undo")
    assert harbour.facts(ANNA) == {"catch.course": "faded"}
    assert harbour.say(ANNA, "count")[-1].text == "Bow 3"


def test_where_another_version_kept_the_chat_counts_go_on_and_new_is_the_way_out(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    with harbour.store.writing() as rows:
        rows.execute("UPDATE chats SET session = json_set(session, '$.of_the_future', 1)")
    assert harbour.say(ANNA, "b3")[-1].text == "Bow 3"
    for said in ("/trip", "/picture", "yes"):
        assert "Send 'new'" in harbour.say(ANNA, said)[-1].text
    harbour.say(ANNA, "new")
    assert harbour.facts(ANNA) == {}


@pytest.mark.parametrize(
    "said",
    ["ship coming, clear the water", "CLEAR THE WATER", "clear water now!!", "we must clear the water"],
)
def test_however_it_is_typed_clearing_the_water_brings_the_list(harbour: Harbour, said: str) -> None:
    for chat in (ANNA, CREW):
        assert "in this order:\n1. " in harbour.say(chat, said)[-1].text


@pytest.mark.parametrize(
    "said", ["very clear water, 12 ft deep", "the sky is clear, 12 ft deep", "all clear the water has fallen"]
)
def test_clear_water_as_a_sight_is_no_alarm(harbour: Harbour, said: str) -> None:
    harbour.say(ANNA, said)
    assert "in this order" not in harbour.latest(ANNA).text


def test_whether_it_helped_is_answered_once_for_all_phones_of_a_boat(harbour: Harbour) -> None:
    harbour.say(BEN, f"/boat {boat_code(harbour, ANNA)}")
    harbour.say(ANNA, "few from the start, 12 ft deep, both clipped at 8 ft, others are catching")
    for _ in range(12):
        if "Don't know" not in harbour.latest(ANNA).buttons:
            break
        harbour.tap(ANNA, "Don't know")
    (look,) = [each for each in harbour.bells(ANNA) if each.kind == "look"]
    harbour.later((look.at - harbour.at) / 60)
    harbour.tap(BEN, "Yes")
    harbour.tap(ANNA, "No")
    session = json.loads(harbour.store.look(harbour.boat(ANNA)).session or "{}")
    assert [outcome["helped"] for outcome in session["outcomes"]] == [True]


def test_eleven_deep_is_no_count(harbour: Harbour) -> None:
    harbour.say(ANNA, "11 deep")
    assert harbour.say(ANNA, "count")[-1].text == words.CARD_EMPTY


def test_whoever_left_and_came_back_finds_the_old_boat_again(harbour: Harbour) -> None:
    harbour.say(BEN, "b7")
    own = harbour.boat(BEN)
    harbour.say(BEN, f"/boat {boat_code(harbour, ANNA)}")
    harbour.say(BEN, "/boat leave")
    assert harbour.boat(BEN) == own
    assert harbour.say(BEN, "count")[-1].text == "Bow 7"


def test_what_was_told_before_joining_another_boat_is_forgotten_too(harbour: Harbour, tmp_path: Path) -> None:
    harbour.say(BEN, f"my {SECRET}")
    harbour.say(ANNA, "b2")
    harbour.say(BEN, f"/boat {boat_code(harbour, ANNA)}")
    harbour.say(BEN, f"another {SECRET}")
    harbour.say(BEN, "/forget")
    harbour.tap(BEN, "Erase it")
    assert SECRET.encode() not in bytes_on_disk(tmp_path)
    assert harbour.say(ANNA, "count")[-1].text == "Bow 2"


def test_forgetting_takes_ones_words_off_a_boat_one_has_left_and_leaves_her_alone(
    harbour: Harbour, tmp_path: Path
) -> None:
    harbour.say(ANNA, "b2")
    harbour.say(BEN, f"/boat {boat_code(harbour, ANNA)}")
    harbour.say(BEN, f"my {SECRET}")
    harbour.say(BEN, "/boat leave")
    harbour.say(BEN, "/forget")
    harbour.tap(BEN, "Erase it")
    assert SECRET.encode() not in bytes_on_disk(tmp_path)
    assert harbour.say(ANNA, "count")[-1].text == "Bow 2"


def test_everything_of_a_boat_is_in_her_export(harbour: Harbour) -> None:
    harbour.show_place(ANNA, 30.15, -85.67)
    with harbour.store.reading() as rows:
        found = privacy.export(rows, harbour.boat(ANNA), str(ANNA))
    assert [place["name"] for place in found["places"]] == ["Courtney Point"]


# --- what was said back ------------------------------------------------------------------------------------


def test_what_was_understood_beside_the_question_is_said_back(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, "high water was at 18:50")
    assert harbour.latest(ANNA).text.startswith("Noted: the time of high water: 18:50.")
    harbour.tap(ANNA, "Yes")
    assert "Noted" not in harbour.latest(ANNA).text


def test_one_tap_begins_for_somebody_who_does_not_know_what_to_say(harbour: Harbour) -> None:
    harbour.say(ANNA, "/start")
    harbour.tap(ANNA, words.ASK_ME)
    assert harbour.latest(ANNA).text.startswith("Safety first")
    assert "Don't know" in harbour.latest(ANNA).buttons


def test_asking_why_under_a_verdict_leaves_the_verdict_standing(harbour: Harbour) -> None:
    harbour.say(ANNA, "everybody else has stopped, the tide still runs")
    for _ in range(12):
        if "Don't know" not in harbour.latest(ANNA).buttons:
            break
        harbour.tap(ANNA, "Don't know")
    said = next(each for each in reversed(harbour.chats[ANNA]) if "Why?" in each.buttons)
    text = said.text
    harbour.tap(ANNA, "Why?")
    assert said.text == text
    assert harbour.latest(ANNA) is not said


def test_many_bells_do_not_cut_a_long_verdict_off() -> None:
    from coach.reminders import KINDS

    bells = [Bell(kind, kind, START, "x") for kind in KINDS]
    found = beside.with_bells([Screen("🔔" * 2040, ([["Why?", "w"]],))], bells)
    assert [len(each.text.encode("utf-16-le")) // 2 <= 4096 for each in found] == [True] * len(found)
    assert "low water" in found[-1].text
    assert found[-1].rows


# --- bells -------------------------------------------------------------------------------------------------


def test_a_bell_that_was_put_off_does_not_ring_for_a_set_that_was_changed_meanwhile(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    tide = ("high water 18:50, high 3.4 ft", "low water 01:05, low 0.2 ft")
    for said in (*tide, "12 ft deep", "both clipped at 4 ft"):
        harbour.say(ANNA, said)
    (bell, *_) = [each for each in harbour.bells(ANNA) if each.kind == "reclip"]
    harbour.at = bell.at
    (rang, *_) = harbour.later(0)
    harbour.tap(ANNA, "In 10 minutes")
    harbour.say(ANNA, "both clipped at 2.5 ft")
    assert bell.say not in [each.say for each in harbour.bells(ANNA)]
    assert bell.say in rang.text


def test_nobody_is_asked_hours_later_whether_it_has_stopped(harbour: Harbour) -> None:
    for _ in range(60):
        harbour.later(1)
        harbour.say(ANNA, "b1")
    assert harbour.later(60 * 9) == []


def test_a_bell_that_breaks_holds_up_no_other(harbour: Harbour, monkeypatch: pytest.MonkeyPatch) -> None:
    from coach.front.telegram import bell

    harbour.say(ANNA, COMPLAINT)
    with harbour.store.writing() as rows:
        for key in ("look", "low"):
            due.ring(rows, harbour.boat(ANNA), Bell(key, key, START, f"{key} rings."))

    def broken(*_: Any) -> Any:
        raise KeyError("a captain's slip")

    monkeypatch.setattr(bell, "follow_question", broken)
    assert ["low rings." in each.text for each in harbour.later(0)] == [True]
    assert harbour.later(0) == []


# --- places ------------------------------------------------------------------------------------------------


def test_a_name_that_many_stations_bear_is_chosen_by_a_tap(harbour: Harbour) -> None:
    which = harbour.say(ANNA, "/place Beaufort")[-1]
    assert "stations are called so" in which.text
    assert 1 < len(which.buttons) <= 4
    assert all(len(row) == 1 for row in which.rows)
    harbour.tap(ANNA, next(iter(which.buttons)))
    assert any("nearest tide station is Beaufort" in each.text for each in harbour.chats[ANNA])


@pytest.mark.parametrize("said", ["30.15 -85.67", "30.15N 85.67W", "30.15, -85.67", "30.15° N 85.67° w"])
def test_degrees_can_be_typed_and_are_rounded_for_the_log(harbour: Harbour, said: str) -> None:
    harbour.say(ANNA, f"/place {said}")
    assert any("nearest tide station is Courtney Point" in each.text for each in harbour.chats[ANNA])
    with harbour.store.reading() as rows:
        (place,) = rows.execute("SELECT lat_deg, lon_deg FROM places").fetchall()
        assert place == (round(30.15, kept.ROUNDED_TO), round(-85.67, kept.ROUNDED_TO))


@pytest.mark.parametrize("said", ["9" * 400, "91 200", "<b>", "30.15", "🔔"])
def test_a_place_that_is_none_gets_a_short_answer(harbour: Harbour, said: str) -> None:
    assert len(harbour.say(ANNA, f"/place {said}")[-1].text) < 300


# --- odd signs, forged taps --------------------------------------------------------------------------------


def test_signs_that_nobody_types_are_left_out() -> None:
    assert readable("a\x00b\x07 \u202ec\ud800\n½ 🔔 é") == "ab c\n½ 🔔 é"
    assert readable("\x00\x01") == ""


@pytest.mark.parametrize(
    "data",
    ["q", "q:1", "p:side", "p:", "l:8656483", "l:x", "l:", "t:0", "f:boat", "f:me", "f:boat:99", "k:1"],
)
def test_a_forged_tap_erases_nothing_and_breaks_nothing(harbour: Harbour, data: str) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, "b3")
    harbour.tap_data(ANNA, data, number=harbour.latest(ANNA).number)
    assert harbour.facts(ANNA)["catch.course"] == "faded"
    assert harbour.say(ANNA, "count")[-1].text == "Bow 3"


DATA = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=64),
    st.from_regex(r"[acfhklmpqrtuwxz](:[0-9a-z]{0,8}){0,3}", fullmatch=True),
    st.tuples(st.sampled_from("amu"), st.text(max_size=9)).map(lambda both: (both[0], both[1])),
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.lists(DATA, min_size=1, max_size=6), TEXTS)
def test_whatever_is_tapped_or_typed_nothing_breaks_and_every_message_is_one_that_may_be_sent(
    shipped: Rulebook, plain: Any, taps: list[Any], text: str
) -> None:
    harbour = Harbour(":memory:", shipped, plain)
    try:
        harbour.say(ANNA, COMPLAINT)
        asked = harbour.latest(ANNA).buttons["Yes"].split(":")[1]
        for tap in taps:
            data = tap if isinstance(tap, str) else f"{tap[0]}:{asked}:{tap[1]}"
            latest = harbour.latest(ANNA) if ANNA in harbour.chats else harbour.say(ANNA, "/start")[-1]
            harbour.tap_data(ANNA, data[:64], number=latest.number)
        for said in (text, f"/{text}", f"/name {text}", f"/place {text}", f"/picture {text}", f"b1 {text}"):
            harbour.say(ANNA, said)
        for shown in harbour.chats[ANNA]:
            assert 1 <= len(shown.text.encode("utf-16-le", "surrogatepass")) // 2 <= 4096
    finally:
        harbour.store.close()


def test_a_tap_with_data_of_another_boat_finds_nothing_there(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    with harbour.store.writing() as rows:
        due.ring(rows, harbour.boat(ANNA), Bell("low", "x", START, "Low water here."))
    (rang,) = harbour.later(0)
    harbour.say(BEN, "b1")
    harbour.tap_data(BEN, rang.buttons["Done"], number=harbour.latest(BEN).number)
    assert harbour.latest(BEN).text == words.BELL_GONE
    harbour.tap(ANNA, "Done")
    assert rang.text.endswith(words.BELL_DONE)


def test_what_may_not_wait_is_marked_as_urgent(harbour: Harbour) -> None:
    urgent: list[Any] = []
    deliver = harbour._deliver

    def noted(letters: list[Letter]) -> Any:
        urgent.append([bool(letter.body.get("urgent")) for letter in letters])
        return deliver(letters)

    harbour._deliver = noted  # type: ignore[method-assign]
    for said in ("b1", "clear the water", "/clear", "I hear thunder"):
        harbour.say(CREW, said)
    assert urgent == [[False, False], [True], [True], [True]]


def test_an_event_without_anything_in_it_is_answered(harbour: Harbour) -> None:
    assert Event(update_id=1, chat="1", is_group=False, person="1", kind="text", at=0.0).text == ""
    assert harbour.say(ANNA, "")
