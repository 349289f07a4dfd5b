"""Times on the water: reading them, and counting hours right across a change of the clocks."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo


def hours_between(start: datetime, end: datetime) -> float:
    """Hours that pass from `start` to `end`, negative if `end` is earlier.

    Aware times are compared in UTC, so a change of the clocks between them counts as it should;
    two times without a zone are read off one clock. Raises ValueError if only one has a zone.
    """
    if (start.tzinfo is None) != (end.tzinfo is None):
        raise ValueError(f"time: got {start} and {end}; allowed both with a zone or both without")
    if start.tzinfo is not None:
        start, end = start.astimezone(UTC), end.astimezone(UTC)
    return (end - start).total_seconds() / 3600


def later(start: datetime, hours: float) -> datetime:
    """The moment `hours` after `start`, told on the same clock (its zone, daylight saving and all)."""
    step = timedelta(hours=hours)
    if start.tzinfo is None:
        return start + step
    return (start.astimezone(UTC) + step).astimezone(start.tzinfo)


def read_time(text: str, *, zone: tzinfo | None = None) -> datetime:
    """Read an ISO 8601 time; one without an offset is a reading of `zone`'s clock, if one is given.

    Raises ValueError for anything else, and for a clock reading that the zone never shows or shows
    twice (change of the clocks).
    """
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"got {text!r}; allowed a time like 2027-02-11T21:05:00-05:00") from None
    if len(text) <= len("2027-02-11"):
        raise ValueError(f"got {text!r}; allowed a date with a time, like 2027-02-11T21:05:00-05:00")
    return moment if moment.tzinfo is not None or zone is None else on_clock(moment, zone)


def on_clock(moment: datetime, zone: tzinfo) -> datetime:
    """Put a clock reading into a zone. Raises ValueError if the zone's clock skips or repeats it."""
    first, second = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return first
    told = moment.isoformat(sep=" ", timespec="minutes")
    skipped = first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != moment
    what = "skips" if skipped else "shows twice"
    raise ValueError(f"got {told}, which the clock of {zone} {what} that night; allowed a time with offset")
