"""The bank: every item that can be made of the rules, the calculators and the pictures, by id.

Making one takes a few milliseconds, so items are made when they are wanted and kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from coach import rulebook
from coach.apparatus import apparatus
from coach.consultation import Infer
from coach.model import Rulebook
from coach.plain import PlainEvaluator
from coach.rulebook.situations import Situation
from coach.school import deeds, duty, moments, nights, notes, numbers, pictured, signs
from coach.school.kitchen import Kitchen
from coach.school.parts import Item, School

Recipe = Callable[[int], Item | None]
"""Makes an item; the number says how often it was asked, and changes numbers only."""


class Bank:
    """All items of a school. Immutable but for a cache."""

    def __init__(self, kitchen: Kitchen) -> None:
        self.kitchen = kitchen
        self._recipes = _recipes(kitchen)
        self._made: dict[tuple[str, int], Item | None] = {}
        self._by_topic: dict[str, list[str]] = {}
        for name in self._recipes:
            self._by_topic.setdefault(_topic_of(name, kitchen), []).append(name)

    @property
    def ids(self) -> tuple[str, ...]:
        """Every id there may be an item for, in the order in which new ones come within a topic."""
        return tuple(self._recipes)

    def in_topic(self, topic: str) -> tuple[str, ...]:
        """The ids that belong to a topic; some of them may give no item."""
        return tuple(self._by_topic.get(topic, ()))

    def item(self, name: str, turn: int = 0) -> Item | None:
        """The item by its id; None where these rules do not give one. `turn` varies numbers only."""
        if name not in self._recipes:
            return None
        turn = turn if name.startswith("number/") else 0
        if (name, turn) not in self._made:
            self._made[name, turn] = self._recipes[name](turn)
        return self._made[name, turn]

    def all(self) -> tuple[Item, ...]:
        """Every item, made. Takes a few seconds."""
        return tuple(item for name in self.ids if (item := self.item(name)) is not None)


def bank_of(
    school: School, book: Rulebook, situations: Sequence[Situation], *, infer: Infer | None = None
) -> Bank:
    """The bank of a school; inference is the plain evaluator's unless another is given."""
    clauses = rulebook.clauses(book)
    infer = infer or PlainEvaluator(clauses).evaluate
    return Bank(Kitchen(school, apparatus(book), infer=infer, clauses=clauses, situations=situations))


def _recipes(kitchen: Kitchen) -> Mapping[str, Recipe]:
    made: dict[str, Recipe] = {}
    for drill in kitchen.school.drills:
        made[f"number/{drill.id}"] = lambda turn, drill=drill: numbers.number(drill, turn, kitchen)  # type: ignore[misc]
    for scene in kitchen.school.scenes:
        made[f"scene/{scene.id}"] = _still(pictured.scene, scene, kitchen)
    for step in range(len(kitchen.book.clearing)):
        made[f"clear/{step + 1}"] = _still(deeds.next_step, step, kitchen)
    for name, rules in kitchen.rules.items():
        made |= _of_rule(name, kitchen) if rules[0].fix_for is None else {}
    for pair in duty.hazard_pairs(kitchen):
        made[f"two-hazards/{'+'.join(pair)}"] = _still(duty.two_hazards, pair, kitchen)
    for cause in kitchen.doable:
        made[f"fix/{cause}"] = _still(deeds.fix, cause, kitchen)
        made[f"fix-for/{cause}"] = _still(deeds.fix_for, cause, kitchen)
    for case in kitchen.school.cases:
        for part in nights.STEPS:
            made[f"case/{case.id}/{part}"] = _still(nights.night, case, part, kitchen)
    return made


def _topic_of(name: str, kitchen: Kitchen) -> str:
    """The topic of an item that is not made yet."""
    school, (kind, what, *_) = kitchen.school, name.split("/")
    for group in (school.drills, school.scenes) if kind in ("number", "scene") else ():
        for entry in group:
            if entry.id == what:
                return entry.topic
    if kind == "case":
        return nights.topic_of(next(case for case in school.cases if case.id == what), kitchen)
    if kind in ("fix", "fix-for"):
        what = kitchen.slips.name_of(kitchen.doable[what].id)
    if kind == "clear":
        what = next(rule for rule, rules in kitchen.rules.items() if rules[0].hazard)
    return kitchen.topic_of(what.partition("+")[0]) or ""


def _of_rule(name: str, kitchen: Kitchen) -> dict[str, Recipe]:
    makers: dict[str, Callable[[str, Kitchen], Item | None]] = {
        "points": signs.points,
        "follows": moments.follows,
        "hazard": duty.hazard,
        "set": duty.set_up,
        "set-for": duty.set_for,
        "shows": signs.shows,
        "note-for": notes.note_for,
        "note-of": notes.note_of,
        "asks": notes.asks,
        "reason": notes.reason,
        "would": moments.would,
    }
    return {f"{kind}/{name}": _still(maker, name, kitchen) for kind, maker in makers.items()}


def _still(maker: Callable[..., Item | None], *given: object) -> Recipe:
    """A recipe without numbers of its own."""
    return lambda _: maker(*given)
