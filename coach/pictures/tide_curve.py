"""The tide curve of the leg that the lamps work on, with now and the times to clip again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from coach.figures.clock import hours_between, later
from coach.figures.tide import Leg, height_ft, leg_between
from coach.model import Scalar
from coach.pictures.letters import Box, Placer, text_width
from coach.pictures.svg import HEAD, TEXT, WIDTH, Circle, Drawing, Line, Shape, Text, box
from coach.wording import clock, quantity

_LEFT, _RIGHT = 30.0, 330.0
_TOP, _LOW = 66.0, 186.0
_ROW = 19.0
_POINTS = 48
_TABLE = ("tide.high_at", "tide.high_ft", "tide.low_at", "tide.low_ft")
_LAMPS = ("left", "right")


@dataclass(frozen=True, slots=True)
class Tide:
    """What is known of the tide. `leg` is None where the table is not, `wrong` says why if it was."""

    leg: Leg | None
    wrong: str
    now: datetime
    steps: tuple[Mapping[str, Any], ...]
    depth_ft: float | None
    state: str | None

    @property
    def now_is_on_it(self) -> bool:
        """Whether now lies between the two turns of the table."""
        leg = self.leg
        return leg is not None and 0 <= hours_between(leg.start_at, self.now) <= leg.hours


def tide_of(known: Mapping[str, Scalar], numbers: Mapping[str, Any], *, now: datetime) -> Tide:
    """Gather what is known of the tide from the facts and a verdict's numbers."""
    leg, wrong = None, ""
    if all(name in known for name in _TABLE):
        high_at, low_at = (datetime.fromisoformat(str(known[name])) for name in (_TABLE[0], _TABLE[2]))
        try:
            leg = leg_between(high_at, float(known[_TABLE[1]]), low_at=low_at, low_ft=float(known[_TABLE[3]]))
            now = now.astimezone(leg.start_at.tzinfo) if leg.start_at.tzinfo else now.replace(tzinfo=None)
        except ValueError as error:
            leg, wrong = None, str(error)
    depth = known.get("water.depth_ft")
    state = known.get("tide.state")
    return Tide(
        leg,
        wrong,
        now,
        tuple(numbers.get("reclip", ())),
        None if depth is None else float(depth),
        None if state is None else str(state),
    )


def tide_curve(tide: Tide, *, metric: bool) -> Drawing:
    """Draw the curve, or a dashed level with a question mark where there is no table."""
    facts: tuple[tuple[str, str], ...] = (("kind", "tide"),)
    if tide.leg is None:
        return Drawing(150, tuple(_unknown()), "The tide", facts=facts)
    curve = _Curve(tide, tide.leg, metric)
    shapes = (*curve.frame(), *curve.line(), *curve.now(), *curve.steps(), *curve.table())
    facts += (
        ("px-per-hour", f"{curve.px_per_hour:.6f}"),
        ("px-per-ft", f"{curve.px_per_ft:.6f}"),
    )
    return Drawing(curve.bottom, shapes, "The tide", facts=facts)


def _unknown() -> Iterator[Shape]:
    yield Text((8, 21), "The tide", HEAD, bold=True)
    yield Line(box(_LEFT, 40, _RIGHT - _LEFT, 80), stroke=None, fill="water")
    yield Line(((_LEFT, 80), (_RIGHT, 80)), width=2, dash="6 5", part="unknown")
    yield Text((WIDTH / 2, 70), "?", HEAD, bold=True, anchor="middle")
    yield Text((WIDTH / 2, 104), "no high and low known", anchor="middle")


@dataclass(frozen=True, slots=True)
class _Curve:
    tide: Tide
    leg: Leg
    metric: bool

    @property
    def px_per_hour(self) -> float:
        """Width of an hour."""
        return (_RIGHT - _LEFT) / self.leg.hours

    @property
    def px_per_ft(self) -> float:
        """Height of a foot."""
        return (_LOW - _TOP) / abs(self.leg.start_ft - self.leg.end_ft)

    @property
    def bottom(self) -> float:
        """Where the picture ends."""
        return _LOW + 38 + _ROW * len(self.rows()) + (6 if self.rows() else 0)

    def at(self, moment: datetime) -> tuple[float, float]:
        """A time of the leg as a place on the curve."""
        hours = hours_between(self.leg.start_at, moment)
        low = min(self.leg.start_ft, self.leg.end_ft)
        return _LEFT + hours * self.px_per_hour, _LOW - (height_ft(self.leg, moment) - low) * self.px_per_ft

    def frame(self) -> Iterator[Shape]:
        """Title, ground, the two turns, and the hours below."""
        yield Text((8, 21), "The tide", HEAD, bold=True)
        yield Line(box(_LEFT, _TOP - 8, _RIGHT - _LEFT, _LOW - _TOP + 16), stroke=None, fill="water")
        start, end = ((leg_at, ft) for leg_at, ft in self._ends())
        high_first = self.leg.is_falling
        yield Text((8, _TOP - 14), self._turn("high" if high_first else "low", *start))
        yield Text((WIDTH - 8, _TOP - 14), self._turn("low" if high_first else "high", *end), anchor="end")
        yield Line(((_LEFT, _LOW + 8), (_RIGHT, _LOW + 8)), stroke="soft", width=1)
        yield from self._hours()

    def _ends(self) -> tuple[tuple[datetime, float], tuple[datetime, float]]:
        leg = self.leg
        return (leg.start_at, leg.start_ft), (leg.end_at, leg.end_ft)

    def _turn(self, kind: str, at: datetime, ft: float) -> str:
        return f"{kind} {clock(at)}, {quantity(ft, 'ft', metric=self.metric)}"

    def _hours(self) -> Iterator[Shape]:
        """Full hours along the lower edge, as many as there is room for."""
        leg = self.leg
        first = leg.start_at.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
        every = next(step for step in (1, 2, 3, 6, 12, 24) if step * self.px_per_hour >= 46)
        hour = first
        while hours_between(hour, leg.end_at) >= 0:
            x = _LEFT + hours_between(leg.start_at, hour) * self.px_per_hour
            yield Line(((x, _LOW + 8), (x, _LOW + 13)), stroke="soft", width=1)
            if (hour.hour % every) == 0:
                yield Text((x, _LOW + 28), clock(hour), anchor="middle", ink="soft")
            hour = later(hour, 1)

    def line(self) -> Iterator[Shape]:
        """The curve itself."""
        leg = self.leg
        times = (later(leg.start_at, leg.hours * i / _POINTS) for i in range(1, _POINTS))
        points = (self.at(leg.start_at), *(self.at(at) for at in times), self.at(leg.end_at))
        yield Line(points, width=2.5, part="curve")

    def now(self) -> Iterator[Shape]:
        """Where the water stands now."""
        if not self.tide.now_is_on_it:
            return
        x, y = self.at(self.tide.now)
        yield Line(((x, _TOP - 8), (x, _LOW + 8)), stroke="strong", width=2, dash="2 3", part="now")
        yield Circle((x, y), 5, stroke="strong", width=2, fill="paper", part="now-level")

    def _now_words(self) -> Iterator[Text]:
        """Below the curve where that is high, above it where it is low."""
        x, y = self.at(self.tide.now)
        words = f"now {clock(self.tide.now)}"
        half = text_width(words, TEXT, bold=True) / 2
        middle = min(max(x, _LEFT + half + 2), _RIGHT - half - 2)
        level = _LOW - 4 if y < (_TOP + _LOW) / 2 else _TOP + 8
        yield Text((middle, level), words, bold=True, anchor="middle", ink="strong", halo="water")

    def steps(self) -> Iterator[Shape]:
        """Numbered marks where the lamps are to be clipped again; the table below says how high."""
        placer = Placer(Box(0, _TOP - 8, WIDTH, _LOW + 8))
        if self.tide.now_is_on_it:
            placer.put(self._now_words())
        for number, step in enumerate(self._on_curve(), 1):
            x, y = self.at(datetime.fromisoformat(step["at"]))
            yield Circle((x, y), 4, fill="ink", part=f"step-{number}")
            yield Line(((x, y + 4), (x, _LOW + 8)), stroke="soft", width=1)
            # numbers stand on the open side of the curve first
            aside = 12 if self.leg.is_falling else -12
            spots = [(x + aside, y - 4), (x + aside, y + 12), (x - aside, y + 16)]
            label = Text((0, 0), str(number), bold=True, anchor="middle", halo="water")
            placer.put(replace(label, at=spot) for spot in spots)
        yield from placer.placed

    def _on_curve(self) -> list[Mapping[str, Any]]:
        leg = self.leg
        return [
            step
            for step in self.tide.steps
            if 0 <= hours_between(leg.start_at, datetime.fromisoformat(step["at"])) <= leg.hours
        ]

    def rows(self) -> list[str]:
        """The steps in words, by number."""
        rows = []
        for number, step in enumerate(self._on_curve(), 1):
            at = clock(datetime.fromisoformat(step["at"]))
            clips = {lamp: step.get(f"clip_{lamp}_ft") for lamp in _LAMPS}
            rows.append(f"{number}: {at} {clip_words(clips, metric=self.metric)}")
        return rows

    def table(self) -> Iterator[Shape]:
        """The rows below the curve."""
        for i, row in enumerate(self.rows(), 1):
            yield Text((_LEFT, _LOW + 34 + _ROW * i), row)


def clip_words(clips: Mapping[str, float | None], *, metric: bool) -> str:
    """Clip heights as said: both alike once, otherwise each lamp by name."""
    told = {lamp: quantity(clip, "ft", metric=metric) for lamp, clip in clips.items() if clip is not None}
    if len(told) == len(clips) and len(set(told.values())) == 1:
        return f"clip both at {next(iter(told.values()))}"
    return "clip " + ", ".join(f"{lamp} {height}" for lamp, height in told.items())
