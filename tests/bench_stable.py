"""Prints whether the cases come out the same when every strength is a little off.

    python tests/bench_stable.py [--cases FILE] [--seeds 10] [--jobs 2]

For each noise of 1 and 3 dB and each seed from 0: every weight of every rule and topic moves by a whole
number of decibans between minus and plus the noise (even odds; none changes its sign), and the cases are
played with the answers as they are. Printed: the share with the same first question behind the safety
check, with the same first cause, with the same causes, and how often the first is then right.
Intervals are of the mean over cases (bootstrap, seed 0). Bar: 90 % the same. It is no test.
"""

import argparse
import random
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from play_inside import CASES, Case, Core, Played, read_cases, resampled, spread

from coach import rulebook
from coach.model import Rulebook

NOISES_DB = (1, 3)


def shaken(book: Rulebook, noise_db: int, seed: int) -> Rulebook:
    """The rulebook with each weight off by up to so many decibans."""
    dice = random.Random(f"{noise_db} {seed}")
    rules = tuple(
        replace(rule, weighs=tuple((cause, _moved(db, noise_db, dice)) for cause, db in rule.weighs))
        for rule in book.rules
    )
    return replace(book, rules=rules)


def _moved(db: int, noise_db: int, dice: random.Random) -> int:
    size = max(1, abs(db) + dice.randint(-noise_db, noise_db))
    return size if db > 0 else -size


def first_question(played: Played, book: Rulebook) -> str | None:
    aside = {book.safety_check, *book.safety_singles}
    return next((fact for fact in played.asked if fact not in aside), None)


def played_all(core: Core, cases: Sequence[Case], jobs: int) -> list[Played]:
    return list(spread(core.play, cases, jobs=jobs))


def report(name: str, before: Sequence[Played], after: Sequence[Sequence[Played]], book: Rulebook) -> None:
    """`after` holds for each seed what came of every case."""
    print(name)
    for what, is_so in (
        ("same first question", lambda a, b: first_question(a, book) == first_question(b, book)),
        ("same first cause", lambda a, b: a.names[:1] == b.names[:1]),
        ("same causes", lambda a, b: set(a.names) == set(b.names)),
        ("right first", lambda _, b: b.is_first_right),
    ):
        shares = [
            statistics.mean(is_so(was, each) for each in now)
            for was, now in zip(before, zip(*after, strict=True), strict=True)
        ]
        low, high = resampled(shares)
        bar = "  bar 90%" if what.startswith("same") else ""
        print(f"  {what:22} {statistics.mean(shares):6.1%}  [{low:.1%}, {high:.1%}]{bar}")
    moved = Counter(
        was.case.id
        for was, now in zip(before, zip(*after, strict=True), strict=True)
        for each in now
        if was.names[:1] != each.names[:1]
    )
    print("  moved most: " + ", ".join(f"{id} {count}" for id, count in moved.most_common(12)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--cases", type=Path, default=CASES)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    book, cases = rulebook.load(), read_cases(options.cases)
    before = played_all(Core(book), cases, options.jobs)
    for noise_db in NOISES_DB:
        after = [
            played_all(Core(shaken(book, noise_db, seed)), cases, options.jobs)
            for seed in range(options.seeds)
        ]
        name = f"{options.cases.name}, {len(cases)} cases, weights off by up to {noise_db} dB, "
        report(f"{name}seeds 0 to {options.seeds - 1}:", before, after, book)


if __name__ == "__main__":
    main()
