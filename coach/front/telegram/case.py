"""One event with what it takes to answer it, and how answers become letters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import ValidationError

from coach.conversation import Session
from coach.figures.rig import Rig
from coach.front.telegram import words
from coach.front.telegram.event import Event
from coach.front.telegram.screens import Row, Screen, screens
from coach.model import Rulebook
from coach.post import outbox
from coach.post.crew import Phone
from coach.post.outbox import Letter
from coach.store import Rows, Standing

ASIDE = ("w", "k")
"""Taps that ask for more (why, clear the water): a verdict or a bell under which they are must stay."""


@dataclass(frozen=True, slots=True)
class Case:
    """An event, the phone it came from, the boat's clock, and what the boat told of herself."""

    event: Event
    phone: Phone
    is_new: bool
    now: datetime
    told: dict[str, Any]
    book: Rulebook
    rig: Rig
    theme: str = "dim"

    @property
    def boat(self) -> str:
        """The boat that the phone is on."""
        return self.phone.boat

    @property
    def turn_id(self) -> str:
        """The id of the core's turn that this event makes."""
        return f"u{self.event.update_id}"

    def text(self, text: str, rows: Sequence[Row] = ()) -> list[Letter]:
        """A new message."""
        return self.letters(screens(text, rows))

    def letters(self, found: Sequence[Screen]) -> list[Letter]:
        """New messages."""
        return [Letter(self.event.chat, "send", screen.body()) for screen in found]

    def edit(self, screen: Screen) -> list[Letter]:
        """The tapped message turned into this screen."""
        return [Letter(self.event.chat, "edit", screen.body(), self.event.message_id)]

    def in_place(self, found: Sequence[Screen], rows: Rows) -> list[Letter]:
        """The tapped message turned into the answer where it stands last in the chat and nothing is on
        its way there; else new messages."""
        stands_last = self.event.message_id >= self.phone.latest and outbox.is_empty(rows, self.event.chat)
        is_aside = self.event.text in ASIDE and not any(screen.rows for screen in found)
        if self.event.kind == "tap" and len(found) == 1 and stands_last and not is_aside:
            return self.edit(found[0])
        return self.letters(found)

    def greeting(self) -> list[Letter]:
        """The first words, with the board of buttons that stays under the chat."""
        text = words.GREETING_GROUP if self.event.is_group else words.GREETING
        board = words.BOARD_GROUP if self.event.is_group else words.BOARD
        return [Letter(self.event.chat, "send", {"text": text, "rows": [], "board": board})]


def session_of(standing: Standing) -> Session:
    """What the chat knows; nothing where another version kept it: counting goes on all the same."""
    try:
        return Session.model_validate_json(standing.session) if standing.session else Session()
    except ValidationError:
        return Session()
