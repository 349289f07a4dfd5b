"""A rulebook as its checks look at it: by the captain's entries, with the place of everything."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path

from coach.apparatus import apparatus
from coach.model import Condition, Fault, Rule, Rulebook
from coach.rulebook.lines import Lines
from coach.rulebook.possible import Possibilities
from coach.rulebook.situations import written
from coach.worked_out import Figures

BLANK = re.compile(r"\{([^{}]*)\}")
"""A slot of a rule's text, whatever stands in it."""


_QUOTED = re.compile(r"""["']([a-z_0-9.]+)["']""")


@cache
def named_in_code() -> frozenset[str]:
    """Every name that the program's own text quotes: what the calculators, pictures and the core read.

    Looked up and not listed, so that nothing has to be kept in step.
    """
    package = Path(__file__).resolve().parent.parent
    texts = (path.read_text(encoding="utf-8") for path in package.rglob("*.py"))
    return frozenset(name for text in texts for name in _QUOTED.findall(text))


@dataclass(frozen=True)
class View:
    """One rulebook and the folder that it was read from."""

    book: Rulebook
    folder: Path
    _files: dict[str, Lines] = field(default_factory=dict)

    @cached_property
    def entries(self) -> Mapping[str, tuple[Rule, ...]]:
        """The rules by the captain's ids."""
        return written(self.book)

    @cached_property
    def figures(self) -> Figures:
        """What can be calculated."""
        return apparatus(self.book).figures

    @cached_property
    def possible(self) -> Possibilities:
        """What the rules can do."""
        return Possibilities(self.book, (each.gives for each in self.figures.sums))

    def fault(self, rule: Rule, wrong: str, do: str) -> Fault:
        """A fault of a rule, under the captain's id and at its line."""
        own = next(name for name, rules in self.entries.items() if rule in rules)
        return Fault(f"{self.folder.name}/{rule.file}", rule.line, f"rule '{own}'", wrong, do)

    def at(self, file: str, table: str, key: str | None = None) -> tuple[str, int]:
        """The file as told to a captain, and the line of a table or of a key in it."""
        if file not in self._files:
            self._files[file] = Lines((self.folder / file).read_text(encoding="utf-8"))
        return f"{self.folder.name}/{file}", self._files[file].of(table, 0, key)

    def tables(self, file: str) -> tuple[str, ...]:
        """The names of a file's tables."""
        return tuple(tomllib.loads((self.folder / file).read_text(encoding="utf-8")))

    def is_concluded(self, condition: Condition) -> bool:
        """Whether the condition is on what rules conclude."""
        return self.book.facts[condition.fact].origin == "concluded"

    def read_by_rules(self) -> set[str]:
        """Every fact in a condition or an exception."""
        return {c.fact for rule in self.book.rules for c in (*rule.when, *rule.unless)}
