"""What the word files say of facts that belong together: pairs, halves, what one opens or spoils."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from coach.language.entries import Entries, Report
from coach.language.lexicon import Pair
from coach.language.nodes import Part
from coach.language.sections import Sections
from coach.model import Scalar


class Linked:
    """Reads those tables, reporting what does not fit."""

    def __init__(
        self,
        sections: Sections,
        entries: Entries,
        *,
        report: Report,
        check_fact: Callable[[str, str], None],
        either: Callable[[str, list[str]], Part],
    ) -> None:
        self._sections = sections
        self._entries = entries
        self._report = report
        self._check_fact = check_fact
        self._either = either

    def fine_means(self) -> Iterator[tuple[str, bool]]:
        """What "all good" means for a fact."""
        for file, name, value in self._sections.table("fine_means"):
            self._check_fact(file, name)
            if isinstance(value, bool):
                yield name, value
            else:
                self._report(file, name, "is neither true nor false", "write true or false")

    def per_minutes(self) -> Iterator[tuple[str, float]]:
        """The minutes that a count of a fact is for."""
        for file, name, value in self._sections.table("per_minutes"):
            self._check_fact(file, name)
            if isinstance(value, int | float) and not isinstance(value, bool) and value > 0:
                yield name, float(value)
            else:
                self._report(file, name, "is no number of minutes", "write a number above 0")

    def opens(self) -> Iterator[tuple[str, frozenset[str]]]:
        """The facts whose short answers one fact opens."""
        for file, name, opened in self._sections.lists("opens"):
            for one in (name, *opened):
                self._check_fact(file, one)
            yield name, frozenset(opened)

    def spoiled_by(self) -> Iterator[tuple[str, tuple[tuple[str, Scalar], ...]]]:
        """What rules out a yes to several things at once."""
        for file, name, table in self._sections.table("spoiled_by"):
            self._check_fact(file, name)
            takes = self._entries.takes(file, table)
            yield name, tuple((one, take.value) for one, take in takes if take.value is not None)

    def pairs(self) -> Iterator[tuple[str, Pair]]:
        """The other fact of a pair and its names."""
        for file, name, listed in self._sections.lists("pairs"):
            other, *named = listed
            for one in (name, other):
                self._check_fact(file, one)
            yield name, Pair(other, self._either(file, named))

    def halves(self) -> Iterator[tuple[str, tuple[str, str]]]:
        """The two sides of a figure."""
        for file, name, listed in self._sections.lists("halves"):
            for one in (name, *listed):
                self._check_fact(file, one)
            if len(listed) == 2:
                yield name, (listed[0], listed[1])
            else:
                self._report(file, name, "is not a list of two facts", "name the left one and the right one")
