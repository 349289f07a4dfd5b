"""What an event means: a message to the core, or something that the bot does itself."""

from __future__ import annotations

import re
from dataclasses import dataclass

from coach.commands import SPOKEN, spoken_command
from coach.conversation import Message, Question
from coach.counting import Counted, read_count
from coach.exchange import TEXT_LIMIT
from coach.front.telegram import words
from coach.front.telegram.case import Case
from coach.front.telegram.screens import likeliest, token
from coach.language.read import read
from coach.model import UNKNOWN, Rulebook


@dataclass(frozen=True, slots=True)
class Deed:
    """Something that the bot does itself: its name and what was said with it."""

    name: str
    said: str = ""
    counts: tuple[Counted, ...] = ()


_CORE = {"why": "why", "undo": "undo", "summary": "summary", "fresh": "new", "clear": "clear"}
"""Our commands that are commands of the core."""
_UNITS = {"feet": "us units", "ft": "us units", "metres": "metric", "meters": "metric", "m": "metric"}
_TAPPED = {"w": "why", "z": "undo", "k": "clear"}
_DEEDS = {
    "l": "place",
    "p": "picture",
    "r": "bell",
    "t": "trip",
    "c": "tap count",
    "f": "forget for good",
    "x": "found",
    "h": "helped",
    "e": "lesson tap",
    "g": "progress",
}
_WORDS = {
    "count": "count",
    "bells": "bells",
    "reminders": "bells",
    "help": "help",
    "forget": "forget",
    "export": "export",
    "picture": "picture",
    "card": "card",
    "trip": "trip",
    "lesson": "lesson",
    "progress": "progress",
    "undo count": "uncount",
    "take back count": "uncount",
}
"""Words that do the same as our commands of that name."""


def meaning(case: Case, ask: Question | None, names: tuple[str, ...]) -> Message | Deed:
    """What the event means while `ask` is open and dippers of these names are aboard."""
    event = case.event
    if event.kind == "tap":
        return _tapped(event.text, ask, case.book)
    if event.kind in _OTHERWISE:
        return Deed(_OTHERWISE[event.kind])
    if event.kind != "text":
        return Deed("ignore" if event.is_group else _UNREAD.get(event.kind, "not text"))
    text = " ".join(event.text.split())
    if len(event.text) > TEXT_LIMIT:
        return Deed("too long")
    if text.startswith("/"):
        return _commanded(text, case, ask)
    return _said(text, case, ask, names)


def _tapped(data: str, ask: Question | None, book: Rulebook) -> Message | Deed:
    kind, _, rest = data.partition(":")
    if kind in _TAPPED:
        return Message(command=_TAPPED[kind])
    if kind in {"a", "u", "m"}:
        which, _, value = rest.partition(":")
        return _answered(kind, value, ask, book) if ask and which == token(ask) else Deed("closed")
    if kind == "q":
        return Message(facts={}) if ask is None else Deed("closed")
    return Deed(_DEEDS.get(kind, "closed"), rest)


def _answered(kind: str, value: str, ask: Question, book: Rulebook) -> Message | Deed:
    """A tap under the question that is open: an answer, don't know, or another page."""
    if kind == "u":
        return Message(pick=UNKNOWN, has_pick=True)
    if kind == "m":
        return Deed("page", value) if value.isdecimal() else Deed("closed")
    return _picked(ask, value, book) or Deed("closed")


def _picked(ask: Question, digit: str, book: Rulebook) -> Message | None:
    """The answer at a place of the screens, counted from 1 over all pages."""
    answers = likeliest(ask, book.facts)
    if digit.isdecimal() and 1 <= int(digit[:4]) <= len(answers):
        return Message(pick=answers[int(digit) - 1][0], has_pick=True)
    return None


def _commanded(text: str, case: Case, ask: Question | None) -> Message | Deed:
    name, _, said = text[1:].partition(" ")
    name = name.partition("@")[0].casefold()
    if name in _CORE:
        return Message(command=_CORE[name])
    if name == "tell":
        return _told(said, case, ask) if said else Deed("tell what")
    if name == "units":
        return Message(command=_UNITS[said]) if (said := said.casefold()) in _UNITS else Deed("units")
    return Deed(name if name in _OWN else "no command", said)


_OWN = frozenset({"start", *words.COMMANDS})
_CLEARS = re.compile(r"\bclear (the water|water now)\b(?! (is|was|has|looks|fell|came|level))")
_TYPED = ("number", "time")
_OTHERWISE = {"place": "ground", "joined": "start"}
_UNREAD = {"edited": "edited", "forwarded": "forwarded"}


def _said(text: str, case: Case, ask: Question | None, names: tuple[str, ...]) -> Message | Deed:
    word = text.casefold().strip(" .!")
    if word in _WORDS:
        return Deed(_WORDS[word])
    if _CLEARS.search(word):  # nobody types with care when a barge comes
        return Message(command="clear")
    if counts := read_count(text, names):
        return Deed("counts", counts=counts)
    if case.event.is_group and not _is_for_us(text, case, ask):
        return Deed("ignore")
    return _told(text, case, ask)


def _told(text: str, case: Case, ask: Question | None) -> Message:
    word = text.casefold().strip(" .!")
    if spoken_command(text) == "new":  # the one way out where what is kept cannot be read
        return Message(command="new")
    if ask is not None and ask.type not in _TYPED:
        if word in {"?", "0"}:
            return Message(pick=UNKNOWN, has_pick=True)
        if picked := _picked(ask, text, case.book):
            return picked
    return Message(text=text)


def _is_for_us(text: str, case: Case, ask: Question | None) -> bool:
    """Whether something in a crew's talk is meant for the coach: an answer, a fact, one of its words."""
    word = text.casefold().strip(" .!?")
    if any(word in ways for ways in SPOKEN.values()):
        return True
    if ask is not None and word.isdecimal():
        return ask.type in _TYPED or word == "0" or _picked(ask, word, case.book) is not None
    fact = case.book.facts.get(ask.fact) if ask is not None else None
    reading = read(text, asked=fact, lexicon=case.book.lexicon, now=case.now)
    return bool(reading.facts or reading.unknown or reading.retracted)
