"""Words that speak together loosely, and things that come in pairs: what is taken, and what is not.

Expected readings are common practice of speech, written down by hand from the meaning of the words.
"""

from __future__ import annotations

from typing import Any

import pytest
from language_bench import NOW, heard
from test_language_words import BOWLS, FACTS, SALTED, SOUP, entry, faults

from coach.language import build_lexicon, read

HOT = {"soup.state": "hot"}


def told(content: object, text: str) -> dict[str, Any]:
    lexicon = build_lexicon({"soup.toml": content}, FACTS)  # type: ignore[dict-item]
    return dict(read(text, asked=None, lexicon=lexicon, now=NOW).facts)


@pytest.mark.parametrize(
    ("text", "is_heard"),
    [
        ("soup burns", True), ("burns soup", True), ("it burns, and how, this soup", False),
        ("burns my tongue, the soup", False), ("the soup in the big pot burns", False),
        ("soup one two three four five six seven eight burns", False), ("the soup does not burn", False),
        ("does the soup burn?", False), ("soup. It burns", False),
    ],
)  # fmt: skip
def test_words_of_a_clause_speak_in_any_order_but_not_over_its_border(text: str, is_heard: bool) -> None:
    content = entry(HOT, clause=["soup & burn~"])
    assert told(content, text) == (HOT if is_heard else {})


def test_a_loose_phrase_is_silent_where_a_close_one_tells_the_fact() -> None:
    means = [
        {"facts": HOT, "clause": ["soup & burn~"]},
        {"facts": {"soup.state": "cold"}, "say": ["soup is cold"]},
    ]
    assert told({"means": means}, "the soup is cold but burns my tongue") == {"soup.state": "cold"}


def test_one_number_says_one_thing() -> None:
    means = [
        {"facts": {BOWLS.name: "{count}"}, "say": ["{count} bowls"]},
        {"facts": {"soup.spoon_ft": "{length}"}, "clause": ["soup & {length}"]},
    ]
    assert told({"means": means}, "soup for 3 bowls") == {BOWLS.name: 3.0}


def test_too_many_things_in_one_clause_are_refused() -> None:
    assert "too many '&'" in str(faults(entry(HOT, clause=["a & b & c & d"]))[0])


def test_the_sum_of_two_numbers_can_be_told() -> None:
    content = entry({BOWLS.name: "{count} + {count b}"}, say=["{count} bowls and {count b} cups"])
    assert told(content, "2 bowls and 3 cups") == {BOWLS.name: 5.0}


def test_the_second_of_a_pair_is_told_by_its_name_and_number() -> None:
    content = {
        **entry({BOWLS.name: "{count}"}, say=["left {count} bowls"]),
        "pairs": {BOWLS.name: ["soup.spoon_ft", "right"]},
    }
    assert told(content, "left 2 bowls, right maybe 1") == {BOWLS.name: 2.0, "soup.spoon_ft": 1.0}
    assert told(content, "left 2 bowls, the cook has 1") == {BOWLS.name: 2.0}


def test_what_is_told_can_rule_out_a_yes_to_all() -> None:
    content = {
        **entry(HOT, say=["boiling"]),
        "spoiled_by": {SALTED.name: {SOUP.name: "hot"}},
    }
    lexicon = build_lexicon({"soup.toml": content}, FACTS)
    assert read("it is boiling", asked=SALTED, lexicon=lexicon, now=NOW).facts == {**HOT, SALTED.name: False}


# The shipped words: pairs, sides, numbers side by side, and who may fall overboard.
@pytest.mark.parametrize(
    ("text", "asked", "facts"),
    [
        ("left lamp is out about 8 feet, right one maybe 12", None,
         {"lamps.out_left_ft": 8.0, "lamps.out_right_ft": 12.0}),
        ("high tide 4 ft 2, low tide minus a half", None, {"tide.high_ft": 4 + 2 / 12, "tide.low_ft": -0.5}),
        ("five, six knots", "wind.speed_kn", {"wind.speed_kn": 5.5}),
        ("ten twelve", "lamps.out_left_ft", {"lamps.out_left_ft": 11.0}),
        ("eight and a half to nine", "water.depth_ft", {"water.depth_ft": 8.75}),
        ("30 in", "lamps.clip_left_ft", {"lamps.clip_left_ft": 2.5}),
        ("12v2", "lamps.volts_at_lamp", {"lamps.volts_at_lamp": 12.2}),
        ("about 20", "lamps.minutes_since_set", {"lamps.minutes_since_set": 20.0}),
        ("half a foot less, nine", "water.depth_right_ft", {"water.depth_right_ft": 9.0}),
        ("a light breeze", "wind.speed_kn", {}), ("no way to measure", "water.flow_kn",
         {"water.flow_kn": "unknown"}),
        ("the left lamp isn't dim", None, {}), ("the other one is clean", "lamps.fouled", {}),
        ("both lamps are clean", None, {"lamps.fouled": False}),
        ("let the right lamp out on purpose so my wife at the bow gets more", None,
         {"set.intended": "biased-bow"}),
        ("good so far", "sky.moon", {"catch.course": "good"}),
        ("not much doing", None, {"catch.course": "poor_all_night"}),
        ("not much doing", "others.catching", {"others.catching": "no"}),
        ("a ship's coming", "safety.all_clear", {"boat.traffic": True, "safety.all_clear": False}),
        ("everything but the light", "safety.all_clear",
         {"boat.anchor_light": False, "safety.all_clear": False}),
    ],
)  # fmt: skip
def test_pairs_sides_and_numbers_are_read(text: str, asked: str | None, facts: dict[str, Any]) -> None:
    assert heard(text, asked) == pytest.approx(facts)


@pytest.mark.parametrize(
    ("text", "facts"),
    [
        ("man overboard!", {"crew.overboard": True}),
        ("my brother fell in the water", {"crew.overboard": True}),
        ("help, my wife fell overboard", {"crew.overboard": True}), ("a lamp fell overboard", {}),
        ("I fell in love with this creek", {}), ("my uncle fell overboard last year", {}),
        ("nobody fell in the water", {}), ("we're taking on water", {"boat.taking_water": True}),
        ("water's pouring in over the transom", {"boat.taking_water": True}),
        ("water's coming in", {"tide.state": "rising"}),
        ("I think we're sinking", {"boat.taking_water": True}),
        ("he can't stop shivering", {"crew.chilled": True}), ("the captain is drunk",
         {"crew.skipper_sober": False}),
        ("nobody's drunk", {}), ("what do we do if somebody falls in?", {}),
    ],
)  # fmt: skip
def test_a_person_in_the_water_and_the_like_are_heard_and_nothing_else_is(
    text: str, facts: dict[str, Any]
) -> None:
    assert heard(text) == facts
