"""`kill -9` at any moment: what was answered stays, and the chat goes on where it stood.

The outside authority is the same conversation held without a kill, line for line.
"""

import json
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

CHECKOUT = Path(__file__).resolve().parent.parent
AT = "2027-02-11T21:05:00-05:00"
MESSAGES: list[dict[str, Any]] = [
    {"text": "was good till nine then it faded"},
    {"facts": {"water.depth_ft": 11, "tide.state": "falling"}},
    {"pick": "unknown"},
    {"command": "why"},
    {"pick": "unknown"},
    {"command": "undo"},
    {"text": "the water is 9 ft deep now"},
    {"command": "summary"},
]


def sent(number: int) -> dict[str, Any]:
    return {"chat": "boat-7", "id": f"m{number}", "at": AT, **MESSAGES[number]}


class Talk:
    """A `coach talk` that can be killed."""

    def __init__(self, store: Path) -> None:
        command = [sys.executable, "-m", "coach", "talk", "--store", str(store)]
        self.process = subprocess.Popen(command, cwd=CHECKOUT, stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    def send(self, message: dict[str, Any]) -> None:
        assert self.process.stdin
        self.process.stdin.write(json.dumps(message).encode() + b"\n")
        self.process.stdin.flush()

    def turn(self, message: dict[str, Any]) -> bytes:
        assert self.process.stdout
        self.send(message)
        return self.process.stdout.readline()

    def children(self) -> list[int]:
        pid = self.process.pid
        return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self._let_go()

    def end(self) -> int:
        assert self.process.stdin
        self.process.stdin.close()
        return self._let_go()

    def _let_go(self) -> int:
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdout.close()
        code = self.process.wait(30)
        if not self.process.stdin.closed:
            self.process.stdin.close()
        return code


@pytest.fixture(scope="module")
def unbroken(tmp_path_factory: pytest.TempPathFactory) -> list[bytes]:
    """The lines of the conversation when nobody kills anything."""
    talk = Talk(tmp_path_factory.mktemp("unbroken") / "a.db")
    lines = [talk.turn(sent(number)) for number in range(len(MESSAGES))]
    assert talk.end() == 0
    assert all(json.loads(line)["error"] is None for line in lines)
    return lines


def rows(store: Path) -> list[str]:
    database = Database(store)
    is_made = "turns" in database.table_names()
    ids = [row["id"] for row in database.query("SELECT id FROM turns ORDER BY seq")] if is_made else []
    database.close()
    return ids


def test_a_kill_after_every_single_turn_changes_no_line_of_the_conversation(
    tmp_path: Path, unbroken: list[bytes]
) -> None:
    for number in range(len(MESSAGES)):
        talk = Talk(tmp_path / "a.db")
        assert talk.turn(sent(number)) == unbroken[number]
        talk.kill()
    assert rows(tmp_path / "a.db") == [f"m{number}" for number in range(len(MESSAGES))]


def test_a_kill_within_a_turn_keeps_it_whole_or_not_at_all_and_sending_again_is_harmless(
    tmp_path: Path, unbroken: list[bytes]
) -> None:
    """Each turn is sent, killed at a moment drawn by chance, sent again to a new process."""
    chance = random.Random(11)
    for number in range(len(MESSAGES)):
        warm = Talk(tmp_path / "a.db")
        if number:  # answered already: wakes the process up, so that the kill falls into the turn
            assert warm.turn(sent(number - 1)) == unbroken[number - 1]
        warm.send(sent(number))
        time.sleep(chance.uniform(0, 0.03 if number else 0.6))
        warm.kill()
        kept = rows(tmp_path / "a.db") if (tmp_path / "a.db").exists() else []
        assert len(kept) in {number, number + 1}
        again = Talk(tmp_path / "a.db")
        assert again.turn(sent(number)) == unbroken[number]
        again.kill()
    assert rows(tmp_path / "a.db") == [f"m{number}" for number in range(len(MESSAGES))]


def test_a_killed_coach_leaves_no_process_behind(tmp_path: Path) -> None:
    talk = Talk(tmp_path / "a.db")
    talk.turn(sent(0))
    children = talk.children()
    talk.kill()
    deadline = time.monotonic() + 20
    while any(is_running(child) for child in children):
        assert time.monotonic() < deadline
        time.sleep(0.05)


def is_running(pid: int) -> bool:
    """Whether a process still runs; one that has ended and waits to be buried does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False
