"""Reminders in the terminal chat: they ring before the prompt and while nobody types, late ones say so."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from coach import dialogue
from coach.consult import Desk
from coach.front import terminal
from coach.front.bells import NONE, SEEN_TO
from coach.model import Rulebook
from coach.store import Store

NOW = datetime.fromisoformat("2027-02-11T20:00:00-05:00")


class Evening:
    """A terminal at which lines are typed at times."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self.now, self.shown = desk, NOW, list[str]()

    def type(self, *lines: tuple[float, str]) -> list[str]:
        """Type each line so many minutes after the one before; what is shown from now on."""
        begin, left = len(self.shown), list(lines)
        due = [self.now]

        def is_typed() -> bool:
            if not left:
                return True
            at = due[0] + timedelta(minutes=left[0][0])
            self.now += timedelta(minutes=1)  # the prompt waits
            return self.now >= at

        def read() -> str | None:
            if not left:
                return None
            due[0] = self.now
            return left.pop(0)[1]

        place = terminal.Terminal(read, self.shown.append, lambda: 90, lambda: self.now, is_typed)
        terminal.run(self.desk, "me", place)
        return self.shown[begin:]


@pytest.fixture
def evening(tmp_path: Path, shipped: Rulebook, plain: Any) -> Iterator[Evening]:
    with Store(tmp_path / "a.db") as store:
        yield Evening(Desk(store, shipped, infer=plain, step=dialogue.step))


def bells_in(shown: list[str]) -> list[str]:
    return [line for text in shown for line in text.split("\n") if line.startswith("* ")]


def test_a_bell_rings_while_nobody_types_and_can_be_put_off_and_seen_to(evening: Evening) -> None:
    shown = evening.type(
        (0, "was good till nine then it faded"), (1, "low water at 22:00"), (1, "bells"),
        (125, "later"), (15, "done"), (1, "bells"),
    )  # fmt: skip
    assert "21:50  Low water at about 22:00: the flow stops soon." in shown
    assert bells_in(shown) == ["* Low water at about 22:00: the flow stops soon."] * 2
    assert any(line.startswith("It rings again at 22:") for line in shown)
    assert SEEN_TO in shown
    assert NONE in shown


def test_a_bell_that_fell_due_while_the_chat_was_closed_rings_late_and_says_so(evening: Evening) -> None:
    evening.type((0, "was good till nine then it faded"), (1, "low water at 22:00"))
    evening.now = NOW + timedelta(hours=2)
    assert bells_in(evening.type((1, "summary"))) == [
        "* (Late by 10 minutes.) Low water at about 22:00: the flow stops soon."
    ]
    assert bells_in(evening.type((1, "summary"))) == []


def test_a_bell_follows_the_tide_that_is_told_last(evening: Evening) -> None:
    shown = evening.type(
        (0, "was good till nine then it faded"),
        (1, "low water at 22:00"),
        (1, "no, low water at 23:00"),
        (1, "bells"),
    )
    listed = [line for line in shown if "Low water at about" in line]
    assert listed == ["22:50  Low water at about 23:00: the flow stops soon."]


def test_done_means_something_else_while_nothing_rang(evening: Evening) -> None:
    assert SEEN_TO not in evening.type((0, "was good till nine then it faded"), (1, "done"))
