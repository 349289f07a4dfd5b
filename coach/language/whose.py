"""Whose boat a clause speaks of: ours, another, or one end of ours."""

from __future__ import annotations

from coach.language.clauses import Frame
from coach.language.lexicon import Aboard, Lexicon
from coach.language.match import Match, first_end
from coach.language.nodes import Part
from coach.language.scan import Scan

Spoken = list[tuple[int, frozenset[int]]]
"""Clauses, and the words that name what they speak of."""

_GOING_ON = frozenset({"and", "but", "then", "so"})
_WE = frozenset({"we", "i"})


def speaking_of(part: Part, scan: Scan, *, frame: Frame) -> Spoken:
    """The clauses that speak of something (another boat, one end of ours), and the words that name it."""
    starts = part.starts()
    return [
        (frame.clause_of[at], frozenset(range(at, end)))
        for at, word in enumerate(scan.words)
        if word in starts and (end := first_end(scan, part, at=at)) is not None
    ]


def carried(spoken: Spoken, frame: Frame, *, aboard: Aboard) -> Spoken:
    """The same, and the clauses that go on about it: "they had some, but nothing now"."""
    found = list(spoken)
    for clause, names in spoken:
        later = clause + 1
        if later < len(frame.clauses) and names:
            start, end = frame.clauses[later]
            words = frame.words[start:end]
            if words[0] in _GOING_ON and not any(word in aboard.ours for word in words):
                found.append((later, frozenset()))
    return found


def is_theirs(match: Match, frame: Frame, *, theirs: Spoken, lexicon: Lexicon) -> bool:
    """True if the match tells of our catch in a clause whose subject is another boat."""
    meaning = match.phrase.meaning
    is_ours = bool(meaning.hint) or any(name in lexicon.not_theirs for name, _ in meaning.facts)
    if not is_ours:
        return False
    clauses = {frame.clause_of[at] for at in match.used}
    return any(
        clause in clauses
        and not _is_of_us(frame, clause, lexicon.aboard)
        and not (names and min(names) in match.used)
        for clause, names in theirs
    )


def _is_of_us(frame: Frame, clause: int, aboard: Aboard) -> bool:
    """True if a clause opens with us: "we put a ring of lights around her"."""
    first, second = (*frame.words[slice(*frame.clauses[clause])], "", "")[:2]
    return first in _WE and second in aboard.we_do


def is_in(match: Match, frame: Frame, *, spoken_of: Spoken) -> bool:
    """True if a match stands in one of the clauses, and not in the words that name what is spoken of."""
    clauses = {frame.clause_of[at] for at in match.used}
    return any(clause in clauses and not names & match.used for clause, names in spoken_of)
