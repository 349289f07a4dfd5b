"""What a text speaks of: soft signs, apart from the facts that it states."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from coach.model import Topic

_LONGEST = 2_500
_NOT_WORDS = re.compile(r"[^a-z0-9'-]+")


def spoken_of(text: str, topics: Iterable[Topic]) -> tuple[str, ...]:
    """The topics whose words occur in the text, in the order of the topics."""
    plain = " " + _NOT_WORDS.sub(" ", text[:_LONGEST].casefold().replace("\u2019", "'")) + " "
    return tuple(
        topic.id
        for topic in topics
        if _pattern(topic.words).search(plain)
        and not (topic.but_not and _pattern(topic.but_not).search(plain))
    )


@lru_cache(maxsize=256)
def _pattern(words: tuple[str, ...]) -> re.Pattern[str]:
    ways = "|".join(re.escape(word).replace(r"\*", "[a-z]*") for word in words)
    return re.compile(f" (?:{ways}) ")
