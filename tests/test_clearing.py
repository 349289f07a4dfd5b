"""Clearing the water: the order, the minutes, and what falls away."""

from collections.abc import Callable, Mapping

import pytest
import rule_folders
from rule_folders import SHIPPED

from coach.clearing import clearing_steps, minutes_for, quantity_min
from coach.figures.anchor import clearing
from coach.figures.rig import Rig
from coach.model import ClearStep, Rulebook, Scalar

STEPS = """
[[clear]]
says = "Net in"
minutes = 2.0
only_if = "net.in_water"

[[clear]]
says = "Lamps in"
minutes = 1.5
times = "lamps.total"
else = 2

[[clear]]
says = "Engine on"
minutes = 0.5
"""


@pytest.fixture
def book(small_rules: Callable[..., Rulebook]) -> Rulebook:
    """A rule base in which a net takes 2 minutes, a lamp 1.5 and the engine half a minute."""
    texts, _, _ = (SHIPPED / "texts.toml").read_text().partition("[[clear]]")
    return small_rules({"texts.toml": texts + STEPS})


def minutes(facts: Mapping[str, Scalar], book: Rulebook) -> list[float]:
    return [minutes_for(step, facts) for step in book.clearing]


def test_what_is_not_known_is_counted_as_out(book: Rulebook) -> None:
    assert minutes({}, book) == [2, 3, 0.5]


def test_what_is_not_out_takes_no_time(book: Rulebook) -> None:
    assert minutes({"net.in_water": False}, book) == [0, 3, 0.5]
    assert minutes({"net.in_water": True}, book) == [2, 3, 0.5]


@pytest.mark.parametrize("lamps", [0, 1, 4, 12])
def test_each_lamp_takes_its_time(lamps: float, book: Rulebook) -> None:
    assert minutes({"lamps.total": lamps}, book)[1] == 1.5 * lamps


def test_the_steps_come_in_the_order_of_the_rule_base_and_those_that_fall_away_are_left_out(
    book: Rulebook,
) -> None:
    _, items, _ = clearing_steps(book, {"lamps.total": 4.0})
    assert [item.split(":")[0] for item in items] == ["Net in", "Lamps in", "Engine on"]
    _, items, _ = clearing_steps(book, {"net.in_water": False, "lamps.total": 0.0})
    assert [item.split(":")[0] for item in items] == ["Engine on"]


def test_each_step_and_the_whole_come_with_their_minutes(book: Rulebook) -> None:
    _, items, total = clearing_steps(book, {"lamps.total": 4.0})
    assert [item.split(": ")[1] for item in items] == ["2 minutes", "6 minutes", "half a minute"]
    assert "9 minutes" in total  # 2 + 6 + 0.5, rounded up


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (0.1, "half a minute"),
        (0.5, "half a minute"),
        (0.51, "1 minute"),
        (1, "1 minute"),
        (1.01, "2 minutes"),
        (9.5, "10 minutes"),
    ],
)
def test_minutes_are_rounded_up_so_as_not_to_promise_too_much(given: float, said: str) -> None:
    assert quantity_min(given) == said


def test_more_out_never_takes_less_time(book: Rulebook) -> None:
    bare = {"net.in_water": False, "lamps.total": 1.0}
    for more in ({"net.in_water": True}, {"lamps.total": 2.0}):
        assert sum(minutes({**bare, **more}, book)) > sum(minutes(bare, book))


def test_a_step_counts_only_what_people_can_be_asked(
    tmp_path: object, small_rules: Callable[..., Rulebook]
) -> None:
    assert all(
        name is None or name in rule_folders.VOCABULARY["facts"]
        for step in small_rules().clearing
        for name in (step.only_if, step.times)
    )


def test_a_step_without_conditions_always_takes_its_time() -> None:
    assert minutes_for(ClearStep("Go", 1.0, None, None, 1), {}) == 1.0


@pytest.mark.parametrize(("lamps", "nets", "anchors"), [(2, 0, 1), (2, 1, 1), (4, 1, 2), (0, 0, 0)])
def test_the_shipped_list_takes_as_long_as_the_calculator_says(
    lamps: float, nets: float, anchors: float, shipped: Rulebook
) -> None:
    # both are the captain's: the list in texts.toml, the calculator's minutes in numbers.toml
    out = {"lamps.total": lamps, "net.in_water": bool(nets), "boat.anchors": anchors}
    rig = Rig.from_numbers(shipped.numbers)
    told = clearing(rig, lamps=lamps, nets=nets, anchors=anchors, is_buoyed=False).minutes
    assert sum(minutes(out, shipped)) == pytest.approx(told)
