"""Counting on deck: what was typed or tapped, and the tally. By piece, net, bucket or weight."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

Side = Literal["bow", "stern", "deep", ""]
"""Where it was lifted; "deep" is a jump over the deep lamp, "" is the crew as a whole."""

SIDES: dict[str, Side] = {
    "b": "bow",
    "bow": "bow",
    "s": "stern",
    "stern": "stern",
    "j": "deep",
    "jump": "deep",
    "jumps": "deep",
}
"""Not "deep" itself: "11 deep" is the water, not eleven jumps."""
UNITS = {
    "net": "net",
    "nets": "net",
    "bucket": "bucket",
    "buckets": "bucket",
    "lb": "lb",
    "lbs": "lb",
    "pound": "lb",
    "pounds": "lb",
    "kg": "kg",
    "kilo": "kg",
    "kilos": "kg",
}
PIECE = "piece"
MOST = 10_000
NIGHT_OVER_H = 6
"""After so many hours without a count the next one opens another night."""

_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_TOKEN = re.compile(r"\d+(?:[.,]\d+)?|[^\W\d_]+|[^\s\w]|_")
_FILLERS = frozenset({",", ";", "and", "&", "of", "a", "at", "the", "=", ":", "+"})


@dataclass(frozen=True, slots=True)
class Counted:
    """One count as said: where, how much of what. `name` is a dipper's, "" if none was said."""

    side: Side
    amount: float
    unit: str = PIECE
    name: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """One count as kept; `at` in seconds since 1970."""

    at: float
    side: Side
    dipper: str
    amount: float
    unit: str


RESERVED = frozenset({*SIDES, *UNITS, *_FILLERS, "half", "own", "deep"})
"""Words that count: no dipper can be called so."""


# --- what was said -------------------------------------------------------------------------------


def read_count(text: str, names: Iterable[str] = ()) -> tuple[Counted, ...] | None:
    """The counts in a text such as "b3 s5", "bow 2 nets", "+1" or "Maren 4"; None if it is anything else.

    Every word must belong to a count, so that no sentence is taken for one. A plain number is none
    (it may answer a question); "+3" is, on the sender's own side.
    """
    known = {name.casefold(): name for name in names}
    tokens = _TOKEN.findall(text.casefold().replace("½", " half "))
    if not tokens or len(tokens) > 40:
        return None
    if tokens[0] == "+" and len(tokens) > 1:
        tokens = ["own", *tokens[1:]]
    found: list[Counted] = []
    rest = [token for token in tokens if token not in _FILLERS]
    while rest:
        taken = _one(rest, known)
        if taken is None:
            return None
        counted, used = taken
        found.append(counted)
        rest = rest[used:]
    return tuple(found) or None


def _one(tokens: Sequence[str], names: dict[str, str]) -> tuple[Counted, int] | None:
    """The count at the start, with how many words it took: who, how much, of what; or the reverse."""
    who_first = _who(tokens[0], names)
    at = 1 if who_first else 0
    amount = _amount(tokens[at]) if at < len(tokens) else None
    if amount is None:
        return None
    at += 1
    unit = UNITS.get(tokens[at], "") if at < len(tokens) else ""
    at += bool(unit)
    who = who_first or (_who(tokens[at], names) if at < len(tokens) else None)
    if who is None or (who[0] == "deep" and unit):
        return None
    at += not who_first
    return Counted(who[0], amount, unit or PIECE, who[1]), at


def _who(token: str, names: dict[str, str]) -> tuple[Side, str] | None:
    if token in names:
        return "", names[token]
    if token in SIDES:
        return SIDES[token], ""
    return ("", "") if token == "own" else None


def _amount(token: str) -> float | None:
    if token == "half":
        return 0.5
    if not _NUMBER.fullmatch(token):
        return None
    value = float(token.replace(",", "."))
    return value if value <= MOST else None


# --- tallies -------------------------------------------------------------------------------------


def tally(entries: Iterable[Entry]) -> dict[tuple[str, str], float]:
    """Sums by side and unit."""
    sums: dict[tuple[str, str], float] = {}
    for entry in entries:
        key = (entry.side, entry.unit)
        sums[key] = sums.get(key, 0.0) + entry.amount
    return sums


def of_tonight(entries: Sequence[Entry], *, now: float) -> list[Entry]:
    """The entries since the last long pause, oldest first; none where the pause lasts until `now` [s]."""
    kept: list[Entry] = []
    if entries and now - entries[-1].at > NIGHT_OVER_H * 3600:
        return kept
    for entry in reversed(entries):
        if kept and kept[-1].at - entry.at > NIGHT_OVER_H * 3600:
            break
        kept.append(entry)
    return kept[::-1]
