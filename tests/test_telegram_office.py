"""How the bot behaves for people in a boat: first words, questions, answers, by tap, digit and word."""

from pathlib import Path
from typing import Any

import pytest
from boats import COMPLAINT, Harbour

from coach.front.telegram import words
from coach.front.telegram.config import Config
from coach.model import Rulebook
from coach.post import inbox

ANNA, BEN = 11, 22
SECRET = "Quillfeather-lost-her-oar"


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
