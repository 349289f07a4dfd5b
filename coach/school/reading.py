"""Read rules/school, or say everything that is wrong with it at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from coach.legal import NotLegal, legal_value
from coach.model import Rulebook, RuleFaults, Scalar
from coach.rulebook.conditions import closest
from coach.rulebook.entries import Entry, Raw
from coach.rulebook.reading import NUMBERS, default_folder
from coach.rulebook.situations import written
from coach.rulebook.source import Source
from coach.school.entries import (
    CaseEntry,
    DefaultsEntry,
    DrillEntry,
    PlanFile,
    SceneEntry,
    SlipEntry,
    TopicEntry,
    flat,
)
from coach.school.parts import Case, Drill, Input, Misread, Scene, School, Sure, Topic
from coach.school.sums import SUMS
from coach.school.texts import TextsFile

FOLDER = "school"
PLAN, TOPICS, CASES, DRILLS, SCENES, TEXTS = (
    f"{FOLDER}/{name}.toml" for name in ("plan", "topics", "cases", "drills", "scenes", "texts")
)
_E = TypeVar("_E", bound=Entry)
Place = tuple[str, str, int]
"""A file, a table in it, and which of the tables of that name."""


def read_school(book: Rulebook, folder: Path | None = None) -> School:
    """The school beside these rules. Raises `RuleFaults` with all that is wrong in it."""
    source = Source(folder or default_folder())
    raw = source.files(FOLDER)
    for name in (PLAN, TOPICS, CASES, DRILLS, SCENES, TEXTS):
        if name not in raw:
            source.fault(name, 1, "the folder", "this file is missing", "Put it back.")
    if source.faults:
        raise RuleFaults(tuple(source.faults))
    reader = _Reader(source, book, raw)
    school = reader.school()
    if source.faults or school is None:
        raise RuleFaults(tuple(source.faults))
    return school


class _Reader:
    """Reads the files; what is wrong is noted with the source."""

    def __init__(self, source: Source, book: Rulebook, raw: Mapping[str, Raw]) -> None:
        self._source, self._book, self._raw = source, book, raw
        self._written = written(book)
        self._asked = {name for name, fact in book.facts.items() if fact.origin == "asked"}

    def school(self) -> School | None:
        """The whole school; None where plan or texts have faults."""
        plan = self._source.model(PlanFile, self._raw[PLAN], file=PLAN)
        texts = self._source.model(TextsFile, self._raw[TEXTS], file=TEXTS)
        topics = self._topics()
        parts: dict[str, Any] = {
            "topics": topics,
            "cases": tuple(self._cases(topics)),
            "drills": tuple(self._drills(topics)),
            "scenes": tuple(self._scenes(topics)),
            "numbers": self._numbers(),
        }
        if plan is None or texts is None:
            return None
        return School(
            **parts,
            texts=texts.text.model_dump(),
            plan=_numbers_of(plan),
            quiet=(plan.day.quiet_from, plan.day.quiet_until),
            sure=tuple(Sure(each.id, each.says, each.promises) for each in plan.sure),
        )

    # -- the files

    def _topics(self) -> dict[str, Topic]:
        entries = list(self._entries(TopicEntry, TOPICS, "topic"))
        singled = {rule for _, entry in entries for rule in entry.rules}
        topics: dict[str, Topic] = {}
        for place, entry in entries:
            self._known((TOPICS, "topic", place), entry.rules, self._written, "rule")
            self._known((TOPICS, "topic", place), entry.causes, self._book.causes, "cause")
            self._known((TOPICS, "topic", place), entry.numbers, self._book.numbers, "number of the trade")
            self._known((TOPICS, "topic", place), entry.reasons, self._written, "rule")
            self._known((TOPICS, "topic", place), entry.after, topics, "topic above this one")
            of_files = {
                name
                for name, rules in self._written.items()
                if rules[0].file.rpartition("/")[2] in entry.files and name not in singled
            }
            topics[entry.id] = Topic(
                entry.id,
                entry.title,
                entry.ability,
                frozenset({*of_files, *entry.rules}),
                frozenset(entry.causes),
                tuple(entry.after),
                tuple(entry.words.items()),
                tuple(entry.numbers),
                tuple(entry.reasons),
            )
        return topics

    def _cases(self, topics: Mapping[str, Topic]) -> Iterator[Case]:
        head = self._source.model(
            DefaultsEntry, self._raw[CASES].get("defaults", {}), file=CASES, table="defaults"
        )
        always = self._facts(CASES, "defaults", 0, head.facts if head else {})
        for place, entry in self._entries(CaseEntry, CASES, "case"):
            facts = self._facts(CASES, "case", place, entry.facts)
            self._known((CASES, "case", place), entry.hears, facts, "fact of this case")
            self._known((CASES, "case", place), entry.vague, self._asked, "question")
            self._known((CASES, "case", place), [entry.topic] if entry.topic else [], topics, "topic")
            yield Case(
                entry.id,
                entry.opening,
                tuple(entry.hears),
                facts,
                {**always, **facts},
                frozenset(entry.vague),
                entry.topic,
            )

    def _drills(self, topics: Mapping[str, Topic]) -> Iterator[Drill]:
        for place, entry in self._entries(DrillEntry, DRILLS, "drill"):
            names = {*self._book.facts, *SUMS}
            self._known((DRILLS, "drill", place), [entry.topic], topics, "topic")
            self._known((DRILLS, "drill", place), entry.rules, self._written, "rule")
            self._known((DRILLS, "drill", place), [entry.gives], names, "figure")
            self._known((DRILLS, "drill", place), entry.vary, {*self._asked, *entry.inputs}, "fact or input")
            for slip in entry.slip:
                self._known((DRILLS, "drill", place), [slip.gave] if slip.gave else [], names, "figure")
                self._known(
                    (DRILLS, "drill", place), slip.number or (), self._book.numbers, "number of the trade"
                )
            yield Drill(
                **entry.model_dump(
                    include={"id", "topic", "gives", "unit", "within", "share", "ask", "work", "hint"}
                ),
                rules=tuple(entry.rules),
                vary=entry.vary,
                yes=tuple(entry.yes),
                inputs={name: Input(each.says, each.unit) for name, each in entry.inputs.items()},
                bands=tuple(entry.bands),
                band_says=tuple(entry.band_says),
                slips=tuple(_misread(slip) for slip in entry.slip),
            )

    def _scenes(self, topics: Mapping[str, Topic]) -> Iterator[Scene]:
        for place, entry in self._entries(SceneEntry, SCENES, "scene"):
            self._known((SCENES, "scene", place), [entry.topic], topics, "topic")
            facts = self._facts(SCENES, "scene", place, entry.facts)
            yield Scene(entry.id, entry.topic, entry.kind, entry.ask, facts)

    def _numbers(self) -> dict[str, str]:
        raw = Source(self._source.folder).files()
        return {
            name: str(table.get("says", name))
            for file in NUMBERS
            for name, table in raw.get(file, {}).items()
            if isinstance(table, dict)
        }

    # -- what they have in common

    def _entries(self, kind: type[_E], file: str, table: str) -> Iterator[tuple[int, _E]]:
        seen: set[str] = set()
        for key in self._raw[file].keys() - {table, "defaults"}:
            self._fault(file, key, 0, f"'{key}' is not known here", f"This file holds [[{table}]] tables.")
        for place, raw in enumerate(self._raw[file].get(table, [])):
            where = f"{table} '{raw.get('id', place + 1)}'"
            entry = self._source.model(kind, raw, file=file, table=table, place=place, where=where)
            if entry is None:
                continue
            name = str(getattr(entry, "id", place))
            if name in seen:
                self._fault(file, table, place, f"the id '{name}' is used twice", "Give each its own.")
            seen.add(name)
            yield place, entry

    def _known(self, at: Place, names: Iterable[str], known: Iterable[str], what: str) -> None:
        have = set(known)
        for name in names:
            if name not in have:
                self._fault(*at, f"there is no {what} '{name}'", closest(name, sorted(have)))

    def _facts(self, file: str, table: str, place: int, raw: Mapping[str, Any]) -> dict[str, Scalar]:
        facts: dict[str, Scalar] = {}
        for name, value in flat(raw):
            if name not in self._asked:
                self._known((file, table, place), [name], self._asked, "question")
                continue
            try:
                facts[name] = _value(self._book, name, value)
            except NotLegal as error:
                self._fault(file, table, place, str(error).rstrip("."), "Write an answer that is allowed.")
        return facts

    def _fault(self, file: str, table: str, place: int, wrong: str, do: str) -> None:
        raw = self._raw[file].get(table)
        named = raw[place].get("id") if isinstance(raw, list) and place < len(raw) else None
        where = f"{table} '{named}'" if named else table
        self._source.fault(file, self._source.line(file, table, place), where, wrong, do)


def _value(book: Rulebook, name: str, value: Any) -> Scalar:
    fact = book.facts[name]
    if fact.type == "bool" and value in ("yes", "no"):
        value = value == "yes"
    return legal_value(fact, value)


def _numbers_of(plan: PlanFile) -> dict[str, float]:
    """The numbers of plan.toml by "table.key"."""
    tables = {name: getattr(plan, name).model_dump() for name in ("day", "mastery", "stages", "difficulty")}
    rows = [(f"{table}.{key}", value) for table, row in tables.items() for key, value in row.items()]
    return {name: value for name, value in rows if not isinstance(value, str)}


def _misread(slip: SlipEntry) -> Misread:
    return Misread(**slip.model_dump())
