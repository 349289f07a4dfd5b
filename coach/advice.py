"""The numbers of a verdict: clip heights, depths, bands, re-clip times, and phrases made of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coach.figures.lamp import clip_height_ft, hang
from coach.figures.reclip import reclip_plan, stay_on
from coach.figures.rig import Rig
from coach.figures.tide import leg_between
from coach.model import Scalar
from coach.sums.ground import near
from coach.sums.nights import next_night
from coach.wording import clock, quantity

LAMPS = ("left", "right")
_TELLING = {
    "battery_hours_left": "power.hours_left",
    "volts_at_lamp": "lamps.volts_at_lamp",
    "depth_at_low_ft": "boat.depth_at_low_ft",
    "under_boat_at_low_ft": "boat.under_at_low_ft",
    "clear_min": "clear.minutes",
    "rode_ft": "anchor.rode_needed_ft",
    "wind_setup_ft": "wind.setup_ft",
    "deep_lamp_odds_db": "deep_lamp.odds_db",
    "catch_per_lamp_hour": "catch.per_lamp_hour",
    "flow_table_kn": "flow.table_kn",
    "fall_to_low_ft": "tide.fall_to_low_ft",
}
"""Numbers of a verdict that are figures as they stand."""
_LONGEST_ODDS = 1000
_LONGEST_IN_MINUTES = 90
"""A longer wait is told in hours."""


PHRASES = (
    "depth",
    "clip_left",
    "clip_right",
    "depth_without_clip",
    "lamp_depth",
    "dark_band",
    "reclip_times",
    "close_centre",
    "close_hull",
    "far_lamp",
    "reach_difference",
    "low_at",
    "slack_wait",
    "deep_odds",
    "station",
    "next_night",
)
"""The slots that rule texts may use beside facts and numbers; one that is not known stays unfilled."""


@dataclass(frozen=True, slots=True)
class Advice:
    """Numbers for programs, phrases for rule texts, and the lamps whose depth had to be borrowed."""

    numbers: Mapping[str, Any]
    phrases: Mapping[str, str]
    stood_in: tuple[str, ...]


def advise(
    facts: Mapping[str, Scalar],
    rig: Rig,
    *,
    clip: str,
    raise_step_ft: float,
    now: datetime,
    metric: bool = False,
    wanted: Collection[str] = PHRASES,
) -> Advice:
    """Work out everything a verdict gives in figures; what cannot be worked out is left out.

    `clip` says which clip heights are advised: "sum" by the depth, "raise" one step up where a lamp
    already follows the sum, "none" where the sum does not apply. Phrases are in feet or in metres;
    numbers always in feet. `stood_in` are the lamps for which the depth under the boat was taken. Of
    the phrases that take long only the `wanted` ones are made.
    """
    numbers: dict[str, Any] = {}
    clips = {} if clip == "none" else _clips(facts, rig, clip, raise_step_ft)
    hangs = {lamp: hang(_number(facts, f"{lamp}.depth_ft"), clips[lamp], rig) for lamp in clips}
    for lamp in clips:
        numbers[f"clip_{lamp}_ft"] = _round(clips[lamp])
    for lamp in clips:
        numbers[f"lamp_depth_{lamp}_ft"] = _round(hangs[lamp].lamp_depth_ft)
    if hangs:
        numbers["dark_band_ft"] = _round(min(h.dark_band_ft for h in hangs.values()))
        numbers["under_path_ft"] = _round(max(h.under_path_ft for h in hangs.values()))
    if standing := _now(facts):
        numbers["now"] = standing
    steps = _reclip(facts, rig, clips, now) if clips else []
    if steps:
        numbers["reclip"] = steps
    numbers |= _telling(facts)
    phrases = _Phrases(facts, numbers, steps, metric, rig, now).all(wanted)
    stood_in = tuple(lamp for lamp in clips if f"water.depth_{lamp}_ft" not in facts)
    if stood_in:
        phrases["depth"] = quantity(_number(facts, "water.depth_ft"), "ft", metric=metric)
    return Advice(numbers, phrases, stood_in)


def _clips(facts: Mapping[str, Scalar], rig: Rig, clip: str, raise_step_ft: float) -> dict[str, float]:
    clips = {}
    for lamp in LAMPS:
        depth = facts.get(f"{lamp}.depth_ft")
        if depth is None:
            continue
        right = clip_height_ft(float(depth), rig)
        if right is None:
            continue
        present = facts.get(f"lamps.clip_{lamp}_ft")
        if clip == "raise" and present is not None and float(present) > right - raise_step_ft:
            right = max(right, min(float(present) + raise_step_ft, rig.clip_max_share * float(depth)))
        clips[lamp] = right
    return clips


def _now(facts: Mapping[str, Scalar]) -> dict[str, float]:
    standing: dict[str, float] = {}
    for lamp in LAMPS:
        if f"{lamp}.lamp_depth_ft" in facts:
            standing[f"lamp_depth_{lamp}_ft"] = _round(_number(facts, f"{lamp}.lamp_depth_ft"))
    for name, worse in (("dark_band_ft", min), ("under_path_ft", max)):
        known = [_number(facts, f"{lamp}.{name}") for lamp in LAMPS if f"{lamp}.{name}" in facts]
        if known:
            standing[name] = _round(worse(known))
    return standing


def _telling(facts: Mapping[str, Scalar]) -> dict[str, float]:
    """The figures that stand in a verdict as they are; of a lean the greater one."""
    told = {key: _round(_number(facts, name)) for key, name in _TELLING.items() if name in facts}
    leans = [_number(facts, f"{lamp}.lean_deg") for lamp in LAMPS if f"{lamp}.lean_deg" in facts]
    return told | ({"lean_deg": _round(max(leans))} if leans else {})


def _reclip(
    facts: Mapping[str, Scalar], rig: Rig, clips: Mapping[str, float], now: datetime
) -> list[dict[str, Any]]:
    """The next re-clip times from a high and a low in the table; nothing if the table does not fit."""
    names = ("tide.high_at", "tide.high_ft", "tide.low_at", "tide.low_ft")
    if any(name not in facts for name in names) or _is_far(facts, rig):
        return []
    high_at, low_at = (datetime.fromisoformat(str(facts[n])) for n in ("tide.high_at", "tide.low_at"))
    steps: dict[datetime, dict[str, Any]] = {}
    try:
        leg = leg_between(
            high_at, _number(facts, "tide.high_ft"), low_at=low_at, low_ft=_number(facts, "tide.low_ft")
        )
        for lamp, clip in clips.items():
            stay = stay_on(leg, _number(facts, f"{lamp}.depth_ft"), from_at=now, until_at=leg.end_at)
            plan = reclip_plan(stay, clip, rig, slack_ft=rig.reclip_slack_ft, asked_until=leg.end_at)
            for step in plan.steps:
                row = steps.setdefault(step.at, {"at": step.at.isoformat(timespec="seconds")})
                row[f"clip_{lamp}_ft"] = _round(step.clip_ft)
    except (ValueError, OverflowError):
        return []  # a table that does not hold now, or water outside the sums: no times, never guessed
    return [steps[at] for at in sorted(steps)]


def _is_far(facts: Mapping[str, Scalar], rig: Rig) -> bool:
    """Whether the heights come from a station that does not speak for the depth here."""
    is_table = "tide.high_ft" in str(facts.get("facts.stood_in", "")).split()
    return is_table and _number(facts, "tide.station_nmi") > rig.station_near_nmi


@dataclass(frozen=True, slots=True)
class _Phrases:
    """The figures as pieces of sentences."""

    facts: Mapping[str, Scalar]
    numbers: Mapping[str, Any]
    steps: list[dict[str, Any]]
    metric: bool
    rig: Rig
    now: datetime

    def all(self, wanted: Collection[str]) -> dict[str, str]:
        """Every phrase that can be made; of those that take long only the wanted ones."""
        slow: Mapping[str, Callable[[], str | None]] = {
            "station": self._station,
            "next_night": self._next_night,
            "deep_odds": self._deep_odds,
        }
        made = {name: make() for name, make in slow.items() if name in wanted}
        told = {name: phrase for name, phrase in made.items() if phrase is not None}
        return {**self._hang(), **self._tide(), **self._reach(), **told}

    def _feet(self, feet: float) -> str:
        return quantity(feet, "ft", metric=self.metric)

    def _hang(self) -> dict[str, str]:
        named = {lamp: f"clip_{lamp}_ft" for lamp in LAMPS}
        phrases = {
            f"clip_{lamp}": self._feet(self.numbers[name])
            for lamp, name in named.items()
            if name in self.numbers
        }
        without = [
            _number(self.facts, f"{lamp}.depth_ft")
            for lamp, name in named.items()
            if f"{lamp}.depth_ft" in self.facts and name not in self.numbers
        ]
        if without:
            phrases["depth_without_clip"] = self._feet(min(without))
        if "dark_band_ft" in self.numbers:
            depths = [self.numbers[f"lamp_depth_{lamp}_ft"] for lamp in LAMPS if named[lamp] in self.numbers]
            phrases["lamp_depth"] = " and ".join(dict.fromkeys(self._feet(depth) for depth in depths))
            phrases["dark_band"] = self._feet(self.numbers["dark_band_ft"])
        return phrases

    def _tide(self) -> dict[str, str]:
        phrases = {}
        if self.steps:
            phrases["reclip_times"] = ", ".join(self._step(step) for step in self.steps[:4])
        if "tide.low_at" in self.facts:
            phrases["low_at"] = clock(datetime.fromisoformat(str(self.facts["tide.low_at"])))
        wait_min = self._wait_min()
        if wait_min is not None:
            is_long = wait_min > _LONGEST_IN_MINUTES
            phrases["slack_wait"] = quantity(wait_min / 60, "h") if is_long else quantity(wait_min, "min")
        return phrases

    def _wait_min(self) -> float | None:
        """Minutes until the ebb runs again by a table; else until some time after low water."""
        if "flow.ebb_from_at" in self.facts:
            return (
                datetime.fromisoformat(str(self.facts["flow.ebb_from_at"])) - self.now
            ).total_seconds() / 60
        if "tide.minutes_to_low" in self.facts:
            return _number(self.facts, "tide.minutes_to_low") + self.rig.after_low_min
        return None

    def _step(self, step: Mapping[str, Any]) -> str:
        clips = [step[f"clip_{lamp}_ft"] for lamp in LAMPS if f"clip_{lamp}_ft" in step]
        spoken = " and ".join(dict.fromkeys(self._feet(clip) for clip in clips))
        return f"{clock(datetime.fromisoformat(step['at']))} to {spoken}"

    def _reach(self) -> dict[str, str]:
        phrases = {}
        gap = self.facts.get("lamps.centre_gap_ft")
        if gap is not None and float(gap) > 0:
            phrases["close_centre"] = self._feet(float(gap) + self.rig.circles_overlap_ft)
        gaps = [
            _number(self.facts, f"{lamp}.hull_gap_ft")
            for lamp in LAMPS
            if f"{lamp}.hull_gap_ft" in self.facts
        ]
        if gaps and max(gaps) >= self.rig.reach_worth_saying_ft:
            phrases["close_hull"] = f"about {self._feet(round(max(gaps)))}"
        difference = self.facts.get("lamps.reach_difference_ft")
        if difference is not None and float(difference) >= self.rig.reach_worth_saying_ft:
            left, right = (_number(self.facts, f"lamps.out_{lamp}_ft") for lamp in LAMPS)
            phrases["far_lamp"] = "left" if left > right else "right"
            phrases["reach_difference"] = self._feet(float(difference))
        return phrases

    # -- places and nights

    def _place(self) -> tuple[float, float] | None:
        names = ("place.lat_deg", "place.lon_deg")
        if any(name not in self.facts for name in names):
            return None
        lat, lon = (_number(self.facts, name) for name in names)
        return lat, lon

    def _station(self) -> str | None:
        place = self._place()
        return None if place is None else near(*place).tide.spot.name

    def _next_night(self) -> str | None:
        place = self._place()
        night = None if place is None else next_night(*place, self.now, self.rig)
        if night is None:
            return None
        span = max(night.windows, key=lambda window: window.hours)
        return (
            f"{night.on:%a} {night.on.day} {night.on:%b}, dark ebb {clock(span.start)} to {clock(span.end)}"
        )

    def _deep_odds(self) -> str | None:
        """The odds in words: "about 20 to 1 against"."""
        if "deep_lamp.odds_db" not in self.facts:
            return None
        db = _number(self.facts, "deep_lamp.odds_db")
        times = math.pow(10, min(abs(db), 40) / 10)
        side = "for" if db > 0 else "against"
        if times < 2:
            return "even for and against"
        return (
            f"{'over ' if times > _LONGEST_ODDS else 'about '}{min(_rough(times), _LONGEST_ODDS)} to 1 {side}"
        )


def _number(facts: Mapping[str, Scalar], name: str) -> float:
    return float(facts[name])


def _rough(times: float) -> int:
    """A number to one digit: odds are not known any better."""
    return int(float(f"{times:.1g}"))


def _round(value: float) -> float:
    return round(value, 2)
