"""The set from the side: how each lamp hangs now and after the fix, to one scale.

            Now                              After
surface  ~~~~~~~~~~~   dark 2 ft          ~~~~~~~~~~~
          . . lit . .                                    dark 5.5 ft
          . . (o) . .  4.5 ft down
          . . . . . .                      . . lit . .
          / / / / / /  under 4 ft          . . (o) . .   8 ft down
bottom   ____[w]_____                     ____[w]_____
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from coach.figures.lamp import Hang
from coach.pictures.letters import spread, wrapped
from coach.pictures.seen import Lamp, Seen, alike, drawn
from coach.pictures.svg import HEAD, TEXT, WIDTH, Circle, Drawing, Line, Shape, Text, box
from coach.wording import quantity

_MOST_PX_A_FT = 20.0
_TALLEST_PX = 210.0
_STRIP = 66.0
_LEFT = 10.0
_ROW = 18.0
_SEEN_PX = 8.0
"""A change of level smaller than this is told in words only."""


def side(seen: Seen, *, metric: bool) -> Drawing:
    """Draw each lamp in its water, one under the other; both in one where they hang alike."""
    lamps = drawn(seen)
    scale = _scale(lamps)
    shapes: list[Shape] = [Text((8, 21), "From the side", HEAD, bold=True)]
    top = 30.0
    for lamp in lamps:
        panel = _Panel(seen, lamp, top, scale, metric, both=alike(seen))
        shapes += panel.shapes()
        top = panel.bottom + 14
    facts = (("kind", "side"), ("px-per-ft", f"{scale:.6f}"))
    return Drawing(top, tuple(shapes), "The set from the side", facts=facts)


def _scale(lamps: tuple[Lamp, ...]) -> float:
    """px per foot, the same for all lamps; of no meaning where no depth is known."""
    deepest = max((max(lamp.depth_ft, _was(lamp)) for lamp in lamps if lamp.depth_ft is not None), default=10)
    return min(_MOST_PX_A_FT, _TALLEST_PX / deepest)


def _was(lamp: Lamp) -> float:
    return lamp.depth_when_set_ft or 0.0


@dataclass(frozen=True, slots=True)
class _Panel:
    """One lamp's water: a heading, and a column each for now and after."""

    seen: Seen
    lamp: Lamp
    top: float
    scale: float
    metric: bool
    both: bool

    @property
    def surface(self) -> float:
        """Height of the surface now; the water stood higher when the lamp was set."""
        lamp = self.lamp
        higher = 0.0
        if lamp.depth_ft is not None:
            higher = max(0.0, _was(lamp) - lamp.depth_ft) * self.scale
            higher += 8 if higher >= _SEEN_PX else 0  # for what stands beside it
        return self.top + 2 * _ROW + 12 + higher

    @property
    def depth_px(self) -> float:
        """Depth of the water in px; a stand-in where it is not known."""
        return 150.0 if self.lamp.depth_ft is None else self.lamp.depth_ft * self.scale

    @property
    def bottom(self) -> float:
        """Where the panel ends; shallow water leaves room for its labels."""
        return self.surface + max(self.depth_px, 3 * _ROW + 8) + 14

    def shapes(self) -> Iterator[Shape]:
        """Everything in the panel."""
        name = "Both lamps" if self.both else f"{self.lamp.name} lamp".capitalize()
        yield Text((8, self.top + 15), f"{name}: {self._depth()}", 15, bold=True)
        columns = self._columns()
        for i, (head, hang, clip) in enumerate(columns):
            yield from self._column(i * WIDTH / 2, head, hang, clip)

    def _depth(self) -> str:
        lamp = self.lamp
        if lamp.depth_ft is None:
            return "depth not known"
        depth = quantity(lamp.depth_ft, "ft", metric=self.metric)
        return f"{depth} deep" + (" at the boat" if lamp.borrowed else "")

    def _columns(self) -> list[tuple[str, Hang | None, float | None]]:
        lamp = self.lamp
        now = ("Now", lamp.now, lamp.clip_ft)
        if lamp.after is None:
            return [now]
        if lamp.moves:
            return [now, ("After", lamp.after, lamp.advised_ft)]
        return [("Now: leave it", lamp.now, lamp.clip_ft)]

    def _column(self, x: float, head: str, hang: Hang | None, clip: float | None) -> Iterator[Shape]:
        part = "after" if head == "After" else "now"
        name = f"{part}-{self.lamp.name}"
        yield Text((x + _LEFT, self.top + _ROW + 16), head, TEXT, bold=True, ink="strong")
        yield from self._water(x + _LEFT, name)
        if part == "now":
            yield from self._water_when_set(x + _LEFT, name)
        if hang is None or clip is None:
            yield from self._unknown_lamp(x + _LEFT, name)
            return
        yield from self._bands(x + _LEFT, hang, name)
        yield from self._rope(x + _LEFT, hang, name)
        yield from self._labels(x + _LEFT + _STRIP, hang, clip)

    def _water(self, x: float, name: str) -> Iterator[Shape]:
        top, deep = self.surface, self.depth_px
        unknown = "5 4" if self.lamp.depth_ft is None or self.lamp.borrowed else ""
        yield Line(box(x, top, _STRIP, deep), stroke=None, fill="water", part=f"water-{name}")
        yield Line(box(x, top + deep, _STRIP, 9), stroke=None, fill="bed")
        yield Line(((x, top), (x + _STRIP, top)), width=2, part=f"surface-{name}")
        low = top + deep
        yield Line(((x, low), (x + _STRIP, low)), width=2, dash=unknown, part=f"bottom-{name}")

    def _water_when_set(self, x: float, name: str) -> Iterator[Shape]:
        lamp = self.lamp
        if lamp.depth_ft is None or lamp.depth_when_set_ft is None:
            return
        rise = (lamp.depth_when_set_ft - lamp.depth_ft) * self.scale
        if abs(rise) < _SEEN_PX:
            return
        level = self.surface - rise
        yield Line(
            ((x, level), (x + _STRIP, level)), stroke="soft", width=1.5, dash="2 4", part=f"was-{name}"
        )
        was = quantity(lamp.depth_when_set_ft, "ft", metric=self.metric)
        if rise > 0:
            base = min(level + 5, self.surface - 12)
            yield Text((x + _STRIP + 8, base), f"was {was}", ink="soft")

    def _unknown_lamp(self, x: float, name: str) -> Iterator[Shape]:
        """A rope of unknown height: dashed, with a question mark where a lamp might be."""
        middle, top = x + _STRIP / 2, self.surface
        yield Line(((middle, top + self.depth_px), (middle, top)), dash="5 4", part=f"rope-{name}")
        centre = (middle, top + self.depth_px / 2)
        yield Circle(centre, 10, dash="4 3", fill="water", part=f"lamp-{name}")
        yield Text((centre[0], centre[1] + 5), "?", bold=True, anchor="middle")
        words = "clip height not known" if self.lamp.depth_ft is not None else "nothing to work from"
        for i, line in enumerate(wrapped(words, 90)):
            yield Text((x + _STRIP + 10, centre[1] + 5 + i * _ROW), line)

    def _bands(self, x: float, hang: Hang, name: str) -> Iterator[Shape]:
        top = self.surface + hang.dark_band_ft * self.scale
        low = self.surface + self.depth_px - hang.under_path_ft * self.scale
        yield Line(box(x, top, _STRIP, low - top), stroke="ink", width=1, fill="lit", part=f"lit-{name}")
        yield from _dots(x, top, low)
        yield from _hatching(x, low, self.surface + self.depth_px)

    def _rope(self, x: float, hang: Hang, name: str) -> Iterator[Shape]:
        middle, low = x + _STRIP / 2, self.surface + self.depth_px
        lamp = self.surface + hang.lamp_depth_ft * self.scale
        if self.seen.from_above:
            yield Line(((middle, self.surface), (middle, lamp)), width=2, part=f"rope-{name}")
        else:
            yield Line(((middle, low), (middle, lamp)), width=2, part=f"rope-{name}")
            weight = ((middle - 8, low), (middle - 5, low - 8), (middle + 5, low - 8), (middle + 8, low))
            yield Line(weight, fill="ink", part=f"weight-{name}")
        yield Circle((middle, lamp), 6, width=2, fill="lit", part=f"lamp-{name}")
        yield Circle((middle, lamp), 2, stroke=None, fill="ink")

    def _labels(self, x: float, hang: Hang, clip: float) -> Iterator[Shape]:
        """The figures beside the strip, each with a line to what it measures."""
        top, low = self.surface, self.surface + self.depth_px
        lamp = top + hang.lamp_depth_ft * self.scale
        dark, under = hang.dark_band_ft * self.scale, hang.under_path_ft * self.scale
        said = [
            (f"dark {self._feet(hang.dark_band_ft)}", top + dark / 2, (top, top + dark)),
            (f"{self._feet(hang.lamp_depth_ft)} down", lamp, None),
            (f"clip {self._feet(clip)}", (lamp + low) / 2, None),
            (f"under {self._feet(hang.under_path_ft)}", low - under / 2, (low - under, low)),
        ]
        rows = spread([at for _, at, _ in said], gap=_ROW, low=top + 2, high=low + 2)
        for (text, at, reach), row in zip(said, rows, strict=True):
            if reach is not None:
                yield Line(((x + 4, reach[0]), (x + 4, reach[1])), width=3)
            yield Line(((x + 4, at), (x + 9, row)), stroke="soft", width=1)
            yield Text((x + 12, row + 5), text)

    def _feet(self, feet: float) -> str:
        return quantity(feet, "ft", metric=self.metric)


def _dots(x: float, top: float, low: float) -> Iterator[Shape]:
    """Dotted lines: lit water, told without colour."""
    rows = max(1, round((low - top) / 12))
    step = (low - top) / rows
    for i in range(rows):
        y = top + step * (i + 0.5)
        yield Line(((x + 4 + 4 * (i % 2), y), (x + _STRIP - 3, y)), stroke="mark", width=2, dash="2 8")


def _hatching(x: float, top: float, low: float) -> Iterator[Shape]:
    """Slanted lines: the under-path, told without colour."""
    if low - top < 1:
        return
    for start in range(-int(low - top), int(_STRIP), 10):
        left, right = max(0.0, float(start)), min(_STRIP, start + low - top)
        if right - left > 1:
            ends = ((x + left, low - (left - start)), (x + right, low - (right - start)))
            yield Line(ends, stroke="mark", width=1.2)
