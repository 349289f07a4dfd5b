"""Which values a fact may have when a program states them."""

import json
import math
from datetime import datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.legal import NotLegal, legal_value
from coach.model import UNKNOWN, Fact, Option

DEPTH = Fact("water.depth_ft", "number", "asked", "the depth", unit="ft", range=(0.5, 60))
FREE = Fact("tool.weight", "number", "asked", "the weight")
SNAGS = Fact("water.snags", "bool", "asked", "snags")
STATE = Fact(
    "tide.state",
    "choice",
    "asked",
    "the tide",
    options=(Option("falling", "Falling"), Option("none", "None")),
)
LOW_AT = Fact("tide.low_at", "time", "asked", "low water")
FACTS = [DEPTH, FREE, SNAGS, STATE, LOW_AT]

HUGE = st.sampled_from([10**17, -(10**19), 10**309, -(10**400)])
JSONISH = st.recursive(
    st.none() | st.booleans() | st.integers() | HUGE | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=8,
)


@pytest.mark.parametrize(
    ("fact", "value", "kept"),
    [
        (DEPTH, 0.5, 0.5),
        (DEPTH, 60, 60.0),
        (DEPTH, 11, 11.0),
        (FREE, -3, -3.0),
        (SNAGS, True, True),
        (SNAGS, False, False),
        (STATE, "falling", "falling"),
        (STATE, "none", "none"),
        (LOW_AT, "2027-02-11T21:05:00-05:00", "2027-02-11T21:05:00-05:00"),
        (LOW_AT, "2027-02-11T21:05Z", "2027-02-11T21:05:00+00:00"),
    ],
)
def test_a_legal_value_is_kept_in_one_form(fact: Fact, value: Any, kept: Any) -> None:
    found = legal_value(fact, value)
    assert found == kept
    assert type(found) is type(kept)


@pytest.mark.parametrize(
    ("fact", "value"),
    [
        *(
            (DEPTH, v)
            for v in (
                0.4999,
                60.0001,
                -3,
                math.nan,
                math.inf,
                -math.inf,
                True,
                False,
                "11",
                None,
                [11],
                {"ft": 11},
            )
        ),
        pytest.param(DEPTH, 10**400, id="a number of 400 digits where a range is set"),
        pytest.param(FREE, 10**400, id="a number of 400 digits where none is"),
        *((FREE, v) for v in (math.nan, math.inf, "heavy", 1.1e15)),
        *((SNAGS, v) for v in (0, 1, "yes", "true", None, [])),
        *((STATE, v) for v in ("Falling", "rising", "", " falling", True, 1, None, ["falling"])),
        *((LOW_AT, v) for v in ("2027-02-11T21:05:00", "2027-02-11", "nine", "", 1_800_000_000, None)),
    ],
)
def test_what_the_fact_cannot_be_is_refused_with_what_it_can(fact: Fact, value: Any) -> None:
    with pytest.raises(NotLegal) as refused:
        legal_value(fact, value)
    said = str(refused.value)
    assert said.startswith(f"{fact.name}: got ")
    assert "unknown" in said
    assert len(said) < 200


def test_the_refusal_says_what_was_given_and_what_is_allowed() -> None:
    said = {fact.name: _refusal(fact, "x") for fact in FACTS}
    assert said == {
        "water.depth_ft": "water.depth_ft: got 'x'; allowed 0.5 to 60 ft or unknown.",
        "tool.weight": "tool.weight: got 'x'; allowed a number or unknown.",
        "water.snags": "water.snags: got 'x'; allowed true, false or unknown.",
        "tide.state": "tide.state: got 'x'; allowed falling, none or unknown.",
        "tide.low_at": "tide.low_at: got 'x'; allowed a time with its zone, "
        "such as 2027-02-11T21:05:00-05:00, or unknown.",
    }


def _refusal(fact: Fact, value: Any) -> str:
    with pytest.raises(NotLegal) as refused:
        legal_value(fact, value)
    return str(refused.value)


@given(st.sampled_from(FACTS), JSONISH)
def test_any_value_is_either_kept_or_refused(fact: Fact, value: Any) -> None:
    try:
        kept = legal_value(fact, value)
    except NotLegal as refused:
        assert str(refused).isascii()
        return
    assert isinstance(kept, bool | float | str)
    assert json.loads(json.dumps(kept, allow_nan=False)) == kept
    assert kept != UNKNOWN


@given(
    st.datetimes(),
    st.timezones() | st.sampled_from([datetime.fromisoformat("2027-01-01T00:00+14:00").tzinfo]),
)
def test_a_time_with_its_zone_is_kept_as_the_same_moment(at: datetime, zone: Any) -> None:
    told = at.replace(tzinfo=zone)
    kept = legal_value(LOW_AT, told.isoformat())
    assert isinstance(kept, str)
    assert datetime.fromisoformat(kept).utcoffset() == told.utcoffset()
    assert datetime.fromisoformat(kept).replace(tzinfo=None) == at
