"""A text that corrects itself: "ten, no wait, eleven"."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime

from coach.language.lexicon import Lexicon
from coach.language.match import any_part, number_places
from coach.language.scan import Scan
from coach.language.tokens import Text

ANY_TIME = datetime(2000, 1, 1, tzinfo=UTC)
"""Stands for the clock where no time of day is read."""
_BEFORE_TURN = frozenset(
    {",", ".", "!", "?", ";", "\n", "-", "—", ":", "but", "oh", "ah", "no", "well", "and"}
)
_SHORT = 8
_BARE_NO = frozenset({"no", "nope", "nah", "well", "oh", "ah"})


def pieces(text: Text, lexicon: Lexicon) -> Iterator[tuple[Text, str]]:
    """The pieces between corrections, and the mark before each: "", "corrects", "turns", "takes_back"."""
    begin, kind = 0, ""
    for start, end, mark in marks(text, lexicon):
        if start < begin:
            continue
        yield _slice(text, begin, end=start), kind
        begin, kind = end, mark
    yield (_slice(text, begin, end=len(text.words)) if begin else text), kind


def marks(text: Text, lexicon: Lexicon) -> list[tuple[int, int, str]]:
    """Where a text takes something back or corrects itself, in order."""
    scan = Scan(text, text.words, ANY_TIME)
    found = [(*place, "takes_back") for place in any_part(scan, lexicon.answers.takes_back)]
    found += [(*place, "corrects") for place in any_part(scan, lexicon.answers.corrects)]
    found += [
        (start, end, "turns")
        for start, end in any_part(scan, lexicon.answers.turns)
        if _is_turn(text.words, start, end=end)
    ]
    return sorted(found, key=lambda mark: (mark[0], -mark[1]))


def _is_turn(words: tuple[str, ...], start: int, *, end: int) -> bool:
    """A turn stands at the start of a clause; a bare "no" must also be all of it, and not the first."""
    before = words[start - 1] if start else ","
    if before not in _BEFORE_TURN:
        return False
    if _BARE_NO.issuperset(words[start:end]):
        return start > 0 and end < len(words) and words[end] == ","
    return True


def _slice(text: Text, start: int, *, end: int) -> Text:
    return replace(
        text, words=text.words[start:end], starts=text.starts[start:end], ends=text.ends[start:end]
    )


def other_side(piece: Text, fact: str, *, lexicon: Lexicon) -> str:
    """The other of a pair, if a correction names nothing else: "9 out, no sorry, that's the left"."""
    pair = lexicon.pairs.get(fact)
    scan = Scan(piece, piece.words, ANY_TIME)
    if pair is None or len(piece.words) > _SHORT or not any_part(scan, pair.named):
        return ""
    besides = [word for word in piece.words if word[0].isalpha() and word not in lexicon.aboard.sides]
    has_number = any(scan.value("number", at) is not None for at in number_places(scan, lexicon))
    return "" if has_number or any(word not in lexicon.filler for word in besides) else pair.fact
