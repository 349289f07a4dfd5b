"""What the page of `coach web` does for people in a boat: talk, counts, bells, pictures, card and log.

Everything goes through its addresses, in-process. Expected advice is that of the demo conversations.
"""

import asyncio
import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsers import CONSULTATION, TOKEN, Browser, Ship, texts

from coach.consult import Desk
from coach.dialogue import step
from coach.exchange import TEXT_LIMIT, Envelope
from coach.front.web import shell, words
from coach.front.web.hub import MOST_OF_A_BOAT, Full, Hub
from coach.model import Message, Rulebook
from coach.pictures import DIM, LIGHT
from coach.reminders import SNOOZE_MIN
from coach.store import Store

COMPLAINT = CONSULTATION[0]
SECRET = "Quillfeather-lost-her-oar"


@pytest.fixture
def ship(tmp_path: Path, shipped: Rulebook, plain: Any) -> Iterator[Ship]:
    made = Ship(tmp_path / "a.db", shipped, plain)
    yield made
    made.store.close()


@pytest.fixture
def browser(ship: Ship) -> Browser:
    return ship.browser()


# --- the talk ------------------------------------------------------------------------------------------


def test_a_new_browser_is_told_what_this_is_and_asked_nothing(browser: Browser) -> None:
    state = browser.state()
    assert state["welcome"] == words.WELCOME
    assert state["ask"] is None
    assert state["log"] == []


def test_the_page_says_what_the_desk_says(browser: Browser, shipped: Rulebook, plain: Any) -> None:
    state = browser.consult()
    with Store(":memory:") as store:
        desk = Desk(store, shipped, infer=plain, step=step)
        now = browser.ship.web._clock()
        for text in CONSULTATION:
            line = desk.answer(Envelope("x", message=Message(text=text)), now=now).line
    said = [line["say"] for line in state["log"][-1]["lines"]]
    assert said == json.loads(line)["say"]
    assert state["log"][-1]["lines"][0] == {
        "kind": "action", "say": "Lower the lamps: clip left 4.5 ft, right 4.5 ft above the weight."
    }  # fmt: skip


def test_reasons_of_a_verdict_are_told_apart_from_what_to_do(browser: Browser) -> None:
    lines = browser.consult()["log"][-1]["lines"]
    reasons = [line["say"] for line in lines if line["kind"] == "reason"]
    assert "They pass deep or under the boat, in the thicker dark water." in reasons
    assert not [say for say in reasons if say.startswith("Haul each lamp")]


@pytest.mark.parametrize("way", ["tap", "digit", "words"])
def test_a_question_is_answered_by_a_tap_a_digit_or_words(browser: Browser, way: str) -> None:
    browser.say(COMPLAINT)
    first = browser.state()["ask"]
    assert first["answers"][0] == "Yes"
    said = {"digit": "1", "words": "yes"}
    answer = browser.pick("Yes") if way == "tap" else browser.say(said[way])
    assert answer["state"]["ask"]["token"] != first["token"]
    assert answer["state"]["log"][-1]["asked"] == first["text"]


def test_the_standing_three_answer_any_question(browser: Browser) -> None:
    browser.say(COMPLAINT)
    browser.pick("Yes")
    second = browser.state()["ask"]
    why = browser.do("command", "why")["state"]
    assert "Why I ask" in texts(why)[-2]
    assert why["ask"] == second
    unknown = browser.do("unknown", about=second["token"])["state"]
    assert unknown["ask"]["token"] != second["token"]
    assert unknown["log"][-1]["told"] == words.DONT_KNOW
    assert browser.do("command", "undo")["state"]["ask"] == second


def test_a_tap_on_a_question_that_is_closed_changes_nothing(browser: Browser) -> None:
    browser.say(COMPLAINT)
    first = browser.state()["ask"]
    browser.pick("Yes")
    before = browser.state()
    late = browser.do("pick", "2", first["token"])
    assert late["error"] == {"code": "closed", "say": words.CLOSED}
    assert late["state"]["log"] == before["log"]


def test_a_bare_number_typed_for_one_question_never_answers_the_next(browser: Browser) -> None:
    for text in CONSULTATION[:3]:
        browser.say(text)
    depth = browser.state()["ask"]
    assert depth["type"] == "number"
    browser.say("12.5")
    after = browser.state()
    assert after["ask"]["token"] != depth["token"]
    late = browser.do("say", "12", depth["token"])
    assert late["error"]["code"] == "changed"
    assert browser.state()["log"] == after["log"]


def test_words_that_mean_something_by_themselves_are_taken_whatever_is_open(browser: Browser) -> None:
    for text in CONSULTATION[:3]:
        browser.say(text)
    late = browser.do("say", "it is 12.5 ft deep here", "another0")
    assert late["error"] is None
    assert late["state"]["log"][-1]["told"] == "it is 12.5 ft deep here"


def test_the_same_message_sent_again_is_done_once(browser: Browser) -> None:
    posted = {"id": "the-same-one", "do": "say", "what": COMPLAINT, "about": ""}
    first = browser.post(json.dumps(posted)).json()
    again = browser.post(json.dumps(posted)).json()
    assert len(again["state"]["log"]) == len(first["state"]["log"]) == 1
    tap = {"id": "the-same-tap", "do": "count", "what": "bow"}
    for _ in range(3):
        counted = browser.post(json.dumps(tap)).json()
    assert counted["state"]["counts"]["said"] == "bow 1"


def test_a_tap_that_was_taken_is_no_error_when_it_comes_again(browser: Browser) -> None:
    browser.say(COMPLAINT)
    posted = {"id": "a-tap-sent-twice", "do": "pick", "what": "1", "about": browser.state()["ask"]["token"]}
    browser.post(json.dumps(posted))
    again = browser.post(json.dumps(posted)).json()
    assert again["error"] is None
    assert len(again["state"]["log"]) == 2


def test_what_waited_for_a_connection_counts_as_said_when_it_was_typed(browser: Browser) -> None:
    browser.ship.clock += 3600
    before = browser.say(COMPLAINT, age_s=1800.0)["state"]["log"][-1]["at"]
    assert browser.ship.clock - before == pytest.approx(1800, abs=1)


def test_clearing_the_water_is_in_every_state_and_in_the_log_when_asked_for(browser: Browser) -> None:
    held = browser.state()["clearing"]
    assert held["steps"]
    logged = browser.do("command", "clear")["state"]["log"][-1]["lines"]
    steps = [line["say"].partition(". ")[2] for line in logged if line["kind"] == "step"]
    assert steps == held["steps"]


def test_a_hazard_comes_first_in_its_row(browser: Browser) -> None:
    lines = browser.say("lightning close by, and it faded")["state"]["log"][-1]["lines"]
    assert lines[0]["kind"] == "hazard"


def test_metres_and_feet_can_be_chosen(browser: Browser) -> None:
    for text in CONSULTATION[:3]:
        browser.say(text)
    assert "in feet" in browser.state()["ask"]["text"]
    metric = browser.do("command", "metric")["state"]
    assert (metric["metric"], "in metres" in metric["ask"]["text"]) == (True, True)
    assert "in feet" in browser.do("command", "us units")["state"]["ask"]["text"]


# --- the same everywhere, and for nobody else ----------------------------------------------------------


def test_two_browsers_see_only_their_own_logs(ship: Ship) -> None:
    one, other = ship.browser(), ship.browser()
    one.say(SECRET)
    one.do("count", "bow")
    seen = json.dumps(other.state()) + other.get("/card").text + other.get("/trips").text
    seen += "".join(other.get(f"/trips/trips.{form}").text for form in ("csv", "json", "ics"))
    assert SECRET not in seen
    assert other.state()["counts"]["said"] == ""
    other.do("uncount")
    other.do("command", "forget")
    assert one.state()["counts"]["said"] == "bow 1"
    assert SECRET in json.dumps(one.state())


def test_the_link_opened_again_in_the_same_browser_keeps_its_log(browser: Browser) -> None:
    browser.say(COMPLAINT)
    before = browser.state()["log"]
    assert browser.get(f"/in/{TOKEN}").status_code == 200
    assert browser.state()["log"] == before


def test_after_a_restart_a_browser_goes_on_where_it_stood(
    tmp_path: Path, shipped: Rulebook, plain: Any
) -> None:
    first = Ship(tmp_path / "a.db", shipped, plain)
    before = first.browser()
    before.say(COMPLAINT)
    before.do("count", "stern")
    stood = before.state()
    first.store.close()
    second = Ship(tmp_path / "a.db", shipped, plain)
    after = second.browser(enters=False)
    after.cookies = before.cookies
    again = after.state()
    second.store.close()
    assert {name: again[name] for name in ("log", "ask", "counts", "key")} == {
        name: stood[name] for name in ("log", "ask", "counts", "key")
    }


def test_a_long_log_is_given_from_its_end_and_whole_when_asked_for(browser: Browser) -> None:
    for number in range(45):
        browser.say(f"nonsense {number} nonsense")
    assert browser.state()["has_more"]
    assert len(browser.state()["log"]) == 40
    assert browser.state()["log"][-1]["told"] == "nonsense 44 nonsense"
    whole = browser.get("/state?most=100").json()
    assert (len(whole["log"]), whole["has_more"]) == (45, False)


def test_forget_leaves_nothing_of_the_browser_in_the_file(browser: Browser) -> None:
    browser.say(f"my name is {SECRET}")
    browser.do("count", "bow")
    state = browser.do("command", "forget")["state"]
    assert (state["log"], state["counts"]["said"]) == ([], "")
    browser.ship.store.close()
    folder = Path(browser.ship.path).parent
    assert not [file for file in folder.iterdir() if SECRET.encode() in file.read_bytes()]


def test_a_late_repeat_of_a_count_after_forget_counts_nothing(browser: Browser) -> None:
    tap = json.dumps({"id": "a-late-tap", "do": "count", "what": "bow"})
    browser.post(tap)
    browser.do("command", "forget")
    assert browser.post(tap).json()["state"]["counts"]["said"] == ""


# --- counts --------------------------------------------------------------------------------------------


def test_taps_and_words_count_into_one_tally(browser: Browser) -> None:
    browser.do("count", "bow")
    browser.do("count", "stern")
    said = browser.say("b3 s5")["state"]
    assert said["counts"]["said"] == "bow 4, stern 6"
    assert [side["sum"] for side in said["counts"]["sides"]] == ["4", "6"]
    assert browser.do("uncount")["state"]["counts"]["said"] == "bow 1, stern 1"
    assert browser.say("bow 2 nets")["state"]["counts"]["note"] == words.UNLIKE


def test_counts_one_after_the_other_stand_in_one_row_of_the_log(browser: Browser) -> None:
    for _ in range(5):
        browser.do("count", "bow")
        browser.ship.clock += 60
    browser.say(COMPLAINT)
    browser.ship.clock += 60
    state = browser.do("count", "stern")["state"]
    assert [row["lines"][0]["say"] for row in state["log"] if row["key"][0] == "c"] == [
        "Counted: bow 5", "Counted: stern 1"
    ]  # fmt: skip


def test_jumps_can_be_tapped_only_once_a_deep_lamp_is_in_the_water(browser: Browser) -> None:
    assert [side["side"] for side in browser.state()["counts"]["sides"]] == ["bow", "stern"]
    state = browser.say("the deep lamp is in the water")["state"]
    assert [side["side"] for side in state["counts"]["sides"]] == ["bow", "stern", "deep"]


def test_a_share_that_is_more_than_luck_is_said_and_can_be_looked_into(browser: Browser) -> None:
    # 40 to 0 by a fair coin: p = 2^-39, below any level of the watch (arithmetic)
    browser.do("count", "bow")
    for _ in range(8):
        browser.ship.clock += 150
        browser.say("b5")
    found = browser.state()["counts"]["found"]
    assert [each["kind"] for each in found] == ["share"]
    assert "more than luck" in found[0]["say"]
    told = browser.do("found", "share")["state"]
    assert told["ask"] is not None
    assert told["log"][-1]["told"]


def test_nothing_counted_for_long_is_asked_about_once(browser: Browser) -> None:
    for _ in range(4):
        browser.do("count", "bow")
        browser.ship.clock += 60
    browser.ship.clock += 5 * 3600
    assert browser.ship.ring()
    (asked,) = browser.state()["bells"]["ringing"]
    assert (asked["say"], asked["answers"]) == (words.SILENT, list(words.SILENT_ANSWERS))
    told = browser.do("found", "silence", str(asked["id"]))["state"]
    assert told["bells"]["ringing"] == []
    assert told["ask"] is not None


# --- bells ---------------------------------------------------------------------------------------------


def test_a_bell_rings_when_it_is_due_and_stays_until_it_is_seen_to(browser: Browser) -> None:
    waits = browser.consult()["bells"]["waiting"]
    assert [bell["say"] for bell in waits] == [
        "Time to look again. Count both dippers for a few minutes, then tell me: did it help?"
    ]
    assert browser.ship.ring() == set()
    browser.ship.clock += 10 * 60 + 1
    assert len(browser.ship.ring()) == 1
    assert browser.ship.ring() == set()
    (bell,) = browser.state()["bells"]["ringing"]
    after = browser.do("bell", "done", str(bell["id"]))
    assert (after["note"], after["state"]["bells"]["ringing"]) == (words.SEEN_TO, [])
    assert [line["say"] for row in after["state"]["log"] for line in row["lines"]][-1] == bell["say"]


def test_a_bell_put_off_rings_again_later(browser: Browser) -> None:
    browser.consult()
    browser.ship.clock += 601
    browser.ship.ring()
    (bell,) = browser.state()["bells"]["ringing"]
    later = browser.do("bell", "later", str(bell["id"]))["state"]["bells"]
    assert (later["ringing"], len(later["waiting"])) == ([], 1)
    browser.ship.clock += SNOOZE_MIN * 60 + 1
    assert browser.ship.ring()
    assert browser.state()["bells"]["ringing"][0]["say"] == bell["say"]


def test_whether_it_helped_is_told_on_the_bell_itself(browser: Browser) -> None:
    browser.consult()
    browser.ship.clock += 601
    browser.ship.ring()
    (bell,) = browser.state()["bells"]["ringing"]
    assert "Yes" in bell["answers"][0]
    told = browser.do("helped", "1", str(bell["id"]))["state"]
    assert told["bells"]["ringing"] == []
    assert told["log"][-1]["key"].startswith("t")


def test_a_bell_of_another_browser_cannot_be_touched(ship: Ship) -> None:
    one, other = ship.browser(), ship.browser()
    one.consult()
    ship.clock += 601
    ship.ring()
    (bell,) = one.state()["bells"]["ringing"]
    assert other.do("bell", "done", str(bell["id"]))["note"] == words.NO_SUCH
    other.do("found", "off", str(bell["id"]))
    assert one.state()["bells"]["ringing"] == [bell]


# --- what the boat tells of herself --------------------------------------------------------------------


def test_a_place_is_given_to_the_coach_and_a_place_that_is_none_says_so(browser: Browser) -> None:
    told = browser.do("place", "8656483")
    assert "nearest tide station is Beaufort" in told["note"]
    assert "latitude" in told["state"]["log"][-1]["told"].casefold()
    before = browser.state()["log"]
    assert browser.do("place", "Nowhere-on-Sea-at-all")["error"]["code"] == "bad-value"
    assert "8656483 Beaufort, NC" in browser.do("place", "Beaufort")["error"]["say"]
    assert browser.do("here", "95 200")["error"] == {"code": "bad-value", "say": words.PLACE_HOW}
    assert browser.do("here", "34.72 -76.67")["note"].startswith("Noted")
    assert len(browser.state()["log"]) == len(before) + 1


def test_draft_and_battery_are_noted_or_refused_with_how_to_write_them(browser: Browser) -> None:
    assert browser.do("draft", "0.45 m")["note"] == words.DRAFT_SET.format(depth="1.5 ft")
    assert browser.do("draft", "deep")["error"]["say"] == words.DRAFT_HOW
    assert browser.do("battery", "100 lead")["note"].startswith("Noted: 100 Ah, lead")
    assert browser.do("battery", "100 dilithium")["error"]["say"] == words.BATTERY_HOW


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
