"""Counts over the night: the catch in ten minutes at each look, and the bow's share with its range."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from coach.figures.clock import hours_between, later
from coach.figures.counts import bow_share
from coach.pictures.letters import Box, Placer, text_width
from coach.pictures.svg import HEAD, TEXT, WIDTH, Drawing, Line, Shape, Text, box
from coach.trips.looks import Look
from coach.wording import clock

_LEFT, _RIGHT = 44.0, 346.0
_TOP, _LOW = 62.0, 190.0
_SHARES = 86.0
_LEAST_HOURS = 0.5
_BLIND_MIN = 8.0
"""How wide a look without minutes is drawn, dashed; it stands for no time."""
_MARKS = 8
_LATEST = 60
"""More looks than this cannot be told apart at the width of a phone; the latest are drawn."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that was done or advised at a moment, marked by a number."""

    at: datetime
    says: str


def counts_chart(looks: Sequence[Look], marks: Sequence[Mark] = ()) -> Drawing:
    """Draw the looks as bars, as wide as their minutes and as high as their catch in ten minutes."""
    facts: tuple[tuple[str, str], ...] = (("kind", "counts"),)
    if not looks:
        empty = (Text((8, 21), "Counts over the night", HEAD, bold=True), Text((8, 50), "no counts yet: ?"))
        return Drawing(70, empty, "Counts over the night", facts=facts)
    chart = _Chart(tuple(looks[-_LATEST:]), tuple(marks))
    facts += (("px-per-hour", f"{chart.px_per_hour:.6f}"), ("px-per-count", f"{chart.px_per_count:.6f}"))
    shapes = (*chart.frame(), *chart.bars(), *chart.labels(), *chart.shares(), *chart.rows())
    return Drawing(chart.bottom, shapes, "Counts over the night", facts=facts)


@dataclass(frozen=True, slots=True)
class _Chart:
    looks: tuple[Look, ...]
    marks: tuple[Mark, ...]

    @property
    def start(self) -> datetime:
        """Where the time axis begins: the earliest start of a look."""
        return min(_start(look) for look in self.looks)

    @property
    def hours(self) -> float:
        """How long the time axis is."""
        return max(_LEAST_HOURS, hours_between(self.start, max(look.at for look in self.looks)))

    @property
    def px_per_hour(self) -> float:
        """Width of an hour."""
        return (_RIGHT - _LEFT) / self.hours

    @property
    def most(self) -> float:
        """The highest catch in ten minutes, at least one."""
        return max(1.0, *(look.per_10min or 0.0 for look in self.looks))

    @property
    def px_per_count(self) -> float:
        """Height of one animal in ten minutes."""
        return (_LOW - _TOP) / self.most

    @property
    def shared(self) -> list[Look]:
        """The looks in which bow and stern were told apart, in whole numbers that add up."""
        both = [look for look in self.looks if look.bow is not None and look.stern is not None]
        return [look for look in both if look.total and _is_whole(look.bow) and _is_whole(look.stern)]

    @property
    def shares_top(self) -> float:
        """Where the strip of shares begins."""
        return _LOW + 44

    @property
    def rows_top(self) -> float:
        """Where the list of marks begins."""
        return self.shares_top + (_SHARES + 20 if self.shared else 0)

    @property
    def bottom(self) -> float:
        """Where the picture ends."""
        return self.rows_top + 19 * len(self.shown_marks) + (2 if self.shown_marks else -6)

    @property
    def shown_marks(self) -> list[Mark]:
        """The marks that lie on the time axis, the latest if there are many."""
        inside = [mark for mark in self.marks if 0 <= hours_between(self.start, mark.at) <= self.hours]
        return inside[-_MARKS:]

    def x(self, at: datetime) -> float:
        """A time in px."""
        return _LEFT + hours_between(self.start, at) * self.px_per_hour

    def frame(self) -> Iterator[Shape]:
        """Title, legend, scale and hours."""
        yield Text((8, 21), "Counts over the night", HEAD, bold=True)
        yield Line(box(_LEFT, _TOP - 6, _RIGHT - _LEFT, _LOW - _TOP + 6), stroke=None, fill="water")
        yield Text((8, 44), "catch in ten minutes", ink="soft")
        if self.shared:
            yield from self._legend()
        for count in (self.most, 0.0):
            y = _LOW - count * self.px_per_count
            yield Line(((_LEFT - 5, y), (_LEFT, y)), stroke="soft", width=1)
            said = f"{count:.0f}" if count < 9_999.5 else f"{count / 1000:.0f}k"
            yield Text((_LEFT - 8, y + 5), said, anchor="end")
        yield from self._hours()

    def _legend(self) -> Iterator[Shape]:
        """What the filling of the bars means."""
        for x, word, filled in ((210, "bow", True), (280, "stern", False)):
            yield Line(
                (*box(x, 33, 16, 12), (x, 33)), stroke="ink", width=1, fill="lit" if filled else "paper"
            )
            if filled:
                yield from _hatching(x, 33, 16, 12)
            yield Text((x + 22, 44), word)

    def _hours(self) -> Iterator[Shape]:
        """Times along the lower edge, as many as there is room for."""
        steps = (10, 20, 30, 60, 120, 180, 360, 720, 1440)
        every = next((step for step in steps if step / 60 * self.px_per_hour >= 50), steps[-1])
        midnight = self.start.replace(hour=0, minute=0, second=0, microsecond=0)
        gone = hours_between(midnight, self.start) * 60
        at = later(midnight, -(-gone // every) * every / 60)
        yield Line(((_LEFT, _LOW), (_RIGHT, _LOW)), width=1.5)
        while hours_between(self.start, at) <= self.hours + 1e-9:
            x = self.x(at)
            yield Line(((x, _LOW), (x, _LOW + 5)), stroke="soft", width=1)
            half = text_width(clock(at)) / 2
            yield Text((min(x, WIDTH - half - 2), _LOW + 20), clock(at), anchor="middle", ink="soft")
            at = later(at, every / 60)

    def bars(self) -> Iterator[Shape]:
        """A bar a look; one without minutes is dashed, with its count and a question mark."""
        for look in self.looks:
            left, right = self.x(_start(look)), self.x(look.at)
            rate = look.per_10min
            if rate is None:
                yield Line(_open_box(left, _TOP + 30, right, _LOW), dash="4 4", part="look-unknown")
                continue
            high = rate * self.px_per_count
            bow = high if look.bow is None else high * look.bow / look.total if look.total else 0.0
            bar = box(left, _LOW - high, right - left, high)
            yield Line(
                (*bar, bar[0]),
                stroke="ink",
                width=1,
                fill="lit" if look.bow is None else "paper",
                part="look",
            )
            if look.bow is not None and bow > 0:
                low = box(left, _LOW - bow, right - left, bow)
                yield Line((*low, low[0]), stroke="ink", width=1, fill="lit", part="look-bow")
                yield from _hatching(left, _LOW - bow, right - left, bow)

    def labels(self) -> Iterator[Shape]:
        """Numbered lines where something was advised, and counts that have no minutes; over the bars."""
        placer = Placer(Box(_LEFT - 8, _TOP - 8, WIDTH, _LOW))
        for number, mark in enumerate(self.shown_marks, 1):
            x = self.x(mark.at)
            yield Line(((x, _TOP - 2), (x, _LOW)), stroke="strong", width=2, dash="2 3", part="mark")
            half = text_width(str(number), bold=True) / 2
            spot = min(max(x, _LEFT + half), _RIGHT - half)
            label = Text((spot, _TOP + 10), str(number), bold=True, anchor="middle", ink="strong")
            placer.put([replace(label, halo="water")])
        for look in self.looks:
            if look.per_10min is None:
                words = f"{look.total:g} ?"
                half = text_width(words) / 2
                x = min(
                    max(self.x(look.at) - _BLIND_MIN / 120 * self.px_per_hour, _LEFT + half + 2),
                    _RIGHT - half,
                )
                levels = (_TOP + 24, _TOP + 42, _TOP + 60)
                placer.put([Text((x, y), words, anchor="middle", halo="water") for y in levels])
        yield from placer.placed

    def rows(self) -> Iterator[Shape]:
        """What the numbers stand for."""
        for number, mark in enumerate(self.shown_marks, 1):
            row = _fitted(f"{number}: {clock(mark.at)} {mark.says}", WIDTH - 20)
            yield Text((12, self.rows_top + 19 * (number - 1) + 6), row)

    def shares(self) -> Iterator[Shape]:
        """The bow's share at each look with its 95 % range, against one half."""
        if not self.shared:
            return
        top, low = self.shares_top + 14, self.shares_top + _SHARES
        yield Text((8, self.shares_top + 4), "the bow's share, with its range", ink="soft")
        yield Line(box(_LEFT, top, _RIGHT - _LEFT, low - top), stroke=None, fill="water")
        for share, word in ((1.0, "all"), (0.5, "half"), (0.0, "none")):
            y = low - share * (low - top)
            yield Text((_LEFT - 6, y + (10 if share == 1 else 0 if share == 0 else 5)), word, anchor="end")
        middle = (top + low) / 2
        yield Line(((_LEFT, middle), (_RIGHT, middle)), stroke="soft", width=1, dash="5 4")
        for look in self.shared:
            found = bow_share(look.bow or 0.0, look.stern or 0.0)
            assert found.bow_share is not None  # something was lifted
            x = (self.x(_start(look)) + self.x(look.at)) / 2
            y = low - found.bow_share * (low - top)
            high = low - found.bow_share_high * (low - top)
            least = low - found.bow_share_low * (low - top)
            yield Line(((x, high), (x, least)), width=2, part="share-range")
            yield Line(((x - 5, y), (x + 5, y)), width=3, part="share")


def _start(look: Look) -> datetime:
    return look.at - timedelta(minutes=look.minutes or _BLIND_MIN)


def _is_whole(count: float | None) -> bool:
    return count is not None and float(count).is_integer()


def _open_box(left: float, top: float, right: float, low: float) -> tuple[tuple[float, float], ...]:
    return ((left, low), (left, top), (right, top), (right, low))


def _hatching(x: float, y: float, width: float, height: float) -> Iterator[Shape]:
    """Level lines: the bow's part, told without colour."""
    if width < 8:
        return
    for i in range(1, int(height / 8) + 1):
        level = y + height - 8 * i
        if level > y + 2:
            yield Line(((x + 2, level), (x + width - 2, level)), stroke="mark", width=1.5)


def _fitted(text: str, room: float) -> str:
    """The text, cut with an ellipsis where it is too wide."""
    while text_width(text, TEXT) > room:
        text = text[:-2].rstrip() + "…"
    return text
