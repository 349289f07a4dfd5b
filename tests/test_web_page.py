"""What the page of `coach web` shows beside the talk: pictures, card, trips, itself, and open pages.

Everything goes through its addresses, in-process. Expected advice is that of the demo conversations.
"""

import asyncio
import csv
import io
import json
import re

import pytest
from browsers import Browser, Ship

from coach.exchange import TEXT_LIMIT
from coach.front.web import shell
from coach.front.web.hub import MOST_OF_A_BOAT, Full, Hub
from coach.pictures import DIM, LIGHT

# --- pictures, card, trips -----------------------------------------------------------------------------


def test_every_picture_stands_with_its_words_and_in_both_themes(browser: Browser) -> None:
    state = browser.consult()
    assert [picture["kind"] for picture in state["pictures"]] == ["side"]
    for theme in (DIM, LIGHT):
        drawn = browser.get(f"/picture/side?theme={theme.name}")
        assert drawn.headers["content-type"] == "image/svg+xml"
        assert theme["paper"] in drawn.text
        assert all(word in drawn.text for word in state["pictures"][0]["words"][:2])


def test_a_picture_that_has_not_changed_is_not_sent_again(browser: Browser) -> None:
    tag = browser.get("/picture/plan").headers["etag"]
    assert browser.get("/picture/plan", if_none_match=tag).status_code == 304


def test_pictures_of_no_such_kind_or_theme_are_not_found(browser: Browser) -> None:
    assert browser.get("/picture/nothing").status_code == 404
    assert browser.get("/picture/side?theme=pink").status_code == 404


def test_the_card_holds_the_advice_and_the_way_back(browser: Browser) -> None:
    browser.consult()
    page = browser.get("/card").text
    assert "left 4.5 ft, right 4.5 ft" in page
    assert '<a href="/">Back to the coach</a>' in page


def test_trips_are_told_in_words_and_exported(browser: Browser) -> None:
    browser.consult()
    (trip,) = browser.get("/trips").json()["trips"]
    assert trip["lines"][-1].startswith("One thing to do differently")
    assert json.loads(browser.get("/trips/trips.json").text)["trips"]
    assert browser.get("/trips/trips.ics").text.startswith("BEGIN:VCALENDAR")
    table = browser.get("/trips/trips.csv")
    assert table.headers["content-disposition"] == 'attachment; filename="trips.csv"'
    assert any("Lower the lamps" in row["says"] for row in csv.DictReader(io.StringIO(table.text)))
    assert browser.get("/trips/trips.exe").status_code == 404


def test_no_cell_of_the_table_is_a_formula(ship: Ship) -> None:
    browser = ship.browser()
    browser.consult()
    for row in csv.reader(io.StringIO(browser.get("/trips/trips.csv").text)):
        assert not [cell for cell in row if cell[:1] in "=+@\t\r" and cell]


# --- the page itself -----------------------------------------------------------------------------------


def test_the_page_weighs_less_than_150_kilobytes() -> None:
    assert sum(len(file.body) for file in shell.files().values()) < 150_000


def test_the_page_names_nothing_outside_itself() -> None:
    for path, file in shell.files().items():
        if not path.endswith(".png"):
            text = file.body.decode().replace("http://www.w3.org/2000/svg", "")
            assert "http:" not in text, path
            assert "https:" not in text, path
            assert "//" not in text.replace("// ", "").replace("://", ""), path


def test_the_page_wears_the_colours_of_the_pictures() -> None:
    style = shell.files()["/app.css"].body.decode()
    dark, light = style.split(':root[data-theme="light"]')[0], style.split(':root[data-theme="light"]')[1]
    for theme, part in ((DIM, dark), (LIGHT, light)):
        for role, name in (("paper", "paper"), ("ink", "ink"), ("soft", "soft"), ("strong", "strong")):
            assert f"--{name}: {theme[role]};" in part


def test_the_service_worker_keeps_every_file_of_the_shell_and_nothing_that_was_told() -> None:
    worker = shell.files()["/sw.js"].body.decode()
    needed = set(shell.files()) - {"/sw.js", "/icon-192.png", "/icon-512.png"}
    listed = worker.split("const FILES = [")[1].split("]")[0]
    assert {name.strip().strip('"') for name in listed.split(",")} == needed
    assert "@VERSION@" not in worker
    assert not [path for path in ("/state", "/events", "/do", "/trips", "/in/") if path in worker]


def test_the_manifest_makes_it_installable_and_its_icons_are_there(browser: Browser) -> None:
    # a name, a start page, a display of its own and an icon of 192 and 512 pixels are what browsers ask
    # for (W3C Web Application Manifest and the browsers' install criteria; MEMORY)
    answer = browser.get("/manifest.webmanifest")
    assert answer.headers["content-type"] == "application/manifest+json"
    manifest = answer.json()
    assert manifest["name"]
    assert (manifest["start_url"], manifest["display"]) == ("/", "standalone")
    assert {"192x192", "512x512"} <= {icon["sizes"] for icon in manifest["icons"]}
    assert all(browser.get(icon["src"]).status_code == 200 for icon in manifest["icons"])


def test_a_text_of_the_greatest_length_is_taken_and_one_longer_is_not(browser: Browser) -> None:
    assert browser.say("ü" * TEXT_LIMIT)["error"] is None
    too_long = browser.post(json.dumps({"id": "too-long-a-one", "do": "say", "what": "a" * (TEXT_LIMIT + 1)}))
    assert (too_long.status_code, too_long.json()["error"]["code"]) == (422, "too-long")
    assert len(browser.state()["log"]) == 1


# --- open pages --------------------------------------------------------------------------------------------


async def first_events(hub: Hub, boat: str, number: int) -> list[str]:
    """The first events of a page of this boat, while its boat and another one change."""
    hub.open()
    events = hub.listen(boat)
    found = [await anext(events)]
    for _ in range(number - 1):
        hub.changed(["another"])
        hub.changed([boat])
        found.append(await anext(events))
    return found


def test_an_open_page_hears_of_every_change_of_its_boat() -> None:
    greeting, *changes = asyncio.run(first_events(Hub(), "web-1", 3))
    assert "event: here" in greeting
    assert all(re.fullmatch(r"data: [\d.]+\n\n", change) for change in changes)


def test_pages_that_are_too_many_are_turned_away_and_those_that_go_make_room() -> None:
    async def crowd() -> None:
        hub = Hub()
        hub.open()
        pages = [hub.listen("web-1") for _ in range(MOST_OF_A_BOAT)]
        for page in pages:
            await anext(page)
        with pytest.raises(Full):
            hub.listen("web-1")
        await anext(hub.listen("web-2"))
        await pages[0].aclose()  # type: ignore[attr-defined]
        await anext(hub.listen("web-1"))

    asyncio.run(crowd())


def test_a_page_is_let_go_when_the_coach_ends() -> None:
    async def end() -> list[str]:
        hub = Hub()
        hub.open()
        events = hub.listen("web-1")
        found = [await anext(events)]
        hub.close_soon()
        return found + [event async for event in events]

    assert len(asyncio.run(end())) == 1
