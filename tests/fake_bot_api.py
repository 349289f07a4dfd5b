"""A Bot API on loopback, over real HTTP, that is stricter than the real one.

It runs in a thread of its own. People's side: `say`, `tap`, `show_place`; the bot's side is kept in
`chats` (messages as they stand after edits) and `calls`. Every call is checked against the models of
the published package aiogram (unknown or missing parameters, wrong types) and against the length
limits of the Bot API's documentation (READ, in the machine-readable copy of it): what is wrong is in
`wrong`, and answered with 400. `faults` decides which calls fail, and how.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import itertools
import json
import logging
import threading
import time
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import aiohttp
from aiogram import methods
from aiohttp import web

logging.getLogger("aiohttp.server").setLevel(logging.CRITICAL)  # a killed bot breaks its calls off

TOKEN = "424242:AAfake-token-for-tests-on-loopback-only0"
SECRET = "a-secret-of-the-tests-0123456789"


def no_fault(method: str) -> str | None:
    return None


@dataclass
class Sent:
    """A message of the bot: its text now, its buttons, how often it was turned into another."""

    message_id: int
    text: str
    markup: dict[str, Any] | None
    at: float
    edits: int = 0
    texts: list[str] = field(default_factory=list)
    file: bytes | None = None

    @property
    def buttons(self) -> list[tuple[str, str]]:
        rows = (self.markup or {}).get("inline_keyboard", [])
        return [(button["text"], button["callback_data"]) for row in rows for button in row]

    @property
    def rows(self) -> list[list[str]]:
        return [[button["text"] for button in row] for row in (self.markup or {}).get("inline_keyboard", [])]


class FakeBotApi:
    """The server. `with FakeBotApi() as api:` and give `api.url` to the bot."""

    def __init__(self, faults: Callable[[str], str | None] = no_fault) -> None:
        self.faults = faults
        self.wrong: list[str] = []
        self.calls: list[tuple[float, str, dict[str, Any]]] = []
        self.chats: dict[int, list[Sent]] = defaultdict(list)
        self.answered: dict[str, float] = {}
        self.tapped: dict[str, float] = {}
        self.failed = 0
        self.photos: dict[str, bytes] = {}
        self.slow_s: dict[int, float] = {}
        self.latency_s = 0.0
        self.stuck = False
        self._numbers = itertools.count(1)
        self._update_ids = itertools.count(1)
        self._messages: dict[int, itertools.count[int]] = defaultdict(lambda: itertools.count(1))
        self._updates: dict[int, dict[str, Any]] = {}
        self._news: asyncio.Event | None = None
        self.webhook: dict[str, Any] | None = None
        self._ready = threading.Event()
        self._changed = threading.Condition()
        self._loop: asyncio.AbstractEventLoop | None = None

    # -- the thread

    def __enter__(self) -> FakeBotApi:
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        assert self._ready.wait(10)
        return self

    def __exit__(self, *_: object) -> None:
        assert self._loop
        self._loop.call_soon_threadsafe(self._end.set)
        self._thread.join(10)

    def _run(self) -> None:
        asyncio.run(self._serve())

    async def _serve(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._end = asyncio.Event()
        self._news = asyncio.Event()
        app = web.Application(client_max_size=30_000_000)
        app.router.add_route("*", "/bot{token}/{method}", self._called)
        runner = web.AppRunner(app, access_log=None, shutdown_timeout=0.1)
        await runner.setup()
        site = web.TCPSite(runner, "127.0.0.1", 0)
        await site.start()
        port = runner.addresses[0][1]
        self.url = f"http://127.0.0.1:{port}"
        self._session = aiohttp.ClientSession()
        bringing = asyncio.create_task(self._bring())
        self._ready.set()
        await self._end.wait()
        bringing.cancel()
        await self._session.close()
        await runner.cleanup()

    # -- people

    def say(self, chat: int, text: str, *, person: int | None = None, at: float | None = None) -> int:
        """Somebody writes; the number of the message."""
        return self._message(chat, person, at, {"text": text, **_entities(text)})

    def show_place(self, chat: int, lat: float, lon: float, *, person: int | None = None) -> int:
        return self._message(chat, person, None, {"location": {"latitude": lat, "longitude": lon}})

    def tap(self, chat: int, data: str, *, message: Sent | None = None, person: int | None = None) -> str:
        """Somebody taps a button with this data, by default of the latest message that has it."""
        if message is None:
            message = next(
                each for each in reversed(self.chats[chat]) if data in [found for _, found in each.buttons]
            )
        tap = f"tap-{next(self._numbers)}"
        self.tapped[tap] = time.time()
        update = {
            "callback_query": {
                "id": tap, "from": _person(person or chat), "chat_instance": "1", "data": data,
                "message": {
                    "message_id": message.message_id, "date": int(time.time()), "chat": _chat(chat),
                    "text": message.text,
                },
            }
        }  # fmt: skip
        self._add(update)
        return tap

    def tap_label(self, chat: int, text: str, *, person: int | None = None) -> str:
        """Tap the button with this label on the latest message that has it."""
        for each in reversed(self.chats[chat]):
            for label, data in each.buttons:
                if label == text:
                    return self.tap(chat, data, message=each, person=person)
        raise AssertionError(f"no button {text!r} in {[each.buttons for each in self.chats[chat]]}")

    def _message(self, chat: int, person: int | None, at: float | None, content: dict[str, Any]) -> int:
        number = next(self._messages[chat])
        message = {
            "message_id": number, "date": int(at or time.time()), "chat": _chat(chat),
            "from": _person(person or chat), **content,
        }  # fmt: skip
        self._add({"message": message})
        return number

    def _add(self, update: dict[str, Any]) -> None:
        def add() -> None:
            update_id = next(self._update_ids)
            self._updates[update_id] = {"update_id": update_id, **update}
            assert self._news
            self._news.set()

        assert self._loop
        self._loop.call_soon_threadsafe(add)

    @property
    def unconfirmed(self) -> int:
        return len(self._updates)

    def wait_for(self, is_so: Callable[[], bool], *, at_most_s: float = 20.0) -> None:
        """Wait until something is so; a test that waits in vain fails."""
        deadline = time.monotonic() + at_most_s
        with self._changed:
            while not is_so():
                left = deadline - time.monotonic()
                if left <= 0:
                    raise AssertionError(f"waited {at_most_s} s in vain")
                self._changed.wait(min(left, 0.05))

    def latest(self, chat: int) -> Sent:
        return self.chats[chat][-1]

    # -- the bot's calls

    async def _called(self, request: web.Request) -> web.StreamResponse:
        method = request.match_info["method"]
        if request.match_info["token"] != TOKEN:
            return _refused(401, "Unauthorized")
        params = await _params(request)
        self.calls.append((time.time(), method, params))
        await asyncio.sleep(self.slow_s.get(int(params.get("chat_id", 0)), self.latency_s))
        fault = self.faults(method)
        if fault is not None:
            self.failed += 1
        if fault == "broken":
            assert request.transport
            request.transport.abort()
            return web.Response()
        if fault == "429":
            return _refused(429, "Too Many Requests: retry after 1", retry_after=1)
        if fault == "500":
            return _refused(502, "Bad Gateway")
        if fault == "timeout":  # it arrives, but no answer comes back
            self._do(method, params)
            await asyncio.sleep(30)
        if method == "getUpdates":
            return await self._get_updates(params)
        return self._do(method, params)

    def _do(self, method: str, params: dict[str, Any]) -> web.Response:
        if problem := _problem(method, params):
            self.wrong.append(f"{method}: {problem}")
            return _refused(400, f"Bad Request: {problem}")
        handler = getattr(self, f"_{method}", None)
        result = handler(params) if handler else True
        with self._changed:
            self._changed.notify_all()
        if isinstance(result, str):
            return _refused(400, result)
        return web.json_response({"ok": True, "result": result})

    async def _get_updates(self, params: dict[str, Any]) -> web.Response:
        if self.stuck:
            await asyncio.sleep(60)
        offset = int(params.get("offset") or 0)
        for update_id in [each for each in self._updates if each < offset]:
            del self._updates[update_id]
        if not self._updates and float(params.get("timeout") or 0):
            assert self._news
            self._news.clear()
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._news.wait(), min(2.0, float(params["timeout"])))
        found = [self._updates[each] for each in sorted(self._updates)][: int(params.get("limit") or 100)]
        return web.json_response({"ok": True, "result": found})

    def _getMe(self, _: dict[str, Any]) -> Any:  # noqa: N802
        return {"id": 424242, "is_bot": True, "first_name": "Coach", "username": "coach_of_tests_bot"}

    def _sendMessage(self, params: dict[str, Any]) -> Any:  # noqa: N802
        return self._sent(params, params["text"])

    def _sendDocument(self, params: dict[str, Any]) -> Any:  # noqa: N802
        return self._sent(params, params.get("caption", ""), file=params["document"])

    def _sendPhoto(self, params: dict[str, Any]) -> Any:  # noqa: N802
        """A photo that goes up gets a name by which it may be sent again."""
        photo = params["photo"]
        if isinstance(photo, bytes):
            if not photo.startswith(b"\x89PNG") or len(photo) > 10_000_000:
                return "Bad Request: IMAGE_PROCESS_FAILED"
            name = f"photo-{hashlib.sha256(photo).hexdigest()}"
            self.photos[name] = photo
        elif (name := photo) not in self.photos:
            return "Bad Request: wrong file identifier"
        made = self._sent(params, params.get("caption", ""), file=self.photos[name])
        size = {"file_id": name, "file_unique_id": name[-16:], "width": 600, "height": 400}
        return {**{key: value for key, value in made.items() if key != "text"}, "photo": [size]}

    def _sent(self, params: dict[str, Any], text: str, *, file: bytes | None = None) -> Any:
        chat = int(params["chat_id"])
        number = next(self._messages[chat])
        self.chats[chat].append(Sent(number, text, params.get("reply_markup"), time.time(), file=file))
        return {"message_id": number, "date": int(time.time()), "chat": _chat(chat), "text": text}

    def _editMessageText(self, params: dict[str, Any]) -> Any:  # noqa: N802
        chat = int(params["chat_id"])
        found = [each for each in self.chats[chat] if each.message_id == int(params["message_id"])]
        if not found:
            return "Bad Request: message to edit not found"
        message, markup = found[0], params.get("reply_markup")
        if (message.text, message.markup) == (params["text"], markup):
            return "Bad Request: message is not modified"
        message.texts.append(message.text)
        message.text, message.markup, message.edits = params["text"], markup, message.edits + 1
        return {"message_id": message.message_id, "date": 1, "chat": _chat(chat), "text": message.text}

    def _answerCallbackQuery(self, params: dict[str, Any]) -> Any:  # noqa: N802
        self.answered.setdefault(params["callback_query_id"], time.time())
        return True

    def _setWebhook(self, params: dict[str, Any]) -> Any:  # noqa: N802
        self.webhook = params if params.get("url") else None
        assert self._news
        self._news.set()
        return True

    def _deleteWebhook(self, params: dict[str, Any]) -> Any:  # noqa: N802
        if params.get("drop_pending_updates"):
            self._updates.clear()
        self.webhook = None
        return True

    # -- updates brought to a webhook, in order, each until it is taken

    async def _bring(self) -> None:
        assert self._news
        on_their_way: dict[int, asyncio.Task[bool]] = {}
        while True:
            hook = self.webhook is not None
            free = [each for each in sorted(self._updates) if each not in on_their_way] if hook else []
            for update_id in free[: self.at_once - len(on_their_way)]:
                on_their_way[update_id] = asyncio.create_task(self._brought(self._updates[update_id]))
            if not on_their_way:
                self._news.clear()
                await self._news.wait()
                continue
            await asyncio.wait(on_their_way.values(), return_when=asyncio.FIRST_COMPLETED)
            done = {each: task.result() for each, task in on_their_way.items() if task.done()}
            for update_id in done:
                del on_their_way[update_id]
            if not all(done.values()):
                await asyncio.sleep(0.05)

    at_once = 1
    """How many updates are on their way to a webhook side by side."""

    async def _brought(self, update: dict[str, Any]) -> bool:
        hook = self.webhook
        if hook is None:
            return False
        headers = {"X-Telegram-Bot-Api-Secret-Token": hook.get("secret_token", "")}
        try:
            async with self._session.post(hook["url"], json=update, headers=headers) as answer:
                if answer.status == 200:
                    self._updates.pop(update["update_id"], None)
                return answer.status == 200
        except (aiohttp.ClientError, OSError):
            return False


# --- checks ----------------------------------------------------------------------------------------


def _problem(method: str, params: dict[str, Any]) -> str | None:
    model = getattr(methods, method[0].upper() + method[1:], None)
    if model is None:
        return "no such method"
    unknown = set(params) - set(model.model_fields)
    if unknown:
        return f"unknown parameters {sorted(unknown)}"
    plain = {key: "file" if isinstance(value, bytes) else value for key, value in params.items()}
    try:
        model.model_validate(plain)
    except ValueError as error:
        return str(error)
    return _too_long(params)


def units(text: str) -> int:
    """Telegram counts UTF-16 code units."""
    return len(text.encode("utf-16-le")) // 2


def _too_long(params: dict[str, Any]) -> str | None:
    for key, most in (("text", 4096), ("caption", 1024)):
        if key in params and (units(params[key]) > most or (key == "text" and not params[key].strip())):
            return f"{key} is empty or too long"
    rows = (params.get("reply_markup") or {}).get("inline_keyboard", [])
    if sum(map(len, rows)) > 100 or any(len(row) > 8 for row in rows):
        return "too many buttons"
    buttons = [button for row in rows for button in row]
    if any(
        not 1 <= len(each["callback_data"].encode()) <= 64 or not each["text"].strip() for each in buttons
    ):
        return "BUTTON_DATA_INVALID"
    for command in params.get("commands", []):
        if not 1 <= len(command["command"]) <= 32 or not 1 <= len(command["description"]) <= 256:
            return "BOT_COMMAND_INVALID"
    return None


async def _params(request: web.Request) -> dict[str, Any]:
    """Parameters as they were meant: the library sends forms with JSON inside."""
    if request.content_type == "application/json":
        return dict(await request.json())
    found: dict[str, Any] = {}
    for key, value in (await request.post()).items():
        if isinstance(value, web.FileField):
            found[key] = value.file.read()
        else:
            found[key] = _decoded(key, str(value))
    for key, value in list(found.items()):  # "attach://name" stands for the file of that name
        if isinstance(value, str) and value.startswith("attach://"):
            found[key] = found.pop(value.removeprefix("attach://"))
    return found


def _decoded(key: str, value: str) -> Any:
    if key in {"text", "caption", "url", "callback_query_id", "secret_token", "photo"}:
        return value
    try:
        return json.loads(value)
    except ValueError:
        return value


def _refused(code: int, says: str, **parameters: int) -> web.Response:
    body: dict[str, Any] = {"ok": False, "error_code": code, "description": says}
    if parameters:
        body["parameters"] = parameters
    return web.json_response(body, status=code)


def _entities(text: str) -> dict[str, Any]:
    if not text.startswith("/"):
        return {}
    return {"entities": [{"type": "bot_command", "offset": 0, "length": len(text.split(maxsplit=1)[0])}]}


def _chat(chat: int) -> dict[str, Any]:
    """A group has a negative number, as Telegram's have."""
    if chat < 0:
        return {"id": chat, "type": "supergroup", "title": "Crew"}
    return {"id": chat, "type": "private", "first_name": "P"}


def _person(person: int) -> dict[str, Any]:
    return {"id": person, "is_bot": False, "first_name": "Secret-first-name"}
