"""Tonight's card: one page that needs no signal. What it says is made here, once, for paper and screen."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coach.apparatus import apparatus
from coach.card.limits import EMPTY, Sheet
from coach.clearing import clearing_steps
from coach.consultation import Assessment, Infer, assess
from coach.figures.clock import hours_between
from coach.figures.lamp import clip_height_ft
from coach.figures.reclip import reclip_plan, stay_on
from coach.figures.rig import Rig
from coach.figures.tide import Leg, height_ft
from coach.figures.units import feet
from coach.model import Rulebook, Scalar
from coach.pictures import Picture, kinds_for, picture_for
from coach.pictures.tide_curve import clip_words, tide_of
from coach.verdict import conclude
from coach.wording import clock, quantity, unit_in_words

TITLE = "Tonight's card"
CAUTION = "Local law, the rules of the road and your own judgement come before anything on this card."
KINDS = ("side", "plan", "tide")
_LAMPS = ("left", "right")
_SAME_FT = 0.05


@dataclass(frozen=True, slots=True)
class ClipRow:
    """Clip heights from a time on, how far the water has gone down by then, and which lamps move."""

    at: str
    left: str
    right: str
    fall: str
    moves: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """All that stands on the card; `picture` makes one of its kinds in a theme."""

    place: str
    made: str
    clips: tuple[ClipRow, ...]
    clip_notes: tuple[str, ...]
    ladder: tuple[tuple[str, str], ...]
    hazards: tuple[str, ...]
    advice: tuple[str, ...]
    safety: tuple[str, ...]
    clearing: tuple[str, ...]
    clearing_total: str
    limits: tuple[str, ...]
    kinds: tuple[str, ...]
    picture: Callable[[str, str], Picture]
    alarms: tuple[tuple[datetime, str], ...]

    def words(self) -> tuple[str, ...]:
        """The card as lines, for a terminal or a message."""
        return tuple(self._lines())

    def _lines(self) -> Iterator[str]:
        yield f"{TITLE}{f', {self.place}' if self.place else ''}, {self.made}"
        yield from (f"! {hazard}" for hazard in self.hazards)
        yield from self.advice
        yield "Clip heights by the clock:"
        for row in self.clips:
            fall = f", water down {row.fall}" if row.fall else ""
            yield f"  {row.at}  left {row.left}, right {row.right}{fall}"
        yield from self.clip_notes
        if self.ladder:
            ladder = "; ".join(f"{depth}: {clip}" for depth, clip in self.ladder)
            yield f"Depth under the lamp and its clip height: {ladder}"
        for kind in self.kinds:
            yield from self.picture(kind, "light").words
        yield "Clear the water, in this order:"
        yield from (f"  {number}. {step}" for number, step in enumerate(self.clearing, 1))
        yield self.clearing_total
        yield from (f"Limits: {line}" for line in self.limits)
        yield "Before the lamps go out:"
        yield from (f"  [ ] {question}" for question in self.safety)
        yield CAUTION


def card_for(
    facts: Mapping[str, Scalar],
    *,
    book: Rulebook,
    infer: Infer,
    now: datetime,
    metric: bool = False,
    place: str = "",
    sheet: Sheet | None = None,
) -> Card:
    """The card for what is known now; what is not known is said to be so, never filled in.

    Hazards, causes and clip heights are those of the rules that fire on these facts.
    """
    tools = apparatus(book)
    found = assess(facts, tools, infer=infer, now=now, metric=metric)
    verdict = conclude(found, tools, infer=infer)
    numbers = verdict.record["numbers"]
    rig = tools.figures.rig
    clips = _Clips(found, numbers, rig, metric)
    _, steps, total = clearing_steps(book, facts)
    kinds = kinds_for(facts, numbers, book=book, now=now)

    def picture(kind: str, theme: str) -> Picture:
        return picture_for(facts, numbers, book=book, now=now, kind=kind, theme=theme, metric=metric)

    return Card(
        place=place,
        made=f"{now:%a %d %b %Y} {clock(now)}",
        clips=tuple(clips.rows()),
        clip_notes=tuple(clips.notes()),
        ladder=tuple(_ladder(rig, metric)) if clips.sum_holds else (),
        hazards=tuple(say for _, say in found.hazards),
        advice=tuple(block.text for block in verdict.blocks if block.kind == "action" and found.named),
        safety=tuple(_asked(book, name, metric) for name in book.safety_singles),
        clearing=tuple(steps),
        clearing_total=total,
        limits=tuple(sheet.lines(now.date())) if sheet is not None else (EMPTY,),
        kinds=tuple(kind for kind in KINDS if kind in kinds or kind == "plan"),
        picture=picture,
        alarms=tuple(clips.alarms()),
    )


def _asked(book: Rulebook, name: str, metric: bool) -> str:
    """A question of the safety check as it is asked."""
    fact = book.facts[name]
    return fact.ask.replace("{unit}", unit_in_words(fact.unit, metric=metric))


@dataclass(frozen=True, slots=True)
class _Clips:
    """Clip heights over the stay."""

    found: Assessment
    numbers: Mapping[str, Any]
    rig: Rig
    metric: bool

    @property
    def sum_holds(self) -> bool:
        """Whether heights by depth may be given: not where what is known calls for none."""
        known = (self.found.known.get(f"{lamp}.depth_ft") for lamp in _LAMPS)
        depths = [float(depth) for depth in known if depth is not None]
        could = any(clip_height_ft(depth, self.rig) is not None for depth in depths)
        return not could or any(f"clip_{lamp}_ft" in self.numbers for lamp in _LAMPS)

    def rows(self) -> Iterator[ClipRow]:
        """Now, then each time at which a lamp is due; a lamp that is not due keeps its height."""
        standing = {lamp: self.numbers.get(f"clip_{lamp}_ft") for lamp in _LAMPS}
        if any(clip is not None for clip in standing.values()):
            moved = tuple(lamp for lamp in _LAMPS if self._is_off(lamp, standing[lamp]))
            yield self._row(f"{clock(self.found.now)} now", standing, "", moved)
        for step in self.numbers.get("reclip", ()):
            moved = tuple(lamp for lamp in _LAMPS if f"clip_{lamp}_ft" in step)
            standing |= {lamp: step[f"clip_{lamp}_ft"] for lamp in moved}
            at = datetime.fromisoformat(step["at"])
            yield self._row(clock(at), standing, self._fall(at), moved)

    def alarms(self) -> Iterator[tuple[datetime, str]]:
        """When a lamp is due, with what to do then."""
        for step in self.numbers.get("reclip", ()):
            clips = {lamp: step.get(f"clip_{lamp}_ft") for lamp in _LAMPS}
            yield datetime.fromisoformat(step["at"]), clip_words(clips, metric=self.metric).capitalize()

    def _is_off(self, lamp: str, advised: float | None) -> bool:
        """Whether the lamp hangs otherwise than advised, as far as is known."""
        present = self.found.known.get(f"lamps.clip_{lamp}_ft")
        return advised is not None and (present is None or abs(float(present) - advised) >= _SAME_FT)

    def _row(self, at: str, clips: Mapping[str, float | None], fall: str, moved: tuple[str, ...]) -> ClipRow:
        told = ["?" if clip is None else self._feet(clip) for clip in (clips["left"], clips["right"])]
        return ClipRow(at, told[0], told[1], fall, moved)

    def _feet(self, length: float) -> str:
        return quantity(length, "ft", metric=self.metric)

    def _leg(self) -> Leg | None:
        tide = tide_of(self.found.known, self.numbers, now=self.found.now)
        return tide.leg if tide.now_is_on_it else None

    def _fall(self, at: datetime) -> str:
        leg = self._leg()
        if leg is None or not 0 <= hours_between(leg.start_at, at) <= leg.hours:
            return ""
        return self._feet(height_ft(leg, self.found.now) - height_ft(leg, at))

    def notes(self) -> Iterator[str]:
        """Why there are no heights, no times, or why they end."""
        known = self.found.known
        if not any(f"{lamp}.depth_ft" in known for lamp in _LAMPS):
            yield "No depth is known: sound under each lamp and use the list below."
            return
        if not any(f"clip_{lamp}_ft" in self.numbers for lamp in _LAMPS):
            yield "No clip height holds for what is known."
            return
        leg = self._leg()
        if leg is None:
            yield "No tide table holds for now, so no times: sound each hour and use the list below."
            return
        borrowed = [lamp for lamp in _LAMPS if f"water.depth_{lamp}_ft" not in known]
        if borrowed:
            yield f"The depth at the boat was taken for: {', '.join(borrowed)}. Sound under each lamp."
        yield from dict.fromkeys(self._ends(leg))

    def _ends(self, leg: Leg) -> Iterator[str]:
        for lamp in _LAMPS:
            clip = self.numbers.get(f"clip_{lamp}_ft")
            if clip is None:
                continue
            try:
                depth = float(self.found.known[f"{lamp}.depth_ft"])
                stay = stay_on(leg, depth, from_at=self.found.now, until_at=leg.end_at)
                slack = self.rig.reclip_slack_ft
                note = reclip_plan(stay, clip, self.rig, slack_ft=slack, asked_until=leg.end_at).note
            except ValueError:
                continue  # a depth outside the sums has been said already
            if note:
                yield note


def _ladder(rig: Rig, metric: bool) -> Iterator[tuple[str, str]]:
    """Depths and their clip heights, over all depths for which there is one; alike ones together."""
    step = feet(0.5) if metric else 1.0
    depths = [step * i for i in range(1, 200) if rig.depth_min_ft <= step * i <= rig.depth_max_ft]
    rows: list[list[str]] = []
    for depth in depths:
        clip = clip_height_ft(depth, rig)
        said = quantity(depth, "ft", metric=metric)
        height = "" if clip is None else quantity(clip, "ft", metric=metric)
        if rows and rows[-1][2] == height:
            rows[-1][1] = said
        else:
            rows.append([said, said, height])
    for first, last, height in rows:
        yield (first if first == last else f"{first.split()[0]}-{last}"), height
