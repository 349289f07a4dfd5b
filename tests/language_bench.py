"""The shipped words, made ready once for all tests of the language."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from typing import Any

from score_language import load_facts, load_words, understood

from coach.language import Lexicon, Reading, build_lexicon, read

NOW = datetime.fromisoformat("2027-02-11T21:00:00-05:00")
"""A February evening, nine o'clock."""


@cache
def shipped_lexicon() -> Lexicon:
    """The lexicon of rules/words/ on the facts of rules/facts.toml."""
    return build_lexicon(load_words(), load_facts())


def reading(text: str, asked: str | None = None, *, now: datetime = NOW) -> Reading:
    """Read a text with the shipped words."""
    lexicon = shipped_lexicon()
    return read(text, asked=lexicon.facts[asked] if asked else None, lexicon=lexicon, now=now)


def heard(text: str, asked: str | None = None, *, now: datetime = NOW) -> dict[str, Any]:
    """What was understood, a don't-know as "unknown"."""
    return understood(reading(text, asked, now=now))
