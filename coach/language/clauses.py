"""Which words of a text state something, and which are asked, supposed, denied or long past.

Common practice of English: a question, an "if", last week's trip and a wish state nothing about now.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from coach.language.asking import asks
from coach.language.scan import BORDERS, HARD, is_so_far

BlockKind = Literal["question", "if", "modal", "unsure", "elsewhere", "earlier"]
MARKER_KINDS: tuple[BlockKind, ...] = ("if", "modal", "unsure", "elsewhere", "earlier")

_CLAUSE_SIGNS = frozenset({",", ":", "—", "(", ")"})
_CLAUSE_WORDS = BORDERS - {"since", "until", "till", "+", "plus", "&"} | {"who", "which"}
_OPENERS = frozenset({
    "and", "but", "so", "or", "then", "well", "ok", "okay", "hey", "hi", "hello", "um", "uh", "also",
    "please", "coach", "though", "because", "oh", "now", "still", "anyway", "right", "listen",
})  # fmt: skip
Markers = Mapping[str, Sequence[tuple[tuple[str, ...], BlockKind]]]
"""Words that make what stands by them state nothing, by their first word."""
_PARTS_OF_ONE = frozenset({"half", "quarter", "quarters", "third", "thirds"})
_PAST_TENSE = frozenset({
    "was", "were", "had", "did", "got", "caught", "lifted", "saw", "could", "used", "came",
})  # fmt: skip
"""Only with one of these is "an hour ago" the past; what "stopped an hour ago" still stands."""
_NEAR = 8
_WHICH = frozenset({"which", "who", "if", "whether"})
_SHORT_REASON = 2
_WAS_SO = frozenset({"was", "were", "had", "did"})
_SHORT_HALF = 5
_VERBS = frozenset({
    "is", "are", "was", "were", "has", "have", "had", "got", "did", "came", "went", "set", "put", "we", "i", "it",
})  # fmt: skip
_AS_SOON_AS = ("as", "soon", "as")
_BACK_TO_NOW = frozenset({"now", "tonight", "today", "currently"})
_MODALS = frozenset({"will", "would", "should", "could", "might", "shall"})
_ABLE = frozenset({"not", "hardly", "barely", "see", "only", "just", "still", "feel", "hear"})
_NEGATORS = frozenset({
    "not", "no", "never", "none", "nor", "neither", "without", "nobody", "nothing", "doubt",
})  # fmt: skip
_WEAK = frozenset({"hardly", "barely", "scarcely", "rarely", "seldom"})
_NOT_NEGATING = frozenset({
    ("not", "only"), ("not", "just"), ("no", "doubt"), ("no", "wonder"), ("not", "to"), ("no", "more"),
    ("not", "sure"),
    ("no", "kidding"), ("no", "question"), ("not", "bad"), ("no", "joke"), ("without", "doubt"),
})  # fmt: skip
_SCOPE_ENDS = frozenset({
    "for", "because", "due", "with", "when", "while", "that", "until", "till", "where", "from",
})  # fmt: skip
_LONGEST_SCOPE = 6
_AFTER_NO = frozenset({
    "i", "we", "you", "they", "he", "she", "it", "there", "this", "that", "my", "our", "your", "his",
    "her", "the", "one", "both", "all",
})  # fmt: skip
_OPEN_NO = frozenset({"no", "nope", "nah", "yes", "yeah", "yep", "yup"})


_NEW_SUBJECTS = frozenset({"it", "there", "they", "we", "i", "she", "he"})
_OVER = frozenset({"over", "up", "down", "out", "back", "right", "around", "about"})
_NEW_VERBS = tuple((verb,) for verb in ("is", "are", "am", "has", "have", "was", "were", "had", "got"))
_GOES_ON_WITH = frozenset({
    "that", "if", "when", "where", "what", "how", "as", "than", "like", "think", "guess", "know", "say", "says",
    "said", "hope", "sure", "which", "who", "because", "since", "until", "till", "before", "after", "while",
    "whether", "all", "way", "and", "or", "but", "so", "see", "reckon", "believe", "suppose", "to", "of", "in",
    "at", "from", "with", "by", "on", "for", "once", "whenever", "wherever", "time", "place", "spot", "unless",
    "though", "although", "the", "a", "afraid", "feel", "figure", "bet", "swear", "wish", "then", "now", "here",
    "not", "no", "is", "are", "was", "were", "everything", "anything", "nothing", "only", "one",
})  # fmt: skip
"""Words before "it is" and the like with which it is one statement."""


@dataclass(frozen=True, slots=True)
class Block:
    """Words that state nothing, why, and the words that say so."""

    kind: BlockKind
    start: int
    end: int
    trigger: range


@dataclass(frozen=True, slots=True)
class Frame:
    """The clauses of a text (start, end), the clause of each word, and what states nothing."""

    words: tuple[str, ...]
    clauses: tuple[tuple[int, int], ...]
    clause_of: tuple[int, ...]
    blocks: tuple[Block, ...]

    def blocked(self, used: Collection[int]) -> frozenset[BlockKind]:
        """Why the words used state nothing; a reason that the words themselves contain does not count."""
        return frozenset(
            block.kind
            for block in self.blocks
            if any(block.start <= at < block.end for at in used)
            and not _holds_reason(block.trigger, used)
        )

    def negators(self, used: Collection[int]) -> tuple[int, bool]:
        """How many words deny what the words used say, and whether one only weakens it ("hardly")."""
        first, last = min(used), max(used)
        clause_start = self.clauses[self.clause_of[first]][0]
        reach = range(first - 1, max(clause_start, first - _LONGEST_SCOPE) - 1, -1)
        before = [at for at in reach if at not in used]
        stop = next(
            (number for number, at in enumerate(before) if self.words[at] in _SCOPE_ENDS), len(before)
        )
        inside = [at for at in range(first, last) if at not in used]
        looked = before[:stop] + inside
        count = sum(self._denies(at) for at in looked)
        is_weak = any(self.words[at] in _WEAK for at in looked)
        return count or self._carried(first), is_weak

    def _denies(self, at: int) -> bool:
        return self.words[at] in _NEGATORS and self.words[at : at + 2] not in _NOT_NEGATING

    def _carried(self, first: int) -> int:
        """A "no" carried over commas: "no lightning, fog or thunder"."""
        clause = self.clause_of[first]
        start, end = self.clauses[clause]
        if end - start > 4 or "or" not in self.words[start : self._list_end(clause)]:
            return 0
        while clause > 0 and start > 0 and self.words[start - 1] == ",":
            clause -= 1
            start, end = self.clauses[clause]
            if end > start and self.words[start] in _NEGATORS:
                return 1
            if end - start > 3:
                break
        return 0

    def _list_end(self, clause: int) -> int:
        while clause + 1 < len(self.clauses):
            end, begin = self.clauses[clause][1], self.clauses[clause + 1][0]
            if self.words[end:begin] != (",",):
                break
            clause += 1
        return self.clauses[clause][1]


def _holds_reason(trigger: range, used: Collection[int]) -> bool:
    """True if the words used hold the reason themselves: of a long one all of it."""
    inside = [at in used for at in trigger]
    return bool(inside) and (all(inside) if len(inside) > _SHORT_REASON else inside[-1])


def frame(words: tuple[str, ...], glued: Collection[int], *, markers: Markers) -> Frame:
    """Split words into clauses and mark what states nothing. `glued`: words that touch the one before."""
    sentences = list(_sentences(words))
    clauses: list[tuple[int, int]] = []
    blocks: list[Block] = []
    for start, end in sentences:
        own = list(_clauses(words, start, end=end, glued=glued))
        clauses.extend(own)
        is_asked = end < len(words) and words[end] == "?"
        blocks.extend(_questions(words, own, is_asked=is_asked))
        blocks.extend(_marked(words, own, markers=markers))
    clause_of = [0] * (len(words) + 1)
    for number, (start, end) in enumerate(clauses):
        clause_of[start : end + 1] = [number] * (end + 1 - start)
    return Frame(words, tuple(clauses) or ((0, 0),), tuple(clause_of), tuple(blocks))


def _sentences(words: tuple[str, ...]) -> Iterator[tuple[int, int]]:
    start = 0
    for at, word in enumerate(words):
        if word in HARD:
            if at > start:
                yield start, at
            start = at + 1
    if start < len(words):
        yield start, len(words)


def _clauses(
    words: tuple[str, ...], start: int, *, end: int, glued: Collection[int]
) -> Iterator[tuple[int, int]]:
    begin = start
    for at in range(start, end):
        word = words[at]
        is_dash = word == "-" and at not in glued and at + 1 not in glued
        if word in _CLAUSE_SIGNS or is_dash:
            if at > begin:
                yield begin, at
            begin = at + 1
        elif at > begin and (
            _opens_clause(words, at)
            or _is_open_no(words, begin, at=at)
            or _turns_to_now(words, begin, at=at, end=end)
            or _runs_on(words, begin, at=at)
            or (words[at] == "no" and at == begin + 2 and words[begin] == "no")
        ):
            yield begin, at
            begin = at
    if end > begin:
        yield begin, end


def _opens_clause(words: tuple[str, ...], at: int) -> bool:
    """True for "and", "but" and the like; not for the "and" of a number ("and three quarters")."""
    adds_a_part = words[at] == "and" and not _PARTS_OF_ONE.isdisjoint(words[at + 1 : at + 3])
    return words[at] in _CLAUSE_WORDS and not adds_a_part and not is_so_far(words, at)


def _turns_to_now(words: tuple[str, ...], begin: int, *, at: int, end: int) -> bool:
    """ "was 12 when we got here now 10": a now behind the past opens a clause of its own."""
    is_past = not _PAST_TENSE.isdisjoint(words[begin:at]) or words[at - 1] == "first"
    return words[at] == "now" and at + 1 < end and at > begin + 1 and is_past


def _runs_on(words: tuple[str, ...], begin: int, *, at: int) -> bool:
    """ "tide turned a while ago it is coming in": a new statement without a sign before it."""
    is_new = words[at] in _NEW_SUBJECTS and words[at + 1 : at + 2] in _NEW_VERBS
    is_place = words[at] == "there" and words[at - 1] in _OVER
    return is_new and at > begin + 2 and words[at - 1] not in _GOES_ON_WITH and not is_place


def _is_open_no(words: tuple[str, ...], begin: int, *, at: int) -> bool:
    """ "no we are dragging": the no stands by itself."""
    return (
        at == begin + 1
        and words[begin] in _OPEN_NO
        and words[at] in _AFTER_NO
        and words[at : at + 2] != ("one", "is")
    )


def _first_word(words: tuple[str, ...], start: int, *, end: int) -> int:
    while start < end - 1 and words[start] in _OPENERS:
        start += 1
    return start


def _questions(words: tuple[str, ...], clauses: list[tuple[int, int]], *, is_asked: bool) -> Iterator[Block]:
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


def _marked(words: tuple[str, ...], clauses: list[tuple[int, int]], *, markers: Markers) -> Iterator[Block]:
    for number, (start, end) in enumerate(clauses):
        turn = _until(words, start, end=end)
        if turn:
            yield Block("earlier", start, turn, range(turn, turn + 1))
        for at in range(start, end):
            for row, kind in markers.get(words[at], ()):
                if words[at : at + len(row)] == row and _holds(words, at, kind=kind, within=(start, end)):
                    trigger = range(at, at + len(row))
                    yield _block(words, clauses, number=number, kind=kind, trigger=trigger)


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
        is_past = words[at] != "ago" or not _PAST_TENSE.isdisjoint(words[max(within[0], at - _NEAR) : min(within[1], at + _NEAR)])
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
