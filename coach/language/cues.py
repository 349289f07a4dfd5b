"""Words that speak for one value of a fact only: the last resort for an answer that fits no phrase."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from coach.language.apart import Apart
from coach.language.lexicon import Phrase
from coach.language.nodes import Either, Maybe, Part, Row, Words
from coach.model import Scalar


class Cues:
    """Telling words by fact, gathered from the phrases of its values when first asked for."""

    def __init__(self, phrases: Iterable[Phrase], plain: frozenset[str]) -> None:
        self._plain = plain
        self._phrases: dict[str, list[tuple[Part, Scalar]]] = {}
        self._by_fact: dict[str, Mapping[str, Scalar]] = {}
        for phrase in phrases:
            for name, take in phrase.meaning.facts:
                if take.value is not None and len(phrase.meaning.facts) == 1:
                    self._phrases.setdefault(name, []).append((phrase.part, take.value))

    def of(self, fact: str) -> Mapping[str, Scalar]:
        """The words that stand in the phrases of one value of `fact` only, with that value."""
        if fact not in self._by_fact:
            values: dict[str, set[Scalar]] = {}
            for part, value in self._phrases.get(fact, ()):
                for word in all_words(part) - self._plain:
                    values.setdefault(word, set()).add(value)
            self._by_fact[fact] = {word: next(iter(of)) for word, of in values.items() if len(of) == 1}
        return self._by_fact[fact]


def all_words(part: Part) -> frozenset[str]:
    """Every word a part may take; word classes and slots are left out."""
    if isinstance(part, Words):
        return part.words
    if isinstance(part, Row | Apart):
        return frozenset().union(*(all_words(one) for one in part.parts))
    if isinstance(part, Either):
        return frozenset().union(*(all_words(one) for one in part.options))
    return all_words(part.part) if isinstance(part, Maybe) else frozenset()
