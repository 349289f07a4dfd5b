"""A lesson on the bot beside the consultation that it leaves alone, and dangers spoken of in it."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
import school_bank
from boats import Harbour
from pupils import ANNA, CREW, SIDE, answers, learner, open_item, opens, with_bank

from coach.front.lessons import LEFT_H, Lessons
from coach.front.telegram import words
from coach.school.spacing import MissingSchedulerError
from coach.school.state import Learner, Open

COMPLAINT = "was good till nine then it faded"
DANGER = "my brother fell overboard"


@pytest.fixture
def harbour(harbour: Harbour) -> Harbour:
    return with_bank(harbour)


# --- the consultation beside it --------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["word", "tap", "command"])
def test_stop_goes_back_to_the_consultation_which_stands_as_it_stood(harbour: Harbour, way: str) -> None:
    harbour.say(ANNA, COMPLAINT)
    question = harbour.latest(ANNA).text.rpartition("\n\n")[2]
    before = harbour.store.look(harbour.boat(ANNA))
    harbour.say(ANNA, "/lesson")
    answers(harbour, ANNA)
    harbour.say(ANNA, "hint")
    {"word": lambda: harbour.say(ANNA, "stop"), "tap": lambda: harbour.tap(ANNA, "Stop"),
     "command": lambda: harbour.say(ANNA, "/lesson stop")}[way]()  # fmt: skip
    assert harbour.latest(ANNA).text == question
    assert harbour.store.look(harbour.boat(ANNA)) == before
    harbour.say(ANNA, "yes")
    assert harbour.facts(ANNA)["safety.all_clear"] is True


def test_a_danger_spoken_of_in_a_lesson_is_heard_by_the_coach_at_once(harbour: Harbour) -> None:
    harbour.say(ANNA, "/lesson")
    answered, rests = harbour.say(ANNA, DANGER)
    assert answered.text.startswith("⚠ Somebody in the water")
    assert rests.text == words.LESSON_RESTS
    before = learner(harbour, ANNA)
    assert harbour.say(ANNA, "/lesson")[-1].text == words.LESSON_NOT_NOW
    harbour.say(ANNA, "6")  # the coach is spoken to until all is safe
    assert learner(harbour, ANNA) == before
    harbour.say(ANNA, "all safe")
    assert harbour.say(ANNA, "/lesson")[-1].text.startswith(open_item(harbour, ANNA).ask)
    harbour.say(ANNA, "6")
    assert learner(harbour, ANNA).open != before.open


@pytest.mark.parametrize(
    "text", ["lightning overhead", "we are taking on water", "there is a fire aboard", "we drag our anchor",
             "fog came down", "he is hurt badly"],
)  # fmt: skip
def test_any_hazard_of_the_rules_goes_before_the_lesson(harbour: Harbour, text: str) -> None:
    opens(harbour, ANNA, SIDE)
    assert harbour.say(ANNA, text)[0].text.startswith("⚠ ")


def test_an_answer_of_the_open_question_is_no_danger_though_it_names_one(harbour: Harbour) -> None:
    bank = school_bank.bank()
    named = [
        (name, choice.text)
        for name in bank.in_topic("safety")[:60]
        if (item := bank.item(name)) is not None
        for choice in item.choices
        if harbour.lessons.is_hazard(choice.text, Learner(name="x"), now=school_bank.NOON)
    ]
    assert named  # such answers are there
    for name, text in named[:5]:
        state = Learner(name="x", open=Open(item=name))
        assert not harbour.lessons.is_hazard(text, state, now=school_bank.NOON)
        assert harbour.lessons.is_hazard(f"help! {DANGER}", state, now=school_bank.NOON)


def test_the_water_is_cleared_in_the_middle_of_a_lesson_which_then_rests(harbour: Harbour) -> None:
    harbour.say(ANNA, "/lesson")
    answered, rests = harbour.say(ANNA, words.CLEAR)
    assert "Clear the water, in this order:\n1. " in answered.text
    assert rests.text == words.LESSON_RESTS


def test_counting_and_commands_go_on_in_a_lesson(harbour: Harbour) -> None:
    harbour.say(ANNA, "/lesson")
    before = learner(harbour, ANNA)
    assert harbour.say(ANNA, "b3 s5")[-1].text == "Bow 3, stern 5"
    assert harbour.say(ANNA, "/bells")[-1].text == words.BELLS_NONE
    assert learner(harbour, ANNA) == before
    assert "A digit picks an answer" in harbour.say(ANNA, "help")[-1].text


def test_who_left_a_lesson_open_for_hours_speaks_to_the_coach_again(harbour: Harbour) -> None:
    harbour.say(ANNA, "/lesson")
    harbour.later(60 * LEFT_H + 1)
    harbour.say(ANNA, COMPLAINT)
    assert harbour.facts(ANNA)["catch.course"] == "faded"
    harbour.tap(ANNA, "Hint")  # its buttons still answer
    opened = learner(harbour, ANNA).open
    assert opened is not None
    assert opened.hints == 1
    harbour.later(60 * LEFT_H + 1)
    harbour.say(ANNA, "/lesson")
    harbour.say(ANNA, "hint")  # taken up again, words are for the lesson
    opened = learner(harbour, ANNA).open
    assert opened is not None
    assert opened.hints == 2


def test_in_quiet_hours_it_says_so_and_goes_on_for_whoever_came_by_himself(harbour: Harbour) -> None:
    opens(harbour, ANNA, SIDE)
    harbour.say(ANNA, "stop")
    harbour.later(120)  # ten at night on the boat's clock
    assert any("It is your quiet time" in each.text for each in harbour.say(ANNA, "/lesson"))
    harbour.say(ANNA, "stop")
    harbour.later(12 * 60)
    assert not any("quiet time" in each.text for each in harbour.say(ANNA, "/lesson"))


def test_nothing_of_the_school_rings_by_itself(harbour: Harbour) -> None:
    opens(harbour, ANNA, SIDE)
    answers(harbour, ANNA, rightly=False)
    assert [harbour.later(60) for _ in range(48)] == [[]] * 48


def test_where_there_can_be_no_lesson_it_says_so_and_the_coach_is_there_all_the_same(
    harbour: Harbour, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(*_: float) -> float:
        raise MissingSchedulerError("The school needs a part that is not installed (fsrs).")

    with monkeypatch.context() as patched:
        patched.setattr("coach.front.school.recall_after", missing)
        harbour.lessons.room.__dict__.pop("lesson", None)
        assert harbour.say(ANNA, "/lesson")[-1].text.startswith("The school needs a part")
    faulty = Lessons(harbour.store, harbour.lessons._book, tmp_path, infer=harbour.lessons._infer)
    with monkeypatch.context() as patched:
        patched.setattr(harbour.office._tutor, "_lessons", faulty)
        assert "coach rules check" in harbour.say(ANNA, "/lesson")[-1].text
    opens(harbour, ANNA, SIDE)
    with harbour.store.writing() as rows:
        rows.execute("UPDATE learners SET state = '{\"name\": 1}'")
    assert "another version" in harbour.say(ANNA, "/lesson")[-1].text
    assert "another version" in harbour.say(ANNA, "/progress")[-1].text
    harbour.say(ANNA, COMPLAINT)
    assert harbour.facts(ANNA)["catch.course"] == "faded"
    harbour.say(ANNA, "/forget")
    harbour.tap(ANNA, "Erase it")
    assert "Welcome." in harbour.say(ANNA, "/lesson")[-2].text


def test_a_boater_is_coached_in_words_by_whoever_learns_and_shown_at_the_end(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    before = harbour.store.look(harbour.boat(ANNA))
    assert 'A boater calls: "' in harbour.say(ANNA, "/lesson play")[-1].text
    assert harbour.say(ANNA, "how deep is it?")[-1].text.startswith('"')
    assert harbour.say(ANNA, "are you dragging?")[-1].text.startswith('"')  # asked of the boater: no danger
    assert harbour.tap(ANNA, "Show it")[0].text.startswith("It is: ")
    assert "Another boater" in [text for each in harbour.chats[ANNA] for text in each.buttons]
    assert harbour.store.look(harbour.boat(ANNA)) == before
    first = learner(harbour, ANNA).last_boater
    harbour.tap(ANNA, "Another boater")
    assert learner(harbour, ANNA).last_boater != first
    assert harbour.say(ANNA, DANGER)[0].text.startswith("⚠ ")


def test_ones_own_trips_are_looked_back_on_and_each_but_once(harbour: Harbour) -> None:
    assert "No trip in the log has a finding yet" in harbour.say(ANNA, "/lesson trips")[-1].text
    now = datetime.fromtimestamp(harbour.at, UTC)
    school_bank.advised(harbour.office._desk, harbour.boat(ANNA), now)
    question = harbour.say(ANNA, "/lesson trips")[-1]
    assert "Your trip of" in question.text
    right = next(label for label in question.buttons if label.startswith("The water has fallen"))
    assert "Right." in harbour.tap(ANNA, right)[0].text
    assert any("No trip in the log" in each.text for each in harbour.say(ANNA, "/lesson trips"))


def test_a_crews_group_is_sent_to_a_chat_of_ones_own(harbour: Harbour) -> None:
    assert harbour.say(CREW, "/lesson", person=ANNA)[-1].text == words.LESSON_ALONE
    assert harbour.say(CREW, "/progress", person=ANNA)[-1].text == words.LESSON_ALONE
