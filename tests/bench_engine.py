"""Prints how long inference takes; asserts nothing. Run: python tests/bench_engine.py [--soak 100000]

Rule bases are random but shaped like ours: 80 facts of which 60 are known, 50 conclusions, clauses of
1 to 6 conditions, one in five with a denial.
"""

import argparse
import os
import random
import signal
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from coach.engine import Engine
from coach.model import Clause, Pattern, Test
from coach.plain import PlainEvaluator

FACTS = 80
KNOWN = 60
CONCLUSIONS = 50
TEXTS = ("a", "b", "c", "d")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--soak", type=int, default=0, help="also this many evaluations in one process")
    options.add_argument("--turns", type=int, default=500)
    chosen = options.parse_args()
    for count in (50, 250, 400):
        clauses = rule_base(count)
        cases = [known_facts(seed) for seed in range(chosen.turns)]
        print_speed(count, clauses, cases)
    clauses = rule_base(250)
    print_life_of_a_worker(clauses, cases[0])
    if chosen.soak:
        print_soak(clauses, cases, chosen.soak)


def rule_base(count: int) -> list[Clause]:
    dice = random.Random(count)
    return [clause(dice, index, count) for index in range(count)]


def clause(dice: random.Random, index: int, count: int) -> Clause:
    stage = index * 3 // count  # conclusions of earlier stages only, so that nothing denies itself
    needs = dice.choice((1, 1, 2, 2, 2, 3, 3, 4, 5, 6))
    return Clause(
        f"clause-{index}",
        when=tuple(pattern(dice, stage, 0.15) for _ in range(needs)),
        unless=tuple(pattern(dice, stage, 0.5) for _ in range(dice.choice((0, 0, 0, 0, 1)))),
        concludes=(f"stage{stage}.{dice.randrange(CONCLUSIONS // 3)}",) if dice.random() < 0.3 else (),
    )


def pattern(dice: random.Random, stage: int, derived: float) -> Pattern:
    if stage and dice.random() < derived:
        return Pattern(
            f"stage{dice.randrange(stage)}.{dice.randrange(CONCLUSIONS // 3)}", (Test("==", True),)
        )
    number = dice.randrange(FACTS)
    kind = number % 4
    if kind == 0:
        return Pattern(f"fact.{number}", (Test("==", dice.random() < 0.5),))
    if kind == 1:
        return Pattern(f"fact.{number}", (Test(dice.choice((">=", "<")), float(dice.randrange(1, 6))),))
    if dice.random() < 0.2:
        return Pattern(f"fact.{number}", (Test("in", tuple(dice.sample(TEXTS, 2))),))
    return Pattern(f"fact.{number}", (Test("==", dice.choice(TEXTS)),))


def known_facts(seed: int) -> dict[str, bool | float | str]:
    dice = random.Random(seed)
    values = (lambda: dice.random() < 0.5, lambda: dice.uniform(0, 7), *(lambda: dice.choice(TEXTS),) * 2)
    return {f"fact.{number}": values[number % 4]() for number in dice.sample(range(FACTS), KNOWN)}


def print_speed(count: int, clauses: list[Clause], cases: list[dict]) -> None:
    plain = PlainEvaluator(clauses)
    fired = statistics.mean(len(plain.evaluate(case).firings) for case in cases)
    print(f"{count} clauses, {KNOWN} facts, {fired:.0f} firings on average")
    for isolated in (True, False):
        with Engine(clauses, isolated=isolated) as engine:
            engine.evaluate(cases[0])
            report(
                f"  engine, {'worker' if isolated else 'in process'}",
                [(engine.evaluate, case) for case in cases],
            )
    report("  plain evaluator", [(plain.evaluate, case) for case in cases])
    report("  preparing a standing", [(plain.standing, case) for case in cases])
    for changed in (1, 3):
        questions = []
        for case in cases:
            standing = plain.standing(case)
            unknown = [f"fact.{number}" for number in range(FACTS) if f"fact.{number}" not in case][:changed]
            answers = {name: known_value(name) for name in unknown}
            standing.what_if(answers)
            questions.append((standing.what_if, answers))
        reached = statistics.mean(len(plain._cone(frozenset(answers)).rules) for _, answers in questions)
        report(f"  what if, {changed} facts reaching {reached:.0f} clauses", questions)


def known_value(name: str) -> bool | float | str:
    return (True, 3.5, "a", "b")[int(name.split(".")[1]) % 4]


def report(title: str, calls: list[tuple[Callable, object]]) -> None:
    times = []
    for call, argument in calls:
        begun = time.perf_counter()
        call(argument)
        times.append((time.perf_counter() - begun) * 1000)
    times.sort()
    at = [times[min(len(times) - 1, int(len(times) * share))] for share in (0.5, 0.95, 0.99)]
    print(f"{title:45} p50 {at[0]:7.3f}  p95 {at[1]:7.3f}  p99 {at[2]:7.3f} ms")


def print_life_of_a_worker(clauses: list[Clause], facts: dict) -> None:
    with Engine(clauses, time_limit_s=0.5) as engine:
        print("life of a worker, 250 clauses, median of 10")
        print(f"  first evaluation, with start     {median_ms(lambda: fresh(engine), engine, facts):8.1f} ms")
        print(f"  after kill -9                    {median_ms(lambda: kill(engine), engine, facts):8.1f} ms")
        print(f"  after a hang, limit 500 ms       {median_ms(lambda: stop(engine), engine, facts):8.1f} ms")
        print(f"  memory of the worker             {resident_mb(engine.worker_pid):8.1f} MB")


def fresh(engine: Engine) -> None:
    engine.close()


def kill(engine: Engine) -> None:
    os.kill(engine.worker_pid, signal.SIGKILL)


def stop(engine: Engine) -> None:
    os.kill(engine.worker_pid, signal.SIGSTOP)


def median_ms(before: Callable[[], None], engine: Engine, facts: dict) -> float:
    times = []
    for _ in range(10):
        before()
        begun = time.perf_counter()
        engine.evaluate(facts)
        times.append((time.perf_counter() - begun) * 1000)
    return statistics.median(times)


def print_soak(clauses: list[Clause], cases: list[dict], count: int) -> None:
    print(f"soak in one process, {len(clauses)} clauses")
    with Engine(clauses, isolated=False) as engine:
        begun = time.perf_counter()
        for turn in range(count + 1):
            engine.evaluate(cases[turn % len(cases)])
            if turn % max(1, count // 5) == 0:
                seconds = time.perf_counter() - begun
                print(f"  after {turn:7}: {resident_mb(os.getpid()):7.1f} MB, {seconds:6.1f} s")


def resident_mb(pid: int | None) -> float:
    pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


if __name__ == "__main__":
    main()
