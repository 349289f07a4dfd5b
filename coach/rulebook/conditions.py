"""The captain's conditions: `fact comparison value`, in words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from difflib import get_close_matches

from coach.model import Condition, Fact, Operator, Scalar

COMPARISONS: tuple[tuple[str, Operator], ...] = (
    ("is one of", "in"),
    ("is known", "known"),
    ("is not", "is_not"),
    ("is", "is"),
    ("at least", "at_least"),
    ("more than", "more_than"),
    ("at most", "at_most"),
    ("less than", "less_than"),
)
_ORDERED = {"at_least", "more_than", "at_most", "less_than"}
_SHAPE = re.compile(r"^\s*(\S+)\s+(" + "|".join(words for words, _ in COMPARISONS) + r")(?:\s+(.+?))?\s*$")
_YES_NO = {"yes": True, "no": False}


class BadCondition(ValueError):  # noqa: N818
    """A condition that cannot be read: what is wrong, and what to do about it."""

    def __init__(self, wrong: str, do: str) -> None:
        self.wrong, self.do = wrong, do
        super().__init__(f"{wrong}. {do}")


def closest(name: str, known: Mapping[str, object] | list[str]) -> str:
    """A sentence that names what was probably meant, or where the list of names stands."""
    near = get_close_matches(name, list(known), n=1, cutoff=0.6)
    return f"Did you mean '{near[0]}'?" if near else "Use a name that is declared in the rule base."


def parse_condition(text: str, facts: Mapping[str, Fact], *, numbers: Mapping[str, float]) -> Condition:
    """Read one condition. Raises `BadCondition`."""
    shape = _SHAPE.match(text)
    if not shape:
        raise BadCondition(
            f"'{text}' is not of the form: fact comparison value",
            "Comparisons are: " + ", ".join(words for words, _ in COMPARISONS) + ".",
        )
    name, words, value = shape[1], shape[2], shape[3]
    operator = dict(COMPARISONS)[words]
    if name not in facts:
        raise BadCondition(f"there is no fact '{name}'", closest(name, facts))
    fact = facts[name]
    if operator == "known":
        if value:
            raise BadCondition(f"'{text}' says more than 'is known'", f"Leave out '{value}'.")
        return Condition(name, operator, None, text)
    if not value:
        raise BadCondition(f"'{text}' has no value", f"Write what {fact.says} should be.")
    return Condition(name, operator, _value(fact, operator, value, numbers), text)


def _value(
    fact: Fact, operator: Operator, text: str, numbers: Mapping[str, float]
) -> Scalar | tuple[Scalar, ...]:
    if operator in _ORDERED and fact.type != "number":
        raise BadCondition(f"'{fact.name}' is not a number", "Compare it with 'is', 'is not' or 'is one of'.")
    read: Callable[[str], Scalar] = lambda part: _one(fact, part.strip(), numbers)  # noqa: E731
    if operator == "in":
        return tuple(read(part) for part in text.split(","))
    return read(text)


def _one(fact: Fact, text: str, numbers: Mapping[str, float]) -> Scalar:
    if fact.type == "bool":
        if text not in _YES_NO:
            raise BadCondition(f"'{text}' is not yes or no", f"{fact.name} is a yes-or-no fact.")
        return _YES_NO[text]
    if fact.type == "choice":
        allowed = [option.id for option in fact.options]
        if text not in allowed:
            raise BadCondition(
                f"'{text}' is not an answer to {fact.name}",
                f"{closest(text, allowed)} Allowed: {', '.join(allowed)}.",
            )
        return text
    if fact.type == "time":
        raise BadCondition(f"'{fact.name}' is a time", "A time can only be 'is known'.")
    return _number(fact, text, numbers)


def _number(fact: Fact, text: str, numbers: Mapping[str, float]) -> float:
    named = re.fullmatch(r"\{(\w+)\}", text)
    if named:
        if named[1] not in numbers:
            raise BadCondition(f"there is no number '{named[1]}'", closest(named[1], numbers))
        value = numbers[named[1]]
    else:
        try:
            value = float(text)
        except ValueError:
            raise BadCondition(
                f"'{text}' is not a number", "Write a number, or {a_name} from numbers.toml."
            ) from None
    if fact.range and not fact.range[0] <= value <= fact.range[1]:
        raise BadCondition(
            f"{value:g} can never be {fact.says}",
            f"It lies between {fact.range[0]:g} and {fact.range[1]:g}.",
        )
    return value
