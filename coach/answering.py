"""What people ask the coach, apart from what they tell it: found by words, answered from the rule base."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from coach.model import Answer

_LONGEST = 1_000
_NOT_WORDS = re.compile(r"[^a-z0-9'-]+")


def answer_to(text: str, answers: Iterable[Answer]) -> Answer | None:
    """The first answer whose question this text puts; None if it puts none."""
    plain = _plain(text)
    return next((answer for answer in answers if _puts(plain, answer)), None)


def _puts(plain: str, answer: Answer) -> bool:
    if answer.whole:
        (ways,) = answer.all_of
        return any(_pattern(ways).fullmatch(said) for said in (plain, _without(plain, answer.skips)))
    if answer.none_of and _pattern(answer.none_of).search(plain):
        return False
    return all(_pattern(group).search(plain) for group in answer.all_of)


def _without(plain: str, words: tuple[str, ...]) -> str:
    return " " + " ".join(word for word in plain.split() if word not in words) + " "


def _plain(text: str) -> str:
    """Small letters, single spaces, one at either end."""
    return " " + _NOT_WORDS.sub(" ", text[:_LONGEST].casefold().replace("\u2019", "'")).strip() + " "


@lru_cache(maxsize=512)
def _pattern(words: tuple[str, ...]) -> re.Pattern[str]:
    """Any of these words or phrases; a star stands for any ending."""
    ways = "|".join(re.escape(word).replace(r"\*", "[a-z]*") for word in words)
    return re.compile(f" (?:{ways}) ")
