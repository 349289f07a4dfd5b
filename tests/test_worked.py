"""Which advice worked: counted over trips, with the interval that a statistics library gives."""

from datetime import UTC, datetime, timedelta

import pytest
from scipy.stats import binomtest

from coach import rulebook
from coach.trips.trip import Advice, Place, Trip
from coach.trips.worked import Worked, worked, worked_in_words

BOOK = rulebook.load()
START = datetime(2027, 2, 11, 21, tzinfo=UTC)


def trip(*told: tuple[str, bool | None]) -> Trip:
    advice = tuple(
        Advice(START + timedelta(minutes=at), tuple(causes.split()), "Do it.", {}, helped)
        for at, (causes, helped) in enumerate(told)
    )
    return Trip(1, START, START + timedelta(hours=3), Place(""), (), (), advice, (), {}, 9)


def test_only_what_people_were_told_to_see_to_first_is_counted() -> None:
    found = worked([trip(("tide-fell fouled-lamp", True), ("tide-fell", False)), trip(("tide-fell", None))])
    assert found == (Worked("tide-fell", 3, 1, 1),)


def test_advice_without_a_cause_is_not_counted() -> None:
    assert worked([trip(("", True))]) == ()
    assert worked_in_words((), BOOK) == ("No advice that names a cause is in the log yet.",)


@pytest.mark.parametrize("helped,did_not", [(3, 0), (0, 4), (7, 2), (40, 25)])
def test_the_interval_is_the_exact_one(helped: int, did_not: int) -> None:
    """Against scipy's exact binomial interval."""
    low, high = binomtest(helped, helped + did_not).proportion_ci(0.95, "exact")
    assert Worked("tide-fell", 99, helped, did_not).interval == pytest.approx((low, high), abs=1e-9)


def test_few_answers_are_said_to_be_few_and_none_to_be_none() -> None:
    lines = worked_in_words(worked([trip(*[("tide-fell", True)] * 4, ("mixed-lamps", None))]), BOOK)
    assert "helped in 4 of 4" in lines[0] and "may be luck" in lines[0]
    assert lines[1].endswith("advised once, nobody said whether it helped.")
    many = worked_in_words(worked([trip(*[("tide-fell", True)] * 40)]), BOOK)
    assert "luck" not in many[0]
