"""What "it" stands for where one lamp was spoken of: "the left lamp is 8 ft out and it leans"."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from coach.language.scan import HARD
from coach.language.tokens import Text

_PRONOUNS = frozenset({"it", "this", "that"})
_STARTS = frozenset({
    ",", ".", ";", "!", "\n", "-", "—", "and", "but", "so", "then", "because", "now", "think", "though",
})  # fmt: skip
_LAMPS = frozenset({"lamp", "light", "one", "led", "bulb"})
_WHICH = frozenset({"left", "right", "port", "starboard", "other", "deep", "bottom", "third", "bow", "stern"})
_DEEP = frozenset({"bottom", "third", "low", "lower"})
_REACH = 9


def referred(text: Text, tells: Collection[str]) -> Text:
    """The text with the lamp's name for an "it" that opens a clause and is told something that only
    lamps do: one of the words `tells` has to stand in that clause."""
    if not _PRONOUNS & set(text.words) or not _LAMPS & set(text.words):
        return text
    words: list[str] = []
    starts: list[int] = []
    ends: list[int] = []
    name: tuple[str, ...] = ()
    at = 0
    while at < len(text.words):
        name = _named(text.words, at) or name
        width = _is_meant(text.words, at, tells) if name else 0
        put = name if width else (text.words[at],)
        width = width or 1
        for number, word in enumerate(put):
            words.append(word)
            starts.append(text.starts[at] if number == 0 else text.ends[at + width - 1])
            ends.append(text.ends[at + width - 1])
        at += width
    return Text(text.said, tuple(words), tuple(starts), tuple(ends), text.cut)


def _named(words: tuple[str, ...], at: int) -> tuple[str, ...]:
    """The one lamp that is named at a word: "left lamp", "deep one", "lamp on the right"."""
    if words[at] in _WHICH and words[at + 1 : at + 2] and words[at + 1] in _LAMPS:
        return ("deep" if words[at] in _DEEP else words[at], "lamp")
    if words[at] in ("lamp", "light") and words[at + 1 : at + 2] in (("on",), ("to",)):
        return next(((one, "lamp") for one in words[at + 2 : at + 5] if one in ("left", "right")), ())
    return ()


def _is_meant(words: tuple[str, ...], at: int, tells: Collection[str]) -> int:
    """How many words a pronoun takes that opens a clause about a lamp; 0 if there is none."""
    before = words[at - 1] if at else ""
    if words[at] not in _PRONOUNS or before not in _STARTS:
        return 0
    width = 1 + (words[at + 1 : at + 2] == ("one",))
    if words[at] != "it" and width == 1:
        return 0
    return width if any(word in tells for word in _rest(words, at + width)) else 0


def _rest(words: tuple[str, ...], at: int) -> Iterator[str]:
    for word in words[at : at + _REACH]:
        if word in HARD or word in (",", "and", "but"):
            return
        yield word
