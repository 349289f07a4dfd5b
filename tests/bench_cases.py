"""Prints how well the cases are judged: played against the dialogue core inside this process.

    python tests/bench_cases.py [--cases FILE] [--jobs 2] [--engine] [--talk] [--list]

Default file: cases/dev_cases.json. Every rate comes with its 95 % interval (Wilson). `--engine`: with the
library's inference instead of the plain evaluator. `--talk`: plays the same file through `coach talk`
too, a line a message as a program would, and prints every case of which anything came out otherwise.
`--list`: names the cases that miss. Nothing is drawn by chance. Questions are those after the opening
words; the combined safety check counts as one. It prints; it is no test.
"""

import argparse
import itertools
import json
import statistics
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from play_inside import (
    CASES,
    MOST_QUESTIONS,
    Case,
    Core,
    Played,
    percentile,
    rate,
    read_cases,
    spread,
    wilson,
)

from coach import rulebook
from coach.engine import Engine

ROOT = Path(__file__).resolve().parent.parent
BINS = (0.0, 0.12, 0.3, 0.5, 0.75, 0.9, 0.99, 1.0)
"""Where said probabilities are parted: the lines of the sureness words among them."""


def played_all(cases: Sequence[Case], core: Core, jobs: int) -> list[Played]:
    return list(spread(core.play, cases, jobs=jobs))


# --- figures ---------------------------------------------------------------------------------------------


def report(played: Sequence[Played], surest: float) -> None:
    """Everything about a file of cases; `surest` is from where "almost certainly" is said."""
    ill, well = [p for p in played if not p.case.is_healthy], [p for p in played if p.case.is_healthy]
    numbers = [right for p in played for right in p.numbers_right.values()]
    hazards = [told for p in played for told in p.hazards_told.values()]
    for name, marks in (
        ("right first", [p.is_first_right for p in played]),
        ("  where something is wrong", [p.is_first_right for p in ill]),
        ("right in the first three", [p.is_among_three for p in played]),
        ("  where something is wrong", [p.is_among_three for p in ill]),
        ("first, also and not", [p.is_right for p in played]),
        ("numbers", numbers),
        ("hazards", hazards),
        ("false alarm on a healthy set", [bool(p.names) for p in well]),
        ("wrong and 'almost certainly'", [is_wrong_and_sure(p, surest) for p in played]),
    ):
        print(rate(name, sum(marks), len(marks)))
    report_questions(played)
    report_calibration(played)


def is_wrong_and_sure(played: Played, surest: float) -> bool:
    """The first cause is not the case's, or one that must not be named is, and it is said as certain."""
    first_wrong = bool(played.named) and not played.is_first_right and played.named[0][1] >= surest
    return first_wrong or any(p >= surest for cause, p in played.named if cause in played.case.excluded)


def report_questions(played: Sequence[Played]) -> None:
    asked = [len(p.asked) for p in played]
    print(f"questions: median {statistics.median(asked):g}, mean {statistics.mean(asked):.2f}, "
          f"95 % within {percentile(asked, 0.95):g}, most {max(asked)}, "
          f"over 9 in {sum(n > 9 for n in asked)}")  # fmt: skip


def forecasts(played: Iterable[Played]) -> list[tuple[float, bool]]:
    """What was said about each cause named, and whether it was so."""
    return [(p, each.is_true(cause)) for each in played for cause, p in each.named]


def report_calibration(played: Sequence[Played]) -> None:
    """Brier 1950: the mean square of said less true."""
    said = forecasts(played)
    top = [(each.ranked[0][1], each.is_true(each.ranked[0][0])) for each in played]
    every = [(p, each.is_true(cause)) for each in played for cause, p in each.ranked]
    print(f"Brier: causes named {brier(said):.4f}, the likeliest of each case {brier(top):.4f}, "
          f"every cause of every case {brier(every):.4f}")  # fmt: skip
    print(f"said against true, causes named (mean gap {gap(said):.3f}); every cause (gap {gap(every):.3f})")
    for low, high in itertools.pairwise(BINS):
        print(f"  {low:4.2f} to {high:4.2f}  {_bin(said, low, high)}   {_bin(every, low, high)}")


def brier(said: Sequence[tuple[float, bool]]) -> float:
    return statistics.mean((p - so) ** 2 for p, so in said) if said else 0.0


def _within(said: Iterable[tuple[float, bool]], low: float, high: float) -> list[tuple[float, bool]]:
    return [(p, so) for p, so in said if low <= p < high or p == high == 1]


def gap(said: Sequence[tuple[float, bool]]) -> float:
    """Expected calibration error: |said - true| of each bin, by how much is in it."""
    parts = [_within(said, low, high) for low, high in itertools.pairwise(BINS)]
    return sum(abs(sum(p - so for p, so in part)) for part in parts) / max(1, len(said))


def _bin(said: Sequence[tuple[float, bool]], low: float, high: float) -> str:
    part = _within(said, low, high)
    if not part:
        return f"{'-':40}"
    hits = sum(so for _, so in part)
    down, up = wilson(hits, len(part))
    mean = statistics.mean(p for p, _ in part)
    return f"said {mean:.3f} true {hits:4}/{len(part):<4} [{down:.2f}, {up:.2f}]".ljust(40)


def misses(played: Sequence[Played]) -> Iterator[str]:
    for p in played:
        case = p.case
        wanted = f"wanted {'/'.join(case.causes) or 'nothing'}"
        came = ", ".join(f"{cause} {said:.2f}" for cause, said in p.ranked[: max(3, len(p.named))])
        if not p.is_right:
            place = "" if p.is_first_right else " FIRST" if p.is_among_three else " FIRST THREE"
            yield f"miss{place}: {case.id}: {wanted}; named {len(p.named)} of {came}; {len(p.asked)} asked"
        wrong = [f"{name} {p.numbers.get(name)}" for name, right in p.numbers_right.items() if not right]
        if wrong:
            yield f"numbers: {case.id}: {', '.join(wrong)}; wanted {dict(case.numbers)}"
        unsaid = [hazard for hazard, told in p.hazards_told.items() if not told]
        if unsaid:
            yield f"hazards: {case.id}: not told {', '.join(unsaid)}; asked {', '.join(p.asked)}"
        if len(p.asked) > 9:
            yield f"questions: {case.id}: {len(p.asked)}: {', '.join(p.asked)}"


# --- through `coach talk` --------------------------------------------------------------------------------


class Piped:
    """A running `coach talk` with its store in memory."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "coach", "talk", "--store", ":memory:"]
        self.process = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    def turn(self, message: dict[str, Any]) -> dict[str, Any]:
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(json.dumps(message).encode() + b"\n")
        self.process.stdin.flush()
        answer: dict[str, Any] = json.loads(self.process.stdout.readline())
        return answer

    def play(self, case: Case) -> tuple[Any, ...]:
        """Questions, causes with their probability, numbers and hazards, as they came through the pipe."""
        chat, asked = {"chat": f"case-{case.id}"}, []
        answer = self.turn({**chat, "text": case.opening})
        told = {each["id"] for each in answer["hazards"]}
        while answer["verdict"] is None and answer["ask"] and len(asked) < MOST_QUESTIONS:
            asked.append(answer["ask"]["fact"])
            answer = self.turn({**chat, "pick": case.answer(asked[-1])})
            told |= {each["id"] for each in answer["hazards"]}
        verdict = answer["verdict"] or {"causes": [], "numbers": {}}
        named = tuple((cause["id"], cause["probability"]) for cause in verdict["causes"])
        return tuple(asked), named, verdict["numbers"], frozenset(told)

    def end(self) -> None:
        assert self.process.stdin
        self.process.stdin.close()
        self.process.wait(30)


def differences(played: Sequence[Played]) -> list[str]:
    """Cases of which `coach talk` makes anything else."""
    talk, found = Piped(), []
    for each in played:
        here = (each.asked, each.named, json.loads(json.dumps(each.numbers)), each.hazards)
        if talk.play(each.case) != here:
            found.append(each.case.id)
    talk.end()
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--cases", type=Path, default=CASES)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--engine", action="store_true", help="with the library's inference, one process")
    parser.add_argument("--talk", action="store_true", help="hold the result against `coach talk`")
    parser.add_argument("--list", action="store_true", help="name the cases that miss")
    options = parser.parse_args()
    book, cases = rulebook.load(), read_cases(options.cases)
    if options.engine:
        with Engine(rulebook.clauses(book), isolated=False) as running:
            played = played_all(cases, Core(book, running.evaluate), 1)
    else:
        played = played_all(cases, Core(book), options.jobs)
    kinds = Counter(p.case.is_healthy for p in played)
    print(f"{options.cases.name}: {len(played)} cases, {kinds[True]} of them healthy sets")
    report(played, book.sureness[0][0])
    if options.list:
        print(*misses(played), sep="\n")
    if options.talk:
        other = differences(played)
        same = len(played) - len(other)
        print(f"through `coach talk`: {same} of {len(played)} the same in every question, cause, "
              f"probability, number and hazard; otherwise: {', '.join(other) or 'none'}")  # fmt: skip


if __name__ == "__main__":
    main()
