"""Pictures of a set: from above, from the side, the tide, the counts; each with the same in words.

    picture_for(facts, numbers, book=..., now=...) -> Picture(kind, svg, words, caption)

is all that front ends call; `png` of coach.pictures.png makes a photo of the SVG.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from coach.apparatus import apparatus
from coach.conversation import Session
from coach.model import Rulebook, Scalar
from coach.pictures.counts_chart import Mark, counts_chart
from coach.pictures.plan import plan
from coach.pictures.seen import Seen, seen
from coach.pictures.side import side
from coach.pictures.svg import Drawing
from coach.pictures.themes import DIM, LIGHT, THEMES
from coach.pictures.tide_curve import tide_curve, tide_of
from coach.pictures.words import Words, counts_words, plan_words, side_words, tide_words
from coach.trips.looks import Look

KINDS = ("side", "plan", "tide", "counts")
CAPTION_LIMIT = 1024
"""Of a photo's caption, in UTF-16 units."""

_PLAN_FACTS = ("lamps.apart_ft", "lamps.out_left_ft", "lamps.out_right_ft", "lamps.centre", "lamps.hull")


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture in the colours of a theme, the same in words, and a short caption.

    `drawing` is the picture without colours, for other themes and for paper.
    """

    kind: str
    svg: str
    words: tuple[str, ...]
    caption: str
    drawing: Drawing


def facts_of(session: Session) -> dict[str, Scalar]:
    """The facts of a chat as pictures want them."""
    return {name: heard.value for name, heard in session.facts.items()}


def picture_for(
    facts: Mapping[str, Scalar],
    numbers: Mapping[str, Any] | None = None,
    *,
    book: Rulebook,
    now: datetime,
    kind: str | None = None,
    theme: str = DIM.name,
    metric: bool = False,
    looks: Sequence[Look] = (),
    marks: Sequence[Mark] = (),
) -> Picture:
    """One picture of what is known: the kind asked for, or the one that shows most.

    `facts` are a chat's facts, `numbers` those of its verdict ("after" is drawn only with them), `now`
    an aware time. Raises ValueError for a kind or a theme that is none.
    """
    if theme not in THEMES or kind not in (None, *KINDS):
        raise ValueError(f"kind, theme: got {kind}, {theme}; allowed {', '.join(KINDS)}; {', '.join(THEMES)}")
    figures = apparatus(book).figures
    known = figures.work_out(facts, now=now)
    found = seen(known, numbers or {}, figures.rig)
    kind = kind or kinds_for(facts, numbers, book=book, now=now, looks=looks)[0]
    words = Words(book, known, metric=metric)
    drawing, said = _made(kind, found, known, numbers or {}, words, now=now, looks=looks, marks=marks)
    drawing = replace(drawing, words=said)
    return Picture(kind, drawing.svg(THEMES[theme]), said, caption_of(said), drawing)


def _made(
    kind: str,
    found: Seen,
    known: Mapping[str, Scalar],
    numbers: Mapping[str, Any],
    words: Words,
    *,
    now: datetime,
    looks: Sequence[Look],
    marks: Sequence[Mark],
) -> tuple[Drawing, tuple[str, ...]]:
    if kind == "plan":
        return plan(found, metric=words.metric), plan_words(found, words)
    if kind == "side":
        return side(found, metric=words.metric), side_words(found, words)
    if kind == "counts":
        return counts_chart(looks, marks), counts_words(looks, marks)
    tide = tide_of(known, numbers, now=now)
    return tide_curve(tide, metric=words.metric), tide_words(tide, words)


def kinds_for(
    facts: Mapping[str, Scalar],
    numbers: Mapping[str, Any] | None = None,
    *,
    book: Rulebook,
    now: datetime,
    looks: Sequence[Look] = (),
) -> tuple[str, ...]:
    """The kinds that have something to show, the most telling first; never none: where nothing is known,
    from above, with question marks."""
    return telling(facts, numbers, book=book, now=now, looks=looks) or ("plan",)


def telling(
    facts: Mapping[str, Scalar],
    numbers: Mapping[str, Any] | None = None,
    *,
    book: Rulebook,
    now: datetime,
    looks: Sequence[Look] = (),
) -> tuple[str, ...]:
    """The kinds that have something to show, the most telling first; maybe none.

    From the side first where the advice moves a lamp, or where nothing is known of the circles.
    """
    figures = apparatus(book).figures
    known = figures.work_out(facts, now=now)
    found = seen(known, numbers or {}, figures.rig)
    has_side = any(lamp.depth_ft is not None for lamp in found.lamps)
    has_plan = any(name in known for name in _PLAN_FACTS)
    moves = any(lamp.moves and lamp.clip_ft is not None for lamp in found.lamps)
    from_side_first = moves or not has_plan
    kinds = [("side", has_side), ("plan", has_plan)]
    kinds = kinds if from_side_first else kinds[::-1]
    kinds += [("tide", tide_of(known, numbers or {}, now=now).leg is not None), ("counts", bool(looks))]
    return tuple(kind for kind, has in kinds if has)


def caption_of(words: Sequence[str], *, limit: int = CAPTION_LIMIT) -> str:
    """As many whole sentences from the start as a caption holds."""
    caption = ""
    for sentence in words:
        longer = f"{caption} {sentence}".strip()
        if len(longer.encode("utf-16-le")) // 2 > limit:
            break
        caption = longer
    return caption


__all__ = [
    "DIM",
    "KINDS",
    "LIGHT",
    "Mark",
    "Picture",
    "caption_of",
    "facts_of",
    "kinds_for",
    "picture_for",
    "telling",
]
