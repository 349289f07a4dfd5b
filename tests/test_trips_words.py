"""What the log says of one night, and of many nights.

Expected numbers: catch per lamp-hour and its exact range are checked against scipy's chi-square form of
Garwood's interval, shares against scipy's exact binomial interval, the dispersion against Pearson's formula
by numpy. How small a number is "few" is this program's own promise.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from nights import DAY_MIN, at, good_night, helped, later, one, row
from scipy.stats import binomtest, chi2

from coach import rulebook
from coach.apparatus import apparatus
from coach.trips.catches import (
    catches,
    dispersion,
    grouped,
    moon_word_of,
    overall,
    place_word,
    set_word,
    tide_word,
)
from coach.trips.trip import Place, trips_of
from coach.trips.words import by_words, rate_line, summary, title

BOOK = rulebook.load()


# --- the summary ---------------------------------------------------------------------------------------


def test_the_summary_says_what_happened_and_ends_in_one_thing() -> None:
    lines = summary(one(good_night()), BOOK)
    text = "\n".join(lines)
    assert "19:26 Changed: the left lamp's clip height: 3 ft; the right lamp's clip height: 3 ft." in lines
    assert "Lifted: 114 in 3 looks (19:20 9, 19:50 47, 20:20 58)." in lines
    assert "It helped. Catch in ten minutes: 3 before, 16 after." in text  # 9 in 35 min, 47 in 30 min
    assert lines[-1].startswith(
        "One thing to do differently: look for this first: the lamps were set too near"
    )
    assert text.count("One thing to do differently") == 1
    assert "2 m" not in text
    assert "2 m" in "\n".join(summary(one(good_night()), BOOK, metric=True))  # 6.5 ft is 1.98 m


def test_the_one_thing_follows_from_what_the_trip_shows() -> None:
    def thing(rows: list[Any]) -> str:
        return summary(one(rows), BOOK)[-1].removeprefix("One thing to do differently: ")

    night = good_night()
    hazard = row(90, {"crew.jackets": False}, hazards=[("fog", "Fog."), ("no-jackets", "Jackets on.")])
    assert thing([*night, hazard]).endswith("20:30. Fog.")  # the graver first, in the order of the rule base
    assert thing([*night[:6], helped(51, "no")]).startswith("what was tried did not help")
    assert thing(night[:6]).startswith("count ten minutes before and after")
    assert thing([row(0, {"lamps.count": 2.0})]).startswith("count, bow and stern apart")
    assert thing([row(0, {"crew.bow_count": 3.0, "crew.stern_count": 3.0})]).startswith("note when you set")
    assert thing([*night[:3]]).startswith("nothing in the set")


def test_the_bows_share_is_the_exact_one_and_luck_is_called_luck() -> None:
    trip = one(good_night())
    exact = binomtest(60, 114).proportion_ci(method="exact")
    assert (
        f"Bow 60, stern 54: the bow's share is 53% ({exact.low:.0%} to {exact.high:.0%}), within luck."
        in summary(trip, BOOK)
    )
    uneven = one([row(0, {"crew.bow_count": 44.0, "crew.stern_count": 3.0})])
    assert "more than luck" in "\n".join(summary(uneven, BOOK))


def test_a_trip_without_counts_says_so_and_no_rate_is_made_of_counts_without_minutes() -> None:
    assert "No counts were told." in summary(one([row(0, {"lamps.count": 2.0})]), BOOK)
    blind = one([row(0, {"crew.bow_count": 3.0, "crew.stern_count": 3.0})])
    assert "Catch per lamp-hour: not known" in "\n".join(summary(blind, BOOK))


def test_a_title_tells_day_hours_place_and_count() -> None:
    trip = one(good_night(), places=[(at(0), Place("Gull Point"))])
    assert title(trip) == "1  11 Feb 2027 19:00-20:20, Gull Point, 114 lifted"


# --- across trips --------------------------------------------------------------------------------------


def test_catch_per_lamp_hour_is_all_counts_over_all_lamp_hours_with_the_exact_range() -> None:
    night = [
        row(0, {"lamps.minutes_since_set": 1.0, "lamps.count": 4.0}),
        row(29, {"crew.bow_count": 7.0, "crew.stern_count": 5.0}),
    ]
    group = overall(catches(trips_of(night)))
    hours = 4 * 30 / 60
    assert (group.count, group.lamp_hours) == (12, pytest.approx(hours))
    assert group.rate == pytest.approx(12 / hours)
    # Garwood's range by the chi-square quantiles (scipy)
    assert group.low == pytest.approx(chi2.ppf(0.025, 24) / 2 / hours, rel=1e-6)
    assert group.high == pytest.approx(chi2.ppf(0.975, 26) / 2 / hours, rel=1e-6)


def test_two_lamps_are_taken_where_no_number_was_told() -> None:
    group = overall(catches(trips_of(good_night())))
    assert group.lamp_hours == pytest.approx(2 * 95 / 60)


@given(st.lists(st.tuples(st.integers(0, 200), st.floats(0.1, 5)), min_size=2, max_size=10))
def test_the_dispersion_is_pearsons_and_never_below_one(looks: list[tuple[int, float]]) -> None:
    counts = np.array([count for count, _ in looks], dtype=float)
    hours = np.array([length for _, length in looks])
    if counts.sum() == 0:
        assert dispersion(looks) == 1
        return
    expected = counts.sum() * hours / hours.sum()
    pearson = float(((counts - expected) ** 2 / expected).sum() / (len(looks) - 1))
    assert dispersion(looks) == pytest.approx(max(1.0, pearson))


def test_looks_that_differ_by_more_than_luck_widen_the_range() -> None:
    def night(counts: list[float]) -> list[Any]:
        first = row(0, {"lamps.minutes_since_set": 1.0})
        return [
            first,
            *(row(29 + 30 * i, {"crew.bow_count": n, "crew.stern_count": 0.0}) for i, n in enumerate(counts)),
        ]

    even, uneven = (
        overall(catches(trips_of(night(each)))) for each in ([20.0, 20.0, 20.0], [2.0, 55.0, 3.0])
    )
    assert even.rate == uneven.rate
    assert uneven.low < even.low
    assert (uneven.high or 0) > (even.high or 0)


def test_small_numbers_are_said_to_be_small() -> None:
    def few(count: float, nights: int) -> str:
        rows = [
            each
            for i in range(nights)
            for each in later(
                [
                    row(0, {"lamps.minutes_since_set": 1.0}),
                    row(29, {"crew.bow_count": count, "crew.stern_count": 0.0}),
                ],
                i * DAY_MIN,
            )
        ]
        return overall(catches(trips_of(rows))).few

    assert few(9, 1) == "far too few to tell"
    assert few(100, 1) == "one trip only: a hint"
    assert few(10, 2) == "few: a hint, no more"
    assert few(20, 2) == ""
    # 35 is where the exact range spans no more than a factor of two (scipy), 10 where about four
    assert chi2.ppf(0.975, 72) / chi2.ppf(0.025, 70) == pytest.approx(2, abs=0.02)
    assert chi2.ppf(0.975, 22) / chi2.ppf(0.025, 20) == pytest.approx(4, abs=0.2)


def test_catches_are_parted_by_tide_set_up_place_and_moon() -> None:
    rising = [row(0, {"tide.state": "rising", "lamps.minutes_since_set": 1.0, "sky.moon": "bright"})]
    rising += [row(30, {"crew.bow_count": 4.0, "crew.stern_count": 0.0})]
    trips = trips_of([*good_night(), *later(rising, DAY_MIN)], places=[(at(0), Place("Gull Point"))])
    found = catches(trips)
    moon = moon_word_of(apparatus(BOOK).figures.rig)
    assert [group.word for group in grouped(found, tide_word)] == ["falling", "rising"]
    assert [group.word for group in grouped(found, set_word)] == ["two-lamp", "not told"]
    assert [group.word for group in grouped(found, place_word)] == ["Gull Point", "not told"]
    # told: bright; not told: by the calendar the moon of 12 Feb 2027 is between new (6th) and first quarter
    # (14th; U.S. Naval Observatory's phases, MEMORY): lit by less than half
    assert {group.word for group in grouped(found, moon)} == {"bright", "half"}
    assert sum(group.count for group in grouped(found, tide_word)) == overall(found).count


def test_groups_are_told_with_range_and_smallness() -> None:
    lines = list(by_words({"tide": grouped(catches(trips_of(good_night())), tide_word)}))
    assert lines[0] == "tide:"
    assert "114 in 3.2 lamp-hours on 1 trip; one trip only: a hint" in lines[1]
    assert rate_line(overall([])).startswith("Catch per lamp-hour: not known")
