"""The school's own sums: what a learner works out in the head, by the calculators of the coach.

Each is called with the numbers of a drill (facts, with all that is worked out from them, and inputs) and
gives None where it cannot be worked out. `says` is how a wrong answer is told: "that is ...".
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from coach.clearing import minutes_for
from coach.figures.binomial import two_sided_p
from coach.figures.power import battery_hours, hours_at_current
from coach.figures.rig import Rig
from coach.figures.tide import hours_for_change
from coach.model import Rulebook, Scalar

Known = Mapping[str, Scalar]
_LAMPS = ("left", "right")


@dataclass(frozen=True, slots=True)
class Sum:
    """A sum of the school: what its result is called, and the function."""

    says: str
    function: Callable[[Known, Rulebook, Rig], float | None]


SUMS: dict[str, Sum] = {}


def _gives(name: str, says: str) -> Callable[[Any], Any]:
    def declare(function: Callable[[Known, Rulebook, Rig], float | None]) -> Any:
        SUMS[f"sum.{name}"] = Sum(says, function)
        return function

    return declare


def worked(name: str, known: Known, book: Rulebook, rig: Rig) -> float | None:
    """The sum's result, or a known figure; None where there is none."""
    if name in SUMS:
        try:
            return SUMS[name].function(known, book, rig)
        except (KeyError, ValueError, ZeroDivisionError):
            return None
    value = known.get(name)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _of(known: Known, name: str) -> float:
    return float(known[name])


# --- the tide ----------------------------------------------------------------------------------------------


@_gives("hours_to_fall", "the time until the lamp is due")
def _hours_to_fall(known: Known, book: Rulebook, rig: Rig) -> float:
    """Hours [h] from high water until the level is down by the slack, by the cosine rule."""
    del book
    return hours_for_change(_of(known, "range_ft"), _of(known, "duration_h"), change_ft=rig.reclip_slack_ft)


@_gives("hours_even_fall", "the time if the water fell evenly; but a tide starts slowly")
def _hours_even_fall(known: Known, book: Rulebook, rig: Rig) -> float:
    """The same if the water fell evenly."""
    del book
    return _of(known, "duration_h") * rig.reclip_slack_ft / _of(known, "range_ft")


@_gives("fall_mid_hour_ft", "the fall in the hour around half tide")
def _fall_mid_hour_ft(known: Known, book: Rulebook, rig: Rig) -> float:
    """Fall [ft] in the hour around half tide: what has changed half an hour after it, twice over."""
    del book, rig
    whole, hours = _of(known, "range_ft"), _of(known, "duration_h")
    low, high = 0.0, whole
    for _ in range(60):  # the change at which half an hour more than half the time has gone
        middle = (low + high) / 2
        late = hours_for_change(whole, hours, change_ft=middle) >= hours / 2 + 0.5
        low, high = (low, middle) if late else (middle, high)
    return 2 * (low - whole / 2)


@_gives("fall_even_hour_ft", "an hour's even share; but around half tide it runs fastest")
def _fall_even_hour_ft(known: Known, book: Rulebook, rig: Rig) -> float:
    """Fall [ft] in an hour if the water fell evenly."""
    del book, rig
    return _of(known, "range_ft") / _of(known, "duration_h")


# --- the band and the circles ------------------------------------------------------------------------------


@_gives("depth_less_band_ft", "the depth less the whole band; but only half of it lies above the lamp")
def _depth_less_band_ft(known: Known, book: Rulebook, rig: Rig) -> float:
    """Lamp depth [ft] less the whole lit band."""
    del book
    return _of(known, "left.lamp_depth_ft") - rig.lit_band_ft


@_gives("clip_less_band_ft", "the clip height less the whole band; but only half of it lies below the lamp")
def _clip_less_band_ft(known: Known, book: Rulebook, rig: Rig) -> float:
    """Clip height [ft] less the whole lit band."""
    del book
    return _of(known, "lamps.clip_left_ft") - rig.lit_band_ft


@_gives(
    "apart_less_two_circles_ft",
    "what is left if two whole circles lay between the lamps; only a half of each does",
)
def _apart_less_two_ft(known: Known, book: Rulebook, rig: Rig) -> float:
    """Distance [ft] less two circles."""
    del book, rig
    return _of(known, "lamps.apart_ft") - 2 * _of(known, "lamps.circle_ft")


@_gives("apart_less_half_circle_ft", "what is left if only one half circle lay between the lamps; two do")
def _apart_less_half_ft(known: Known, book: Rulebook, rig: Rig) -> float:
    """Distance [ft] less half a circle."""
    del book, rig
    return _of(known, "lamps.apart_ft") - _of(known, "lamps.circle_ft") / 2


@_gives("out_less_circle_ft", "the reach less a whole circle; only half of it reaches towards the hull")
def _out_less_circle_ft(known: Known, book: Rulebook, rig: Rig) -> float:
    """Reach [ft] less a whole circle."""
    del book, rig
    return _of(known, "lamps.out_left_ft") - _of(known, "lamps.circle_ft")


@_gives(
    "half_reach_difference_ft",
    "half of the difference; that only meets half way, and one lamp still stands too far out",
)
def _half_reach_ft(known: Known, book: Rulebook, rig: Rig) -> float:
    """Half of the difference in reach [ft]."""
    del book, rig
    return _of(known, "lamps.reach_difference_ft") / 2


# --- counts ------------------------------------------------------------------------------------------------


@_gives("bow_share_percent", "the bow's share")
def _bow_share_percent(known: Known, book: Rulebook, rig: Rig) -> float:
    """The bow's share of the counts [%]."""
    del book, rig
    return 100 * _of(known, "crew.bow_share")


@_gives("bow_over_stern_percent", "the bow against the stern, not against both together")
def _bow_over_stern_percent(known: Known, book: Rulebook, rig: Rig) -> float:
    """The bow's count as a part of the stern's [%]."""
    del book, rig
    return 100 * _of(known, "crew.bow_count") / _of(known, "crew.stern_count")


@_gives("luck_in_100", "the nights of 100")
def _luck_in_100(known: Known, book: Rulebook, rig: Rig) -> float:
    """How often of 100 luck alone splits the counts so unevenly: the exact binomial p."""
    del book, rig
    return 100 * _of(known, "crew.share_p")


@_gives("drop_luck_in_100", "the nights of 100")
def _drop_luck_in_100(known: Known, book: Rulebook, rig: Rig) -> float:
    """How often of 100 luck alone makes so large a difference: the conditional test of two counts."""
    del book, rig
    before, now = (_of(known, f"catch.{when}_per_10min") for when in ("before", "now"))
    return 100 * two_sided_p(round(now), round(before) + round(now), 0.5)


@_gives("kept_percent", "what is left")
def _kept_percent(known: Known, book: Rulebook, rig: Rig) -> float:
    """The catch now as a part of the catch before [%]."""
    del book, rig
    return 100 * _of(known, "catch.kept_share")


@_gives("lost_percent", "what was lost, not what is left")
def _lost_percent(known: Known, book: Rulebook, rig: Rig) -> float:
    """What was lost of the catch before [%]."""
    del book, rig
    return 100 - 100 * _of(known, "catch.kept_share")


# --- power, and the way out --------------------------------------------------------------------------------


def _amps(known: Known) -> float:
    return _of(known, "lamps.count") * _of(known, "lamp_amps")


@_gives("battery_hours", "the hours")
def _battery_hours(known: Known, book: Rulebook, rig: Rig) -> float:
    """Hours until the usable part of a lead battery is used by all lamps."""
    del book
    return battery_hours(_of(known, "capacity_ah"), _amps(known), rig, battery="lead")


@_gives("battery_hours_all_drawn", "the time to flat; but a lead battery should not be drawn below half")
def _battery_all(known: Known, book: Rulebook, rig: Rig) -> float:
    """Hours until the battery is flat."""
    del book
    return hours_at_current(
        _of(known, "capacity_ah"), _amps(known), rated_h=rig.battery_rated_h, exponent=rig.peukert_lead
    )


@_gives("battery_hours_one_lamp", "the time with one lamp only")
def _battery_one(known: Known, book: Rulebook, rig: Rig) -> float:
    """Hours for a single lamp."""
    del book
    return battery_hours(_of(known, "capacity_ah"), _of(known, "lamp_amps"), rig, battery="lead")


@_gives("volts_at_lamp", "the volts at the lamp")
def _volts_at_lamp(known: Known, book: Rulebook, rig: Rig) -> float:
    """Battery less current times resistance [V]: Ohm's law."""
    del book, rig
    return _of(known, "battery_volts") - _of(known, "lamp_amps") * _of(known, "lead_ohms")


@_gives("volts_at_half_current", "what is left after half of the loss; the lead counts there and back")
def _volts_half(known: Known, book: Rulebook, rig: Rig) -> float:
    """The same with half of the resistance."""
    del book, rig
    return _of(known, "battery_volts") - _of(known, "lamp_amps") * _of(known, "lead_ohms") / 2


@_gives("clear_minutes", "the minutes")
def _clear_minutes(known: Known, book: Rulebook, rig: Rig) -> float:
    """Minutes to clear the water with what is out, by the coach's own list."""
    del rig
    return sum(minutes_for(step, known) for step in book.clearing)


# --- pictures ----------------------------------------------------------------------------------------------


def odd_lamps(known: Known, rig: Rig, *, from_side: bool) -> str:
    """Which lamp is out of line: left, right, both or neither.

    From the side: off the sum by the slack for clipping anew, or more. From above: its circle ends as far
    from the hull, or runs as far under it.
    """
    slack = rig.reclip_slack_ft
    figure = "too_high_ft" if from_side else "hull_gap_ft"
    off = [lamp for lamp in _LAMPS if abs(_of(known, f"{lamp}.{figure}")) >= slack]
    return {0: "neither", 1: off[0] if off else "", 2: "both"}[len(off)]


def off_by(known: Known, lamp: str, *, from_side: bool) -> float:
    """By how much a lamp is out of line [ft], signed."""
    return _of(known, f"{lamp}.{'too_high_ft' if from_side else 'hull_gap_ft'}")


_DEPTHS = ("water.depth_ft", "water.depth_left_ft", "water.depth_right_ft")
_CLIPS = ("lamps.clip_left_ft", "lamps.clip_right_ft")
_PLAN_FACTS = ("lamps.apart_ft", "lamps.out_left_ft", "lamps.out_right_ft")
_FALL = "tide.fall_since_set_ft"
_DRAWN = {
    "side": (*_DEPTHS, *_CLIPS, _FALL),
    "plan": (
        *_PLAN_FACTS,
        *("lamps.equally_out", "lamps.centre", "lamps.hull", "water.clarity", "water.secchi_ft"),
        *("boat.length_ft", "boat.bow_hand", "boat.anchors", "boat.across_flow"),
    ),
}
_LEAST_DRAWN_FT = 0.1
"""A smaller change of the level than this is not drawn."""


def picture_kind(facts: Known) -> str:
    """The picture that shows these facts: side, plan, or "" where a picture would show nothing."""
    if any(name in facts for name in _CLIPS) and any(name in facts for name in _DEPTHS):
        return "side"
    return "plan" if sum(name in facts for name in _PLAN_FACTS) >= 2 else ""


def drawn(facts: Known, kind: str) -> tuple[str, ...]:
    """The facts that a picture of this kind shows, so that they need not be told."""
    still = abs(float(facts.get(_FALL, 0.0))) < _LEAST_DRAWN_FT
    return tuple(name for name in facts if name in _DRAWN[kind] and not (name == _FALL and still))
