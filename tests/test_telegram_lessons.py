"""Lessons on the bot: the school of `coach drill` in a chat, an item a screen, and how one stands."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
import school_bank
from boats import Harbour
from pupils import ANNA, BEN, CASE, SIDE, answers, digits, learner, mastered, open_item, opens, with_bank

from coach.front.school import Classroom
from coach.front.telegram import words
from coach.front.telegram.lessons import learner_of
from coach.model import Rulebook
from coach.rulebook import default_folder
from coach.school import kept
from coach.store import Store


@pytest.fixture
def harbour(harbour: Harbour) -> Harbour:
    return with_bank(harbour)


# --- an item a screen ------------------------------------------------------------------------------------


def test_a_whole_lesson_puts_one_item_a_screen_with_at_most_four_answers_one_a_row(harbour: Harbour) -> None:
    harbour.say(ANNA, "/lesson")
    for _ in range(40):
        if learner(harbour, ANNA).open is None:
            break
        screen, item = harbour.latest(ANNA), open_item(harbour, ANNA)
        assert item.ask in screen.text
        *rows, standing = screen.rows
        assert len(rows) == len(item.choices) <= 4
        assert all(len(row) == 1 for row in rows)
        assert [text for text, _ in standing] == ["Hint", "Don't know", "Stop"]
        assert {choice.text for choice in item.choices} == set(digits(screen))
        answers(harbour, ANNA)
    last = harbour.latest(ANNA)
    assert "That was it for today: 4 of 4 right at first go." in last.text
    assert "Another round" in last.buttons


def test_how_sure_one_is_is_asked_as_answers_of_their_own_on_the_same_message(harbour: Harbour) -> None:
    opens(harbour, ANNA, SIDE)
    messages = len(harbour.chats[ANNA])
    harbour.tap(ANNA, harbour.latest(ANNA).rows[0][0][0])
    assert len(harbour.chats[ANNA]) == messages
    assert [row[0][0] for row in harbour.latest(ANNA).rows] == ["A guess", "Fairly sure", "Certain", "Stop"]
    assert "How sure are you?" in harbour.latest(ANNA).text
    harbour.tap(ANNA, "Fairly sure")
    assert learner(harbour, ANNA).sure["fairly"][0] == 1


@pytest.mark.parametrize("item", [SIDE, CASE])
def test_a_question_about_a_picture_sends_it_with_its_words_then_asks(harbour: Harbour, item: str) -> None:
    picture, question = opens(harbour, ANNA, item)[-2:]
    assert picture.text.startswith("(picture) ")
    drawn = harbour.lessons.picture(
        learner(harbour, ANNA), now=datetime.fromtimestamp(harbour.at, UTC), theme="dim"
    )
    assert drawn is not None
    assert "\n".join(drawn.words) in picture.text
    assert open_item(harbour, ANNA).ask in question.text
    assert question.rows


def test_hints_come_one_by_one_and_stay_under_the_question(harbour: Harbour) -> None:
    opens(harbour, ANNA, SIDE)
    item = open_item(harbour, ANNA)
    for number in range(1, len(item.hints) + 1):
        harbour.tap(ANNA, "Hint")
        for hint in item.hints[:number]:
            assert hint in harbour.latest(ANNA).text
    harbour.tap(ANNA, "Hint")
    assert "That is all I can hint at" in harbour.latest(ANNA).text


@pytest.mark.parametrize("way", ["tap", "digit", "words"])
def test_an_item_is_answered_by_tap_digit_or_words_alike(harbour: Harbour, way: str) -> None:
    opens(harbour, ANNA, SIDE)
    item, listed = open_item(harbour, ANNA), digits(harbour.latest(ANNA))
    place = listed.index(item.answer)
    {"tap": lambda: harbour.tap(ANNA, item.answer), "digit": lambda: harbour.say(ANNA, str(place + 1)),
     "words": lambda: harbour.say(ANNA, item.answer)}[way]()  # fmt: skip
    harbour.say(ANNA, "certain")
    assert learner(harbour, ANNA).cards[SIDE].wrong == 0


def test_a_learner_stands_where_one_at_the_terminal_stands_who_answered_the_same(
    harbour: Harbour, shipped: Rulebook
) -> None:
    typed = ["", "6", "certain", "hint", "5", "?", "1", "fairly sure", "2", "a guess", "7", "certain"]
    harbour.say(ANNA, "/summary")
    with Store(":memory:") as store:
        room = Classroom(store, shipped, default_folder())
        room.__dict__["bank"] = school_bank.bank()
        for text in typed:
            harbour.say(ANNA, text or "/lesson")
            now = datetime.fromtimestamp(harbour.at, UTC).astimezone(ZoneInfo("America/New_York"))
            room.lesson_step("x", text, now=now)
        theirs = room.known("x")
    with harbour.store.reading() as rows:
        name = learner_of(str(ANNA))
        ours = kept.learner(rows, name), kept.answers(rows, name)
    apart = {"name": "x", "called": None, "said": ()}
    assert ours[0].model_copy(update=apart) == theirs[0]
    assert ours[1] == theirs[1]
    assert len(ours[1]) >= 4


def test_a_tap_under_a_question_that_was_answered_changes_nothing_and_shows_the_open_one(
    harbour: Harbour,
) -> None:
    opens(harbour, ANNA, SIDE, CASE)
    first = harbour.latest(ANNA)
    data, number = next(iter(first.buttons.values())), first.number
    harbour.say(ANNA, "?")
    before = learner(harbour, ANNA)
    harbour.tap_data(ANNA, data, number=number)
    assert learner(harbour, ANNA) == before
    assert first.text == words.CLOSED
    assert open_item(harbour, ANNA).ask in harbour.latest(ANNA).text


@pytest.mark.parametrize("data", ["e", "e:", "e:x:1", "e::m", "e:x:s", "g", "g:sheet", "e:x:999", "e::h"])
def test_a_made_up_tap_breaks_nothing(harbour: Harbour, data: str) -> None:
    opens(harbour, ANNA, SIDE)
    before = learner(harbour, ANNA)
    harbour.tap_data(ANNA, data, number=harbour.latest(ANNA).number)
    assert learner(harbour, ANNA) == before


# --- how one stands --------------------------------------------------------------------------------------


def test_progress_is_told_and_a_captain_signs_what_is_ready(harbour: Harbour) -> None:
    assert "not begun" in harbour.say(ANNA, "/progress")[-1].text
    assert harbour.say(ANNA, "/progress sign Bo")[-1].text == words.SIGN_NOTHING
    mastered(harbour, ANNA, "heights")
    assert words.SIGN_HOW in harbour.say(ANNA, "/progress")[-1].text
    assert harbour.say(ANNA, "/progress sign")[-1].text == words.SIGN_HOW
    harbour.say(ANNA, "/progress sign Bo Larsen")
    told = harbour.say(ANNA, "/progress")[-1]
    assert "signed by Bo Larsen on 2027-02-1" in told.text
    assert words.SIGN_HOW not in told.text
    assert harbour.tap(ANNA, words.SHEET)[-1].text == "(file) sheet.html"


def test_one_is_greeted_by_the_name_one_counts_under(harbour: Harbour) -> None:
    assert "Welcome. A few questions" in harbour.say(ANNA, "/lesson")[-2].text
    harbour.say(BEN, "/name Maren bow")
    assert "Welcome, Maren. A few questions" in harbour.say(BEN, "/lesson")[-2].text
