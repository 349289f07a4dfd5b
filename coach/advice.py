"""The numbers of a verdict: clip heights, depths, bands, re-clip times, and phrases made of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coach.figures.lamp import clip_height_ft, hang
from coach.figures.reclip import reclip_plan, stay_on
from coach.figures.rig import Rig
from coach.figures.tide import leg_between
from coach.model import Scalar
from coach.wording import clock, quantity

LAMPS = ("left", "right")
_OVERLAP_FT = 2.0
_WORTH_SAYING_FT = 0.5
_AFTER_LOW_MIN = 30


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
) -> Advice:
    """Work out everything a verdict gives in figures; what cannot be worked out is left out.

    `clip` says which clip heights are advised: "sum" by the depth, "raise" one step up where a lamp
    already follows the sum, "none" where the sum does not apply. Phrases are in feet or in metres;
    numbers always in feet. `stood_in` are the lamps for which the depth under the boat was taken.
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
    phrases = _Phrases(facts, numbers, steps, metric).all()
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


def _reclip(
    facts: Mapping[str, Scalar], rig: Rig, clips: Mapping[str, float], now: datetime
) -> list[dict[str, Any]]:
    """The next re-clip times from a high and a low in the table; nothing if the table does not fit."""
    names = ("tide.high_at", "tide.high_ft", "tide.low_at", "tide.low_ft")
    if any(name not in facts for name in names):
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


PHRASES = (
    "depth",
    "clip_left",
    "clip_right",
    "lamp_depth",
    "dark_band",
    "reclip_times",
    "close_centre",
    "close_hull",
    "far_lamp",
    "reach_difference",
    "low_at",
    "slack_wait",
)
"""The slots that rule texts may use beside facts and numbers; one that is not known stays unfilled."""


@dataclass(frozen=True, slots=True)
class _Phrases:
    """The figures as pieces of sentences."""

    facts: Mapping[str, Scalar]
    numbers: Mapping[str, Any]
    steps: list[dict[str, Any]]
    metric: bool

    def all(self) -> dict[str, str]:
        """Every phrase that can be made."""
        return {**self._hang(), **self._tide(), **self._reach()}

    def _feet(self, feet: float) -> str:
        return quantity(feet, "ft", metric=self.metric)

    def _hang(self) -> dict[str, str]:
        named = {lamp: f"clip_{lamp}_ft" for lamp in LAMPS}
        phrases = {
            f"clip_{lamp}": self._feet(self.numbers[name])
            for lamp, name in named.items()
            if name in self.numbers
        }
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
        if "tide.minutes_to_low" in self.facts:
            minutes = _number(self.facts, "tide.minutes_to_low") + _AFTER_LOW_MIN
            phrases["slack_wait"] = quantity(minutes, "min")
        return phrases

    def _step(self, step: Mapping[str, Any]) -> str:
        clips = [step[f"clip_{lamp}_ft"] for lamp in LAMPS if f"clip_{lamp}_ft" in step]
        spoken = " and ".join(dict.fromkeys(self._feet(clip) for clip in clips))
        return f"{clock(datetime.fromisoformat(step['at']))} to {spoken}"

    def _reach(self) -> dict[str, str]:
        phrases = {}
        gap = self.facts.get("lamps.centre_gap_ft")
        if gap is not None and float(gap) > 0:
            phrases["close_centre"] = self._feet(float(gap) + _OVERLAP_FT)
        gaps = [
            _number(self.facts, f"{lamp}.hull_gap_ft")
            for lamp in LAMPS
            if f"{lamp}.hull_gap_ft" in self.facts
        ]
        if gaps and max(gaps) >= _WORTH_SAYING_FT:
            phrases["close_hull"] = f"about {self._feet(round(max(gaps)))}"
        difference = self.facts.get("lamps.reach_difference_ft")
        if difference is not None and float(difference) >= _WORTH_SAYING_FT:
            left, right = (_number(self.facts, f"lamps.out_{lamp}_ft") for lamp in LAMPS)
            phrases["far_lamp"] = "left" if left > right else "right"
            phrases["reach_difference"] = self._feet(float(difference))
        return phrases


def _number(facts: Mapping[str, Scalar], name: str) -> float:
    return float(facts[name])


def _round(value: float) -> float:
    return round(value, 2)
