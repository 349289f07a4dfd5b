"""Rules from the topic files: one entry gives one rule, or one for each lamp or cause."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from coach.model import Condition, Fact, Rule
from coach.rulebook.conditions import BadCondition, closest, parse_condition
from coach.rulebook.entries import CausesFile, Raw, RuleEntry
from coach.rulebook.facts import LAMPS, for_lamp, text_for_lamp
from coach.rulebook.source import Source

_LONGEST_ACTION = 80


@dataclass(frozen=True, slots=True)
class Context:
    """What rules may refer to."""

    source: Source
    facts: Mapping[str, Fact]
    numbers: Mapping[str, float]
    head: CausesFile


def read_rules(context: Context, topics: Mapping[str, Raw]) -> tuple[Rule, ...]:
    """The rules of all topic files, in the order of the files and within them."""
    rules: list[Rule] = []
    for file, raw in topics.items():
        defaults, tables = _shapes(context.source, file, raw)
        for place, table in enumerate(tables):
            where = f"rule '{table.get('id', place + 1)}'" if isinstance(table, dict) else "rule"
            whole = {**defaults, **table} if isinstance(table, dict) else table
            entry = context.source.model(RuleEntry, whole, file=file, table="rule", place=place, where=where)
            if entry is not None:
                rules += _RuleMaker(context, entry, file, place).rules()
    _refuse_twins(context.source, rules)
    return tuple(rules)


def _shapes(source: Source, file: str, raw: Raw) -> tuple[Raw, list[Raw]]:
    """The defaults and the rule tables of a topic file; what has another shape is noted."""
    do = "A topic file holds [defaults] and [[rule]] tables."
    for key in raw.keys() - {"defaults", "rule"}:
        source.fault(file, source.line(file, key), file, f"'{key}' is not known here", do)
    defaults, tables = raw.get("defaults", {}), raw.get("rule", [])
    if not isinstance(defaults, dict):
        source.fault(file, source.line(file, "", 0, "defaults"), file, "'defaults' is not a table", do)
        defaults = {}
    if not isinstance(tables, list):
        source.fault(file, source.line(file, "rule"), file, "'rule' is not a list of tables", do)
        tables = []
    return defaults, tables


def _refuse_twins(source: Source, rules: list[Rule]) -> None:
    for name, times in Counter(rule.id for rule in rules).items():
        if times > 1:
            again = [rule for rule in rules if rule.id == name][1]
            do = "Give each rule an id of its own."
            source.fault(again.file, again.line, f"rule '{name}'", "this id is used twice", do)


@dataclass(frozen=True, slots=True)
class _RuleMaker:
    context: Context
    entry: RuleEntry
    file: str
    place: int

    def rules(self) -> list[Rule]:
        """The rules of this entry; what is wrong with them is noted once."""
        self._check_says()
        self._check_evidence()
        self._check_hazard_and_set()
        self._check_fix()
        if self.entry.causes:
            return [self._for_cause(cause).only() for cause in self.context.head.cause]
        return [self._rule(lamp) for lamp in (LAMPS if self.entry.lamps else (None,))]

    def only(self) -> Rule:
        """The one rule of an entry that is not repeated."""
        return self._rule(None)

    def _fault(self, key: str, wrong: str, do: str) -> None:
        line = self.context.source.line(self.file, "rule", self.place, key)
        self.context.source.fault(self.file, line, f"rule '{self.entry.id}'", f"{key}: {wrong}", do)

    # -- checks

    def _check_says(self) -> None:
        e = self.entry
        said = (e.concludes, e.speaks_for, e.against, e.hazard, e.fix_for, e.advises_set, e.note, e.asks)
        if not any(said):
            do = "Give it for, against, concludes, hazard, fix_for, set, note or asks."
            self._fault("id", "the rule says nothing", do)
        asked = {name for name, fact in self.context.facts.items() if fact.origin == "asked"}
        if e.asks is not None and e.asks not in asked:
            self._fault("asks", f"there is no question '{e.asks}'", closest(e.asks, sorted(asked)))

    def _check_evidence(self) -> None:
        if not (self.entry.speaks_for or self.entry.against):
            return
        for key in ("group", "doubt"):
            if not getattr(self.entry, key):
                do = "Evidence needs a group, and a doubt: when not to believe it."
                self._fault(key, "is missing", do)
        if not self.entry.causes:
            for cause in sorted(self.entry.speaks_for.keys() & self.entry.against.keys()):
                self._fault("against", f"the rule speaks for and against '{cause}'", "Keep one of the two.")

    def _check_hazard_and_set(self) -> None:
        hazard, advised, head = self.entry.hazard, self.entry.advises_set, self.context.head
        if hazard is not None and hazard not in head.hazard:
            self._fault("hazard", f"there is no hazard '{hazard}'", closest(hazard, head.hazard))
        if hazard is not None and not self.entry.say:
            self._fault("say", "is missing", "Write what a person is told about this hazard.")
        if advised is not None and advised not in head.set:
            self._fault("set", f"there is no set-up '{advised}'", closest(advised, head.set))

    def _check_fix(self) -> None:
        cause = self.entry.fix_for
        if cause is None:
            return
        if cause not in self.context.head.cause:
            self._fault("fix_for", f"there is no cause '{cause}'", closest(cause, self.context.head.cause))
        if not self.entry.action:
            self._fault("action", "is missing", "Write the action's one line, with its number.")
        if self.entry.look_again_min is None:
            self._fault("look_again_min", "is missing", "Say after how many minutes to look again.")
        for line in self.entry.action:
            if "{" not in line and len(line) > _LONGEST_ACTION:
                self._fault("action", f"{len(line)} characters", f"An action has at most {_LONGEST_ACTION}.")

    # -- making

    def _for_cause(self, cause: str) -> _RuleMaker:
        """The maker for one cause: "cause" in facts and weights is read as this cause's own name."""
        entry = self.entry.model_copy(
            update={
                "id": f"{self.entry.id}-{cause}",
                "when": [text.replace(".cause ", f".{cause} ") for text in self.entry.when],
                "speaks_for": _renamed(self.entry.speaks_for, cause),
                "against": _renamed(self.entry.against, cause),
            }
        )
        return _RuleMaker(self.context, entry, self.file, self.place)

    def _rule(self, lamp: str | None) -> Rule:
        e = self.entry
        return Rule(
            id=f"{e.id}-{lamp}" if lamp else e.id,
            title=e.title,
            when=self._conditions("when", e.when, lamp),
            unless=self._conditions("unless", e.unless, lamp),
            because=text_for_lamp(e.because, lamp),
            source=e.source,
            status=e.status,
            doubt=e.doubt or "",
            group=e.group or "",
            concludes=tuple(self._concluded(name, lamp) for name in e.concludes),
            weighs=(*self._weighs("for", e.speaks_for, 1), *self._weighs("against", e.against, -1)),
            hazard=e.hazard,
            say=e.say or "",
            fix_for=e.fix_for,
            action=tuple(e.action),
            fix=tuple(e.fix),
            look_again_min=e.look_again_min,
            clip=e.clip,
            advises_set=e.advises_set,
            note=text_for_lamp(e.note or "", lamp),
            asks=e.asks,
            file=self.file,
            line=self.context.source.line(self.file, "rule", self.place),
        )

    def _conditions(self, key: str, texts: list[str], lamp: str | None) -> tuple[Condition, ...]:
        found = []
        for text in texts:
            try:
                own = for_lamp(text, lamp)
                found.append(parse_condition(own, self.context.facts, numbers=self.context.numbers))
            except BadCondition as bad:
                bare = lamp is None and text.startswith("lamp.")
                self._fault(key, bad.wrong, _NEEDS_LAMPS if bare else bad.do)
        return tuple(found)

    def _concluded(self, name: str, lamp: str | None) -> str:
        full, facts = for_lamp(name, lamp), self.context.facts
        if full not in facts or facts[full].origin != "concluded":
            concluded = [known for known, fact in facts.items() if fact.origin == "concluded"]
            self._fault("concludes", f"'{name}' is not declared as concluded", closest(full, concluded))
        return full

    def _weighs(self, key: str, said: Mapping[str, str], sign: int) -> Iterable[tuple[str, int]]:
        head = self.context.head
        for cause, strength in said.items():
            if cause not in head.cause:
                self._fault(key, f"there is no cause '{cause}'", closest(cause, head.cause))
            elif strength not in head.strength:
                self._fault(key, f"'{strength}' is not a strength", closest(strength, head.strength))
            else:
                yield cause, sign * head.strength[strength]


_NEEDS_LAMPS = 'Facts that begin with "lamp." need lamps = "each".'


def _renamed(said: Mapping[str, str], cause: str) -> dict[str, str]:
    return {cause if name == "cause" else name: strength for name, strength in said.items()}
