"""Builds the lexicon from the parsed word files, reporting every fault at once."""

from __future__ import annotations

import gc
import re
from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any

from coach.language.blocks import MARKER_KINDS, BlockKind, Markers
from coach.language.cues import Cues, all_words
from coach.language.entries import Entries
from coach.language.hedges import HEDGE_WORDS
from coach.language.index import (
    by_length,
    by_topic,
    by_word,
    marker_words,
    reaches_itself,
    spelled,
    turns_round,
)
from coach.language.lexicon import Aboard, Answers, Lexicon, Meaning, Phrase, Together, WordFault, WordFaults
from coach.language.linked import Linked
from coach.language.nodes import Either, Maybe, Named, Part, Row, Words
from coach.language.numbers import NUMBER_WORDS
from coach.language.phrases import PhraseFault, PhraseReader
from coach.language.sections import Sections
from coach.language.units import UNIT_WORDS
from coach.model import Fact

_ANSWERS = tuple(field.name for field in fields(Answers))
_ABOARD = tuple(field.name for field in fields(Aboard))
_SHORTEST_FUZZY = 5
_TOO_PLAIN = frozenset({
    "lamp", "lamps", "light", "lights", "water", "boat", "net", "nets", "shrimp", "animals", "shapes",
    "catch", "tide", "anchor", "jackets", "jacket", "day", "days",
})  # fmt: skip
_MAY_TURN = re.compile(r"\b(not|no|never)\b")
NEVER = Words(frozenset())
"""A part that is found nowhere: stands for an empty list of phrases."""


def build_lexicon(words: Mapping[str, Any], facts: Mapping[str, Fact]) -> Lexicon:
    """The lexicon of the parsed word files, keyed by file name.

    Raises WordFaults with every fault: an undeclared fact, a value not allowed, a phrase that cannot
    be read, an unknown word class, one phrase with two meanings.
    """
    was_enabled = gc.isenabled()
    gc.disable()  # nothing built here is garbage; looking for it costs a quarter of the time
    try:
        builder = _Builder(words, facts)
        lexicon = builder.lexicon()
    finally:
        if was_enabled:
            gc.enable()
    if builder.faults:
        raise WordFaults(tuple(builder.faults))
    return lexicon


class _Builder:
    def __init__(self, words: Mapping[str, Any], facts: Mapping[str, Fact]) -> None:
        self.faults: list[WordFault] = []
        self._facts = facts
        self._sections = Sections(words, self._report)
        self._entries = Entries(facts, self._report)
        self._spelling = {
            name: " ".join(usual) for _, name, usual in self._sections.lists("spelling") if usual
        }
        self._classes: dict[str, Part] = {}
        irregular = {name: forms for _, name, forms in self._sections.lists("irregular")}
        self._reader = PhraseReader(self._classes, spelling=self._spelling, irregular=irregular)
        self._phrases: list[Phrase] = []
        self._sets: dict[frozenset[str], frozenset[str]] = {}
        self._seen: dict[tuple[str, object], tuple[tuple[str, object], str]] = {}

    def _report(self, file: str, phrase: str, wrong: str, do: str) -> None:
        self.faults.append(WordFault(file, phrase, wrong, do))

    def lexicon(self) -> Lexicon:
        self._read_classes()
        subjects = self._subjects()
        for file, table in self._sections.entries("means"):
            self._read_meaning(file, table, subjects=subjects)
        hints = {phrase.meaning.hint for phrase in self._phrases}
        together = [
            self._entries.together(file, table, hints=hints)
            for file, table in self._sections.entries("together")
        ]
        return self._assembled(subjects, tuple(together))

    # --- phrases --------------------------------------------------------------------------

    def _part(
        self, file: str, phrase: str, *, may_be_empty: bool = False, is_clause: bool = False
    ) -> Part | None:
        try:
            if is_clause:
                return self._reader.together(phrase)
            return self._reader.read(phrase, may_be_empty=may_be_empty)
        except PhraseFault as fault:
            wrong, _, do = str(fault).partition("; ")
            self._report(file, phrase, wrong, do)
            return None

    def _either(self, file: str, phrases: list[str], *, may_be_empty: bool = False) -> Part:
        read = (self._part(file, phrase, may_be_empty=may_be_empty) for phrase in phrases)
        parts = tuple(part for part in read if part is not None)
        return Either(parts) if parts else NEVER

    def _read_classes(self) -> None:
        listed = list(self._sections.lists("class"))
        for file, name, _ in listed:
            if name in self._classes:
                self._report(
                    file, name, "another file has a word class of this name", "give one of them another name"
                )
            self._classes[name] = NEVER
        uses: dict[str, set[str]] = {}
        for file, name, phrases in listed:
            self._reader.used_classes = set()
            part = self._either(file, phrases, may_be_empty=True)
            uses[name] = self._reader.used_classes
            if reaches_itself(name, uses):
                self._report(file, name, "is made of itself", "take the class out of its own phrases")
            else:
                self._classes[name] = part

    def _subjects(self) -> dict[str, Part]:
        found: dict[str, Part] = {}
        for file, name, phrases in self._sections.lists("subject"):
            self._check_fact(file, name)
            found[name] = self._either(file, phrases)
        return found

    def _check_fact(self, file: str, name: str) -> None:
        if name not in self._facts:
            self._report(file, name, "is not a declared fact", "correct the name or declare it in facts.toml")

    def _read_meaning(self, file: str, table: Mapping[str, Any], *, subjects: Mapping[str, Part]) -> None:
        meaning = self._entries.meaning(file, table)
        names = frozenset(name for name, _ in meaning.facts)
        when = self._when(file, table, names=names)
        self._reader.is_strict = meaning.is_nothing
        for part in self._listed(file, table, key="say"):
            self._add(part, meaning, asked=None)
        for part in self._listed(file, table, key="alone"):
            self._add(part, meaning, asked=None, alone=True)
        for part in self._listed(file, table, key="asked"):
            self._add(part, meaning, asked=when, alone=True)
        for part in self._listed(file, table, key="bare"):
            self._add(part, meaning, asked=when, alone=True)
            for name in names & subjects.keys():
                self._add_with_subject(part, meaning, subject=subjects[name])
        for phrase in self._sections.texts(file, "clause", value=table.get("clause", [])):
            clause = self._part(file, phrase, is_clause=True)
            if clause is not None:
                starts, needs = self._shared(clause)
                self._phrases.append(Phrase(clause, meaning, starts, needs, loose=True))

    def _when(self, file: str, table: Mapping[str, Any], *, names: frozenset[str]) -> frozenset[str]:
        return frozenset(self._entries.names(file, table, key="when")) or names

    def _listed(self, file: str, table: Mapping[str, Any], *, key: str) -> Iterator[Part]:
        for phrase in self._sections.texts(file, key, value=table.get(key, [])):
            part = self._part(file, phrase)
            if part is not None and _MAY_TURN.search(phrase) and turns_round(part):
                wrong = 'a "not" that may be left out would turn the phrase round'
                self._report(file, phrase, wrong, "write two phrases, or use `denied`")
            elif part is not None:
                self._note_twice(file, phrase, part=part, table=table, key=key)
                yield part

    def _note_twice(self, file: str, phrase: str, *, part: Part, table: Mapping[str, Any], key: str) -> None:
        """Report a phrase that already has another meaning."""
        scope = key if key in ("say", "alone") else str(table.get("when", table.get("facts")))
        said = (str(table.get("facts")), table.get("hint"))
        for words in spelled(part):
            before = self._seen.setdefault((scope, words), (said, file))
            if before[0] != said:
                self._report(
                    file, phrase, f"also stands in {before[1]} for {before[0]}", "keep it in one place only"
                )
                return

    def _add(
        self, part: Part, meaning: Meaning, *, asked: frozenset[str] | None, alone: bool = False
    ) -> None:
        starts, needs = self._shared(part)
        self._phrases.append(Phrase(part, meaning, starts, needs, asked, alone))

    def _shared(self, part: Part) -> tuple[frozenset[str], tuple[frozenset[str], ...]]:
        """How a part starts and what it needs; equal sets are kept once, for there are many thousands."""
        one = self._sets.setdefault
        starts = part.starts()
        return one(starts, starts), tuple([one(need, need) for need in part.needs()])

    def _add_with_subject(self, part: Part, meaning: Meaning, *, subject: Part) -> None:
        links = tuple(
            Maybe(self._classes[name]) for name in ("is", "degree", "degree") if name in self._classes
        )
        self._add(Row((subject, *links, part)), meaning, asked=None)
        self._add(Row((part, subject)), meaning, asked=None)

    # --- the whole ------------------------------------------------------------------------

    def _assembled(self, subjects: Mapping[str, Part], together: tuple[Together, ...]) -> Lexicon:
        linked = Linked(
            self._sections,
            self._entries,
            report=self._report,
            check_fact=self._check_fact,
            either=self._either,
        )
        answers = self._answers()
        markers = self._markers()
        filler = frozenset(self._plain_list("filler"))
        fuzzy = {*self._reader.words, *NUMBER_WORDS, *UNIT_WORDS}
        return Lexicon(
            facts=self._facts,
            phrases=tuple(self._phrases),
            by_word=by_word(self._phrases),
            by_topic=by_topic(self._phrases),
            together=together,
            answers=answers,
            markers=markers,
            others=self._named("others"),
            part_of_us=self._named("part_of_us"),
            undone=self._named("undone"),
            not_theirs=frozenset(self._names("not_theirs")),
            grave=frozenset(self._names("grave")),
            before_a_place=frozenset(self._plain_list("before_a_place")),
            both=frozenset(self._plain_list("both")),
            filler=filler,
            subject_words={name: all_words(part) for name, part in subjects.items()},
            spelling=self._spelling,
            known=self._known(filler, markers),
            fuzzy=by_length(word for word in fuzzy if len(word) >= _SHORTEST_FUZZY),
            opens=dict(linked.opens()),
            carry={
                **{name: subjects[name] for name in self._names("carry") if name in subjects},
                **{name: self._either(file, named) for file, name, named in self._sections.lists("named")},
            },
            pairs=dict(linked.pairs()),
            halves=dict(linked.halves()),
            spoiled_by=dict(linked.spoiled_by()),
            cues=Cues(self._phrases, filler | _TOO_PLAIN),
            fine_means=dict(linked.fine_means()),
            all_of=frozenset(self._names("all_of")),
            any_of=frozenset(self._names("any_of")),
            per_minutes=dict(linked.per_minutes()),
            aboard=self._aboard(),
            starts_number=NUMBER_WORDS | HEDGE_WORDS | {"between", "in", "at"},
        )

    def _known(self, filler: frozenset[str], markers: Markers) -> frozenset[str]:
        """Every word that is no slip of the keys."""
        words = {*self._reader.words, *filler, *marker_words(markers), *self._plain_list("ordinary")}
        return frozenset(words | NUMBER_WORDS | UNIT_WORDS | HEDGE_WORDS)

    def _answers(self) -> Answers:
        found: dict[str, list[Part]] = {key: [] for key in _ANSWERS}
        for file, key, phrases in self._sections.lists("answers"):
            if key in found:
                found[key].append(self._either(file, phrases))
            else:
                self._report(file, key, "unknown kind of answer", f"use one of {', '.join(_ANSWERS)}")
        named = {
            key: Named(f"answers {key}", {f"answers {key}": Either(tuple(parts)) if parts else NEVER})
            for key, parts in found.items()
        }
        return Answers(**named)

    def _aboard(self) -> Aboard:
        found: dict[str, tuple[str, ...]] = dict.fromkeys(_ABOARD, ())
        for file, key, phrases in self._sections.lists("aboard"):
            if key in found:
                found[key] += tuple(word for phrase in phrases for word in phrase.lower().split())
            else:
                self._report(file, key, "unknown kind of word", f"use one of {', '.join(_ABOARD)}")
        return Aboard(**found)

    def _named(self, name: str) -> Part:
        return Named(name, self._classes) if name in self._classes else NEVER

    def _plain_list(self, key: str) -> Iterator[str]:
        for _, text in self._sections.items(key):
            yield from text.lower().split()

    def _names(self, key: str) -> Iterator[str]:
        for file, name in self._sections.items(key):
            self._check_fact(file, name)
            yield name

    def _markers(self) -> dict[str, list[tuple[tuple[str, ...], BlockKind]]]:
        found: dict[str, list[tuple[tuple[str, ...], BlockKind]]] = {}
        for file, kind, phrases in self._sections.lists("states_nothing"):
            known = next((one for one in MARKER_KINDS if one == kind), None)
            if known is None:
                self._report(file, kind, "unknown kind", f"use one of {', '.join(MARKER_KINDS)}")
                continue
            for phrase in phrases:
                row = tuple(phrase.lower().split())
                found.setdefault(row[0], []).append((row, known))
        return found
