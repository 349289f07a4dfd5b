"""An update as the coach needs it: everything else of it is never written down."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from coach.exchange import TEXT_LIMIT
from coach.model import Frozen

if TYPE_CHECKING:
    from telegram import CallbackQuery, Message, Update

PLACE_DIGITS = 2
"""Decimals of a degree that are kept of a place: about 0.6 nautical miles."""


class Event(Frozen):
    """One update. `text` is what was typed, or the data of the button that was tapped.

    `at` is when it was sent [s since 1970], `place` latitude and longitude, rounded. `sent_to` is the
    new number of a chat that moved.
    """

    update_id: int
    chat: str
    is_group: bool
    person: str
    kind: Literal["text", "tap", "place", "moved", "other"]
    at: float
    message_id: int = 0
    text: str = ""
    tap: str = ""
    place: tuple[float, float] | None = None
    sent_to: str = ""


def event_of(update: Update, *, now: float) -> Event | None:
    """The event in an update; None for one that is nothing to us. `now` [s] serves taps, which carry
    no time of their own."""
    if update.callback_query is not None:
        return _tap(update.update_id, update.callback_query, now)
    if update.message is not None and update.message.from_user is not None:
        return _message(update.update_id, update.message)
    return None


def _tap(update_id: int, query: CallbackQuery, now: float) -> Event | None:
    message = query.message
    if message is None or not isinstance(query.data, str):
        return None
    return Event(
        update_id=update_id,
        chat=str(message.chat.id),
        is_group=message.chat.type != "private",
        person=str(query.from_user.id),
        kind="tap",
        at=now,
        message_id=message.message_id,
        text=query.data[:64],
        tap=query.id,
    )


def _message(update_id: int, message: Message) -> Event:
    assert message.from_user is not None
    event = Event(
        update_id=update_id,
        chat=str(message.chat.id),
        is_group=message.chat.type != "private",
        person=str(message.from_user.id),
        kind="other",
        at=message.date.timestamp(),
        message_id=message.message_id,
    )
    if message.migrate_to_chat_id is not None:
        return event.model_copy(update={"kind": "moved", "sent_to": str(message.migrate_to_chat_id)})
    if message.location is not None:
        where = (
            round(message.location.latitude, PLACE_DIGITS),
            round(message.location.longitude, PLACE_DIGITS),
        )
        return event.model_copy(update={"kind": "place", "place": where})
    if message.text and message.forward_origin is None:
        return event.model_copy(update={"kind": "text", "text": message.text[: TEXT_LIMIT + 1]})
    return event
