"""The vocabulary of the program: facts, rules, firings, and the rule base as a whole.

Nothing here computes or decides. The names of facts, causes, hazards and set-ups are not
here either: they live in `rules/` and reach the program as a `Rulebook`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

Scalar = bool | float | str
"""What a fact's value may be. Whole numbers are held as floats: 5 and 5.0 are one value."""

UNKNOWN = "unknown"
"""The answer that is legal to every question. Never stored as a fact's value."""

FactType = Literal["choice", "bool", "number", "time"]
Origin = Literal["asked", "computed", "concluded"]
Operator = Literal["is", "is_not", "in", "at_least", "more_than", "at_most", "less_than", "known"]


@dataclass(frozen=True, slots=True)
class Option:
    """One allowed answer to a choice question."""

    id: str
    label: str


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that can be known, its question, and what answers to expect.

    `unit` is "ft", "kn", "F", "V", "min", "count", "h", "Ah", "A", "W", "deg", "nmi", "lux", "dB" or None.
    `settle` is the measurement that settles an answer that was only about right; `working` how a figure
    is worked out, with slots for the numbers. `trouble` says what an answer costs on
    a dark wet boat: 1 a glance, 2 reach for something, 3 lift a lamp. `expect` lists answers with
    their weight before anything is known; the choice of questions uses it, conclusions never do.
    `only_if` names a yes-or-no fact: this one is asked only once that is known to be so. `near` names
    a number that usually comes out the same: once that is known, `differs` lists by how much this one
    may lie beside it, with weights, in place of `expect`. `told_by` names facts that are only told where
    this yes-or-no fact is so: who says where the net hangs has a net in the water.
    """

    name: str
    type: FactType
    origin: Origin
    says: str
    unit: str | None = None
    range: tuple[float, float] | None = None
    options: tuple[Option, ...] = ()
    ask: str = ""
    why: str = ""
    trouble: int = 1
    expect: tuple[tuple[Scalar, float], ...] = ()
    only_if: str | None = None
    near: str | None = None
    differs: tuple[tuple[float, float], ...] = ()
    told_by: tuple[str, ...] = ()
    is_difference: bool = False
    settle: str = ""
    working: str = ""
    file: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Outlook:
    """What some computed facts may turn out to be: rows of values, each with its weight.

    `like` names an outlook that usually comes out the same. Serves only the choice of questions.
    """

    id: str
    shows: tuple[str, ...]
    cases: tuple[tuple[tuple[float, ...], float], ...]
    like: str | None = None


@dataclass(frozen=True, slots=True)
class Condition:
    """`fact operator value`, as a captain wrote it. `known` has no value; `in` has a tuple.

    Every operator needs the fact to be known: `is_not` means "known, and something else".
    """

    fact: str
    operator: Operator
    value: Scalar | tuple[Scalar, ...] | None
    text: str


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of the trade: fires when all of `when` hold and none of `unless` holds.

    What a firing says: derived facts (`concludes`, always of the value True), evidence in whole
    decibans for (+) or against (−) causes (`weighs`), a hazard, a fix for a cause, a set-up, a `note`
    that goes with a verdict, a fact that it `asks` before one because the answer hangs on it.
    """

    id: str
    title: str
    when: tuple[Condition, ...]
    unless: tuple[Condition, ...]
    because: str
    source: str
    status: str
    doubt: str
    group: str
    concludes: tuple[str, ...] = ()
    weighs: tuple[tuple[str, int], ...] = ()
    hazard: str | None = None
    say: str = ""
    fix_for: str | None = None
    action: tuple[str, ...] = ()
    fix: tuple[str, ...] = ()
    look_again_min: float | None = None
    clip: str = "sum"
    advises_set: str | None = None
    note: str = ""
    asks: str | None = None
    file: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Cause:
    """A hypothesis of its own: how likely before any evidence, in whole decibans of odds.

    `is_aside`: it is worth putting right, but does not explain a poor catch.
    """

    id: str
    says: str
    prior_db: int
    is_aside: bool = False


@dataclass(frozen=True, slots=True)
class Firing:
    """One rule that fired, with the facts it stood on in the order of its conditions."""

    rule: str
    because: tuple[tuple[str, Scalar], ...]


@dataclass(frozen=True, slots=True)
class Inference:
    """All firings, in order, and every fact known at the end."""

    firings: tuple[Firing, ...]
    facts: Mapping[str, Scalar]


# --- what the inference engine is given: rules with everything but their logic stripped off ----


@dataclass(frozen=True, slots=True)
class Test:
    """One comparison on a fact's value: "==", "!=", "<", "<=", ">", ">=", or "in" with a tuple."""

    op: str
    value: Scalar | tuple[Scalar, ...]


@dataclass(frozen=True, slots=True)
class Pattern:
    """The fact is known and passes all tests (none: known is enough)."""

    fact: str
    tests: tuple[Test, ...] = ()


@dataclass(frozen=True, slots=True)
class Clause:
    """A rule as the engine sees it: fires once when all `when` match and no `unless` matches;
    then each fact in `concludes` is True."""

    id: str
    when: tuple[Pattern, ...]
    unless: tuple[Pattern, ...] = ()
    concludes: tuple[str, ...] = ()


# --- the rule base -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in the rule base, and what to do about it."""

    file: str
    line: int
    where: str
    wrong: str
    do: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.where}: {self.wrong}. {self.do}"


class RuleFaults(ValueError):  # noqa: N818  (it is a list of faults, not one error)
    """The rule base cannot be used. Carries every fault found, not only the first."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


@dataclass(frozen=True, slots=True)
class Topic:
    """Something people may speak of: words and phrases in small letters; a star is any ending.

    It did not come up where one of `but_not` stands in the text.
    """

    id: str
    says: str
    words: tuple[str, ...]
    but_not: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """What the coach says to a question that people put to it.

    The text must have words of each group in `all_of` and none of `none_of`; where `whole` is set it
    must be one of them and nothing more, words in `skips` aside. `says`: the first that can be filled is
    said; for filling, the text is read as if the fact `reads` had been asked. `goes_on`: whether a
    consultation starts, or goes on, with it.
    """

    id: str
    all_of: tuple[tuple[str, ...], ...]
    none_of: tuple[str, ...]
    says: tuple[str, ...]
    reads: str | None = None
    whole: bool = False
    skips: tuple[str, ...] = ()
    goes_on: bool = True


@dataclass(frozen=True, slots=True)
class Confirm:
    """A fact to ask before acting on one of these causes; `differ`: only if those two facts differ;
    `only_if`: only if that is known to be so."""

    causes: tuple[str, ...]
    ask: str
    differ: tuple[str, str] | None
    only_if: str | None = None


@dataclass(frozen=True, slots=True)
class FollowUp:
    """The fact that asks whether advice helped, its answers for yes and no, and the count kept."""

    ask: str
    yes: str
    no: str
    catch: str


@dataclass(frozen=True, slots=True)
class ClearStep:
    """One step of clearing the water: how long [min], how often (`times`: a fact that counts it)."""

    says: str
    minutes: float
    only_if: str | None
    times: str | None
    otherwise: float


@dataclass(frozen=True, slots=True)
class Fit:
    """How two numbers fit together: `doubt` beside the first of `beside` that is known.

    `how` is "at_most", "at_least" or "near" (within `within`); `plus` is added to the limit.
    """

    id: str
    doubt: str
    how: Literal["at_most", "at_least", "near"]
    beside: tuple[str, ...]
    plus: float
    within: float
    says: str


@dataclass(frozen=True, slots=True)
class Doubts:
    """Which numbers are asked once more before they are believed: beyond the `usual`, or ill fitting.

    `said_again` and `taken_back` are the words, in small letters, that stand by what was told or do not.
    """

    usual: Mapping[str, tuple[float, float]]
    fits: tuple[Fit, ...]
    said_again: frozenset[str]
    taken_back: frozenset[str]
    texts: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Rulebook:
    """The whole rule base, checked: what the captain's folder says, ready to use.

    `lexicon` is the words made ready by `coach.language`, which alone looks inside.
    """

    facts: Mapping[str, Fact]
    numbers: Mapping[str, float]
    causes: Mapping[str, Cause]
    hazards: Mapping[str, str]
    sets: Mapping[str, str]
    rules: tuple[Rule, ...]
    texts: Mapping[str, str]
    lexicon: Any
    digest: str
    sureness: tuple[tuple[float, str], ...]
    asking: Mapping[str, float]
    outlooks: tuple[Outlook, ...]
    follow_up: FollowUp
    safety_check: str
    safety_singles: tuple[str, ...]
    safety_with: Mapping[str, tuple[str, ...]]
    emergencies: tuple[str, ...]
    answers: tuple[Answer, ...]
    confirms: tuple[Confirm, ...]
    topics: tuple[Topic, ...]
    doubts: Doubts
    clearing: tuple[ClearStep, ...]
