"""The card as one page of PDF, A4 or letter, by reportlab with the bundled font, pictures as lines.

Whatever stands on the card, it stays one page: all of it is made smaller until it fits.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from coach.card.content import CAUTION, TITLE, Card
from coach.pictures.letters import wrapped
from coach.pictures.parts import part
from coach.pictures.png import FONT_FILES
from coach.pictures.svg import WIDTH, Circle, Drawing, Text
from coach.pictures.themes import LIGHT, Theme

PAPERS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
"""Width and height in points."""
_MARGIN, _GAP = 28.0, 16.0
_SIZE, _LEADING = 9.0, 1.28
_TALLEST = 380.0
_SMALLER = 0.96
_SMALLEST = 0.3
_PLAIN, _BOLD = "DejaVuSans", "DejaVuSans-Bold"


@dataclass(frozen=True, slots=True)
class _Block:
    """A heading with lines, or a picture."""

    head: str = ""
    lines: tuple[str, ...] = ()
    drawing: Drawing | None = None
    boxed: bool = False


def pdf(card: Card, *, paper: str = "a4") -> bytes:
    """The card as PDF; the same card gives the same bytes. Raises ValueError for an unknown
    paper, MissingPartError where reportlab is not installed."""
    if paper not in PAPERS:
        raise ValueError(f"paper: got {paper}; allowed {', '.join(PAPERS)}")
    out = io.BytesIO()
    canvas = _canvas(out, PAPERS[paper])
    width, height = PAPERS[paper]
    scale = 1.0
    while _Page(None, card, width, scale).needed() > height - 2 * _MARGIN and scale > _SMALLEST:
        scale *= _SMALLER
    canvas.setTitle(f"{TITLE}, {card.place}" if card.place else TITLE)
    page = _Page(canvas, card, width, scale)
    page.draw(height - _MARGIN)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _canvas(out: io.BytesIO, size: tuple[float, float]) -> Any:
    metrics = part("reportlab.pdfbase.pdfmetrics", needed_for="A card as PDF")
    fonts = part("reportlab.pdfbase.ttfonts", needed_for="A card as PDF")
    for name, file in zip((_PLAIN, _BOLD), FONT_FILES, strict=True):
        metrics.registerFont(fonts.TTFont(name, str(file)))
    module = part("reportlab.pdfgen.canvas", needed_for="A card as PDF")
    return module.Canvas(out, pagesize=size, invariant=1, pageCompression=1)


def _top(card: Card) -> list[_Block]:
    hazards = [_Block(lines=(hazard,), boxed=True) for hazard in card.hazards]
    return [*hazards, *([_Block(lines=card.advice)] if card.advice else [])]


def _left(card: Card) -> Iterator[_Block]:
    yield _Block("Clip heights by the clock", (*_clip_lines(card), *card.clip_notes))
    for kind in ("tide", "plan"):
        if kind in card.kinds:
            yield _Block(drawing=card.picture(kind, LIGHT.name).drawing)
    checks = tuple(f"☐ {question}" for question in card.safety)
    yield _Block("Before the lamps go out", (*checks, CAUTION))


def _right(card: Card) -> Iterator[_Block]:
    if "side" in card.kinds:
        yield _Block(drawing=card.picture("side", LIGHT.name).drawing)
    if card.ladder:
        ladder = "; ".join(f"{depth}: {clip}" for depth, clip in card.ladder)
        yield _Block("Depth under the lamp: clip height", (ladder,))
    steps = tuple(f"{number}. {step}" for number, step in enumerate(card.clearing, 1))
    yield _Block("Clear the water", (*steps, card.clearing_total))
    yield _Block("Limits", card.limits)


def _clip_lines(card: Card) -> Iterator[str]:
    for row in card.clips:
        fall = f", water down {row.fall}" if row.fall else ""
        left, right = (
            f"{lamp} {clip}{'*' if lamp in row.moves else ''}"
            for lamp, clip in (("left", row.left), ("right", row.right))
        )
        yield f"{row.at}: {left}, {right}{fall}"
    if any(row.moves for row in card.clips):
        yield "* clip this lamp anew at that time"


@dataclass(frozen=True, slots=True)
class _Page:
    """Measures the page (without a canvas) or draws it, at a scale."""

    canvas: Any
    card: Card
    width: float
    scale: float

    @property
    def _row(self) -> float:
        return _SIZE * _LEADING * self.scale

    @property
    def _column(self) -> float:
        return (self.width - 2 * _MARGIN - _GAP) / 2

    def needed(self) -> float:
        """Height that all of it takes."""
        columns = max(sum(map(self._height, side(self.card))) for side in (_left, _right))
        full = self.width - 2 * _MARGIN
        return 2.2 * self._row + sum(self._height(b, full) for b in _top(self.card)) + columns

    def draw(self, top: float) -> None:
        """Draw from the top edge down."""
        where = f", {self.card.place}" if self.card.place else ""
        self._text(_MARGIN, top - self._row, f"{TITLE}{where}", _BOLD, _SIZE * 1.4)
        self.canvas.setFont(_PLAIN, _SIZE * self.scale)
        self.canvas.drawRightString(self.width - _MARGIN, top - self._row, self.card.made)
        top -= 2.2 * self._row
        for block in _top(self.card):
            top = self._block(block, _MARGIN, top, self.width - 2 * _MARGIN)
        for side, left in ((_left, _MARGIN), (_right, _MARGIN + self._column + _GAP)):
            at = top
            for block in side(self.card):
                at = self._block(block, left, at, self._column)

    def _height(self, block: _Block, width: float | None = None) -> float:
        width = self._column if width is None else width
        if block.drawing is not None:
            return block.drawing.height * self._picture_scale(block.drawing) + 6 * self.scale
        rows = sum(len(self._lines(line, width, block.boxed)) for line in block.lines)
        return (rows + (1.7 if block.head else 0.6)) * self._row

    def _picture_scale(self, drawing: Drawing) -> float:
        return min(self._column / WIDTH, _TALLEST / drawing.height) * self.scale

    def _lines(self, text: str, width: float, bold: bool) -> Sequence[str]:
        return wrapped(text, width - 6, size=_SIZE * self.scale, bold=bold) or [""]

    def _block(self, block: _Block, left: float, top: float, width: float) -> float:
        """Draw a block; where it ends."""
        low = top - self._height(block, width)
        if block.drawing is not None:
            _Paper(self.canvas, left, top, self._picture_scale(block.drawing), LIGHT).draw(block.drawing)
            return low
        at = top - self._row
        self.canvas.setStrokeColor(LIGHT["ink"])
        self.canvas.setDash([])
        if block.head:
            self._text(left, at, block.head, _BOLD, _SIZE * 1.05)
            self.canvas.setLineWidth(0.5)
            self.canvas.line(left, at - 2, left + width, at - 2)
            at -= self._row * 1.1
        if block.boxed:
            self.canvas.setLineWidth(1.2)
            self.canvas.rect(left, low + 3 * self.scale, width, top - low - 4 * self.scale)
        for line in block.lines:
            for row in self._lines(line, width, block.boxed):
                self._text(left + (3 if block.boxed else 0), at, row, _BOLD if block.boxed else _PLAIN, _SIZE)
                at -= self._row
        return low

    def _text(self, x: float, y: float, text: str, font: str, size: float) -> None:
        self.canvas.setFillColor(LIGHT["ink"])
        self.canvas.setFont(font, size * self.scale)
        self.canvas.drawString(x, y, text)


@dataclass(frozen=True, slots=True)
class _Paper:
    """Draws a picture's shapes on the canvas; y runs down in pictures and up on paper."""

    canvas: Any
    left: float
    top: float
    scale: float
    theme: Theme

    def at(self, x: float, y: float) -> tuple[float, float]:
        """A place of the picture on the page."""
        return self.left + x * self.scale, self.top - y * self.scale

    def draw(self, drawing: Drawing) -> None:
        """Draw all shapes in order."""
        for shape in drawing.shapes:
            if isinstance(shape, Text):
                self._text(shape)
                continue
            self._pen(shape.stroke, shape.width, shape.dash)
            if shape.fill:
                self.canvas.setFillColor(self.theme[shape.fill])
            look = {"stroke": int(bool(shape.stroke)), "fill": int(bool(shape.fill))}
            if isinstance(shape, Circle):
                self.canvas.circle(*self.at(*shape.at), shape.radius * self.scale, **look)
                continue
            path = self.canvas.beginPath()
            path.moveTo(*self.at(*shape.points[0]))
            for point in shape.points[1:]:
                path.lineTo(*self.at(*point))
            if shape.fill:
                path.close()
            self.canvas.drawPath(path, **look)

    def _pen(self, stroke: str | None, width: float, dash: str) -> None:
        if stroke:
            self.canvas.setStrokeColor(self.theme[stroke])
        self.canvas.setLineWidth(width * self.scale)
        self.canvas.setDash([float(part) * self.scale for part in dash.split()])

    def _text(self, shape: Text) -> None:
        x, y = self.at(*shape.at)
        font, size = (_BOLD if shape.bold else _PLAIN), shape.size * self.scale
        width = self.canvas.stringWidth(shape.text, font, size)
        x -= {"start": 0.0, "middle": width / 2, "end": width}[shape.anchor]
        self.canvas.setDash([])
        for halo in (True, False):
            if halo and not shape.halo:
                continue
            line = self.canvas.beginText(x, y)
            line.setFont(font, size)
            if halo:
                self._pen(shape.halo, 4, "")
                self.canvas.setLineJoin(1)
            self.canvas.setFillColor(self.theme[shape.halo if halo and shape.halo else shape.ink])
            line.setTextRenderMode(2 if halo else 0)
            line.textOut(shape.text)
            line.setTextRenderMode(0)
            self.canvas.drawText(line)
