"""Replays demo lessons and role plays through `coach drill`'s own loop and gives them back as text.

`> ` what the person types, `< ` what is shown, `# now TIME` the clock from there on, `# play` that it is a
role play, other `#` lines are remarks. Rewrite all with

    python tests/school_transcripts.py --write

and read the difference before keeping it.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from transcripts import rewrite

from coach import rulebook
from coach.front.drill import FAREWELL, shown
from coach.front.school import Classroom
from coach.rulebook import default_folder
from coach.store import MEMORY, Store

FOLDER = Path(__file__).parent.parent / "transcripts_demo" / "school"
WIDTH = 78


def replay(script: str) -> str:
    """The transcript with the coach's lines as it says them now."""
    out: list[str] = []
    with Store(MEMORY) as store:
        room = Classroom(store, rulebook.load(), default_folder())
        step, now = room.lesson_step, datetime.min
        for line in (line for line in script.splitlines() if not line.startswith("<")):
            out.append(line)
            if line == "# play":
                step = room.play_step
            elif line.startswith("# now "):
                now = datetime.fromisoformat(line.removeprefix("# now ").strip())
            elif line.startswith(">"):
                said = step("Ada", line[1:].strip(), now=now)
                now += timedelta(seconds=30)
                rows = [row for part in shown(said.lines, said.choices, WIDTH) for row in (part.split("\n"))]
                out += [f"< {row}".rstrip() for row in rows]
                picture = None if step == room.play_step else room.picture("Ada", now=now)
                out += [f"< | {row}" for row in (picture.words if picture else ())]
    return "\n".join((*out, f"< {FAREWELL}")) + "\n"


if __name__ == "__main__":
    rewrite(FOLDER, replay)
