"""What is said in a chat and what it comes to: messages in, the state of the chat, replies out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from coach.model import FactType, Scalar


class Frozen(BaseModel):
    """Base of all stored or exchanged records: immutable, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Message(Frozen):
    """What a person or program sends: exactly one of text, pick, facts, command."""

    text: str | None = None
    pick: Any = None
    facts: dict[str, Any] | None = None
    command: str | None = None
    has_pick: bool = False


class Heard(Frozen):
    """A fact's value with when it was said (ISO 8601), and whether it was said to be only about so much."""

    value: bool | float | str
    at: str
    about: bool = False


class Doubted(Frozen):
    """A number told that is asked once more: the id of the doubt, the fact, and the value where it lies
    beyond what the fact can be (it is then not among the facts)."""

    doubt: str
    fact: str
    beyond: float | None = None


class Outcome(Frozen):
    """What came of a piece of advice: the causes named, when, and the catch per 10 minutes around it."""

    causes: tuple[str, ...]
    advised_at: str
    answered_at: str
    helped: bool
    before_per_10min: float | None = None
    after_per_10min: float | None = None


class Session(Frozen):
    """Everything one chat knows. `past` holds the states that undo goes back to, newest last.

    `named` are the causes of the standing verdict, given at `advised_at`, to be looked at again from
    `look_again_at` on; `tried` those whose advice did not help; `outcomes` what came of each. `counts`
    are the counts of ten minutes told so far, each with when it was told. `doubted` is what is asked once
    more, `believed` the doubts that somebody was asked about and stood by.
    """

    facts: dict[str, Heard] = Field(default_factory=dict)
    unknown: tuple[str, ...] = ()
    asked: tuple[str, ...] = ()
    asking: str | None = None
    hazards_told: tuple[str, ...] = ()
    concluded: bool = False
    named: tuple[str, ...] = ()
    latest: str | None = None
    advised_at: str | None = None
    look_again_at: str | None = None
    spent: int = 0
    metric: bool = False
    spoken_of: tuple[str, ...] = ()
    catch_before: float | None = None
    tried: tuple[str, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    counts: tuple[tuple[str, float], ...] = ()
    doubted: tuple[Doubted, ...] = ()
    believed: tuple[str, ...] = ()
    past: tuple[dict[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class Block:
    """One typed piece of a reply. Kinds: "say" (a sentence), "action" (the verdict's first line),
    "reason", "heard" (what was understood), "steps" (an ordered list), "warn" (a hazard)."""

    kind: str
    text: str = ""
    items: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """An answer that can be picked."""

    id: Scalar
    label: str


@dataclass(frozen=True, slots=True)
class Question:
    """The one open question."""

    fact: str
    text: str
    why: str
    type: FactType
    unit: str | None
    options: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Reply:
    """What the core answers; front ends only translate it."""

    blocks: tuple[Block, ...] = ()
    understood: Mapping[str, Scalar] = field(default_factory=dict)
    hazards: tuple[tuple[str, str], ...] = ()
    ask: Question | None = None
    verdict: Mapping[str, Any] | None = None
    error: tuple[str, str] | None = None
    forget: bool = False
