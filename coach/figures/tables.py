"""Tide tables as people have them: typed, pasted or from a file, one high or low water a line.

Taken are lines like `2027-02-11 19:04 2.4 H`, with commas, tabs or blanks, dates with - or /, a
weekday, AM or PM, a second level in cm. Headings are passed over.
"""

from __future__ import annotations

import re
from datetime import datetime, tzinfo
from typing import Literal

from coach.figures.clock import on_clock
from coach.figures.limits import checked
from coach.figures.tide import Extreme, legs_between
from coach.figures.units import feet

Unit = Literal["ft", "m"]

_GAP = r"[\s,;]+"
_ROW = re.compile(
    rf"(?P<date>\d{{4}}[-/]\d\d[-/]\d\d)(?:T|{_GAP}(?:[A-Za-z]{{3}}{_GAP})?)"
    rf"(?P<time>\d{{1,2}}:\d\d)(?::\d\d)?\s*(?P<half>[AaPp][Mm])?(?P<offset>Z|[+-]\d\d:?\d\d)?{_GAP}"
    rf"(?P<level>[-+]?\d+(?:\.\d+)?)(?:\s*(?P<unit>ft|m|cm))?(?:{_GAP}-?\d+)?"
    rf"(?:{_GAP}(?P<kind>[HhLl])(?:igh|ow|IGH|OW)?)?\s*",
)


def _clock_time(row: re.Match[str], zone: tzinfo | None) -> datetime:
    hour, minute = map(int, row["time"].split(":"))
    if row["half"]:
        if not 1 <= hour <= 12:
            raise ValueError(f"got {row['time']} {row['half']}; allowed 1:00 to 12:59 with AM or PM")
        hour = hour % 12 + (12 if row["half"].lower() == "pm" else 0)
    text = f"{row['date'].replace('/', '-')}T{hour:02}:{minute:02}"
    try:
        moment = datetime.fromisoformat(text + (row["offset"] or ""))
    except ValueError:
        raise ValueError(f"got {row['date']} {row['time']}; allowed a date and time that exist") from None
    if zone is None:
        return moment
    return moment.astimezone(zone) if moment.tzinfo else on_clock(moment, zone)


def _row(line: str, zone: tzinfo | None, unit: Unit) -> tuple[datetime, float, str]:
    row = _ROW.fullmatch(line.strip())
    if row is None:
        raise ValueError(f"got {line.strip()!r}; allowed date, time, level, H or L")
    if row["unit"] not in (None, unit):
        raise ValueError(f"got a level in {row['unit']}; allowed {unit}")
    level = float(row["level"])
    ft = checked("tide_ft", level if unit == "ft" else feet(level), name="level")
    return _clock_time(row, zone), ft, (row["kind"] or "").lower()


def _kinds(rows: list[tuple[datetime, float, str]]) -> list[str]:
    """ "high" or "low" for each row: as it says, or else by its neighbour."""
    told = {"h": "high", "l": "low"}
    kinds = []
    for i, (_, ft, kind) in enumerate(rows):
        other = rows[i + 1] if i + 1 < len(rows) else rows[i - 1]
        kinds.append(told.get(kind) or ("high" if ft > other[1] else "low"))
    return kinds


def read_table(text: str, *, zone: tzinfo | None, unit: Unit = "ft") -> tuple[Extreme, ...]:
    """Read a tide table, levels in feet or metres, times without offset on the zone's clock.

    Without a zone they stay as they are read: one clock, no zone.
    Raises ValueError naming the line: one that is not understood, a unit other than `unit`, a time
    that the clock skips or repeats, rows out of order or not high and low in turn, a low above its high.
    """
    rows: list[tuple[datetime, float, str]] = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or not (rows or line.lstrip()[:1].isdigit()):
            continue  # blank lines, and headings before the first row
        try:
            rows.append(_row(line, zone, unit))
        except ValueError as wrong:
            raise ValueError(f"table, line {number}: {wrong}") from None
    kinds = _kinds(rows)
    table = tuple(Extreme(at, ft, kind) for (at, ft, _), kind in zip(rows, kinds, strict=True))
    legs_between(table)  # refuses rows out of order
    return table
