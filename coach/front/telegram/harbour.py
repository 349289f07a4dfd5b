"""What the bot does itself beside counting: who is aboard, where she lies, what rings, help."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable
from datetime import timedelta

from coach.conversation import Question
from coach.counting import RESERVED
from coach.exchange import TEXT_LIMIT
from coach.figures.clock import later
from coach.figures.limits import checked
from coach.figures.units import M_PER_FT
from coach.front.telegram import words
from coach.front.telegram.beside import closed
from coach.front.telegram.case import Case
from coach.front.telegram.lessons import learner_of
from coach.front.telegram.meant import Deed
from coach.front.telegram.screens import ANSWERS, Row, Screen, label, question
from coach.places import FAR_NMI, Ground, places_named
from coach.post import crew, due
from coach.post.crew import CODE_LENGTH, CODE_LETTERS, CODE_LIVES_S, Dipper, Phone
from coach.post.outbox import Letter
from coach.reminders import SNOOZE_MIN, battery_kind
from coach.school.kept import last_at
from coach.store import Rows
from coach.trips.kept import put_place
from coach.trips.trip import Place
from coach.wording import clock, quantity

_ASK_ME: Row = [[words.ASK_ME, "q"]]
_NAME = re.compile(r"[^\W\d_]{1,20}")
_DRAFT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(m|ft|feet)?")
_BATTERY = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:ah|amp-hours)?\s*([a-z0-9]+)?")


def new_boat() -> str:
    """The name of a boat that nobody has heard of: it tells nothing about who is on her."""
    return f"boat-{secrets.token_hex(8)}"


# --- words ---------------------------------------------------------------------------------------


def start(rows: Rows, case: Case, ask: Question | None) -> list[Letter]:
    """Greet, with the board; an open question is asked again."""
    del rows
    again = Screen(*question(ask, case.book.facts)) if ask is not None else Screen(words.BEGIN, (_ASK_ME,))
    return case.greeting() + case.letters([again])


def help_(rows: Rows, case: Case) -> list[Letter]:
    """What can be sent."""
    del rows
    listed = "\n".join(f"/{name}  {says}" for name, says in words.COMMANDS.items())
    return case.text(f"{words.HELP}\n{listed}")


# --- who is aboard -------------------------------------------------------------------------------


def name(rows: Rows, case: Case, said: str) -> list[Letter]:
    """A dipper's name and side."""
    first, _, side = said.strip().partition(" ")
    side = {"b": "bow", "s": "stern"}.get(side.strip().casefold(), side.strip().casefold())
    if not _NAME.fullmatch(first) or side not in {"", "bow", "stern"}:
        return case.text(words.NAME_HOW)
    if first.casefold() in RESERVED:
        return case.text(words.NAME_COUNTS.format(name=first))
    aboard = crew.dippers(rows, case.boat)
    if any(d.name.casefold() == first.casefold() and d.person != case.event.person for d in aboard):
        return case.text(words.NAME_TAKEN.format(name=first))
    crew.name_dipper(rows, case.boat, Dipper(case.event.person, first, side))
    return case.text(words.NAMED.format(name=first, side=f", at the {side}" if side else ""))


def boat(rows: Rows, case: Case, said: str) -> list[Letter]:
    """A code for another phone, joining by one, or leaving."""
    word = said.strip().casefold()
    if case.event.is_group:
        return case.text(words.BOAT_GROUP)
    if word == "leave":
        return _leave(rows, case)
    if word:
        return _join(rows, case, said.strip().upper().replace("-", ""))
    code = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
    crew.put_code(rows, code, case.boat, until=case.event.at + CODE_LIVES_S)
    return case.text(words.BOAT_CODE.format(code=code))


def _join(rows: Rows, case: Case, code: str) -> list[Letter]:
    to = crew.boat_of_code(rows, code, now=case.event.at)
    if to is None or to == case.boat:
        return case.text(words.BOAT_BAD)
    told = [Letter(chat, "send", {"text": words.BOAT_NEW, "rows": []}) for chat in crew.phones_of(rows, to)]
    crew.put_phone(rows, Phone(case.event.chat, to, case.phone.latest, is_group=False))
    return [*case.text(words.BOAT_JOINED), *told]


def _leave(rows: Rows, case: Case) -> list[Letter]:
    if len(crew.phones_of(rows, case.boat)) < 2:
        return case.text(words.BOAT_ALONE)
    own = (boat for boat, is_own in crew.berths(rows, case.event.chat) if is_own and boat != case.boat)
    back_on = next(own, None) or new_boat()
    crew.put_phone(rows, Phone(case.event.chat, back_on, case.phone.latest, is_group=False))
    return case.text(words.BOAT_LEFT)


# --- what she told of herself --------------------------------------------------------------------


def draft(rows: Rows, case: Case, said: str) -> list[Letter]:
    """How deep she goes."""
    found = _DRAFT.fullmatch(said.strip().casefold())
    try:
        told = float(found[1].replace(",", ".")) if found else -1.0
        draft_ft = checked("draft_ft", told / M_PER_FT if found and found[2] == "m" else told)
    except ValueError:
        return case.text(words.DRAFT_HOW)
    crew.put_aboard(rows, case.boat, {"draft_ft": round(draft_ft, 2)})
    return case.text(words.DRAFT_SET.format(depth=quantity(draft_ft, "ft")))


def battery(rows: Rows, case: Case, said: str) -> list[Letter]:
    """A battery that is full now."""
    found = _BATTERY.fullmatch(said.strip().casefold())
    try:
        ah = checked("capacity_ah", float(found[1].replace(",", ".")) if found else -1.0)
        kind = battery_kind((found and found[2]) or "lead")
    except ValueError:
        return case.text(words.BATTERY_HOW)
    values = {"battery_ah": ah, "battery": kind, "full_at": case.now.isoformat()}
    crew.put_aboard(rows, case.boat, values)
    return case.text(words.BATTERY_SET.format(ah=f"{ah:g}", kind=kind))


def ground(rows: Rows, case: Case, found: Ground) -> str:
    """Keep where she lies; what is said about it."""
    place = {"place": [found.lat_deg, found.lon_deg], "zone": found.zone, "station": found.station.spot.id}
    crew.put_aboard(rows, case.boat, place)
    spot = Place(found.station.spot.name if found.off_nmi <= FAR_NMI else "", found.lat_deg, found.lon_deg)
    put_place(rows, case.boat, spot, at=case.now)
    miles = round(found.off_nmi)
    off = words.PLACE_OFF.format(miles=miles) if miles > 1 else words.PLACE_NEAR
    said = words.PLACE_SET.format(name=found.station.spot.name, off=off)
    return said + (words.PLACE_FAR if found.off_nmi > FAR_NMI else "")


# --- bells ---------------------------------------------------------------------------------------


def bells(rows: Rows, case: Case) -> list[Letter]:
    """What is still to ring."""
    listed = [
        f"{clock(later(case.now, (each.at - case.now.timestamp()) / 3600))}  {each.say}"
        for each in due.of_boat(rows, case.boat)
        if each.kind != "silence"
    ]
    return case.text("\n".join([words.BELLS_HEAD, *listed]) if listed else words.BELLS_NONE)


def bell(rows: Rows, case: Case, said: str) -> list[Letter]:
    """A bell seen to, or put off."""
    number, _, what = said.partition(":")
    held = due.find(rows, case.boat, int(number)) if number.isdecimal() and len(number) < 16 else None
    if held is None or held.state != "rung":
        return case.edit(Screen(words.BELL_GONE))
    if what == "s":
        until = case.now + timedelta(minutes=SNOOZE_MIN)
        due.put_off(rows, held.id, until)
        return case.edit(Screen(f"{held.say}\n{words.BELL_LATER.format(time=clock(until))}"))
    due.done(rows, held.id)
    return case.edit(Screen(f"{held.say}\n{words.BELL_DONE}"))


# --- export and forget ---------------------------------------------------------------------------


def export(rows: Rows, case: Case) -> list[Letter]:
    """Two files, and two of a learner: made when they are sent, so that no second copy lies about."""
    chat, of_her = case.event.chat, {"boat": case.boat, "person": case.event.person}
    letters = [Letter(chat, "export", {**of_her, "part": part}) for part in ("json", "csv")]
    name = learner_of(chat)
    if case.event.is_group or last_at(rows, name) is None:
        return letters
    learned = {"learner": name, "at": case.now.isoformat()}
    return letters + [
        Letter(chat, "export", {**learned, "part": part}) for part in ("lessons.json", "lessons.csv")
    ]


def forget(rows: Rows, case: Case, said: str) -> list[Letter]:
    """Ask before anything is erased."""
    if said.strip().casefold() == "boat":
        what, text = "boat", words.FORGET_ASK_BOAT
    else:
        is_shared = case.event.is_group or len(crew.phones_of(rows, case.boat)) > 1
        what, text = ("me", words.FORGET_ASK_ME) if is_shared else ("boat", words.FORGET_ASK)
    yes = f"f:{what}:{case.event.person}"  # in a crew, for whoever asked and nobody else
    return case.text(text, [[[words.FORGET_YES, yes]], [[words.FORGET_NO, "f:no"]]])


Plain = Callable[[Rows, Case], list[Letter]]
Said = Callable[[Rows, Case, str], list[Letter]]
PLAIN: dict[str, Plain] = {"help": help_, "bells": bells, "export": export}
SAID: dict[str, Said] = {
    "name": name,
    "boat": boat,
    "draft": draft,
    "battery": battery,
    "bell": bell,
    "forget": forget,
}
SIMPLE: dict[str, str] = {
    "no command": words.NO_COMMAND,
    "not text": words.NOT_TEXT,
    "edited": words.EDITED,
    "forwarded": words.FORWARDED,
    "tell what": words.TELL_WHAT,
    "units": words.UNITS_HOW,
}


def said(rows: Rows, case: Case, deed: Deed, ask: Question | None) -> list[Letter]:
    """The plain answers: the first words, a page of a question, what is not read."""
    if deed.name == "start":
        return start(rows, case, ask)
    if deed.name == "too long":
        return case.text(words.TOO_LONG.format(limit=TEXT_LIMIT))
    if deed.name == "page" and ask is not None:
        return case.edit(Screen(*question(ask, case.book.facts, page=int(deed.said[:2] or 0))))
    if deed.name == "closed":
        return closed(case, ask)
    return case.text(SIMPLE[deed.name]) if deed.name in SIMPLE else []


def which(case: Case, said: str) -> list[Letter]:
    """What to say where a place was not found: how to send one, or which of those of that name."""
    fits = places_named(said) if said.strip() else ()
    if not fits:
        return case.text(f"{words.PLACE_BAD if said.strip() else ''}{words.PLACE_HOW}")
    text = words.PLACE_WHICH.format(count=len(fits))
    return case.text(text, [[[label(name), f"l:{id_}"]] for id_, name in fits[:ANSWERS]])
