"""Builds the lexicon from the parsed word files, reporting every fault at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from coach.language.clauses import MARKER_KINDS
from coach.language.cues import Cues, all_words
from coach.language.entries import Entries
from coach.language.hedges import HEDGE_WORDS
from coach.language.lexicon import Answers, Lexicon, Meaning, Phrase, Together, WordFault, WordFaults
from coach.language.nodes import Either, Maybe, Named, Part, Row, Words, rarest
from coach.language.numbers import NUMBER_WORDS
from coach.language.phrases import PhraseFault, PhraseReader
from coach.language.units import UNIT_WORDS
from coach.model import Fact

_LISTS = ("filler", "ordinary", "all_of", "any_of", "not_theirs", "carry")
_TABLES = (
    "class",
    "spelling",
    "irregular",
    "subject",
    "answers",
    "states_nothing",
    "fine_means",
    "per_minutes",
    "opens",
)
_ARRAYS = ("means", "together")
_ANSWERS = (
    "yes",
    "no",
    "opens_yes",
    "opens_no",
    "unknown",
    "fine",
    "bad",
    "corrects",
    "takes_back",
    "turns",
    "small_talk",
    "lead",
    "zero",
)
_SHORTEST_FUZZY = 5
_TOO_PLAIN = frozenset({
    "lamp", "lamps", "light", "lights", "water", "boat", "net", "nets", "shrimp", "animals", "shapes",
    "catch", "tide", "anchor", "jackets", "jacket", "day", "days",
})  # fmt: skip
NEVER = Words(frozenset())
"""A part that is found nowhere: stands for an empty list of phrases."""


def build_lexicon(words: Mapping[str, Any], facts: Mapping[str, Fact]) -> Lexicon:
    """The lexicon of the parsed word files, keyed by file name.

    Raises WordFaults with every fault: an undeclared fact, a value not allowed, a phrase that cannot
    be read, an unknown word class, one phrase with two meanings.
    """
    builder = _Builder(words, facts)
    lexicon = builder.lexicon()
    if builder.faults:
        raise WordFaults(tuple(builder.faults))
    return lexicon


class _Builder:
    def __init__(self, words: Mapping[str, Any], facts: Mapping[str, Fact]) -> None:
        self.faults: list[WordFault] = []
        self._facts = facts
        self._files = {file: self._checked(file, content) for file, content in words.items()}
        self._entries = Entries(facts, self._report)
        self._spelling = {str(key): str(value) for _, key, value in self._table("spelling")}
        self._classes: dict[str, Part] = {}
        self._reader = PhraseReader(
            self._classes,
            spelling=self._spelling,
            irregular={key: [str(form) for form in forms] for _, key, forms in self._table("irregular")},
        )
        self._phrases: list[Phrase] = []
        self._seen: dict[tuple[str, object], tuple[tuple[str, object], str]] = {}

    def _report(self, file: str, phrase: str, wrong: str, do: str) -> None:
        self.faults.append(WordFault(file, phrase, wrong, do))

    def _checked(self, file: str, content: object) -> Mapping[str, Any]:
        """The file's content with what has the wrong shape taken out and reported."""
        if not isinstance(content, Mapping):
            self._report(file, file, "is not a table", "start it with [class], [subject] or [[means]]")
            return {}
        good: dict[str, Any] = {}
        shapes = dict.fromkeys(_LISTS + _ARRAYS, list) | dict.fromkeys(_TABLES, dict)
        for key, value in content.items():
            shape = shapes.get(key)
            if shape is None:
                self._report(file, key, "unknown section", f"use one of {', '.join(sorted(shapes))}")
            elif not isinstance(value, shape):
                self._report(
                    file, key, f"is not a {'list' if shape is list else 'table'}", "see the head of the file"
                )
            else:
                good[key] = value
        return good

    def _table(self, key: str) -> Iterator[tuple[str, str, Any]]:
        for file, content in self._files.items():
            for name, value in content.get(key, {}).items():
                yield file, name, value

    def _list(self, key: str) -> Iterator[tuple[str, Any]]:
        for file, content in self._files.items():
            for item in content.get(key, []):
                yield file, item

    def lexicon(self) -> Lexicon:
        self._read_classes()
        subjects = self._subjects()
        meanings = [(file, table) for file, table in self._list("means") if self._is_table(file, table)]
        for file, table in meanings:
            self._read_meaning(file, table, subjects)
        hints = {phrase.meaning.hint for phrase in self._phrases}
        together = [
            self._entries.together(file, table, hints)
            for file, table in self._list("together")
            if self._is_table(file, table)
        ]
        return self._assembled(subjects, tuple(together))

    def _is_table(self, file: str, table: object) -> bool:
        if isinstance(table, Mapping):
            return True
        self._report(file, str(table), "is not a table", "write [[means]] and its keys below")
        return False

    # --- phrases --------------------------------------------------------------------------

    def _part(self, file: str, phrase: object, *, may_be_empty: bool = False) -> Part | None:
        if not isinstance(phrase, str):
            self._report(file, str(phrase), "is not a phrase in quotes", "put it in quotes")
            return None
        try:
            return self._reader.read(phrase, may_be_empty=may_be_empty)
        except PhraseFault as fault:
            wrong, _, do = str(fault).partition("; ")
            self._report(file, phrase, wrong, do)
            return None

    def _either(self, file: str, phrases: object, *, may_be_empty: bool = False) -> Part:
        listed = phrases if isinstance(phrases, list) else [phrases]
        parts = [part for phrase in listed if (part := self._part(file, phrase, may_be_empty=may_be_empty))]
        return Either(tuple(parts)) if parts else NEVER

    def _read_classes(self) -> None:
        listed = list(self._table("class"))
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
            if _reaches_itself(name, uses):
                self._report(file, name, "is made of itself", "take the class out of its own phrases")
                continue
            self._classes[name] = part

    def _subjects(self) -> dict[str, Part]:
        found: dict[str, Part] = {}
        for file, name, phrases in self._table("subject"):
            if name not in self._facts:
                self._report(
                    file, name, "is not a declared fact", "correct the name or declare it in facts.toml"
                )
            found[name] = self._either(file, phrases)
        return found

    def _read_meaning(self, file: str, table: Mapping[str, Any], subjects: Mapping[str, Part]) -> None:
        meaning = self._entries.meaning(file, table)
        names = frozenset(name for name, _ in meaning.facts)
        when = self._when(file, table, names)
        for part in self._listed(file, table, "say"):
            self._add(part, meaning, None)
        for part in self._listed(file, table, "alone"):
            self._add(part, meaning, None, alone=True)
        for part in self._listed(file, table, "asked"):
            self._add(part, meaning, when, alone=True)
        for part in self._listed(file, table, "bare"):
            self._add(part, meaning, when, alone=True)
            for name in names & subjects.keys():
                self._add_with_subject(part, meaning, subjects[name])

    def _when(self, file: str, table: Mapping[str, Any], names: frozenset[str]) -> frozenset[str]:
        return frozenset(self._entries.names(file, table, "when")) or names

    def _listed(self, file: str, table: Mapping[str, Any], key: str) -> Iterator[Part]:
        phrases = table.get(key, [])
        if not isinstance(phrases, list):
            self._report(file, key, "is not a list of phrases", f'write {key} = ["...", "..."]')
            return
        for phrase in phrases:
            part = self._part(file, phrase)
            if part is not None:
                self._note_twice(file, phrase, part, table=table, key=key)
                yield part

    def _note_twice(self, file: str, phrase: str, part: Part, *, table: Mapping[str, Any], key: str) -> None:
        """Report a phrase that already has another meaning."""
        scope = "say" if key == "say" else str(sorted(table.get("when", table.get("facts", {}))))
        said = (repr(sorted(table.get("facts", {}).items(), key=str)), table.get("hint"))
        for spelled in _spelled(part):
            before = self._seen.setdefault((scope, spelled), (said, file))
            if before[0] != said:
                self._report(
                    file, phrase, f"also stands in {before[1]} for {before[0]}", "keep it in one place only"
                )
                return

    def _add(
        self, part: Part, meaning: Meaning, asked: frozenset[str] | None, *, alone: bool = False
    ) -> None:
        self._phrases.append(Phrase(part, meaning, part.starts(), part.needs(), asked, alone))

    def _add_with_subject(self, part: Part, meaning: Meaning, subject: Part) -> None:
        links = tuple(
            Maybe(self._classes[name]) for name in ("is", "degree", "degree") if name in self._classes
        )
        self._add(Row((subject, *links, part)), meaning, None)
        self._add(Row((part, subject)), meaning, None)

    # --- the whole ------------------------------------------------------------------------

    def _assembled(self, subjects: Mapping[str, Part], together: tuple[Together, ...]) -> Lexicon:
        answers = Answers(**{key: self._answers(key) for key in _ANSWERS})
        markers = self._markers()
        filler = frozenset(self._plain_list("filler"))
        known = frozenset(
            {
                *self._reader.words,
                *filler,
                *_marker_words(markers),
                *self._plain_list("ordinary"),
                *NUMBER_WORDS,
                *UNIT_WORDS,
                *HEDGE_WORDS,
            }
        )
        fuzzy = {*self._reader.words, *NUMBER_WORDS, *UNIT_WORDS}
        return Lexicon(
            facts=self._facts,
            phrases=tuple(self._phrases),
            by_word=_by_word(self._phrases),
            together=together,
            answers=answers,
            markers=markers,
            others=self._named("others"),
            part_of_us=self._named("part_of_us"),
            not_theirs=frozenset(self._names("not_theirs")),
            filler=filler,
            subject_words={name: all_words(part) for name, part in subjects.items()},
            spelling=self._spelling,
            known=known,
            fuzzy=_by_length(word for word in fuzzy if len(word) >= _SHORTEST_FUZZY),
            opens={
                name: frozenset(self._entries.names(file, {name: of}, name))
                for file, name, of in self._table("opens")
            },
            carry={name: subjects[name] for name in self._names("carry") if name in subjects},
            cues=Cues(self._phrases, filler | _TOO_PLAIN),
            fine_means={name: value for _, name, value in self._table("fine_means")},
            all_of=frozenset(self._names("all_of")),
            any_of=frozenset(self._names("any_of")),
            per_minutes={name: float(value) for _, name, value in self._table("per_minutes")},
            starts_number=NUMBER_WORDS | HEDGE_WORDS | {"between", "in", "at"},
        )

    def _answers(self, key: str) -> Part:
        parts = [self._either(file, phrases) for file, name, phrases in self._table("answers") if name == key]
        return Named(f"answers {key}", {f"answers {key}": Either(tuple(parts)) if parts else NEVER})

    def _named(self, name: str) -> Part:
        return Named(name, self._classes) if name in self._classes else NEVER

    def _plain_list(self, key: str) -> Iterator[str]:
        for _, item in self._list(key):
            yield from str(item).lower().split()

    def _names(self, key: str) -> Iterator[str]:
        for file, name in self._list(key):
            if name not in self._facts:
                self._report(
                    file, str(name), "is not a declared fact", "correct the name or declare it in facts.toml"
                )
            yield str(name)

    def _markers(self) -> dict[str, list[tuple[tuple[str, ...], Any]]]:
        found: dict[str, list[tuple[tuple[str, ...], Any]]] = {}
        for file, kind, phrases in self._table("states_nothing"):
            if kind not in MARKER_KINDS:
                self._report(file, kind, "unknown kind", f"use one of {', '.join(MARKER_KINDS)}")
            for phrase in phrases:
                row = tuple(str(phrase).lower().split())
                found.setdefault(row[0], []).append((row, kind))
        return found


def _marker_words(markers: Mapping[str, list[tuple[tuple[str, ...], Any]]]) -> Iterator[str]:
    for rows in markers.values():
        for row, _ in rows:
            yield from row


def _reaches_itself(name: str, uses: Mapping[str, set[str]]) -> bool:
    todo, done = list(uses.get(name, ())), set()
    while todo:
        one = todo.pop()
        if one == name:
            return True
        if one not in done:
            done.add(one)
            todo.extend(uses.get(one, ()))
    return False


def _spelled(part: Part) -> Iterable[object]:
    """The word rows a plain phrase stands for, if few; else the phrase itself."""
    if isinstance(part, Words):
        return part.words
    if isinstance(part, Row) and all(isinstance(one, Words) and len(one.words) == 1 for one in part.parts):
        return (tuple(next(iter(one.words)) for one in part.parts if isinstance(one, Words)),)
    return (part,)


def _by_word(phrases: Iterable[Phrase]) -> dict[str, tuple[int, ...]]:
    found: dict[str, list[int]] = {}
    for number, phrase in enumerate(phrases):
        for word in rarest(phrase.needs) or phrase.starts:
            found.setdefault(word, []).append(number)
    return {word: tuple(numbers) for word, numbers in found.items()}


def _by_length(words: Iterable[str]) -> dict[int, tuple[str, ...]]:
    found: dict[int, list[str]] = {}
    for word in sorted(words):
        found.setdefault(len(word), []).append(word)
    return {length: tuple(group) for length, group in found.items()}
