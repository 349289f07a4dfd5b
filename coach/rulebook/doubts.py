"""Numbers that are asked once more: the captain's doubts.toml, checked against the facts."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Literal

from coach.model import Doubts, Fact, Fit
from coach.rulebook.conditions import closest
from coach.rulebook.entries import DoubtsFile, FitEntry, Raw
from coach.rulebook.source import Source

DOUBTS = "doubts.toml"
_SLOT = re.compile(r"\{([^}]*)\}")
_Wrong = Iterator[tuple[str, str]]
_SLOTS: Mapping[str, frozenset[str]] = {
    "unusual": frozenset({"value", "fact", "low", "high"}),
    "misfit": frozenset({"value", "fact", "misfit"}),
    "beyond": frozenset({"value", "fact", "low", "high"}),
    "once_more": frozenset(),
    "later": frozenset(),
    "gone_without": frozenset({"value", "fact"}),
    "believed": frozenset({"value", "fact"}),
}


def read_doubts(source: Source, raw: Raw, facts: Mapping[str, Fact]) -> Doubts:
    """What is doubted; every fault is noted with its line. Nothing is doubted where the file is missing."""
    file = source.model(DoubtsFile, raw, file=DOUBTS) or DoubtsFile()
    for name, limits in file.usual.items():
        line = source.line(DOUBTS, "usual", 0, name)
        for wrong, do in _wrong_limits(name, limits, facts):
            source.fault(DOUBTS, line, "usual", f"{name}: {wrong}", do)
    seen: set[str] = set()
    for place, fit in enumerate(file.fit):
        line = source.line(DOUBTS, "fit", place)
        for wrong, do in _wrong_fit(fit, facts):
            source.fault(DOUBTS, line, fit.id, wrong, do)
        if fit.id in seen:
            source.fault(DOUBTS, line, fit.id, "this id is used twice", "Give each fit an id of its own.")
        seen.add(fit.id)
    _check_texts(source, file, is_used=bool(file.usual or file.fit))
    again, back = (
        frozenset(" ".join(said.casefold().split()) for said in words)
        for words in (file.said_again, file.taken_back)
    )
    return Doubts(file.usual, tuple(map(_fit, file.fit)), again, back, file.text.model_dump())


def _wrong_number(name: str, facts: Mapping[str, Fact]) -> tuple[str, str] | None:
    if name not in facts or facts[name].origin != "asked":
        asked = [fact.name for fact in facts.values() if fact.origin == "asked"]
        return f"there is no question '{name}'", closest(name, asked)
    if facts[name].type != "number":
        return f"'{name}' is not a number", "Only numbers are doubted."
    return None


def _wrong_limits(name: str, limits: tuple[float, float], facts: Mapping[str, Fact]) -> _Wrong:
    wrong = _wrong_number(name, facts)
    if wrong is not None:
        yield wrong
        return
    low, high = limits
    if not low < high:
        yield "it does not go from low to high", "Write [least, most]."
    least, most = facts[name].range or (low, high)
    if low < least or high > most:
        yield (
            f"{low:g} to {high:g} goes beyond what the fact can be",
            f"Its range in facts.toml is {least:g} to {most:g}: stay within.",
        )


def _wrong_fit(fit: FitEntry, facts: Mapping[str, Fact]) -> _Wrong:
    given = [how for how in (fit.at_most, fit.at_least, fit.near) if how]
    if len(given) != 1:
        yield (
            "it needs one of at_most, at_least, near",
            "Name in one of them what sets the limit.",
        )
    if bool(fit.near) != bool(fit.within):
        yield "near without within, or within without near", "Write both, or neither."
    names = (fit.doubt, *(name for how in given for name in how))
    yield from filter(None, (_wrong_number(name, facts) for name in names))
    known = {name for name in names if name in facts}
    if len({facts[name].unit for name in known}) > 1:
        yield "the numbers have different units", "Compare feet with feet."
    for slot in _SLOT.findall(fit.says):
        if slot != "limit" and slot not in names:
            yield f"says: nothing fills '{{{slot}}}'", "Use {limit}, or one of the facts that are compared."


def _check_texts(source: Source, file: DoubtsFile, *, is_used: bool) -> None:
    for key, text in file.text.model_dump().items():
        line = source.line(DOUBTS, "text", 0, key)
        if is_used and not text:
            source.fault(DOUBTS, line, "text", f"{key}: is missing", "Add it.")
        for slot in set(_SLOT.findall(text)) - _SLOTS[key]:
            allowed = ", ".join(f"{{{name}}}" for name in sorted(_SLOTS[key])) or "none"
            source.fault(DOUBTS, line, "text", f"{key}: nothing fills '{{{slot}}}'", f"Allowed: {allowed}.")


def _fit(entry: FitEntry) -> Fit:
    how: Literal["at_most", "at_least", "near"] = (
        "at_most" if entry.at_most else "at_least" if entry.at_least else "near"
    )
    beside = tuple(entry.at_most or entry.at_least or entry.near)
    return Fit(entry.id, entry.doubt, how, beside, entry.plus, entry.within, entry.says)
