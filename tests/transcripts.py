"""Replays a demo conversation through the terminal chat and gives it back as text.

A transcript is plain text: `> ` what the person types, `< ` what the coach shows, `# now TIME` the
clock from there on, other `#` lines are remarks. Rewrite all with

    python tests/transcripts.py --write

and read the difference before keeping it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import datetime
from itertools import takewhile
from pathlib import Path

from coach import dialogue, rulebook
from coach.consult import Desk
from coach.front import terminal
from coach.plain import PlainEvaluator
from coach.store import Store

FOLDER = Path(__file__).parent.parent / "transcripts_demo"
WIDTH = 78


def replay(script: str) -> str:
    """The transcript with the coach's lines as it says them now."""
    book = rulebook.load()
    evaluator = PlainEvaluator(rulebook.clauses(book))
    lines = [line for line in script.splitlines() if not line.startswith("<")]
    out: list[str] = []
    clock: list[datetime] = []

    def read() -> str | None:
        for line in place:
            out.append(line)
            if line.startswith("# now "):
                clock[:] = [datetime.fromisoformat(line.removeprefix("# now ").strip())]
            elif line.startswith(">"):
                return line[1:].strip()
        return None

    def show(text: str) -> None:
        out.extend(f"< {line}".rstrip() for line in text.splitlines())

    head = list(takewhile(lambda line: line.startswith("#"), lines))
    out.extend(head)
    place = iter(lines[len(head) :])
    now = next(line for line in head if line.startswith("# now "))
    clock[:] = [datetime.fromisoformat(now.removeprefix("# now ").strip())]
    with Store(":memory:") as store:
        desk = Desk(store, book, infer=evaluator.evaluate, step=dialogue.step)
        terminal.run(desk, "demo", terminal.Terminal(read, show, lambda: WIDTH, lambda: clock[0]))
    return "\n".join(out).rstrip() + "\n"


def rewrite(folder: Path, replaying: Callable[[str], str]) -> None:
    """Say which transcripts of a folder differ from what is answered now; rewrite them with --write."""
    for path in sorted(folder.glob("*.txt")):
        text = path.read_text(encoding="utf-8")
        fresh = replaying(text)
        if "--write" in sys.argv:
            path.write_text(fresh, encoding="utf-8")
        print(path.name, "as written" if fresh == text else "differs")


if __name__ == "__main__":
    rewrite(FOLDER, replay)
