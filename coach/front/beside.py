"""What the terminal chat shows beside the talk: pictures in words or as files, the card, the trip.

    picture            what is known of the set, in words; also "picture above | side | tide | counts"
    card               tonight's card in words
    log                tonight's trip so far
With a folder the pictures of each verdict, and the card, are written there too.
"""
# ruff: noqa: PLC0415  (see below)

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from coach.consult import Desk

if TYPE_CHECKING:  # what draws is loaded when something is to be drawn: the first prompt must not wait for it
    from coach.pages import Pages
    from coach.pictures import Picture

HELP = (
    "picture  the set in words, and as a file if you started with --picture FOLDER",
    "card     tonight's card: clip heights by the clock, clearing the water, limits",
    "log      this trip so far",
)
KINDS: Mapping[str, str] = {
    "above": "plan",
    "from above": "plan",
    "plan": "plan",
    "side": "side",
    "from the side": "side",
    "tide": "tide",
    "counts": "counts",
}
Lines = tuple[str | Path, ...]
"""What is shown, line by line; a path is a file that was written."""
NO_TRIP = "Nothing is in the log of this trip yet."


class BesideTalk:
    """The pages of one chat in the terminal."""

    def __init__(self, desk: Desk, chat: str, folder: Path | None) -> None:
        self._store, self._book, self._infer = desk.parts
        self._chat, self._folder = chat, folder

    @cached_property
    def _pages(self) -> Pages:
        from coach.pages import Pages

        return Pages(self._store, self._book, infer=self._infer)

    def asked(self, text: str, *, now: datetime) -> Lines | None:
        """The lines for one of the words above; None if the text is none of them."""
        word, _, rest = text.casefold().strip(" .!?").partition(" ")
        pages: Mapping[str, Callable[[datetime], Iterable[str | Path]]] = {
            "card": self._card,
            "log": self._log,
        }
        if word == "picture" and (not rest or rest in KINDS):
            return tuple(self._picture(KINDS.get(rest), now))
        return tuple(pages[word](now)) if word in pages and not rest else None

    def after_verdict(self, *, now: datetime) -> Lines:
        """Write the pictures of a verdict to the folder, if there is one, and say where."""
        if self._folder is None:
            return ()
        kinds = self._pages.kinds(self._chat, now=now)
        drawn = (self._pages.picture(self._chat, now=now, kind=kind) for kind in kinds)
        return tuple(self._kept(picture, now) for picture in drawn)

    def _picture(self, kind: str | None, now: datetime) -> Iterator[str | Path]:
        picture = self._pages.picture(self._chat, now=now, kind=kind)
        yield from picture.words
        if self._folder is not None:
            yield self._kept(picture, now)

    def _kept(self, picture: Picture, now: datetime) -> Path:
        from coach.front.given import write_picture

        file = self._file(f"{picture.kind}.png", now)
        write_picture(file, picture.svg)
        return file

    def _file(self, name: str, now: datetime) -> Path:
        assert self._folder is not None
        self._folder.mkdir(parents=True, exist_ok=True)
        return self._folder / f"{now:%Y%m%d-%H%M}-{name}"

    def _card(self, now: datetime) -> Iterator[str | Path]:
        from coach.card.limits import own_sheet

        card = self._pages.card(self._chat, now=now, sheet=own_sheet())
        yield from card.words()
        if self._folder is not None:
            from coach.card.page import html
            from coach.card.paper import pdf
            from coach.front.given import write

            for name, content in (("card.html", html(card).encode()), ("card.pdf", pdf(card))):
                file = self._file(name, now)
                write(file, content)
                yield file

    def _log(self, now: datetime) -> Iterator[str | Path]:
        known = self._pages.known(self._chat, now=now)
        if known.trip is None:
            yield NO_TRIP
            return
        from coach.trips.words import summary

        yield from summary(known.trip, self._book, metric=known.metric)
