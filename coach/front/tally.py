"""Counts kept, and the watch over them moved on: what the bot and the page do alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import Any

from coach.conversation import Session
from coach.counting import Entry, of_tonight
from coach.figures.rig import Rig
from coach.post import crew, deck, due
from coach.reminders import deep_lamp_since
from coach.store import Rows
from coach.watching import Finding, Watch, begun_again, look, silent_from, watch_after


def kept(
    rows: Rows,
    boat: str,
    entries: Sequence[Entry],
    *,
    person: str,
    batch: int,
    at: float,
    session: Session,
    rig: Rig,
    window_min: float,
    silent: str,
) -> tuple[Finding, ...]:
    """Keep counts of one message and move the watch on; what it found. `at` in seconds since 1970,
    `window_min` in minutes; `silent` is asked when nothing is counted for longer than chance explains."""
    before = deck.of_boat(rows, boat)
    deck.add(rows, boat, entries, person=person, batch=batch)
    last_at = max((entry.at for entry in before), default=None)
    told = crew.aboard(rows, boat)  # another phone of hers may have counted meanwhile
    watch = watch_after(_watch(told), at, last_at)
    deep = deep_lamp_since(session)
    together = sorted([*before, *entries], key=lambda entry: entry.at)
    since = None if deep is None else deep.timestamp()
    watch, findings = look(watch, together, rig, window_min=window_min, deep_since=since)
    found = {**told.get("found", {}), **{each.kind: asdict(each) for each in findings}}
    crew.put_aboard(rows, boat, {"watch": asdict(watch), "found": found})
    due.set_at(rows, boat, "silence", silent_from(watch, together, rig), silent)
    return findings


def taken_back(rows: Rows, boat: str, person: str, *, now: float) -> bool:
    """Take back what a person counted last tonight, `now` [s since 1970]; False if there is nothing."""
    tonight = of_tonight(deck.of_boat(rows, boat), now=now)
    return bool(tonight) and deck.undo(rows, boat, person, since=tonight[0].at)


def new_stretch(rows: Rows, boat: str, at: float) -> None:
    """The set was changed: what is counted from now on is compared with itself."""
    watch = _watch(crew.aboard(rows, boat))
    if watch is not None:
        crew.put_aboard(rows, boat, {"watch": asdict(begun_again(watch, at))})
        due.set_at(rows, boat, "silence", None)


def silence_told(rows: Rows, boat: str) -> None:
    """Note that the question after a long pause was asked: it is asked once a stretch."""
    told = crew.aboard(rows, boat)
    watch = _watch(told)
    if watch is not None:
        found = {**told.get("found", {}), "silence": asdict(Finding("silence"))}
        after = replace(watch, told=(*watch.told, "silence"))
        crew.put_aboard(rows, boat, {"watch": asdict(after), "found": found})


def found(rows: Rows, boat: str, kind: str) -> Finding | None:
    """What the watch found of a kind, as it was kept; None if nothing."""
    held = crew.aboard(rows, boat).get("found", {}).get(kind)
    return Finding(**held) if held else None


def found_now(rows: Rows, boat: str, kind: str) -> Finding | None:
    """The same, if it was found in the stretch since the set was changed last."""
    watch = _watch(crew.aboard(rows, boat))
    return found(rows, boat, kind) if watch is not None and kind in watch.told else None


def _watch(told: dict[str, Any]) -> Watch | None:
    held = told.get("watch")
    return Watch(held["since"], held["seen"], held["looks"], tuple(held["told"])) if held else None
