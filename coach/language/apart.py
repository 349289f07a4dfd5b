"""Words that speak together wherever they stand in a clause: "the lamp on the left leans"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from coach.language.nodes import PASSED, Part, ends_gap
from coach.language.scan import GAP, HARD, NUMBER, End, Held, Scan

REACH_WORDS = 7


@dataclass(frozen=True, slots=True, eq=True)
class Apart(Part):
    """Parts that stand in one clause in any order, up to seven words between. `firsts`: their first words."""

    parts: tuple[Part, ...]
    firsts: tuple[frozenset[str], ...]

    def ends(self, scan: Scan, at: int) -> Sequence[End]:
        """Every place where the last of the parts can end when one of them starts at word `at`."""
        return list(self._any_of(scan, at, rest=tuple(range(len(self.parts)))))

    def _any_of(self, scan: Scan, at: int, *, rest: tuple[int, ...]) -> Iterator[End]:
        """The ends if one of the parts `rest` stands at word `at` and the others behind it."""
        for number in rest:
            yield from self._from(scan, at, number=number, rest=tuple(one for one in rest if one != number))

    def _from(self, scan: Scan, at: int, *, number: int, rest: tuple[int, ...]) -> Iterator[End]:
        """The ends if part `number` stands at word `at` and the rest behind it."""
        word = scan.words[at]
        firsts = self.firsts[number]
        if word not in firsts and word not in PASSED and NUMBER not in firsts:
            return
        for end, held in self.parts[number].ends(scan, at):
            if not rest:
                yield end, held
            for later, more in self._behind(scan, end, rest=rest):
                yield later, (*held, *more)

    def _behind(self, scan: Scan, at: int, *, rest: tuple[int, ...]) -> Iterator[End]:
        for place in range(at, min(at + REACH_WORDS + 1, len(scan.words)) if rest else at):
            if scan.words[place] in HARD:
                return
            gap = (Held(GAP, at, place),) if place > at else ()
            for end, held in self._any_of(scan, place, rest=rest):
                yield end, (*gap, *held)
            if ends_gap(scan.words, place):
                return

    def starts(self) -> frozenset[str]:
        """The words any of the parts can start with."""
        return frozenset().union(*self.firsts)

    def needs(self) -> tuple[frozenset[str], ...]:
        """What each of the parts needs."""
        return tuple(one for part in self.parts for one in part.needs())
