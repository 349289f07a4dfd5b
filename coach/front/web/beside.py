"""Pictures, tonight's card and the log of trips of a boat, as the page asks for them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from coach.card.limits import own_sheet
from coach.card.page import html
from coach.consult import Desk
from coach.front.web.turns import Turns
from coach.pages import Pages
from coach.pictures import KINDS
from coach.trips.export import as_calendar, as_csv, as_json
from coach.trips.words import summary, title

_BACK = '<body><p class="screen"><a href="/">Back to the coach</a></p>'
_HEAD_END = "</style>"
_LINK = "a { color: inherit; display: inline-block; padding: 14px 0; }"


class BesideTalk:
    """What is shown beside the talk. Raises StoreError."""

    def __init__(self, desk: Desk) -> None:
        store, self._book, infer = desk.parts
        self._pages, self._turns = Pages(store, self._book, infer=infer), Turns(desk)

    def picture(self, boat: str, kind: str, *, theme: str, now: datetime) -> str:
        """A picture as SVG. Raises ValueError for a kind or a theme that is none."""
        if kind not in KINDS:
            raise ValueError(f"kind: allowed {', '.join(KINDS)}")
        return self._pages.picture(boat, now=self._here(boat, now), kind=kind, theme=theme).svg

    def card(self, boat: str, *, now: datetime) -> str:
        """Tonight's card as a page, with the way back to the coach (not on paper)."""
        try:
            sheet = own_sheet()
        except OSError:  # a faulty sheet is named where it is checked; the card says that none is filled in
            sheet = None
        page = html(self._pages.card(boat, now=self._here(boat, now), sheet=sheet))
        return page.replace(_HEAD_END, _LINK + _HEAD_END, 1).replace("<body>", _BACK, 1)

    def trips(self, boat: str) -> list[dict[str, Any]]:
        """Every trip in a line and in words, the latest first."""
        metric = self._turns.session(boat).metric
        return [
            {"title": title(trip), "lines": list(summary(trip, self._book, metric=metric))}
            for trip in reversed(self._pages.trips(boat))
        ]

    def export(self, boat: str, form: str, *, now: datetime) -> tuple[str, str, str] | None:
        """All trips as a file: its name, its type and what it holds; None for a form that is none."""
        trips = self._pages.trips(boat)
        if form == "trips.csv":
            return form, "text/csv; charset=utf-8", as_csv(trips)
        if form == "trips.json":
            return form, "application/json", as_json("me", trips)
        if form == "trips.ics":
            metric = self._turns.session(boat).metric
            return (
                form,
                "text/calendar; charset=utf-8",
                as_calendar(boat, trips, self._book, made_at=self._here(boat, now), metric=metric),
            )
        return None

    def _here(self, boat: str, now: datetime) -> datetime:
        return now.astimezone(self._turns.zone(boat))
