"""Figures of the terminal: start of help, of the chat's first prompt, of an answer. Prints; tests nothing.

python tests/bench_terminal.py
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from screens import CHECKOUT, CTRL_D, ENTER, Seat

ROUNDS = 7


def median_s(work: Callable[[], None]) -> float:
    """The median time of several rounds [s]."""
    times = []
    for _ in range(ROUNDS):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


def main() -> None:
    """Print a line a figure."""
    with tempfile.TemporaryDirectory() as folder:
        seat = Seat(Path(folder))

        def helped() -> None:
            command = [sys.executable, "-m", "coach", "--help"]
            subprocess.run(command, cwd=CHECKOUT, env=seat.environ(), capture_output=True, check=True)

        def prompted(*options: str) -> None:
            place = seat.sit(*options)
            place.until_prompt()
            place.type(CTRL_D)
            place.ended()

        print(f"coach --help                     {median_s(helped):.2f} s")
        print(f"coach chat to prompt and out     {median_s(prompted):.2f} s")
        print(f"coach chat --plain, the same     {median_s(lambda: prompted('--plain')):.2f} s")
        place = seat.sit()
        place.until_prompt()
        place.type("was good till nine then it faded", ENTER)
        place.until("0 don't know")
        print(f"an answer, from Enter to prompt  {median_s(lambda: place.say('why')):.2f} s")
        place.type(CTRL_D)
        place.ended()


if __name__ == "__main__":
    main()
