"""Read a folder of rules, or say everything that is wrong with it at once."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import chain
from pathlib import Path
from typing import Any

from coach.language.build import build_lexicon
from coach.language.lexicon import Lexicon, WordFaults
from coach.model import (
    Cause,
    Clause,
    ClearStep,
    Condition,
    Confirm,
    Fact,
    Fault,
    FollowUp,
    Pattern,
    Rulebook,
    RuleFaults,
    Test,
)
from coach.rulebook.answers import ANSWERS, read_answers
from coach.rulebook.conditions import closest
from coach.rulebook.doubts import DOUBTS, read_doubts
from coach.rulebook.entries import AnswersFile, CausesFile, NumberEntry, Raw, TextsFile, TopicsFile, stand_in
from coach.rulebook.facts import ASKED, WORKED_OUT, check_outlooks, read_facts, read_outlooks
from coach.rulebook.rules import Context, read_rules
from coach.rulebook.source import Source
from coach.rulebook.topics import TOPICS, read_topics, topic_facts, topic_rules
from coach.worked_out import Figures

CAUSES, TEXTS = "causes.toml", "texts.toml"
NUMBERS = ("numbers.toml", "thresholds.toml")
FIXED = (ASKED, WORKED_OUT, *NUMBERS, CAUSES, TEXTS, TOPICS)
MAY_LACK = (ANSWERS, DOUBTS)
LEANED_ON = {ASKED, WORKED_OUT, "numbers.toml", CAUSES}
NOTHING = ("none", "unexplained")
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
    if not source.folder.is_dir():
        do = "Give the folder that holds facts.toml."
        raise RuleFaults((Fault(str(source.folder), 1, "the folder", "there is no such folder", do),))
    raw = source.files()
    words = source.files("words")
    for name in FIXED:
        if name not in raw:
            source.fault(name, 1, "the folder", "this file is missing", "Put it back.")
    if source.broken.intersection(LEANED_ON) or not raw.keys() >= LEANED_ON:
        raise RuleFaults(tuple(source.faults))  # what leans on such a file would only seem wrong
    raw = {name: {} for name in (*FIXED, *MAY_LACK)} | raw
    head = source.model(CausesFile, raw[CAUSES], file=CAUSES) or stand_in(raw[CAUSES])
    said = source.model(TextsFile, raw[TEXTS], file=TEXTS)
    spoken = source.model(TopicsFile, raw[TOPICS], file=TOPICS)
    parts = _parts(source, raw, words, head=head, spoken=spoken)
    if said is not None:
        _check_mentioned(source, head, said, parts["facts"])
    if source.faults or said is None:
        raise RuleFaults(tuple(source.faults))
    return _rulebook(source, parts, head=head, said=said)


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


def _parts(
    source: Source,
    raw: Mapping[str, Raw],
    words: Mapping[str, Raw],
    *,
    head: CausesFile,
    spoken: TopicsFile | None,
) -> dict[str, Any]:
    """What is made of the facts, figures, rules and words, with every fault noted."""
    worked = {name: table for name, table in raw[WORKED_OUT].items() if name != "outlook"}
    numbers = _numbers(source, raw)
    topics = read_topics(spoken) if spoken is not None else ()
    facts = read_facts(source, raw[ASKED], worked, head.cause) | topic_facts(topics)
    outlooks = read_outlooks(source, raw[WORKED_OUT].get("outlook", []))
    check_outlooks(source, outlooks, facts)
    _check_figures(source, facts, numbers)
    files = {name: table for name, table in raw.items() if name not in (*FIXED, *MAY_LACK)}
    rules = read_rules(Context(source, facts, numbers, head), files)
    put = source.model(AnswersFile, raw[ANSWERS], file=ANSWERS)
    return {
        "answers": read_answers(source, put, facts=facts, numbers=numbers) if put is not None else (),
        "doubts": read_doubts(source, raw[DOUBTS], facts),
        "facts": facts,
        "numbers": numbers,
        "outlooks": outlooks,
        "topics": topics,
        "rules": rules + (topic_rules(source, spoken, head) if spoken is not None else ()),
        "lexicon": _lexicon(source, words, facts),
    }


def _check_figures(source: Source, facts: Mapping[str, Fact], numbers: Mapping[str, float]) -> None:
    """The calculators must find the facts and numbers that they need."""
    try:
        Figures(facts, numbers)
    except ValueError as error:
        do = "Put it back under its old name: calculators look for it."
        source.fault(WORKED_OUT, 1, "calculators", str(error), do)


def _rulebook(source: Source, parts: dict[str, Any], *, head: CausesFile, said: TextsFile) -> Rulebook:
    return Rulebook(
        **parts,
        causes={
            name: Cause(name, entry.says, entry.prior_db, entry.aside) for name, entry in head.cause.items()
        },
        hazards=head.hazard,
        sets=head.set,
        texts=said.text.model_dump(),
        digest=source.digest.hexdigest()[:16],
        sureness=tuple(sorted(((s.from_, s.says) for s in head.sureness), reverse=True)),
        asking=head.asking.model_dump(),
        follow_up=FollowUp(**head.follow_up.model_dump()),
        safety_check=head.safety.check,
        safety_singles=tuple(head.safety.singles),
        safety_with={hazard: tuple(asks) for hazard, asks in head.safety.with_hazard.items()},
        emergencies=tuple(head.safety.emergencies),
        confirms=tuple(Confirm(tuple(c.causes), c.ask, c.differ, c.only_if) for c in head.confirm),
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
    safety = (head.safety.check, *head.safety.singles, *chain(*head.safety.with_hazard.values()))
    mentioned = [(CAUSES, "safety", name) for name in safety if name]
    mentioned += [(CAUSES, "follow_up", name) for name in (head.follow_up.ask, head.follow_up.catch) if name]
    for confirm in head.confirm:
        mentioned.append((CAUSES, "confirm", confirm.ask))
    for step in said.clear:
        mentioned += [(TEXTS, "clear", name) for name in (step.only_if, step.times) if name]
    mentioned += [(ASKED, fact.name, fact.only_if) for fact in facts.values() if fact.only_if]
    mentioned += [(ASKED, fact.name, name) for fact in facts.values() for name in fact.told_by]
    for file, table, name in mentioned:
        if name not in facts or facts[name].origin != "asked":
            line = source.line(file, table)
            source.fault(file, line, table, f"there is no question '{name}'", closest(name, facts))
    for hazard in (*head.safety.with_hazard, *head.safety.emergencies):
        if hazard not in head.hazard:
            line = source.line(CAUSES, "safety")
            source.fault(
                CAUSES, line, "safety", f"there is no hazard '{hazard}'", closest(hazard, head.hazard)
            )
    for place, confirm in enumerate(head.confirm):
        for name in (*(confirm.differ or ()), *filter(None, [confirm.only_if])):
            if name not in facts:
                line = source.line(CAUSES, "confirm", place)
                source.fault(CAUSES, line, "confirm", f"there is no fact '{name}'", closest(name, facts))
        for cause in confirm.causes:
            if cause not in head.cause and cause not in NOTHING:
                line = source.line(CAUSES, "confirm", place)
                source.fault(
                    CAUSES, line, "confirm", f"there is no cause '{cause}'", closest(cause, head.cause)
                )
