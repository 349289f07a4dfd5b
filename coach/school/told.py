"""Facts in words, as the coach says them when it sums up, and whole sentences made to begin large."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from coach.model import Rulebook, Scalar
from coach.wording import in_words

_NAME = re.compile(r"[,:]? \{name\}")


def told(facts: Mapping[str, Scalar], book: Rulebook, *, leave: Iterable[str] = ()) -> tuple[str, ...]:
    """The facts in the order of the rule base, a line each; `leave` are told already."""
    gone = set(leave)
    return tuple(line(name, facts[name], book) for name in book.facts if name in facts and name not in gone)


def line(name: str, value: Scalar, book: Rulebook) -> str:
    """One fact: what it is called, and its value."""
    return f"{large(book.facts[name].says)}: {in_words(value, book.facts[name])}"


def large(text: str) -> str:
    """The text with a large first letter."""
    return text[:1].upper() + text[1:]


def small(text: str) -> str:
    """The text with a small first letter, without the full stop, for use within a sentence."""
    return (text[:1].lower() + text[1:]).rstrip(".")


def addressed(text: str, name: str, **slots: object) -> str:
    """A sentence to somebody, with its slots filled; without a name {name} and its comma go."""
    return filled(text if name else _NAME.sub("", text), name=name, **slots)


def filled(text: str, **slots: object) -> str:
    """A sentence with its slots filled; what a slot holds is never filled again."""
    parts = text.split("{")
    made = [parts[0]]
    for part in parts[1:]:
        name, closing, rest = part.partition("}")
        made.append(f"{slots[name]}{rest}" if closing and name in slots else f"{{{part}")
    return "".join(made)
