"""What the page of `coach web` does for people in a boat: the talk, the same everywhere and for nobody else.

Everything goes through its addresses, in-process. Expected advice is that of the demo conversations.
"""

import json
from pathlib import Path
from typing import Any

import pytest
from browsers import CONSULTATION, TOKEN, Browser, Ship, texts

from coach.consult import Desk
from coach.conversation import Message
from coach.dialogue import step
from coach.exchange import Envelope
from coach.front.web import words
from coach.model import Rulebook
from coach.store import Store

COMPLAINT = CONSULTATION[0]
SECRET = "Quillfeather-lost-her-oar"


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
