"""Values as people read them, and the blanks of rule texts."""

import math
import re
from collections.abc import Callable
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rule_folders import PRICKED

from coach.model import Fact, Option, Rulebook
from coach.wording import Filler, clock, in_words, quantity

LENGTH = Fact("tool.length_ft", "number", "asked", "the length", unit="ft")
UNITS = ["ft", "kn", "F", "V", "min", "count", None]


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (1.9, "ft", "1.9 ft"),
        (8.0, "ft", "8 ft"),
        (0.04, "ft", "0 ft"),
        (-0.04, "ft", "0 ft"),
        (-1.26, "ft", "-1.3 ft"),
        (10.0, "ft", "10 ft"),
        (100.0, "ft", "100 ft"),
        (64.4, "F", "64 °F"),
        (12.54, "V", "12.5 V"),
        (40.0, "min", "40 minutes"),
        (100.0, "count", "100"),
        (0.8, "kn", "0.8 kn"),
        (0.05, None, "0.05"),
        (20.0, None, "20"),
    ],
)
def test_a_number_is_said_as_one_reads_it_off(value: float, unit: str | None, said: str) -> None:
    assert quantity(value, unit) == said


@given(st.floats(-1e5, 1e5), st.sampled_from(UNITS))
def test_no_number_is_said_as_less_than_nothing_or_with_an_exponent(value: float, unit: str | None) -> None:
    said = quantity(value, unit)
    number = re.match(r"-?\d+(\.\d*[1-9])?(?= |$)", said)
    assert number is not None, said
    assert number[0] != "-0"
    digits = {"ft": 1, "kn": 1, "V": 1, None: 2}.get(unit, 0)
    assert math.isclose(float(number[0]), value, abs_tol=0.5 * 10**-digits + 1e-9)


def test_a_fact_is_said_by_its_kind() -> None:
    edge = Fact("tool.edge", "choice", "asked", "the edge", options=(Option("round", "Round as a Stone"),))
    assert in_words(True, Fact("x", "bool", "asked", "x")) == "yes"
    assert in_words(False, Fact("x", "bool", "asked", "x")) == "no"
    assert in_words("round", edge) == "round as a stone"
    assert in_words(11.0, LENGTH) == "11 ft"
    assert in_words("2027-02-11T21:05:00-05:00", Fact("x", "time", "asked", "x")) == "21:05"


def test_a_time_is_told_on_the_24_hour_clock_of_its_own_zone() -> None:
    assert clock(datetime.fromisoformat("2027-02-11T09:07:59-05:00")) == "09:07"


# --- blanks ------------------------------------------------------------------------------------------------


@pytest.fixture
def book(small_rules: Callable[..., Rulebook]) -> Rulebook:
    return small_rules(facts=PRICKED)


def test_a_blank_is_filled_from_what_is_known(book: Rulebook) -> None:
    filler = Filler(book, {"tool.length_ft": 3.25, "tool.edge": "keen"}, {"advice": "whet it"})
    text = "It is {tool.length_ft} long and {tool.edge}: {advice}."
    assert filler.fill(text) == "It is 3.2 ft long and keen: whet it."


def test_a_number_of_the_trade_fills_its_blank(book: Rulebook) -> None:
    said = Filler(book, {}).fill("{lit_band_ft} thick")
    assert said is not None
    assert said.startswith(f"{book.numbers['lit_band_ft']:g}")


def test_a_sentence_with_a_blank_that_is_not_known_is_not_said(book: Rulebook) -> None:
    filler = Filler(book, {"tool.edge": "keen"})
    assert filler.fill("It is {tool.length_ft} long and {tool.edge}.") is None
    assert filler.first(("It is {tool.length_ft} long.", "It is {tool.edge}.", "Never.")) == "It is keen."
    assert filler.first(("It is {tool.length_ft} long.",)) is None
    assert filler.all(("It is {tool.length_ft} long.", "It is {tool.edge}.", "Done.")) == [
        "It is keen.",
        "Done.",
    ]


def test_a_phrase_of_the_verdict_goes_before_a_fact_of_the_same_name(book: Rulebook) -> None:
    assert Filler(book, {"tool.edge": "keen"}, {"tool.edge": "sharp"}).fill("{tool.edge}") == "sharp"


@pytest.mark.parametrize(
    "name", ["tool.length_ft", "left.too_high_ft", "catch.now_per_10min", "lit_band_ft", "advice"]
)
def test_every_kind_of_name_is_taken_for_a_blank(name: str, book: Rulebook) -> None:
    assert Filler(book, {}, {name: "x"}).fill(f"a {{{name}}} b") == "a x b"


def test_no_shipped_sentence_reaches_a_person_with_a_blank_in_it(shipped: Rulebook) -> None:
    everything = {name: name for name in (*shipped.facts, *shipped.numbers)}
    for rule in shipped.rules:
        for text in (rule.because, rule.say, *rule.action, *rule.fix):
            filled = Filler(shipped, {}, everything).fill(text)
            assert filled is None or not re.search(r"[{}]", filled), (rule.id, filled)
