"""What is said back where words could have been taken otherwise."""

from __future__ import annotations

from datetime import datetime

from coach.language.clock import Clock
from coach.language.quantities import Quantity
from coach.language.scan import Held, Scan
from coach.language.tokens import Text
from coach.model import Fact, Scalar

_UNITS = {"ft": "ft", "kn": "kn", "F": "°F", "V": "V", "min": "min"}


def quote(text: Text, slots: list[Held]) -> str:
    """The words the slots hold, as typed."""
    return " ".join(text.quote(one.start, one.end) for one in slots)


def note(fact: Fact, value: Scalar, *, slots: list[Held], scan: Scan) -> str:
    """A sentence to say back where the words could have been taken otherwise."""
    chosen = any(
        (isinstance(one.value, Quantity) and one.value.how)
        or (
            isinstance(one.value, Clock)
            and (one.value.is_strange or (one.value.is_open and not one.value.part))
        )
        for one in slots
    )
    if not chosen:
        return ""
    return f'I took "{quote(scan.text, slots)}" as {shown(fact, value)}.'


def label(fact: Fact, value: Scalar) -> str:
    """How an answer is called: the option's label, or yes and no."""
    labels = {option.id: option.label for option in fact.options}
    return f'"{labels.get(str(value), "yes" if value is True else "no")}"'


def shown(fact: Fact, value: Scalar) -> str:
    """A value as it is said back: with its unit, times as hour and minute."""
    if isinstance(value, str):
        return datetime.fromisoformat(value).strftime("%H:%M") if fact.type == "time" else value
    unit = f" {_UNITS[fact.unit]}" if fact.unit in _UNITS else ""
    return f"{round(float(value), 2):g}{unit}"


def limits(fact: Fact) -> str:
    """The range a number of this fact may have, with its unit."""
    low, high = fact.range or (float("-inf"), float("inf"))
    unit = f" {_UNITS[fact.unit]}" if fact.unit in _UNITS else ""
    return f"{low:g} to {high:g}{unit}"
