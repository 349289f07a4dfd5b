"""Read a folder of rules, or say everything that is wrong with it at once."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from coach.language.build import build_lexicon
from coach.language.lexicon import Lexicon, WordFaults
from coach.model import (
    Cause,
    Clause,
    ClearStep,
    Condition,
    Confirm,
    Fact,
    FollowUp,
    Pattern,
    Rulebook,
    RuleFaults,
    Test,
)
from coach.rulebook.conditions import closest
from coach.rulebook.entries import CausesFile, NumberEntry, Raw, TextsFile, TopicsFile
from coach.rulebook.facts import ASKED, WORKED_OUT, check_outlooks, read_facts, read_outlooks
from coach.rulebook.rules import Context, read_rules
from coach.rulebook.source import Source
from coach.rulebook.topics import TOPICS, read_topics, topic_facts, topic_rules

CAUSES, TEXTS = "causes.toml", "texts.toml"
NUMBERS = ("numbers.toml", "thresholds.toml")
FIXED = (ASKED, WORKED_OUT, *NUMBERS, CAUSES, TEXTS, TOPICS)
NOTHING = "none"
_OPERATORS = {
    "is": "==",
    "is_not": "!=",
    "in": "in",
    "at_least": ">=",
    "more_than": ">",
    "at_most": "<=",
    "less_than": "<",
}


def default_folder() -> Path:
    """The rules that came with the program: inside the package, or beside it in a checkout."""
    here = Path(__file__).resolve().parent.parent
    inside = here / "rules"
    return inside if inside.is_dir() else here.parent / "rules"


def load(folder: Path | None = None) -> Rulebook:
    """Read the rule base in `folder` (default: the one shipped). Raises `RuleFaults`."""
    source = Source(folder or default_folder())
    raw = source.files()
    words = source.files("words")
    for name in FIXED:
        if name not in raw:
            source.fault(name, 1, "the folder", "this file is missing", "Put it back.")
            raw[name] = {}
    head = source.model(CausesFile, raw[CAUSES], file=CAUSES) if raw[CAUSES] else None
    said = source.model(TextsFile, raw[TEXTS], file=TEXTS) if raw[TEXTS] else None
    numbers = _numbers(source, raw)
    spoken = source.model(TopicsFile, raw[TOPICS], file=TOPICS) if raw[TOPICS] else None
    if head is None or said is None or spoken is None:
        raise RuleFaults(tuple(source.faults))
    book = _rulebook(source, raw, words, numbers=numbers, head=head, said=said, spoken=spoken)
    if source.faults:
        raise RuleFaults(tuple(source.faults))
    return book


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


def _numbers(source: Source, raw: Mapping[str, Raw]) -> dict[str, float]:
    numbers: dict[str, float] = {}
    for file in NUMBERS:
        for name, table in raw[file].items():
            entry = source.model(NumberEntry, table, file=file, table=name)
            if entry is not None:
                numbers[name] = entry.value
    return numbers


def _rulebook(
    source: Source,
    raw: dict[str, Raw],
    words: Mapping[str, Raw],
    *,
    numbers: Mapping[str, float],
    head: CausesFile,
    said: TextsFile,
    spoken: TopicsFile,
) -> Rulebook:
    outlooks = read_outlooks(source, raw[WORKED_OUT].pop("outlook", []))
    topics = read_topics(spoken)
    facts = read_facts(source, raw[ASKED], raw[WORKED_OUT], head.cause) | topic_facts(topics)
    check_outlooks(source, outlooks, facts)
    _check_mentioned(source, head, said, facts)
    files = {name: table for name, table in raw.items() if name not in FIXED}
    rules = read_rules(Context(source, facts, numbers, head), files) + topic_rules(source, spoken, head)
    return Rulebook(
        facts=facts,
        numbers=numbers,
        causes={name: Cause(name, entry.says, entry.prior_db) for name, entry in head.cause.items()},
        hazards=head.hazard,
        sets=head.set,
        rules=rules,
        texts=said.text,
        lexicon=_lexicon(source, words, facts),
        digest=source.digest.hexdigest()[:16],
        sureness=tuple(sorted(((s.from_, s.says) for s in head.sureness), reverse=True)),
        asking=head.asking.model_dump(),
        outlooks=outlooks,
        follow_up=FollowUp(**head.follow_up.model_dump()),
        safety_check=head.safety.check,
        safety_singles=tuple(head.safety.singles),
        confirms=tuple(Confirm(tuple(c.causes), c.ask, c.differ) for c in head.confirm),
        topics=topics,
        clearing=tuple(ClearStep(c.says, c.minutes, c.only_if, c.times, c.otherwise) for c in said.clear),
    )


def _lexicon(source: Source, words: Mapping[str, Raw], facts: Mapping[str, Fact]) -> Lexicon | None:
    """The words made ready; None where they have faults, which are noted."""
    try:
        return build_lexicon(words, facts)
    except WordFaults as error:
        for fault in error.faults:
            line = source.line_with(fault.file, fault.phrase)
            source.fault(fault.file, line, f"'{fault.phrase}'", fault.wrong, fault.do)
        return None


def _check_mentioned(source: Source, head: CausesFile, said: TextsFile, facts: Mapping[str, Fact]) -> None:
    """Every fact mentioned outside rules must be a question, every cause a cause."""
    mentioned = [(CAUSES, "safety", name) for name in (head.safety.check, *head.safety.singles)]
    mentioned += [(CAUSES, "follow_up", name) for name in (head.follow_up.ask, head.follow_up.catch)]
    for confirm in head.confirm:
        mentioned.append((CAUSES, "confirm", confirm.ask))
    for step in said.clear:
        mentioned += [(TEXTS, "clear", name) for name in (step.only_if, step.times) if name]
    mentioned += [(ASKED, fact.name, fact.only_if) for fact in facts.values() if fact.only_if]
    for file, table, name in mentioned:
        if name not in facts or facts[name].origin != "asked":
            line = source.line(file, table)
            source.fault(file, line, table, f"there is no question '{name}'", closest(name, facts))
    for place, confirm in enumerate(head.confirm):
        for name in confirm.differ or ():
            if name not in facts:
                line = source.line(CAUSES, "confirm", place)
                source.fault(CAUSES, line, "confirm", f"there is no fact '{name}'", closest(name, facts))
        for cause in confirm.causes:
            if cause not in head.cause and cause != NOTHING:
                line = source.line(CAUSES, "confirm", place)
                source.fault(
                    CAUSES, line, "confirm", f"there is no cause '{cause}'", closest(cause, head.cause)
                )
