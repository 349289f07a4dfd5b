"""A step of a lesson, worked out and not yet kept; the open question as a screen; their small parts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from coach.conversation import Choice
from coach.model import RuleFaults
from coach.school import kept
from coach.school.asking import question_lines
from coach.school.kept import OtherVersionError
from coach.school.numbers import said as in_unit
from coach.school.parts import Item
from coach.school.spacing import MissingSchedulerError
from coach.school.state import Learner, Open
from coach.store import Rows

Kind = Literal["item", "sure", "trip", "boater"]
NOT_TAUGHT = (MissingSchedulerError, RuleFaults, OtherVersionError)
"""Why there may be no lesson on this machine, or for this learner."""
_FAULTY = "The school's questions have faults. On the machine of the coach run: coach rules check"
_OLD = "What is kept of your lessons was kept by another version of the coach. Forgetting starts afresh."


class Moved(RuntimeError):  # noqa: N818  (what happened)
    """The learner answered elsewhere meanwhile: work the step out again."""


@dataclass(frozen=True, slots=True)
class Shown:
    """The open question as a screen of any kind.

    `kind` is "item", "sure" (how sure one is of the answer), "trip" or "boater" (a role play: ask in words).
    `token` tells it from every other; `lines` are the facts and the question, `hints` those given so far,
    `unit` what a number is wanted in ("" where there are choices). `answered` is what was answered, while it
    is asked how sure one is.
    """

    token: str
    kind: Kind
    ask: str
    lines: tuple[str, ...]
    hints: tuple[str, ...]
    choices: tuple[Choice, ...]
    unit: str
    answered: str
    has_picture: bool

    @property
    def is_sure(self) -> bool:
        """Whether it is asked how sure one is."""
        return self.kind == "sure"


@dataclass(frozen=True, slots=True)
class Taught:
    """A step that is worked out and not yet kept. `marked` is said about the answer, `told` what comes before
    the next question, `note` what is said where the same question stays open."""

    before: Learner
    after: Learner
    marked: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    note: tuple[str, ...] = ()

    @property
    def is_over(self) -> bool:
        """Whether nothing is asked any more."""
        return self.after.open is None

    def keep(self, rows: Rows, *, at: datetime) -> None:
        """Keep it. Raises Moved, and keeps nothing, if the learner does not stand where he stood."""
        if kept.learner(rows, self.before.name) != self.before:
            raise Moved(self.before.name)
        kept.keep(rows, self.after, at=at)


def why_not(error: BaseException) -> str:
    """What a learner is told where there is no lesson."""
    if isinstance(error, RuleFaults):
        return _FAULTY
    return _OLD if isinstance(error, OtherVersionError) else str(error)


def is_same(one: Open, other: Open) -> bool:
    """Whether it is the same question at the same stage."""
    return (one.item, one.turn, one.phase) == (other.item, other.turn, other.phase)


def answer_in_words(item: Item, picked: str) -> str:
    """An answer in words."""
    return in_unit(float(picked), item.wanted.unit) if item.wanted else item.choice(picked).text


def before_question(lines: tuple[str, ...], item: Item | None) -> tuple[str, ...]:
    """The lines less the question at their end."""
    asked = set(question_lines(item)) if item is not None else set()
    end = len(lines)
    while end and lines[end - 1] in asked:
        end -= 1
    while end and not lines[end - 1]:
        end -= 1
    return lines[:end]


def split(said: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is said about an answer, and what is told before the next question: a gap lies between them."""
    gap = said.index("") if "" in said else len(said)
    return said[:gap], said[gap + 1 :]
