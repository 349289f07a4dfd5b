"""Is this a legal value of that fact? The check for answers and facts that come from programs."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from coach.model import Fact, Scalar
from coach.wording import quantity

_LARGEST = 1e15
"""As far as inference takes numbers. NaN and Infinity fail the comparison too."""


class NotLegal(ValueError):  # noqa: N818  (an answer to the sender, not a failure)
    """A value that the fact cannot have; the message says what was given and what is allowed."""


def legal_value(fact: Fact, value: Any) -> Scalar:
    """The value in the form in which it is kept. Raises NotLegal."""
    return {"bool": _bool, "choice": _choice, "number": _number, "time": _time}[fact.type](fact, value)


def allowed(fact: Fact) -> str:
    """What may be answered, in words."""
    if fact.type == "bool":
        return "true, false or unknown"
    if fact.type == "choice":
        return ", ".join(option.id for option in fact.options) + " or unknown"
    if fact.type == "time":
        return "a time with its zone, such as 2027-02-11T21:05:00-05:00, or unknown"
    if fact.range is None:
        return "a number or unknown"
    return f"{fact.range[0]:g} to {quantity(fact.range[1], fact.unit)} or unknown"


def _refuse(fact: Fact, value: Any) -> NotLegal:
    shown = ascii(value)
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    return NotLegal(f"{fact.name}: got {shown}; allowed {allowed(fact)}.")


def _bool(fact: Fact, value: Any) -> Scalar:
    if not isinstance(value, bool):
        raise _refuse(fact, value)
    return value


def _choice(fact: Fact, value: Any) -> Scalar:
    if not isinstance(value, str) or value not in {option.id for option in fact.options}:
        raise _refuse(fact, value)
    return value


def _number(fact: Fact, value: Any) -> Scalar:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= _LARGEST:
        raise _refuse(fact, value)
    if fact.range is not None and not fact.range[0] <= value <= fact.range[1]:
        raise _refuse(fact, value)
    return float(value)


def _time(fact: Fact, value: Any) -> Scalar:
    try:
        at = datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        raise _refuse(fact, value)
    return at.isoformat()
