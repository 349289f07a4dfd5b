"""The page in a real browser, without a window, at the width of a phone and of a desk.

Needs Chromium (Debian: apt-get install -y chromium); without it these tests fail and say so.
"""

import json
import re
import sqlite3
import time
from collections.abc import Callable, Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from browsers import CONSULTATION
from chromium import DESK, PHONE, Visitor, chromium
from pages import PageProcess
from playwright.sync_api import Browser

ACTION = "Lower the lamps: clip left 4.5 ft, right 4.5 ft above the weight."
SIZES = pytest.mark.parametrize("size", [PHONE, DESK], ids=["360", "1280"])
Visit = Callable[..., Visitor]


@pytest.fixture
def visit(chromium: Browser, page: PageProcess) -> Iterator[Visit]:
    """Somebody opens the link; afterwards nothing may have been asked of another machine."""
    visitors: list[Visitor] = []

    def come(size: tuple[int, int] = PHONE) -> Visitor:
        visitors.append(Visitor(chromium, page.link, size))
        return visitors[-1]

    yield come
    for visitor in visitors:
        visitor.close()
        assert {url for url in visitor.asked if not url.startswith(f"{page.origin}/")} == set()


def test_without_chromium_these_tests_fail_and_say_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COACH_CHROMIUM", raising=False)
    monkeypatch.setenv("PATH", "/nowhere")
    with pytest.raises(FileNotFoundError, match="apt-get install -y chromium"):
        chromium()


# --- a whole consultation ------------------------------------------------------------------------------


@SIZES
def test_a_whole_diagnosis_by_taps(visit: Visit, size: tuple[int, int]) -> None:
    boater = visit(size)
    boater.tell(CONSULTATION[0])
    boater.tap("Yes")
    boater.tap("Deep, under the boat")
    boater.page.click("nav [data-go=more]")  # beside the log, or over it
    if size == PHONE:
        boater.page.click("nav [data-go=log]")
    for text in CONSULTATION[3:]:
        boater.tell(text)
    assert ACTION in boater.last_row()
    if size == PHONE:
        boater.page.get_by_role("button", name="See the set drawn").click()
    drawn = boater.page.locator("#pictures img").first
    boater.page.wait_for_function("() => document.querySelector('#pictures img').naturalWidth > 0")
    assert drawn.is_visible()
    assert "Left lamp, in 12.5 ft of water" in boater.page.locator("#pictures figcaption").first.inner_text()
    assert boater.faults == []


@SIZES
def test_a_whole_diagnosis_by_keyboard_alone(visit: Visit, size: tuple[int, int]) -> None:
    boater = visit(size)
    keyboard = boater.page.keyboard

    def move_to(selector: str) -> None:
        for _ in range(60):
            keyboard.press("Tab")
            if boater.page.evaluate("selector => document.activeElement.matches(selector)", selector):
                return
        raise AssertionError(f"no number of tabs leads to {selector}")

    def answer(selector: str) -> None:
        turns = boater.turns()
        move_to(selector)
        keyboard.press("Enter")
        boater.wait_for_turns(turns + 1)

    def write(text: str) -> None:
        turns = boater.turns()
        keyboard.type(text)
        keyboard.press("Enter")
        boater.wait_for_turns(turns + 1)

    move_to("#field")
    write(CONSULTATION[0])
    answer("[data-pick='1']")
    assert boater.page.evaluate("document.activeElement.id") == "question"
    answer("[data-pick='3']")
    move_to("#field")
    for text in CONSULTATION[3:]:
        write(text)
    assert ACTION in boater.last_row()
    move_to("#clear")
    keyboard.press("Enter")
    assert boater.page.evaluate("document.activeElement.id") == "h-clearing"
    assert boater.faults == []


def test_the_answer_to_a_tap_is_brought_into_view(visit: Visit) -> None:
    boater = visit()
    boater.tell(CONSULTATION[0])
    boater.tap("Yes")
    for selector in ("#question", "[data-pick='1']", "#unknown", "#why", "#undo"):
        box = boater.page.locator(selector).bounding_box()
        assert box is not None
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= PHONE[1], selector


def test_clearing_the_water_is_one_tap_from_anywhere(visit: Visit) -> None:
    boater = visit()
    for part in ("log", "set", "count", "bells", "more"):
        boater.page.click(f"nav [data-go={part}]")
        boater.page.click("#clear")
        assert boater.page.locator("#clearing-steps li").first.is_visible()
        assert "Engine on" in boater.page.locator("#clearing-steps").inner_text()
        boater.page.click("#cleared")


# --- counts and bells ----------------------------------------------------------------------------------


@SIZES
def test_counts_are_tapped_and_taken_back(visit: Visit, size: tuple[int, int]) -> None:
    boater = visit(size)
    boater.page.click("nav [data-go=count]")
    for _ in range(3):
        boater.page.click("[data-count=bow]")
    boater.page.click("[data-count=stern]")
    boater.wait_for_text("#tally", "bow 3, stern 1")
    boater.page.click("#uncount")
    boater.wait_for_text("#tally", "bow 3.")
    assert boater.page.locator("[data-count=bow]").inner_text().split() == ["Bow", "+1", "3"]


def test_a_reminder_rings_in_the_page_and_is_seen_to(visit: Visit, page: PageProcess) -> None:
    boater = visit()
    for text in CONSULTATION:
        boater.tell(text)
    assert "Time to look again" in (boater.page.locator("#bells").text_content() or "")
    with sqlite3.connect(page.store, timeout=10) as rows:  # let the ten minutes be over
        rows.execute("UPDATE due SET at = ? WHERE state = 'waiting'", (time.time(),))
    boater.wait_for_text("#rings[role=alert]", "Time to look again")
    assert boater.page.title().startswith("Ringing")
    boater.page.click("#rings button")
    boater.page.get_by_role("button", name="Seen to").click()
    boater.page.wait_for_function("() => document.querySelector('#rings').textContent === ''")
    assert not boater.page.title().startswith("Ringing")


# --- the same everywhere, and for nobody else ----------------------------------------------------------


def test_a_refresh_in_the_middle_goes_on_where_it_stood(visit: Visit) -> None:
    boater = visit()
    boater.tell(CONSULTATION[0])
    boater.tap("Yes")
    boater.page.fill("#field", "half a sent")
    before = {part: boater.page.inner_text(part) for part in ("#log", "#asked h3", "#answers", "#tally")}
    boater.page.reload()
    boater.wait_for_turns(2)
    after = {part: boater.page.inner_text(part) for part in ("#log", "#asked h3", "#answers", "#tally")}
    assert after == before
    assert boater.page.input_value("#field") == "half a sent"


def test_a_second_tab_shows_the_same_and_follows(visit: Visit) -> None:
    boater = visit()
    boater.tell(CONSULTATION[0])
    other = boater.open(f"{boater.origin}/")
    other.wait_for_selector("#answers button")
    assert other.inner_text("#log") == boater.page.inner_text("#log")
    boater.tap("Yes")
    other.wait_for_function("() => document.querySelectorAll('#log .row').length === 2")
    assert other.inner_text("#asked h3") == boater.page.inner_text("#asked h3")


def test_two_browsers_see_only_their_own_logs(visit: Visit) -> None:
    one, other = visit(), visit()
    one.tell("my own secret words")
    one.page.click("nav [data-go=count]")
    one.page.click("[data-count=bow]")
    one.wait_for_text("#tally", "bow 1")
    other.page.reload()
    other.page.wait_for_selector("#welcome:not([hidden])")
    assert "secret" not in other.page.content()
    assert "Nothing is counted" in other.page.locator("#tally").text_content() or ""


# --- without a connection ------------------------------------------------------------------------------


def test_what_is_told_while_the_connection_is_lost_is_sent_once_when_it_is_back(
    chromium: Browser, tmp_path: Path
) -> None:
    with PageProcess(tmp_path) as page:
        boater = Visitor(chromium, page.link)
        boater.tell(CONSULTATION[0])
        boater.page.wait_for_function("() => navigator.serviceWorker.controller !== null")
        page.kill()
        boater.wait_for_text("#link", "No connection")
        boater.page.fill("#field", "yes")
        boater.page.press("#field", "Enter")
        boater.page.click("nav [data-go=count]")
        boater.page.click("[data-count=bow]")
        boater.wait_for_text("[data-count=bow] .sum", "0 + 1")
        boater.page.click("[data-count=bow]")
        boater.wait_for_text("[data-count=bow] .sum", "0 + 2")
        boater.page.reload()  # from what the browser kept
        boater.wait_for_text("#link", "No connection")
        assert boater.page.locator("#log .row").count() == 1
        assert boater.page.locator("#waiting .row").count() == 3
        boater.page.click("#clear")
        assert "Engine on" in boater.page.locator("#clearing-steps").inner_text()
        boater.page.click("#cleared")
        page.start()
        boater.page.wait_for_function(
            "() => document.querySelectorAll('#waiting .row').length === 0", timeout=20_000
        )
        boater.page.wait_for_function("() => document.querySelector('#link').innerText === ''")
        assert "bow 2." in (boater.page.locator("#tally").text_content() or "")
        with sqlite3.connect(page.store) as rows:
            said = [json.loads(row[0]) for row in rows.execute("SELECT said FROM turns ORDER BY seq")]
            counted = rows.execute("SELECT side, amount FROM counts").fetchall()
        assert said == [{"text": CONSULTATION[0]}, {"text": "yes"}, {"command": "clear"}]
        assert counted == [("bow", 1.0), ("bow", 1.0)]
        boater.close()


def test_an_answer_that_was_lost_on_its_way_back_is_not_taken_twice(visit: Visit) -> None:
    boater = visit()
    seen: list[str] = []

    def lose_the_answer(route: Any) -> None:
        seen.append(json.loads(route.request.post_data)["id"])
        if len(seen) == 1:
            route.fetch()  # it arrives and is done; its answer does not
            route.abort()
        else:
            route.continue_()

    boater.page.route("**/do?*", lose_the_answer)
    boater.page.click("nav [data-go=count]")
    boater.page.click("[data-count=stern]")
    boater.page.wait_for_function(
        "() => document.querySelectorAll('#waiting .row').length === 0", timeout=20_000
    )
    boater.wait_for_text("#tally", "stern 1.")
    assert len(seen) == 2
    assert seen[0] == seen[1]


def test_the_card_of_the_last_advice_opens_without_a_connection(chromium: Browser, tmp_path: Path) -> None:
    with PageProcess(tmp_path) as page:
        boater = Visitor(chromium, page.link)
        boater.page.wait_for_function("() => navigator.serviceWorker.controller !== null")
        for text in CONSULTATION:
            boater.tell(text)
        boater.page.evaluate(
            """async () => {
                 while (!(await caches.match('/card'))) await new Promise((on) => setTimeout(on, 50)); }"""
        )
        page.kill()
        boater.page.goto(f"{page.origin}/card")
        assert "Lower the lamps: clip left 4.5 ft" in boater.page.inner_text("header")
        boater.page.click("text=Back to the coach")
        boater.wait_for_text("#log", ACTION)
        boater.close()


# --- for every eye and hand ----------------------------------------------------------------------------


@SIZES
@pytest.mark.parametrize("theme", ["dim", "light"])
def test_axe_finds_nothing_serious_in_any_part(visit: Visit, size: tuple[int, int], theme: str) -> None:
    boater = visit(size)
    for text in CONSULTATION[:3]:
        boater.tell(text)
    if theme == "light":
        boater.page.click("nav [data-go=more]")
        boater.page.click("#theme")
    axe = resources.files("axe_playwright_python").joinpath("axe.min.js").read_text()
    boater.page.evaluate(axe)
    parts = ("set", "count", "bells", "more") if size == DESK else ("log", "set", "count", "bells", "more")
    for part in (*parts, "clearing"):
        boater.page.click("#clear" if part == "clearing" else f"nav [data-go={part}]")
        if part == "more":
            for opened in boater.page.locator("#panel-more > details > summary").all():
                opened.click()
        found = boater.page.evaluate("async () => (await axe.run()).violations")
        grave = {each["id"] for each in found if each["impact"] in ("serious", "critical")}
        assert grave == set(), (part, [node["html"] for each in found for node in each["nodes"]])


@SIZES
def test_everything_to_tap_is_large_and_nothing_is_wider_than_the_screen(
    visit: Visit, size: tuple[int, int]
) -> None:
    boater = visit(size)
    for text in CONSULTATION:
        boater.tell(text)
    for part in ("set", "count", "bells", "more"):
        boater.page.click(f"nav [data-go={part}]")
        small = boater.page.evaluate(
            """() => [...document.querySelectorAll('button, a.button, summary, textarea, input, .tick')]
               .filter(each => each.offsetParent && !each.matches('.tick input'))
               .map(each => [each.id || each.innerText, each.getBoundingClientRect()])
               .filter(([, box]) => box.height < 48 || box.width < 48).map(([name]) => name)"""
        )
        assert small == [], part
        assert boater.page.evaluate("document.documentElement.scrollWidth") <= size[0], part


def test_nothing_moves_for_those_who_want_it_so(visit: Visit) -> None:
    boater = visit()
    boater.page.emulate_media(reduced_motion="reduce")
    moving = boater.page.evaluate(
        """() => [...document.querySelectorAll('*')].filter(each => {
             const style = getComputedStyle(each);
             return style.animationName !== 'none' || parseFloat(style.transitionDuration) > 0
               || style.scrollBehavior === 'smooth'; }).map(each => each.tagName)"""
    )
    assert moving == []


def test_the_log_is_read_out_as_it_grows_but_not_what_stood_there_before(visit: Visit) -> None:
    boater = visit()
    boater.context.add_init_script(
        """window.heard = [];
           new MutationObserver((all) => all.forEach((each) => each.addedNodes.forEach((row) => {
             if (row.matches?.('#log > .row')) window.heard.push(row.parentNode.getAttribute('aria-live'));
           }))).observe(document, { childList: true, subtree: true });"""
    )
    boater.tell(CONSULTATION[0])
    boater.tap("Yes")
    boater.page.reload()
    boater.wait_for_turns(2)
    assert boater.page.evaluate("window.heard") == ["off", "off"]
    boater.tap("Deep, under the boat")
    assert boater.page.evaluate("window.heard") == ["off", "off", "polite"]


def test_rows_called_up_from_earlier_stay_when_the_talk_goes_on(visit: Visit) -> None:
    boater = visit()
    boater.tell("it faded")
    boater.page.evaluate(
        """() => import('/keep.js').then(({ keep }) => {
             for (let i = 0; i < 42; i += 1) keep({ do: 'command', what: 'summary' }); })"""
    )
    boater.page.reload()
    boater.page.wait_for_function("() => document.querySelectorAll('#waiting .row').length === 0")
    boater.page.click("#earlier")
    boater.page.wait_for_function("() => document.querySelector('#earlier').hidden")
    assert boater.turns() == 43
    boater.page.click("#why")
    boater.wait_for_turns(44)
    assert boater.page.locator("#log .told").first.inner_text() == "it faded"


def test_no_field_lets_markup_into_the_page(visit: Visit) -> None:
    boater = visit()
    hostile = '<img src=x onerror="window.broken=1"><script>window.broken=1</script>'
    boater.tell(hostile)
    boater.page.click("nav [data-go=more]")
    boater.page.locator("summary", has_text="Her place").click()
    for field in ("place", "draft", "battery"):
        boater.page.fill(f"#{field}", hostile[:80])
        boater.page.press(f"#{field}", "Enter")
    boater.page.wait_for_function("() => document.querySelectorAll('#waiting .row').length === 0")
    assert boater.page.evaluate("window.broken") is None
    assert hostile in (boater.page.locator("#log .row").last.text_content() or "")
    assert boater.page.locator("#log img, #log script, #note img").count() == 0


def test_forgetting_asks_first_and_then_leaves_nothing(visit: Visit) -> None:
    boater = visit()
    boater.tell("my own secret words")
    boater.page.click("nav [data-go=more]")
    boater.page.click("#forget")
    boater.page.click("#sure-no")
    assert boater.turns() == 1
    boater.page.click("#forget")
    boater.page.click("#sure-yes")
    boater.page.wait_for_function("() => document.querySelectorAll('#log .row').length === 0")
    assert "secret" not in boater.page.content()
    held = boater.page.evaluate("JSON.stringify({...localStorage})")
    assert "secret" not in held


def test_a_browser_finds_nothing_that_keeps_the_page_from_being_installed(visit: Visit) -> None:
    boater = visit()
    boater.page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    asked = boater.context.new_cdp_session(boater.page)
    manifest = asked.send("Page.getAppManifest")
    assert (manifest["url"], manifest["errors"]) == (f"{boater.origin}/manifest.webmanifest", [])
    found = asked.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert {each["errorId"] for each in found} <= {"in-incognito"}  # tests leave nothing behind


def test_a_browser_that_was_not_let_in_is_told_what_to_do(chromium: Browser, page: PageProcess) -> None:
    context = chromium.new_context()
    stranger = context.new_page()
    stranger.goto(f"{page.origin}/")
    stranger.wait_for_function("() => document.querySelector('#link').innerText.includes('not let in')")
    answer = stranger.goto(f"{page.origin}/in/wrong")
    assert answer is not None
    assert answer.status == 403
    assert re.search("no longer holds", stranger.content())
    context.close()
