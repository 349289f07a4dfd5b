"""Repairs slips of the keys in words that matter, and only there.

A word that is not known is read as a known one of five letters or more if exactly one is a single
slip away (two slips from ten letters on). A known word is never turned into another.
"""

from __future__ import annotations

from rapidfuzz.distance import OSA, Indel

from coach.language.lexicon import Lexicon

_SHORTEST = 4
_TWO_SLIPS_FROM = 10
_MEMORY = 4096
_LONGEST = 24
_CLEAR = 0.03


def repaired(words: tuple[str, ...], lexicon: Lexicon) -> tuple[str, ...]:
    """The words with slips repaired; the same number of words in the same order."""
    if all(word in lexicon.known or len(word) < 3 or not word.isalpha() for word in words):
        return words
    return tuple(_one(word, lexicon) if word.isalpha() else word for word in words)


def _one(word: str, lexicon: Lexicon) -> str:
    if word in lexicon.known or not 3 <= len(word) <= _LONGEST:
        return word
    memory = lexicon.typos
    if word not in memory:
        if len(memory) >= _MEMORY:
            memory.clear()
        memory[word] = _repair(word, lexicon)
    return memory[word]


def _repair(word: str, lexicon: Lexicon) -> str:
    drawn = _undrawn(word, lexicon)
    if drawn:
        return drawn
    if word.endswith("in") and word + "g" in lexicon.known:
        return word + "g"
    if len(word) < _SHORTEST:
        return word
    slips = 2 if len(word) >= _TWO_SLIPS_FROM else 1
    found = [
        (distance, known)
        for length in range(len(word) - slips, len(word) + slips + 1)
        for known in lexicon.fuzzy.get(length, ())
        if known[0] == word[0] or known[-1] == word[-1]
        if (distance := OSA.distance(word, known, score_cutoff=slips)) <= slips
    ]
    if not found:
        return word
    best = min(found)[0]
    return _winner(word, [known for distance, known in found if distance == best])


def _winner(word: str, known: list[str]) -> str:
    """The one clear winner: a letter left out or doubled is likelier than a wrong letter."""
    ranked = sorted(((_likeness(word, one), one) for one in known), reverse=True)
    if len(ranked) == 1 or ranked[0][0] - ranked[1][0] > _CLEAR:
        return ranked[0][1]
    stem = min(known, key=len)[:-1]
    is_one_word = len(stem) > 3 and all(one.startswith(stem) for one in known)
    return min(known, key=len) if is_one_word else word


def _likeness(word: str, known: str) -> float:
    return Indel.normalized_similarity(word, known) + (_CLEAR if word[0] == known[0] else 0.0)


def _undrawn(word: str, lexicon: Lexicon) -> str:
    """A word drawn out for feeling: "yesss", "sooo", "noooo"."""
    for copies in (2, 1):
        short = ""
        for letter in word:
            if not short.endswith(letter * copies):
                short += letter
        if short != word and len(word) - len(short) >= 2 - (copies - 1) and short in lexicon.known:
            return short
    return ""
