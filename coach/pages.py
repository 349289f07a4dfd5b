"""Pictures, card and trips of a chat, for every front end: what is shown beside the talk."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coach.card.content import Card, card_for
from coach.card.limits import Sheet
from coach.consultation import Infer
from coach.conversation import Session
from coach.figures.clock import hours_between
from coach.model import Rulebook, Scalar
from coach.pictures import Mark, Picture, facts_of, kinds_for, picture_for
from coach.store import Store
from coach.tabled import with_table
from coach.trips import kept
from coach.trips.looks import Look, chosen
from coach.trips.trip import OVER_AFTER_H, Trip
from coach.trips.words import place_name


@dataclass(frozen=True, slots=True)
class Known:
    """What a chat knows: its facts, the numbers of its verdict while that stands, tonight's trip."""

    facts: Mapping[str, Scalar]
    numbers: Mapping[str, Any]
    metric: bool
    trip: Trip | None

    @property
    def looks(self) -> tuple[Look, ...]:
        """Tonight's looks."""
        return chosen(self.trip.looks) if self.trip is not None else ()

    @property
    def marks(self) -> tuple[Mark, ...]:
        """What was advised tonight."""
        return marks_of(self.trip) if self.trip is not None else ()


class Pages:
    """Makes pages of what the store knows. Holds no chat's state. Raises StoreError as the store does.

    `metric`: for a chat that has not begun, and where no chat is wanted.
    """

    def __init__(self, store: Store, book: Rulebook, *, infer: Infer, metric: bool = False) -> None:
        self._store, self._book, self._infer = store, book, infer
        self._fresh = Session(metric=metric)

    def trips(self, chat: str) -> tuple[Trip, ...]:
        """The trips of a chat, oldest first."""
        with self._store.reading() as rows:
            return kept.trips(rows, chat)

    def known(self, chat: str, *, now: datetime) -> Known:
        """What a chat knows. Raises ValueError for a state kept by another version."""
        standing = self._store.look(chat)
        session = Session.model_validate_json(standing.session) if standing.session else self._fresh
        with self._store.reading() as rows:
            last = kept.last_trip(rows, chat)
        tonight = last if last is not None and hours_between(last.end_at, now) < OVER_AFTER_H else None
        stands = session.concluded and tonight is not None and tonight.advice
        numbers = tonight.advice[-1].numbers if stands and tonight is not None else {}
        return Known(facts_of(with_table(session, self._book, now=now)), numbers, session.metric, tonight)

    def kinds(self, chat: str, *, now: datetime) -> tuple[str, ...]:
        """The kinds of pictures that have something to show, the most telling first."""
        known = self.known(chat, now=now)
        return kinds_for(known.facts, known.numbers, book=self._book, now=now, looks=known.looks)

    def picture(self, chat: str, *, now: datetime, kind: str | None = None, theme: str = "dim") -> Picture:
        """A picture of what a chat knows: the kind asked for, or the most telling.

        Raises ValueError for a kind or theme that is none.
        """
        return self._drawn(self.known(chat, now=now), now, kind, theme)

    def pictures(self, chat: str, *, now: datetime, theme: str = "dim") -> tuple[Picture, ...]:
        """Every picture that has something to show, the most telling first."""
        known = self.known(chat, now=now)
        kinds = kinds_for(known.facts, known.numbers, book=self._book, now=now, looks=known.looks)
        return tuple(self._drawn(known, now, kind, theme) for kind in kinds)

    def _drawn(self, known: Known, now: datetime, kind: str | None, theme: str) -> Picture:
        return picture_for(
            known.facts,
            known.numbers,
            book=self._book,
            now=now,
            kind=kind,
            theme=theme,
            metric=known.metric,
            looks=known.looks,
            marks=known.marks,
        )

    def card(
        self,
        chat: str | None,
        *,
        now: datetime,
        facts: Mapping[str, Scalar] | None = None,
        place: str = "",
        sheet: Sheet | None = None,
        metric: bool = False,
    ) -> Card:
        """Tonight's card of what a chat (None: no chat) knows, with other facts over it."""
        known = Known({}, {}, self._fresh.metric, None) if chat is None else self.known(chat, now=now)
        return card_for(
            {**known.facts, **(facts or {})},
            book=self._book,
            infer=self._infer,
            now=now,
            metric=metric or known.metric,
            place=place or (place_name(known.trip) if known.trip is not None else ""),
            sheet=sheet,
        )


def marks_of(trip: Trip) -> tuple[Mark, ...]:
    """What was advised on a trip and whether it helped, to be marked on its counts."""
    helped = {True: "helped: ", False: "no help: ", None: ""}
    return tuple(Mark(each.at, helped[each.helped] + each.action) for each in trip.advice if each.causes)
