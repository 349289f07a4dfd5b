"""Rule bases and facts for the tests, and the check that all evaluators agree with the oracle on them."""

import random
from collections.abc import Iterable, Iterator, Sequence

import oracle

from coach.engine import Engine
from coach.model import Clause, Pattern, Scalar, Test
from coach.plain import PlainEvaluator

DEEP = Pattern("depth_ft", (Test(">=", 8),))
FALLING = Pattern("tide", (Test("==", "falling"),))
SMALL = [
    Clause("deep", (DEEP,), (), ("is.deep",)),
    Clause("deep-and-falling", (Pattern("is.deep"), FALLING), (), ("run",)),
    Clause("not-falling", (Pattern("tide"),), (FALLING,), ("wait",)),
    Clause("nothing-known", (), (Pattern("run"), Pattern("wait"))),
    Clause("lit", (Pattern("light", (Test("==", True),)),)),
    Clause("any-depth", (Pattern("depth_ft", (Test("in", (3, 5)),)),)),
    Clause("known-at-all", (Pattern("whatever"),)),
]
"""Seven clauses that between them use everything a clause can say."""

FACTS = {"depth_ft": 11, "tide": "falling"}
EXPECTED = oracle.evaluate(SMALL, FACTS)

TEXTS = ("falling", "rising", "slack", "", "é☂", "true", "5", '"}\n')
NUMBERS = (-3.5, 0, 0.1, 0.30000000000000004, 1e-9, 5, 5.5, 8, 1e15)
KINDS = {f"in.{index}": ("number", "text", "bool")[index % 3] for index in range(15)}
CONSTANTS: dict[str, tuple[Scalar, ...]] = {"number": NUMBERS, "text": TEXTS, "bool": (True, False)}


def needs(fact: str, op: str, value: object) -> tuple[Pattern, ...]:
    """One comparison as a whole condition."""
    return (Pattern(fact, (Test(op, value),)),)


def crowd(kind: str, count: int) -> tuple[list[Clause], dict[str, Scalar]]:
    """Clauses that come to `count` of what the library can take only so many of, and facts for most."""
    each = range(count)
    match kind:
        case "thresholds":
            return [Clause(f"c{i}", needs("x", ">=", i)) for i in each], {"x": 1000}
        case "tests":
            return [Clause(f"c{i}", needs("x", "==", f"text {i}")) for i in each], {"x": "text 3"}
        case "same pattern":
            return [Clause(f"c{i}", (Pattern("x"), Pattern(f"y{i}"))) for i in each], {"x": 1} | {
                f"y{i}": 1 for i in each
            }
        case "needs":
            return [Clause("c", tuple(Pattern(f"y{i}") for i in each))], {f"y{i}": 1 for i in each}
        case "combinations":
            return [Clause("c", (*needs("x", "in", (1, 2)), *needs("y", "in", tuple(each))))], {
                "x": 1,
                "y": 0,
            }
    return [Clause(f"c{i}", needs(f"y{i % 700}", "==", i)) for i in each], {f"y{i}": i for i in range(700)}


def random_base(seed: int) -> list[Clause]:
    """Up to 40 clauses: conjunctions of up to 6, lists, chains, and denials that can be stratified."""
    dice = random.Random(seed)
    derived = [f"derived.{index}" for index in range(dice.randint(1, 12))]
    return [_random_clause(dice, index, derived) for index in range(dice.randint(1, 40))]


def _random_clause(dice: random.Random, index: int, derived: list[str]) -> Clause:
    # a clause denies only what comes well before all it may conclude, and needs nothing that comes after
    level = dice.randint(0, len(derived))
    needs = dice.choice((0, 1, 1, 1, 1, 2, 2, 2, 3, 3, 4, 5, 6))
    above = derived[max(0, level - 1) :]
    return Clause(
        f"c{index}",
        when=tuple(_random_pattern(dice, derived[:level]) for _ in range(needs)),
        unless=tuple(
            _random_pattern(dice, derived[: max(0, level - 2)], 0.8) for _ in range(dice.choice((0, 0, 1, 3)))
        ),
        concludes=tuple(dice.sample(above, k=min(dice.choice((0, 1, 1, 2)), len(above)))),
    )


def _random_pattern(dice: random.Random, derived: Sequence[str], share: float = 0.4) -> Pattern:
    if derived and dice.random() < share:
        tests = (Test("==", dice.random() < 0.9),) if dice.random() < 0.5 else ()
        return Pattern(dice.choice(derived), tests)
    fact = dice.choice(list(KINDS))
    return Pattern(fact, tuple(_random_test(dice, KINDS[fact]) for _ in range(dice.choice((0, 1, 1, 1, 2)))))


def _random_test(dice: random.Random, kind: str) -> Test:
    constants = CONSTANTS[kind]
    orderings = ("<", "<=", ">", ">=") if kind == "number" else ()
    op = dice.choice(("==", "!=", "in", *orderings))
    if op == "in":
        return Test(op, tuple(dice.choices(constants, k=dice.randint(1, 3))))
    return Test(op, dice.choice(constants))


def random_facts(clauses: Sequence[Clause], seed: int) -> dict[str, Scalar]:
    """About half of what the clauses read, with values on, beside and away from what they compare with."""
    dice = random.Random(seed)
    facts: dict[str, Scalar] = {"read.by.nobody": "x"}
    wanted: dict[str, list[Scalar]] = {}
    for pattern in (pattern for clause in clauses for pattern in (*clause.when, *clause.unless)):
        values = wanted.setdefault(pattern.fact, [])
        for test in pattern.tests:
            values += test.value if isinstance(test.value, tuple) else (test.value,)
    concluded = {fact for clause in clauses for fact in clause.concludes}
    share = dice.choice((0.1, 0.5, 0.9))
    for fact, values in wanted.items():
        if dice.random() < (0.1 if fact in concluded else share):
            facts[fact] = _value_near(dice, values, fact in concluded)
    return facts


def _value_near(dice: random.Random, values: list[Scalar], concluded: bool) -> Scalar:
    value = dice.choice(values) if values and not concluded else dice.random() < 0.5
    if isinstance(value, bool):
        return dice.random() < 0.5
    if isinstance(value, str):
        return dice.choice((value, value + "x", ""))
    near = dice.choice((value, value, value + 1, value - 0.5, value * (1 + 2.3e-16), int(value)))
    return max(-1e15, min(1e15, near))


def what_they_say(
    clauses: Sequence[Clause], fact_sets: Iterable[dict[str, Scalar]], *, isolated: bool
) -> Iterator[tuple]:
    """For each fact set: what the oracle, the engine and the plain evaluator conclude."""
    plain, stratum = PlainEvaluator(clauses), oracle.strata(list(clauses))
    with Engine(clauses, isolated=isolated) as engine:
        for facts in fact_sets:
            yield (
                oracle.evaluate(list(clauses), facts, stratum),
                engine.evaluate(facts),
                plain.evaluate(facts),
            )


def require_agreement(
    clauses: Sequence[Clause], fact_sets: Iterable[dict[str, Scalar]], *, isolated: bool = False
) -> int:
    """Fail unless the engine and the plain evaluator equal the oracle on each fact set; how many fired."""
    fired = 0
    for expected, by_engine, plainly in what_they_say(clauses, fact_sets, isolated=isolated):
        assert by_engine == expected
        assert plainly == expected
        fired += len(expected.firings)
    return fired
