"""What follows from the facts by calculation: the computed facts that rules may use.

Each function here works out one computed fact. Its parameters are named after the facts it needs,
with a low line for the dot (`water_depth_ft` is the fact water.depth_ft), so what is missing for
a figure is known by itself, and a missing input can be asked for. Names with "lamp" in them stand
for the left and the right lamp in turn. A parameter with a default can be done without. The numbers
of the trade come in as `rig`; nothing here holds one.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from coach.figures.binomial import two_sided_p
from coach.figures.counts import rate_drop
from coach.figures.lamp import clip_height_ft as clip_for_depth_ft
from coach.figures.lamp import hang, high_above_sum_ft
from coach.figures.light import centre_gap_ft, circle_of_secchi, circle_of_word, hull_gap_ft
from coach.figures.rig import Rig
from coach.model import Fact, Scalar

LAMPS = ("left", "right")
COUNTED_MIN = 10.0
_LARGEST = 1e15
"""As far as inference takes numbers."""
_ABOVE = ("boat", "anchor_line")

Function = Callable[..., Scalar | None]


@dataclass(frozen=True, slots=True)
class Sum:
    """One figure: the fact it gives, the facts it must have, those it can do without, and those
    to ask for when it comes out as nothing."""

    gives: str
    needs: tuple[str, ...]
    uses: tuple[str, ...]
    asks: tuple[str, ...]
    parameters: tuple[tuple[str, str], ...]
    function: Function


_DECLARED: list[tuple[str, tuple[str, ...], Function]] = []


def gives(name: str, *, asks: tuple[str, ...] = ()) -> Callable[[Function], Function]:
    """Declare that the function works out the fact `name`; `asks` is what to ask if it cannot."""

    def declare(function: Function) -> Function:
        _DECLARED.append((name, asks, function))
        return function

    return declare


# --- the height of a lamp ------------------------------------------------------------------------


@gives("lamp.depth_ft", asks=("water.depth_ft",))
def depth_ft(water_depth_lamp_ft: float | None = None, water_depth_ft: float | None = None) -> float | None:
    """Depth under this lamp [ft]; the depth under the boat stands in where it is not known."""
    return water_depth_lamp_ft if water_depth_lamp_ft is not None else water_depth_ft


@gives("lamp.clip_advised_ft")
def clip_advised_ft(lamp_depth_ft: float, rig: Rig) -> float | None:
    """The sum's clip height for this lamp's depth [ft]; none where the sum has none."""
    return clip_for_depth_ft(lamp_depth_ft, rig)


@gives("lamp.lamp_depth_ft")
def lamp_depth_ft(lamp_depth_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """How deep the lamp hangs now [ft]."""
    return hang(lamp_depth_ft, lamps_clip_lamp_ft, rig).lamp_depth_ft


@gives("lamp.dark_band_ft")
def dark_band_ft(lamp_depth_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """Dark water above the light now [ft]."""
    return hang(lamp_depth_ft, lamps_clip_lamp_ft, rig).dark_band_ft


@gives("lamp.under_path_ft")
def under_path_ft(lamp_depth_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """Dark water beneath the light now [ft]."""
    return hang(lamp_depth_ft, lamps_clip_lamp_ft, rig).under_path_ft


@gives("lamp.under_over_dark_ft")
def under_over_dark_ft(lamp_dark_band_ft: float, lamp_under_path_ft: float) -> float:
    """By how much the under-path is thicker than the dark band [ft]."""
    return lamp_under_path_ft - lamp_dark_band_ft


@gives("lamp.too_high_ft")
def too_high_ft(lamp_depth_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float | None:
    """How far above the sum the lamp is clipped now [ft]; negative: below it."""
    return high_above_sum_ft(lamp_depth_ft, lamps_clip_lamp_ft, rig)


@gives("level.change_ft", asks=("tide.fall_since_set_ft",))
def level_change_ft(
    tide_fall_since_set_ft: float | None = None, tide_state: str | None = None
) -> float | None:
    """Fall since the lamps were set [ft]; where there is no tide the level stands."""
    if tide_fall_since_set_ft is not None:
        return tide_fall_since_set_ft
    return 0.0 if tide_state == "none" else None


@gives("lamp.depth_when_set_ft")
def depth_when_set_ft(lamp_depth_ft: float, level_change_ft: float) -> float | None:
    """Depth under this lamp when it was set [ft]; none where the fall would leave no water."""
    depth = lamp_depth_ft + level_change_ft
    return depth if 0.5 <= depth <= 60 else None


@gives("lamp.too_high_when_set_ft")
def too_high_when_set_ft(
    lamp_depth_when_set_ft: float,
    lamps_clip_lamp_ft: float,
    rig: Rig,
    lamp_too_high_ft: float | None = None,
    lamps_hung_from: str | None = None,
) -> float | None:
    """How far above the sum the lamp was clipped when it was set [ft].

    A lamp hung from above keeps its depth, and so does its distance from the sum.
    """
    if lamps_hung_from in _ABOVE:
        return lamp_too_high_ft
    return high_above_sum_ft(lamp_depth_when_set_ft, lamps_clip_lamp_ft, rig)


@gives("lamp.lamp_depth_when_set_ft")
def lamp_depth_when_set_ft(lamp_depth_when_set_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """How deep the lamp hung when it was set [ft]."""
    return hang(lamp_depth_when_set_ft, lamps_clip_lamp_ft, rig).lamp_depth_ft


@gives("lamp.dark_band_when_set_ft")
def dark_band_when_set_ft(lamp_depth_when_set_ft: float, lamps_clip_lamp_ft: float, rig: Rig) -> float:
    """Dark water above the light when the lamp was set [ft]."""
    return hang(lamp_depth_when_set_ft, lamps_clip_lamp_ft, rig).dark_band_ft


@gives("lamps.highest_ft")
def highest_ft(left_too_high_ft: float | None = None, right_too_high_ft: float | None = None) -> float | None:
    """How far above the sum the higher lamp is clipped now [ft]."""
    return max(_known(left_too_high_ft, right_too_high_ft), default=None)


@gives("lamps.lowest_ft")
def lowest_ft(left_too_high_ft: float | None = None, right_too_high_ft: float | None = None) -> float | None:
    """How far above the sum the lower lamp is clipped now [ft]."""
    return min(_known(left_too_high_ft, right_too_high_ft), default=None)


@gives("lamps.highest_when_set_ft")
def highest_when_set_ft(
    left_too_high_when_set_ft: float | None = None, right_too_high_when_set_ft: float | None = None
) -> float | None:
    """How far above the sum the higher lamp was clipped when set [ft]."""
    return max(_known(left_too_high_when_set_ft, right_too_high_when_set_ft), default=None)


@gives("lamps.lowest_when_set_ft")
def lowest_when_set_ft(
    left_too_high_when_set_ft: float | None = None, right_too_high_when_set_ft: float | None = None
) -> float | None:
    """How far above the sum the lower lamp was clipped when set [ft]."""
    return min(_known(left_too_high_when_set_ft, right_too_high_when_set_ft), default=None)


# --- the circles ---------------------------------------------------------------------------------


@gives("lamps.circle_ft", asks=("water.clarity",))
def circle_ft(
    rig: Rig, water_secchi_ft: float | None = None, water_clarity: str | None = None
) -> float | None:
    """Width of a lit circle in this water [ft]."""
    if water_secchi_ft is not None:
        return circle_of_secchi(water_secchi_ft, rig).value
    return None if water_clarity is None else circle_of_word(water_clarity, rig).value


@gives("lamps.centre_gap_ft")
def gap_ft(lamps_apart_ft: float, lamps_circle_ft: float) -> float:
    """Dark water between the two circles [ft]; negative: overlap."""
    return centre_gap_ft(lamps_apart_ft, lamps_circle_ft, circle_right_ft=lamps_circle_ft)


@gives("lamp.hull_gap_ft")
def lamp_hull_gap_ft(lamps_out_lamp_ft: float, lamps_circle_ft: float) -> float:
    """Dark water between this circle and the hull [ft]; negative: the circle runs under her."""
    return hull_gap_ft(lamps_out_lamp_ft, lamps_circle_ft)


@gives("lamps.reach_difference_ft")
def reach_difference_ft(lamps_out_left_ft: float, lamps_out_right_ft: float) -> float:
    """How much farther out one lamp stands than the other [ft]."""
    return abs(lamps_out_left_ft - lamps_out_right_ft)


# --- counts --------------------------------------------------------------------------------------


@gives("crew.lifted")
def lifted(crew_bow_count: float, crew_stern_count: float) -> float:
    """What both dippers lifted."""
    return crew_bow_count + crew_stern_count


@gives("crew.bow_share")
def bow_share(crew_bow_count: float, crew_lifted: float) -> float | None:
    """The bow's share of the counts, 0 to 1; none where nothing was lifted."""
    return crew_bow_count / crew_lifted if crew_lifted else None


@gives("crew.share_p")
def share_p(crew_bow_count: float, crew_lifted: float) -> float | None:
    """Two-sided exact binomial p that luck alone splits the counts so; null share one half."""
    if not crew_lifted or not (crew_bow_count.is_integer() and crew_lifted.is_integer()):
        return None
    return two_sided_p(int(crew_bow_count), int(crew_lifted), 0.5)


@gives("catch.kept_share")
def kept_share(catch_before_per_10min: float, catch_now_per_10min: float) -> float | None:
    """The catch now as a part of the catch before; none where nothing was caught before."""
    return catch_now_per_10min / catch_before_per_10min if catch_before_per_10min else None


@gives("catch.drop_p")
def drop_p(catch_before_per_10min: float, catch_now_per_10min: float) -> float | None:
    """Two-sided conditional test that both ten minutes came from one rate."""
    before, now = round(catch_before_per_10min), round(catch_now_per_10min)
    if before + now > 5000:
        return None
    return rate_drop(before, COUNTED_MIN, now_count=now, now_min=COUNTED_MIN).p_value


@gives("tide.minutes_to_low")
def minutes_to_low(tide_low_at: str, now: datetime) -> float | None:
    """Minutes until low water; none once it is past."""
    minutes = (datetime.fromisoformat(tide_low_at) - now).total_seconds() / 60
    return minutes if 0 <= minutes <= 1440 else None


def _known(*values: float | None) -> list[float]:
    return [value for value in values if value is not None]


# --- working it all out --------------------------------------------------------------------------


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
        return self._run(self.sums, dict(facts), now)

    def again(
        self, known: Mapping[str, Scalar], changes: Mapping[str, Scalar], *, now: datetime
    ) -> dict[str, Scalar]:
        """What would be worked out otherwise if these facts were so: the changes and what follows."""
        names = frozenset(changes)
        if names not in self._downstream:
            self._downstream[names] = tuple(self._reached(names))
        sums = self._downstream[names]
        if not sums:
            return dict(changes)
        made = self._run(sums, {**known, **changes}, now)
        return {**changes, **{each.gives: made[each.gives] for each in sums if each.gives in made}}

    def missing(self, name: str, known: Collection[str], closed: Collection[str]) -> tuple[str, ...] | None:
        """The facts to ask for so that `name` can be worked out; None if one of them is `closed`."""
        wanted: list[str] = []
        return tuple(dict.fromkeys(wanted)) if self._want(name, known, closed, wanted) else None

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

    def _run(self, sums: Iterable[Sum], known: dict[str, Scalar], now: datetime) -> dict[str, Scalar]:
        for each in sums:
            known.pop(each.gives, None)
            if all(need in known for need in each.needs):
                value = each.function(**self._arguments(each, known, now))
                if value is not None and not _is_beyond_sense(value):
                    # rounded, so that 4.7 - 3.2 meets "at least 1.5"
                    known[each.gives] = round(value, 9) if isinstance(value, float) else value
        return known

    def _arguments(self, each: Sum, known: Mapping[str, Scalar], now: datetime) -> dict[str, Any]:
        given: dict[str, Any] = {}
        for parameter, fact in each.parameters:
            if fact == "rig":
                given[parameter] = self.rig
            elif fact == "now":
                given[parameter] = now
            elif fact in known:
                given[parameter] = known[fact]
        return given

    def _reached(self, names: frozenset[str]) -> Iterable[Sum]:
        reached = set(names)
        for each in self.sums:
            if each.gives not in names and reached & {*each.needs, *each.uses}:
                reached.add(each.gives)
                yield each


def _is_beyond_sense(value: Scalar) -> bool:
    """Whether no rule can be asked about the figure: a ratio to next to nothing, say."""
    return isinstance(value, float) and not abs(value) <= _LARGEST


def _sums(declared: set[str]) -> Iterable[Sum]:
    named = {name.replace(".", "_"): name for name in declared}
    for name, asks, function in _DECLARED:
        for lamp in LAMPS if name.startswith("lamp.") else ("",):
            needs: list[str] = []
            uses: list[str] = []
            parameters: list[tuple[str, str]] = []
            for parameter in inspect.signature(function).parameters.values():
                fact = _fact_of(parameter.name, lamp, named)
                parameters.append((parameter.name, fact))
                if fact not in ("rig", "now"):
                    (needs if parameter.default is parameter.empty else uses).append(fact)
            full = name.replace("lamp.", f"{lamp}.", 1) if lamp else name
            if full not in declared:
                raise ValueError(f"'{full}' is worked out but not declared in worked_out.toml")
            yield Sum(full, tuple(needs), tuple(uses), asks, tuple(parameters), function)


def _fact_of(parameter: str, lamp: str, named: Mapping[str, str]) -> str:
    if parameter in ("rig", "now"):
        return parameter
    spelled = parameter.replace("_lamp_", f"_{lamp}_")
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
