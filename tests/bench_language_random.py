"""Reads very many made-up texts: none may fail, none may give what no fact allows.

Usage: bench_language_random.py [HOW_MANY] [SEED]   (default 100000 texts, seed 1)
A quarter each: boaters' words in any order, lines of the cases with slips of the keys, two lines run
together, and signs and letters of any script. Prints failures by kind and the milliseconds of a text.
"""

from __future__ import annotations

import json
import random
import statistics
import sys
import time
from collections import Counter
from pathlib import Path

from language_bench import NOW, shipped_lexicon
from test_language_robust import ODD, is_legal

from coach.language import Lexicon, read

LINES = Path(__file__).parent / "cases" / "dev_lines.json"
SCRIPTS = (
    "abcdefgh ijklmnop qrstuvwxyz 0123456789 .,;:!?'\"-/()°½¾²³é ñ ß ж щ 你 好 ع ر 🦐 👍 "
    "\u200b\u202e\t\n{}[]|@~\\"
)
LONGEST_WORDS = 18


def slipped(text: str, rng: random.Random) -> str:
    """The text with one to three letters left out, doubled, swapped or wrong."""
    letters = list(text)
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(letters)) if letters else 0
        kind = rng.randrange(4)
        if kind == 0:
            del letters[at : at + 1]
        elif kind == 1:
            letters[at:at] = letters[at : at + 1]
        elif kind == 2:
            letters[at : at + 2] = reversed(letters[at : at + 2])
        else:
            letters[at : at + 1] = rng.choice(SCRIPTS)
    return "".join(letters)


def made_up(number: int, rng: random.Random, *, lines: list[str], words: list[str]) -> str:
    """One text of the kind that is due."""
    kind = number % 4
    if kind == 0:
        row = (rng.choice(words if rng.random() < 0.9 else ODD) for _ in range(rng.randint(1, LONGEST_WORDS)))
        return " ".join(row)
    if kind == 1:
        return slipped(rng.choice(lines), rng)
    if kind == 2:
        return rng.choice(lines) + rng.choice([" ", ", ", " but ", " and ", ". "]) + rng.choice(lines)
    return "".join(rng.choice(SCRIPTS) for _ in range(rng.randint(0, 80)))


def fault_of(text: str, asked: str | None, lexicon: Lexicon) -> str:
    """What went wrong with one text; empty if nothing did."""
    try:
        found = read(text, asked=lexicon.facts[asked] if asked else None, lexicon=lexicon, now=NOW)
    except Exception as fault:
        return type(fault).__name__
    illegal = [name for name, value in found.facts.items() if not is_legal(lexicon.facts[name], value)]
    return f"illegal {illegal[0]}" if illegal else ""


def main(arguments: list[str]) -> None:
    """Read them all and print the figures."""
    many = int(arguments[0]) if arguments else 100_000
    rng = random.Random(int(arguments[1]) if len(arguments) > 1 else 1)
    lexicon = shipped_lexicon()
    lines = [line["text"] for line in json.loads(LINES.read_text(encoding="utf-8"))["lines"]]
    words, facts = sorted(lexicon.known), [None, *lexicon.facts]
    faults: Counter[str] = Counter()
    times = []
    for number in range(many):
        text, asked = made_up(number, rng, lines=lines, words=words), rng.choice(facts)
        start = time.perf_counter()
        fault = fault_of(text, asked, lexicon)
        times.append(1000 * (time.perf_counter() - start))
        if number % 10_000 == 9_999:
            print(f"{number + 1} texts, {faults.total()} faults so far", flush=True)
        if fault:
            faults[fault] += 1
            print(f"{fault}: {text!r} asked {asked}")
    times.sort()
    print(f"{many} texts, {faults.total()} faults {dict(faults)}")
    print(
        f"median {statistics.median(times):.3f} ms, 95 % {times[int(0.95 * many)]:.3f} ms, "
        f"worst {times[-1]:.1f} ms"
    )


if __name__ == "__main__":
    main(sys.argv[1:])
