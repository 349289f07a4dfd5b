"""What "it" stands for where one lamp was spoken of: "the left lamp is 8 ft out and it leans"."""

from __future__ import annotations

from collections.abc import Iterator

from coach.language.lexicon import Aboard
from coach.language.scan import HARD
from coach.language.tokens import Text

_PRONOUNS = frozenset({"it", "this", "that"})
_STARTS = frozenset({
    ",", ".", ";", "!", "\n", "-", "—", "and", "but", "so", "then", "because", "now", "think", "though",
})  # fmt: skip
_REACH = 9


def referred(text: Text, aboard: Aboard) -> Text:
    """The text with the lamp's name for an "it" that opens a clause and is told something that only
    lamps do."""
    if not _PRONOUNS & set(text.words) or not set(aboard.lamp) & set(text.words):
        return text
    words: list[str] = []
    starts: list[int] = []
    ends: list[int] = []
    name: tuple[str, ...] = ()
    at = 0
    while at < len(text.words):
        name = _named(text.words, at, aboard) or name
        width = _is_meant(text.words, at, aboard) if name else 0
        put = name if width else (text.words[at],)
        width = width or 1
        for number, word in enumerate(put):
            words.append(word)
            starts.append(text.starts[at] if number == 0 else text.ends[at + width - 1])
            ends.append(text.ends[at + width - 1])
        at += width
    return Text(text.said, tuple(words), tuple(starts), tuple(ends), text.cut)


def _named(words: tuple[str, ...], at: int, aboard: Aboard) -> tuple[str, ...]:
    """The one lamp that is named at a word: "left lamp", "deep one", "lamp on the right"."""
    after = words[at + 1 : at + 2]
    if words[at] in aboard.which and after and after[0] in aboard.lamp:
        return (aboard.low[0] if words[at] in aboard.low else words[at], aboard.lamp[0])
    if words[at] in aboard.lamp and after in (("on",), ("to",)):
        near = words[at + 2 : at + 5]
        return next(((one, aboard.lamp[0]) for one in near if one in aboard.sides), ())
    return ()


def _is_meant(words: tuple[str, ...], at: int, aboard: Aboard) -> int:
    """How many words a pronoun takes that opens a clause about a lamp; 0 if there is none."""
    before = words[at - 1] if at else ""
    if words[at] not in _PRONOUNS or before not in _STARTS:
        return 0
    width = 1 + (words[at + 1 : at + 2] == ("one",))
    if words[at] != "it" and width == 1:
        return 0
    return width if any(word in aboard.lamp_does for word in _rest(words, at + width)) else 0


def _rest(words: tuple[str, ...], at: int) -> Iterator[str]:
    for word in words[at : at + _REACH]:
        if word in HARD or word in (",", "and", "but"):
            return
        yield word
