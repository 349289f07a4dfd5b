"""Turns clauses into a plan of whole numbers for the matcher, and its answers back into firings.

Each fact gets a number, and so does each value it can be told apart by: true and false are 1 and 0;
a text is 1, 2, … if some clause names it, else 0; a number is placed among the constants it is
compared with, odd on one of them and even between two. Such places compare exactly as the numbers do,
whatever the floats. Clauses that need the same things share one condition in the library.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product
from math import prod
from typing import Any

from coach.clauses import comparable, constants, fact_kinds, names, require_legal, strata_of
from coach.model import Clause, Firing, Inference, Pattern, Scalar, Test

# The library fails silently, hangs or crashes not far beyond these (measured: 16, 64, 256, 512, 4096).
MOST_FACTS_NEEDED = 12
MOST_THRESHOLDS = 60
MOST_SAME_PATTERN = 250
MOST_TESTS_OF_A_FACT = 400
MOST_RULES = 3000
MOST_FACTS = 4000
MOST_ALTERNATIVES = 64
"""Of one clause: the product of its "in" lists. Not the library's limit but ours, for the memory."""

_Tests = tuple[tuple[str, int], ...]
_Condition = tuple[tuple[int, tuple[_Tests, ...]], ...]


class Plan:
    """Checked and numbered clauses. Raises EngineLimits with every problem found."""

    def __init__(self, clauses: Sequence[Clause]) -> None:
        sound = comparable(clauses)
        self.clauses = tuple(clauses)
        self.kinds = fact_kinds(clauses)
        self._values = _distinct_constants(sound)
        self._facts = _facts_read(sound)
        self._numbers = {name: number for number, name in enumerate(self._facts)}
        self._conditions: dict[_Condition, int] = {}
        self._users: dict[int, list[str]] = defaultdict(list)
        rows = [self._row(clause) for clause in sound]
        require_legal(clauses, self._limits())
        self.document = self._document(rows, strata_of(clauses))

    def encoded(self, known: Mapping[str, Scalar]) -> list[list[int]]:
        """The facts that some clause reads, as [number of the fact, number of its value]."""
        numbers = self._numbers
        return [[numbers[name], self._code(name, value)] for name, value in known.items() if name in numbers]

    def inference(self, known: Mapping[str, Scalar], fired: Iterable[int]) -> Inference:
        """The firings behind the matcher's answer. Raises LookupError if it cannot be right."""
        facts = dict(known)
        firings = []
        for clause in (self.clauses[index] for index in fired):
            firings.append(Firing(clause.id, tuple((need.fact, facts[need.fact]) for need in clause.when)))
            for name in clause.concludes:
                facts.setdefault(name, True)
        return Inference(tuple(firings), facts)

    def _code(self, name: str, value: Scalar) -> int:
        known = self._values.get(name, ())
        if isinstance(value, bool):
            return int(value)
        if isinstance(value, str):
            return known.index(value) + 1 if value in known else 0
        return bisect_left(known, value) + bisect_right(known, value)

    def _row(self, clause: Clause) -> list[Any]:
        return [
            self._condition(clause, clause.when),
            sorted({self._condition(clause, (pattern,)) for pattern in clause.unless}),
            [[self._numbers[name], 1] for name in clause.concludes if name in self._numbers],
        ]

    def _condition(self, clause: Clause, patterns: Sequence[Pattern]) -> int:
        tests: dict[int, list[Test]] = defaultdict(list)
        for pattern in patterns:  # several patterns on one fact are one: the library wants distinct facts
            tests[self._numbers[pattern.fact]] += pattern.tests
        key = tuple((number, self._options(self._facts[number], tests[number])) for number in sorted(tests))
        condition = self._conditions.setdefault(key, len(self._conditions))
        self._users[condition].append(clause.id)
        return condition

    def _options(self, name: str, tests: Sequence[Test]) -> tuple[_Tests, ...]:
        """The tests of one fact: any one of the options must pass whole. Several only where "in" is used."""
        fixed = {(test.op, self._code(name, constants(test)[0])) for test in tests if test.op != "in"}
        lists = [{self._code(name, value) for value in constants(test)} for test in tests if test.op == "in"]
        if not lists:
            return (tuple(sorted(fixed)),)
        listed = set.intersection(*lists)
        return tuple(sorted(tuple(sorted(fixed | {("==", value)})) for value in listed))

    def _rules(self) -> Iterator[tuple[int, list[tuple[int, _Tests]]]]:
        for key, condition in self._conditions.items():
            numbers = [number for number, _ in key]
            for option in product(*(options for _, options in key)):
                if key:
                    yield condition, list(zip(numbers, option, strict=True))

    def _document(self, rows: list[list[Any]], strata: Sequence[int]) -> dict[str, Any]:
        return {
            "facts": len(self._numbers),
            "rules": list(self._rules()),
            "always": [condition for key, condition in self._conditions.items() if not key],
            "clauses": [[stratum, *row] for stratum, row in zip(strata, rows, strict=True)],
        }

    def _limits(self) -> Iterator[str]:
        too_wide = list(self._wide_conditions())
        yield from too_wide
        if not too_wide:  # else spelling all rules out could take for ever
            yield from self._crowded_facts()
            yield from self._crowded_patterns()
        if len(self._numbers) > MOST_FACTS:
            yield f"the clauses read {len(self._numbers)} different facts; {MOST_FACTS} are possible"

    def _wide_conditions(self) -> Iterator[str]:
        total = 0
        for key, condition in self._conditions.items():
            users = names(self._users[condition])
            if len(key) > MOST_FACTS_NEEDED:
                yield (
                    f"clause {users}: needs {len(key)} facts at once, {MOST_FACTS_NEEDED} are possible:"
                    " let another clause conclude some of them together"
                )
            alternatives = prod(len(options) for _, options in key)
            total += alternatives
            if alternatives > MOST_ALTERNATIVES:
                yield (
                    f"clause {users}: its lists make {alternatives} combinations, {MOST_ALTERNATIVES} are"
                    " possible: let other clauses conclude a fact from each list"
                )
        if total > MOST_RULES:
            yield f"the clauses come to {total} rules of the library, {MOST_RULES} are possible: remove some"

    def _crowded_facts(self) -> Iterator[str]:
        nodes: dict[int, set[_Tests]] = defaultdict(set)
        users: dict[int, list[str]] = defaultdict(list)
        for condition, patterns in self._rules():
            for number, tests in patterns:
                nodes[number] |= {tests[:end] for end in range(1, len(tests) + 1)}
                users[number] += self._users[condition]
        for number, name in enumerate(self._facts):
            thresholds = sum(tests[-1][0] != "==" for tests in nodes[number])
            if thresholds > MOST_THRESHOLDS or len(nodes[number]) > MOST_TESTS_OF_A_FACT:
                tested = f"{len(nodes[number])} ways, {thresholds} of them not by =="
                yield (
                    f"fact {name!r} is tested in {tested}, by clauses {names(users[number])};"
                    f" {MOST_TESTS_OF_A_FACT} and {MOST_THRESHOLDS} are possible: let them share thresholds"
                )

    def _crowded_patterns(self) -> Iterator[str]:
        patterns = [(pattern, condition) for condition, rule in self._rules() for pattern in rule]
        for pattern, count in Counter(pattern for pattern, _ in patterns).items():
            if count > MOST_SAME_PATTERN:
                users = [u for each, condition in patterns if each == pattern for u in self._users[condition]]
                yield (
                    f"the same test of fact {self._facts[pattern[0]]!r} stands in {count} conditions,"
                    f" by clauses {names(users)}; {MOST_SAME_PATTERN} are possible: let them share conditions"
                )


def _facts_read(clauses: Sequence[Clause]) -> list[str]:
    patterns = (pattern for clause in clauses for pattern in (*clause.when, *clause.unless))
    return list(dict.fromkeys(pattern.fact for pattern in patterns))


def _distinct_constants(clauses: Sequence[Clause]) -> dict[str, list[Any]]:
    values: dict[str, set[Any]] = defaultdict(set)
    for clause in clauses:
        for pattern in (*clause.when, *clause.unless):
            values[pattern.fact].update(value for test in pattern.tests for value in constants(test))
    return {name: sorted(found) for name, found in values.items()}
