"""The shipped rules: they load, hold every name that other programs rely on, and fit what is promised."""

import string
from collections.abc import Iterable

import pytest
from rule_folders import VOCABULARY

from coach.advice import PHRASES
from coach.figures.rig import Rig
from coach.model import Rulebook
from coach.wording import Filler, in_words


def test_the_shipped_rules_load_without_a_fault(shipped: Rulebook) -> None:
    assert shipped.rules


@pytest.mark.parametrize("name", VOCABULARY["facts"])
def test_no_fact_that_programs_rely_on_is_missing_or_has_another_type_range_or_answers(
    name: str, shipped: Rulebook
) -> None:
    wanted, fact = VOCABULARY["facts"][name], shipped.facts[name]
    assert fact.origin == "asked"
    assert fact.type == wanted["type"]
    assert (None if fact.range is None else list(fact.range)) == wanted.get("range")
    assert [option.id for option in fact.options] == wanted.get("of", [])


def test_every_cause_hazard_and_set_up_that_programs_rely_on_is_there(shipped: Rulebook) -> None:
    assert set(VOCABULARY["causes"]) <= set(shipped.causes)
    assert set(VOCABULARY["hazards"]) <= set(shipped.hazards)
    assert set(VOCABULARY["sets"]) <= set(shipped.sets)


@pytest.mark.parametrize("cause", VOCABULARY["causes"])
def test_every_cause_has_a_fix_with_an_action_and_a_time_to_look_again(cause: str, shipped: Rulebook) -> None:
    fixes = [each for each in shipped.rules if each.fix_for == cause]
    assert fixes
    assert all(each.action and each.look_again_min for each in fixes)


@pytest.mark.parametrize("hazard", VOCABULARY["hazards"])
def test_every_hazard_is_raised_by_a_rule_that_says_something(hazard: str, shipped: Rulebook) -> None:
    assert any(each.hazard == hazard and each.say for each in shipped.rules)


def test_every_number_that_the_calculators_need_is_shipped(shipped: Rulebook) -> None:
    assert Rig.from_numbers(shipped.numbers)


def slots(text: str) -> Iterable[str]:
    return (name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def longest_fill(name: str, book: Rulebook) -> str:
    """The most characters that a blank may take: the longest answer of a fact, or the longest phrase."""
    if name in LONGEST_PHRASES:
        return LONGEST_PHRASES[name]
    if name not in book.facts:
        return Filler(book, {}).fill(f"{{{name}}}") or ""
    fact = book.facts[name]
    if fact.options:
        return max((option.label for option in fact.options), key=len)
    return {
        "number": max((in_words(value, fact) for value in (-59.9, 59.9)), key=len),
        "time": "21:05",
        "bool": "yes",
    }[fact.type]


LONGEST_PHRASES = {
    "clip_left": "14.9 ft",
    "clip_right": "14.9 ft",
    "depth_without_clip": "59.9 ft",
    "lamp_depth": "11.9 ft and 12.9 ft",
    "dark_band": "10.9 ft",
    "reclip_times": ", ".join(["21:05 to 14.9 ft and 14.8 ft"] * 4),
    "close_centre": "92.9 ft",
    "depth": "23.9 ft",
    "close_hull": "about 59 ft",
    "far_lamp": "right",
    "reach_difference": "59.9 ft",
    "low_at": "21:05",
    "slack_wait": "90 minutes",
    "deep_odds": "about 1000 to 1 against",
    "station": "St. Johns River Entrance Bar",
    "next_night": "the night of Wed 28 Sep, dark ebb 21:05 to 23:55",
}
"""The longest that the worked-out phrases of a verdict get: lengths below 100 ft with one decimal."""


def test_the_phrases_of_a_verdict_are_all_measured() -> None:
    assert set(PHRASES) == set(LONGEST_PHRASES)


def test_every_action_line_fits_80_characters_however_its_blanks_are_filled(shipped: Rulebook) -> None:
    too_long = []
    for each in shipped.rules:
        for line in each.action:
            longest = {name: longest_fill(name, shipped) for name in slots(line)}
            filled = Filler(shipped, {}, longest).fill(line)
            assert filled is not None
            if len(filled) > 80:
                too_long.append((each.id, len(filled), filled))
    assert not too_long


def test_the_texts_that_open_a_verdict_without_a_cause_fit_80_characters(shipped: Rulebook) -> None:
    assert all(len(shipped.texts[key]) <= 80 for key in ("healthy", "cannot_tell"))


def test_every_blank_of_the_shipped_rules_can_be_filled(shipped: Rulebook) -> None:
    known = {*shipped.facts, *shipped.numbers, *LONGEST_PHRASES}
    blanks = {
        (each.id, name)
        for each in shipped.rules
        for text in (each.because, each.say, each.note, *each.action, *each.fix)
        for name in slots(text)
    }
    assert not {(id, name) for id, name in blanks if name not in known}
