"""A question as it is put, and an answer as it was meant: words, digits, numbers with units."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from rapidfuzz import fuzz

from coach.conversation import Choice as Pick
from coach.language.lexicon import Lexicon
from coach.language.read import read
from coach.model import Fact, Rulebook
from coach.school.kitchen import shuffled
from coach.school.parts import Choice, Item

Kind = Literal["picked", "number", "unknown", "unclear", "unit"]
_ALIKE, _APART = 82.0, 8.0
_OWN_WORDS = {
    "h": r"h|hr|hrs|hour|hours",
    "%": r"%|percent|per cent",
    "in 100": r"in 100|in a hundred|of 100|%",
}
_DONT_KNOW = {"?", "0", "don't know", "dont know", "no idea", "show", "unknown", "pass"}


@dataclass(frozen=True, slots=True)
class Given:
    """What was meant: a choice's id, a number, that it is not known, or that it was not understood."""

    kind: Kind
    picked: str = ""
    number: float = 0.0


def question_lines(item: Item) -> tuple[str, ...]:
    """The facts, then the question."""
    return (*item.told, item.ask)


def picks(item: Item, turn: int) -> tuple[Pick, ...]:
    """The choices as they are offered this time."""
    return tuple(Pick(choice.id, choice.text) for choice in shuffled(item, turn))


def given(text: str, item: Item, turn: int, *, book: Rulebook, lexicon: Lexicon, now: datetime) -> Given:
    """What a text means as an answer to this item."""
    word = " ".join(text.casefold().split()).strip(" .!")
    if word in _DONT_KNOW and not (word == "0" and item.wanted is not None):
        return Given("unknown")
    if item.wanted is not None:
        return _number(word, item.wanted.unit, book, lexicon, now)
    choices = shuffled(item, turn)
    if word.isdecimal() and 1 <= int(word) <= len(choices):
        return Given("picked", choices[int(word) - 1].id)
    return _in_words(text.strip(), choices)


def _in_words(text: str, choices: tuple[Choice, ...]) -> Given:
    """The choice that the words are nearest to, if one is by far; a choice's id counts too."""
    for choice in choices:
        if text in (choice.id, choice.text):
            return Given("picked", choice.id)
    if len(text) < 3:
        return Given("unclear")
    near = sorted(((fuzz.WRatio(text, choice.text), choice.id) for choice in choices), reverse=True)
    if near[0][0] >= _ALIKE and near[0][0] - near[1][0] >= _APART:
        return Given("picked", near[0][1])
    return Given("unclear")


def _number(word: str, unit: str, book: Rulebook, lexicon: Lexicon, now: datetime) -> Given:
    own = _OWN_WORDS.get(unit)
    bare = re.sub(rf"\s*(?:{own})$", "", word) if own else word
    if re.fullmatch(r"[+-]?\d+(?:[.,]\d+)?", bare):
        return Given("number", number=float(bare.replace(",", ".")))
    asked = _fact_with(unit if own is None else "min", book)
    reading = read(bare, asked=asked, lexicon=lexicon, now=now)
    value = reading.facts.get(asked.name)
    if isinstance(value, float):
        return Given("number", number=value)
    if asked.name in reading.unknown:
        return Given("unknown")
    return Given("unit" if re.match(r"[\d.,]+\s*\D", bare) else "unclear")


def _fact_with(unit: str, book: Rulebook) -> Fact:
    """A question of the rule base that takes numbers of this unit, the widest there is."""
    fits = [
        fact for fact in book.facts.values() if fact.origin == "asked" and fact.unit == unit and fact.range
    ]
    return max(fits, key=lambda fact: (fact.range or (0, 0))[1])
