"""Ways of looking things up among phrases and words, made once when the lexicon is built."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from coach.language.blocks import Markers
from coach.language.lexicon import Phrase
from coach.language.nodes import Either, Maybe, Part, Row, Words, rarest

_TURNING = frozenset({"not", "no", "never"})


def marker_words(markers: Markers) -> Iterator[str]:
    """All words of the markers."""
    for rows in markers.values():
        for row, _ in rows:
            yield from row


def reaches_itself(name: str, uses: Mapping[str, set[str]]) -> bool:
    """True if a word class is made of itself, directly or through others."""
    todo, done = list(uses.get(name, ())), set()
    while todo:
        one = todo.pop()
        if one == name:
            return True
        if one not in done:
            done.add(one)
            todo.extend(uses.get(one, ()))
    return False


def turns_round(part: Part) -> bool:
    """True if a phrase has a "not", "no" or "never" that may be left out."""
    if isinstance(part, Maybe):
        options = part.part.options if isinstance(part.part, Either) else (part.part,)
        if any(isinstance(one, Words) and not _TURNING.isdisjoint(one.words) for one in options):
            return True
        return turns_round(part.part)
    inner = part.parts if isinstance(part, Row) else part.options if isinstance(part, Either) else ()
    return any(turns_round(one) for one in inner)


def spelled(part: Part) -> Iterable[object]:
    """The word rows a plain phrase stands for, if few; else the phrase itself."""
    if isinstance(part, Words):
        return part.words
    if isinstance(part, Row) and all(isinstance(one, Words) and len(one.words) == 1 for one in part.parts):
        return (tuple(next(iter(one.words)) for one in part.parts if isinstance(one, Words)),)
    return (part,)


def by_word(phrases: Iterable[Phrase]) -> dict[str, tuple[int, ...]]:
    """The phrases that count anywhere, by a word they need or may start with."""
    return _by_word((number, phrase) for number, phrase in enumerate(phrases) if phrase.asked is None)


def by_topic(phrases: Iterable[Phrase]) -> dict[str, dict[str, tuple[int, ...]]]:
    """The phrases that only answer, by the fact they answer and then by word."""
    found: dict[str, list[tuple[int, Phrase]]] = {}
    for number, phrase in enumerate(phrases):
        for topic in phrase.asked or ():
            found.setdefault(topic, []).append((number, phrase))
    return {topic: _by_word(listed) for topic, listed in found.items()}


def _by_word(numbered: Iterable[tuple[int, Phrase]]) -> dict[str, tuple[int, ...]]:
    found: dict[str, list[int]] = {}
    for number, phrase in numbered:
        for word in rarest(phrase.needs) or phrase.starts:
            found.setdefault(word, []).append(number)
    return {word: tuple(numbers) for word, numbers in found.items()}


def by_length(words: Iterable[str]) -> dict[int, tuple[str, ...]]:
    """The words by their length, each group in order."""
    found: dict[int, list[str]] = {}
    for word in sorted(words):
        found.setdefault(len(word), []).append(word)
    return {length: tuple(group) for length, group in found.items()}
