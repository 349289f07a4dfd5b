"""Figures of the language: building the words, and reading a line.

Usage: bench_language.py [FILE]   (a lines file; default: the one of another writer in cases/)
Prints milliseconds: building the lexicon, importing the package, and reading a line (median, 95 %,
worst), for all lines and for those of about 60 characters; and the worst of some hostile texts.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from score_language import load_facts, load_words, read_line

from coach.language import Lexicon, build_lexicon

LINES = Path(__file__).parent / "cases" / "dev_lines.json"
ROUNDS = 5
HOSTILE = ("9 " * 500, "not " * 250, "no, " * 300, "x" * 10**6, "a foot and " * 90, "between " * 125)


def took_ms(work: Callable[[], object]) -> float:
    """Milliseconds a piece of work takes, the best of a few rounds."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(1000 * (time.perf_counter() - start))
    return min(times)


def import_ms() -> float:
    """Milliseconds a fresh Python takes to import the package, less an empty one."""
    run = [sys.executable, "-c"]
    empty = took_ms(lambda: subprocess.run([*run, "pass"], check=True))
    return took_ms(lambda: subprocess.run([*run, "import coach.language"], check=True)) - empty


def print_reading(name: str, lines: list[dict[str, Any]], lexicon: Lexicon) -> None:
    """Print median, 95 % and worst of reading each line once warm."""
    times = sorted(took_ms(lambda line=line: read_line(line, lexicon)) for line in lines)  # type: ignore[misc]
    print(
        f"{name} ({len(times)} lines): median {statistics.median(times):.3f} ms, "
        f"95 % {times[int(0.95 * len(times))]:.3f} ms, worst {times[-1]:.3f} ms"
    )


def main(arguments: list[str]) -> None:
    """Print all figures."""
    words, facts = load_words(), load_facts()
    lexicon = build_lexicon(words, facts)
    print(f"building {len(lexicon.phrases)} phrases: {took_ms(lambda: build_lexicon(words, facts)):.0f} ms")
    print(f"reading the word files: {took_ms(load_words):.0f} ms; importing: {import_ms():.0f} ms")
    path = Path(arguments[0]) if arguments else LINES
    lines = json.loads(path.read_text(encoding="utf-8"))["lines"]
    print_reading("all", lines, lexicon)
    print_reading("50 to 70 characters", [line for line in lines if 50 <= len(line["text"]) <= 70], lexicon)
    worst = max(took_ms(lambda text=text: read_line({"text": text}, lexicon)) for text in HOSTILE)  # type: ignore[misc]
    print(f"hostile texts: worst {worst:.1f} ms")


if __name__ == "__main__":
    main(sys.argv[1:])
