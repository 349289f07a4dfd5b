"""Everything that is prepared once from a rulebook: figures, scales, planner, lexicon."""

from __future__ import annotations

from dataclasses import dataclass

from coach.diagnosis import Scales
from coach.language.lexicon import Lexicon
from coach.model import Rulebook
from coach.plain import PlainEvaluator
from coach.questions import Planner
from coach.rulebook import clauses
from coach.worked_out import Figures

_KEPT = 4
_prepared: dict[int, tuple[Rulebook, Apparatus]] = {}


@dataclass(frozen=True, slots=True)
class Apparatus:
    """The tools of one rulebook. Immutable but for caches inside them."""

    book: Rulebook
    figures: Figures
    scales: Scales
    planner: Planner
    lexicon: Lexicon


def apparatus(book: Rulebook) -> Apparatus:
    """The tools for this rulebook; made on first use and kept for the few latest rulebooks."""
    found = _prepared.get(id(book))
    if found is not None and found[0] is book:
        return found[1]
    made = _make(book)
    while len(_prepared) >= _KEPT:
        _prepared.pop(next(iter(_prepared)))
    _prepared[id(book)] = (book, made)
    return made


def _make(book: Rulebook) -> Apparatus:
    figures = Figures(book.facts, book.numbers)
    planner = Planner(book, figures, PlainEvaluator(clauses(book)))
    return Apparatus(book, figures, Scales(book), planner, book.lexicon)
