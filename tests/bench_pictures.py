"""How fast and how large pictures are; prints figures, asserts nothing.

    python tests/bench_pictures.py

`first` is a new process from a rule base in memory to the first PNG, imports included; `warm` is the median
of further pictures, SVG and PNG together. Wall time, and in brackets the processor's (which other work on
the machine does not stretch).
"""

from __future__ import annotations

import hashlib
import statistics
import subprocess
import sys
import time
from pathlib import Path

from picture_scenes import SCENES, draw

FIRST = """
import sys, time
sys.path.insert(0, {tests!r})
from coach import rulebook
book = rulebook.load()
start, busy = time.perf_counter(), time.process_time()
from picture_scenes import draw
from coach.pictures.png import png
png(draw(book, {name!r}).svg)
print((time.perf_counter() - start) * 1000, (time.process_time() - busy) * 1000)
"""
RUNS = 15


def first_ms(name: str) -> tuple[float, float]:
    """Median over fresh processes until the first PNG: wall and processor time [ms]."""
    code = FIRST.format(tests=str(Path(__file__).parent), name=name)
    runs = [
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.split()
        for _ in range(5)
    ]
    return statistics.median(float(run[0]) for run in runs), statistics.median(float(run[1]) for run in runs)


def main() -> None:
    """Print a line a scene."""
    from coach import rulebook
    from coach.pictures.png import png

    book = rulebook.load()
    print(f"{'scene':28}{'first':>13}{'warm':>15}{'svg kB':>8}{'png kB':>8}")
    for name in SCENES:
        wall, busy = first_ms(name)
        walls, works, seen = [], [], set()
        for _ in range(RUNS):
            start, work = time.perf_counter(), time.process_time()
            svg = draw(book, name).svg
            made = png(svg)
            walls.append((time.perf_counter() - start) * 1000)
            works.append((time.process_time() - work) * 1000)
            seen.add(hashlib.sha256(svg.encode() + made).hexdigest())
        same = "" if len(seen) == 1 else "  BYTES DIFFER"
        warm = f"{statistics.median(walls):.0f} ({statistics.median(works):.0f})"
        sizes = f"{len(svg) / 1000:8.1f}{len(made) / 1000:8.1f}"
        print(f"{name:28}{f'{wall:.0f} ({busy:.0f})':>13}{warm:>15}{sizes}{same}")


if __name__ == "__main__":
    main()
