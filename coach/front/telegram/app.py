"""Builds the bot from its parts and runs it, polling or by webhook, until it is told to stop."""

from __future__ import annotations

import asyncio
import contextlib
import importlib.util
import signal
import sys
import time
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from telegram import BotCommand
from telegram.error import Conflict, InvalidToken, TelegramError
from telegram.ext import Application, ApplicationBuilder, CallbackContext, TypeHandler

from coach import rulebook
from coach.consult import Desk, prepared
from coach.dialogue import step
from coach.engine import Engine
from coach.front.lessons import Lessons
from coach.front.telegram import thrift, words
from coach.front.telegram.bell import Bell
from coach.front.telegram.config import Config, ConfigError, require_secret
from coach.front.telegram.courier import Courier, WatchedBot, watched_bot
from coach.front.telegram.event import Event
from coach.front.telegram.office import Office
from coach.front.telegram.pages import Painter
from coach.front.telegram.queue import InboxQueue, OneAtATime
from coach.front.telegram.secrecy import Secret, kind_of, log, only_one, set_up_logs
from coach.front.telegram.sender import Sender
from coach.model import Rulebook
from coach.pages import Pages
from coach.post.inbox import HandledBefore
from coach.store import Store, StoreError, default_path

HANDS = 2
STUCK_S = 90.0
"""A poller that brought nothing back for so long, not even an empty answer, is started again."""
ALLOWED = ["message", "edited_message", "callback_query"]
_TRIES_AT_START_S = 5.0
_MENU_AGAIN_S = 60.0


def run(store: str | None, rules: Path | None, settings: Config) -> int:
    """Run until SIGINT or SIGTERM; the exit code: 0, or 1 if the token is refused. Raises as `serve`."""
    thrift.few_arenas()
    if settings.webhook is not None:
        require_secret(settings.webhook)
        if importlib.util.find_spec("tornado") is None:
            do = ".venv/bin/pip install -e '.[webhook]'"
            raise ConfigError(f"a webhook needs one package more: {do}. Or poll.")
    set_up_logs()
    path = store or str(default_path())
    book = prepared(rules)
    with (
        only_one(settings.token.get_secret_value(), Path(path).resolve().parent),
        Store(path) as kept,
        Engine(rulebook.clauses(book)) as engine,
    ):
        desk = Desk(kept, book, infer=engine.evaluate, step=step)
        try:
            return asyncio.run(Bot(kept, desk, book, settings, rules=rules).serve())
        except InvalidToken:
            print("Telegram does not know this token. Get it afresh and put it in place.", file=sys.stderr)
            return 1
        except Exception as error:  # its own words may hold the token
            log.critical("the bot broke: %s", kind_of(error))
            return 1


class Bot:
    """The whole bot on a store that stays open while it runs."""

    def __init__(
        self,
        store: Store,
        desk: Desk,
        book: Rulebook,
        config: Config,
        *,
        stuck_s: float = STUCK_S,
        rules: Path | None = None,
    ) -> None:
        self._config, self._stuck_s = config, stuck_s
        self._scribe = ThreadPoolExecutor(1, "scribe")
        self._hands = ThreadPoolExecutor(HANDS, "hand")
        self._studio = ThreadPoolExecutor(1, "studio")
        pages = Pages(store, book, infer=desk.parts[2])
        lessons = Lessons(store, book, rules, infer=desk.parts[2])
        self._office = Office(store, desk, book, config, pages, lessons=lessons)
        self._queue = InboxQueue(store, self._scribe, self._tapped)
        self._bot: WatchedBot = watched_bot(config)
        courier = Courier(self._bot, Painter(store, pages, book, config.theme, lessons=lessons), self._studio)
        self._sender = Sender(store, self._scribe, courier, self._fatal)
        self._bell = Bell(store, self._scribe, book, self._sender.add)
        self._app = self._built()
        self._stop = asyncio.Event()
        self._broken: BaseException | None = None
        self._answers: set[asyncio.Task[None]] = set()

    async def serve(self, *, until_signal: bool = True) -> int:
        """Run until `stop`; the exit code. Raises InvalidToken."""
        self.loop = asyncio.get_running_loop()
        if until_signal:
            for each in (signal.SIGINT, signal.SIGTERM):
                self.loop.add_signal_handler(each, self.stop)
        with self._threads():
            if not await self._is_known():
                return 0
            try:
                await self._app.start()
                self._queue.me = self._bot.bot
                left = self._queue.load(), self._sender.load()
                thrift.trim()
                log.info("running; left from before: %d to handle, %d to send", *left)
                await self._receive()
                await self._side_by_side(
                    self._sender.run(), self._bell.run(), self._watch(), self._menu(), self._stop.wait()
                )
            finally:
                await self._shut()
        if self._broken is not None:
            raise self._broken
        return 0

    def stop(self) -> None:
        """Let the bot end in good order."""
        self._stop.set()

    # -- parts

    def _built(self) -> Application[Any, Any, Any, Any, Any, Any]:
        builder = ApplicationBuilder().bot(self._bot).update_queue(self._queue).job_queue(None)
        app = builder.concurrent_updates(OneAtATime()).build()
        app.add_handler(TypeHandler(Event, self._handle))
        app.add_error_handler(self._failed)
        return app

    async def _handle(self, event: Event, _: CallbackContext[Any, Any, Any, Any]) -> None:
        again = False
        try:
            again = not await self._handled(event)
        finally:
            self._queue.finished(event, again=again)

    async def _handled(self, event: Event) -> bool:
        """Handle an event; False if it has to be tried again."""
        loop = asyncio.get_running_loop()
        try:
            self._sender.add(await loop.run_in_executor(self._hands, self._office.handle, event))
            if event.text.startswith("f:"):  # what waits to be sent may have been erased
                self._sender.reload()
        except HandledBefore:
            self._sender.reload()  # it was handled, but maybe nobody was told what is to be sent
            return True
        except StoreError as error:
            log.error("%s", error)
            await asyncio.sleep(1)
            return False
        except Exception as error:  # one event that breaks the bot must not hold up its chat
            log.error("an event could not be handled: %s", kind_of(error))
            try:
                self._sender.add(await loop.run_in_executor(self._hands, self._office.apologise, event))
            except HandledBefore:
                return True
            except StoreError:
                return False
        return True

    async def _failed(self, _: object, context: CallbackContext[Any, Any, Any, Any]) -> None:
        if context.error is not None:
            log.error("%s", kind_of(context.error))

    def _tapped(self, event: Event) -> None:
        """Answer a tap at once, so that the button does not wait; whether it works changes nothing."""

        async def answer() -> None:
            with contextlib.suppress(TelegramError):
                await self._bot.answer_callback_query(event.tap)

        task = asyncio.get_running_loop().create_task(answer())
        self._answers.add(task)
        task.add_done_callback(self._answers.discard)

    def _fatal(self, error: BaseException) -> None:
        self._broken = error
        self.stop()

    # -- coming and going

    async def _is_known(self) -> bool:
        """Sign on; without a signal on the water, try until there is one. False if told to stop before.
        Raises InvalidToken."""
        while not self._stop.is_set():
            try:
                await self._app.initialize()
                return True
            except InvalidToken:
                raise
            except TelegramError as error:
                log.warning("Telegram is not reached: %s", kind_of(error))
                await self._pause(_TRIES_AT_START_S)
        return False

    async def _receive(self) -> None:
        updater = self._app.updater
        assert updater is not None
        hook = self._config.webhook
        if hook is None:
            await updater.start_polling(
                timeout=10, bootstrap_retries=-1, allowed_updates=ALLOWED, error_callback=self._poll_failed
            )
            return
        await updater.start_webhook(
            listen=hook.listen,
            port=hook.port,
            url_path=hook.url.rstrip("/").rpartition("/")[2],
            webhook_url=hook.url,
            secret_token=Secret(require_secret(hook)),
            allowed_updates=ALLOWED,
            bootstrap_retries=-1,
        )

    def _poll_failed(self, error: TelegramError) -> None:
        if isinstance(error, Conflict):
            log.error("another program polls with this token; stop it")
        elif isinstance(error, InvalidToken):
            self._fatal(error)

    async def _watch(self) -> None:
        """Start the poller again when it is stuck."""
        updater = self._app.updater
        assert updater is not None
        self._bot.hears()
        while self._config.webhook is None and not self._stop.is_set():
            await self._pause(self._stuck_s / 4)
            if self._stop.is_set():
                return
            if time.monotonic() - self._bot.heard_at > self._stuck_s:
                log.warning("the poller is stuck; starting it again")
                with contextlib.suppress(TelegramError, TimeoutError):
                    async with asyncio.timeout(self._stuck_s):
                        await updater.stop()
                self._bot.hears()
                await self._receive()

    async def _menu(self) -> None:
        commands = [BotCommand(name, says) for name, says in words.COMMANDS.items()]
        while not self._stop.is_set():
            try:
                await self._bot.set_my_commands(commands)
                return
            except TelegramError:
                await self._pause(_MENU_AGAIN_S)

    async def _side_by_side(self, *parts: Coroutine[Any, Any, Any]) -> None:
        """Run all parts until the last of them ends, or one of them breaks."""
        *others, last = (asyncio.create_task(part) for part in parts)
        try:
            waiting = {*others, last}
            while last in waiting:
                done, waiting = await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
                for task in done:
                    task.result()
        finally:
            for task in others:
                task.cancel()
            await asyncio.gather(*others, return_exceptions=True)

    async def _shut(self) -> None:
        updater = self._app.updater
        if updater is not None and updater.running:
            with contextlib.suppress(TelegramError, TimeoutError):
                async with asyncio.timeout(20):
                    await updater.stop()
        if self._app.running:
            await self._app.stop()
        await self._app.shutdown()

    async def _pause(self, seconds: float) -> None:
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                await self._stop.wait()

    @contextlib.contextmanager
    def _threads(self) -> Iterator[None]:
        try:
            yield
        finally:
            self._hands.shutdown()
            self._studio.shutdown()
            self._scribe.shutdown()
