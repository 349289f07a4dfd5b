"""Trips for other programs: CSV for spreadsheets, JSON, and a calendar file (RFC 5545, MEMORY)."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any

from coach.figures.ics import escaped, folded, hash_of, utc
from coach.model import Rulebook
from coach.trips.catches import DEFAULT_LAMPS
from coach.trips.trip import Trip
from coach.trips.words import place_name, summary

VERSION = 1
COLUMNS = (
    "trip",
    "place",
    "kind",
    "at",
    "minutes",
    "bow",
    "stern",
    "total",
    "per_lamp_hour",
    "tide",
    "moon",
    "set",
    "lamps",
    "says",
)
_SUMS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""What a spreadsheet takes for the beginning of a formula, wide forms too (OWASP, CSV injection; MEMORY)."""


def as_csv(trips: Iterable[Trip]) -> str:
    """One row for each look, change of set-up, piece of advice and hazard, in order of time.

    Numbers stay numbers; a text that a spreadsheet would work out is led by an apostrophe.
    """
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    for trip in trips:
        for row in sorted(_rows(trip), key=lambda row: str(row["at"])):
            writer.writerow({name: harmless(value) for name, value in row.items()})
    return out.getvalue()


def harmless(value: Any) -> Any:
    """A cell for a spreadsheet: a text made harmless, also where the sign stands behind blanks."""
    if not isinstance(value, str):
        return "" if value is None else value
    return f"'{value}" if value.lstrip(" \xa0").startswith(_SUMS) or value.startswith(_SUMS) else value


def _rows(trip: Trip) -> Iterator[dict[str, Any]]:
    head = {"trip": trip.number, "place": place_name(trip)}
    for look in trip.looks:
        lamps = DEFAULT_LAMPS if look.stage.lamps is None else look.stage.lamps
        hours = lamps * (look.minutes or 0.0) / 60
        yield {
            **head,
            "kind": "look",
            "at": look.at.isoformat(),
            "minutes": None if look.minutes is None else round(look.minutes, 1),
            "bow": look.bow,
            "stern": look.stern,
            "total": look.total,
            "per_lamp_hour": round(look.total / hours, 2) if hours else None,
            "tide": look.stage.tide,
            "moon": look.stage.moon,
            "set": look.stage.set_up,
            "lamps": look.stage.lamps,
        }
    for set_up in trip.set_ups:
        says = "; ".join(f"{name} {value}" for name, value in set_up.facts.items())
        yield {**head, "kind": "set-up", "at": set_up.at.isoformat(), "says": says}
    for advice in trip.advice:
        helped = {True: "helped", False: "did not help", None: "not told"}[advice.helped]
        says = f"{advice.action} ({', '.join(advice.causes) or 'nothing wrong'}; {helped})"
        yield {**head, "kind": "advice", "at": advice.at.isoformat(), "says": says}
    for at, hazard, say in trip.hazards:
        yield {**head, "kind": "hazard", "at": at.isoformat(), "says": f"{hazard}: {say}"}


def as_json(chat: str, trips: Iterable[Trip]) -> str:
    """All trips as one JSON object."""
    made = {"v": VERSION, "chat": chat, "trips": [plain(trip) for trip in trips]}
    return json.dumps(made, indent=1, ensure_ascii=False) + "\n"


def plain(trip: Trip) -> dict[str, Any]:
    """A trip as plain values for JSON."""
    return {
        "number": trip.number,
        "start": trip.start_at.isoformat(),
        "end": trip.end_at.isoformat(),
        "place": {"name": trip.place.name, "lat_deg": trip.place.lat_deg, "lon_deg": trip.place.lon_deg},
        "set_ups": [
            {"at": each.at.isoformat(), "facts": dict(each.facts), "changed": list(each.changed)}
            for each in trip.set_ups
        ],
        "looks": list(_plain_looks(trip)),
        "advice": [
            {
                "at": each.at.isoformat(),
                "causes": list(each.causes),
                "action": each.action,
                "numbers": dict(each.numbers),
                "helped": each.helped,
                "answered_at": None if each.answered_at is None else each.answered_at.isoformat(),
            }
            for each in trip.advice
        ],
        "hazards": [{"at": at.isoformat(), "id": name, "say": say} for at, name, say in trip.hazards],
    }


def _plain_looks(trip: Trip) -> Iterable[dict[str, Any]]:
    for look in trip.looks:
        yield {
            "at": look.at.isoformat(),
            "minutes": look.minutes,
            "bow": look.bow,
            "stern": look.stern,
            "crew": look.whole,
            "tide": look.stage.tide,
            "moon": look.stage.moon,
            "set": look.stage.set_up,
            "lamps": look.stage.lamps,
        }


def as_calendar(
    chat: str, trips: Sequence[Trip], book: Rulebook, *, made_at: datetime, metric: bool = False
) -> str:
    """A calendar with an event a trip, its summary within; the same trip keeps its event's id.

    `made_at` is the time that the file says it was made, with a zone.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//lampcoach//trips//EN"]
    for trip in trips:
        lines += _event(chat, trip, "\n".join(summary(trip, book, metric=metric)), made_at)
    return _file([*lines, "END:VCALENDAR"])


def _event(chat: str, trip: Trip, told: str, made_at: datetime) -> list[str]:
    start = _aware(trip.start_at)
    end = max(_aware(trip.end_at), start + timedelta(minutes=1))
    return [
        "BEGIN:VEVENT",
        f"UID:trip-{utc(start)}-{hash_of(chat):08x}@lampcoach",
        f"DTSTAMP:{utc(made_at)}",
        f"DTSTART:{utc(start)}",
        f"DTEND:{utc(end)}",
        f"SUMMARY:{escaped(f'Shrimp trip {trip.number}')}",
        *([f"LOCATION:{escaped(where)}"] if (where := place_name(trip)) else []),
        f"DESCRIPTION:{escaped(told)}",
        "END:VEVENT",
    ]


def reminders(steps: Iterable[tuple[datetime, str]], *, made_at: datetime) -> str:
    """A calendar with an alarm at each moment (aware) that has something to do."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//lampcoach//card//EN"]
    for at, says in steps:
        lines += [
            "BEGIN:VEVENT",
            f"UID:clip-{utc(at)}-{hash_of(says):08x}@lampcoach",
            f"DTSTAMP:{utc(made_at)}",
            f"DTSTART:{utc(at)}",
            f"DTEND:{utc(at + timedelta(minutes=5))}",
            f"SUMMARY:{escaped(says)}",
            "BEGIN:VALARM",
            "ACTION:DISPLAY",
            f"DESCRIPTION:{escaped(says)}",
            "TRIGGER:PT0M",
            "END:VALARM",
            "END:VEVENT",
        ]
    return _file([*lines, "END:VCALENDAR"])


def _file(lines: Iterable[str]) -> str:
    return "".join(f"{part}\r\n" for line in lines for part in folded(_on_one_line(line)))


def _on_one_line(line: str) -> str:
    """Without control characters, which no calendar may hold."""
    return "".join(sign for sign in line if sign == "\t" or (sign >= " " and sign != "\x7f"))


def _aware(at: datetime) -> datetime:
    return at.astimezone() if at.tzinfo is None else at
