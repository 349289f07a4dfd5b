"""Lessons in the page: the school of `coach drill` beside a consultation that it leaves alone.

First through its addresses, in-process; then in a real browser at the width of a phone and of a desk.
"""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
import school_bank
from browsers import CONSULTATION, START, Browser, Ship
from chromium import DESK, PHONE, Visitor, running_browser
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pages import PageProcess
from playwright.sync_api import Browser as Chromium

from coach.consult import Desk
from coach.dialogue import step
from coach.front.school import Classroom
from coach.front.web import words
from coach.model import Rulebook
from coach.rulebook import default_folder
from coach.school import kept
from coach.school.parts import Item
from coach.school.state import Learner, Open, Sitting
from coach.store import Store

COMPLAINT = CONSULTATION[0]
DANGER = "my brother fell overboard"
SIDE, CASE = "scene/which-high", "case/ebb-took-it/wrong"
SIZES = pytest.mark.parametrize("size", [PHONE, DESK], ids=["360", "1280"])


def with_bank(ship: Ship) -> Ship:
    """The page with items that are made once for all tests."""
    ship.web._lessons._lessons.room.__dict__["bank"] = school_bank.bank()
    return ship


@pytest.fixture
def ship(tmp_path: Path, shipped: Rulebook, plain: Any) -> Iterator[Ship]:
    made = with_bank(Ship(tmp_path / "a.db", shipped, plain))
    yield made
    made.store.close()


@pytest.fixture
def browser(ship: Ship) -> Browser:
    return ship.browser()


def boat_of(browser: Browser) -> str:
    with browser.ship.store.reading() as rows:
        return str(rows.execute("SELECT boat FROM browsers ORDER BY rowid DESC").fetchone()[0])


def learner(browser: Browser, boat: str) -> Learner:
    with browser.ship.store.reading() as rows:
        return kept.learner(rows, boat)


def opens(store: Store, boat: str, item: str, *more: str) -> None:
    state = Learner(name=boat, called="", open=Open(item=item), began=True, sitting=Sitting(queue=more))
    with store.writing() as rows:
        kept.keep(rows, state, at=datetime.fromtimestamp(START, UTC))


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
    opens(browser.ship.store, boat_of(browser), item)
    shown = lesson(browser)
    assert shown["picture"]
    assert item_of(item).ask == shown["ask"]
    drawn = browser.get("/lesson/picture?theme=light")
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert drawn.text.startswith("<svg")
    assert browser.get("/lesson/picture?theme=pink").status_code == 404


def test_how_sure_one_is_is_asked_and_kept(browser: Browser) -> None:
    boat = boat_of(browser)
    opens(browser.ship.store, boat, SIDE)
    answer(browser, "1")
    shown = lesson(browser)
    assert (shown["kind"], shown["answers"]) == ("sure", ["A guess", "Fairly sure", "Certain"])
    answer(browser, "2")
    assert learner(browser, boat).sure["fairly"][0] == 1


def test_what_was_said_about_an_answer_is_still_there_after_a_refresh_and_a_restart(
    browser: Browser, shipped: Rulebook, plain: Any
) -> None:
    opens(browser.ship.store, boat_of(browser), SIDE, CASE)
    answer(browser, "?")
    shown = lesson(browser)
    assert shown["said"][0] == "So you know it next time:"
    again = Ship(browser.ship.path, shipped, plain)
    browser.ship = again
    assert lesson(browser) == shown
    again.store.close()


def test_an_answer_that_comes_twice_or_late_is_not_taken_for_the_next_question(browser: Browser) -> None:
    boat = boat_of(browser)
    opens(browser.ship.store, boat, SIDE, CASE)
    body = {"id": "message-twice", "do": "answer", "what": "?", "about": lesson(browser)["token"]}
    first = browser.post(json.dumps(body)).json()
    before = learner(browser, boat)
    assert browser.post(json.dumps(body)).json()["state"]["lesson"] == first["state"]["lesson"]
    late = browser.do("answer", "1", body["about"])
    assert late["note"] == words.CLOSED
    assert learner(browser, boat) == before


def test_a_danger_told_in_a_lesson_is_heard_by_the_coach_and_the_lesson_rests(browser: Browser) -> None:
    opens(browser.ship.store, boat_of(browser), SIDE)
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
    opens(browser.ship.store, boat_of(browser), SIDE)
    answer(browser, "?")
    assert SIDE in browser.get("/lesson/lessons.csv").text
    assert [each["item"] for each in browser.get("/lesson/lessons.json").json()["answers"]] == [SIDE]
    assert browser.get("/lesson/other.txt").status_code == 404
    stranger = browser.ship.browser(enters=False)
    for path in ("/lesson/lessons.csv", "/lesson/standing", "/lesson/picture", "/sheet"):
        assert stranger.get(path).status_code == 401


def test_what_another_version_kept_of_a_learner_stands_in_nobodys_way(browser: Browser) -> None:
    opens(browser.ship.store, boat_of(browser), SIDE)
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
    opens(browser.ship.store, boat_of(browser), SIDE, CASE)
    answer(browser, "?")
    other = browser.ship.browser()
    opens(browser.ship.store, boat_of(other), "scene/side-fallen")
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


# --- in a real browser -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def chromium() -> Iterator[Chromium]:
    with running_browser() as found:
        yield found


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageProcess]:
    with PageProcess(tmp_path_factory.mktemp("page")) as found:
        yield found


@pytest.fixture
def newcomer(chromium: Chromium, page: PageProcess, size: tuple[int, int]) -> Iterator[Visitor]:
    """Somebody with a browser of their own; nothing is asked of another machine."""
    visitor = Visitor(chromium, page.link, size)
    yield visitor
    assert visitor.faults == []
    assert {url for url in visitor.asked if not url.startswith(f"{page.origin}/")} == set()
    visitor.close()


def goes_to_lesson(newcomer: Visitor) -> None:
    newcomer.page.click("nav [data-go=more]")
    newcomer.page.click("#learn")
    newcomer.page.wait_for_selector("#lesson-asked:not([hidden])")


def put(newcomer: Visitor, page: PageProcess, item: str, *more: str) -> None:
    """Let this question be open for the browser that came last."""
    with Store(page.store) as store:
        with store.reading() as rows:
            boat = str(rows.execute("SELECT boat FROM browsers ORDER BY rowid DESC").fetchone()[0])
        opens(store, boat, item, *more)
    newcomer.page.reload()
    goes_to_lesson(newcomer)


@SIZES
def test_a_lesson_by_taps_with_hint_and_confidence_there_and_back(newcomer: Visitor) -> None:
    newcomer.tell(COMPLAINT)
    log = newcomer.page.inner_text("#log")
    goes_to_lesson(newcomer)
    assert not newcomer.page.is_visible("#panel-log")
    newcomer.page.click("#lesson-hint")
    newcomer.page.wait_for_selector("#lesson-hints p")
    newcomer.page.click("#lesson-show")
    newcomer.wait_for_text("#lesson-said", "So you know it next time")
    newcomer.page.fill("#lesson-field", "3.5")
    newcomer.page.press("#lesson-field", "Enter")
    newcomer.wait_for_text("#lesson-answered", "How sure are you?")
    newcomer.page.get_by_role("button", name="Fairly sure").click()
    newcomer.wait_for_text("#lesson-said", "It is")
    newcomer.page.click("#lesson-stop")
    newcomer.page.wait_for_selector("#panel-log", state="visible")
    assert newcomer.page.inner_text("#log") == log
    assert newcomer.page.locator("#answers button").count() == 2


@SIZES
def test_a_lesson_by_keyboard_alone(newcomer: Visitor) -> None:
    keyboard = newcomer.page.keyboard

    def press(selector: str) -> None:
        for _ in range(60):
            keyboard.press("Tab")
            if newcomer.page.evaluate("selector => document.activeElement.matches(selector)", selector):
                keyboard.press("Enter")
                return
        raise AssertionError(f"no number of tabs leads to {selector}")

    press("nav [data-go=more]")
    press("#learn")
    newcomer.page.wait_for_selector("#lesson-asked:not([hidden])")
    press("#lesson-hint")
    newcomer.page.wait_for_selector("#lesson-hints p")
    for _ in range(60):
        keyboard.press("Shift+Tab")
        if newcomer.page.evaluate("document.activeElement.id") == "lesson-field":
            break
    keyboard.type("3")
    keyboard.press("Enter")
    newcomer.wait_for_text("#lesson-said", "comes back in a while")
    press("#lesson-stop")
    newcomer.page.wait_for_selector("#panel-log", state="visible")
    assert newcomer.page.evaluate("document.activeElement.id") == "h-log"


@SIZES
def test_a_refresh_in_the_middle_of_a_lesson_goes_on_where_it_stood(
    newcomer: Visitor, page: PageProcess
) -> None:
    put(newcomer, page, SIDE, CASE)
    newcomer.page.click("#lesson-hint")
    newcomer.page.wait_for_selector("#lesson-hints p")
    before = newcomer.page.inner_text("#panel-lesson")
    newcomer.page.reload()
    newcomer.page.wait_for_selector("#lesson-hints p")
    assert newcomer.page.inner_text("#panel-lesson") == before
    newcomer.page.click("#lesson-show")
    newcomer.wait_for_text("#lesson-said", "So you know it next time")
    newcomer.page.reload()
    newcomer.wait_for_text("#lesson-said", "So you know it next time")


@SIZES
def test_a_picture_is_drawn_and_told_and_nothing_is_wider_than_the_screen(
    newcomer: Visitor, page: PageProcess, size: tuple[int, int]
) -> None:
    put(newcomer, page, SIDE)
    newcomer.page.wait_for_function("() => document.querySelector('#lesson-picture img').naturalWidth > 0")
    assert "lamp" in newcomer.page.inner_text("#lesson-picture figcaption")
    assert newcomer.page.evaluate("document.documentElement.scrollWidth") <= size[0]
    small = newcomer.page.evaluate(
        """() => [...document.querySelectorAll('#panel-lesson button, #panel-lesson input')]
           .filter(each => each.offsetParent).map(each => [each.innerText, each.getBoundingClientRect()])
           .filter(([, box]) => box.height < 48 || box.width < 48).map(([name]) => name)"""
    )
    assert small == []


@SIZES
def test_a_danger_written_in_a_lesson_leads_back_to_the_log(newcomer: Visitor, page: PageProcess) -> None:
    put(newcomer, page, SIDE)
    newcomer.page.fill("#lesson-field", DANGER)
    newcomer.page.press("#lesson-field", "Enter")
    newcomer.wait_for_text("#log", "Somebody in the water")
    assert newcomer.page.is_visible("#log .hazard")
    assert not newcomer.page.is_visible("#panel-lesson")


@SIZES
@pytest.mark.parametrize("theme", ["dim", "light"])
def test_axe_finds_nothing_serious_in_a_lesson(newcomer: Visitor, page: PageProcess, theme: str) -> None:
    if theme == "light":
        newcomer.page.click("nav [data-go=more]")
        newcomer.page.click("#theme")
    put(newcomer, page, SIDE, CASE)
    newcomer.page.evaluate(resources.files("axe_playwright_python").joinpath("axe.min.js").read_text())

    def grave() -> list[str]:
        found = newcomer.page.evaluate("async () => (await axe.run()).violations")
        grave = [each for each in found if each["impact"] in ("serious", "critical")]
        return [node["html"] for each in grave for node in each["nodes"]]

    assert grave() == []
    newcomer.page.click("#lesson-answers button >> nth=0")
    newcomer.wait_for_text("#lesson-answered", "How sure are you?")
    assert grave() == []
    newcomer.page.click("#lesson-answers button >> nth=0")
    newcomer.page.wait_for_selector("#lesson-say:not([hidden])")
    assert grave() == []
    newcomer.page.click("#lesson-stop")
    newcomer.page.click("nav [data-go=more]")
    newcomer.page.click("#learned summary")
    newcomer.wait_for_text("#standing-lines", "not begun")
    assert grave() == []
