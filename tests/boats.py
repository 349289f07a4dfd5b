"""The bot's office in-process, without any network: people write and tap, and read what is sent to them."""

from __future__ import annotations

import itertools
import json
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from coach import dialogue
from coach.consult import Desk
from coach.front.lessons import Lessons
from coach.front.telegram.bell import Bell
from coach.front.telegram.config import Config
from coach.front.telegram.event import Event
from coach.front.telegram.office import Office
from coach.front.telegram.pages import Painter
from coach.model import Rulebook
from coach.pages import Pages
from coach.post import crew, due, inbox, outbox
from coach.post.outbox import Letter
from coach.reminders import lateness
from coach.store import Store

COMPLAINT = "was good till nine then it faded"
START = datetime.fromisoformat("2027-02-11T20:00:00-05:00")
FAST = Config(per_minute=1e9, burst=10**9, zone="America/New_York")


@dataclass
class Shown:
    """A message as it stands in a chat."""

    number: int
    text: str
    rows: list[list[list[str]]]
    board: bool = False
    was: list[str] = field(default_factory=list)

    @property
    def buttons(self) -> dict[str, str]:
        return {text: data for row in self.rows for text, data in row}


class Harbour:
    """All chats of a bot. `say` and `tap` handle at once; what was sent stands in `chats`."""

    def __init__(self, store: Store | Path | str, book: Rulebook, infer: Any, config: Config = FAST) -> None:
        self.store = store if isinstance(store, Store) else Store(store)
        desk = Desk(self.store, book, infer=infer, step=dialogue.step)
        pages = Pages(self.store, book, infer=infer)
        self.lessons = lessons = Lessons(self.store, book, None, infer=infer)
        self.office = Office(self.store, desk, book, config, pages, lessons=lessons)
        self.painter = Painter(self.store, pages, book, config.theme, lessons=lessons)
        self.bell = Bell(self.store, None, book, list)  # type: ignore[arg-type]
        self.at = START.timestamp()
        self.chats: dict[int, list[Shown]] = {}
        self._updates = itertools.count(1)
        self._numbers = itertools.count(1)

    def say(self, chat: int, text: str, *, person: int | None = None) -> list[Shown]:
        return self._handle(chat, person, kind="text", text=text, message_id=next(self._numbers))

    def show_place(self, chat: int, lat: float, lon: float, *, person: int | None = None) -> list[Shown]:
        number = next(self._numbers)
        return self._handle(chat, person, kind="place", place=(lat, lon), message_id=number)

    def tap(self, chat: int, text: str, *, person: int | None = None) -> list[Shown]:
        """Tap the button of this label on the latest message that has it."""
        message = next(each for each in reversed(self.chats[chat]) if text in each.buttons)
        return self.tap_data(chat, message.buttons[text], number=message.number, person=person)

    def tap_data(self, chat: int, data: str, *, number: int, person: int | None = None) -> list[Shown]:
        return self._handle(chat, person, kind="tap", text=data, tap="t", message_id=number)

    def later(self, minutes: float) -> list[Shown]:
        """Time goes by; what rang."""
        self.at += 60 * minutes
        return self._deliver(self.bell.ring(self.at))

    def latest(self, chat: int) -> Shown:
        return self.chats[chat][-1]

    def boat(self, chat: int) -> str:
        with self.store.reading() as rows:
            found = crew.phone(rows, str(chat))
        assert found
        return found.boat

    def facts(self, chat: int) -> dict[str, Any]:
        session = json.loads(self.store.look(self.boat(chat)).session or '{"facts": {}}')
        return {name: heard["value"] for name, heard in session["facts"].items()}

    def bells(self, chat: int) -> list[due.Due]:
        with self.store.reading() as rows:
            return due.of_boat(rows, self.boat(chat))

    def _handle(self, chat: int, person: int | None, **content: Any) -> list[Shown]:
        self.at += 1
        event = Event(
            update_id=next(self._updates), chat=str(chat), is_group=chat < 0,
            person=str(person or chat), at=self.at, **content,
        )  # fmt: skip
        with self.store.writing() as rows:
            inbox.receive(rows, event.update_id, chat=event.chat, at=event.at, event=event.model_dump_json())
        return self._deliver(self.office.handle(event))

    def _deliver(self, letters: list[Letter]) -> list[Shown]:
        shown = [(letter, message) for letter in letters if (message := self._shown(letter)) is not None]
        with self.store.writing() as rows:
            outbox.sent(rows, [letter.id for letter in letters])
            for letter, message in shown:
                crew.saw(rows, letter.chat, message.number)
        return [message for _, message in shown]

    def _shown(self, letter: Letter) -> Shown | None:
        held = self.chats.setdefault(int(letter.chat), [])
        text, rows = self._text(letter), letter.body.get("rows", [])
        if text is None:
            return None
        if letter.kind == "edit":
            message = next(each for each in held if each.number == letter.message_id)
            message.was.append(message.text)
            message.text, message.rows = text, rows
            return message
        if letter.due_at is not None:
            text = lateness(letter.due_at, self.at) + text
        message = Shown(next(self._numbers), text, rows, "board" in letter.body)
        held.append(message)
        return message

    def _text(self, letter: Letter) -> str | None:
        """What is read of a letter; None where it comes to nothing. Files are told in brackets."""
        if letter.kind == "picture":
            drawn = self.painter.drawn(letter.body)
            return None if drawn is None else f"(picture) {drawn[1]}"
        if letter.kind == "card":
            return f"(card) {self.painter.card(letter.body).caption}"
        if letter.kind == "export":
            return f"(file) {letter.body['part']}"
        return str(letter.body["text"])


def hazy_night(harbour: Harbour, chat: int = 11) -> None:
    """A tide table and a depth, told by the core's own means: words."""
    harbour.say(chat, COMPLAINT)
    for said in ("high water at 19:00", "low water at 01:00", "12 ft deep", "tide is falling"):
        harbour.say(chat, said)
