"""Everything that the page shows of a boat, made of what is kept: the same in every tab, after a refresh,
and after a restart."""

from __future__ import annotations

import time
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from coach.clearing import clearing_steps
from coach.consult import Desk
from coach.conversation import Session
from coach.counting import NIGHT_OVER_H
from coach.exchange import open_question
from coach.figures.clock import later
from coach.front.lessons import Lessons
from coach.front.web import deck, words
from coach.front.web.asked import follow_question, likeliest, shown
from coach.front.web.lessons import LessonsOfPage
from coach.front.web.lines import turn_row
from coach.front.web.turns import Turns
from coach.pages import Pages
from coach.pictures import facts_of
from coach.post import due
from coach.post import sheet as kept
from coach.post.sheet import Rang, Tallied, Turned
from coach.reminders import SNOOZE_MIN
from coach.store import Rows
from coach.wording import clock

ROWS = 40
MOST_ROWS = 2_000


class Sheet:
    """Makes the state of the page. Raises StoreError."""

    def __init__(self, desk: Desk, lessons: Lessons) -> None:
        self._store, self._book, infer = desk.parts
        self._turns = Turns(desk)
        self._lessons = LessonsOfPage(self._turns, lessons)
        self._pages = Pages(self._store, self._book, infer=infer)

    def state(self, boat: str, *, now: datetime, most: int = ROWS) -> dict[str, Any]:
        """All of it; `now` is aware. `made` tells the newer of two states [s since 1970]."""
        made = time.time()
        now = now.astimezone(self._turns.zone(boat))
        standing = self._store.look(boat)
        session = self._turns.session(boat)
        ask = open_question(standing.reply)
        with self._store.reading() as rows:
            log, has_more = self._log(rows, boat, now, min(most, MOST_ROWS))
            counts = deck.card(rows, boat, session, now=now.timestamp())
            bells = self._bells(rows, boat, now)
        return {
            "v": 1,
            "made": made,
            "clock": clock(now),
            "welcome": "" if log else words.WELCOME,
            "log": log,
            "has_more": has_more,
            "ask": shown(ask, self._book.facts),
            "counts": counts,
            "bells": bells,
            "clearing": self._clearing(session),
            "pictures": self._pictures(boat, now),
            "lesson": self._lessons.state(boat, now=now),
            "metric": session.metric,
            "concluded": session.concluded,
        }

    # -- the log

    def _log(self, rows: Rows, boat: str, now: datetime, most: int) -> tuple[list[dict[str, Any]], bool]:
        turns = kept.turns(rows, boat, most=most + 1)
        has_more = len(turns) > most
        since = datetime.fromisoformat(turns[1].at).timestamp() if has_more else 0.0
        befores: Sequence[Turned | None] = [None, *turns]
        told = [turn_row(turn, before, self._book) for turn, before in zip(turns, befores, strict=False)]
        made = [_count_row(each, now) for each in kept.counts(rows, boat, since=since)]
        made += told[1:] if has_more else told
        made += [_bell_row(each, now) for each in kept.rang(rows, boat, since=since)]
        return _joined(sorted(made, key=lambda row: row["at"])), has_more

    # -- bells

    def _bells(self, rows: Rows, boat: str, now: datetime) -> dict[str, Any]:
        recent = kept.rang(rows, boat, since=now.timestamp() - NIGHT_OVER_H * 3600)
        return {
            "ringing": [self._ringing(each, now) for each in recent if each.state == "rung"],
            "waiting": [
                {"clock": _clock_of(each.at, now), "say": each.say}
                for each in due.of_boat(rows, boat)
                if each.kind != "silence"
            ],
            "later": f"In {SNOOZE_MIN} minutes",
        }

    def _ringing(self, bell: Rang, now: datetime) -> dict[str, Any]:
        row: dict[str, Any] = {"id": bell.id, "clock": _clock_of(bell.at, now), "say": bell.say}
        row |= {"kind": bell.kind, "answers": []}
        if bell.kind == "silence":
            row["answers"] = list(words.SILENT_ANSWERS)
        elif bell.kind == "look":
            row["answers"] = [label for _, label in likeliest(follow_question(self._book), self._book.facts)]
        return row

    # -- what stands beside the talk

    def _clearing(self, session: Session) -> dict[str, Any]:
        head, steps, total = clearing_steps(self._book, facts_of(session))
        return {"head": head, "steps": steps, "total": total}

    def _pictures(self, boat: str, now: datetime) -> list[dict[str, Any]]:
        """The pictures' words; a state kept by another version has none."""
        try:
            made = self._pages.pictures(boat, now=now)
        except ValueError:
            return []
        return [{"kind": each.kind, "words": list(each.words)} for each in made]


def _clock_of(at: float, now: datetime) -> str:
    return clock(later(now, (at - now.timestamp()) / 3600))


def _row(key: str, at: float, now: datetime) -> dict[str, Any]:
    when = later(now, (at - now.timestamp()) / 3600)
    row: dict[str, Any] = {"key": key, "at": at, "day": f"{when:%a %d %b %Y}", "clock": clock(when)}
    return row | {"asked": "", "told": "", "lines": []}


def _count_row(each: Tallied, now: datetime) -> dict[str, Any]:
    return _row(f"c{each.batch}", each.at, now) | {"sums": {(each.side, each.unit): each.amount}}


def _bell_row(each: Rang, now: datetime) -> dict[str, Any]:
    return _row(f"b{each.id}", each.at, now) | {"lines": [{"kind": "bell", "say": each.say}]}


def _joined(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Counts that nothing came between stand in one row."""
    made: list[dict[str, Any]] = []
    for row in rows:
        last = made[-1] if made else {}
        if "sums" in row and "sums" in last and row["day"] == last["day"]:
            for key, amount in row["sums"].items():
                last["sums"][key] = last["sums"].get(key, 0.0) + amount
            last["until"] = row["clock"]
        else:
            made.append(row)
    for row in made:
        if sums := row.pop("sums", None):
            row["lines"] = [{"kind": "count", "say": f"{words.COUNTED}: {deck.sums_in_words(sums)}"}]
    return made
