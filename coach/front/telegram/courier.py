"""The calls to Telegram: letters as messages, edits, photos and files; and when it was last heard from."""

from __future__ import annotations

import asyncio
import hashlib
import os
import ssl
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Executor
from typing import Any, TypeVar

import httpx
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

from coach.front.telegram.config import Config
from coach.front.telegram.pages import File, Painter
from coach.front.telegram.screens import TEXT_UNITS, pieces
from coach.post.outbox import Letter
from coach.reminders import lateness

_NO_PREVIEW = LinkPreviewOptions(is_disabled=True)
_PHOTOS = 64
T = TypeVar("T")
R = TypeVar("R")


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
    trusted = httpx.create_ssl_context()  # one for both: it holds the names of all authorities
    return WatchedBot(
        config.token.get_secret_value(),
        base_url=f"{config.api}/bot",
        base_file_url=f"{config.api}/file/bot",
        request=_request(16, config.timeout_s, trusted),
        get_updates_request=_request(2, config.timeout_s, trusted),
    )


def _request(connections: int, wait_s: float, trusted: ssl.SSLContext) -> HTTPXRequest:
    return HTTPXRequest(
        connection_pool_size=connections,
        connect_timeout=wait_s,
        read_timeout=wait_s,
        write_timeout=wait_s,
        pool_timeout=wait_s,
        httpx_kwargs={"verify": trusted},
    )


class Courier:
    """Posts letters. Raises TelegramError."""

    def __init__(self, bot: WatchedBot, painter: Painter, studio: Executor) -> None:
        self._bot, self._painter, self._studio = bot, painter, studio
        self._photos: OrderedDict[str, str] = OrderedDict()

    async def __call__(self, letter: Letter) -> int | None:
        """Post one; the number of the message it made, if it made one."""
        if letter.kind == "picture":
            return await self._picture(letter)
        if letter.kind == "card":
            return await self._document(letter, await self._made(self._painter.card, letter.body))
        if letter.kind == "export":
            return await self._document(letter, await self._made(self._painter.export, letter.body))
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
        return await self._text(letter, text)

    async def _text(self, letter: Letter, text: str) -> int:
        made = await self._bot.send_message(
            int(letter.chat),
            text,
            reply_markup=_buttons(letter) or _board(letter),
            link_preview_options=_NO_PREVIEW,
        )
        return made.message_id

    async def _picture(self, letter: Letter) -> int | None:
        """A photo with its caption; where none can be made and it was asked for, its words."""
        drawn = await self._made(self._painter.drawn, letter.body)
        if drawn is None:
            return None
        svg, caption = drawn
        key = hashlib.sha256(svg.encode()).hexdigest()
        photo: str | bytes | None = self._photos.get(key)
        photo = photo or await self._made(self._painter.photo, svg)
        if photo is None:
            return await self._text(letter, caption) if "svg" in letter.body else None
        made = await self._bot.send_photo(
            int(letter.chat), photo, caption=caption, filename="set.png", reply_markup=_buttons(letter)
        )
        self._keep(key, made)
        return made.message_id

    def _keep(self, key: str, made: Message) -> None:
        """Note under which name Telegram has a photo: the same one need not go up again."""
        if made.photo:
            self._photos[key] = made.photo[-1].file_id
            if len(self._photos) > _PHOTOS:
                self._photos.popitem(last=False)

    async def _document(self, letter: Letter, file: File) -> int:
        made = await self._bot.send_document(
            int(letter.chat), file.content, filename=file.name, caption=file.caption
        )
        return made.message_id

    async def _made(self, make: Callable[[T], R], of: T) -> R:
        return await asyncio.get_running_loop().run_in_executor(self._studio, make, of)


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
