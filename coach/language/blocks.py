"""Words that make what stands by them state nothing: questions, conditions, other days, earlier hours."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from coach.language.asking import asks

BlockKind = Literal["question", "if", "modal", "unsure", "elsewhere", "earlier"]
MARKER_KINDS: tuple[BlockKind, ...] = ("if", "modal", "unsure", "elsewhere", "earlier")
Markers = Mapping[str, Sequence[tuple[tuple[str, ...], BlockKind]]]
"""Words that make what stands by them state nothing, by their first word."""
_OPENERS = frozenset({
    "and", "but", "so", "or", "then", "well", "ok", "okay", "hey", "hi", "hello", "um", "uh", "also",
    "please", "coach", "though", "because", "oh", "now", "still", "anyway", "right", "listen",
})  # fmt: skip
PAST_TENSE = frozenset({
    "was", "were", "had", "did", "got", "caught", "lifted", "saw", "could", "used", "came",
})  # fmt: skip
"""Only with one of these is "an hour ago" the past; what "stopped an hour ago" still stands."""
_NEAR = 8
_SHORT_REASON = 2
_SHORT_HALF = 5
_VERBS = frozenset({
    "is", "are", "was", "were", "has", "have", "had", "got", "did", "came", "went", "set", "put", "we",
    "i", "it",
})  # fmt: skip
_WAS_SO = frozenset({"was", "were", "had", "did"})
_WHICH = frozenset({"which", "who", "if", "whether"})
_AS_SOON_AS = ("as", "soon", "as")
_BACK_TO_NOW = frozenset({"now", "tonight", "today", "currently"})
_MODALS = frozenset({"will", "would", "should", "could", "might", "shall"})
_ABLE = frozenset({"not", "hardly", "barely", "see", "only", "just", "still", "feel", "hear"})


@dataclass(frozen=True, slots=True)
class Block:
    """Words that state nothing, why, and the words that say so."""

    kind: BlockKind
    start: int
    end: int
    trigger: range


def holds_reason(trigger: range, used: Collection[int]) -> bool:
    """True if the words used hold the reason themselves: of a long one all of it."""
    inside = [at in used for at in trigger]
    return bool(inside) and (all(inside) if len(inside) > _SHORT_REASON else inside[-1])


def questions(words: tuple[str, ...], clauses: list[tuple[int, int]], *, is_asked: bool) -> Iterator[Block]:
    """From the first clause that asks to the end of the sentence; else the last clause before a "?"."""
    last = clauses[-1][1] if clauses else 0
    for start, end in clauses:
        first = _first_word(words, start, end=end)
        if asks(words, first, is_asked=is_asked):
            yield Block("question", start, last, range(first, first + 1))
            return
    if is_asked and clauses:
        start, end = clauses[-1]
        yield Block("question", start, end, range(end, end + 1))


def marked(words: tuple[str, ...], clauses: list[tuple[int, int]], *, markers: Markers) -> Iterator[Block]:
    """What the markers of the word files make state nothing."""
    for number, (start, end) in enumerate(clauses):
        turn = _until(words, start, end=end)
        if turn:
            yield Block("earlier", start, turn, range(turn, turn + 1))
        for at in range(start, end):
            for row, kind in markers.get(words[at], ()):
                if words[at : at + len(row)] == row and _holds(words, at, kind=kind, within=(start, end)):
                    trigger = range(at, at + len(row))
                    yield _block(words, clauses, number=number, kind=kind, trigger=trigger)


def _first_word(words: tuple[str, ...], start: int, *, end: int) -> int:
    while start < end - 1 and words[start] in _OPENERS:
        start += 1
    return start


def _until(words: tuple[str, ...], start: int, *, end: int) -> int:
    """ "she was lying across until the wind shifted": where what was so ends; 0 if nothing does."""
    turn = next((at for at in range(start, end) if words[at] in ("until", "till")), 0)
    return turn if turn and not _WAS_SO.isdisjoint(words[start:turn]) else 0


def _holds(words: tuple[str, ...], at: int, *, kind: BlockKind, within: tuple[int, int]) -> bool:
    """False where the marker means something else: "as if", "could see", "may be"."""
    before = words[at - 1] if at else ""
    after = words[at + 1] if at + 1 < len(words) else ""
    if kind == "if":
        return before not in ("as", "even")
    if kind == "earlier":
        near = words[max(within[0], at - _NEAR) : min(within[1], at + _NEAR)]
        is_past = words[at] != "ago" or not PAST_TENSE.isdisjoint(near)
        return is_past and {"as", "than"}.isdisjoint(words[max(0, at - 4) : at])
    if kind == "elsewhere" and before in ("after", "since", "from", "than", "till", "before"):
        return False
    if words[at] == "could":
        return after not in _ABLE
    if words[at] == "once":
        return before not in ("at", "for", "than") and after in ("the", "it", "we", "they")
    return True


def _has_no_verb(words: tuple[str, ...], start: int, *, end: int) -> bool:
    """ "left sounded 12 and right 14 at sundown": the second half lives by the verb of the first."""
    return end - start <= _SHORT_HALF and _VERBS.isdisjoint(words[start:end])


def _block(
    words: tuple[str, ...],
    clauses: list[tuple[int, int]],
    *,
    number: int,
    kind: BlockKind,
    trigger: range,
) -> Block:
    start, end = clauses[number]
    sentence_end = clauses[-1][1]
    if kind == "if":
        opens = _first_word(words, clauses[0][0], end=sentence_end) >= trigger[0] - 1
        has_modal = any(word in _MODALS for word in words[start : trigger[0]])
        return Block(kind, start if has_modal else trigger[0], sentence_end if opens else end, trigger)
    if words[trigger[0] : trigger[0] + 3] == _AS_SOON_AS and trigger[0] > start:
        return Block(kind, trigger[0], end, trigger)
    if kind == "earlier" and number and words[start] == "and" and _has_no_verb(words, start, end=trigger[0]):
        start = clauses[number - 1][0]
    if kind == "unsure":
        while number + 1 < len(clauses) and words[clauses[number + 1][0]] in _WHICH:
            number += 1
            end = clauses[number][1]
    if kind == "elsewhere" and trigger[0] <= start + 1:
        for later_start, later_end in clauses[number + 1 :]:
            if words[later_start] == "but" or not _BACK_TO_NOW.isdisjoint(words[later_start:later_end]):
                break
            end = later_end
    return Block(kind, start, end, trigger)
