"""Counting on deck by taps and words, and what rings on the bot."""

import json

from boats import COMPLAINT, Harbour, hazy_night

from coach.front.telegram import words

ANNA = 11


# --- counting --------------------------------------------------------------------------------------------


def test_counts_are_added_shown_and_taken_back(harbour: Harbour) -> None:
    harbour.say(ANNA, "b3 s5")
    assert harbour.latest(ANNA).text == "Bow 3, stern 5"
    harbour.tap(ANNA, "Bow +1")
    assert harbour.latest(ANNA).text == "Bow 4, stern 5"
    harbour.tap(ANNA, "Take back")
    assert harbour.latest(ANNA).text == "Bow 3, stern 5"
    harbour.say(ANNA, "undo count")
    assert harbour.latest(ANNA).text == words.CARD_EMPTY
    assert harbour.say(ANNA, "undo count")[-1].text.startswith(words.NOTHING_TO_TAKE_BACK)


def test_nets_buckets_and_weights_are_counted_and_unlike_ones_are_not_added_up(harbour: Harbour) -> None:
    harbour.say(ANNA, "bow 2 nets stern 1 net")
    assert harbour.latest(ANNA).text == "Bow 2 net, stern 1 net"
    harbour.say(ANNA, "s 3 lb")
    assert words.CARD_UNLIKE in harbour.latest(ANNA).text


def test_a_one_sided_share_is_told_and_leads_into_the_consultation(harbour: Harbour) -> None:
    for _ in range(6):
        harbour.later(6)
        harbour.say(ANNA, "b9 s1")
    (told,) = [each for each in harbour.chats[ANNA] if "more than luck" in each.text]
    assert "The bow has 90%" in told.text
    harbour.tap(ANNA, words.FIND_OUT)
    facts = harbour.facts(ANNA)
    assert facts["crew.one_sided"] == "bow"
    assert facts["crew.bow_count"] >= 9


def test_a_drop_is_told_once_and_its_rates_are_told_to_the_consultation(harbour: Harbour) -> None:
    for count in (20, 20, 20, 20, 20, 4, 4, 4, 4):
        harbour.later(11)
        harbour.say(ANNA, f"b{count} s{count}")
    told = [each.text for each in harbour.chats[ANNA] if "It dropped" in each.text]
    assert len(told) == 1
    harbour.tap(ANNA, words.FIND_OUT)
    assert harbour.facts(ANNA)["catch.course"] == "faded"
    assert harbour.facts(ANNA)["catch.now_per_10min"] < harbour.facts(ANNA)["catch.before_per_10min"]


def test_a_long_silence_after_a_good_run_is_asked_about_once(harbour: Harbour) -> None:
    for _ in range(60):
        harbour.later(1)
        harbour.say(ANNA, "b1")
    rang = [each for _ in range(90) for each in harbour.later(1)]
    assert [each.text for each in rang] == [words.SILENT]
    harbour.tap(ANNA, words.STOPPED)
    assert harbour.facts(ANNA)["catch.course"] == "stopped"


def test_a_deep_lamp_brings_its_button_and_its_bell(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    harbour.say(ANNA, "the deep lamp is in the water")
    assert harbour.facts(ANNA).get("deep_lamp.in_water") is True
    harbour.say(ANNA, "j2")
    assert "Jump +1" in harbour.latest(ANNA).buttons
    assert "deep" in [each.kind for each in harbour.bells(ANNA)]


# --- bells -----------------------------------------------------------------------------------------------


def test_a_bell_rings_can_be_put_off_and_be_seen_to(harbour: Harbour) -> None:
    hazy_night(harbour)
    assert "low" in [each.kind for each in harbour.bells(ANNA)]
    rang = harbour.later(60 * 4 + 55)
    (low,) = [each for each in rang if "Low water" in each.text]
    harbour.tap(ANNA, "In 10 minutes")
    assert "I ring again at" in low.text
    (again,) = [each for each in harbour.later(11) if "Low water" in each.text]
    harbour.tap(ANNA, "Done")
    assert again.text.endswith(words.BELL_DONE)
    assert harbour.later(60) == []
    harbour.tap_data(ANNA, "r:1:s", number=again.number)
    assert harbour.later(60) == []


def test_bells_to_come_are_listed(harbour: Harbour) -> None:
    assert words.BELLS_NONE in harbour.say(ANNA, "/bells")[-1].text
    hazy_night(harbour)
    assert "00:50  Low water at about 01:00" in harbour.say(ANNA, "bells")[-1].text


def test_starting_afresh_takes_the_bells_of_the_old_night_away(harbour: Harbour) -> None:
    hazy_night(harbour)
    harbour.say(ANNA, "/fresh")
    assert harbour.bells(ANNA) == []


def test_a_verdict_says_what_will_ring_and_look_again_asks_whether_it_helped(harbour: Harbour) -> None:
    harbour.say(ANNA, COMPLAINT)
    answers = {
        "safety.all_clear": "yes", "tide.state": "falling", "water.depth_ft": "9", "lamps.clip_left_ft": "3",
        "lamps.clip_right_ft": "3", "tide.fall_since_set_ft": "2", "others.catching": "yes",
    }  # fmt: skip
    for _ in range(25):
        line = harbour.store.look(harbour.boat(ANNA)).reply
        assert line
        ask = json.loads(line)["ask"]
        if ask is None:
            break
        harbour.say(ANNA, answers.get(ask["fact"], "don't know"))
    verdict, shown = harbour.chats[ANNA][-2:]
    assert "look again" in verdict.text
    assert shown.text.startswith("(picture) The set from the side.")
    (look,) = [each for each in harbour.bells(ANNA) if each.kind == "look"]
    rang = harbour.later((look.at - harbour.at) / 60 + 0.1)
    assert list(rang[0].buttons)[:2] == ["Yes", "No"]
    harbour.tap(ANNA, "Yes")
    session = json.loads(harbour.store.look(harbour.boat(ANNA)).session or "{}")
    assert [outcome["helped"] for outcome in session["outcomes"]] == [True]
