"""What the school is made of: topics, cases, drills, scenes as written, and items made of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from coach.model import Scalar

SlipKind = Literal["left-out", "misread", "assumed", "unheard", "weighed", "other"]
NOTHING = "none"
"""The choice that says that nothing is wrong."""


# --- as the captain wrote it -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Topic:
    """Something to learn: `rules` by the captain's ids, `causes` whose cases belong to it.

    `words`, `numbers` of the trade and the reasons of some rules are told when it is met for the first time.
    """

    id: str
    title: str
    ability: str
    rules: frozenset[str]
    causes: frozenset[str]
    after: tuple[str, ...]
    words: tuple[tuple[str, str], ...]
    numbers: tuple[str, ...]
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """A night: what is said first, which facts that tells, and all facts that are told or hidden."""

    id: str
    opening: str
    hears: tuple[str, ...]
    facts: Mapping[str, Scalar]
    hidden: Mapping[str, Scalar]
    vague: frozenset[str]
    topic: str | None


@dataclass(frozen=True, slots=True)
class Misread:
    """One number misread in a sum; exactly one of these is given."""

    take: tuple[str, str] | None = None
    number: tuple[str, str] | None = None
    gave: str | None = None
    part: float | None = None
    as_no: str | None = None


@dataclass(frozen=True, slots=True)
class Input:
    """A number of a drill that is no fact: what it is called, and its unit."""

    says: str
    unit: str


@dataclass(frozen=True, slots=True)
class Drill:
    """A sum to be done in the head. `within` is in the unit; `share` of the answer where that is more."""

    id: str
    topic: str
    gives: str
    unit: str
    within: float
    share: float
    ask: str
    work: str
    hint: str
    rules: tuple[str, ...]
    vary: Mapping[str, tuple[float, float, float]]
    yes: tuple[str, ...]
    inputs: Mapping[str, Input]
    bands: tuple[float, ...]
    band_says: tuple[str, ...]
    slips: tuple[Misread, ...]


@dataclass(frozen=True, slots=True)
class Scene:
    """A question about a picture: what is wrong in it ("fault"), or which lamp is out of line ("lamp")."""

    id: str
    topic: str
    kind: str
    ask: str
    facts: Mapping[str, Scalar]


@dataclass(frozen=True, slots=True)
class Sure:
    """A way to say how sure one is, and the share right that it promises."""

    id: str
    says: str
    promises: float


@dataclass(frozen=True, slots=True)
class School:
    """All of rules/school, checked. `plan` holds the numbers of plan.toml by "table.key"."""

    topics: Mapping[str, Topic]
    cases: tuple[Case, ...]
    drills: tuple[Drill, ...]
    scenes: tuple[Scene, ...]
    texts: Mapping[str, str]
    plan: Mapping[str, float]
    quiet: tuple[str, str]
    sure: tuple[Sure, ...]
    numbers: Mapping[str, str]
    """What each number of the trade is called, for saying which one was taken for which."""


# --- items -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Slip:
    """How one comes to a wrong answer: a rule left out, a fact misread, something taken for granted, a
    question not asked ("unheard"; two of them are joined by "+").

    "weighed" is a cause that the coach weighs too, and finds lighter; "other" is an answer to another
    question than the one asked. It is what the choices are checked with.
    """

    kind: SlipKind
    rule: str = ""
    fact: str = ""
    value: Scalar | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """An answer. `why` tells whoever picked a wrong one how one gets there and why not."""

    id: str
    text: str
    why: str = ""
    slip: Slip | None = None


@dataclass(frozen=True, slots=True)
class Wanted:
    """A number to be typed; each slip is what comes out of one misreading, and how that is told."""

    value: float
    unit: str
    within: float
    slips: tuple[tuple[float, str], ...]

    def is_right(self, given: float) -> bool:
        """Whether a number is near enough."""
        return abs(given - self.value) <= self.within + 1e-9

    def slip_of(self, given: float) -> str | None:
        """How a wrong number comes about, if it is one of those foreseen."""
        near = [
            (abs(given - value), why) for value, why in self.slips if abs(given - value) <= self.within / 2
        ]
        return min(near)[1] if near else None


@dataclass(frozen=True, slots=True)
class Item:
    """One question with its key. `judge` and `about` tell how the key is found again (coach.school.keys).

    `told` are the facts in words, `because` the reasons of the right answer, `rules` the captain's ids of
    what is taught, `hints` the ladder from a nudge to the answer. `hardness` is its maker's rating, in
    the units of Rasch: 0 is answered right by half of beginners.
    """

    id: str
    topic: str
    ask: str
    told: tuple[str, ...]
    right: str
    choices: tuple[Choice, ...]
    because: tuple[str, ...]
    rules: tuple[str, ...]
    hints: tuple[str, ...]
    judge: str
    about: str = ""
    facts: Mapping[str, Scalar] = field(default_factory=dict)
    wanted: Wanted | None = None
    picture: str = ""
    case: str = ""
    hardness: float = 0.0

    @property
    def answer(self) -> str:
        """The right answer in words."""
        return next((choice.text for choice in self.choices if choice.id == self.right), self.right)

    def choice(self, name: str) -> Choice:
        """A choice by its id."""
        return next(choice for choice in self.choices if choice.id == name)
