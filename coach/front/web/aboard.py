"""What a boat tells of herself beside the consultation: where she lies, her draft, her battery."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

from coach.figures.limits import checked
from coach.figures.units import M_PER_FT
from coach.front.web import words
from coach.places import FAR_NMI, Ground, ground_at, ground_named
from coach.reminders import battery_kind
from coach.wording import quantity

PLACE_DIGITS = 2
"""Decimals of a degree that a place is kept with: about half a mile."""
_DRAFT = re.compile(r"(\d{1,4}(?:[.,]\d{1,4})?)\s*(m|ft|feet)?")
_BATTERY = re.compile(r"(\d{1,5}(?:[.,]\d{1,3})?)\s*(?:ah|amp-hours)?\s*([a-z0-9]{1,12})?")

Told = tuple[dict[str, Any], str]
"""Values to keep of the boat, and what is said about it."""


def named_ground(said: str) -> Ground:
    """The ground of a station by name. Raises ValueError, in words for the person."""
    name = " ".join(said.split())
    if not name:
        raise ValueError(words.PLACE_HOW)
    try:
        return ground_named(name[:80])
    except ValueError as error:
        some = str(error).partition("allowed one, as ")[2]
        raise ValueError(words.PLACE_BAD.format(some=some) if some else words.PLACE_HOW) from error


def ground_here(said: str) -> Ground:
    """The ground at "latitude longitude" [degrees]. Raises ValueError, in words for the person."""
    try:
        lat_deg, lon_deg = (round(float(part), PLACE_DIGITS) for part in said.split())
        return ground_at(lat_deg, lon_deg)
    except ValueError as error:
        raise ValueError(words.PLACE_HOW) from error


def placed(found: Ground) -> Told:
    """Where she lies."""
    values = {"place": [found.lat_deg, found.lon_deg], "zone": found.zone, "station": found.station.spot.id}
    said = words.PLACE_SET.format(name=found.station.spot.name, off=found.off_nmi)
    return values, said + (words.PLACE_FAR if found.off_nmi > FAR_NMI else "")


def draft(said: str) -> Told:
    """How deep she goes. Raises ValueError, in words for the person."""
    found = _DRAFT.fullmatch(said.strip().casefold())
    try:
        told = float(found[1].replace(",", ".")) if found else -1.0
        draft_ft = checked("draft_ft", told / M_PER_FT if found and found[2] == "m" else told)
    except ValueError as error:
        raise ValueError(words.DRAFT_HOW) from error
    return {"draft_ft": round(draft_ft, 2)}, words.DRAFT_SET.format(depth=quantity(draft_ft, "ft"))


def battery(said: str, *, now: datetime) -> Told:
    """A battery that is full now. Raises ValueError, in words for the person."""
    found = _BATTERY.fullmatch(said.strip().casefold())
    try:
        ah = checked("capacity_ah", float(found[1].replace(",", ".")) if found else -1.0)
        kind = battery_kind((found and found[2]) or "lead")
    except ValueError as error:
        raise ValueError(words.BATTERY_HOW) from error
    values = {"battery_ah": ah, "battery": kind, "full_at": now.isoformat()}
    return values, words.BATTERY_SET.format(ah=ah, kind=kind)
