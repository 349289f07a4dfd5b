"""Prints whether `coach talk` stays as fast and as small over thousands of chats.

    python tests/bench_chats.py [--chats 10000] [--store PATH] [--unknown 0.1] [--seed 0]

One process, one chat a consultation: the cases of cases/dev_cases.json over and over, each answered to
its verdict, each answer "unknown" at odds of 1 in 10 (seeded), every fifth chat asked "why" behind it.
Printed for each tenth of the chats: time a turn by the wall (p50 and p99) and of the processor (mean of
the process and its children; this one does not grow where other programs are busy), and the memory that
both hold. The store is a file in a temporary folder unless told. It is no test.
"""

import argparse
import os
import random
import statistics
import tempfile
from pathlib import Path

from bench_talk import Talk
from play_inside import MOST_QUESTIONS, Case, percentile, read_cases

from coach.model import UNKNOWN

WHY_EVERY = 5


def consult(talk: Talk, chat: str, case: Case, *, dice: random.Random, unknown: float) -> None:
    """Hold one chat to its verdict."""
    answer = talk.turn({"chat": chat, "text": case.opening})
    for _ in range(MOST_QUESTIONS):
        if answer["ask"] is None:
            break
        said = UNKNOWN if dice.random() < unknown else case.answer(answer["ask"]["fact"])
        answer = talk.turn({"chat": chat, "pick": said})
    if dice.randrange(WHY_EVERY) == 0:
        talk.turn({"chat": chat, "command": "why"})


def processor_ms(pid: int) -> float:
    """What the process and its children have had of the processor so far."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    ticks = 0
    for each in (pid, *children):
        fields = Path(f"/proc/{each}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return 1000 * ticks / os.sysconf("SC_CLK_TCK")


def report(number: int, times_ms: list[float], *, own_ms: float, memory_mb: float) -> None:
    print(f"  to chat {number:6}: {len(times_ms):6} turns  p50 {statistics.median(times_ms):5.2f} ms  "
          f"p99 {percentile(times_ms, 0.99):6.2f} ms  processor {own_ms / len(times_ms):.2f} ms  "
          f"{memory_mb:6.1f} MB", flush=True)  # fmt: skip


def hold(talk: Talk, options: argparse.Namespace) -> None:
    cases, dice, pid = read_cases(), random.Random(options.seed), talk.process.pid
    tenth, done, own_ms = max(1, options.chats // 10), 0, processor_ms(talk.process.pid)
    for number in range(1, options.chats + 1):
        case = cases[number % len(cases)]
        consult(talk, f"boat-{number}", case, dice=dice, unknown=options.unknown)
        if number % tenth == 0:
            now_ms = processor_ms(pid)
            report(number, talk.times_ms[done:], own_ms=now_ms - own_ms, memory_mb=talk.memory_mb())
            done, own_ms = len(talk.times_ms), now_ms


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--chats", type=int, default=10_000)
    parser.add_argument("--store", help='a file, or ":memory:" (default: a file in a temporary folder)')
    parser.add_argument("--unknown", type=float, default=0.1)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        talk = Talk(Path(options.store or Path(folder) / "chats.db"))
        print(f"{options.chats} chats through one `coach talk`, seed {options.seed}")
        hold(talk, options)
        talk.end()
        print(f"{len(talk.times_ms)} turns, {talk.refused} refused, ended with {talk.process.returncode}")


if __name__ == "__main__":
    main()
