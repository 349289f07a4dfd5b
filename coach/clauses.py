"""What the two evaluators agree on: which clauses and facts are legal, and in which order clauses count.

Both the engine and the plain evaluator check their input here, so that they refuse the same things
in the same words. Nothing here infers anything.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable, Iterator, Mapping, Sequence

from coach.model import Clause, Pattern, Scalar, Test

LARGEST_NUMBER = 1e15
"""No number a boat needs is larger, and up to here every whole number is exact as a float."""

LONGEST_TEXT = 1000
"""Characters. Facts hold enumerated answers; free text never becomes a fact."""

ORDERINGS = frozenset({"<", "<=", ">", ">="})
OPERATORS = ORDERINGS | {"==", "!=", "in"}

_KIND_WORDS: Mapping[type, str] = {bool: "true or false", float: "a number", str: "text"}


class EngineLimits(ValueError):  # noqa: N818  (a list of problems, not one error)
    """The clauses cannot be evaluated as they stand. `problems` holds every reason found."""

    def __init__(self, problems: Iterable[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


def checked_value(name: str, value: object) -> Scalar:
    """The value as it is inferred with: whole numbers as floats, the rest as given.

    Raises TypeError for anything but text, a number or a bool, and ValueError for a number that is
    not finite or beyond 1e15, and for text that is too long or not encodable.
    """
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        if not -LARGEST_NUMBER <= value <= LARGEST_NUMBER:  # also refuses NaN
            raise ValueError(f"fact {name!r}: a number must lie within ±1e15")
        return float(value)
    if isinstance(value, str):
        return _checked_text(name, value)
    raise TypeError(f"fact {name!r}: expected text, a number or true/false, got {type(value).__name__}")


def checked_facts(facts: Mapping[str, Scalar], kinds: Mapping[str, type]) -> dict[str, Scalar]:
    """All facts as they are inferred with; `kinds` is what `fact_kinds` found in the clauses.

    Raises as `checked_value` does, and TypeError when a fact has another kind of value than the
    clauses compare it with. Facts that no clause reads may have any kind.
    """
    known: dict[str, Scalar] = {}
    for name, given in facts.items():
        if not isinstance(name, str):
            raise TypeError(f"a fact's name must be text, got {type(name).__name__}")
        known[name] = value = checked_value(name, given)
        kind = kinds.get(name)
        if kind is not None and not isinstance(value, kind):
            raise TypeError(f"fact {name!r}: expected {_KIND_WORDS[kind]}, got {_KIND_WORDS[type(value)]}")
    return known


def fact_kinds(clauses: Sequence[Clause]) -> dict[str, type]:
    """bool, float or str for each fact whose value some test compares or some clause concludes."""
    return {name: next(iter(uses)) for name, uses in _uses_by_kind(clauses).items()}


def require_legal(clauses: Sequence[Clause], more: Iterable[str] = ()) -> None:
    """Raise EngineLimits with everything that is wrong with the clauses, and `more` of the caller's."""
    problems = [*clause_problems(clauses), *more]
    if problems:
        raise EngineLimits(problems)


def comparable(clauses: Sequence[Clause]) -> list[Clause]:
    """The clauses whose own tests are legal: all of them, once `require_legal` has passed."""
    mixed = {name for name, uses in _uses_by_kind(clauses).items() if len(uses) > 1}
    return [
        clause
        for clause in clauses
        if not any(_test_problems(clause))
        and mixed.isdisjoint(p.fact for p in (*clause.when, *clause.unless))
    ]


def clause_problems(clauses: Sequence[Clause]) -> list[str]:
    """Every reason why the clauses have no clear meaning, each with the clause ids and what to do."""
    return [
        *_repeated_ids(clauses),
        *(problem for clause in clauses for problem in _test_problems(clause)),
        *_mixed_kinds(clauses),
        *_circular_negation(clauses),
    ]


def strata_of(clauses: Sequence[Clause]) -> tuple[int, ...]:
    """The stratum of each clause, from 0: above every clause that could still conclude what it denies.

    A clause stands no lower than the producers of what it needs, and one higher than the producers
    of what must be absent. Expects clauses without circular negation.
    """
    producers = _producers(clauses)
    level = [0] * len(clauses)
    moved = True
    while moved:
        moved = False
        for index, clause in enumerate(clauses):
            least = max(_floors(clause, producers, level), default=0)
            if level[index] < least:
                level[index], moved = least, True
    return tuple(level)


def names(ids: Iterable[str]) -> str:
    """Clause ids for a message, quoted; a long list is cut."""
    unique = list(dict.fromkeys(ids))
    shown = ", ".join(repr(each) for each in unique[:6])
    return shown if len(unique) <= 6 else f"{shown} and {len(unique) - 6} more"


def _checked_text(name: str, value: str) -> str:
    if len(value) > LONGEST_TEXT:
        raise ValueError(f"fact {name!r}: text of {len(value)} characters is longer than {LONGEST_TEXT}")
    try:
        value.encode()
    except UnicodeEncodeError as error:
        raise ValueError(f"fact {name!r}: the text holds half a character (a lone surrogate)") from error
    return value


def _repeated_ids(clauses: Sequence[Clause]) -> Iterator[str]:
    seen: dict[str, int] = defaultdict(int)
    for clause in clauses:
        seen[clause.id] += 1
    for name, count in seen.items():
        if count > 1:
            yield f"clause {name!r}: this id is used {count} times; give each clause its own"


def _test_problems(clause: Clause) -> Iterator[str]:
    for pattern in (*clause.when, *clause.unless):
        for test in pattern.tests:
            wrong = _what_is_wrong(pattern, test)
            if wrong:
                yield f"clause {clause.id!r}: {pattern.fact} {test.op} {test.value!r}: {wrong}"


def _what_is_wrong(pattern: Pattern, test: Test) -> str:
    if test.op not in OPERATORS:
        return f"unknown operator; use one of {' '.join(sorted(OPERATORS))}"
    if (test.op == "in") != isinstance(test.value, tuple) or test.value == ():
        return "give a list with at least one value to 'in', and a single value to any other operator"
    try:
        values = [checked_value(pattern.fact, value) for value in constants(test)]
    except (TypeError, ValueError) as error:
        return f"{error}; correct the value"
    if test.op in ORDERINGS and not isinstance(values[0], float):
        return "only numbers have an order; use == or in"
    return ""


def constants(test: Test) -> tuple[Scalar, ...]:
    """The values a test compares with: several for "in", else one."""
    return test.value if isinstance(test.value, tuple) else (test.value,)


def _mixed_kinds(clauses: Sequence[Clause]) -> Iterator[str]:
    for name, uses in _uses_by_kind(clauses).items():
        if len(uses) > 1:
            told = ", ".join(f"{_KIND_WORDS[kind]} by {names(ids)}" for kind, ids in uses.items())
            yield f"fact {name!r} is taken as {told}: use one kind of value throughout"


def _uses_by_kind(clauses: Sequence[Clause]) -> dict[str, dict[type, list[str]]]:
    uses: dict[str, dict[type, list[str]]] = defaultdict(lambda: defaultdict(list))
    for clause in clauses:
        for fact in clause.concludes:
            uses[fact][bool].append(clause.id)
        for pattern in (*clause.when, *clause.unless):
            for value in (value for test in pattern.tests for value in constants(test)):
                kind = float if type(value) is int else type(value)
                if kind in _KIND_WORDS:
                    uses[pattern.fact][kind].append(clause.id)
    return uses


def _producers(clauses: Sequence[Clause]) -> dict[str, list[int]]:
    producers: dict[str, list[int]] = defaultdict(list)
    for index, clause in enumerate(clauses):
        for fact in clause.concludes:
            producers[fact].append(index)
    return producers


def _floors(clause: Clause, producers: Mapping[str, list[int]], level: Sequence[int]) -> Iterator[int]:
    for pattern in clause.when:
        yield from (level[producer] for producer in producers.get(pattern.fact, ()))
    for pattern in clause.unless:
        yield from (level[producer] + 1 for producer in producers.get(pattern.fact, ()))


def _circular_negation(clauses: Sequence[Clause]) -> Iterator[str]:
    producers, readers = _producers(clauses), _readers(clauses)
    told: set[frozenset[int]] = set()
    for index, clause in enumerate(clauses):
        for fact in dict.fromkeys(pattern.fact for pattern in clause.unless):
            for producer in producers.get(fact, ()):
                path = _path(clauses, readers, index, producer)
                if path and frozenset(path) not in told:
                    told.add(frozenset(path))
                    way = " -> ".join(repr(clauses[step].id) for step in path)
                    yield (
                        f"clause {clause.id!r} fires unless {fact!r} holds, but what it concludes leads there"
                        f" ({way}): take one of these links out"
                    )


def _readers(clauses: Sequence[Clause]) -> dict[str, list[int]]:
    readers: dict[str, list[int]] = defaultdict(list)
    for index, clause in enumerate(clauses):
        for pattern in (*clause.when, *clause.unless):
            readers[pattern.fact].append(index)
    return readers


def _path(clauses: Sequence[Clause], readers: Mapping[str, list[int]], start: int, goal: int) -> list[int]:
    """The shortest chain of clauses by which what `start` concludes bears on `goal`; empty if none."""
    came_from: dict[int, int] = {start: start}
    queue = deque([start])
    while queue and goal not in came_from:
        here = queue.popleft()
        for reader in (each for fact in clauses[here].concludes for each in readers.get(fact, ())):
            if reader not in came_from:
                came_from[reader] = here
                queue.append(reader)
    return _walk_back(came_from, start, goal) if goal in came_from else []


def _walk_back(came_from: Mapping[int, int], start: int, goal: int) -> list[int]:
    path = [goal]
    while path[-1] != start:
        path.append(came_from[path[-1]])
    return path[::-1]
