"""Facts as people and programs may state them: for hypothesis, and drawn from a seed."""

import random
from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import strategies as st
from rule_folders import VOCABULARY

from coach.model import Fact, Scalar

NIGHT = datetime(2027, 2, 11, 18, 0, tzinfo=UTC)
TENTHS = 10


def answers(name: str) -> st.SearchStrategy[Scalar]:
    """Every answer that a fact of the vocabulary may have; numbers often on the tenth, as people say them."""
    fact = VOCABULARY["facts"][name]
    if fact["type"] == "bool":
        return st.booleans()
    if fact["type"] == "choice":
        return st.sampled_from(fact["of"])
    if fact["type"] == "time":
        minutes = st.integers(-720, 1440)
        return minutes.map(lambda late: (NIGHT + timedelta(minutes=late)).isoformat())
    low, high = fact["range"]
    tenths = st.integers(round(low * TENTHS), round(high * TENTHS)).map(lambda tenth: tenth / TENTHS)
    return tenths | st.floats(low, high)


def facts(*, names: Any = None, max_size: int = 12) -> st.SearchStrategy[dict[str, Scalar]]:
    """A few facts of the vocabulary with legal values."""
    name = st.sampled_from(sorted(names or VOCABULARY["facts"]))
    pairs = name.flatmap(lambda each: st.tuples(st.just(each), answers(each)))
    return st.lists(pairs, max_size=max_size).map(dict)


def drawn(fact: Fact, dice: random.Random) -> Scalar:
    """One legal answer by chance."""
    if fact.type == "bool":
        return dice.random() < 0.5
    if fact.type == "choice":
        return dice.choice(fact.options).id if fact.options else "any"
    if fact.type == "time":
        return (NIGHT + timedelta(minutes=dice.randint(-720, 1440))).isoformat()
    low, high = fact.range or (0.0, 100.0)
    middle = low + (high - low) * dice.random() ** 2  # small numbers are the more usual
    return float(round(middle, 1)) if dice.random() < 0.7 else float(dice.choice((low, high)))
