"""`coach log`: trips as they were: list, show, plot, compare, name the place, export."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from coach.apparatus import apparatus
from coach.consult import prepared
from coach.front.given import clock, write, write_picture
from coach.front.talk import local_now
from coach.model import Rulebook
from coach.pages import marks_of
from coach.pictures import picture_for
from coach.store import Store, default_path
from coach.trips import kept
from coach.trips.bring import bring, read_log
from coach.trips.catches import by_ways, catches, overall
from coach.trips.export import as_calendar, as_csv, as_json, plain
from coach.trips.looks import chosen
from coach.trips.trip import Place, Trip
from coach.trips.words import across, summary, title
from coach.trips.worked import worked, worked_in_words

NONE_YET = "No trip is in the log of '{chat}' yet. Talk to the coach: it is kept by itself."


@dataclass(frozen=True, slots=True)
class _Log:
    """A chat's trips, with what is needed to tell of them."""

    chat: str
    trips: tuple[Trip, ...]
    book: Rulebook
    options: Mapping[str, Any]

    def one(self) -> Trip:
        """The trip asked for by its number, otherwise the latest. Raises ValueError."""
        number = self.options.get("trip")
        found = [trip for trip in self.trips if number in (None, trip.number)]
        if not found:
            raise ValueError(f"trip: got {number}; allowed 1 to {len(self.trips)}")
        return found[-1]

    @property
    def metric(self) -> bool:
        """Whether to speak of metres."""
        return bool(self.options.get("metric")) or self.options.get("units") == "metric"


def serve(action: str | None = None, chat: str = "me", store: str | None = None, **options: Any) -> int:
    """Do what was asked with the log of a chat; the exit code: 0, 1 if there is nothing, 2 if it was
    not understood."""
    book = prepared(options.pop("rules", None))
    with closing(Store(store or default_path())) as kept_in:
        try:
            if action in WRITING:
                print(WRITING[action](kept_in, chat, options))
                return 0
            with kept_in.reading() as rows:
                chats = kept.chats(rows) if options.get("every_chat") else [chat]
                trips = tuple(trip for each in chats for trip in kept.trips(rows, each))
            if not trips:
                print(NONE_YET.format(chat=chat), file=sys.stderr)
                return 1
            for line in ACTIONS[action or "list"](_Log(chat, trips, book, options)):
                print(line)
        except ValueError as wrong:
            print(wrong, file=sys.stderr)
            return 2
    return 0


def _import(store: Store, chat: str, options: Mapping[str, Any]) -> str:
    """Bring an exported log back; what was forgotten here stays forgotten."""
    file: Path = options["file"]
    found = read_log(file.read_bytes())
    with store.writing() as rows:
        kept_now, already, gone = bring(rows, chat, found, here=kept.trips(rows, chat))
    told = [f"{kept_now} trips brought in"]
    told += [f"{already} here already"] if already else []
    told += [f"{gone} forgotten before and left so"] if gone else []
    return f"{file}: {', '.join(told)}."


def _place(store: Store, chat: str, options: Mapping[str, Any]) -> str:
    """Name the place of a trip: from now on, or from a time on."""
    at = _since(store, chat, options)
    name = " ".join(options.get("name") or [])
    place = kept.rounded(Place(name, options.get("lat"), options.get("lon")))
    with store.writing() as rows:
        kept.put_place(rows, chat, place, at=at)
    degrees = "" if place.lat_deg is None else f" {place.lat_deg:g}, {place.lon_deg:g}"
    return f"Kept: {place.name}{degrees}, from {at:%d %b %Y %H:%M} on.".replace("  ", " ")


def _since(store: Store, chat: str, options: Mapping[str, Any]) -> datetime:
    """From when on: the start of the trip named, the time typed, or now."""
    if options.get("trip") is not None:
        with store.reading() as rows:
            return _Log(chat, kept.trips(rows, chat), prepared(), options).one().start_at
    return clock(options.get("at"))


def _list(log: _Log) -> Sequence[str]:
    if log.options.get("json"):
        return [as_json(log.chat, log.trips).rstrip()]
    return [title(trip) for trip in log.trips]


def _show(log: _Log) -> Sequence[str]:
    trip = log.one()
    if log.options.get("json"):
        return [json.dumps(plain(trip), ensure_ascii=False)]
    return summary(trip, log.book, metric=log.metric)


def _plot(log: _Log) -> Sequence[str]:
    """The counts of a trip in words, and as a picture in a file if one is named."""
    trip = log.one()
    picture = picture_for(
        trip.facts,
        book=log.book,
        now=trip.end_at,
        kind="counts",
        theme=log.options.get("theme") or "dim",
        metric=log.metric,
        looks=chosen(trip.looks),
        marks=marks_of(trip),
    )
    file: Path | None = log.options.get("picture")
    if file is None:
        return picture.words
    write_picture(file, picture.svg)
    return (*picture.words, f"Picture: {file}")


def _across(log: _Log) -> Sequence[str]:
    """Catch per lamp-hour over all trips, by what the night was like."""
    rig, only = apparatus(log.book).figures.rig, log.options.get("by")
    if not log.options.get("json"):
        return across(log.trips, rig, only=only)
    found = catches(log.trips)
    groups = by_ways(found, rig, only=only)
    made = {name: [{**asdict(each), "few": each.few} for each in groups[name]] for name in groups}
    return [json.dumps({"v": 1, "all": asdict(overall(found)), "by": made}, ensure_ascii=False)]


def _advice(log: _Log) -> Sequence[str]:
    """Which advice worked."""
    found = worked(log.trips)
    if log.options.get("json"):
        made = [{**asdict(each), "share": each.share, "interval": each.interval} for each in found]
        return [json.dumps({"v": 1, "advice": made}, ensure_ascii=False)]
    return worked_in_words(found, log.book)


def _export(log: _Log) -> Sequence[str]:
    """All trips as CSV, JSON or a calendar, to a file or to standard output."""
    forms: dict[str, Callable[[], str]] = {
        "csv": lambda: as_csv(log.trips),
        "json": lambda: as_json(log.chat, log.trips),
        "ics": lambda: as_calendar(log.chat, log.trips, log.book, made_at=local_now(), metric=log.metric),
    }
    made = forms[log.options["format"]]()
    file: Path | None = log.options.get("out")
    if file is None:
        sys.stdout.write(made)
        return []
    write(file, made)
    return [f"{len(log.trips)} trips: {file}"]


WRITING: Mapping[str | None, Callable[[Store, str, Mapping[str, Any]], str]] = {
    "place": _place,
    "import": _import,
}
"""What writes into the store, and the line said about it."""
ACTIONS: Mapping[str, Callable[[_Log], Sequence[str]]] = {
    "list": _list,
    "show": _show,
    "plot": _plot,
    "across": _across,
    "advice": _advice,
    "export": _export,
}
