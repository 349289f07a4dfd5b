"""Facts and outlooks from their tables."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from coach.model import Fact, Option, Outlook, Scalar
from coach.rulebook.conditions import closest
from coach.rulebook.entries import AskedEntry, OutlookEntry, Raw, WorkedOutEntry
from coach.rulebook.source import Source

LAMPS = ("left", "right")
ASKED, WORKED_OUT = "facts.toml", "worked_out.toml"


def read_facts(source: Source, asked: Raw, worked: Raw, causes: Iterable[str]) -> dict[str, Fact]:
    """Every fact by name: those that are asked, worked out, concluded, and two for each cause."""
    facts: dict[str, Fact] = {}
    for name, table in asked.items():
        entry = source.model(AskedEntry, table, file=ASKED, table=name)
        if entry is not None:
            facts[name] = _asked(source, name, entry)
    for name, table in worked.items():
        worked_entry = source.model(WorkedOutEntry, table, file=WORKED_OUT, table=name)
        if worked_entry is not None:
            line = source.line(WORKED_OUT, name)
            facts.update({fact.name: fact for fact in _worked_out(name, worked_entry, line)})
    for cause in causes:
        for state in ("named", "tried"):
            full = f"{state}.{cause}"
            facts[full] = Fact(full, "bool", "computed", f"{cause} was {state}")
    return facts


def for_lamp(name: str, lamp: str | None) -> str:
    """A name with "lamp." read as this lamp's own."""
    return f"{lamp}.{name.removeprefix('lamp.')}" if lamp and name.startswith("lamp.") else name


def text_for_lamp(text: str, lamp: str | None) -> str:
    """A text with "{lamp}" and "{lamp. ...}" read as this lamp's own."""
    return text if lamp is None else text.replace("{lamp.", "{" + lamp + ".").replace("{lamp}", lamp)


def _asked(source: Source, name: str, entry: AskedEntry) -> Fact:
    if entry.type == "choice" and not entry.options:
        source.fault(ASKED, source.line(ASKED, name), name, "a choice without options", "List its options.")
    pairs = entry.expect.items() if isinstance(entry.expect, dict) else entry.expect
    expect = tuple((_answer(entry.type, answer), weight) for answer, weight in pairs)
    _check_expect(source, name, entry)
    return Fact(
        name=name,
        type=entry.type,
        origin="asked",
        says=entry.says,
        unit=entry.unit,
        range=entry.range,
        options=tuple(Option(key, label) for key, label in entry.options.items()),
        ask=entry.ask,
        why=entry.why,
        trouble=entry.trouble,
        expect=expect,
        only_if=entry.only_if,
        near=entry.near,
        differs=tuple(entry.differs),
        told_by=tuple(entry.told_by),
        is_difference=entry.difference,
        settle=entry.settle,
        working=entry.working,
        file=ASKED,
        line=source.line(ASKED, name),
    )


def _check_expect(source: Source, name: str, entry: AskedEntry) -> None:
    line = source.line(ASKED, name, 0, "expect")
    pairs = entry.expect.items() if isinstance(entry.expect, dict) else entry.expect
    for answer, weight in pairs:
        wrong, do = _unexpected(entry, answer)
        if wrong:
            source.fault(ASKED, line, name, f"expect: {wrong}", do)
        if not (math.isfinite(weight) and weight >= 0):
            source.fault(
                ASKED, line, name, "expect: a weight below 0", f"Given: {weight:g}. Write 0 or more."
            )
    if (entry.near is None) != (not entry.differs):
        do = 'Write both: near = "the other fact", differs = [[0, 8], [-2, 1]].'
        source.fault(ASKED, line, name, "near without differs, or differs without near", do)
    if entry.told_by and entry.type != "bool":
        at = source.line(ASKED, name, 0, "told_by")
        source.fault(ASKED, at, name, "told_by at a fact that is not yes or no", "Take it out.")
    if entry.range is not None and not entry.range[0] < entry.range[1]:
        at = source.line(ASKED, name, 0, "range")
        source.fault(ASKED, at, name, "range: it does not go from low to high", "Write [least, most].")


def _unexpected(entry: AskedEntry, answer: str | float) -> tuple[str, str]:
    """What is wrong with an expected answer, and what to do; two empty texts if nothing is."""
    if entry.type == "choice" and answer not in entry.options:
        return f"'{answer}' is not an option", closest(str(answer), list(entry.options))
    if entry.type == "bool" and answer not in ("yes", "no"):
        return f"'{answer}' is neither yes nor no", "Write yes and no."
    if entry.type == "number" and isinstance(answer, str):
        return f"'{answer}' is not a number", "Write pairs: [[11, 6], [9, 3]]."
    out = entry.range is not None and not isinstance(answer, str)
    if out and entry.range is not None and not entry.range[0] <= float(answer) <= entry.range[1]:
        return (
            f"{answer:g} can never be answered",
            f"Allowed: {entry.range[0]:g} to {entry.range[1]:g}.",
        )
    return "", ""


def _answer(kind: str, answer: str | float) -> Scalar:
    if kind == "bool":
        return answer == "yes"
    if kind == "number" and not isinstance(answer, str):
        return float(answer)
    return str(answer)


def _worked_out(name: str, entry: WorkedOutEntry, line: int) -> Iterable[Fact]:
    for lamp in LAMPS if name.startswith("lamp.") else (None,):
        yield Fact(
            name=for_lamp(name, lamp),
            type=entry.type,
            origin=entry.kind,
            says=entry.says.replace("{lamp}", lamp or ""),
            unit=entry.unit,
            options=tuple(Option(key, label) for key, label in entry.options.items()),
            working=text_for_lamp(entry.working, lamp),
            file=WORKED_OUT,
            line=line,
        )


def read_outlooks(source: Source, tables: object) -> tuple[Outlook, ...]:
    """The outlooks of worked_out.toml."""
    made: list[Outlook] = []
    if not isinstance(tables, list):
        line = source.line(WORKED_OUT, "", 0, "outlook")
        source.fault(
            WORKED_OUT, line, "outlook", "it is not a list of tables", "Write [[outlook]] above each."
        )
        return ()
    for place, table in enumerate(tables):
        entry = source.model(OutlookEntry, table, file=WORKED_OUT, table="outlook", place=place)
        if entry is not None:
            cases = tuple((tuple(row[:-1]), row[-1]) for row in entry.cases)
            made.append(Outlook(entry.id, tuple(entry.shows), cases, entry.like))
    return tuple(made)


def check_outlooks(source: Source, outlooks: tuple[Outlook, ...], facts: Mapping[str, Fact]) -> None:
    """Note every outlook that shows what is not declared, or whose rows do not fit."""
    ids = [outlook.id for outlook in outlooks]
    for place, outlook in enumerate(outlooks):
        line = source.line(WORKED_OUT, "outlook", place)
        for name in outlook.shows:
            if name not in facts:
                source.fault(WORKED_OUT, line, outlook.id, f"there is no fact '{name}'", closest(name, facts))
        if any(len(values) != len(outlook.shows) for values, _ in outlook.cases):
            do = "Each case has one value for each figure shown, then its weight."
            source.fault(WORKED_OUT, line, outlook.id, "a case has too few or too many values", do)
        if outlook.like is not None and outlook.like not in ids:
            wrong = f"there is no outlook '{outlook.like}'"
            source.fault(WORKED_OUT, line, outlook.id, wrong, closest(outlook.like, ids))
