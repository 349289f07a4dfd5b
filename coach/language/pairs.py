"""The second of a pair, told by its name and its number alone: "left lamp 8 ft out, right one 12"."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from coach.language.clauses import Frame
from coach.language.clock import Clock
from coach.language.lexicon import Aboard, Lexicon, Pair
from coach.language.match import any_part, number_places
from coach.language.nodes import Part
from coach.language.quantities import Quantity
from coach.language.says import Said, Statements, value_of
from coach.language.scan import Held, Scan

_FARTHEST = 3
_WHO_LEAVES = frozenset({"we", "i", "they", "he", "she", "have", "has", "had", "just", "is"})
_ECHOES = frozenset({"same", "also", "too", "ditto", "likewise", "idem"})
_FARTHEST_BACK = 4
_IS = (":", "is", "was")
_SIDES = ("side", "end")
_NOT_A_SIDE = tuple((word,) for word in (
    "now", "at", "up", "under", "next", "by", "there", "in", "on", "here", "away", "beside", "against",
    "through", "over", "above", "down", "off", "across", "alongside", "below", "beneath", "before", "after",
    "along", "to", "about", "around", "behind", "ahead", "where", "when", "as",
))  # fmt: skip


def with_pairs(stated: Statements, scan: Scan, *, frame: Frame, lexicon: Lexicon) -> Statements:
    """The statements, and what the words behind them tell of the other of a pair."""
    told = {one.fact for one in stated.said}
    more = [
        second
        for one in stated.said
        if (pair := lexicon.pairs.get(one.fact)) is not None and pair.fact not in told
        for second in _second(one, pair, scan=scan, frame=frame, lexicon=lexicon, taken=stated.used)
    ]
    return replace(stated, said=(*stated.said, *more)) if more else stated


def of_one_side(stated: Statements, scan: Scan, *, frame: Frame, lexicon: Lexicon) -> Statements:
    """The statements, less what was said of both where only one was spoken of before: "right lamp clipped
    at 2, 8 ft out" tells of the right one alone."""
    dropped = {
        id(one) for one in stated.said if _is_of_the_other(one, stated, scan, frame=frame, lexicon=lexicon)
    }
    kept = tuple(one for one in stated.said if id(one) not in dropped)
    kept = tuple(_of_other_side(one, scan, frame=frame, lexicon=lexicon) for one in kept)
    kept = _halved(kept, scan, frame=frame, lexicon=lexicon)
    return replace(stated, said=kept)


def _of_other_side(one: Said, scan: Scan, *, frame: Frame, lexicon: Lexicon) -> Said:
    """A short answer about one side in a clause that names the other: "8, the right's 12"."""
    pair = lexicon.pairs.get(one.fact)
    is_single = one.match.phrase.asked is not None and len(one.match.phrase.meaning.facts) == 1
    if not is_single or pair is None or pair.fact not in lexicon.pairs:
        return one
    start, end = frame.clauses[frame.clause_of[one.at]]
    own = lexicon.pairs[pair.fact].named
    named = [
        part
        for part in (own, pair.named)
        if any(start <= at < end and _is_side(scan.words, at) for at, _ in any_part(scan, part))
    ]
    return replace(one, fact=pair.fact) if named == [pair.named] else one


def _halved(said: tuple[Said, ...], scan: Scan, *, frame: Frame, lexicon: Lexicon) -> tuple[Said, ...]:
    """Two values of one figure, each told beside another side: one for each, "left 10 depth, right 12"."""
    for whole, (one, other) in lexicon.halves.items():
        told = [each for each in said if each.fact == whole]
        if len({each.value for each in told}) < 2:
            continue
        names = (lexicon.pairs[other].named, lexicon.pairs[one].named)
        sides = [
            _last_named(each, scan, frame=frame, own=names[0], other=names[1], lexicon=lexicon)
            for each in told
        ]
        if None in sides or len({id(side) for side in sides}) < 2:
            continue
        new = {
            id(each): replace(each, fact=one if side is names[0] else other)
            for each, side in zip(told, sides, strict=True)
        }
        said = tuple(new.get(id(each), each) for each in said)
    return said


def _is_of_the_other(one: Said, stated: Statements, scan: Scan, *, frame: Frame, lexicon: Lexicon) -> bool:
    pair = lexicon.pairs.get(one.fact)
    of_match = {two.fact: two for two in stated.said if two.match is one.match}
    twin = of_match.get(pair.fact) if pair is not None else None
    slots = {(take.slot, take.second) for _, take in one.match.phrase.meaning.facts}
    if pair is None or twin is None or len(slots) > 1 or twin.fact not in lexicon.pairs:
        return False
    if any(scan.words[at] in lexicon.both for at in one.match.used):
        return False
    own = lexicon.pairs[twin.fact].named
    named = _last_named(one, scan, frame=frame, own=own, other=pair.named, lexicon=lexicon)
    if named is None and _is_of_either(
        scan.words[slice(*frame.clauses[frame.clause_of[one.at]])], lexicon.aboard
    ):
        return True
    if named is not None:
        return named is pair.named
    before = [
        other
        for two in stated.said
        if two.at < one.at and two.match is not one.match
        if (other := lexicon.pairs.get(two.fact)) is not None
    ]
    sides = {other.named for other in before}
    return len(sides) == 1 and own in sides and pair.named not in sides


def _is_of_either(words: tuple[str, ...], aboard: Aboard) -> bool:
    """ "One clip is at 3 the other at 5": nobody knows which is which."""
    near = list(pairwise(words))
    of_one = ("is", *aboard.lamp, *aboard.stands)
    is_other = "other" in words and any(first == "one" and second in of_one for first, second in near)
    return is_other or any(
        first in aboard.unclear and second in (*_SIDES, *aboard.lamp) for first, second in near
    )


def _last_named(
    one: Said, scan: Scan, *, frame: Frame, own: Part, other: Part, lexicon: Lexicon
) -> Part | None:
    """Which of the two its clause names, or the clause before where that one names none."""
    first = min(one.match.used)
    number = frame.clause_of[first]
    for clause in range(number, max(-1, number - _FARTHEST_BACK), -1):
        start, end = frame.clauses[clause]
        if not lexicon.both.isdisjoint(scan.words[start:end]):
            return None
        found = [
            (at, part)
            for part in (own, other)
            for at, _ in any_part(scan, part)
            if start <= at < end
            and _is_side(scan.words, at)
            and (clause == number or _is_lamp(scan.words, at, lexicon.aboard))
        ]
        before = [place for place in found if place[0] < first or place[0] in one.match.used]
        if before and clause == number:
            return max(before, key=lambda place: place[0])[1]
        if found:
            return found[0][1] if len({id(part) for _, part in found}) == 1 else None
    return None


def _is_lamp(words: tuple[str, ...], at: int, aboard: Aboard) -> bool:
    """True where a side stands for the lamp there: "left one", "left: ", "right clipped at"."""
    after = words[at + 1] if at + 1 < len(words) else ""
    return after in (*_IS, *aboard.lamp, *aboard.stands) or after[:1].isdigit()


def _is_side(words: tuple[str, ...], at: int) -> bool:
    """False for "right now", "right at the hull", "we left", and for "the other", which is of either."""
    if words[at] == "other" or (words[at] == "left" and words[at - 1 : at] and words[at - 1] in _WHO_LEAVES):
        return False
    opens = words[max(0, at - 1) : at] in ((), (",",), ("and",), ("left",), (";",)) and words[at + 2 : at + 3]
    if opens and words[at + 1] in ("at", "about") and words[at + 2][0].isdigit():
        return True
    return words[at] != "right" or words[at + 1 : at + 2] not in _NOT_A_SIDE


def _second(
    one: Said, pair: Pair, *, scan: Scan, frame: Frame, lexicon: Lexicon, taken: frozenset[int]
) -> Iterator[Said]:
    """The other's value, if its name and one number stand together behind the first."""
    first = next((held for held in one.held if isinstance(held.value, Quantity | Clock)), None)
    slots = {(take.slot, take.second) for _, take in one.match.phrase.meaning.facts}
    names = {name for name, _ in one.match.phrase.meaning.facts}
    if first is None or len(slots) > 1 or not names <= {one.fact, pair.fact}:
        return
    start = max(one.match.used) + 1
    end = _end_of_next(frame, start - 1)
    free = [at for at in number_places(scan, lexicon) if start <= at < end and at not in taken]
    places = [place for place in any_part(scan, pair.named) if start <= place[0] and place[1] <= end]
    for at in free:
        value = scan.value(_kind(first), at)
        if value is None or not any(_is_by(place, at, end=value.end) for place in places):
            continue
        held = Held(first.name, at, value.end, value)
        take = one.match.phrase.meaning.facts[0][1]
        read = value_of(take, (held,), now=scan.now, fact=lexicon.facts[pair.fact])
        if read is not None:
            yield replace(one, fact=pair.fact, value=read, at=at, held=(held,))
        return
    if any(_is_echoed(scan.words, place, end=end) for place in places):
        yield replace(one, fact=pair.fact, at=places[0][0])


def _is_echoed(words: tuple[str, ...], place: tuple[int, int], *, end: int) -> bool:
    """ "left 8 ft out, right the same": the other has what the first has."""
    near = words[max(0, place[0] - _FARTHEST) : min(end, place[1] + _FARTHEST)]
    return not _ECHOES.isdisjoint(near) and "not" not in near


def _kind(first: Held) -> str:
    """What to read: a rate's second number is a bare one ("40 per ten minutes, now 6")."""
    kind = first.name.split(" ", maxsplit=1)[0]
    return "number" if kind.startswith("per_") else kind


def _end_of_next(frame: Frame, at: int) -> int:
    """The end of the clause after that of word `at`, within the text."""
    number = frame.clause_of[at]
    return frame.clauses[min(number + 1, len(frame.clauses) - 1)][1]


def _is_by(place: tuple[int, int], at: int, *, end: int) -> bool:
    """True if a name stands close before a number or right after it."""
    return 0 <= at - place[1] <= _FARTHEST or 0 <= place[0] - end <= _FARTHEST - 1
