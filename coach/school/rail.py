"""The sheet for the rail: what a learner needs at hand, what is still shaky, and what the captain signs.

Out of the same rules, figures and texts as everything else; as words, as an HTML file, and as PDF.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.card.paper import PAPERS
from coach.figures.lamp import clip_height_ft
from coach.pictures.letters import wrapped
from coach.pictures.parts import part
from coach.pictures.png import FONT_FILES
from coach.pictures.svg import escaped
from coach.pictures.themes import LIGHT
from coach.school.bank import Bank
from coach.school.kept import Signature
from coach.school.progress import sheet, sheet_lines
from coach.school.state import Answer, Learner
from coach.school.told import addressed, large
from coach.wording import quantity

_MARGIN, _GAP, _SIZE, _LEADING, _SMALLER, _SMALLEST = 30.0, 18.0, 9.5, 1.3, 0.96, 0.35
_PLAIN, _BOLD = "DejaVuSans", "DejaVuSans-Bold"
_MISSED = 5
_STYLE = """
body { margin: 12px auto; max-width: 760px; background: #fff; color: #101820;
  font: 16px/1.4 "DejaVu Sans", Verdana, sans-serif; padding: 0 12px; }
h1 { font-size: 21px; } h2 { font-size: 17px; margin: 14px 0 4px; border-bottom: 1px solid #3c4852; }
ul { margin: 4px 0; padding-left: 20px; }
@media print { @page { margin: 10mm; }
  body { font-size: 8.6pt; line-height: 1.25; columns: 2; max-width: none; }
  h1 { column-span: all; font-size: 13pt; } h2 { font-size: 9.6pt; } li { break-inside: avoid; } }
"""


@dataclass(frozen=True, slots=True)
class Rail:
    """A title, and sections of lines under a heading."""

    title: str
    sections: tuple[tuple[str, tuple[str, ...]], ...]

    def words(self) -> tuple[str, ...]:
        """The sheet as lines."""
        return (self.title, *(line for head, lines in self.sections for line in ("", head, *lines)))


def rail(
    learner: Learner, bank: Bank, signed: Mapping[str, Signature], answers: Sequence[Answer], *, day: str
) -> Rail:
    """The sheet of one learner; `day` is the date that stands on it."""
    text, book = bank.kitchen.text, bank.kitchen.book
    causes = tuple(
        f"{large(cause.says)}: {bank.kitchen.action(name)}"
        for name, cause in book.causes.items()
        if name in bank.kitchen.doable
    )
    clearing = tuple(f"{number}. {step.says}" for number, step in enumerate(book.clearing, 1))
    sections = (
        (text["rail_heights"], (ladder(bank),)),
        (text["rail_clear"], clearing),
        (text["rail_shaky"], shaky(learner, bank, answers) or (text["play_none"],)),
        (text["rail_sign"], sheet_lines(learner, bank.kitchen.school, signed)),
        (text["rail_causes"], causes),
    )
    return Rail(addressed(text["rail_title"], learner.shown_name, day=day), sections)


def ladder(bank: Bank) -> str:
    """Clip heights by the depth under the lamp, a foot apart."""
    rig = bank.kitchen.tools.figures.rig
    low, high = round(rig.depth_min_ft), round(rig.depth_max_ft)
    rungs = [(depth, clip_height_ft(float(depth), rig)) for depth in range(low, high + 1)]
    return "; ".join(f"{depth}: {quantity(clip, 'ft')}" for depth, clip in rungs if clip is not None)


def shaky(learner: Learner, bank: Bank, answers: Sequence[Answer]) -> tuple[str, ...]:
    """The topics that are shaky, and the right answers of what was missed last."""
    rows = sheet(learner, bank.kitchen.school, {})
    topics = tuple(row.title for row in rows if row.gate.count and not row.gate.mastered)
    missed = dict.fromkeys(answer.item for answer in reversed(answers) if answer.first and not answer.right)
    items = [item for name in list(missed)[:_MISSED] if (item := bank.item(name)) is not None]
    return (*topics, *(f"{item.ask} {item.answer}" for item in items))


def html(page: Rail) -> str:
    """The sheet as one HTML file, nothing fetched from anywhere."""
    body = "".join(_section(head, lines) for head, lines in page.sections)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escaped(page.title)}</title><style>{_STYLE}</style></head>"
        f"<body><h1>{escaped(page.title)}</h1>{body}</body></html>\n"
    )


def _section(head: str, lines: Sequence[str]) -> str:
    items = "".join(f"<li>{escaped(line)}</li>" for line in lines)
    return f"<section><h2>{escaped(head)}</h2><ul>{items}</ul></section>"


def pdf(page: Rail, *, paper: str = "a4") -> bytes:
    """The sheet as one page of PDF; the same sheet gives the same bytes. Raises ValueError for a paper that
    is none, MissingPartError where reportlab is not installed."""
    if paper not in PAPERS:
        raise ValueError(f"paper: got {paper}; allowed {', '.join(PAPERS)}")
    out = io.BytesIO()
    width, height = PAPERS[paper]
    canvas = _canvas(out, (width, height))
    canvas.setTitle(page.title)
    scale = 1.0
    while not _Columns(None, page, width, height, scale).fits() and scale > _SMALLEST:
        scale *= _SMALLER
    _Columns(canvas, page, width, height, scale).draw()
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _canvas(out: io.BytesIO, size: tuple[float, float]) -> Any:
    metrics = part("reportlab.pdfbase.pdfmetrics", needed_for="A sheet as PDF")
    fonts = part("reportlab.pdfbase.ttfonts", needed_for="A sheet as PDF")
    for name, file in zip((_PLAIN, _BOLD), FONT_FILES, strict=True):
        metrics.registerFont(fonts.TTFont(name, str(file)))
    return part("reportlab.pdfgen.canvas", needed_for="A sheet as PDF").Canvas(
        out, pagesize=size, invariant=1
    )


@dataclass(frozen=True, slots=True)
class _Columns:
    """Two columns of rows, measured without a canvas or drawn on one."""

    canvas: Any
    page: Rail
    width: float
    height: float
    scale: float

    def fits(self) -> bool:
        """Whether all rows fit into two columns."""
        return len(self._rows()) <= 2 * self._in_column()

    def draw(self) -> None:
        """Draw title and rows, column by column."""
        self.canvas.setFillColor(LIGHT["ink"])
        self.canvas.setFont(_BOLD, _SIZE * 1.5 * self.scale)
        top = self.height - _MARGIN
        self.canvas.drawString(_MARGIN, top - _SIZE * 1.2 * self.scale, self.page.title)
        for place, (row, is_head) in enumerate(self._rows()):
            column, down = divmod(place, self._in_column())
            x = _MARGIN + column * (self._column() + _GAP)
            y = top - 2.4 * _SIZE * self.scale - (down + 1) * self._leading()
            self.canvas.setFont(_BOLD if is_head else _PLAIN, _SIZE * self.scale)
            self.canvas.drawString(x, y, row)

    def _leading(self) -> float:
        return _SIZE * _LEADING * self.scale

    def _column(self) -> float:
        return (self.width - 2 * _MARGIN - _GAP) / 2

    def _in_column(self) -> int:
        room = self.height - 2 * _MARGIN - 2.4 * _SIZE * self.scale
        return int(room / self._leading())

    def _rows(self) -> list[tuple[str, bool]]:
        rows: list[tuple[str, bool]] = []
        for head, lines in self.page.sections:
            rows += [("", False), (head, True)] if rows else [(head, True)]
            for line in lines:
                rows += [(row, False) for row in self._wrapped(line)]
        return rows

    def _wrapped(self, line: str) -> list[str]:
        """The line in pieces as wide as a column, later ones set in."""
        first, *rest = wrapped(line, self._column() - 8, size=_SIZE * self.scale) or [""]
        return [first, *(f"   {piece}" for piece in rest)]
