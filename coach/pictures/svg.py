"""A small builder of pictures: shapes with roles, written as SVG in the colours of a theme.

Only presentation attributes are used: no style, script, link or id, so that a picture can stand in
any page under a strict content policy, and several beside each other. All text is escaped. Lengths
are in px at a width of 360. What a shape shows is in its `data-part`, so that programs and tests
can read the geometry back.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from coach.pictures.themes import Theme

WIDTH = 360.0
TEXT = 14.0
"""The smallest text; anything smaller is not read at arm's length."""
HEAD = 16.0
FONT = "DejaVu Sans"

Point = tuple[float, float]

_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlined:
    """How a shape is drawn, in the roles of a theme. `dash` is for what is not known."""

    stroke: str | None = "ink"
    width: float = 1.5
    dash: str = ""
    fill: str | None = None
    part: str = ""


@dataclass(frozen=True, slots=True)
class Line(Outlined):
    """A polyline, or a polygon if it has a `fill`."""

    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Circle(Outlined):
    """A circle."""

    at: Point
    radius: float


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text; `at` is the base line's start, middle or end. `halo`: on lines, keep them off."""

    at: Point
    text: str
    size: float = TEXT
    bold: bool = False
    anchor: str = "start"
    ink: str = "ink"
    halo: str | None = None
    part: str = ""


Shape = Line | Circle | Text


def box(x: float, y: float, width: float, height: float) -> tuple[Point, ...]:
    """The corners of an upright rectangle."""
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished picture without its colours. `facts` are figures for reading it back (data-...)."""

    height: float
    shapes: tuple[Shape, ...]
    title: str
    words: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = field(default=())

    def svg(self, theme: Theme) -> str:
        """The picture as SVG text in a theme's colours; the same drawing gives the same bytes."""
        data = "".join(f' data-{name}="{escaped(value)}"' for name, value in self.facts)
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_px(WIDTH)} {_px(self.height)}"'
            f' role="img" font-family="{FONT}, Verdana, sans-serif"{data}>'
            f"<title>{escaped(self.title)}</title><desc>{escaped(' '.join(self.words))}</desc>"
        )
        ground = Line(box(0, 0, WIDTH, self.height), stroke=None, fill="paper", part="paper")
        return head + "".join(_written((ground, *self.shapes), theme)) + "</svg>\n"


def escaped(text: str) -> str:
    """Text safe between tags and in quotes; characters that XML forbids become a replacement sign."""
    return html.escape(_NO_XML.sub("�", text), quote=True)


def _written(shapes: Iterable[Shape], theme: Theme) -> Iterator[str]:
    for shape in shapes:
        if isinstance(shape, Text):
            yield _text(shape, theme)
        elif isinstance(shape, Circle):
            x, y = shape.at
            where = f'cx="{_px(x)}" cy="{_px(y)}" r="{_px(shape.radius)}"'
            yield f"<circle {where}{_look(shape, theme)}/>"
        else:
            tag = "polygon" if shape.fill is not None else "polyline"
            points = " ".join(f"{_px(x)},{_px(y)}" for x, y in shape.points)
            yield f'<{tag} points="{points}"{_look(shape, theme)}/>'


def _look(shape: Outlined, theme: Theme) -> str:
    look = f' fill="{theme[shape.fill] if shape.fill else "none"}"'
    if shape.stroke:
        look += f' stroke="{theme[shape.stroke]}" stroke-width="{_px(shape.width)}"'
        look += f' stroke-dasharray="{shape.dash}"' if shape.dash else ""
    return look + _part(shape.part)


def _text(shape: Text, theme: Theme) -> str:
    look = f'x="{_px(shape.at[0])}" y="{_px(shape.at[1])}" font-size="{_px(shape.size)}"'
    look += ' font-weight="bold"' if shape.bold else ""
    look += f' text-anchor="{shape.anchor}"' if shape.anchor != "start" else ""
    if shape.halo:  # drawn first, under the letters
        look += f' stroke="{theme[shape.halo]}" stroke-width="4" stroke-linejoin="round" paint-order="stroke"'
    look += f' fill="{theme[shape.ink]}"'
    return f"<text {look}{_part(shape.part)}>{escaped(shape.text)}</text>"


def _part(part: str) -> str:
    return f' data-part="{escaped(part)}"' if part else ""


def _px(value: float) -> str:
    """A length with two decimals at most and never a minus zero, so that bytes do not vary."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
