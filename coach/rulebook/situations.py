"""Situations: moments on the water, and which rules must fire on them and which keep silent.

They are the captain's own tests, in `situations/` of the rules folder, a file a topic:

    [[situation]]
    title = "Lightning off to the west"
    facts = { sky.lightning = "yes" }
    fires = ["lightning"]
    silent = ["fog"]

`facts` are answers that a person could give; all that follows from them is worked out. `names` are the
causes that come out, in any order. `named` and `tried` are causes that the coach has named already,
or whose advice did not help; of what was `said` only the topics that it touches count. `counts` are the
catches of ten minutes that were told, the last just now; `at` is another moment than the usual one. What
[defaults] says holds for the whole file; a fact given as "unknown" takes it back. A rule that is read for
each lamp or each cause fires if it does for one of them, and is silent if it is for all; its full id, such
as "lamp-came-up-left", means one alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pydantic import AwareDatetime, Field

from coach.apparatus import Apparatus
from coach.consultation import Infer, assess
from coach.legal import NotLegal, legal_value
from coach.model import UNKNOWN, Condition, Fact, Fault, Rule, Rulebook, RuleFaults, Scalar
from coach.rulebook.conditions import closest
from coach.rulebook.entries import Entry, Raw, Sentence
from coach.rulebook.possible import holds
from coach.rulebook.source import Source
from coach.rulebook.topics import fact_name
from coach.sums.row import row_until
from coach.topics import spoken_of

FOLDER = "situations"
MOMENT = datetime(2027, 2, 11, 21, 0, tzinfo=UTC)
"""When a situation takes place that says no other time: times told in it are seen from here."""

_YES_NO = {"yes": True, "no": False}


class SituationEntry(Entry):
    """A situation as a captain writes it."""

    title: Sentence
    facts: dict[str, Any] = Field(default_factory=dict)
    fires: list[str] = Field(default_factory=list)
    silent: list[str] = Field(default_factory=list)
    names: list[str] | None = None
    named: list[str] = Field(default_factory=list)
    tried: list[str] = Field(default_factory=list)
    said: str = ""
    counts: list[float] = Field(default_factory=list)
    at: AwareDatetime = MOMENT


class _Defaults(Entry):
    """What holds in every situation of a file."""

    facts: dict[str, Any] = Field(default_factory=dict)


Called = Mapping[str, tuple[Rule, ...]]


@dataclass(frozen=True, slots=True)
class Situation:
    """A moment on the water and what the rules must make of it; `names` is None where it does not matter."""

    title: str
    facts: Mapping[str, Scalar]
    fires: tuple[str, ...]
    silent: tuple[str, ...]
    names: tuple[str, ...] | None
    named: tuple[str, ...]
    tried: tuple[str, ...]
    said: str
    file: str
    line: int
    counts: tuple[float, ...] = ()
    at: datetime = MOMENT


@dataclass(frozen=True, slots=True)
class Played:
    """What came of a situation: the rules that fired, the causes named, every fact at the end."""

    situation: Situation
    fired: frozenset[str]
    names: tuple[str, ...]
    facts: Mapping[str, Scalar]


def written(book: Rulebook) -> Called:
    """The rules by the id in the captain's file: those read for each lamp or cause stand together."""
    together: dict[tuple[str, int], list[Rule]] = {}
    for rule in book.rules:
        together.setdefault((rule.file, rule.line), []).append(rule)
    return {_id_of([rule.id for rule in rules], book): tuple(rules) for rules in together.values()}


def called(book: Rulebook) -> Called:
    """Every id by which a situation may call rules: a captain's, or the full one of a single rule."""
    return {**{rule.id: (rule,) for rule in book.rules}, **written(book)}


def _id_of(ids: Sequence[str], book: Rulebook) -> str:
    if len(ids) > 1:
        for end in ("-left", *(f"-{cause}" for cause in book.causes)):
            own = ids[0].removesuffix(end)
            if own != ids[0] and all(each.startswith(f"{own}-") for each in ids):
                return own
    return ids[0]


# --- reading -------------------------------------------------------------------------------------


def read_situations(folder: Path, book: Rulebook) -> tuple[Situation, ...]:
    """Every situation beside these rules. Raises `RuleFaults` with all that is wrong in them."""
    source = Source(folder)
    found: list[Situation] = []
    for file, raw in source.files(FOLDER).items():
        found += _Reader(source, book, file).situations(raw)
    _refuse_twins(source, found)
    if source.faults:
        raise RuleFaults(tuple(source.faults))
    return tuple(found)


def _refuse_twins(source: Source, found: Iterable[Situation]) -> None:
    seen: set[str] = set()
    for situation in found:
        if situation.title in seen:
            where, do = f"situation '{situation.title}'", "Give each situation a title of its own."
            source.fault(situation.file, situation.line, where, "this title is used twice", do)
        seen.add(situation.title)


class _Reader:
    """Reads one file; what is wrong is noted with the source."""

    def __init__(self, source: Source, book: Rulebook, file: str) -> None:
        self._source, self._book, self._file = source, book, file
        self._rules = sorted(called(book))
        self._place = 0
        self._where = file

    def situations(self, raw: Raw) -> Iterator[Situation]:
        """The situations of the file."""
        for key in raw.keys() - {"defaults", "situation"}:
            do = "A file of situations holds [defaults] and [[situation]] tables."
            self._fault(key, f"'{key}' is not known here", do, table=key)
        always = self._defaults(raw.get("defaults", {}))
        tables = raw.get("situation", [])
        if not isinstance(tables, list):
            self._fault(None, "there is only one [situation]", "Write [[situation]].", table="situation")
            return
        for self._place, table in enumerate(tables):
            title = table.get("title", self._place + 1) if isinstance(table, dict) else self._place + 1
            self._where = f"situation '{title}'"
            entry = self._source.model(
                SituationEntry,
                table,
                file=self._file,
                table="situation",
                place=self._place,
                where=self._where,
            )
            if entry is not None:
                yield self._situation(entry, always)

    def _defaults(self, raw: Any) -> Mapping[str, Scalar]:
        entry = self._source.model(_Defaults, raw, file=self._file, table="defaults", where=self._file)
        return {} if entry is None else self._facts(entry.facts, table="defaults")

    def _situation(self, entry: SituationEntry, always: Mapping[str, Scalar]) -> Situation:
        facts = {**always, **self._facts(entry.facts)}
        self._check_named(entry)
        if not entry.fires and not entry.silent and entry.names is None:
            self._fault("title", "the situation says nothing", "Give it fires, silent or names.")
        return Situation(
            title=entry.title,
            facts={name: value for name, value in facts.items() if value != UNKNOWN},
            fires=tuple(entry.fires),
            silent=tuple(entry.silent),
            names=None if entry.names is None else tuple(entry.names),
            named=tuple(entry.named),
            tried=tuple(entry.tried),
            said=entry.said,
            counts=tuple(entry.counts),
            at=entry.at,
            file=self._file,
            line=self._source.line(self._file, "situation", self._place),
        )

    def _check_named(self, entry: SituationEntry) -> None:
        for key, names in (("fires", entry.fires), ("silent", entry.silent)):
            for name in names:
                if name not in self._rules:
                    self._fault(key, f"there is no rule '{name}'", closest(name, self._rules))
        for name in sorted({*entry.fires} & {*entry.silent}):
            self._fault("silent", f"rule '{name}' cannot both fire and be silent", "Keep one of the two.")
        for key, names in (("names", entry.names or []), ("named", entry.named), ("tried", entry.tried)):
            for name in (name for name in names if name not in self._book.causes):
                self._fault(key, f"there is no cause '{name}'", closest(name, self._book.causes))

    def _facts(self, raw: Mapping[str, Any], table: str = "situation") -> dict[str, Scalar]:
        facts: dict[str, Scalar] = {}
        asked = {name for name, fact in self._book.facts.items() if fact.origin == "asked"}
        for name, value in _flat(raw):
            if name not in asked:
                do = closest(name, sorted(asked))
                self._fault("facts", f"there is no question '{name}'", do, table=table)
                continue
            try:
                facts[name] = value if value == UNKNOWN else _value(self._book.facts[name], value)
            except NotLegal as error:
                self._fault("facts", str(error).rstrip("."), "Write an answer that is allowed.", table=table)
        return facts

    def _fault(self, key: str | None, wrong: str, do: str, *, table: str = "situation") -> None:
        line = self._source.line(self._file, table, self._place, key)
        self._source.fault(self._file, line, self._where, wrong, do)


def _flat(raw: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """Facts by full name, whether written "tide.state" or tide.state."""
    for name, value in raw.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{before}{name}.")
        else:
            yield f"{before}{name}", value


def _value(fact: Fact, value: Any) -> Scalar:
    """The value as it is kept; yes and no are written as in a rule, times with or without quotes."""
    if fact.type == "bool" and isinstance(value, str):
        value = _YES_NO.get(value, value)
    if isinstance(value, datetime):
        value = value.isoformat()
    return legal_value(fact, value)


# --- playing -------------------------------------------------------------------------------------


def play(situation: Situation, tools: Apparatus, *, infer: Infer) -> Played:
    """Work out, infer and weigh what the situation tells."""
    told: dict[str, Scalar] = {f"named.{cause}": True for cause in situation.named}
    told |= {f"tried.{cause}": True for cause in situation.tried}
    told |= {fact_name(topic): True for topic in spoken_of(situation.said, tools.book.topics)}
    told |= row_until(situation.counts, situation.at)
    found = assess({**situation.facts, **told}, tools, infer=infer, now=situation.at)
    fired = frozenset(firing.rule for firing in found.inference.firings)
    return Played(situation, fired, found.named, found.inference.facts)


def complaints(played: Played, rules: Called, *, folder: Path) -> tuple[Fault, ...]:
    """What came out otherwise than the situation says."""
    situation = played.situation
    at = (f"{folder.name}/{situation.file}", situation.line, f"situation '{situation.title}'")
    found = []
    for name in situation.fires:
        if not any(rule.id in played.fired for rule in rules[name]):
            wrong = f"rule '{name}' must fire and does not: {_in_the_way(rules[name][0], played.facts)}"
            found.append(Fault(*at, wrong, "Mend the rule, or the situation."))
    for name in situation.silent:
        for rule in (rule for rule in rules[name] if rule.id in played.fired):
            stands = "; ".join(_with_value(condition, played.facts) for condition in rule.when)
            wrong = f"rule '{rule.id}' must be silent and fires: {stands}"
            found.append(Fault(*at, wrong, "Mend the rule, or the situation."))
    if situation.names is not None and sorted(situation.names) != sorted(played.names):
        wanted, came = (", ".join(names) or "nothing" for names in (situation.names, played.names))
        found.append(Fault(*at, f"it must name {wanted} and names {came}", "Mend the rules' weights."))
    return tuple(found)


def obstacles(rule: Rule, facts: Mapping[str, Scalar]) -> tuple[Condition, ...]:
    """The conditions that do not hold and the exceptions that do: what keeps the rule from firing."""
    missed = [c for c in rule.when if c.fact not in facts or not holds(c, facts[c.fact])]
    denied = [c for c in rule.unless if c.fact in facts and holds(c, facts[c.fact])]
    return (*missed, *denied)


def _in_the_way(rule: Rule, facts: Mapping[str, Scalar]) -> str:
    """The obstacles in words; empty conditions never stand in the way."""
    found = obstacles(rule, facts)
    parts = [f"unless {_with_value(c, facts)}" if c in rule.unless else _with_value(c, facts) for c in found]
    return "it waits for " + "; ".join(parts)


def _with_value(condition: Condition, facts: Mapping[str, Scalar]) -> str:
    value = facts.get(condition.fact, "not known")
    said = ("yes" if value else "no") if isinstance(value, bool) else value
    shown = f"{said:g}" if isinstance(said, float) else said
    return f"{condition.text} (is {shown})"
