"""The parts a phrase is made of, and how each is found in a text.

A part tells where it can end when it starts at a given word. A comma may stand where the phrase
has one or may have an "and"; nothing reaches over the end of a sentence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from coach.language.clock import Clock
from coach.language.quantities import Quantity
from coach.language.scan import BORDERS, GAP, HARD, NUMBER, PAUSES, SOFT, End, Held, Scan, is_so_far

GAP_WORDS = 4
PASSED = SOFT | {"not"}
_GAP_ENDS = BORDERS | SOFT | PAUSES


def ends_gap(words: Sequence[str], at: int) -> bool:
    """True for a word that a gap does not reach over."""
    return words[at] in _GAP_ENDS and not is_so_far(words, at)


class Part:
    """One part of a phrase. `first`: the words it can start with (empty if it can be left out)."""

    __slots__ = ()

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        """Every place where this part can end when it starts at word `at`."""
        raise NotImplementedError

    def starts(self) -> frozenset[str]:
        """The words this part can start with."""
        raise NotImplementedError

    def needs(self) -> tuple[frozenset[str], ...]:
        """Sets of words of each of which one must be in the text; none if nothing is sure."""
        raise NotImplementedError

    def can_be_empty(self) -> bool:
        """True if this part may take no word at all."""
        return False


@dataclass(frozen=True, slots=True, eq=True)
class Words(Part):
    """One word out of some."""

    words: frozenset[str]

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        words = scan.words
        if at < len(words) and words[at] in self.words:
            return ((at + 1, ()),)
        if at >= len(words) or words[at] not in PASSED:
            return ()
        place = scan.after_soft(at)
        if place >= len(words) or words[place] not in self.words:
            return ()
        return ((place + 1, (Held(GAP, at, place),)),)

    def starts(self) -> frozenset[str]:
        return self.words

    def needs(self) -> tuple[frozenset[str], ...]:
        return (self.words,)


class Blank(Part):
    """A part without words of its own, so that nothing is known of how it starts."""

    __slots__ = ()

    def starts(self) -> frozenset[str]:
        return frozenset()

    def needs(self) -> tuple[frozenset[str], ...]:
        return ()

    def can_be_empty(self) -> bool:
        return True


@dataclass(frozen=True, slots=True, eq=True)
class Pause(Blank):
    """A comma, or none."""

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        has_pause = at < len(scan.words) and scan.words[at] in PAUSES
        return ((at + 1, ()), (at, ())) if has_pause else ((at, ()),)


@dataclass(frozen=True, slots=True, eq=True)
class Row(Part):
    """Parts one after another."""

    parts: tuple[Part, ...]

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        states: list[End] = [(at, ())]
        for part in self.parts:
            states = [
                (end, (*held, *more) if more else held)
                for place, held in states
                for end, more in part.ends(scan, place)
            ]
            if not states:
                return ()
        return states

    def starts(self) -> frozenset[str]:
        found: set[str] = set()
        for part in self.parts:
            found |= part.starts()
            if not part.can_be_empty():
                break
        return frozenset(found)

    def needs(self) -> tuple[frozenset[str], ...]:
        return tuple(one for part in self.parts for one in part.needs())

    def can_be_empty(self) -> bool:
        return all(part.can_be_empty() for part in self.parts)


@dataclass(frozen=True, slots=True, eq=True)
class Either(Part):
    """One of several. What it starts with and needs is worked out once for all phrases it stands in."""

    options: tuple[Part, ...]
    _starts: list[frozenset[str]] = field(default_factory=list, compare=False, repr=False)
    _needs: list[tuple[frozenset[str], ...]] = field(default_factory=list, compare=False, repr=False)
    _empty: list[bool] = field(default_factory=list, compare=False, repr=False)

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        return [end for option in self.options for end in option.ends(scan, at)]

    def starts(self) -> frozenset[str]:
        if not self._starts:
            self._starts.append(frozenset().union(*(option.starts() for option in self.options)))
        return self._starts[0]

    def needs(self) -> tuple[frozenset[str], ...]:
        if not self._needs:
            each = [option.needs() for option in self.options]
            self._needs.append((frozenset().union(*(rarest(one) for one in each)),) if all(each) else ())
        return self._needs[0]

    def can_be_empty(self) -> bool:
        if not self._empty:
            self._empty.append(any(option.can_be_empty() for option in self.options))
        return self._empty[0]


@dataclass(frozen=True, slots=True, eq=True)
class Maybe(Part):
    """A part that may be left out."""

    part: Part

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        return (*self.part.ends(scan, at), (at, ()))

    def starts(self) -> frozenset[str]:
        return self.part.starts()

    def needs(self) -> tuple[frozenset[str], ...]:
        return ()

    def can_be_empty(self) -> bool:
        return True


@dataclass(frozen=True, slots=True, eq=True)
class Gap(Blank):
    """Up to four words of any kind, never over the border of a clause."""

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        found: list[End] = []
        for end in range(at, min(at + GAP_WORDS, len(scan.words) - 1) + 1):
            if scan.words[end] in HARD:
                break
            found.append((end, (Held(GAP, at, end),) if end > at else ()))
            if ends_gap(scan.words, end):
                break
        return found


@dataclass(frozen=True, slots=True, eq=True)
class Slot(Part):
    """A quantity or a time. `name` tells two of one kind apart; `needs_unit`: a bare number won't do."""

    kind: str
    name: str
    needs_unit: bool = False

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        while at < len(scan.words) and scan.words[at] in (":", "=", '"'):
            at += 1
        value = scan.value(self.kind, at)
        if value is None:
            return ()
        if isinstance(value, Quantity) and (value.is_part or (self.needs_unit and not value.has_unit)):
            return ()
        if isinstance(value, Clock) and self.needs_unit and value.is_bare:
            return ()
        return ((value.end, (Held(self.name, at, value.end, value),)),)

    def starts(self) -> frozenset[str]:
        return _NUMBER_ONLY

    def needs(self) -> tuple[frozenset[str], ...]:
        return (_NUMBER_ONLY,)


@dataclass(slots=True, eq=False)
class Named(Part):
    """A word class such as @others; what it finds is remembered for the text."""

    name: str
    classes: Mapping[str, Part]
    _starts: frozenset[str] | None = None
    _needs: tuple[frozenset[str], ...] | None = None

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        key = (self.name, at)
        if key not in scan.memo:
            scan.memo[key] = tuple(dict.fromkeys(self.classes[self.name].ends(scan, at)))
        return scan.memo[key]

    def starts(self) -> frozenset[str]:
        if self._starts is None:
            self._starts = self.classes[self.name].starts()
        return self._starts

    def needs(self) -> tuple[frozenset[str], ...]:
        if self._needs is None:
            self._needs = self.classes[self.name].needs()
        return self._needs

    def can_be_empty(self) -> bool:
        return self.classes[self.name].can_be_empty()


_NUMBER_ONLY = frozenset({NUMBER})
_COMMON = frozenset({
    "a", "an", "the", "is", "are", "was", "were", "be", "been", "am", "has", "have", "had", "do", "does",
    "did", "it", "we", "i", "you", "they", "she", "he", "that", "this", "there", "of", "in", "on", "at",
    "to", "for", "with", "by", "from", "up", "down", "out", "off", "over", "under", "no", "not", "and",
    "or", "but", "so", "as", "all", "any", "one", "two", "some", "just", "still", "now", "here", "my",
    "our", "us", "me", "them", "its", "then", "than", "too", "very", "more", "most", "much", "many",
    "got", "get", "going", "go", "s", "left", "right", "lamp", "lamps", "water", "boat", "light",
    "catch", "net", "bow", "stern", "nothing", "none",
})  # fmt: skip


def rarest(needs: Sequence[frozenset[str]]) -> frozenset[str]:
    """The set that fewest texts meet."""
    return min(needs, key=commonness, default=frozenset())


@lru_cache(maxsize=16384)
def commonness(words: frozenset[str]) -> float:
    """How often one of these words turns up: the lower, the better a phrase is found by them."""
    return sum(30.0 if word in _COMMON else 40.0 if word == NUMBER else 1.0 for word in words)
