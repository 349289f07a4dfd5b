"""What people ask the coach: the captain's answers.toml as answers, with their own examples checked."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from coach.answering import answer_to
from coach.model import Answer, Fact
from coach.rulebook.conditions import closest
from coach.rulebook.entries import AnswerEntry, AnswersFile
from coach.rulebook.source import Source

ANSWERS = "answers.toml"
_SLOT = re.compile(r"\{([^}]*)\}")


def read_answers(
    source: Source, file: AnswersFile, *, facts: Mapping[str, Fact], numbers: Mapping[str, float]
) -> tuple[Answer, ...]:
    """Courtesies first, then words of the trade, then questions; every fault is noted."""
    answers = (*_courtesies(file), *_terms(file), *(_answer(entry) for entry in file.answer))
    for place, entry in enumerate(file.answer):
        line = source.line(ANSWERS, "answer", place)
        for slot in (slot for text in entry.says for slot in _SLOT.findall(text)):
            if slot not in facts and slot not in numbers:
                do = closest(slot, [*facts, *numbers])
                source.fault(ANSWERS, line, entry.id, f"there is no fact or number '{slot}'", do)
        if entry.reads is not None and entry.reads not in facts:
            wrong = f"reads: there is no fact '{entry.reads}'"
            source.fault(ANSWERS, line, entry.id, wrong, closest(entry.reads, facts))
        for wrong, do in _wrong_examples(entry, answers):
            source.fault(ANSWERS, line, entry.id, wrong, do)
    return answers


def _courtesies(file: AnswersFile) -> Iterator[Answer]:
    for name, entry in file.courtesy.items():
        yield _whole(name, tuple(entry.words), entry.says, file)


def _terms(file: AnswersFile) -> Iterator[Answer]:
    """A term is asked about by "what is" and the like with the term behind it, and nothing more."""
    for name, entry in file.term.items():
        asked = tuple(f"{way} {word}" for way in file.asks_meaning for word in entry.words)
        yield _whole(f"term-{name}", asked, entry.says, file)


def _whole(name: str, words: tuple[str, ...], says: str, file: AnswersFile) -> Answer:
    return Answer(name, (words,), (), (says,), whole=True, skips=tuple(file.little_words), goes_on=False)


def _answer(entry: AnswerEntry) -> Answer:
    groups = tuple(tuple(group) for group in entry.all_of)
    return Answer(entry.id, groups, tuple(entry.none_of), tuple(entry.says), entry.reads)


def _wrong_examples(entry: AnswerEntry, answers: tuple[Answer, ...]) -> Iterator[tuple[str, str]]:
    for example in entry.asked_like:
        found = answer_to(example, answers)
        if found is None or found.id != entry.id:
            meant = "nothing" if found is None else f"'{found.id}'"
            yield f"asked like '{example}' it answers {meant}", "Mend all_of, none_of, or the order."
    for example in entry.not_like:
        found = answer_to(example, answers)
        if found is not None and found.id == entry.id:
            yield f"'{example}' is answered too", "Add a word of it to none_of."
