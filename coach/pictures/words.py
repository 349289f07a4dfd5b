"""The same in words: everything that a picture tells, for those who hear it or have no picture."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from coach.figures.clock import hours_between
from coach.figures.lamp import why_no_clip
from coach.figures.tide import height_ft
from coach.model import Rulebook, Scalar
from coach.pictures.counts_chart import Mark
from coach.pictures.plan_labels import NEAR_FT
from coach.pictures.seen import Lamp, Seen, alike, drawn, lamps_told
from coach.pictures.tide_curve import Tide, clip_words
from coach.trips.looks import Look
from coach.wording import clock, in_words, quantity

_PLAN = (
    "lamps.apart_ft",
    "lamps.out_left_ft",
    "lamps.out_right_ft",
    "water.clarity",
    "boat.bow_hand",
    "boat.length_ft",
    "boat.anchors",
    "boat.across_flow",
)
_LAMPS = ("left", "right")
_SHOWN = 12


class Words:
    """Writes sentences in a person's units, with the rule base's names for facts."""

    def __init__(self, book: Rulebook, known: Mapping[str, Scalar], *, metric: bool) -> None:
        self._book, self._known, self.metric = book, known, metric

    def feet(self, feet: float) -> str:
        """A length in the person's units."""
        return quantity(feet, "ft", metric=self.metric)

    def not_known(self, names: Iterable[str]) -> Iterator[str]:
        """What is drawn dashed, by the rule base's names; nothing if all is known."""
        says = [
            self._book.facts[name].says
            for name in names
            if name not in self._known and name in self._book.facts
        ]
        if says:
            yield f"Not known, so dashed with a question mark: {'; '.join(says)}."

    def answer(self, name: str) -> str:
        """A fact's answer as said; "" where there is none."""
        if name not in self._known or name not in self._book.facts:
            return ""
        return in_words(self._known[name], self._book.facts[name], metric=self.metric)


# --- from above ----------------------------------------------------------------------------------


def plan_words(seen: Seen, words: Words) -> tuple[str, ...]:
    """The set from above."""
    unknown = [name for name in _PLAN if name != "water.clarity" or seen.circle_ft is None]
    return (
        "The set from above, you facing the lamps.",
        *_reach(seen, words),
        *_circles(seen, words),
        *_hull_gaps(seen, words),
        *_boat(seen, words),
        *_beside(seen, words),
        *words.not_known(unknown),
    )


def _reach(seen: Seen, words: Words) -> Iterator[str]:
    outs = [f"{lamp.name} lamp {words.feet(lamp.out_ft)}" for lamp in seen.lamps if lamp.out_ft is not None]
    if outs:
        yield f"Off the hull: {', '.join(outs)}."
    if seen.apart_ft is not None:
        yield f"The lamps are {words.feet(seen.apart_ft)} apart."


def _circles(seen: Seen, words: Words) -> Iterator[str]:
    if seen.circle_ft is not None:
        about = "" if words.answer("water.secchi_ft") else "about "
        yield f"Each lit circle is {about}{words.feet(seen.circle_ft)} across."
    gap = seen.centre_gap_ft
    if gap is None:
        if said := words.answer("lamps.centre"):
            yield f"In the middle, as you said: {said}."
    elif abs(gap) < NEAR_FT:
        yield "In the middle the circles just touch."
    elif gap > 0:
        yield f"In the middle {words.feet(gap)} are dark."
    else:
        yield f"In the middle the circles overlap by {words.feet(-gap)}."


def _hull_gaps(seen: Seen, words: Words) -> Iterator[str]:
    gaps = {lamp.name: gap for lamp in seen.lamps if (gap := seen.gap_ft(lamp)) is not None}
    for name, gap in gaps.items():
        if abs(gap) < NEAR_FT:
            yield f"The {name} circle just touches the hull."
        elif gap > 0:
            yield f"Between the {name} circle and the hull {words.feet(gap)} are dark."
        else:
            yield f"The {name} circle runs {words.feet(-gap)} under the boat."
    if not gaps and (said := words.answer("lamps.hull")):
        yield f"At the hull, as you said: {said}."


def _boat(seen: Seen, words: Words) -> Iterator[str]:
    if seen.bow:
        yield f"The bow is on your {seen.bow}."
    if seen.length_ft is not None:
        yield f"She is {words.feet(seen.length_ft)} long; how wide is not asked, so her far side is dashed."
    if seen.anchors is not None:
        count = {0: "No anchor is down", 1: "1 anchor is down"}.get(int(seen.anchors))
        yield f"{count or f'{seen.anchors:g} anchors are down'}."
    if seen.wind_driven:
        yield "The water is wind-driven: the run has no one direction."
    elif seen.flow == "none":
        yield "The water stands."
    elif seen.across is not None:
        lies = "lies across the flow" if seen.across else "does not lie across the flow"
        yield f"She {lies}; up-current is at the top."


def _beside(seen: Seen, words: Words) -> Iterator[str]:
    if seen.net is not None:
        where = words.answer("net.where")
        yield f"A frame net is in the water{f', {where}' if where else ', where is not known'}."
    if seen.deep_lamp:
        yield "A deep lamp is down; where is not known, so it is a dashed square."
    if seen.lamps_told is not None and seen.lamps_told != len(_LAMPS):
        yield f"{lamps_told(seen.lamps_told)} told; only left and right are drawn."
    if _contradicts(seen):
        yield "These distances cannot all be right: the lamps differ more in reach than they are apart."


def _contradicts(seen: Seen) -> bool:
    outs = [lamp.out_ft for lamp in seen.lamps if lamp.out_ft is not None]
    return seen.apart_ft is not None and len(outs) == 2 and abs(outs[0] - outs[1]) > seen.apart_ft


# --- from the side -------------------------------------------------------------------------------


def side_words(seen: Seen, words: Words) -> tuple[str, ...]:
    """How each lamp hangs now, and after the fix."""
    lamps = drawn(seen)
    said = [line for lamp in lamps for line in _lamp(lamp, seen, words, both=alike(seen))]
    named = _LAMPS if alike(seen) else [lamp.name for lamp in lamps]
    clips = [f"lamps.clip_{name}_ft" for name in named]
    depths = [] if any(lamp.depth_ft is not None for lamp in seen.lamps) else ["water.depth_ft"]
    return ("The set from the side.", *said, *words.not_known([*depths, *clips]))


def _lamp(lamp: Lamp, seen: Seen, words: Words, *, both: bool) -> Iterator[str]:
    name = "Both lamps" if both else f"{lamp.name.capitalize()} lamp"
    if lamp.depth_ft is None:
        yield f"{name}: the depth is not known."
        return
    where = ", sounded at the boat, not under the lamp" if lamp.borrowed else ""
    yield f"{name}, in {words.feet(lamp.depth_ft)} of water{where}:"
    fell = None if lamp.depth_when_set_ft is None else lamp.depth_when_set_ft - lamp.depth_ft
    if fell is not None and abs(fell) >= 0.1:
        way = "fallen" if fell > 0 else "risen"
        yield f"The water has {way} {words.feet(abs(fell))} since the lamps were set."
    if lamp.now is not None and lamp.clip_ft is not None:
        yield f"Now, clipped at {words.feet(lamp.clip_ft)}, {_hang(lamp.now, words)}"
    if lamp.after is not None and lamp.advised_ft is not None:
        if lamp.moves:
            yield f"After, clipped at {words.feet(lamp.advised_ft)}, {_hang(lamp.after, words)}"
        else:
            yield "That is right: leave it."
    elif why := why_no_clip(lamp.depth_ft, seen.rig):
        yield why


def _hang(hang: tuple[float, float, float], words: Words) -> str:
    down, dark, under = (words.feet(feet) for feet in hang)
    return f"it hangs {down} down: {dark} dark above its light, {under} beneath."


# --- the tide ------------------------------------------------------------------------------------


def tide_words(tide: Tide, words: Words) -> tuple[str, ...]:
    """The tide, where it stands now, and when to clip again."""
    leg = tide.leg
    if leg is None:
        why = f" The table does not hold: {tide.wrong}." if tide.wrong else ""
        state = f" You said: {tide.state}." if tide.state else ""
        return (f"The tide: no high and low known, so no curve and no times.{state}{why}",)
    first, second = ("High", "low") if leg.is_falling else ("Low", "high")
    return (
        f"{first} water {clock(leg.start_at)} at {words.feet(leg.start_ft)},"
        f" {second} water {clock(leg.end_at)} at {words.feet(leg.end_ft)}.",
        *_level(tide, words),
        *(f"At {line}." for line in _steps(tide, words)),
    )


def _level(tide: Tide, words: Words) -> Iterator[str]:
    leg = tide.leg
    if leg is None or not tide.now_is_on_it:
        yield f"Now, {clock(tide.now)}, lies outside this tide."
        return
    level = height_ft(leg, tide.now)
    left = hours_between(tide.now, leg.end_at)
    yield (
        f"Now, {clock(tide.now)}, it stands at {words.feet(level)};"
        f" {words.feet(abs(level - leg.end_ft))} to go in {left:.1f} h."
    )
    if tide.depth_ft is not None:
        end = tide.depth_ft + leg.end_ft - level
        kind = "low" if leg.is_falling else "high"
        yield f"Under the boat {words.feet(tide.depth_ft)} now, {words.feet(max(0.0, end))} at {kind} water."


def _steps(tide: Tide, words: Words) -> Iterator[str]:
    for step in tide.steps:
        clips = {lamp: step.get(f"clip_{lamp}_ft") for lamp in _LAMPS}
        yield f"{clock(datetime.fromisoformat(step['at']))} {clip_words(clips, metric=words.metric)}"


# --- the counts ----------------------------------------------------------------------------------


def counts_words(looks: Sequence[Look], marks: Sequence[Mark]) -> tuple[str, ...]:
    """Each look with its count, and what was advised when."""
    if not looks:
        return ("No counts yet.",)
    head = f"Counts over the night, {len(looks)} looks:" if len(looks) > 1 else "Counts over the night:"
    if len(looks) > _SHOWN:
        head = f"{head[:-1]}, the latest {_SHOWN}:"
    said = [_look(look) for look in looks[-_SHOWN:]]
    return (head, *said, *(f"{clock(mark.at)}: {mark.says}" for mark in marks))


def _look(look: Look) -> str:
    sides = ""
    if look.bow is not None and look.stern is not None:
        sides = f" (bow {look.bow:g}, stern {look.stern:g})"
    rate = look.per_10min
    if rate is None or look.minutes is None:
        return f"{clock(look.at)}: {look.total:g}{sides}, over how long is not known."
    return f"{clock(look.at)}: {look.total:g}{sides} in {look.minutes:.0f} minutes, {rate:.0f} in ten."
