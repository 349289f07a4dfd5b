"""What a set of clauses means, written to be obviously right rather than fast; nothing of it is shared.

Stratified evaluation (the textbook meaning of rules with negation: Ullman, Principles of Database and
Knowledge-Base Systems, vol. 1, 1988, chapter 3; MEMORY). A clause stands in the lowest stratum that is
at least that of every clause concluding what it needs, and above every clause concluding what must be
absent. Stratum by stratum, all clauses that the facts so far allow fire together, in the order of the
clauses; then their conclusions become facts; until nothing more fires.
"""

from coach.model import Clause, Firing, Inference, Pattern, Scalar, Test


def evaluate(
    clauses: list[Clause], facts: dict[str, Scalar], stratum: dict[str, int] | None = None
) -> Inference:
    known = {name: float(value) if type(value) is int else value for name, value in facts.items()}
    stratum = stratum or strata(clauses)
    firings: list[Firing] = []
    fired: set[str] = set()
    for level in range(len(clauses) + 1):
        while True:
            now = [
                clause
                for clause in clauses
                if stratum[clause.id] == level
                and clause.id not in fired
                and all(matches(pattern, known) for pattern in clause.when)
                and not any(matches(pattern, known) for pattern in clause.unless)
            ]
            if not now:
                break
            for clause in now:
                fired.add(clause.id)
                firings.append(Firing(clause.id, tuple((p.fact, known[p.fact]) for p in clause.when)))
            for clause in now:
                for fact in clause.concludes:
                    if fact not in known:
                        known[fact] = True
    return Inference(tuple(firings), known)


def strata(clauses: list[Clause]) -> dict[str, int]:
    stratum = {clause.id: 0 for clause in clauses}
    before = None
    while stratum != before:  # no change: all conditions on strata are met
        before = dict(stratum)
        for reader in clauses:
            needed = {pattern.fact for pattern in reader.when}
            denied = {pattern.fact for pattern in reader.unless}
            for producer in clauses:
                if needed & set(producer.concludes):
                    stratum[reader.id] = max(stratum[reader.id], stratum[producer.id])
                if denied & set(producer.concludes):
                    stratum[reader.id] = max(stratum[reader.id], stratum[producer.id] + 1)
    return stratum


def matches(pattern: Pattern, known: dict[str, Scalar]) -> bool:
    return pattern.fact in known and all(passes(test, known[pattern.fact]) for test in pattern.tests)


def passes(test: Test, value: Scalar) -> bool:
    match test.op:
        case "==":
            answer = value == test.value
        case "!=":
            answer = value != test.value
        case "<":
            answer = value < test.value
        case "<=":
            answer = value <= test.value
        case ">":
            answer = value > test.value
        case ">=":
            answer = value >= test.value
        case "in":
            answer = any(value == each for each in test.value)
    return answer
