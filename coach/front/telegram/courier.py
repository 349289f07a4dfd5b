"""The calls to Telegram: letters as messages, edits and files; and the time of the last good poll."""

from __future__ import annotations

import json
import os
import time
from typing import Any

from telegram import (
    InlineKeyboardButton,
    InlineKeyboardMarkup,
    LinkPreviewOptions,
    Message,
    ReplyKeyboardMarkup,
    Update,
)
from telegram.ext import ExtBot
from telegram.request import HTTPXRequest

from coach.front.telegram import words
from coach.front.telegram.config import Config
from coach.front.telegram.screens import TEXT_UNITS, pieces
from coach.post import privacy
from coach.post.outbox import Letter
from coach.reminders import lateness
from coach.store import Store

_NO_PREVIEW = LinkPreviewOptions(is_disabled=True)


class WatchedBot(ExtBot[None]):
    """A bot that knows when it last heard from Telegram, on the monotonic clock."""

    _heard_at = 0.0

    @property
    def heard_at(self) -> float:
        """When it last heard from Telegram."""
        return self._heard_at

    def hears(self) -> None:
        """Note that it hears from Telegram now."""
        self._heard_at = time.monotonic()

    async def get_updates(self, *args: Any, **kwargs: Any) -> tuple[Update, ...]:
        """Poll, and note that an answer came."""
        found = await super().get_updates(*args, **kwargs)
        self.hears()
        return found


def watched_bot(config: Config) -> WatchedBot:
    """The bot of these settings, with time limits for a phone's network."""
    os.environ.setdefault("PTB_TIMEDELTA", "1")  # durations as such, not as numbers of seconds
    return WatchedBot(
        config.token.get_secret_value(),
        base_url=f"{config.api}/bot",
        base_file_url=f"{config.api}/file/bot",
        request=_request(16, config.timeout_s),
        get_updates_request=_request(2, config.timeout_s),
    )


def _request(connections: int, wait_s: float) -> HTTPXRequest:
    return HTTPXRequest(
        connection_pool_size=connections,
        connect_timeout=wait_s,
        read_timeout=wait_s,
        write_timeout=wait_s,
        pool_timeout=wait_s,
    )


class Courier:
    """Posts letters. Raises TelegramError."""

    def __init__(self, bot: WatchedBot, store: Store) -> None:
        self._bot, self._store = bot, store

    async def __call__(self, letter: Letter) -> int | None:
        """Post one; the number of the message it made, if it made one."""
        if letter.kind == "export":
            return (await self._file(letter)).message_id
        text = letter.body["text"]
        if letter.due_at is not None:
            text = lateness(letter.due_at, time.time()) + text
        text = pieces(text, TEXT_UNITS)[0]
        if letter.kind == "edit":
            await self._bot.edit_message_text(
                text,
                chat_id=int(letter.chat),
                message_id=letter.message_id,
                reply_markup=_buttons(letter),
                link_preview_options=_NO_PREVIEW,
            )
            return None
        made = await self._bot.send_message(
            int(letter.chat),
            text,
            reply_markup=_buttons(letter) or _board(letter),
            link_preview_options=_NO_PREVIEW,
        )
        return made.message_id

    async def _file(self, letter: Letter) -> Message:
        boat, person, part = (letter.body[key] for key in ("boat", "person", "part"))
        with self._store.reading() as rows:
            found = privacy.export(rows, boat, person)
        whole = (
            json.dumps(found, indent=1, ensure_ascii=False) if part == "json" else privacy.counts_csv(found)
        )
        name = "night.json" if part == "json" else "counts.csv"
        return await self._bot.send_document(
            int(letter.chat), whole.encode(), filename=name, caption=words.EXPORT_ABOUT
        )


def _buttons(letter: Letter) -> InlineKeyboardMarkup | None:
    rows = letter.body.get("rows")
    if not rows:
        return None
    return InlineKeyboardMarkup(
        [[InlineKeyboardButton(text=text, callback_data=data) for text, data in row] for row in rows]
    )


def _board(letter: Letter) -> ReplyKeyboardMarkup | None:
    board = letter.body.get("board")
    return None if board is None else ReplyKeyboardMarkup(board, resize_keyboard=True, is_persistent=True)
