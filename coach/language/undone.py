"""Trouble that was, and has been put right since: "the left one leaned but I stood it back up"."""

from __future__ import annotations

from dataclasses import replace

from coach.language.clauses import Frame
from coach.language.lexicon import Lexicon
from coach.language.match import any_part
from coach.language.says import Said, Statements
from coach.language.scan import Scan

_FARTHEST = 2
_WAS = frozenset({"was", "were", "had", "did", "used", "earlier"})


def without_undone(stated: Statements, scan: Scan, *, frame: Frame, lexicon: Lexicon) -> Statements:
    """The statements; of trouble that a clause behind puts right, its absence. What is grave stays told."""
    places = [at for at, _ in any_part(scan, lexicon.undone)]
    if not places:
        return stated
    told = {one.fact for one in stated.said}
    said = [_put_right(one, places, frame=frame, lexicon=lexicon) for one in stated.said]
    for one in stated.past:
        mended = _put_right(one, places, frame=frame, lexicon=lexicon)
        if mended is not None and mended is not one and one.fact not in told:
            said.append(mended)
    return replace(stated, said=tuple(one for one in said if one is not None))


def _put_right(one: Said, places: list[int], *, frame: Frame, lexicon: Lexicon) -> Said | None:
    """What holds of a statement; None if nobody can tell any more."""
    number = frame.clause_of[max(one.match.used)]
    later = range(number, number + _FARTHEST + 1)
    is_undone = any(frame.clause_of[at] in later and at > max(one.match.used) for at in places)
    if not is_undone or one.fact in lexicon.grave:
        return one
    if (one.fact in lexicon.any_of and one.value is True) or (
        one.fact in lexicon.all_of and one.value is False
    ):
        return replace(one, value=not one.value)
    start, end = frame.clauses[number]
    is_past = not _WAS.isdisjoint(frame.words[start:end])
    return None if is_past and isinstance(one.value, str) else one
