"""Lessons on the bot: the school of `coach drill` in a chat, beside a consultation that it leaves alone."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import school_bank
from boats import Harbour, Shown
from bots import BotProcess
from fake_bot_api import FakeBotApi
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_telegram_aboard import bytes_on_disk
from test_telegram_bot import MODES, bot_on

from coach.front.lessons import LEFT_H, Lessons
from coach.front.school import Classroom
from coach.front.telegram import limits, words
from coach.front.telegram.lessons import learner_of
from coach.model import Rulebook
from coach.rulebook import default_folder
from coach.school import kept
from coach.school.parts import Item
from coach.school.spacing import MissingSchedulerError
from coach.school.state import Learner, Open, Sitting
from coach.store import Store

ANNA, BEN, CREW = 11, 22, -33
COMPLAINT = "was good till nine then it faded"
DANGER = "my brother fell overboard"
SIDE, CASE = "scene/which-high", "case/ebb-took-it/wrong"


@pytest.fixture
def harbour(tmp_path: Path, shipped: Rulebook, plain: Any) -> Iterator[Harbour]:
    made = with_bank(Harbour(tmp_path / "a.db", shipped, plain))
    yield made
    made.store.close()


def with_bank(harbour: Harbour) -> Harbour:
    """The bot with items that are made once for all tests."""
    harbour.lessons.room.__dict__["bank"] = school_bank.bank()
    return harbour


def learner(harbour: Harbour, chat: int) -> Learner:
    with harbour.store.reading() as rows:
        return kept.learner(rows, learner_of(str(chat)))


def open_item(harbour: Harbour, chat: int) -> Item:
    opened = learner(harbour, chat).open
    assert opened is not None
    item = school_bank.bank().item(opened.item, opened.turn)
    assert item is not None
    return item


def opens(harbour: Harbour, chat: int, item: str, *more: str) -> list[Shown]:
    """A learner with this question open, and others to come; the lesson goes on with it."""
    state = Learner(name=learner_of(str(chat)), open=Open(item=item), began=True, sitting=Sitting(queue=more))
    with harbour.store.writing() as rows:
        kept.keep(rows, state, at=datetime.fromtimestamp(harbour.at, UTC))
    return harbour.say(chat, "/lesson")


def answers(harbour: Harbour, chat: int, *, rightly: bool = True) -> list[Shown]:
    """Answer the open question by tap or number, then say that it is certain where that is asked."""
    item = open_item(harbour, chat)
    if item.wanted is not None:
        shown = harbour.say(chat, f"{item.wanted.value:g}" if rightly else "999")
    else:
        chosen = next(each for each in item.choices if (each.id == item.right) == rightly)
        place = next(at for at, row in enumerate(digits(harbour.latest(chat))) if row == chosen.text)
        shown = harbour.tap(chat, harbour.latest(chat).rows[place][0][0])
    opened = learner(harbour, chat).open
    return harbour.tap(chat, "Certain") if opened and opened.phase == "sure" else shown


def digits(shown: Shown) -> list[str]:
    """The answers of a screen as they stand in its words."""
    lines = shown.text.splitlines()
    return [line.split("  ", 1)[1] for line in lines if line[:1].isdecimal() and "  " in line]


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


# --- how one stands --------------------------------------------------------------------------------------


def mastered(harbour: Harbour, chat: int, topic: str) -> None:
    state = Learner(name=learner_of(str(chat)), tries={topic: "1" * 12}, began=True)
    with harbour.store.writing() as rows:
        kept.keep(rows, state, at=datetime.fromtimestamp(harbour.at, UTC))


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


# --- kept, exported, forgotten ---------------------------------------------------------------------------


def test_a_step_is_kept_together_with_the_message_that_brought_it_or_not_at_all(
    harbour: Harbour, monkeypatch: pytest.MonkeyPatch
) -> None:
    harbour.say(ANNA, "/lesson")
    before = learner(harbour, ANNA)

    def broken(*_: object) -> None:
        raise RuntimeError("the power went")

    monkeypatch.setattr("coach.front.telegram.office.outbox.put", broken)
    with pytest.raises(RuntimeError):
        harbour.say(ANNA, "6")
    assert learner(harbour, ANNA) == before


TYPED = st.sampled_from(["/lesson", "6", "1", "2", "?", "hint", "stop"])
STEPS = st.lists(st.tuples(st.sampled_from([ANNA, BEN, 44]), TYPED), min_size=4, max_size=24)


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(STEPS)
def test_the_cards_of_two_learners_never_mix(
    shipped: Rulebook, plain: Any, steps: list[tuple[int, str]]
) -> None:
    """Each of three learners stands as if the other two were not there."""
    together = with_bank(Harbour(":memory:", shipped, plain))
    try:
        at = {}
        for number, (chat, text) in enumerate(steps):
            together.say(chat, text)
            at[number] = together.at
        for chat in {chat for chat, _ in steps}:
            alone = with_bank(Harbour(":memory:", shipped, plain))
            for number, (who, text) in enumerate(steps):
                if who == chat:
                    alone.at = at[number] - 1
                    alone.say(chat, text)
            assert learner(alone, chat) == learner(together, chat)
            alone.store.close()
    finally:
        together.store.close()


def test_export_brings_what_was_learned_and_nobody_elses(harbour: Harbour) -> None:
    opens(harbour, ANNA, SIDE)
    answers(harbour, ANNA)
    opens(harbour, BEN, CASE)
    answers(harbour, BEN)
    assert [each.text for each in harbour.say(ANNA, "/export")] == [
        "(file) json", "(file) csv", "(file) lessons.json", "(file) lessons.csv"
    ]  # fmt: skip
    body = {"learner": learner_of(str(ANNA)), "part": "lessons.json", "at": "2027-02-11T20:00:00-05:00"}
    exported = json.loads(harbour.painter.export(body).content)
    assert [each["item"] for each in exported["answers"]] == [SIDE]
    table = harbour.painter.export({**body, "part": "lessons.csv"}).content.decode()
    assert SIDE in table
    assert CASE not in table


@pytest.mark.parametrize("joined", [False, True], ids=["alone", "on a boat with others"])
def test_forgetting_leaves_no_byte_of_what_was_learned(
    harbour: Harbour, tmp_path: Path, joined: bool
) -> None:
    harbour.say(ANNA, "/summary")
    opens(harbour, BEN, CASE)
    if joined:
        harbour.say(BEN, "/boat")
        harbour.say(ANNA, f"/boat {harbour.latest(BEN).text.split('/boat ')[1].split()[0]}")
    opens(harbour, ANNA, SIDE, "scene/side-fallen")
    answers(harbour, ANNA)
    mastered(harbour, ANNA, "heights")
    harbour.say(ANNA, "/progress sign Quillfeather")
    name = learner_of(str(ANNA)).encode()
    traces = (name, SIDE.encode(), b"Quillfeather")
    assert all(each in bytes_on_disk(tmp_path) for each in traces)
    harbour.say(ANNA, "/forget")
    harbour.tap(ANNA, "Erase it")
    assert not [each for each in traces if each in bytes_on_disk(tmp_path)]
    assert open_item(harbour, BEN).id == CASE
    assert "Welcome." in harbour.say(ANNA, "/lesson")[-2].text


# --- the whole bot ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("mode", MODES)
def test_a_lesson_goes_through_in_both_modes_with_a_picture_and_every_call_is_a_legal_one(
    tmp_path: Path, shipped: Rulebook, plain: Any, monkeypatch: pytest.MonkeyPatch, mode: str
) -> None:
    monkeypatch.setattr(limits, "GAP_S", 0.02)
    state = Learner(name=learner_of("7"), open=Open(item=SIDE), began=True)
    with Store(tmp_path / "a.db") as store, store.writing() as rows:
        kept.keep(rows, state, at=datetime.now(UTC))
    with FakeBotApi() as api, bot_on(api, tmp_path / "a.db", shipped, plain, mode=mode):
        api.say(7, "/lesson")
        api.wait_for(lambda: any("Which lamp" in each.text for each in api.chats[7]))
        photo = next(each for each in api.chats[7] if each.file)
        assert photo.file is not None
        assert photo.file.startswith(b"\x89PNG")
        assert "lamp" in photo.text
        label = api.latest(7).rows[0][0]
        api.tap_label(7, label)
        api.wait_for(lambda: "How sure" in api.latest(7).text)
        api.tap_label(7, "Certain")
        api.wait_for(lambda: any("That was it for today" in each.text for each in api.chats[7]))
    assert not api.wrong
    assert api.unconfirmed == 0


def test_a_lesson_goes_on_after_a_kill_where_it_stood(tmp_path: Path) -> None:
    with FakeBotApi() as api:
        bot = BotProcess(api, tmp_path)
        bot.start()
        api.say(7, "/lesson")
        asked = "Type the number"
        api.wait_for(lambda: any(asked in each.text for each in api.chats.get(7, [])), at_most_s=40)
        api.say(7, "3")
        api.wait_for(lambda: "How sure" in api.latest(7).text)
        bot.kill()
        with bot:
            api.tap_label(7, "Certain")
            api.wait_for(lambda: "(certain)" in "".join(each.text for each in api.chats[7]), at_most_s=40)
    with Store(bot.store) as store, store.reading() as rows:
        (answer,) = kept.answers(rows, learner_of("7"))
    assert (answer.picked, answer.sure) == ("3", "certain")


