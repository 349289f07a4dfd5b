"""What should ring tonight, and when: worked out from what a chat knows and what was advised.

Pure: the due table, the clock and the ringing are elsewhere. A bell has a key, so that the same
bell worked out again is known to be the same: one that was seen to stays seen to. Sentences can be
put otherwise in the captain's texts, under "bell_" and the kind.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Any

from coach.clearing import minutes_for
from coach.conversation import Heard, Session
from coach.figures.clock import later
from coach.figures.limits import checked
from coach.figures.power import BATTERIES, Battery, battery_hours, lamp_current_a
from coach.figures.reclip import Stay, reclip_plan, stay_on
from coach.figures.rig import Rig
from coach.figures.sky import sky_day
from coach.figures.tide import Leg, leg_between
from coach.model import Rulebook
from coach.wording import clock, quantity

LATE_S = 90
"""A bell that comes later than this says by how much."""
SNOOZE_MIN = 10
AHEAD_MIN = 10.0
"""How long before slack, moonrise, an empty battery or the last time to leave it rings."""

SAY = {
    "reclip": "Time to clip the lamps again: {clips}.",
    "look": "Time to look again. Count both dippers for a few minutes, then tell me: did it help?",
    "deep": "The deep lamp has had its time. Has it paid? If not, lift it and close the circles.",
    "low": "Low water at about {time}: the flow stops soon.",
    "high": "High water at about {time}: the flow stops soon, then the ebb begins.",
    "battery": "By my sum the part of the battery that should be used is gone at {time}. Measure it.",
    "moon": "The moon comes up at about {time}, {lit} lit. Watch whether the run thins out.",
    "leave": "Last time to leave with water under her: begin at {time}. Clearing takes {minutes}; by"
    " {aground} there is only {depth} left here.",
}
KINDS = ("reclip", "look", "deep", "low", "high", "battery", "moon", "leave")

_TIDE = ("tide.high_at", "tide.high_ft", "tide.low_at", "tide.low_ft")
_LAMPS = ("left", "right")
_RECLIP_FROM = {
    *_TIDE,
    "water.depth_ft",
    *(f"water.depth_{lamp}_ft" for lamp in _LAMPS),
    *(f"lamps.clip_{lamp}_ft" for lamp in _LAMPS),
}


@dataclass(frozen=True, slots=True)
class Bell:
    """One reminder: what kind, when (aware), what is said."""

    kind: str
    key: str
    at: datetime
    say: str


@dataclass(frozen=True, slots=True)
class Aboard:
    """What a boat has told about herself beside the consultation; None where it has not.

    Draft [ft], battery [Ah] full at a time, place [degrees, rounded] with its clock.
    """

    draft_ft: float | None = None
    battery_ah: float | None = None
    battery: Battery = "lead"
    full_at: datetime | None = None
    lat_deg: float | None = None
    lon_deg: float | None = None
    zone: tzinfo | None = None


def battery_kind(word: str) -> Battery:
    """The kind of battery a word names. Raises ValueError for another word."""
    for kind in BATTERIES:
        if word == kind or (kind == "lithium" and word in {"lifepo4", "li"}):
            return kind
    raise ValueError(f"battery: got {word!r}; allowed {', '.join(BATTERIES)}")


def bells(
    session: Session,
    *,
    before: Session,
    verdict: Mapping[str, Any] | None,
    aboard: Aboard,
    book: Rulebook,
    rig: Rig,
    now: datetime,
) -> dict[str, tuple[Bell, ...]]:
    """All bells by kind after a turn that led from `before` to `session`, those gone by as well: one that
    was put off holds as long as it is among them.

    A kind that is not in the result stays as it was: re-clip times hold until there is a new
    verdict or what they were worked out from has changed.
    """
    night = _Night(session.facts, aboard, book, rig, now)
    made: dict[str, Iterable[Bell]] = {
        "look": night.look(session),
        "deep": night.deep(session),
        "low": night.turn("low"),
        "high": night.turn("high"),
        "battery": night.battery(),
        "leave": night.leave(),
    }
    if verdict is not None:
        made["reclip"] = night.reclip(verdict["numbers"].get("reclip", ()), metric=session.metric)
    elif any(session.facts.get(name) != before.facts.get(name) for name in _RECLIP_FROM):
        made["reclip"] = night.reclip(night.plan(), metric=session.metric)
    if verdict is not None or not session.facts:
        made["moon"] = moon_bells(aboard, book, rig, now)
    return {kind: tuple(found) for kind, found in made.items()}


def deep_lamp_since(session: Session) -> datetime | None:
    """Since when the deep lamp is in the water; None while it is not known to be."""
    heard = session.facts.get("deep_lamp.in_water")
    if heard is None or heard.value is not True:
        return None
    told = session.facts.get("deep_lamp.minutes")
    if told is None:
        return datetime.fromisoformat(heard.at)
    return later(datetime.fromisoformat(told.at), -float(told.value) / 60)


def moon_bells(aboard: Aboard, book: Rulebook, rig: Rig, now: datetime) -> tuple[Bell, ...]:
    """Moonrise within the next day at the boat's place, if the moon gives light to speak of."""
    if aboard.lat_deg is None or aboard.lon_deg is None or aboard.zone is None:
        return ()
    here = now.astimezone(aboard.zone)
    for day in (here.date(), here.date() + timedelta(days=1)):
        sky = sky_day(aboard.lat_deg, aboard.lon_deg, on=day, zone=aboard.zone, dark_sun_deg=rig.dark_sun_deg)
        if sky.moonrise is not None and sky.moonrise > now:
            if sky.moon_lit <= rig.moon_dark_share:
                return ()
            at = sky.moonrise - timedelta(minutes=AHEAD_MIN)
            said = say(book, "moon", time=clock(sky.moonrise), lit=f"{sky.moon_lit:.0%}")
            return (Bell("moon", f"moon:{sky.moonrise:%m%d}", at, said),)
    return ()


def say(book: Rulebook, kind: str, **slots: str) -> str:
    """The sentence of a kind of bell with its slots filled."""
    return book.texts.get(f"bell_{kind}", SAY[kind]).format(**slots)


def lateness(due_at: float, now: float) -> str:
    """What is said before a bell that comes late; "" where it is in time. Both in seconds."""
    late_s = now - due_at
    if late_s <= LATE_S:
        return ""
    minutes = round(late_s / 60)
    return f"(Late by {f'{minutes} minutes' if minutes < 120 else f'{minutes / 60:.1f} hours'}.) "


@dataclass(frozen=True, slots=True)
class _Night:
    """What the bells are worked out from."""

    facts: Mapping[str, Heard]
    aboard: Aboard
    book: Rulebook
    rig: Rig
    now: datetime

    def look(self, session: Session) -> Iterable[Bell]:
        if session.look_again_at is not None and session.named:
            at = datetime.fromisoformat(session.look_again_at)
            yield Bell("look", f"look:{at:%m%d%H%M}", at, say(self.book, "look"))

    def deep(self, session: Session) -> Iterable[Bell]:
        since = deep_lamp_since(session)
        if since is not None:
            at = later(since, self.rig.deep_lamp_decide_min / 60)
            yield Bell("deep", f"deep:{at:%m%d%H%M}", at, say(self.book, "deep"))

    def turn(self, kind: str) -> Iterable[Bell]:
        heard = self.facts.get(f"tide.{kind}_at")
        if heard is not None:
            turn_at = datetime.fromisoformat(str(heard.value))
            at = turn_at - timedelta(minutes=AHEAD_MIN)
            yield Bell(kind, f"{kind}:{turn_at:%m%d%H%M}", at, say(self.book, kind, time=clock(turn_at)))

    def battery(self) -> Iterable[Bell]:
        aboard, lamps = self.aboard, self.facts.get("lamps.total") or self.facts.get("lamps.count")
        if aboard.battery_ah is None or aboard.full_at is None or lamps is None or not lamps.value:
            return
        current = float(lamps.value) * lamp_current_a(self.rig.lamp_power_w, self.rig.lamp_rated_v)
        hours = battery_hours(aboard.battery_ah, current, self.rig, battery=aboard.battery)
        gone = later(aboard.full_at, hours)
        said = say(self.book, "battery", time=clock(gone.astimezone(self.now.tzinfo)))
        yield Bell("battery", f"battery:{gone:%m%d%H%M}", gone - timedelta(minutes=AHEAD_MIN), said)

    def leave(self) -> Iterable[Bell]:
        stay = self._stay("water.depth_ft")
        if self.aboard.draft_ft is None or stay is None or not stay.leg.is_falling:
            return
        least = self.aboard.draft_ft + self.rig.under_keel_ft
        aground = stay.when_depth(least)
        if aground is None:
            return
        given = {name: heard.value for name, heard in self.facts.items()}
        minutes = sum(minutes_for(step, given) for step in self.book.clearing)
        begin = aground - timedelta(minutes=minutes)
        slots = {
            "time": clock(begin),
            "minutes": quantity(-(-minutes // 1), "min"),
            "aground": clock(aground),
            "depth": quantity(least, "ft"),
        }
        at = begin - timedelta(minutes=AHEAD_MIN)
        yield Bell("leave", f"leave:{begin:%m%d%H%M}", at, say(self.book, "leave", **slots))

    def reclip(self, steps: Iterable[Mapping[str, Any]], *, metric: bool) -> Iterable[Bell]:
        for step in steps:
            at = datetime.fromisoformat(step["at"])
            named = [
                f"{lamp} to {quantity(step[f'clip_{lamp}_ft'], 'ft', metric=metric)}"
                for lamp in _LAMPS
                if f"clip_{lamp}_ft" in step
            ]
            said = say(self.book, "reclip", clips=" and ".join(named))
            key = f"reclip:{at:%m%d%H%M}:{','.join(named)}"
            yield Bell("reclip", key, at, said)

    def plan(self) -> Iterable[Mapping[str, Any]]:
        """Re-clip times from the clip heights as they are, where the tide is known."""
        steps: dict[datetime, dict[str, Any]] = {}
        for lamp in _LAMPS:
            clip = self.facts.get(f"lamps.clip_{lamp}_ft")
            stay = self._stay(f"water.depth_{lamp}_ft", clip) or self._stay("water.depth_ft", clip)
            if clip is None or stay is None:
                continue
            slack = self.rig.reclip_slack_ft
            plan = reclip_plan(stay, float(clip.value), self.rig, slack_ft=slack, asked_until=stay.until_at)
            for step in plan.steps:
                row = steps.setdefault(step.at, {"at": step.at.isoformat(timespec="seconds")})
                row[f"clip_{lamp}_ft"] = round(step.clip_ft, 2)
        return [steps[at] for at in sorted(steps)]

    def _leg(self) -> Leg | None:
        heard = [self.facts.get(name) for name in _TIDE]
        if any(each is None for each in heard):
            return None
        high_at, high_ft, low_at, low_ft = (each.value for each in heard if each is not None)
        try:
            return leg_between(
                datetime.fromisoformat(str(high_at)),
                float(high_ft),
                low_at=datetime.fromisoformat(str(low_at)),
                low_ft=float(low_ft),
            )
        except ValueError:
            return None  # a table that makes no sense rings nothing

    def _stay(self, depth_fact: str, clip: Heard | None = None) -> Stay | None:
        """The rest of the leg over a depth that was sounded within it, from when the lamp hangs as it was
        told: a lamp clipped later than the sounding hangs in the water of later."""
        leg, depth = self._leg(), self.facts.get(depth_fact)
        if leg is None or depth is None:
            return None
        try:
            sounded = checked("water_depth_ft", float(depth.value))
            stay = stay_on(leg, sounded, from_at=datetime.fromisoformat(depth.at), until_at=leg.end_at)
            if clip is None or (since := datetime.fromisoformat(clip.at)) <= stay.from_at:
                return stay
            return stay_on(leg, stay.depth_at(since), from_at=since, until_at=leg.end_at)
        except ValueError:
            return None  # sounded before the leg or after it
