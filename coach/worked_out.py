"""Works out all sums in order: what follows from the facts by calculation.

The sums stand in `coach.sums`. What is missing for one is known from the names of its parameters, so
that a missing input can be asked for. A fact that people can tell may be worked out as well ("stands
in"); what they tell goes before it, and what stood in is noted under `STOOD_IN`.
"""

from __future__ import annotations

import inspect
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from coach.figures.rig import Rig
from coach.model import Fact, Scalar
from coach.sums import boat, circles, counts, height, power, row, sky, tide
from coach.sums.declare import DECLARED, Function

LAMPS = ("left", "right")
STOOD_IN = "facts.stood_in"
"""The names of the facts that were worked out though people could have told them, with blanks between."""
_LARGEST = 1e15
"""As far as inference takes numbers."""
_TOLD = "_told"
"""A parameter that ends so takes a fact only if it was told, never what stands in for it."""
MODULES = (height, circles, counts, row, tide, sky, power, boat)
"""Where the sums are declared."""


@dataclass(frozen=True, slots=True)
class Sum:
    """One figure: the fact it gives, the facts it must have, those it can do without (`told`: only as
    people told them), and those to ask for when it comes out as nothing."""

    gives: str
    needs: tuple[str, ...]
    uses: tuple[str, ...]
    told: tuple[str, ...]
    asks: tuple[str, ...]
    parameters: tuple[tuple[str, str], ...]
    function: Function
    stands_in: bool


@cache
def _rig(numbers: tuple[tuple[str, float], ...]) -> Rig:
    return Rig.from_numbers(dict(numbers))


class Figures:
    """All sums in an order in which each finds its inputs worked out. Immutable."""

    def __init__(self, facts: Mapping[str, Fact], numbers: Mapping[str, float]) -> None:
        """Raises ValueError if a sum gives or needs a fact that is not declared."""
        self.rig = _rig(tuple(numbers.items()))
        self.sums = _in_order(list(_sums(set(facts))))
        self._of = {each.gives: each for each in self.sums}
        self._asked = {name for name, fact in facts.items() if fact.origin == "asked"}
        self._downstream: dict[frozenset[str], tuple[Sum, ...]] = {}

    def work_out(self, facts: Mapping[str, Scalar], *, now: datetime) -> dict[str, Scalar]:
        """The facts with everything that follows from them by calculation."""
        stood: set[str] = set()
        known = self._run(self.sums, dict(facts), now, stood)
        return {**known, STOOD_IN: " ".join(sorted(stood))} if stood else known

    def again(
        self, known: Mapping[str, Scalar], changes: Mapping[str, Scalar], *, now: datetime
    ) -> dict[str, Scalar]:
        """What would be worked out otherwise if these facts were so: the changes and what follows."""
        names = frozenset(changes)
        stood = {name for name in str(known.get(STOOD_IN, "")).split() if name not in names}
        if names not in self._downstream:
            self._downstream[names] = tuple(self._reached(names))
        sums = self._downstream[names]
        if not sums:
            return dict(changes)
        made = self._run(sums, {**known, **changes}, now, stood)
        return {**changes, **{each.gives: made[each.gives] for each in sums if each.gives in made}}

    def missing(self, name: str, known: Collection[str], closed: Collection[str]) -> tuple[str, ...] | None:
        """The facts to ask for so that `name` can be worked out; None if one of them is `closed`."""
        wanted: list[str] = []
        return tuple(dict.fromkeys(wanted)) if self._want(name, known, closed, wanted) else None

    def behind(self, names: Collection[str]) -> tuple[str, ...]:
        """These figures and all figures that they are worked out from, in the order of working out."""
        found: set[str] = set()
        open_names = list(names)
        while open_names:
            name = open_names.pop()
            if name in self._of and name not in found:
                found.add(name)
                open_names += (*self._of[name].needs, *self._of[name].uses)
        return tuple(each.gives for each in self.sums if each.gives in found)

    def _want(self, name: str, known: Collection[str], closed: Collection[str], wanted: list[str]) -> bool:
        if name in known:
            return True
        if name in self._asked:
            wanted.append(name)
            return name not in closed
        if name not in self._of:
            return False
        each = self._of[name]
        needs = each.needs + (each.asks if not any(use in known for use in each.uses) else ())
        return bool(needs) and all(self._want(need, known, closed, wanted) for need in needs)

    def _run(
        self, sums: Iterable[Sum], known: dict[str, Scalar], now: datetime, stood: set[str]
    ) -> dict[str, Scalar]:
        """Add what the sums give to `known`, and to `stood` the names of what stands in."""
        for each in sums:
            if each.stands_in and each.gives in known:
                continue
            known.pop(each.gives, None)
            if all(need in known for need in each.needs):
                value = _value(each, self._arguments(each, known, now, stood))
                if value is not None and not _is_beyond_sense(value):
                    # rounded, so that 4.7 - 3.2 meets "at least 1.5"
                    known[each.gives] = round(value, 9) if isinstance(value, float) else value
                    stood |= {each.gives} if each.stands_in else set()
        return known

    def _arguments(
        self, each: Sum, known: Mapping[str, Scalar], now: datetime, stood: Collection[str]
    ) -> dict[str, Any]:
        given: dict[str, Any] = {}
        for parameter, fact in each.parameters:
            if fact == "rig":
                given[parameter] = self.rig
            elif fact == "now":
                given[parameter] = now
            elif fact in known and not (parameter.endswith(_TOLD) and fact in stood):
                given[parameter] = known[fact]
        return given

    def _reached(self, names: frozenset[str]) -> Iterable[Sum]:
        reached = set(names)
        for each in self.sums:
            if each.gives not in names and reached & {*each.needs, *each.uses, *each.told}:
                reached.add(each.gives)
                yield each


def _value(each: Sum, given: Mapping[str, Any]) -> Scalar | None:
    """What the sum comes to; nothing where an input lies beyond its calculator's limits."""
    try:
        return each.function(**given)
    except (ValueError, OverflowError):  # the calculator says that there is no such figure
        return None


def _is_beyond_sense(value: Scalar) -> bool:
    """Whether no rule can be asked about the figure: a ratio to next to nothing, say."""
    return isinstance(value, float) and not abs(value) <= _LARGEST


def _sums(declared: set[str]) -> Iterable[Sum]:
    named = {name.replace(".", "_"): name for name in declared}
    for each in DECLARED:
        for lamp in LAMPS if each.name.startswith("lamp.") else ("",):
            full = each.name.replace("lamp.", f"{lamp}.", 1) if lamp else each.name
            if full not in declared:
                raise ValueError(f"'{full}' is worked out but not declared in worked_out.toml")
            yield _sum(full, each.function, lamp, named, asks=each.asks, stands_in=each.stands_in)


def _sum(
    full: str,
    function: Function,
    lamp: str,
    named: Mapping[str, str],
    *,
    asks: tuple[str, ...],
    stands_in: bool,
) -> Sum:
    needs: list[str] = []
    uses: list[str] = []
    told: list[str] = []
    parameters: list[tuple[str, str]] = []
    for parameter in inspect.signature(function).parameters.values():
        fact = _fact_of(parameter.name.removesuffix(_TOLD), lamp, named)
        parameters.append((parameter.name, fact))
        if parameter.name.endswith(_TOLD):
            told.append(fact)
        elif fact not in ("rig", "now"):
            (needs if parameter.default is parameter.empty else uses).append(fact)
    return Sum(full, tuple(needs), tuple(uses), tuple(told), asks, tuple(parameters), function, stands_in)


def _fact_of(parameter: str, lamp: str, named: Mapping[str, str]) -> str:
    if parameter in ("rig", "now"):
        return parameter
    spelled = parameter.replace("_lamp_", f"_{lamp}_") if lamp else parameter
    if lamp and spelled.startswith("lamp_"):
        spelled = f"{lamp}_" + spelled.removeprefix("lamp_")
    if spelled not in named:
        raise ValueError(f"a calculation needs '{spelled}', which no fact is called")
    return named[spelled]


def _in_order(sums: list[Sum]) -> tuple[Sum, ...]:
    """Each sum after those that give its inputs."""
    made = {each.gives for each in sums}
    ordered: list[Sum] = []
    while sums:
        pending = {each.gives for each in sums}
        ready = [each for each in sums if not pending & {*each.needs, *each.uses} - {each.gives}]
        if not ready:
            raise ValueError(f"calculations wait for each other: {', '.join(sorted(pending & made))}")
        ordered += ready
        sums = [each for each in sums if each not in ready]
    return tuple(ordered)
