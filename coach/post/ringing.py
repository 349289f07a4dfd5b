"""Bells that follow from a turn, kept along with it: the same for every front end."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from coach.consult import Made
from coach.figures.rig import Rig
from coach.model import Rulebook
from coach.post import crew, due
from coach.reminders import Aboard, Bell, battery_kind, bells
from coach.store import Rows
from coach.tabled import with_table


def aboard_of(told: Mapping[str, Any]) -> Aboard:
    """What a boat told of herself, as the sums take it."""
    zone, full_at = told.get("zone"), told.get("full_at")
    lat, lon = told.get("place") or (None, None)
    return Aboard(
        draft_ft=told.get("draft_ft"),
        battery_ah=told.get("battery_ah"),
        battery=battery_kind(told.get("battery", "lead")),
        full_at=None if full_at is None else datetime.fromisoformat(full_at),
        lat_deg=lat,
        lon_deg=lon,
        zone=None if zone is None else ZoneInfo(zone),
    )


def follow_turn(
    rows: Rows, boat: str, made: Made, *, book: Rulebook, rig: Rig, now: datetime
) -> dict[str, tuple[Bell, ...]]:
    """Bring a boat's bells up to date after a turn; those still to come of what was worked out anew, by
    kind."""
    if made.reply.error or made.reply.forget:
        return {}
    found = bells(
        with_table(made.after, book, now=now),
        before=with_table(made.before, book, now=now),
        verdict=made.reply.verdict,
        aboard=aboard_of(crew.aboard(rows, boat)),
        book=book,
        rig=rig,
        now=now,
    )
    due.follow(rows, boat, found, now=now)
    return {kind: tuple(bell for bell in row if bell.at > now) for kind, row in found.items()}
