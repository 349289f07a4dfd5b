"""Scores the reading of a file of lines, or of the openings of a case file.

Usage: score_language.py [-v] FILE...
A lines file holds {"lines": [{"id", "kind", "asked", "text", "at", "understood"}]}, a case file
{"cases": [{"id", "opening", "facts"}], "base": {...}}. Values count as equal within one hundredth.
Prints for each kind: lines exactly right, facts missing, wrong and invented.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from coach.language import Lexicon, Reading, build_lexicon, read
from coach.model import Fact, Option

RULES = Path(__file__).parent.parent / "rules"
DEFAULT_AT = "2027-02-11T21:00:00-05:00"
TOLERANCE = 0.01


def load_facts(path: Path = RULES / "facts.toml") -> dict[str, Fact]:
    """The declared facts, as far as reading needs them."""
    found = {}
    for name, table in tomllib.loads(path.read_text(encoding="utf-8")).items():
        options = tuple(Option(key, label) for key, label in table.get("options", {}).items())
        limits = table.get("range")
        found[name] = Fact(
            name=name,
            type=table["type"],
            origin=table.get("origin", "asked"),
            says=table.get("says", name),
            unit=table.get("unit"),
            range=(float(limits[0]), float(limits[1])) if limits else None,
            options=options,
            is_difference=table.get("difference", False),
        )
    return found


def load_words(folder: Path = RULES / "words") -> dict[str, Any]:
    """The parsed word files, by file name."""
    return {
        path.name: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(folder.glob("*.toml"))
    }


def read_line(line: Mapping[str, Any], lexicon: Lexicon) -> Reading:
    """Read one line of a lines file."""
    asked = lexicon.facts.get(line["asked"]) if line.get("asked") else None
    now = datetime.fromisoformat(line.get("at") or DEFAULT_AT)
    return read(line["text"], asked=asked, lexicon=lexicon, now=now)


def understood(reading: Reading) -> dict[str, Any]:
    """The facts of a reading, don't-knows included, as the headless interface gives them."""
    return {**dict.fromkeys(reading.unknown, "unknown"), **reading.facts}


def same(left: Any, right: Any) -> bool:
    """Equal, numbers and moments within a hundredth."""
    if isinstance(left, bool) or isinstance(right, bool):
        return left is right
    if isinstance(left, int | float) and isinstance(right, int | float):
        return abs(left - right) <= TOLERANCE
    if isinstance(left, str) and isinstance(right, str) and "T" in left and "T" in right:
        return datetime.fromisoformat(left) == datetime.fromisoformat(right)
    return bool(left == right)


def faults(got: Mapping[str, Any], want: Mapping[str, Any]) -> Counter[str]:
    """How many facts are missing, wrong or invented."""
    count: Counter[str] = Counter()
    count["missing"] = sum(name not in got for name in want)
    count["wrong"] = sum(name in got and not same(got[name], value) for name, value in want.items())
    count["invented"] = sum(name not in want for name in got)
    return count


def score_lines(lines: Iterable[Mapping[str, Any]], lexicon: Lexicon, *, verbose: bool) -> Counter[str]:
    """Print the score of each kind and return the totals."""
    kinds: dict[str, Counter[str]] = {}
    for line in lines:
        reading = read_line(line, lexicon)
        got = understood(reading)
        count = faults(got, line["understood"])
        kind = kinds.setdefault(line.get("kind", "all"), Counter())
        kind.update(count)
        kind["lines"] += 1
        kind["bad lines"] += count["wrong"] + count["invented"] > 0
        kind["right"] += count.total() == 0
        if verbose and count.total():
            print(f"{line.get('kind')}: {line['text']!r} asked {line['asked']}\n    got {got}")
            print(f"    want {line['understood']}\n    not understood {reading.not_understood!r}")
    total: Counter[str] = Counter()
    for name, count in sorted(kinds.items()):
        _print_row(name, count)
        total.update(count)
    _print_row("total", total)
    return total


def _print_row(name: str, count: Counter[str]) -> None:
    share = 100 * count["right"] / max(1, count["lines"])
    print(
        f"{name:12} {count['right']:4}/{count['lines']:<4} {share:5.1f} % right; missing {count['missing']}, "
        f"wrong {count['wrong']}, invented {count['invented']}"
        f", lines with wrong or invented {count['bad lines']}"
    )


def score_cases(content: Mapping[str, Any], lexicon: Lexicon) -> None:
    """Print what each opening said, and where it contradicts the case."""
    clashes = 0
    for case in content["cases"]:
        truth = {**content.get("base", {}), **case.get("facts", {})}
        got = understood(read_line({"text": case["opening"], "asked": None, "at": case.get("at")}, lexicon))
        wrong = {
            name: truth.get(name)
            for name, value in got.items()
            if name in truth and not same(value, truth[name])
        }
        clashes += bool(wrong)
        print(f"{case['id']}: {case['opening']!r}\n    {got}" + (f"\n    CASE SAYS {wrong}" if wrong else ""))
    print(f"openings that contradict their case: {clashes} of {len(content['cases'])}")


def main(arguments: list[str]) -> None:
    """Score each file named."""
    lexicon = build_lexicon(load_words(), load_facts())
    for name in (argument for argument in arguments if argument != "-v"):
        content = json.loads(Path(name).read_text(encoding="utf-8"))
        if "lines" in content:
            score_lines(content["lines"], lexicon, verbose="-v" in arguments)
        if "cases" in content:
            score_cases(content, lexicon)


if __name__ == "__main__":
    main(sys.argv[1:])
