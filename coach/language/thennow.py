"""A figure that has changed since it was told: "sounded 12 at sundown, 9 and a half now"."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from coach.language.clauses import Frame
from coach.language.lexicon import Lexicon
from coach.language.match import number_places
from coach.language.quantities import Quantity
from coach.language.says import Said, Statements, value_of
from coach.language.scan import Held, Scan
from coach.language.standing import strangeness

_WAS = frozenset({
    "was", "were", "had", "started", "sounded", "read", "set", "measured", "began", "got", "came", "used",
    "been",
})  # fmt: skip
_NOW = frozenset({"now", "currently", "presently", "tonight"})
_OPENERS = frozenset({"and", "but", "so", "then"})
_IT_IS = frozenset({"is", "reads", "shows"})
_FARTHEST = 2
_MOST_STRANGE = 2


def with_now(stated: Statements, scan: Scan, *, frame: Frame, lexicon: Lexicon) -> Statements:
    """The statements, those told of an earlier hour replaced by what a clause behind says of now."""
    told = {one.fact for one in stated.said if not _is_was(one, frame)}
    changed: dict[str, Said] = {}
    for one in (*stated.past, *(two for two in stated.said if _is_was(two, frame))):
        if one.fact in told or lexicon.facts[one.fact].type != "number":
            continue
        for later in _later(one, stated, scan, frame=frame, lexicon=lexicon):
            changed.setdefault(one.fact, later)
    if not changed:
        return stated
    kept = [one for one in stated.said if one.fact not in changed]
    return replace(stated, said=(*kept, *changed.values()))


def _is_was(one: Said, frame: Frame) -> bool:
    start, end = frame.clauses[frame.clause_of[one.at]]
    words = frame.words[start:end]
    return not _WAS.isdisjoint(words) and _NOW.isdisjoint(words)


def _later(one: Said, stated: Statements, scan: Scan, *, frame: Frame, lexicon: Lexicon) -> Iterator[Said]:
    """The same fact with each free number of the clauses behind it that speak of now."""
    first = next((held for held in one.held if isinstance(held.value, Quantity)), None)
    if first is None:
        return
    number = frame.clause_of[max(one.match.used)]
    take = next(take for name, take in one.match.phrase.meaning.facts if name == one.fact)
    taken = stated.used - one.match.used
    for start, end in frame.clauses[number + 1 : number + 1 + _FARTHEST]:
        if not _speaks_of_now(frame, start, end=end):
            continue
        for held in _free(first, scan, span=range(start, end), taken=taken, lexicon=lexicon):
            used = range(held.start, held.end)
            topics = [one.fact]
            left = strangeness(frozenset(used), (), scan=scan, frame=frame, lexicon=lexicon, topics=topics)
            read = value_of(take, (held,), now=scan.now, fact=lexicon.facts[one.fact])
            if left <= _MOST_STRANGE and read is not None:
                yield replace(one, value=read, at=held.start, held=(held,), is_now=True)


def _free(first: Held, scan: Scan, *, span: range, taken: frozenset[int], lexicon: Lexicon) -> Iterator[Held]:
    """The numbers of the kind of the first in a clause that nothing else has read."""
    kind = first.name.split(" ", maxsplit=1)[0]
    for at in number_places(scan, lexicon):
        value = scan.value(kind, at) if at in span else None
        if value is not None and taken.isdisjoint(range(at, value.end)):
            yield Held(first.name, at, value.end, value)


def _speaks_of_now(frame: Frame, start: int, *, end: int) -> bool:
    """True for a clause that says now, or goes on with "it is", and states something."""
    words = frame.words[start:end]
    if frame.blocked(range(start, end)) - {"modal", "unsure"}:
        return False
    opens = next((at for at, word in enumerate(words) if word not in _OPENERS), 0)
    is_it = words[opens : opens + 1] == ("it",) and not _IT_IS.isdisjoint(words[opens + 1 : opens + 2])
    return is_it or not _NOW.isdisjoint(words)
