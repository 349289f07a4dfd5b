"""How English asks: question words, and verbs before their subjects."""

from __future__ import annotations

_PRONOUNS = frozenset({"i", "we", "you", "they"})
_SUBJECTS = frozenset({
    "i", "we", "you", "they", "he", "she", "it", "there", "this", "that", "my", "our", "your", "his",
    "her", "their", "any", "anyone", "anybody", "these", "those", "someone", "somebody", "anything",
    "everything", "everyone", "everybody",
})  # fmt: skip
_AUX = frozenset({
    "is", "are", "was", "were", "do", "does", "did", "can", "could", "should", "would", "will", "shall",
    "am", "may", "must", "has",
})  # fmt: skip
_NOT_ASKED = frozenset({
    "same", "usual", "best", "worst", "only", "other", "last", "first", "one", "way",
})  # fmt: skip
_FIT = frozenset(
    {"too", "enough", "ok", "okay", "right", "better", "good", "fine", "normal", "safe", "best", "bad"}
)
_SHORT = 7
_HOW = frozenset({
    "do", "does", "did", "can", "could", "should", "would", "is", "are", "about", "come", "deep", "long",
    "much", "many", "far", "high", "low", "often", "to", "fast", "soon", "late", "am", "was", "will",
    "big", "strong", "hard",
})  # fmt: skip
_WHEN = frozenset({
    "is", "are", "do", "does", "did", "will", "should", "can", "would", "was", "were", "am", "shall",
})  # fmt: skip
_WHAT_STATES = frozenset({"i", "we", "they", "you", "a", "an"})
_ANY_ASKS = frozenset({
    "idea", "ideas", "advice", "tip", "tips", "chance", "thought", "thoughts", "suggestion",
    "suggestions", "reason", "clue",
})  # fmt: skip


def asks(words: tuple[str, ...], at: int, *, is_asked: bool) -> bool:
    """True if a clause that starts at word `at` asks. `is_asked`: its sentence ends with "?"."""
    word = words[at]
    after = words[at + 1] if at + 1 < len(words) else ""
    by_word = {
        "how": after in _HOW,
        "which": is_asked,
        "any": after in _ANY_ASKS or is_asked,
        **dict.fromkeys(("what", "who", "why", "whose"), after not in _WHAT_STATES or is_asked),
        **dict.fromkeys(("when", "where"), after in _WHEN),
        **dict.fromkeys(("have", "had"), after in _PRONOUNS),
    }
    return by_word[word] if word in by_word else word in _AUX and _is_subject(words, at, is_asked=is_asked)


def _is_subject(words: tuple[str, ...], at: int, *, is_asked: bool) -> bool:
    after = words[at + 1] if at + 1 < len(words) else ""
    if words[at] in ("is", "are") and at == 0 and words[-1] in _FIT and len(words) <= _SHORT:
        return True
    if after[:1].isdigit() and words[at] in ("is", "are") and not _FIT.isdisjoint(words[at + 2 : at + 10]):
        return True
    if after in ("the", "a", "an", "both", "one", "all"):
        follows = words[at + 2] if at + 2 < len(words) else ""
        is_noun = after == "the" and words[at] in ("is", "are", "does", "did", "will", "should", "can", "do")
        return is_asked or (
            is_noun and (follows not in _NOT_ASKED or (words[at], follows) == ("are", "other"))
        )
    return after in _SUBJECTS or (is_asked and after not in ("", "not"))
