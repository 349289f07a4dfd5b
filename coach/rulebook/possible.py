"""Can a rule ever fire? Conditions as sets of values, followed back through what rules conclude.

Each fact gets a few values that stand for all it may have: every answer of a choice, and for a number
its limits, each value that some rule compares it with, and one between any two of these. On those a
condition is simply the set of values that pass it, and what conditions have in common is an
intersection. Figures are taken as independent of each other, so a rule is called dead only where it
certainly is.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

from coach.model import Condition, Fact, Rule, Rulebook, Scalar

Values = frozenset[Scalar]
Known = Mapping[str, Values]
"""What facts may be, each of them known; a fact that is not in it may be anything, or not known."""

_HOLDS: Mapping[str, Callable[[Any, Any], bool]] = {
    "is": operator.eq,
    "is_not": operator.ne,
    "in": lambda value, wanted: value in wanted,
    "at_least": operator.ge,
    "more_than": operator.gt,
    "at_most": operator.le,
    "less_than": operator.lt,
    "known": lambda _value, _wanted: True,
}
_WAYS_TRIED = 2000


def holds(condition: Condition, value: Scalar) -> bool:
    """Whether the condition holds on a value that its fact may have."""
    return _HOLDS[condition.operator](value, condition.value)


@dataclass(frozen=True, slots=True)
class _Way:
    """One way for a rule to fire: what the facts then are, and all that must not hold meanwhile."""

    known: Known
    denied: tuple[Condition, ...]


class Possibilities:
    """What the rules of one rulebook can do. `calculated` are the facts that some figure gives."""

    def __init__(self, book: Rulebook, calculated: Iterable[str]) -> None:
        self._book = book
        self._calculated = frozenset(calculated)
        self._conditions = [c for rule in book.rules for c in (*rule.when, *rule.unless)]
        self._values: dict[str, Values] = {}
        self._passing: dict[Condition, Values] = {}

    @cached_property
    def concluded_by(self) -> Mapping[str, Sequence[Rule]]:
        """The rules that conclude each fact."""
        found: dict[str, list[Rule]] = {}
        for rule in self._book.rules:
            for fact in rule.concludes:
                found.setdefault(fact, []).append(rule)
        return found

    @cached_property
    def _compared(self) -> Mapping[str, frozenset[float]]:
        found: dict[str, set[float]] = {}
        for c in self._conditions:
            constants = c.value if isinstance(c.value, tuple) else (c.value,)
            found.setdefault(c.fact, set()).update(v for v in constants if isinstance(v, float))
        return {name: frozenset(values) for name, values in found.items()}

    def values(self, name: str) -> Values:
        """Values that stand for all that the fact may have."""
        if name not in self._values:
            self._values[name] = frozenset(self._all_values(self._book.facts[name]))
        return self._values[name]

    def passing(self, condition: Condition) -> Values:
        """Those of its fact's values on which the condition holds."""
        if condition not in self._passing:
            every = self.values(condition.fact)
            self._passing[condition] = frozenset(value for value in every if holds(condition, value))
        return self._passing[condition]

    def together(self, conditions: Iterable[Condition]) -> Values | None:
        """What a fact may be while all these conditions on it hold; None for no condition."""
        common: Values | None = None
        for condition in conditions:
            passing = self.passing(condition)
            common = passing if common is None else common & passing
        return common

    def can_fire(self, rule: Rule) -> bool:
        """Whether some facts make the rule fire, through whatever other rules conclude."""
        ways = self._ways_for(rule, _Way({}, ()), frozenset())
        # with too many ways to try them all it is not called dead
        return any(tried >= _WAYS_TRIED or not self._is_denied(way) for tried, way in enumerate(ways))

    # -- ways to fire

    def _ways_for(self, rule: Rule, so_far: _Way, under: frozenset[str]) -> Iterator[_Way]:
        denied = _Way(so_far.known, (*so_far.denied, *rule.unless))
        yield from self._ways_on(rule.when, denied, under | {rule.id})

    def _ways_on(self, when: Sequence[Condition], so_far: _Way, under: frozenset[str]) -> Iterator[_Way]:
        if not when:
            yield so_far
            return
        for way in self._ways_of(when[0], so_far, under):
            yield from self._ways_on(when[1:], way, under)

    def _ways_of(self, condition: Condition, so_far: _Way, under: frozenset[str]) -> Iterator[_Way]:
        fact = condition.fact
        if self._book.facts[fact].origin != "concluded" or fact in so_far.known:
            ways = iter((so_far,))
        else:
            ways = self._ways_to(fact, so_far, under)
        for way in ways:
            values = way.known.get(fact, self.values(fact)) & self.passing(condition)
            if values:
                yield _Way({**way.known, fact: values}, way.denied)

    def _ways_to(self, fact: str, so_far: _Way, under: frozenset[str]) -> Iterator[_Way]:
        for rule in self.concluded_by.get(fact, ()):
            if rule.id not in under:  # what needs itself never comes about
                yield from self._ways_for(rule, so_far, under)

    # -- what is denied then

    def _is_denied(self, way: _Way) -> bool:
        """Whether, with these facts, one of the exceptions holds for certain."""
        for fact in {condition.fact for condition in way.denied}:
            exceptions = [condition for condition in way.denied if condition.fact == fact]
            if fact in way.known and way.known[fact] <= self._either(exceptions):
                return True
        concluded = {c.fact for c in way.denied if self._book.facts[c.fact].origin == "concluded"}
        return bool(concluded) and not concluded.isdisjoint(self._certain(way.known))

    def _either(self, conditions: Iterable[Condition]) -> Values:
        return frozenset().union(*(self.passing(condition) for condition in conditions))

    def _certain(self, known: Known) -> set[str]:
        """What the rules conclude whenever the facts are so."""
        certain: set[str] = set()
        concluding = [rule for rule in self._book.rules if rule.concludes]
        while True:
            new = {
                fact
                for rule in concluding
                if self._fires_for_certain(rule, known, certain)
                for fact in rule.concludes
            }
            if new <= certain:
                return certain
            certain |= new

    def _fires_for_certain(self, rule: Rule, known: Known, certain: set[str]) -> bool:
        for condition in rule.when:
            passing = self.passing(condition)
            settled = condition.fact in known and known[condition.fact] <= passing
            if not settled and not (condition.fact in certain and True in passing):
                return False
        return all(c.fact in known and known[c.fact].isdisjoint(self.passing(c)) for c in rule.unless)

    # -- values

    def _all_values(self, fact: Fact) -> Iterable[Scalar]:
        if fact.type == "choice":
            return [option.id for option in fact.options]
        if fact.type == "bool":
            settled = fact.origin != "asked" and fact.name not in self._calculated
            return [True] if settled else [True, False]  # what rules conclude is only ever so
        if fact.type == "time":
            return ["a time"]
        return self._numbers(fact)

    def _numbers(self, fact: Fact) -> Iterable[float]:
        compared = self._compared.get(fact.name, frozenset())
        low, high = fact.range or (min(compared, default=0) - 1, max(compared, default=0) + 1)
        points = sorted({low, high, *(value for value in compared if low <= value <= high)})
        return [*points, *((one + other) / 2 for one, other in pairwise(points))]
