"""The same inference without the engine: plain Python, small, fast, and able to ask "what if".

It answers when the engine's process fails twice, and it lets the planner try out possible answers
to a question without disturbing the case. Each comparison is one bit of an integer; whether a
clause fires is then two operations on integers, so 250 clauses take tens of microseconds.
"""

from __future__ import annotations

import operator
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.clauses import checked_facts, constants, fact_kinds, require_legal, strata_of
from coach.model import Clause, Firing, Inference, Pattern, Scalar, Test

_COMPARE: Mapping[str, Callable[[Any, Any], bool]] = {
    "==": operator.eq,
    "!=": operator.ne,
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
    "in": lambda value, options: value in options,
}

_Comparison = tuple[Callable[[Any, Any], bool], Any]


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """A clause in bits: `need` must all be set and none of `block`."""

    rule: str
    reads: tuple[str, ...]
    concludes: tuple[str, ...]
    need: int
    block: int


@dataclass(frozen=True, slots=True)
class _Cone:
    """All that a change of some facts can reach: clauses by stratum, and what they may conclude."""

    strata: tuple[tuple[_Step, ...], ...]
    rules: frozenset[str]
    concludes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Difference:
    """What would change: firings of rules that do not fire now, and ids of rules that no longer would.

    A rule that fires either way is in neither, also when it would then stand on another value.
    """

    gained: frozenset[Firing]
    lost: frozenset[str]


class PlainEvaluator:
    """Clauses prepared for evaluation. Immutable but for a cache; safe to share between threads.

    Raises EngineLimits for clauses without a clear meaning (see coach.clauses).
    """

    def __init__(self, clauses: Sequence[Clause]) -> None:
        require_legal(clauses)
        self._kinds = fact_kinds(clauses)
        self._bit_of: dict[tuple[str, tuple[_Comparison, ...]], int] = {}
        self._comparisons: dict[str, list[tuple[int, tuple[_Comparison, ...]]]] = defaultdict(list)
        steps = [self._step(clause) for clause in clauses]
        self._strata = _by_stratum(steps, strata_of(clauses))
        self._readers = _readers(clauses, steps)
        self._mask = {name: sum(bit for bit, _ in tests) for name, tests in self._comparisons.items()}
        self._when_concluded = {name: self._bits(name, True) for step in steps for name in step.concludes}
        self._cones: dict[frozenset[str], _Cone] = {}

    def evaluate(self, facts: Mapping[str, Scalar]) -> Inference:
        """Infer from the facts. A fact that is given keeps its value even if a clause concludes it.

        Firings come stratum by stratum, within one in rounds (all that the facts so far allow), and
        within a round in the order of the clauses. Raises TypeError or ValueError, with the name,
        for a fact that is not text, a number in ±1e15 or a bool, or not the kind its tests expect.
        """
        known = checked_facts(facts, self._kinds)
        fired = self._run(self._strata, known, self._truth(known.items()))
        return Inference(tuple([_firing(step, known) for step in fired]), known)

    def standing(self, given: Mapping[str, Scalar], inference: Inference | None = None) -> Standing:
        """The case as it stands, ready for what-if questions.

        `given` are the facts that were put in, not those concluded. Pass the inference that was
        drawn from them, by either evaluator, if it is at hand; else it is drawn here.
        """
        return Standing(self, given, inference or self.evaluate(given))

    def _truth(self, known: Iterable[tuple[str, Scalar]]) -> int:
        truth = 0
        for name, value in known:
            if name in self._comparisons:
                truth |= self._bits(name, value)
        return truth

    def _bits(self, name: str, value: Scalar) -> int:
        bits = 0
        for bit, comparisons in self._comparisons.get(name, ()):
            for compare, constant in comparisons:
                if not compare(value, constant):
                    break
            else:
                bits |= bit
        return bits

    def _run(self, strata: Iterable[Sequence[_Step]], known: dict[str, Scalar], truth: int) -> list[_Step]:
        """Fire all that can fire, adding conclusions to `known`; what fired, in order."""
        all_fired: list[_Step] = []
        for stratum in strata:
            waiting = stratum
            while ready := [step for step in waiting if truth & step.need == step.need]:
                # blockers belong to lower strata, so none can appear or vanish during this one
                fired = [step for step in ready if not truth & step.block]
                all_fired += fired
                before = truth
                for name in [name for step in fired for name in step.concludes if name not in known]:
                    known[name] = True
                    truth |= self._when_concluded[name]
                if truth == before:  # nothing new to stand on: what still waits cannot fire in this stratum
                    break
                waiting = [step for step in waiting if step not in ready]
        return all_fired

    def _step(self, clause: Clause) -> _Step:
        return _Step(
            rule=clause.id,
            reads=tuple(pattern.fact for pattern in clause.when),
            concludes=clause.concludes,
            need=self._all_bits(clause.when),
            block=self._all_bits(clause.unless),
        )

    def _all_bits(self, patterns: Iterable[Pattern]) -> int:
        bits = 0
        for pattern in patterns:
            bits |= self._bit(pattern)
        return bits

    def _bit(self, pattern: Pattern) -> int:
        comparisons = tuple(dict.fromkeys(_comparison(test) for test in pattern.tests))
        key = (pattern.fact, comparisons)
        if key not in self._bit_of:
            self._bit_of[key] = 1 << len(self._bit_of)
            self._comparisons[pattern.fact].append((self._bit_of[key], comparisons))
        return self._bit_of[key]

    def _cone(self, changed: frozenset[str]) -> _Cone:
        if changed not in self._cones:
            self._cones[changed] = self._reach(changed)
        return self._cones[changed]

    def _reach(self, changed: frozenset[str]) -> _Cone:
        reached: dict[_Step, None] = {}
        facts = list(changed)
        for name in facts:  # grows while it is walked
            for step in self._readers.get(name, ()):
                if step not in reached:
                    reached[step] = None
                    facts += [fact for fact in step.concludes if fact not in facts]
        strata = tuple(tuple(step for step in stratum if step in reached) for stratum in self._strata)
        return _Cone(
            strata=tuple(stratum for stratum in strata if stratum),
            rules=frozenset(step.rule for step in reached),
            concludes=tuple(dict.fromkeys(name for step in reached for name in step.concludes)),
        )


class Standing:
    """A case and its inference, prepared for many what-if questions. Made by PlainEvaluator.standing."""

    def __init__(self, evaluator: PlainEvaluator, given: Mapping[str, Scalar], inference: Inference) -> None:
        self.inference = inference
        self._evaluator = evaluator
        self._given = frozenset(given)
        self._truth = evaluator._truth(inference.facts.items())
        self._fired = frozenset(firing.rule for firing in inference.firings)
        self._concluded_by = _concluded_by(evaluator, self._fired)

    def what_if(self, changes: Mapping[str, Scalar]) -> Difference:
        """What would change if these facts were given, or given otherwise.

        Looks only at the clauses that the changed facts reach, directly, through conclusions, or by
        being denied. Raises as `PlainEvaluator.evaluate` does. Leaves the standing as it is.
        """
        evaluator = self._evaluator
        changed = {
            name: value
            for name, value in checked_facts(changes, evaluator._kinds).items()
            if name not in self._given or self.inference.facts[name] != value
        }
        cone = evaluator._cone(frozenset(changed))
        known = dict(self.inference.facts)
        truth = self._truth
        for name in cone.concludes:
            if name not in self._given and self._concluded_by.get(name, frozenset()) <= cone.rules:
                known.pop(name, None)
                truth &= ~evaluator._mask.get(name, 0)
        for name, value in changed.items():
            known[name] = value
            truth = truth & ~evaluator._mask.get(name, 0) | evaluator._bits(name, value)
        fired = evaluator._run(cone.strata, known, truth)
        lost = (self._fired & cone.rules).difference([step.rule for step in fired])
        gained = [_firing(step, known) for step in fired if step.rule not in self._fired]
        return Difference(frozenset(gained), lost)


def evaluate_plainly(clauses: Sequence[Clause], facts: Mapping[str, Scalar]) -> Inference:
    """Infer once, without keeping anything prepared. Raises as PlainEvaluator and its `evaluate` do."""
    return PlainEvaluator(clauses).evaluate(facts)


def _firing(step: _Step, known: Mapping[str, Scalar]) -> Firing:
    """A clause that fired with what it stood on: a fact once known keeps its value to the end."""
    return Firing(step.rule, tuple([(name, known[name]) for name in step.reads]))


def _comparison(test: Test) -> _Comparison:
    values = tuple(float(value) if type(value) is int else value for value in constants(test))
    return _COMPARE[test.op], (frozenset(values) if test.op == "in" else values[0])


def _by_stratum(steps: Sequence[_Step], strata: Sequence[int]) -> tuple[tuple[_Step, ...], ...]:
    layers: dict[int, list[_Step]] = defaultdict(list)
    for step, stratum in zip(steps, strata, strict=True):
        layers[stratum].append(step)
    return tuple(tuple(layers[stratum]) for stratum in sorted(layers))


def _readers(clauses: Sequence[Clause], steps: Sequence[_Step]) -> dict[str, list[_Step]]:
    readers: dict[str, list[_Step]] = defaultdict(list)
    for clause, step in zip(clauses, steps, strict=True):
        for name in dict.fromkeys(pattern.fact for pattern in (*clause.when, *clause.unless)):
            readers[name].append(step)
    return readers


def _concluded_by(evaluator: PlainEvaluator, fired: frozenset[str]) -> dict[str, set[str]]:
    concluded: dict[str, set[str]] = {}
    for step in (step for stratum in evaluator._strata for step in stratum if step.rule in fired):
        for name in step.concludes:
            concluded.setdefault(name, set()).add(step.rule)
    return concluded
