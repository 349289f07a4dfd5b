"""The options of `coach figure`: how each is read from a word typed, and what it may be."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from coach.figures.clock import on_clock, read_time
from coach.figures.limits import checked, whole
from coach.figures.rig import Rig


@dataclass(frozen=True, slots=True)
class Option:
    """One option of a figure: its flag with the unit in it, how it is read, what it is for."""

    flag: str
    read: Callable[[str], Any]
    says: str
    needed: bool = False
    default: Any = None
    many: bool = False

    @property
    def name(self) -> str:
        """The key under which its value is found."""
        return self.flag.removeprefix("--").replace("-", "_")


@dataclass(frozen=True, slots=True)
class Answer:
    """A figure worked out: the values for a program, and the lines for a person."""

    values: Mapping[str, Any]
    lines: tuple[str, ...]


Given = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Figure:
    """One kind of figure: what it tells, what it takes, how it is worked out."""

    says: str
    options: tuple[Option, ...]
    work: Callable[[Given, Rig], Answer]


def _reader(read: Callable[[str], Any]) -> Callable[[str], Any]:
    """Turn a ValueError of a reader into argparse's kind, which keeps its text."""

    def reader(text: str) -> Any:
        try:
            return read(text)
        except ValueError as wrong:
            raise argparse.ArgumentTypeError(str(wrong)) from None

    return reader


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def amount(quantity: str) -> Callable[[str], Any]:
    """A reader for a number within the limits of a quantity."""

    def read(text: str) -> float:
        try:
            return checked(quantity, _number(text))
        except ValueError as wrong:
            raise ValueError(f"got {text}; {str(wrong).split('; ')[-1]}") from None

    return _reader(read)


def counted(quantity: str) -> Callable[[str], Any]:
    """A reader for a whole number within the limits of a quantity."""

    def read(text: str) -> int:
        try:
            return whole(quantity, _number(text))
        except ValueError as wrong:
            raise ValueError(f"got {text}; {str(wrong).split('; ')[-1]}") from None

    return _reader(read)


def _counts(text: str) -> list[int]:
    return [counted("count")(part.strip()) for part in text.split(",")]


counts = _reader(_counts)
"""A reader for counts in order, with commas between."""


def word(*allowed: str) -> Callable[[str], Any]:
    """A reader for one of a few words."""

    def read(text: str) -> str:
        if text not in allowed:
            raise ValueError(f"got {text}; allowed {', '.join(allowed)}")
        return text

    return _reader(read)


moment = _reader(read_time)
"""A reader for an ISO 8601 time; without an offset it is a reading of the `--tz` clock, if given."""


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"got {text}; allowed a day like 2027-02-11") from None


day = _reader(_day)
"""A reader for a calendar day, ISO 8601."""


def _zone(text: str) -> tzinfo:
    from zoneinfo import ZoneInfo  # noqa: PLC0415  (only figures with a place need it)

    try:
        return ZoneInfo(text)
    except (KeyError, ValueError, OSError):
        raise ValueError(f"got {text}; allowed the name of a time zone, like America/New_York") from None


zone = _reader(_zone)
"""A reader for a time zone by name."""

TZ = Option("--tz", zone, "time zone of times typed without an offset, like America/New_York")


def told_at(given: Given, name: str) -> datetime:
    """The time given under a name, put on the `--tz` clock where it had no offset.

    Raises ValueError where that clock skips or repeats it.
    """
    at: datetime = given[name]
    if at.tzinfo is not None or given.get("tz") is None:
        return at
    try:
        return on_clock(at, given["tz"])
    except ValueError as wrong:
        raise ValueError(f"--{name.replace('_', '-')}: {wrong}") from None


def stamp(at: datetime) -> str:
    """A time as the headless interface writes it: ISO 8601, to the nearest second."""
    return (at + timedelta(microseconds=500_000)).replace(microsecond=0).isoformat()
