"""Finds the phrases of the lexicon in a text; where they compete, the longer and tighter one stands."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from coach.language.lexicon import Lexicon, Phrase
from coach.language.nodes import Part
from coach.language.quantities import Quantity
from coach.language.scan import GAP, NUMBER, PAUSES, SOFT, End, Held, Scan

_UNSPOKEN = SOFT | PAUSES
_SIGNS_OF_NUMBERS = frozenset({"~", "-", "+", "="})


@dataclass(frozen=True, slots=True)
class Match:
    """A phrase found in words `start` to before `end`; `used` are its own words, gaps left out.

    `is_doubtful`: a number it takes lies outside what its fact allows.
    """

    phrase: Phrase
    start: int
    end: int
    held: tuple[Held, ...]
    used: frozenset[int]
    is_doubtful: bool = False


def number_places(scan: Scan, lexicon: Lexicon) -> tuple[int, ...]:
    """The words a number may start at, hedges included."""
    return tuple(
        at
        for at, word in enumerate(scan.words)
        if word[0] in ".0123456789" or word in lexicon.starts_number or word in _SIGNS_OF_NUMBERS
    )


def find(scan: Scan, lexicon: Lexicon, *, topics: Collection[str]) -> list[Match]:
    """Every phrase found; those that only answer count if one of `topics` was asked."""
    return _found(scan, lexicon, indexes=[lexicon.by_word, *_indexes_of(lexicon, topics)])


def find_answers(scan: Scan, lexicon: Lexicon, *, topics: Collection[str]) -> list[Match]:
    """Only the phrases that answer one of `topics`."""
    return _found(scan, lexicon, indexes=_indexes_of(lexicon, topics))


def _indexes_of(lexicon: Lexicon, topics: Collection[str]) -> list[Mapping[str, tuple[int, ...]]]:
    return [lexicon.by_topic[topic] for topic in topics if topic in lexicon.by_topic]


def _found(scan: Scan, lexicon: Lexicon, *, indexes: Sequence[Mapping[str, tuple[int, ...]]]) -> list[Match]:
    places: dict[str, list[int]] = {}
    for at, word in enumerate(scan.words):
        places.setdefault(word, []).append(at)
    numbers = number_places(scan, lexicon)
    if numbers:
        places[NUMBER] = list(numbers)
    wanted: set[int] = set()
    for index in indexes:
        for word in places:
            wanted.update(index.get(word, ()))
    found: list[Match] = []
    for number in sorted(wanted):
        phrase = lexicon.phrases[number]
        if not any(need.isdisjoint(places) for need in phrase.needs):
            matches = _places_of(scan, phrase, places=places)
            found.extend(_weighed(one, lexicon) for one in matches if _is_within(one))
    return found


def _weighed(match: Match, lexicon: Lexicon) -> Match:
    """The match, marked if a number it takes is out of its fact's range."""
    if not match.held:
        return match
    by_name = {held.name: held.value.value for held in match.held if isinstance(held.value, Quantity)}
    for name, take in match.phrase.meaning.facts:
        limits = lexicon.facts[name].range
        number = by_name.get(take.slot)
        if (
            limits
            and number is not None
            and not take.second
            and not limits[0] <= take.sign * number <= limits[1]
        ):
            return replace(match, is_doubtful=True)
    return match


def _is_within(match: Match) -> bool:
    """False if a number taken lies outside the range its entry allows."""
    limits = match.phrase.meaning.within
    if limits is None:
        return True
    numbers = [held.value.value for held in match.held if isinstance(held.value, Quantity)]
    return all(limits[0] <= number <= limits[1] for number in numbers)


def _places_of(scan: Scan, phrase: Phrase, *, places: dict[str, list[int]]) -> Iterable[Match]:
    starts = {at for word in phrase.starts & places.keys() for at in places[word]}
    for at in sorted(starts):
        ends = phrase.part.ends(scan, at)
        if len(ends) == 1:
            yield _match(scan, phrase, start=at, end=ends[0])
        elif ends:
            yield max((_match(scan, phrase, start=at, end=end) for end in ends), key=_weight)


def _match(scan: Scan, phrase: Phrase, *, start: int, end: End) -> Match:
    skipped = {at for held in end[1] if held.name == GAP for at in range(held.start, held.end)}
    used = frozenset(
        at for at in range(start, end[0]) if at not in skipped and scan.words[at] not in _UNSPOKEN
    )
    return Match(phrase, start, end[0], end[1], used or frozenset({start}))


def _weight(match: Match) -> tuple[int, int]:
    return len(match.used), -(match.end - match.start)


def choose(found: Sequence[Match]) -> list[Match]:
    """The matches that stand: none inside a longer one, none that shares words and a fact with a better,
    none that a false friend of its own file claims."""
    friends = [match for match in found if match.phrase.meaning.is_nothing]
    kept: list[Match] = []
    for match in sorted((one for one in found if not one.phrase.meaning.is_nothing), key=_rank):
        if not any(_is_claimed(match, friend) for friend in friends) and not any(
            _loses(match, one) for one in kept
        ):
            kept.append(match)
    return sorted(kept, key=lambda one: (one.start, one.end))


def _is_claimed(match: Match, friend: Match) -> bool:
    """True if a false friend holds the match, or its first word, or as many of its words."""
    if friend.phrase.meaning.file != match.phrase.meaning.file or not match.used & friend.used:
        return False
    if match.used <= friend.used:
        return match.used < friend.used or match.phrase.asked is None
    opens = friend.start < match.start and min(match.used) in friend.used
    return not friend.used < match.used and (opens or len(match.used) <= len(friend.used))


def _rank(match: Match) -> tuple[bool, bool, int, bool, int, int, int]:
    """The loose last; the longer first, then the answer to what was asked, the tighter, what says more."""
    meaning = match.phrase.meaning
    says = len(meaning.facts) - bool(meaning.hint)
    return (
        match.phrase.loose,
        match.is_doubtful,
        -len(match.used),
        match.phrase.asked is None,
        match.end - match.start,
        -says,
        match.start,
    )


def _loses(match: Match, better: Match) -> bool:
    if match.phrase.loose and better.phrase.alone and better.phrase.asked is None:
        return match.used <= better.used
    if match.phrase.loose and (_takes_number_of(match, better) or _is_told_closely(match, better)):
        return True
    if match.is_doubtful and match.used & better.used:
        return True
    if match.used == better.used:
        is_answered = better.phrase.asked is not None and match.phrase.asked is None
        is_hint = bool(match.phrase.meaning.hint) and not better.phrase.meaning.hint
        return is_answered or is_hint or bool(_about(match) & _about(better))
    if match.used < better.used:
        return True
    return bool(match.used & better.used) and bool(_about(match) & _about(better))


def _is_told_closely(match: Match, better: Match) -> bool:
    """True if a phrase whose words stand together tells the same fact."""
    return not better.phrase.loose and bool(_about(match) & _about(better))


def _takes_number_of(match: Match, better: Match) -> bool:
    """True if both read the same number; one number says one thing."""
    return any(
        one.value is not None and other.value is not None and one.start < other.end and other.start < one.end
        for one in match.held
        for other in better.held
    )


def _about(match: Match) -> frozenset[str]:
    meaning = match.phrase.meaning
    names = {name for name, _ in meaning.facts} | {name for name, _ in meaning.denied}
    return frozenset(names | ({"#" + meaning.hint} if meaning.hint else set()))


def first_end(scan: Scan, part: Part, *, at: int) -> int | None:
    """The farthest place where a part that starts at word `at` ends; None if it is not there, or denied."""
    ends = (end for end, held in part.ends(scan, at) if not any(_is_denied(scan, one) for one in held))
    return max(ends, default=None)


def _is_denied(scan: Scan, held: Held) -> bool:
    return held.name == GAP and "not" in scan.words[held.start : held.end]


def any_part(scan: Scan, part: Part) -> list[tuple[int, int]]:
    """Every place (start, end) where a part is found in the text."""
    starts = part.starts()
    return [
        (at, stop)
        for at, word in enumerate(scan.words)
        if word in starts and (stop := first_end(scan, part, at=at)) is not None
    ]
