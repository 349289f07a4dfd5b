"""Prints how fast `coach talk` answers and what memory it holds over many turns.

    python tests/bench_talk.py [TURNS]       (default 10,000)

Every turn goes through a pipe, as a program would send it. "many chats": a new chat for each
complaint; "one chat": all in one, starting afresh after each verdict. Answers are drawn at random
from a fixed seed. A benchmark prints; it promises nothing and pytest does not collect it.
"""

import itertools
import json
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

OPENINGS = ("was good till nine then it faded", "nothing all night", "they come but we miss them", "hello")
CHECKOUT = Path(__file__).resolve().parent.parent
COACH = [sys.executable, "-m", "coach"]


class Talk:
    """A running `coach talk` that counts its turns and times them."""

    def __init__(self, store: Path) -> None:
        command = [*COACH, "talk", "--store", str(store)]
        self.process = subprocess.Popen(command, cwd=CHECKOUT, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self.times_ms: list[float] = []
        self.refused = 0

    def turn(self, message: dict[str, Any]) -> dict[str, Any]:
        assert self.process.stdin
        assert self.process.stdout
        began = time.perf_counter()
        self.process.stdin.write(json.dumps(message).encode() + b"\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        self.times_ms.append(1000 * (time.perf_counter() - began))
        answer: dict[str, Any] = json.loads(line)
        self.refused += answer["error"] is not None
        return answer

    def memory_mb(self) -> float:
        """Resident memory of the process and its children."""
        pids = [self.process.pid]
        children = Path(f"/proc/{pids[0]}/task/{pids[0]}/children").read_text().split()
        return sum(resident_mb(int(pid)) for pid in [*pids, *children])

    def end(self) -> None:
        assert self.process.stdin
        self.process.stdin.close()
        self.process.wait(30)


def resident_mb(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text()
    return int(status.split("VmRSS:")[1].split()[0]) / 1024


def picked(ask: dict[str, Any], chance: random.Random) -> Any:
    if ask["type"] == "number":
        return chance.choice([0, 1, 2, 3, 5, 8, 11, 14, "unknown"])
    if ask["type"] == "time":
        return "unknown"
    if ask["type"] == "bool":
        return chance.choice([True, False, "unknown"])
    return chance.choice([option["id"] for option in ask["options"]])


def converse(talk: Talk, turns: int, *, one_chat: bool) -> list[tuple[int, float]]:
    """Hold `turns` turns; the memory (MB) after the first, a tenth and all of them."""
    chance = random.Random(7)
    memory = []
    for turn, _ in enumerate(itertools.islice(complaints(talk, chance, one_chat=one_chat), turns), 1):
        if turn in {1, turns // 10, turns}:
            memory.append((turn, talk.memory_mb()))
    return memory


def complaints(talk: Talk, chance: random.Random, *, one_chat: bool) -> Iterator[None]:
    """One complaint after another, each followed through to its verdict; yields after each turn."""
    for number in itertools.count():
        chat = {"chat": "boat" if one_chat else f"boat-{number}"}
        if one_chat and number:
            talk.turn({**chat, "command": "new"})
            yield
        answer = talk.turn({**chat, "text": chance.choice(OPENINGS)})
        yield
        while answer["ask"] is not None:
            is_word = chance.random() < 0.1
            said = {"text": chance.choice(OPENINGS)} if is_word else {"pick": picked(answer["ask"], chance)}
            answer = talk.turn({**chat, **said})
            yield


def report(name: str, talk: Talk, memory: list[tuple[int, float]]) -> None:
    def spread(times: list[float]) -> str:
        cuts = statistics.quantiles(times, n=100)
        return f"p50 {cuts[49]:.1f}  p95 {cuts[94]:.1f}  p99 {cuts[98]:.1f}  max {max(times):.1f} ms"

    tenth = len(talk.times_ms) // 10
    print(f"{name}: {len(talk.times_ms)} turns, {talk.refused} refused as out of range")
    print(f"    all:         {spread(talk.times_ms)}")
    print(f"    first tenth: {spread(talk.times_ms[:tenth])}")
    print(f"    last tenth:  {spread(talk.times_ms[-tenth:])}")
    print("    memory: " + ", ".join(f"{size:.0f} MB after {turn}" for turn, size in memory), flush=True)


def started(*command: str, typed: str = "") -> float:
    """Milliseconds that a whole command takes, the median of five."""
    times = []
    for _ in range(5):
        began = time.perf_counter()
        subprocess.run(
            [*COACH, *command], cwd=CHECKOUT, input=typed, text=True, capture_output=True, check=True
        )
        times.append(1000 * (time.perf_counter() - began))
    return statistics.median(times)


def main() -> None:
    turns = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    print(f"coach --help: {started('--help'):.0f} ms")
    print(
        f"coach chat to its first lines and out: {started('chat', '--store', ':memory:', typed='bye'):.0f} ms"
    )
    for name, one_chat in (("many chats", False), ("one chat", True)):
        with tempfile.TemporaryDirectory() as folder:
            talk = Talk(Path(folder) / "a.db")
            report(name, talk, converse(talk, turns, one_chat=one_chat))
            talk.end()


if __name__ == "__main__":
    main()
