"""Nights as a calendar file: iCalendar of RFC 5545 (MEMORY), the little of it that is needed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime

from coach.figures.nights import Night, Window


def escaped(text: str) -> str:
    """A text as the value of a property: RFC 5545, 3.3.11 (MEMORY)."""
    for sign, told in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(sign, told)
    return text


def folded(line: str) -> Iterator[str]:
    """Lines of at most 75 octets; those that go on begin with a blank. Never within a character."""
    part = ""
    for sign in line:
        if len((part + sign).encode()) > 75:
            yield part
            part = " "
        part += sign
    yield part


def utc(at: datetime) -> str:
    """An aware time in the form of a calendar file."""
    return at.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")


def _event(night: Night, number: int, window: Window, *, place: str, made_at: datetime) -> list[str]:
    told = (
        f"Strongest flow {window.strongest_kn:.1f} kn. Moon {night.moon_lit:.0%} lit."
        f" In season by and large: {', '.join(night.in_season) or 'none'}."
        " Check weather, limits and the water before going."
    )
    return [
        "BEGIN:VEVENT",
        f"UID:{night.on:%Y%m%d}-{number}-{hash_of(place):08x}@lampcoach",
        f"DTSTAMP:{utc(made_at)}",
        f"DTSTART:{utc(window.start)}",
        f"DTEND:{utc(window.end)}",
        f"SUMMARY:{escaped(f'Dark ebb, {window.hours:.1f} h')}",
        f"LOCATION:{escaped(place)}",
        f"DESCRIPTION:{escaped(told)}",
        "END:VEVENT",
    ]


def hash_of(text: str) -> int:
    """A number of 32 bits that stays the same for a text (FNV-1a, MEMORY), for lasting event ids."""
    found = 0x811C9DC5
    for octet in text.encode():
        found = (found ^ octet) * 0x01000193 & 0xFFFFFFFF
    return found


def calendar(nights: Iterable[Night], *, place: str, made_at: datetime) -> str:
    """A calendar file with one event for each span of dark ebb, in UTC; lines end as the RFC asks.

    The same nights of the same place get the same event ids, so that a second import replaces the
    first. `made_at` is the time that the file says it was made. Raises ValueError for one without zone.
    """
    if made_at.tzinfo is None:
        raise ValueError(f"made_at: got {made_at.isoformat()}; allowed a time with a zone")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//lampcoach//nights//EN"]
    for night in sorted(nights, key=lambda night: night.on):
        for number, window in enumerate(night.windows, 1):
            lines += _event(night, number, window, place=place, made_at=made_at)
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in folded(line))
