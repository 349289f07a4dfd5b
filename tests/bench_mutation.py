"""How much of the rule base the cases and situations hold in place: mutants of it, and who notices.

    python tests/bench_mutation.py [--share 0.2] [--seed 7] [--jobs 2] [--operator NAME] [--withhold]
        [--survivors FILE]

A mutant has one thing wrong in one rule as the captain wrote it (a rule for each lamp is changed for
both): a comparison turned round, a condition or an exception dropped, a strength moved two steps, a
cause swapped for another. It is killed when a situation comes out otherwise than it says (fires, silent,
names); or when in a case of cases/dev_cases.json or cases/open_cases.toml, played in this process on the
plain evaluator, a question, the causes named or a number of the verdict comes out otherwise than without
the mutation; or when `coach rules check` refuses it. With `--withhold` survivors meet the same cases twice
more with each answer withheld at odds of 3 in 10, counted apart and not among the killed. `--share`
takes that part of the mutants (half of them, unless told), drawn by `--seed`. Prints; it is no test.
"""

import argparse
import json
import multiprocessing
import random
import time
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from conftest import Talk

from coach import rulebook
from coach.apparatus import apparatus
from coach.consult import Noted
from coach.model import Condition, Rule, Rulebook
from coach.plain import PlainEvaluator
from coach.rulebook.check import check
from coach.rulebook.situations import Situation, called, complaints, play, read_situations, written

CASES = Path(__file__).parent / "cases"
MOST_QUESTIONS = 25
STEPS = 2
WITHHELD_SHARE, WITHHELD_SEEDS = 0.3, (1, 2)
OF_WEIGHTS = ("move a strength", "swap a cause")
TURNED = {
    "is": "is_not",
    "is_not": "is",
    "at_least": "less_than",
    "less_than": "at_least",
    "more_than": "at_most",
    "at_most": "more_than",
}


@dataclass(frozen=True)
class Mutant:
    """One thing wrong: where, what, and the rules that take the place of those with their ids."""

    operator: str
    entry: str
    at: str
    says: str
    rules: tuple[Rule, ...]


@dataclass(frozen=True)
class Case:
    """A conversation: its opening, the answers, and how it goes without any mutation."""

    id: str
    opening: str
    truth: Mapping[str, Any]
    trace: tuple[Any, ...] = ()
    fired: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Bench:
    """All that a mutant is held against."""

    book: Rulebook
    folder: Path
    strengths: tuple[int, ...]
    situations: tuple[Situation, ...]
    cases: tuple[Case, ...]
    withheld: tuple[Case, ...]
    faults: frozenset[str]


# --- mutants -----------------------------------------------------------------------------------------


def mutants(book: Rulebook, strengths: Sequence[int], seed: int) -> Iterator[Mutant]:
    """Every mutant, in the order of the rules; where one of several had to be taken, `seed` did it."""
    dice = random.Random(seed)
    for name, rules in written(book).items():
        at = f"rules/{rules[0].file}:{rules[0].line}: rule '{name}'"
        for operator, says, changed in _of_entry(rules, book, strengths, dice):
            yield Mutant(operator, name, at, says, changed)


def _of_entry(
    rules: tuple[Rule, ...], book: Rulebook, strengths: Sequence[int], dice: random.Random
) -> Iterator[tuple[str, str, tuple[Rule, ...]]]:
    first = rules[0]
    for key in ("when", "unless"):
        for place, condition in enumerate(getattr(first, key)):
            turned = tuple(_with(rule, key, place, turn(getattr(rule, key)[place], book)) for rule in rules)
            if None not in turned:
                yield "flip a comparison", f"{key}: {condition.text}", turned
            if key == "unless" or len(first.when) > 1:
                dropped = tuple(_without(rule, key, place) for rule in rules)
                what = "drop a condition" if key == "when" else "drop an unless"
                yield what, f"{key}: {condition.text}", dropped
    yield from _of_weights(rules, book, strengths, dice)
    if first.fix_for is not None:
        other = dice.choice([cause for cause in book.causes if cause != first.fix_for])
        yield "swap a cause", f"fix_for {first.fix_for} -> {other}", (replace(first, fix_for=other),)


def _of_weights(
    rules: tuple[Rule, ...], book: Rulebook, strengths: Sequence[int], dice: random.Random
) -> Iterator[tuple[str, str, tuple[Rule, ...]]]:
    for place, (cause, db) in enumerate(rules[0].weighs):
        moved = _moved(db, strengths, dice)
        yield "move a strength", f"{cause} {db:+d} -> {moved:+d} dB", _reweighed(rules, place, db=moved)
        own = {name for name, _ in rules[0].weighs}
        other = dice.choice([name for name in book.causes if name not in own])
        if len({rule.weighs[place][0] for rule in rules}) == 1:  # else it speaks of each cause in turn
            yield "swap a cause", f"{cause} -> {other} ({db:+d} dB)", _reweighed(rules, place, cause=other)


def _moved(db: int, strengths: Sequence[int], dice: random.Random) -> int:
    here = strengths.index(abs(db))
    there = [place for place in (here - STEPS, here + STEPS) if 0 <= place < len(strengths)]
    return strengths[dice.choice(there)] * (1 if db > 0 else -1)


def _reweighed(
    rules: tuple[Rule, ...], place: int, *, db: int | None = None, cause: str | None = None
) -> tuple[Rule, ...]:
    changed = []
    for rule in rules:
        weighs = list(rule.weighs)
        weighs[place] = (cause or weighs[place][0], db or weighs[place][1])
        changed.append(replace(rule, weighs=tuple(weighs)))
    return tuple(changed)


def turn(condition: Condition, book: Rulebook) -> Condition | None:
    """The opposite comparison; None where there is none to turn round (is known)."""
    if condition.operator in TURNED:
        return replace(condition, operator=TURNED[condition.operator])
    if condition.operator != "in" or not isinstance(condition.value, tuple):
        return None
    others = tuple(o.id for o in book.facts[condition.fact].options if o.id not in condition.value)
    return replace(condition, value=others) if others else None


def _with(rule: Rule, key: str, place: int, condition: Condition | None) -> Rule | None:
    if condition is None:
        return None
    conditions = list(getattr(rule, key))
    conditions[place] = condition
    return replace(rule, **{key: tuple(conditions)})


def _without(rule: Rule, key: str, place: int) -> Rule:
    conditions = getattr(rule, key)
    return replace(rule, **{key: (*conditions[:place], *conditions[place + 1 :])})


# --- killing -----------------------------------------------------------------------------------------


def steps_of(case: Case, book: Rulebook, infer: Any) -> Iterator[Any]:
    """What is compared, as it comes: each question, then the causes and numbers of the verdict."""
    talk = Talk(book, infer)
    talk.say(case.opening)
    for _ in range(MOST_QUESTIONS):
        if talk.reply.ask is None:
            break
        asked = talk.reply.ask.fact
        yield asked
        talk.pick(case.truth.get(asked, "unknown"))
    verdict = talk.reply.verdict
    yield None if verdict is None else ([each["id"] for each in verdict["causes"]], verdict["numbers"])


def traced(case: Case, book: Rulebook) -> Case:
    """The case with how it goes, and every rule that fired on the way."""
    noted = Noted(PlainEvaluator(rulebook.clauses(book)).evaluate)
    trace = tuple(steps_of(case, book, noted))
    return replace(case, trace=trace, fired=frozenset(noted.firings))


def killer(mutant: Mutant, bench: Bench) -> str | None:
    """Who notices first: "situation", "case", "check", a case with answers "withheld", or nobody."""
    changed = {rule.id: rule for rule in mutant.rules}
    book = replace(bench.book, rules=tuple(changed.get(rule.id, rule) for rule in bench.book.rules))
    infer = PlainEvaluator(rulebook.clauses(book)).evaluate
    if _some_situation_comes_out_otherwise(_telling(mutant, bench), book, infer):
        return "situation"
    if _some_case_goes_otherwise(bench.cases, changed, book, infer):
        return "case"
    faults = {str(fault) for fault in check(book, bench.situations, folder=bench.folder)}
    if faults - bench.faults:
        return "check"
    return "withheld" if _some_case_goes_otherwise(bench.withheld, changed, book, infer) else None


def _some_case_goes_otherwise(
    cases: Iterable[Case], changed: Mapping[str, Rule], book: Rulebook, infer: Any
) -> bool:
    touched_first = sorted(cases, key=lambda case: case.fired.isdisjoint(changed))
    return any(_goes_otherwise(case, book, infer) for case in touched_first)


def _telling(mutant: Mutant, bench: Bench) -> list[Situation]:
    """The situations that can notice, those that call the rule first: weights only bear on names."""
    own = {mutant.entry, *(rule.id for rule in mutant.rules)}
    if mutant.operator in OF_WEIGHTS:
        return [each for each in bench.situations if each.names is not None]
    return sorted(bench.situations, key=lambda each: own.isdisjoint((*each.fires, *each.silent)))


def _some_situation_comes_out_otherwise(situations: Iterable[Situation], book: Rulebook, infer: Any) -> bool:
    tools, rules = apparatus(book), called(book)
    played = (play(situation, tools, infer=infer) for situation in situations)
    return any(complaints(each, rules, folder=Path("rules")) for each in played)


def _goes_otherwise(case: Case, book: Rulebook, infer: Any) -> bool:
    steps = steps_of(case, book, infer)
    return any(was != now for was, now in zip(case.trace, steps, strict=False))


# --- running -----------------------------------------------------------------------------------------


def bench_of(folder: Path, *, withhold: bool) -> Bench:
    """The shipped rules with their situations, and the cases as they go today."""
    book = rulebook.load(folder)
    head = tomllib.loads((folder / "causes.toml").read_text(encoding="utf-8"))
    cases = tuple(traced(case, book) for case in read_cases())
    seeds = WITHHELD_SEEDS if withhold else ()
    withheld = tuple(traced(case, book) for seed in seeds for case in without_some(cases, seed))
    strengths = tuple(sorted(head["strength"].values()))
    situations = read_situations(folder, book)
    faults = frozenset(str(fault) for fault in check(book, situations, folder=folder))
    return Bench(book, folder, strengths, situations, cases, withheld, faults)


def read_cases() -> Iterator[Case]:
    """The cases that are there to be tuned on; those set aside are not read."""
    dev = json.loads((CASES / "dev_cases.json").read_text(encoding="utf-8"))
    own = tomllib.loads((CASES / "open_cases.toml").read_text(encoding="utf-8"))
    for base, cases in ((dev["base"], dev["cases"]), (own["base"], own["case"])):
        for case in cases:
            yield Case(case["id"], case["opening"], {**base, **case["facts"]})


def without_some(cases: Iterable[Case], seed: int) -> Iterator[Case]:
    """The cases with some answers not known; the opening stays."""
    dice = random.Random(seed)
    for case in cases:
        truth = {name: value for name, value in case.truth.items() if dice.random() >= WITHHELD_SHARE}
        yield Case(f"{case.id}, withheld {seed}", case.opening, truth)


_bench: Bench


def _judged(mutant: Mutant) -> tuple[Mutant, str | None]:
    return mutant, killer(mutant, _bench)


def judged(chosen: Sequence[Mutant], bench: Bench, jobs: int) -> Iterable[tuple[Mutant, str | None]]:
    """Each mutant with who killed it. The bench reaches the workers by fork."""
    global _bench  # noqa: PLW0603
    _bench = bench
    with multiprocessing.get_context("fork").Pool(jobs) as pool:
        yield from pool.imap_unordered(_judged, chosen, chunksize=4)


def report(results: Sequence[tuple[Mutant, str | None]]) -> None:
    """The score of each operator, and of all."""
    count = Counter((mutant.operator, who) for mutant, who in results)
    operators = sorted({mutant.operator for mutant, _ in results})
    columns = ("mutants", "situation", "case", "check", "killed", "withheld", "survive")
    print(f"{'':18}" + "".join(f"{name:>10}" for name in columns))
    for operator in (*operators, "all"):
        own = {
            who: sum(count[each, who] for each in operators if operator in (each, "all"))
            for who in ("situation", "case", "check", "withheld", None)
        }
        total = sum(own.values())
        killed = own["situation"] + own["case"] + own["check"]
        row = f"{operator:18}{total:10}{own['situation']:10}{own['case']:10}{own['check']:10}"
        print(f"{row}{100 * killed / total:9.1f}%{own['withheld']:10}{own[None]:10}")


def main() -> None:
    """Draw, judge, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--share", type=float, default=0.5, help="part of the mutants (default: 0.5)")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--operator", help="only this one, such as 'flip a comparison'")
    parser.add_argument("--withhold", action="store_true", help="play survivors with answers withheld too")
    parser.add_argument("--survivors", type=Path, help="write the survivors to this file too")
    options = parser.parse_args()
    start = time.perf_counter()
    bench = bench_of(rulebook.default_folder(), withhold=options.withhold)
    every = list(mutants(bench.book, bench.strengths, options.seed))
    if options.operator:
        every = [mutant for mutant in every if mutant.operator == options.operator]
    chosen = random.Random(options.seed).sample(every, round(options.share * len(every)))
    print(f"{len(chosen)} of {len(every)} mutants, seed {options.seed}; {len(bench.cases)} cases, "
          f"{len(bench.situations)} situations")  # fmt: skip
    results = list(judged(chosen, bench, options.jobs))
    report(results)
    survivors = sorted(
        f"{m.at}: {m.operator}: {m.says}" + (" (noticed with answers withheld)" if who else "")
        for m, who in results
        if who in (None, "withheld")
    )
    print(*survivors, sep="\n")
    if options.survivors:
        options.survivors.write_text("\n".join(survivors) + "\n", encoding="utf-8")
    print(f"{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
