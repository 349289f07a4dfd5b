"""Which words of a text state something, and which are asked, supposed, denied or long past.

Common practice of English: a question, an "if", last week's trip and a wish state nothing about now.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from coach.language.blocks import PAST_TENSE, Block, BlockKind, Markers, holds_reason, marked, questions
from coach.language.scan import BORDERS, HARD, is_so_far

_CLAUSE_SIGNS = frozenset({",", ":", "—", "(", ")"})
_CLAUSE_WORDS = BORDERS - {"since", "until", "till", "+", "plus", "&"} | {"who", "which"}
_PARTS_OF_ONE = frozenset({"half", "quarter", "quarters", "third", "thirds"})
_NEGATORS = frozenset({
    "not", "no", "never", "none", "nor", "neither", "without", "nobody", "nothing", "doubt",
})  # fmt: skip
_LEFT_UNDONE = (("forgot", "to"), ("forgotten", "to"), ("forget", "to"))
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
    "that", "if", "when", "where", "what", "how", "as", "than", "like", "think", "guess", "know", "say",
    "says", "said", "hope", "sure", "which", "who", "because", "since", "until", "till", "before", "after",
    "while", "whether", "all", "way", "and", "or", "but", "so", "see", "reckon", "believe", "suppose", "to",
    "of", "in", "at", "from", "with", "by", "on", "for", "once", "whenever", "wherever", "time", "place",
    "spot", "unless", "though", "although", "the", "a", "afraid", "feel", "figure", "bet", "swear", "wish",
    "then", "now", "here", "not", "no", "is", "are", "was", "were", "everything", "anything", "nothing",
    "only", "one",
})  # fmt: skip
"""Words before "it is" and the like with which it is one statement."""


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
            if any(block.start <= at < block.end for at in used) and not holds_reason(block.trigger, used)
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
        two = self.words[at : at + 2]
        return (self.words[at] in _NEGATORS and two not in _NOT_NEGATING) or two in _LEFT_UNDONE

    def _carried(self, first: int) -> int:
        """A "no" carried over commas: "no lightning, fog or thunder"."""
        clause = self.clause_of[first]
        start, end = self.clauses[clause]
        if end - start > 4 or "or" not in self.words[start : self._list_end(clause)]:
            return 0
        while clause > 0 and start > 0 and self.words[start - 1] == ",":
            clause -= 1
            start, end = self.clauses[clause]
            if end > start and self._denies(start):
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


def frame(words: tuple[str, ...], glued: Collection[int], *, markers: Markers) -> Frame:
    """Split words into clauses and mark what states nothing. `glued`: words that touch the one before."""
    sentences = list(_sentences(words))
    clauses: list[tuple[int, int]] = []
    blocks: list[Block] = []
    for start, end in sentences:
        own = list(_clauses(words, start, end=end, glued=glued))
        clauses.extend(own)
        is_asked = end < len(words) and words[end] == "?"
        blocks.extend(questions(words, own, is_asked=is_asked))
        blocks.extend(marked(words, own, markers=markers))
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
    is_past = not PAST_TENSE.isdisjoint(words[begin:at]) or words[at - 1] == "first"
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
