"""When to clip the lamps again, and how high, as the water under them moves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import NamedTuple

from coach.figures.clock import hours_between
from coach.figures.lamp import clip_height_ft, depth_for_clip_ft, why_no_clip
from coach.figures.limits import LIMITS, checked
from coach.figures.rig import Rig
from coach.figures.tide import Leg, depth_at_ft, height_ft, leg_at, time_at_height


class Step(NamedTuple):
    """Clip the lamp to `clip_ft` at this time, in the depth that is then under it [ft]."""

    at: datetime
    clip_ft: float
    depth_ft: float


class Plan(NamedTuple):
    """The steps of a stay, and why they end early if they do ("" if they do not)."""

    steps: tuple[Step, ...]
    note: str


class Stay(NamedTuple):
    """A lamp's place and time: the tide's leg, the depth sounded there at `from_at` [ft], the end."""

    leg: Leg
    from_at: datetime
    until_at: datetime
    depth_ft: float

    def depth_at(self, at: datetime) -> float:
        """Depth under the lamp [ft] at a time of the leg."""
        return depth_at_ft(self.leg, at, known_depth_ft=self.depth_ft, known_at=self.from_at)

    def when_depth(self, depth_ft: float) -> datetime | None:
        """When the depth [ft] comes during the stay, or None."""
        at = time_at_height(self.leg, height_ft(self.leg, self.from_at) + depth_ft - self.depth_ft)
        inside = at is not None and hours_between(self.from_at, at) > 0 >= hours_between(self.until_at, at)
        return at if inside else None


def stay_on(leg: Leg, depth_ft: float, *, from_at: datetime, until_at: datetime) -> Stay:
    """A stay over `depth_ft` [ft] from a time of the leg on; it ends with the leg at the latest.

    Raises ValueError for an end before the start, a start outside the leg, a depth outside limits.
    """
    checked("water_depth_ft", depth_ft)
    if hours_between(from_at, until_at) <= 0:
        raise ValueError(f"until: got {until_at.isoformat()}; allowed after from, {from_at.isoformat()}")
    height_ft(leg, from_at)  # refuses a start outside the leg
    end = until_at if hours_between(until_at, leg.end_at) >= 0 else leg.end_at
    return Stay(leg, from_at, end, depth_ft)


def _next_clip_ft(stay: Stay, clip_ft: float, slack_ft: float, rig: Rig) -> float | None:
    """The clip height that is due once the lamp is `slack_ft` off the sum, or None: it stays."""
    due = clip_ft - slack_ft if stay.leg.is_falling else clip_ft + slack_ft
    return max(due, rig.clip_min_ft) if due >= rig.clip_min_ft - 1e-9 else None


def _first_step(stay: Stay, clip_ft: float, slack_ft: float, rig: Rig) -> Step | None:
    """What is due at the start: nothing, or the sum's clip height as soon as there is one."""
    right = clip_height_ft(stay.depth_ft, rig)
    if right is not None:
        return Step(stay.from_at, right, stay.depth_ft) if abs(clip_ft - right) >= slack_ft else None
    edge = rig.depth_max_ft if stay.leg.is_falling else rig.depth_min_ft
    at, clip = stay.when_depth(edge), clip_height_ft(edge, rig)
    return None if at is None or clip is None else Step(at, clip, edge)


def _steps(stay: Stay, clip_ft: float, slack_ft: float, rig: Rig) -> Iterator[Step]:
    if first := _first_step(stay, clip_ft, slack_ft, rig):
        clip_ft = first.clip_ft
        yield first
    elif why_no_clip(stay.depth_ft, rig):
        return
    while (due := _next_clip_ft(stay, clip_ft, slack_ft, rig)) is not None:
        depth = depth_for_clip_ft(due, rig)
        at = stay.when_depth(depth)
        if at is None or why_no_clip(depth, rig):
            return
        clip_ft = due
        yield Step(at, due, depth)


def _why_it_ends(stay: Stay, steps: tuple[Step, ...], asked_until: datetime, rig: Rig) -> str:
    """What stops the plan before the stay is over: too little water, too much, or the table's end."""
    if not steps and (why := why_no_clip(stay.depth_ft, rig)):
        return why
    edge, words = (rig.depth_min_ft, "under") if stay.leg.is_falling else (rig.depth_max_ft, "over")
    if at := stay.when_depth(edge):
        return f"From {at:%H:%M} on there is {words} {edge:g} ft: no clip height; leave or lift the lamps."
    if hours_between(stay.until_at, asked_until) > 0:
        turn = "low" if stay.leg.is_falling else "high"
        return f"The table ends with the {turn} water of {stay.until_at:%H:%M}; nothing is known after it."
    return ""


def reclip_plan(stay: Stay, clip_ft: float, rig: Rig, *, slack_ft: float, asked_until: datetime) -> Plan:
    """Every time at which the lamp stands `slack_ft` off the sum, with the clip height for then [ft].

    Falling water brings the lamp up, so it is clipped lower; rising water buries it, so it is
    clipped higher. A lamp that is off by the slack already is clipped right away. Where the lowest
    clip height is reached no step follows. `asked_until` may lie after the leg: the note says so.
    Source: trade arithmetic on the cosine tide. Raises ValueError outside limits.
    """
    checked("clip_ft", clip_ft)
    checked("slack_ft", slack_ft)
    steps = tuple(_steps(stay, clip_ft, slack_ft, rig))
    return Plan(steps, _why_it_ends(stay, steps, asked_until, rig))


def stays_over(
    legs: Sequence[Leg], depth_ft: float, *, from_at: datetime, until_at: datetime
) -> tuple[Stay, ...]:
    """A stay cut at the turns of the tide, with the depth [ft] carried over each of them.

    It ends early where the place is left with under 0.5 ft. Raises ValueError as `stay_on`, and for a
    start outside the legs.
    """
    first = leg_at(legs, from_at)
    stays = [stay_on(first, depth_ft, from_at=from_at, until_at=until_at)]
    for leg in legs[legs.index(first) + 1 :]:
        depth = stays[-1].depth_at(leg.start_at)
        if hours_between(leg.start_at, until_at) <= 0 or depth < LIMITS["water_depth_ft"].low:
            break
        stays.append(stay_on(leg, depth, from_at=leg.start_at, until_at=until_at))
    return tuple(stays)


def reclip_over(
    stays: Sequence[Stay], clip_ft: float, rig: Rig, *, slack_ft: float, asked_until: datetime
) -> Plan:
    """The plan of a stay over several falls and rises: as `reclip_plan`, each with the clip of the last."""
    steps: tuple[Step, ...] = ()
    notes = []
    for stay in stays:
        end = asked_until if stay is stays[-1] else stay.until_at
        clip = steps[-1].clip_ft if steps else clip_ft
        plan = reclip_plan(stay, clip, rig, slack_ft=slack_ft, asked_until=end)
        steps += plan.steps
        notes += [plan.note] if plan.note else []
    return Plan(steps, " ".join(notes))


def clip_for_time_ft(stay: Stay, at: datetime, rig: Rig) -> float | None:
    """One clip height [ft] for the depth expected at a named time, or None where there is none.

    Raises ValueError for a time outside the leg, or one at which the place has under 0.5 ft.
    """
    return clip_height_ft(stay.depth_at(at), rig)
