"""`coach figure reclip`: when to clip the lamp again, for a whole stay."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from coach.figures.lamp import why_no_clip
from coach.figures.options import TZ, Answer, Figure, Given, Option, amount, moment, stamp, told_at
from coach.figures.reclip import Plan, Stay, clip_for_time_ft, reclip_over, stays_over
from coach.figures.rig import Rig
from coach.figures.show_water import PLACE, TABLE, legs_given, on_station_clock
from coach.figures.tide import Leg, leg_between

_HIGH_LOW = ("high_at", "high_ft", "low_at", "low_ft")


def _legs(given: Given) -> Sequence[Leg]:
    """The tide of the stay: the high and low that were typed, or those of a table or a station."""
    told = [name for name in _HIGH_LOW if given[name] is not None]
    if not told and any(given[name] for name in ("station", "lat", "table", "row")):
        return legs_given(given)
    if len(told) < len(_HIGH_LOW):
        flags = ", ".join(f"--{name.replace('_', '-')}" for name in _HIGH_LOW if name not in told)
        raise ValueError(f"{flags}: got nothing; needed, or else a --station or a --table")
    high, low = told_at(given, "high_at"), told_at(given, "low_at")
    return (leg_between(high, given["high_ft"], low_at=low, low_ft=given["low_ft"]),)


def _plan(plan: Plan) -> Answer:
    steps = [{**step._asdict(), "at": stamp(step.at)} for step in plan.steps]
    lines = [
        f"{at:%H:%M}  clip at {clip:.1f} ft ({depth:.1f} ft of water)." for at, clip, depth in plan.steps
    ]
    note = {"note": plan.note} if plan.note else {}
    none = "The lamp need not be clipped again during this stay."
    return Answer({"steps": steps, **note}, (*(lines or [none]), *note.values()))


def _once(stays: Sequence[Stay], at: datetime, rig: Rig) -> Answer:
    stay = next((stay for stay in stays if stay.from_at <= at <= stay.until_at), stays[0])
    clip, depth = clip_for_time_ft(stay, at, rig), stay.depth_at(at)
    line = f"For {at:%H:%M}, in {depth:.1f} ft: clip at {clip:.1f} ft." if clip else why_no_clip(depth, rig)
    return Answer({"at": stamp(at), "clip_ft": clip, "depth_ft": depth}, (line,))


def _reclip(given: Given, rig: Rig) -> Answer:
    given = on_station_clock(given)
    legs, until = _legs(given), told_at(given, "until")
    stays = stays_over(legs, given["depth_ft"], from_at=told_at(given, "from"), until_at=until)
    if given["once_for"] is not None:
        return _once(stays, told_at(given, "once_for"), rig)
    slack = rig.reclip_slack_ft if given["slack_ft"] is None else given["slack_ft"]
    return _plan(reclip_over(stays, given["clip_ft"], rig, slack_ft=slack, asked_until=until))


FIGURES = {
    "reclip": Figure(
        "when to clip the lamp again on a falling or rising tide, and how high",
        (
            Option(
                "--depth-ft", amount("water_depth_ft"), "water depth under this lamp at --from", needed=True
            ),
            Option("--clip-ft", amount("clip_ft"), "clip height as it hangs", needed=True),
            Option("--high-at", moment, "time of the high water"),
            Option("--high-ft", amount("tide_ft"), "level of the high water"),
            Option("--low-at", moment, "time of the low water"),
            Option("--low-ft", amount("tide_ft"), "level of the low water"),
            *PLACE,
            *TABLE,
            Option("--from", moment, "time at which the depth was sounded", needed=True),
            Option("--until", moment, "end of the stay", needed=True),
            Option("--slack-ft", amount("slack_ft"), "how far off the sum the lamp may come"),
            Option("--once-for", moment, "instead of steps: one clip height, right at this time"),
            TZ,
        ),
        _reclip,
    ),
}
