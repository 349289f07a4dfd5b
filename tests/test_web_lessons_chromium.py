"""Lessons in the page, in a real browser at the width of a phone and of a desk."""

from collections.abc import Iterator
from importlib import resources

import pytest
from browsers import CONSULTATION, START
from chromium import DESK, PHONE, Visitor
from pages import PageProcess
from playwright.sync_api import Browser as Chromium
from pupils import CASE, SIDE, at_question

from coach.store import Store

COMPLAINT = CONSULTATION[0]
DANGER = "my brother fell overboard"
SIZES = pytest.mark.parametrize("size", [PHONE, DESK], ids=["360", "1280"])


# --- in a real browser -----------------------------------------------------------------------------------


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
        at_question(store, boat, item, *more, at=START)
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
