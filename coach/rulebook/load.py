"""Read a folder of rules, or say everything that is wrong with it at once."""

from __future__ import annotations

import hashlib
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from coach.model import (
    Cause,
    Clause,
    ClearStep,
    Condition,
    Confirm,
    Fact,
    Fault,
    Option,
    Outlook,
    Pattern,
    Rule,
    Rulebook,
    RuleFaults,
    Scalar,
    Test,
)
from coach.rulebook.conditions import BadCondition, closest, parse_condition
from coach.rulebook.entries import (
    AskedEntry,
    CauseEntry,
    CausesFile,
    Entry,
    NumberEntry,
    OutlookEntry,
    Raw,
    RuleEntry,
    TextsFile,
    WorkedOutEntry,
)
from coach.rulebook.lines import Lines

LAMPS = ("left", "right")
FIXED = ("facts.toml", "worked_out.toml", "numbers.toml", "thresholds.toml", "causes.toml", "texts.toml")
_OPERATORS = {
    "is": "==",
    "is_not": "!=",
    "in": "in",
    "at_least": ">=",
    "more_than": ">",
    "at_most": "<=",
    "less_than": "<",
}
_TOO_LARGE_BYTES = 1_000_000
_E = TypeVar("_E", bound=Entry)


def default_folder() -> Path:
    """The rules that came with the program: inside the package, or beside it in a checkout."""
    here = Path(__file__).resolve().parent.parent
    inside = here / "rules"
    return inside if inside.is_dir() else here.parent / "rules"


def load(folder: Path | None = None) -> Rulebook:
    """Read the rule base in `folder` (default: the one shipped). Raises `RuleFaults`."""
    return _Loader(folder or default_folder()).rulebook()


def clauses(book: Rulebook) -> tuple[Clause, ...]:
    """The rules as the inference engine takes them."""
    return tuple(
        Clause(
            rule.id,
            tuple(_pattern(condition) for condition in rule.when),
            tuple(_pattern(condition) for condition in rule.unless),
            rule.concludes,
        )
        for rule in book.rules
    )


def _pattern(condition: Condition) -> Pattern:
    if condition.operator == "known":
        return Pattern(condition.fact)
    assert condition.value is not None  # only `known` has no value
    return Pattern(condition.fact, (Test(_OPERATORS[condition.operator], condition.value),))


class _Loader:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.faults: list[Fault] = []
        self.lines: dict[str, Lines] = {}
        self.digest = hashlib.sha256()

    # -- files

    def rulebook(self) -> Rulebook:
        raw = self._files(sorted(self.folder.glob("*.toml")))
        words = self._files(sorted((self.folder / "words").glob("*.toml")), prefix="words/")
        missing = [name for name in FIXED if name not in raw]
        for name in missing:
            self._fault(name, 1, "the folder", "this file is missing", "Put it back.")
        if missing:
            raise RuleFaults(tuple(self.faults))
        numbers = {}
        for name in ("numbers.toml", "thresholds.toml"):
            numbers |= self._numbers(name, raw[name])
        head = self._model(CausesFile, raw["causes.toml"], "causes.toml", "", 0)
        said = self._model(TextsFile, raw["texts.toml"], "texts.toml", "", 0)
        if head is None or said is None:
            raise RuleFaults(tuple(self.faults))
        outlooks = self._outlooks(raw["worked_out.toml"].pop("outlook", []))
        facts = self._facts(raw["facts.toml"], raw["worked_out.toml"], head.cause)
        self._check_outlooks(outlooks, facts)
        self._check_asked(head, said, facts)
        topics = {name: table for name, table in raw.items() if name not in FIXED}
        rules = self._rules(topics, facts, numbers, head)
        if self.faults:
            raise RuleFaults(tuple(self.faults))
        return Rulebook(
            facts=facts,
            numbers=numbers,
            causes={k: Cause(k, c.says, c.prior_db) for k, c in head.cause.items()},
            hazards=dict(head.hazard),
            sets=dict(head.set),
            rules=rules,
            texts=said.text,
            words=words,
            digest=self.digest.hexdigest()[:16],
            sureness=tuple(sorted(((s.from_, s.says) for s in head.sureness), reverse=True)),
            asking=head.asking.model_dump(),
            outlooks=outlooks,
            safety_check=head.safety.check,
            safety_singles=tuple(head.safety.singles),
            confirms=tuple(Confirm(tuple(c.causes), c.ask, c.differ) for c in head.confirm),
            clearing=tuple(
                ClearStep(c.says, c.minutes, c.only_if, c.times, c.otherwise) for c in said.clear
            ),
        )

    def _files(self, paths: Iterable[Path], prefix: str = "") -> dict[str, Raw]:
        tables: dict[str, Raw] = {}
        for path in paths:
            name = prefix + path.name
            try:
                content = path.read_bytes()
                if len(content) > _TOO_LARGE_BYTES:
                    raise ValueError("larger than a megabyte")  # noqa: TRY301
                text = content.decode("utf-8")
                tables[name] = tomllib.loads(text)
            except (OSError, ValueError) as error:
                self._fault(name, _line_in(str(error)), "the file", f"cannot be read: {error}",
                            "Mend it; every text stands in quotes, every table head in brackets.")
                tables[name] = {}
                continue
            self.lines[name] = Lines(text)
            self.digest.update(name.encode() + b"\0" + content)
        return tables

    def _fault(self, file: str, line: int, where: str, wrong: str, do: str) -> None:
        self.faults.append(Fault(f"{self.folder.name}/{file}", line, where, wrong, do))

    def _model(
        self, kind: type[_E], raw: Any, file: str, table: str, place: int, where: str = ""
    ) -> _E | None:
        try:
            return kind.model_validate(raw)
        except ValidationError as error:
            for item in error.errors():
                path = [str(step) for step in item["loc"]]
                key = path[0] if path else None
                wrong, do = _in_words(item, kind)
                self._fault(file, self._line(file, table, place, key, path), where or table or file,
                            f"{'.'.join(path)}: {wrong}" if path else wrong, do)
            return None

    def _line(
        self, file: str, table: str, place: int, key: str | None = None, path: Iterable[str] = ()
    ) -> int:
        lines = self.lines.get(file)
        if lines is None:
            return 1
        for cut in (".".join(list(path)[:2]), ".".join(list(path)[:1])):
            if cut and not table and lines.of(cut) > 1:
                return lines.of(cut)
        return lines.of(table, place, key)

    # -- tables

    def _numbers(self, file: str, raw: Raw) -> dict[str, float]:
        numbers = {}
        for name, table in raw.items():
            entry = self._model(NumberEntry, table, file, name, 0)
            if entry is not None:
                numbers[name] = entry.value
        return numbers

    def _facts(self, asked: Raw, worked: Raw, causes: Mapping[str, CauseEntry]) -> dict[str, Fact]:
        facts: dict[str, Fact] = {}
        for name, table in asked.items():
            entry = self._model(AskedEntry, table, "facts.toml", name, 0)
            if entry is not None:
                facts[name] = self._asked(name, entry)
        for name, table in worked.items():
            worked_entry = self._model(WorkedOutEntry, table, "worked_out.toml", name, 0)
            if worked_entry is not None:
                facts.update(self._worked_out(name, worked_entry))
        for cause in causes:
            facts[f"named.{cause}"] = Fact(f"named.{cause}", "bool", "computed", f"{cause} is named")
        return facts

    def _asked(self, name: str, entry: AskedEntry) -> Fact:
        line = self._line("facts.toml", name, 0)
        pairs = entry.expect.items() if isinstance(entry.expect, dict) else entry.expect
        expect = tuple((_answer(entry.type, answer), weight) for answer, weight in pairs)
        if entry.type == "choice" and not entry.options:
            self._fault("facts.toml", line, name, "a choice without options", "List its options.")
        for answer, _ in expect:
            if entry.type == "choice" and answer not in entry.options:
                self._fault("facts.toml", self._line("facts.toml", name, 0, "expect"), name,
                            f"expect: '{answer}' is not an option", closest(str(answer), list(entry.options)))
        return Fact(
            name, entry.type, "asked", entry.says, entry.unit, entry.range,
            tuple(Option(key, label) for key, label in entry.options.items()),
            entry.ask, entry.why, entry.trouble, expect, "facts.toml", line,
        )

    def _worked_out(self, name: str, entry: WorkedOutEntry) -> dict[str, Fact]:
        line = self._line("worked_out.toml", name, 0)
        made = {}
        for lamp in LAMPS if name.startswith("lamp.") else (None,):
            full = _for_lamp(name, lamp)
            made[full] = Fact(
                full, entry.type, entry.kind, entry.says.replace("{lamp}", lamp or ""), entry.unit, None,
                tuple(Option(key, label) for key, label in entry.options.items()), "", "", 1,
                (), "worked_out.toml", line,
            )
        return made

    def _outlooks(self, tables: list[Raw]) -> tuple[Outlook, ...]:
        made = []
        for place, table in enumerate(tables):
            entry = self._model(OutlookEntry, table, "worked_out.toml", "outlook", place)
            if entry is not None:
                cases = tuple((tuple(row[:-1]), row[-1]) for row in entry.cases)
                made.append(Outlook(entry.id, tuple(entry.shows), cases, entry.like))
        return tuple(made)

    def _check_asked(self, head: CausesFile, said: TextsFile, facts: Mapping[str, Fact]) -> None:
        """Every fact that causes.toml and texts.toml mention must be one that people can be asked."""
        mentioned = [("causes.toml", "safety", name) for name in (head.safety.check, *head.safety.singles)]
        for confirm in head.confirm:
            mentioned += [("causes.toml", "confirm", name) for name in (confirm.ask, *(confirm.differ or ()))]
            for cause in confirm.causes:
                if cause not in head.cause:
                    self._fault("causes.toml", self._line("causes.toml", "confirm", 0), "confirm",
                                f"there is no cause '{cause}'", closest(cause, head.cause))
        for step in said.clear:
            mentioned += [("texts.toml", "clear", name) for name in (step.only_if, step.times) if name]
        for file, table, name in mentioned:
            if name not in facts or facts[name].origin != "asked":
                self._fault(file, self._line(file, table, 0), table, f"there is no question '{name}'",
                            closest(name, facts))

    def _check_outlooks(self, outlooks: tuple[Outlook, ...], facts: Mapping[str, Fact]) -> None:
        ids = [outlook.id for outlook in outlooks]
        for place, outlook in enumerate(outlooks):
            line = self._line("worked_out.toml", "outlook", place)
            for name in outlook.shows:
                if name not in facts:
                    self._fault("worked_out.toml", line, outlook.id, f"there is no fact '{name}'",
                                closest(name, facts))
            if any(len(values) != len(outlook.shows) for values, _ in outlook.cases):
                self._fault("worked_out.toml", line, outlook.id, "a case has too few or too many values",
                            "Each case has one value for each figure shown, then its weight.")
            if outlook.like is not None and outlook.like not in ids:
                self._fault("worked_out.toml", line, outlook.id, f"there is no outlook '{outlook.like}'",
                            closest(outlook.like, ids))

    # -- rules

    def _rules(
        self, topics: Mapping[str, Raw], facts: Mapping[str, Fact], numbers: Mapping[str, float],
        head: CausesFile,
    ) -> tuple[Rule, ...]:
        rules: list[Rule] = []
        for file, raw in topics.items():
            for key in raw.keys() - {"defaults", "rule"}:
                self._fault(file, self._line(file, key, 0), file, f"'{key}' is not known here",
                            "A topic file holds [defaults] and [[rule]] tables.")
            defaults = raw.get("defaults", {})
            for place, table in enumerate(raw.get("rule", [])):
                where = f"rule '{table.get('id', place + 1)}'"
                entry = self._model(RuleEntry, {**defaults, **table}, file, "rule", place, where)
                if entry is not None:
                    maker = _RuleMaker(self, file, place, facts, numbers, head)
                    rules += maker.rules(entry)
        for name, times in Counter(rule.id for rule in rules).items():
            if times > 1:
                again = [rule for rule in rules if rule.id == name][1]
                self._fault(again.file, again.line, f"rule '{name}'", "this id is used twice",
                            "Give each rule an id of its own.")
        return tuple(rules)


class _RuleMaker:
    """Turns one entry into one rule, or into one for each lamp."""

    def __init__(
        self, loader: _Loader, file: str, place: int, facts: Mapping[str, Fact],
        numbers: Mapping[str, float], head: CausesFile,
    ) -> None:
        self.loader, self.file, self.place = loader, file, place
        self.facts, self.numbers, self.head = facts, numbers, head

    def fault(self, key: str, wrong: str, do: str) -> None:
        line = self.loader._line(self.file, "rule", self.place, key)
        self.loader._fault(self.file, line, f"rule '{self.id}'", f"{key}: {wrong}", do)

    def rules(self, entry: RuleEntry) -> list[Rule]:
        self.id = entry.id
        self._check(entry)
        return [self._rule(entry, lamp) for lamp in (LAMPS if entry.lamps else (None,))]

    def _check(self, entry: RuleEntry) -> None:
        says = (entry.concludes, entry.speaks_for, entry.against, entry.hazard, entry.fix_for,
                entry.advises_set)
        if not any(says):
            self.fault("id", "the rule says nothing",
                       "Give it for, against, concludes, hazard, fix_for or set.")
        if entry.speaks_for or entry.against:
            for key in ("group", "doubt"):
                if not getattr(entry, key):
                    self.fault(key, "is missing", "Evidence needs a group, and a doubt: when not to believe it.")
        if entry.hazard is not None and entry.hazard not in self.head.hazard:
            self.fault("hazard", f"there is no hazard '{entry.hazard}'", closest(entry.hazard, self.head.hazard))
        if entry.hazard is not None and not entry.say:
            self.fault("say", "is missing", "Write what a person is told about this hazard.")
        if entry.advises_set is not None and entry.advises_set not in self.head.set:
            self.fault("set", f"there is no set-up '{entry.advises_set}'", closest(entry.advises_set, self.head.set))
        if entry.fix_for is not None:
            self._check_fix(entry)
        both = entry.speaks_for.keys() & entry.against.keys()
        for cause in sorted(both):
            self.fault("against", f"the rule speaks for and against '{cause}'", "Keep one of the two.")

    def _check_fix(self, entry: RuleEntry) -> None:
        if entry.fix_for not in self.head.cause:
            self.fault("fix_for", f"there is no cause '{entry.fix_for}'",
                       closest(str(entry.fix_for), self.head.cause))
        if not entry.action:
            self.fault("action", "is missing", "Write the action's one line, with its number.")
        if entry.look_again_min is None:
            self.fault("look_again_min", "is missing", "Say after how many minutes to look again.")
        for line in entry.action:
            if "{" not in line and len(line) > 80:
                self.fault("action", f"{len(line)} characters", "An action has at most 80.")

    def _rule(self, entry: RuleEntry, lamp: str | None) -> Rule:
        weighs = [*self._weighs(entry.speaks_for, "for", 1), *self._weighs(entry.against, "against", -1)]
        return Rule(
            id=f"{entry.id}-{lamp}" if lamp else entry.id,
            title=entry.title,
            when=self._conditions(entry.when, "when", lamp),
            unless=self._conditions(entry.unless, "unless", lamp),
            because=_for_lamp(entry.because, lamp),
            source=entry.source,
            status=entry.status,
            doubt=entry.doubt or "",
            group=entry.group or "",
            concludes=tuple(self._concluded(name, lamp) for name in entry.concludes),
            weighs=tuple(weighs),
            hazard=entry.hazard,
            say=entry.say or "",
            fix_for=entry.fix_for,
            action=tuple(entry.action),
            fix=tuple(entry.fix),
            look_again_min=entry.look_again_min,
            clip=entry.clip,
            advises_set=entry.advises_set,
            file=self.file,
            line=self.loader._line(self.file, "rule", self.place),
        )

    def _conditions(self, texts: list[str], key: str, lamp: str | None) -> tuple[Condition, ...]:
        found = []
        for text in texts:
            try:
                found.append(parse_condition(_for_lamp(text, lamp), self.facts, numbers=self.numbers))
            except BadCondition as bad:
                do = bad.do
                if lamp is None and text.startswith("lamp."):
                    do = 'Facts that begin with "lamp." need lamps = "each".'
                self.fault(key, bad.wrong, do)
        return tuple(found)

    def _concluded(self, name: str, lamp: str | None) -> str:
        full = _for_lamp(name, lamp)
        if full not in self.facts or self.facts[full].origin != "concluded":
            self.fault("concludes", f"'{name}' is not declared as concluded",
                       closest(full, [n for n, f in self.facts.items() if f.origin == "concluded"]))
        return full

    def _weighs(self, said: Mapping[str, str], key: str, sign: int) -> Iterable[tuple[str, int]]:
        for cause, strength in said.items():
            if cause not in self.head.cause:
                self.fault(key, f"there is no cause '{cause}'", closest(cause, self.head.cause))
            elif strength not in self.head.strength:
                self.fault(key, f"'{strength}' is not a strength", closest(strength, self.head.strength))
            else:
                yield cause, sign * self.head.strength[strength]


def _for_lamp(text: str, lamp: str | None) -> str:
    """Read "lamp." as this lamp's own name, and {lamp} as the word for it."""
    if lamp is None:
        return text
    return text.replace("{lamp.", "{" + lamp + ".").replace("{lamp}", lamp).replace("lamp.", f"{lamp}.", 1) \
        if text.startswith("lamp.") else text.replace("{lamp.", "{" + lamp + ".").replace("{lamp}", lamp)


def _answer(kind: str, answer: str | float) -> Scalar:
    if kind == "bool":
        return answer == "yes"
    return float(answer) if kind == "number" else str(answer)


@cache
def _line_in(message: str) -> int:
    """The line number that the TOML reader put into its message, else 1."""
    before, _, after = message.partition("(at line ")
    return int(after.split(",")[0]) if after and after.split(",")[0].isdigit() else 1


def _in_words(item: Any, kind: type[Entry]) -> tuple[str, str]:
    """A validation error as a captain would want it said."""
    last = str(item["loc"][-1]) if item["loc"] else ""
    if item["type"] == "extra_forbidden":
        allowed = [field.alias or name for name, field in kind.model_fields.items()]
        return "this key is not known", closest(last, allowed)
    if item["type"] == "missing":
        return "is missing", "Add it."
    return item["msg"].lower(), f"Given: {item.get('input')!r}."
