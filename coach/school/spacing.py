"""How long a memory lasts: the one module that knows the `fsrs` package (the published scheduler FSRS-6).

The package is loaded when the first answer is graded, not before. Its random spread of days is off.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from typing import TYPE_CHECKING

from coach.school.cards import CardState, Grade

if TYPE_CHECKING:
    from fsrs import Card, Rating, Scheduler


class MissingSchedulerError(OSError):
    """The package is not installed; the text says what to do."""


def answered(
    card: CardState | None,
    grade: Grade,
    *,
    at: datetime,
    aim: float,
    steps_min: tuple[float, ...],
    again_min: tuple[float, ...],
    longest_days: int,
) -> CardState:
    """The card after an answer `at` a time (aware), due when the chance of recall has fallen to `aim`.

    Exactly what the package's `review_card` gives. Short steps in minutes, for new and for forgotten items.
    Raises MissingSchedulerError where the package is not installed.
    """
    scheduler = _scheduler(aim, steps_min, again_min, longest_days)
    at = at.astimezone(UTC)
    reviewed, _ = scheduler.review_card(_unpacked(card, at), _rating(grade), at)
    return _packed(reviewed, before=card, grade=grade)


def recall_after(elapsed_days: float, stability_days: float) -> float:
    """Chance of recall a time after the last answer: (1 + f·t/S)^d, 0.9 at t = S.

    Source: the power curve of FSRS-6 with the package's default d, −0.1542 (READ in `fsrs` 6.3.2).
    """
    power = _power()
    return float((1 + (0.9 ** (1 / power) - 1) * elapsed_days / stability_days) ** power)


def stretched(recall: float, memory: float) -> float:
    """The chance of recall of a memory `memory` times the usual one, where that would give `recall`.

    Time runs slower by that factor: (1 + (recall^(1/d) − 1)/memory)^d, of chances above 0.
    """
    power = _power()
    return float((1 + (recall ** (1 / power) - 1) / memory) ** power)


def _must_be_installed() -> None:
    try:
        import fsrs  # noqa: F401, PLC0415  (here and below: only who studies needs it)
    except ModuleNotFoundError as missing:
        raise MissingSchedulerError(
            "The school needs a part that is not installed (fsrs). Install it by:"
            " .venv/bin/pip install -e '.[school]'"
        ) from missing


@cache
def _scheduler(
    aim: float, steps_min: tuple[float, ...], again_min: tuple[float, ...], longest_days: int
) -> Scheduler:
    _must_be_installed()
    from fsrs import Scheduler  # noqa: PLC0415

    return Scheduler(
        desired_retention=aim,
        learning_steps=[timedelta(minutes=step) for step in steps_min],
        relearning_steps=[timedelta(minutes=step) for step in again_min],
        maximum_interval=longest_days,
        enable_fuzzing=False,
    )


@cache
def _power() -> float:
    _must_be_installed()
    from fsrs.scheduler import FSRS_DEFAULT_DECAY  # noqa: PLC0415

    return -FSRS_DEFAULT_DECAY


def _rating(grade: Grade) -> Rating:
    from fsrs import Rating  # noqa: PLC0415

    return Rating(int(grade))


def _unpacked(card: CardState | None, at: datetime) -> Card:
    from fsrs import Card, State  # noqa: PLC0415

    if card is None:
        return Card(card_id=0, due=at)
    return Card(
        card_id=0,
        state=State[card.stage.capitalize()],
        step=card.step,
        stability=card.stability_days,
        difficulty=card.difficulty,
        due=card.due_at.astimezone(UTC),
        last_review=card.last_at.astimezone(UTC),
    )


def _packed(reviewed: Card, *, before: CardState | None, grade: Grade) -> CardState:
    return CardState.model_validate(
        {
            "stage": reviewed.state.name.lower(),
            "step": reviewed.step,
            "stability_days": reviewed.stability,
            "difficulty": reviewed.difficulty,
            "first_at": before.first_at if before else reviewed.last_review,
            "last_at": reviewed.last_review,
            "due_at": reviewed.due,
            "answers": 1 + (before.answers if before else 0),
            "wrong": (grade is Grade.AGAIN) + (before.wrong if before else 0),
        }
    )
