"""What the page of `coach web` keeps of a boat: counts, bells, and what she told of herself.

Everything goes through its addresses, in-process. Expected advice is that of the demo conversations.
"""


from browsers import CONSULTATION, Browser, Ship

from coach.front.web import words
from coach.reminders import SNOOZE_MIN

COMPLAINT = CONSULTATION[0]


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
