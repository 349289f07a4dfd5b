"""Whether a rule can ever fire, compared with trying out every combination of answers on the oracle."""

import random
from collections.abc import Callable, Iterator, Mapping
from itertools import product
from types import SimpleNamespace
from typing import cast

import oracle

from coach import rulebook
from coach.model import Condition, Fact, Option, Rule, Rulebook, Scalar
from coach.rulebook.possible import Possibilities

SHAPE, SIZE, WET = "thing.shape", "thing.size", "thing.wet"
DERIVED = ("thing.a", "thing.b", "thing.c")
EVERY: Mapping[str, tuple[Scalar | None, ...]] = {
    SHAPE: (None, "round", "flat", "long"),
    SIZE: (None, *(step / 2 for step in range(9))),  # thresholds are whole, 0 to 4: nothing lies between
    WET: (None, True, False),
}
SMALL_FACTS = {
    SHAPE: Fact(
        SHAPE, "choice", "asked", "shape", options=tuple(Option(o, o) for o in ("round", "flat", "long"))
    ),
    SIZE: Fact(SIZE, "number", "asked", "size", range=(0, 4)),
    WET: Fact(WET, "bool", "asked", "wet"),
    **{name: Fact(name, "bool", "concluded", name) for name in DERIVED},
}
OPERATORS: Mapping[str, Callable[[random.Random], Condition]] = {
    SHAPE: lambda dice: dice.choice(
        [
            Condition(SHAPE, "is", dice.choice(("round", "flat")), ""),
            Condition(SHAPE, "is_not", dice.choice(("round", "flat")), ""),
            Condition(SHAPE, "in", ("round", "long"), ""),
            Condition(SHAPE, "known", None, ""),
        ]
    ),
    SIZE: lambda dice: Condition(
        SIZE, dice.choice(("at_least", "more_than", "at_most", "less_than")), float(dice.randint(0, 4)), ""
    ),
    WET: lambda dice: Condition(WET, "is", dice.random() < 0.5, ""),
}


def random_rules(seed: int) -> list[Rule]:
    """A few rules over three questions and three conclusions; what is denied is concluded earlier on."""
    dice = random.Random(seed)
    return [_random_rule(dice, index) for index in range(8)]


def _random_rule(dice: random.Random, index: int) -> Rule:
    level = dice.randint(0, len(DERIVED) - 1)
    conditions = [
        OPERATORS[fact](dice) for fact in dice.choices(list(OPERATORS), k=dice.choice((1, 2, 2, 3)))
    ]
    conditions += [Condition(name, "is", True, "") for name in DERIVED[:level] if dice.random() < 0.5]
    unless = [OPERATORS[fact](dice) for fact in dice.choices(list(OPERATORS), k=dice.choice((0, 0, 1)))]
    unless += [
        Condition(name, "is", True, "") for name in DERIVED[: max(0, level - 1)] if dice.random() < 0.3
    ]
    return Rule(
        f"r{index}",
        "",
        tuple(conditions),
        tuple(unless),
        "",
        "",
        "draft",
        "",
        "",
        concludes=(DERIVED[level],) if dice.random() < 0.6 else (),
    )


def answers() -> Iterator[dict[str, Scalar]]:
    """Every combination of answers, each question also left open."""
    for values in product(*EVERY.values()):
        yield {name: value for name, value in zip(EVERY, values, strict=True) if value is not None}


def test_a_rule_is_called_dead_if_and_only_if_no_answers_whatever_make_it_fire() -> None:
    dead = 0
    for seed in range(120):
        rules = random_rules(seed)
        book = cast(Rulebook, SimpleNamespace(rules=tuple(rules), facts=SMALL_FACTS))
        possible = Possibilities(book, ())
        clauses = list(rulebook.clauses(book))
        strata = oracle.strata(clauses)
        fired = {
            firing.rule for facts in answers() for firing in oracle.evaluate(clauses, facts, strata).firings
        }
        assert {each.id for each in rules if possible.can_fire(each)} == fired
        dead += len(rules) - len(fired)
    assert dead > 100  # of 960: a test without dead rules proves little
