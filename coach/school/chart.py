"""The progress as a picture: a bar a topic, the part that is surely right, and where mastery begins."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coach.pictures.svg import HEAD, TEXT, WIDTH, Drawing, Line, Shape, Text, box
from coach.school.parts import School
from coach.school.progress import Row, topic_lines

_SIDE, _TOP, _ROW, _BAR = 10.0, 34.0, 40.0, 12.0
_LEGEND = 40.0


def progress_chart(rows: Sequence[Row], school: School, *, name: str) -> Drawing:
    """A bar for each topic: right first tries as far as filled, the lower bound as a mark in it."""
    width = WIDTH - 2 * _SIDE
    share = school.plan["mastery.share"]
    shapes: list[Shape] = [Text((_SIDE, 22), _cut(name), size=HEAD, bold=True)]
    for place, row in enumerate(rows):
        shapes += _bar(row, _TOP + place * _ROW, width, share)
    bottom = _TOP + len(rows) * _ROW
    shapes += _legend(bottom, width, share)
    facts = tuple((row.gate.topic, f"{row.gate.right}/{row.gate.count}") for row in rows)
    height = bottom + _LEGEND
    return Drawing(height, tuple(shapes), f"Progress of {name}", words=topic_lines(rows, school), facts=facts)


def _bar(row: Row, top: float, width: float, share: float) -> Iterator[Shape]:
    gate = row.gate
    yield Text(
        (_SIDE, top + 16), row.title, part=f"title-{gate.topic}", ink="ink" if gate.is_open else "soft"
    )
    low = top + 21
    yield Line(box(_SIDE, low, width, _BAR), width=1.0, fill="paper", part=f"frame-{gate.topic}")
    if gate.count:
        done = width * gate.right / gate.count
        yield Line(box(_SIDE, low, done, _BAR), stroke=None, fill="lit", part=f"right-{gate.topic}")
        sure = _SIDE + width * gate.at_least
        yield Line(((sure, low), (sure, low + _BAR)), stroke="ink", width=3.0, part=f"sure-{gate.topic}")
    goal = _SIDE + width * share
    yield Line(((goal, low - 2), (goal, low + _BAR + 2)), stroke="ink", width=1.5, dash="2 2", part="goal")
    if gate.mastered:
        yield Text((WIDTH - _SIDE, top + 16), "✓", bold=True, anchor="end", part=f"mastered-{gate.topic}")


def _legend(top: float, width: float, share: float) -> Iterator[Shape]:
    del width
    yield Text((_SIDE, top + 14), "Filled: right at first go. Thick: surely at least.", size=TEXT)
    yield Text((_SIDE, top + 31), f"Dashed: mastered from {share:.0%} on.", size=TEXT)


def _cut(name: str, most: int = 34) -> str:
    return name if len(name) <= most else f"{name[: most - 1]}…"
