"""What is kept of one learner and one item of the school, and how an answer is graded."""

from __future__ import annotations

from enum import IntEnum
from typing import Literal

from pydantic import AwareDatetime, Field

from coach.conversation import Frozen


class Grade(IntEnum):
    """How an answer went. The numbers are those of the `fsrs` package."""

    AGAIN = 1
    HARD = 2
    GOOD = 3
    EASY = 4


def graded(*, right: bool, sure: bool) -> Grade:
    """The grade of an answer: wrong, right but unsure, right and sure."""
    if not right:
        return Grade.AGAIN
    return Grade.GOOD if sure else Grade.HARD


class CardState(Frozen):
    """What is kept of one learner and one item; `model_dump(mode="json")` and `model_validate` are its JSON.

    Stability [days until 9 in 10 would be recalled], difficulty [1 to 10], times aware. `step` counts the
    short steps within a sitting and is None once days are counted.
    """

    stage: Literal["learning", "review", "relearning"]
    step: int | None = Field(ge=0)
    stability_days: float = Field(gt=0, allow_inf_nan=False)
    difficulty: float = Field(ge=1, le=10)
    first_at: AwareDatetime
    last_at: AwareDatetime
    due_at: AwareDatetime
    answers: int = Field(ge=1)
    wrong: int = Field(ge=0)


def retaught(card: CardState) -> CardState:
    """The card of a stuck item that was explained anew: its wrong answers are no longer held against it."""
    return card.model_copy(update={"wrong": 0})
