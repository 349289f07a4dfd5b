"""An update as the coach needs it: everything else of it is never written down."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING, Literal

from coach.conversation import Frozen
from coach.exchange import TEXT_LIMIT

if TYPE_CHECKING:
    from telegram import CallbackQuery, Message, Update, User

_TURNS = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
PLACE_DIGITS = 2
"""Decimals of a degree that are kept of a place: about 0.6 nautical miles."""
Kind = Literal["text", "tap", "place", "moved", "edited", "forwarded", "joined", "other"]


class Event(Frozen):
    """One update. `text` is what was typed, or the data of the button that was tapped.

    `at` is when it was sent [s since 1970], `place` latitude and longitude, rounded. `sent_to` is the
    new number of a chat that moved.
    """

    update_id: int
    chat: str
    is_group: bool
    person: str
    kind: Kind
    at: float
    message_id: int = 0
    text: str = ""
    tap: str = ""
    place: tuple[float, float] | None = None
    sent_to: str = ""


def event_of(update: Update, *, now: float, me: User | None = None) -> Event | None:
    """The event in an update; None for one that is nothing to us. `now` [s] serves taps, which carry
    no time of their own; `me` is the bot itself, so that what is meant for another bot is let pass."""
    if update.callback_query is not None:
        return _tap(update.update_id, update.callback_query, now)
    message = update.message or update.edited_message
    if message is None or message.from_user is None:
        return None
    event = _bare(update.update_id, message)
    if update.message is None:  # a place that moves on comes as an edit each time
        return event.model_copy(update={"kind": "edited"}) if message.text else None
    found = _content(event, message, me)
    return None if _is_for_another(found.text, me) else found


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


def _bare(update_id: int, message: Message) -> Event:
    assert message.from_user is not None
    return Event(
        update_id=update_id,
        chat=str(message.chat.id),
        is_group=message.chat.type != "private",
        person=str(message.from_user.id),
        kind="other",
        at=message.date.timestamp(),
        message_id=message.message_id,
    )


def _content(event: Event, message: Message, me: User | None) -> Event:
    """The event with what of the message matters."""
    if message.migrate_to_chat_id is not None:
        return event.model_copy(update={"kind": "moved", "sent_to": str(message.migrate_to_chat_id)})
    if message.group_chat_created or any(me is not None and who.id == me.id for who in _came(message)):
        return event.model_copy(update={"kind": "joined"})
    if message.forward_origin is not None:
        return event.model_copy(update={"kind": "forwarded"})
    if message.location is not None:
        where = message.location.latitude, message.location.longitude
        rounded = tuple(round(degrees, PLACE_DIGITS) for degrees in where)
        return event.model_copy(update={"kind": "place", "place": rounded})
    if text := readable(message.text or message.caption or ""):
        return event.model_copy(update={"kind": "text", "text": text[: TEXT_LIMIT + 1]})
    return event


def readable(text: str) -> str:
    """The text without what nobody types: control signs, half signs, and signs that turn its direction."""
    return "".join(sign for sign in text if sign in "\n\t" or not _is_odd(sign)).strip()


def _is_odd(sign: str) -> bool:
    return unicodedata.category(sign) in {"Cc", "Cs"} or sign in _TURNS


def _came(message: Message) -> tuple[User, ...]:
    return message.new_chat_members or ()


def _is_for_another(text: str, me: User | None) -> bool:
    """Whether a text is a command with the name of some other bot behind it."""
    if me is None or not text.startswith("/"):
        return False
    _, _, name = text.split(maxsplit=1)[0].partition("@")
    return bool(name) and name.casefold() != str(me.username).casefold()
