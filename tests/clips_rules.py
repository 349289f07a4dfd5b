"""Clauses as rules of CLIPS, an independent engine: native `not`, a stratum as a salience.

A fact is `(known (name "tide.state") (value "falling"))`; true and false are the symbols TRUE and FALSE.
A rule of a higher stratum has a lower salience, so that nothing is denied before all that could
conclude it has been tried (CLIPS Reference Manual, Volume I, Basic Programming Guide, 5.4.10: salience;
MEMORY).
"""

from collections.abc import Mapping, Sequence

import clips
import oracle

from coach.model import Clause, Pattern, Scalar, Test

TEMPLATES = (
    "(deftemplate known (slot name (type STRING)) (slot value))",
    "(deftemplate fired (slot rule (type INTEGER)))",
)
OF_TEXT = {"==": "eq", "!=": "neq"}
OF_NUMBERS = {"==": "=", "!=": "<>", "<": "<", "<=": "<=", ">": ">", ">=": ">="}


class ClipsRules:
    """Clauses loaded into CLIPS once, to be run on many sets of facts."""

    def __init__(self, clauses: Sequence[Clause]) -> None:
        self._clauses = clauses
        self._env = clips.Environment()
        for template in TEMPLATES:
            self._env.build(template)
        strata = oracle.strata(list(clauses))
        for index, clause in enumerate(clauses):
            self._env.build(rule_text(index, clause, strata[clause.id]))
        self._known = self._env.find_template("known")
        self._fired = self._env.find_template("fired")

    def evaluate(self, facts: Mapping[str, Scalar]) -> tuple[frozenset[str], dict[str, Scalar]]:
        """The ids of the rules that fired, and every fact known at the end."""
        self._env.reset()
        for name, value in facts.items():
            self._known.assert_fact(name=name, value=_given(value))
        self._env.run()
        fired = frozenset(self._clauses[fact["rule"]].id for fact in self._fired.facts())
        return fired, {str(fact["name"]): _read(fact["value"]) for fact in self._known.facts()}


def rule_text(index: int, clause: Clause, stratum: int) -> str:
    """One clause as a defrule. A variable is a pattern's own: the same in two would have to be equal."""
    when = " ".join(_pattern(pattern, f"?w{place}") for place, pattern in enumerate(clause.when))
    unless = " ".join(f"(not {_pattern(p, f'?u{place}')})" for place, p in enumerate(clause.unless))
    then = " ".join(_conclusion(name) for name in clause.concludes)
    head = f"(defrule rule-{index} (declare (salience {-stratum}))"
    return f"{head} {when} {unless} => (assert (fired (rule {index}))) {then})"


def _pattern(pattern: Pattern, variable: str) -> str:
    value = variable + "".join(f"&:{_test(test, variable)}" for test in pattern.tests)
    return f"(known (name {text(pattern.fact)}) (value {value}))"


def _test(test: Test, variable: str) -> str:
    if isinstance(test.value, tuple):
        each = " ".join(_compared("==", variable, value) for value in test.value)
        return f"(or FALSE {each})"
    return _compared(test.op, variable, test.value)


def _compared(op: str, variable: str, value: Scalar) -> str:
    names = OF_TEXT if isinstance(value, bool | str) else OF_NUMBERS
    return f"({names[op]} {variable} {constant(value)})"


def _conclusion(name: str) -> str:
    """Known from now on, unless it was given: what is given keeps its value."""
    there = f"(any-factp ((?f known)) (eq ?f:name {text(name)}))"
    return f"(if (not {there}) then (assert (known (name {text(name)}) (value TRUE))))"


def constant(value: Scalar) -> str:
    """A value in CLIPS's own writing."""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, str):
        return text(value)
    return repr(float(value))


def text(words: str) -> str:
    """A string in CLIPS's own writing."""
    return '"' + words.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _given(value: Scalar) -> object:
    return float(value) if type(value) is int else value


def _read(value: object) -> Scalar:
    if isinstance(value, clips.Symbol):
        return {"TRUE": True, "FALSE": False}[value]
    assert isinstance(value, bool | float | str)
    return value
