"""Counting on deck from a browser: what is kept, what the watch over the counts finds, the tally."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from coach.conversation import Session
from coach.counting import PIECE, Counted, Entry, of_tonight
from coach.counting import tally as summed
from coach.figures.rig import Rig
from coach.front import tally
from coach.front.web import words
from coach.post import deck, sheet
from coach.reminders import deep_lamp_since
from coach.store import Rows
from coach.watching import Finding

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
    tally.kept(
        rows,
        boat,
        [Entry(at, each.side, each.name, each.amount, each.unit) for each in counts],
        person=PERSON,
        batch=sheet.next_batch(rows, boat),
        at=at,
        session=session,
        rig=rig,
        window_min=window_min,
        silent=words.SILENT,
    )


def taken_back(rows: Rows, boat: str, *, now: float) -> bool:
    """Take back what was counted last tonight, `now` in seconds since 1970; False if there is nothing."""
    return tally.taken_back(rows, boat, PERSON, now=now)


def card(rows: Rows, boat: str, session: Session, *, now: float) -> dict[str, Any]:
    """The tally of the night, its buttons, and what was found, for the page."""
    entries = of_tonight(deck.of_boat(rows, boat), now=now)
    sums = summed(entries)
    has_deep = deep_lamp_since(session) is not None
    found = [each for kind in words.FOUND if (each := tally.found_now(rows, boat, kind)) is not None]
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
