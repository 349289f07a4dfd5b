"""Lessons in the page, through its addresses: the school beside a consultation that it leaves alone."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import school_bank
from browsers import CONSULTATION, START, Browser, Ship
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pupils import CASE, SIDE, at_question

from coach.consult import Desk
from coach.dialogue import step
from coach.front.school import Classroom
from coach.front.web import words
from coach.model import Rulebook
from coach.rulebook import default_folder
from coach.school import kept
from coach.school.parts import Item
from coach.school.state import Learner
from coach.store import Store

COMPLAINT = CONSULTATION[0]
DANGER = "my brother fell overboard"


def with_bank(ship: Ship) -> Ship:
    """The page with items that are made once for all tests."""
    ship.web._lessons._lessons.room.__dict__["bank"] = school_bank.bank()
    return ship


@pytest.fixture
def ship(ship: Ship) -> Ship:
    return with_bank(ship)


def boat_of(browser: Browser) -> str:
    with browser.ship.store.reading() as rows:
        return str(rows.execute("SELECT boat FROM browsers ORDER BY rowid DESC").fetchone()[0])


def learner(browser: Browser, boat: str) -> Learner:
    with browser.ship.store.reading() as rows:
        return kept.learner(rows, boat)


def lesson(browser: Browser) -> dict[str, Any]:
    return dict(browser.state()["lesson"])


def answer(browser: Browser, what: str) -> dict[str, Any]:
    return browser.do("answer", what, lesson(browser)["token"])


def item_of(name: str) -> Item:
    item = school_bank.bank().item(name)
    assert item is not None
    return item


# --- through its addresses -------------------------------------------------------------------------------


def test_a_lesson_begins_and_stops_and_the_consultation_stands_as_it_stood(browser: Browser) -> None:
    browser.say(COMPLAINT)
    before = browser.state()
    browser.do("learn")
    assert lesson(browser)["is_open"]
    assert "Welcome. A few questions" in lesson(browser)["said"][0]
    answer(browser, "6")
    answer(browser, "hint")
    browser.do("learn", "stop")
    after = browser.state()
    assert not after["lesson"]["is_open"]
    assert {key: after[key] for key in ("log", "ask", "counts", "bells")} == {
        key: before[key] for key in ("log", "ask", "counts", "bells")
    }


def test_a_learner_stands_where_one_at_the_terminal_stands_who_answered_the_same(
    browser: Browser, shipped: Rulebook
) -> None:
    typed = ["6", "certain", "hint", "5", "?", "1", "fairly sure", "2", "a guess", "7", "certain"]
    boat = boat_of(browser)
    with Store(":memory:") as store:
        room = Classroom(store, shipped, default_folder())
        room.__dict__["bank"] = school_bank.bank()
        room.lesson_step("x", "", now=datetime.fromtimestamp(browser.ship.clock, UTC).astimezone())
        browser.do("learn")
        for text in typed:
            browser.ship.clock += 30
            answer(browser, text)
            room.lesson_step("x", text, now=datetime.fromtimestamp(browser.ship.clock, UTC).astimezone())
        apart = {"name": "x", "called": None, "said": ()}
        assert learner(browser, boat).model_copy(update=apart) == room.known("x")[0]
        assert room.known("x")[1]


@pytest.mark.parametrize("item", [SIDE, CASE])
def test_a_question_about_a_picture_comes_with_the_picture_and_its_words(browser: Browser, item: str) -> None:
    at_question(browser.ship.store, boat_of(browser), item, at=START)
    shown = lesson(browser)
    assert shown["picture"]
    assert item_of(item).ask == shown["ask"]
    drawn = browser.get("/lesson/picture?theme=light")
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert drawn.text.startswith("<svg")
    assert browser.get("/lesson/picture?theme=pink").status_code == 404


def test_how_sure_one_is_is_asked_and_kept(browser: Browser) -> None:
    boat = boat_of(browser)
    at_question(browser.ship.store, boat, SIDE, at=START)
    answer(browser, "1")
    shown = lesson(browser)
    assert (shown["kind"], shown["answers"]) == ("sure", ["A guess", "Fairly sure", "Certain"])
    answer(browser, "2")
    assert learner(browser, boat).sure["fairly"][0] == 1


def test_what_was_said_about_an_answer_is_still_there_after_a_refresh_and_a_restart(
    browser: Browser, shipped: Rulebook, plain: Any
) -> None:
    at_question(browser.ship.store, boat_of(browser), SIDE, CASE, at=START)
    answer(browser, "?")
    shown = lesson(browser)
    assert shown["said"][0] == "So you know it next time:"
    again = Ship(browser.ship.path, shipped, plain)
    browser.ship = again
    assert lesson(browser) == shown
    again.store.close()


def test_an_answer_that_comes_twice_or_late_is_not_taken_for_the_next_question(browser: Browser) -> None:
    boat = boat_of(browser)
    at_question(browser.ship.store, boat, SIDE, CASE, at=START)
    body = {"id": "message-twice", "do": "answer", "what": "?", "about": lesson(browser)["token"]}
    first = browser.post(json.dumps(body)).json()
    before = learner(browser, boat)
    assert browser.post(json.dumps(body)).json()["state"]["lesson"] == first["state"]["lesson"]
    late = browser.do("answer", "1", body["about"])
    assert late["note"] == words.CLOSED
    assert learner(browser, boat) == before


def test_a_danger_told_in_a_lesson_is_heard_by_the_coach_and_the_lesson_rests(browser: Browser) -> None:
    at_question(browser.ship.store, boat_of(browser), SIDE, at=START)
    told = answer(browser, DANGER)
    assert told["note"] == words.LESSON_RESTS
    assert told["state"]["log"][-1]["lines"][0]["kind"] == "hazard"
    assert not told["state"]["lesson"]["is_open"]
    assert browser.do("learn")["error"] == {"code": "not-now", "say": words.LESSON_NOT_NOW}
    browser.say("all safe")
    assert browser.do("learn")["state"]["lesson"]["is_open"]


def test_a_boater_is_coached_in_words_and_what_he_said_survives_a_refresh(browser: Browser) -> None:
    browser.do("learn", "play")
    assert lesson(browser)["kind"] == "boater"
    assert 'A boater calls: "' in lesson(browser)["ask"]
    told = answer(browser, "how deep is it?")
    assert told["note"] == ""
    assert lesson(browser)["said"][0].startswith('"')
    answer(browser, "are you dragging?")  # a question to the boater is no danger of one's own
    assert lesson(browser)["is_open"]
    answer(browser, "give up")
    closed = lesson(browser)
    assert not closed["is_open"]
    assert closed["said"][0].startswith("It is: ")
    assert closed["has_played"]


def test_a_danger_told_while_a_boater_is_coached_is_heard(browser: Browser) -> None:
    browser.do("learn", "play")
    told = answer(browser, DANGER)
    assert told["state"]["log"][-1]["lines"][0]["kind"] == "hazard"


def test_ones_own_trip_is_looked_back_on_once(browser: Browser) -> None:
    browser.do("learn", "trips")
    assert "No trip in the log has a finding yet" in lesson(browser)["said"][0]
    store, book, infer = browser.ship.web._office._turns._desk.parts
    desk = Desk(store, book, infer=infer, step=step)
    school_bank.advised(desk, boat_of(browser), datetime.fromtimestamp(START, UTC))
    browser.do("learn", "trips")
    shown = lesson(browser)
    assert shown["kind"] == "trip"
    assert shown["ask"].startswith("Your trip of")
    right = next(label for label in shown["answers"] if label.startswith("The water has fallen"))
    answer(browser, str(shown["answers"].index(right) + 1))
    assert lesson(browser)["said"][0] == "Right."
    browser.do("learn", "trips")
    assert not lesson(browser)["is_open"]


def test_progress_is_shown_and_a_captain_signs_what_is_ready(browser: Browser) -> None:
    boat = boat_of(browser)
    assert browser.do("sign", "Bo")["error"]["say"] == words.SIGN_NOTHING
    with browser.ship.store.writing() as rows:
        state = Learner(name=boat, tries={"heights": "1" * 12}, began=True)
        kept.keep(rows, state, at=datetime.fromtimestamp(START, UTC))
    assert browser.get("/lesson/standing").json()["is_ready"]
    assert browser.do("sign", " ")["error"]["say"] == words.SIGN_HOW
    assert browser.do("sign", "Bo Larsen")["note"] == words.SIGNED.format(by="Bo Larsen", count=1)
    standing = browser.get("/lesson/standing").json()
    assert not standing["is_ready"]
    assert any("signed by Bo Larsen" in line for line in standing["lines"])
    assert "signed by Bo Larsen" in browser.get("/sheet").text


def test_what_was_learned_is_given_out_as_files(browser: Browser) -> None:
    at_question(browser.ship.store, boat_of(browser), SIDE, at=START)
    answer(browser, "?")
    assert SIDE in browser.get("/lesson/lessons.csv").text
    assert [each["item"] for each in browser.get("/lesson/lessons.json").json()["answers"]] == [SIDE]
    assert browser.get("/lesson/other.txt").status_code == 404
    stranger = browser.ship.browser(enters=False)
    for path in ("/lesson/lessons.csv", "/lesson/standing", "/lesson/picture", "/sheet"):
        assert stranger.get(path).status_code == 401


def test_what_another_version_kept_of_a_learner_stands_in_nobodys_way(browser: Browser) -> None:
    at_question(browser.ship.store, boat_of(browser), SIDE, at=START)
    with browser.ship.store.writing() as rows:
        rows.execute("UPDATE learners SET state = '{\"name\": 1}'")
    assert not lesson(browser)["is_open"]
    assert browser.do("learn")["error"]["code"] == "no-lesson"
    assert browser.do("sign", "Bo")["error"]["code"] == "no-lesson"
    assert "another version" in browser.get("/lesson/standing").json()["lines"][0]
    assert browser.get("/sheet").status_code == 404
    assert browser.say(COMPLAINT)["error"] is None


def test_a_word_that_is_none_of_the_pages_is_refused(browser: Browser) -> None:
    assert browser.do("learn", "for ever")["error"]["code"] == "bad-value"
    assert browser.do("answer", "1", "no-token")["note"] == words.CLOSED
    assert browser.do("learn", "stop")["error"] is None


def test_forgetting_leaves_no_byte_of_what_was_learned(browser: Browser, tmp_path: Path) -> None:
    at_question(browser.ship.store, boat_of(browser), SIDE, CASE, at=START)
    answer(browser, "?")
    other = browser.ship.browser()
    at_question(browser.ship.store, boat_of(other), "scene/side-fallen", at=START)
    browser.do("command", "forget")
    on_disk = b"".join(file.read_bytes() for file in tmp_path.iterdir() if file.name.startswith("a.db"))
    assert SIDE.encode() not in on_disk
    assert CASE.encode() not in on_disk
    assert lesson(other)["is_open"]


STEPS = st.lists(
    st.tuples(st.booleans(), st.sampled_from(["learn", "6", "1", "2", "?", "hint", "stop"])),
    min_size=4, max_size=16,
)  # fmt: skip


@settings(max_examples=10, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(STEPS)
def test_the_cards_of_two_browsers_never_mix(
    shipped: Rulebook, plain: Any, steps: list[tuple[bool, str]]
) -> None:
    """What one browser is shown is what it is shown where nobody else learns."""

    def does(who: Browser, what: str) -> None:
        if what in ("learn", "stop"):
            who.do("learn", "" if what == "learn" else what)
        else:
            answer(who, what)

    ship = with_bank(Ship(":memory:", shipped, plain))
    two = {False: ship.browser(), True: ship.browser()}
    for is_second, what in steps:
        does(two[is_second], what)
    for is_second, browser in two.items():
        alone = with_bank(Ship(":memory:", shipped, plain))
        only = alone.browser()
        for who, what in steps:
            if who is is_second:
                does(only, what)
        assert lesson(only) == lesson(browser)
        alone.store.close()
    ship.store.close()
