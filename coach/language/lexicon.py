"""The words of `rules/words/`, checked and ready to be looked up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from coach.language.blocks import Markers
from coach.language.nodes import Part
from coach.model import Fact, Scalar


@dataclass(frozen=True, slots=True)
class WordFault:
    """One thing wrong in the word files: where, what, and what to do."""

    file: str
    phrase: str
    wrong: str
    do: str

    def __str__(self) -> str:
        return f"{self.file}: '{self.phrase}': {self.wrong}. {self.do}."


class WordFaults(ValueError):  # noqa: N818  (it is a list of faults, not one error)
    """The word files cannot be used. Carries every fault found."""

    def __init__(self, faults: tuple[WordFault, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


@dataclass(frozen=True, slots=True)
class Take:
    """How a value is taken from a phrase: fixed, or from a slot (with sign, with a second one, or since)."""

    value: Scalar | None = None
    slot: str = ""
    sign: float = 1.0
    second: str = ""
    second_sign: float = 1.0
    is_since: bool = False


@dataclass(frozen=True, slots=True)
class Meaning:
    """What an entry of a word file says: facts or a hint, and the facts if it is denied.

    `may_be_past`: it may be said of an earlier hour of this trip. `beats`: it stands against another
    value of the same fact. `unless`: it is dropped if one of these facts is told or asked. `within`:
    it counts only for a number in this range. `even_asked`: it counts in a question too. `is_beside`: it
    counts only beside other facts, and not while a number is asked. `of_one`: a hint that may be told of
    one dipper or one end of the boat. An entry with neither facts nor hint
    means nothing: it keeps its words from being taken for something else.
    """

    facts: tuple[tuple[str, Take], ...] = ()
    denied: tuple[tuple[str, Take], ...] = ()
    hint: str = ""
    may_be_past: bool = False
    beats: bool = False
    unless: frozenset[str] = frozenset()
    within: tuple[float, float] | None = None
    even_asked: bool = False
    is_beside: bool = False
    of_one: bool = False
    file: str = ""

    @property
    def is_nothing(self) -> bool:
        """True for a false friend, which only blocks."""
        return not (self.facts or self.hint or self.denied)


@dataclass(frozen=True, slots=True)
class Phrase:
    """A phrase with its meaning. `asked`: it counts only when one of these facts was asked; `alone`:
    only when its clause says little else; `loose`: only where no other kind of phrase tells its facts."""

    part: Part
    meaning: Meaning
    starts: frozenset[str]
    needs: tuple[frozenset[str], ...]
    asked: frozenset[str] | None = None
    alone: bool = False
    loose: bool = False


@dataclass(frozen=True, slots=True)
class Together:
    """Hints that together say something; the first that fits is taken for each fact."""

    hints: frozenset[str]
    without: frozenset[str]
    facts: tuple[tuple[str, Take], ...]
    file: str = ""


@dataclass(frozen=True, slots=True)
class Pair:
    """The other fact of a pair, and the words that name it."""

    fact: str
    named: Part


@dataclass(frozen=True, slots=True)
class Answers:
    """How people say yes, no, don't know, and take something back."""

    yes: Part
    no: Part
    opens_yes: Part
    opens_no: Part
    unknown: Part
    fine: Part
    bad: Part
    corrects: Part
    takes_back: Part
    turns: Part
    small_talk: Part
    lead: Part
    zero: Part


@dataclass(frozen=True, slots=True)
class Aboard:
    """What ends of the boat and lamps are called, and what is said of them: the words by which one refers
    to another. The first of `lamp` and of `low` is the one that the phrases know.

    `sides` name one of two, `unclear` one of two that nobody can tell left from right by; `lamp` is a lamp,
    `which` tells which one, `low` the one near the bottom; `lamp_does` stands only with a lamp, `stands` with
    a side that means one. `ours` speaks of our boat, `we_do` is what we do ("we hung").
    """

    sides: tuple[str, ...]
    unclear: tuple[str, ...]
    lamp: tuple[str, ...]
    which: tuple[str, ...]
    low: tuple[str, ...]
    lamp_does: tuple[str, ...]
    stands: tuple[str, ...]
    ours: tuple[str, ...]
    we_do: tuple[str, ...]


class Telling(Protocol):
    """Gives the words that speak for one value of a fact only."""

    def of(self, fact: str) -> Mapping[str, Scalar]:
        """Telling words and their value."""


@dataclass(frozen=True, slots=True)
class Lexicon:
    """Everything known about words. Built once by `build_lexicon`; reading never changes it."""

    facts: Mapping[str, Fact]
    phrases: tuple[Phrase, ...]
    by_word: Mapping[str, tuple[int, ...]]
    by_topic: Mapping[str, Mapping[str, tuple[int, ...]]]
    together: tuple[Together, ...]
    answers: Answers
    markers: Markers
    others: Part
    part_of_us: Part
    undone: Part
    not_theirs: frozenset[str]
    grave: frozenset[str]
    before_a_place: frozenset[str]
    both: frozenset[str]
    filler: frozenset[str]
    subject_words: Mapping[str, frozenset[str]]
    spelling: Mapping[str, str]
    known: frozenset[str]
    fuzzy: Mapping[int, tuple[str, ...]]
    opens: Mapping[str, frozenset[str]]
    carry: Mapping[str, Part]
    pairs: Mapping[str, Pair]
    halves: Mapping[str, tuple[str, str]]
    spoiled_by: Mapping[str, tuple[tuple[str, Scalar], ...]]
    cues: Telling
    fine_means: Mapping[str, Scalar]
    all_of: frozenset[str]
    any_of: frozenset[str]
    per_minutes: Mapping[str, float]
    starts_number: frozenset[str]
    aboard: Aboard
    typos: dict[str, str] = field(default_factory=dict)
