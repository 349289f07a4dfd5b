"""Counting on deck from a browser: what is kept, what the watch over the counts finds, the tally."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import Any

from coach.counting import PIECE, Counted, Entry, of_tonight, tally
from coach.figures.rig import Rig
from coach.front.web import words
from coach.model import Session
from coach.post import crew, deck, due, sheet
from coach.reminders import deep_lamp_since
from coach.store import Rows
from coach.watching import Finding, Watch, begun_again, look, silent_from, watch_after

PERSON = "browser"
"""Whose counts they are: nobody's in particular, of all who hold this browser."""
BUTTONS = ("bow", "stern", "deep")


def counted(
    rows: Rows,
    boat: str,
    counts: Sequence[Counted],
    *,
    at: float,
    session: Session,
    rig: Rig,
    window_min: float,
) -> None:
    """Keep counts and move the watch on; `at` in seconds since 1970."""
    entries = [Entry(at, each.side, each.name, each.amount, each.unit) for each in counts]
    before = deck.of_boat(rows, boat)
    deck.add(rows, boat, entries, person=PERSON, batch=sheet.next_batch(rows, boat))
    last_at = max((entry.at for entry in before), default=None)
    watch = watch_after(_watch(rows, boat), at, last_at)
    deep = deep_lamp_since(session)
    together = sorted([*before, *entries], key=lambda entry: entry.at)
    since = None if deep is None else deep.timestamp()
    watch, findings = look(watch, together, rig, window_min=window_min, deep_since=since)
    kept = {**_found(rows, boat), **{each.kind: asdict(each) for each in findings}}
    crew.put_aboard(rows, boat, {"watch": asdict(watch), "found": kept})
    due.set_at(rows, boat, "silence", silent_from(watch, together, rig), words.SILENT)


def taken_back(rows: Rows, boat: str, *, now: float) -> bool:
    """Take back what was counted last tonight, `now` in seconds since 1970; False if there is nothing."""
    tonight = of_tonight(deck.of_boat(rows, boat), now=now)
    return bool(tonight) and deck.undo(rows, boat, PERSON, since=tonight[0].at)


def new_stretch(rows: Rows, boat: str, at: float) -> None:
    """The set was changed: what is counted from now on is compared with itself."""
    watch = _watch(rows, boat)
    if watch is not None:
        crew.put_aboard(rows, boat, {"watch": asdict(begun_again(watch, at))})
        due.set_at(rows, boat, "silence", None)


def silence_told(rows: Rows, boat: str) -> None:
    """Note that the question after a long pause was asked: it is asked once a stretch."""
    watch = _watch(rows, boat)
    if watch is not None:
        crew.put_aboard(rows, boat, {"watch": asdict(replace(watch, told=(*watch.told, "silence")))})


def finding(rows: Rows, boat: str, kind: str) -> Finding | None:
    """What the watch found of a kind in this stretch; None if nothing."""
    watch, held = _watch(rows, boat), _found(rows, boat).get(kind)
    return Finding(**held) if held and watch is not None and kind in watch.told else None


def card(rows: Rows, boat: str, session: Session, *, now: float) -> dict[str, Any]:
    """The tally of the night, its buttons, and what was found, for the page."""
    entries = of_tonight(deck.of_boat(rows, boat), now=now)
    sums = tally(entries)
    has_deep = deep_lamp_since(session) is not None
    found = [each for kind in words.FOUND if (each := finding(rows, boat, kind)) is not None]
    return {
        "said": sums_in_words(sums),
        "sides": [
            {"side": side, "label": side, "sum": f"{sums.get((side, PIECE), 0):g}"}
            for side in BUTTONS
            if side != "deep" or has_deep
        ],
        "note": words.UNLIKE if len({unit for _, unit in sums}) > 1 else "",
        "can_take_back": bool(entries),
        "found": [
            {"kind": each.kind, "say": _sentence(each), "leads": each.kind != "keep"} for each in found
        ],
    }


def sums_in_words(sums: dict[tuple[str, str], float]) -> str:
    """A tally as said: bow 5, stern 3, bow 2 net; "" where there is none."""
    order = list(words.SIDES)
    parts = sorted(sums.items(), key=lambda each: (order.index(each[0][0]), each[0][1]))
    return ", ".join(
        f"{words.SIDES[side]} {amount:g}{'' if unit == PIECE else ' ' + unit}"
        for (side, unit), amount in parts
    )


def _sentence(found: Finding) -> str:
    return words.FOUND[found.kind].format(
        side=found.side,
        share=found.share,
        total=found.bow + found.stern,
        before=found.before_per_10min,
        now=found.now_per_10min,
    )


def _found(rows: Rows, boat: str) -> dict[str, Any]:
    return dict(crew.aboard(rows, boat).get("found", {}))


def _watch(rows: Rows, boat: str) -> Watch | None:
    held = crew.aboard(rows, boat).get("watch")
    return Watch(held["since"], held["seen"], held["looks"], tuple(held["told"])) if held else None
