"""Counting on deck: what is taken for a count and what is not, and the tally. Ways of writing are common
practice of crews who count."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.counting import NIGHT_OVER_H, Counted, Entry, of_tonight, read_count, tally


@pytest.mark.parametrize(
    ("text", "counts"),
    [
        ("b3 s5", [("bow", 3, "piece", ""), ("stern", 5, "piece", "")]),
        ("B3S5", [("bow", 3, "piece", ""), ("stern", 5, "piece", "")]),
        ("bow 3, stern 5", [("bow", 3, "piece", ""), ("stern", 5, "piece", "")]),
        ("3 bow and 5 stern", [("bow", 3, "piece", ""), ("stern", 5, "piece", "")]),
        ("b+2", [("bow", 2, "piece", "")]),
        ("+1", [("", 1, "piece", "")]),
        ("+3 nets", [("", 3, "net", "")]),
        ("s 2 buckets", [("stern", 2, "bucket", "")]),
        ("half a bucket bow", [("bow", 0.5, "bucket", "")]),
        ("b ½ bucket", [("bow", 0.5, "bucket", "")]),
        ("bow 1.5 lb stern 2,5 lb", [("bow", 1.5, "lb", ""), ("stern", 2.5, "lb", "")]),
        ("stern 2 kilos", [("stern", 2, "kg", "")]),
        ("j1", [("deep", 1, "piece", "")]),
        ("2 jumps", [("deep", 2, "piece", "")]),
        ("maren 4", [("", 4, "piece", "Maren")]),
    ],
)
def test_these_are_counts(text: str, counts: list[tuple[str, float, str, str]]) -> None:
    assert read_count(text, ["Maren"]) == tuple(Counted(*each) for each in counts)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
    [
        "", "3", "12.5", "bow", "b", "we lost 3 at the bow", "b3 and then it stopped", "yes", "1 yes",
        "back", "11 ft", "s", "bow 99999", "-3", "b-3", "Oswin 4", "j 2 buckets", "was good till 9",
        "half nine", "²",
    ],
)  # fmt: skip
def test_nothing_else_is_taken_for_a_count(text: str) -> None:
    assert read_count(text, ["Maren"]) is None


@given(st.text(max_size=60), st.lists(st.text(min_size=1, max_size=8), max_size=3))
def test_no_text_breaks_the_reading_of_counts(text: str, names: list[str]) -> None:
    found = read_count(text, names)
    assert found is None or all(0 <= each.amount <= 10_000 for each in found)


@given(st.lists(st.tuples(st.sampled_from(["bow", "stern"]), st.integers(0, 500)), min_size=1, max_size=8))
def test_whatever_is_counted_comes_back_as_it_was_written(counts: list[tuple[str, int]]) -> None:
    text = " ".join(f"{side[0]}{amount}" for side, amount in counts)
    found = read_count(text)
    assert found is not None
    assert [(each.side, each.amount) for each in found] == counts


def entry(at: float, side: str = "bow", amount: float = 1, unit: str = "piece") -> Entry:
    return Entry(at, side, "", amount, unit)  # type: ignore[arg-type]


def test_a_tally_keeps_sides_and_units_apart() -> None:
    counted = [entry(0), entry(1, amount=2), entry(2, "stern"), entry(3, "bow", 0.5, "bucket")]
    assert tally(counted) == {("bow", "piece"): 3, ("stern", "piece"): 1, ("bow", "bucket"): 0.5}


def test_tonight_begins_after_the_last_long_pause() -> None:
    pause = NIGHT_OVER_H * 3600
    row = [entry(0), entry(10), entry(11 + pause), entry(12 + 2 * pause - 60)]
    assert of_tonight(row, now=row[-1].at) == row[2:]
    assert of_tonight([], now=0.0) == []
    assert of_tonight(row, now=row[-1].at + pause + 1) == []
