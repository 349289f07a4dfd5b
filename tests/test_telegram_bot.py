"""The whole bot: the real library, real HTTP, both modes, against a Bot API on loopback that checks every
call against a published package's models and the documented limits (see fake_bot_api.py)."""

import asyncio
import itertools
import json
import re
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from bots import BotProcess, free_port
from fake_bot_api import SECRET, TOKEN, FakeBotApi
from pydantic import SecretStr
from telegram import Update
from telegram.error import NetworkError

from coach import dialogue
from coach.consult import Desk
from coach.front.telegram import limits
from coach.front.telegram.app import Bot
from coach.front.telegram.config import Config, Webhook
from coach.front.telegram.queue import InboxQueue
from coach.model import Rulebook
from coach.post import due
from coach.reminders import Bell
from coach.store import Store, StoreError

COMPLAINT = "was good till nine then it faded"
MODES = ("polling", "webhook")
CHECKED_MOST_S = 10.0


@contextmanager
def bot_on(
    api: FakeBotApi, path: Path, book: Rulebook, infer: Any, *, mode: str = "polling", stuck_s: float = 90.0,
    **settings: Any,
) -> Iterator[Bot]:  # fmt: skip
    """A bot that runs in a thread of this process until the block ends."""
    hook = None
    if mode == "webhook":
        port = free_port()
        hook = Webhook(url=f"http://127.0.0.1:{port}/hook", port=port, secret=SecretStr(SECRET))
    config = Config(token=SecretStr(TOKEN), api=api.url, webhook=hook, **({"burst": 100_000} | settings))
    broken: list[BaseException] = []
    with Store(path) as store:
        made: list[Bot] = []
        ready = threading.Event()

        async def main() -> None:
            made.append(
                Bot(store, Desk(store, book, infer=infer, step=dialogue.step), book, config, stuck_s=stuck_s)
            )
            ready.set()
            await made[0].serve(until_signal=False)

        def run() -> None:
            try:
                asyncio.run(main())
            except BaseException as error:
                broken.append(error)

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        assert ready.wait(10)
        try:
            yield made[0]
        finally:
            made[0].loop.call_soon_threadsafe(made[0].stop)
            thread.join(30)
        assert not thread.is_alive()
    if broken:
        raise broken[0]


@pytest.fixture
def start(
    tmp_path: Path, shipped: Rulebook, plain: Any, monkeypatch: pytest.MonkeyPatch
) -> Callable[..., Any]:
    def begin(api: FakeBotApi, *, gap_s: float = 0.02, **settings: Any) -> Any:
        monkeypatch.setattr(limits, "GAP_S", gap_s)  # what is tested here need not wait a second each time
        return bot_on(api, tmp_path / "a.db", shipped, plain, **settings)

    return begin


@pytest.mark.parametrize("mode", MODES)
def test_a_talk_goes_through_in_both_modes_and_every_call_is_a_legal_one(start: Any, mode: str) -> None:
    with FakeBotApi() as api, start(api, mode=mode):
        api.say(7, COMPLAINT)
        api.wait_for(lambda: len(api.chats[7]) == 2)
        api.tap_label(7, "Yes")
        api.wait_for(lambda: api.latest(7).edits == 1)
        api.say(7, "b3 s5")
        api.wait_for(lambda: api.latest(7).text == "Bow 3, stern 5")
        api.tap_label(7, "Stern +1")
        api.wait_for(lambda: api.latest(7).text == "Bow 3, stern 6")
        api.say(7, "Clear the water")
        api.wait_for(lambda: "in this order" in api.latest(7).text)
        api.say(7, "/export")
        api.wait_for(lambda: len([each for each in api.chats[7] if each.file]) == 2, at_most_s=30)
    assert not api.wrong
    assert api.unconfirmed == 0
    assert set(api.tapped) == set(api.answered)
    whole = next(json.loads(each.file) for each in api.chats[7] if each.file and each.file.startswith(b"{"))
    assert whole["said"][0]["said"] == {"text": COMPLAINT}
    menu = next(params for _, method, params in api.calls if method == "setMyCommands")
    assert {"clear", "count", "forget"} <= {each["command"] for each in menu["commands"]}


def test_pictures_and_the_card_arrive_as_files_with_their_words(start: Any) -> None:
    with FakeBotApi() as api, start(api):
        api.say(7, "12 ft deep, both clipped at 7 ft")
        api.wait_for(lambda: len(api.chats[7]) == 2)
        for number, asked in enumerate(("/picture", "/picture", "/card"), 3):
            api.say(7, asked)
            api.wait_for(lambda number=number: len(api.chats[7]) == number, at_most_s=30)
    assert not api.wrong
    first, second, card = api.chats[7][2:]
    assert first.file
    assert first.file.startswith(b"\x89PNG")
    assert (second.file, second.text) == (first.file, first.text)
    assert first.text.startswith("The set from the side.")
    assert card.file
    assert card.file.startswith(b"%PDF-")
    assert card.text.startswith("Tonight's card")
    assert len(api.photos) == 1


def test_a_chat_whose_connection_is_slow_holds_up_no_other(start: Any) -> None:
    with FakeBotApi() as api, start(api):
        for chat in (7, 8):
            api.say(chat, "b1")
            api.wait_for(lambda chat=chat: len(api.chats[chat]) == 2)
        api.slow_s[7] = 2.0
        api.say(7, "b1")
        time.sleep(0.2)
        for count in (2, 3):
            api.say(8, "b1")
            api.wait_for(lambda count=count: numbers(api, 8)[-1] == count, at_most_s=1.5)
        assert numbers(api, 7) == [1]
        api.wait_for(lambda: numbers(api, 7) == [1, 2])


def test_what_is_on_its_way_when_the_bot_stops_is_not_sent_again(start: Any) -> None:
    with FakeBotApi() as api:
        with start(api):
            api.say(7, "b1")
            api.wait_for(lambda: len(api.chats[7]) == 2)
            api.slow_s[7] = 1.0
            api.say(7, "b1")
            time.sleep(0.4)
        api.slow_s.clear()
        with start(api):
            api.say(7, "b1")
            api.wait_for(lambda: numbers(api, 7)[-1] == 3)
    assert numbers(api, 7) == [1, 2, 3]


def test_in_a_crew_the_latest_tally_is_enough_and_what_is_urgent_goes_first(start: Any) -> None:
    with FakeBotApi() as api, start(api, gap_s=0.5):
        api.say(-7, "/count", person=1)
        api.wait_for(lambda: len(api.chats[-7]) == 1)
        for person in (1, 2, 3, 4, 5, 6):
            api.say(-7, "b1", person=person)
        api.say(-7, "clear the water", person=1)
        api.wait_for(lambda: numbers(api, -7)[-1:] == [6])
    told = [each.text for each in api.chats[-7]]
    clearing = next(place for place, text in enumerate(told) if text.startswith("Clear the water"))
    assert clearing < len(told) - 1
    assert len(numbers(api, -7)) < 6
    assert not api.wrong


def test_a_tap_is_answered_before_it_is_handled(start: Any) -> None:
    with FakeBotApi() as api, start(api):
        api.say(7, COMPLAINT)
        api.wait_for(lambda: len(api.chats[7]) == 2)
        api.tap_label(7, "Yes")
        api.wait_for(lambda: api.latest(7).edits == 1)
    methods = [method for _, method, _ in api.calls]
    assert methods.index("answerCallbackQuery") < methods.index("editMessageText")


def test_longest_texts_and_all_signs_arrive(start: Any) -> None:
    long = "lamps at 🔔 ½ <b>&amp; *_[x](y) " * 60
    with FakeBotApi() as api, start(api):
        api.say(7, long[:2000])
        api.say(7, "/help")
        api.wait_for(lambda: any("/clear" in each.text for each in api.chats[7]))
    assert not api.wrong


@pytest.mark.parametrize("mode", MODES)
def test_with_a_tenth_of_all_calls_failing_in_every_way_nothing_is_lost(start: Any, mode: str) -> None:
    kinds, calls, lock = (
        itertools.cycle(["429", "500", "broken", "timeout"]),
        itertools.count(1),
        threading.Lock(),
    )

    def faults(method: str) -> str | None:
        with lock:
            return next(kinds) if next(calls) % 10 == 0 else None

    said = dict.fromkeys(range(11, 23), 3)
    with FakeBotApi(faults) as api, start(api, mode=mode, timeout_s=0.5):
        for _ in range(3):
            for chat in said:
                api.say(chat, "b1")
        api.wait_for(lambda: all(numbers(api, chat)[-1:] == [3] for chat in said), at_most_s=60)
    assert api.failed >= 4
    assert not api.wrong
    for chat in said:
        assert sorted(set(numbers(api, chat))) == [1, 2, 3]
        assert numbers(api, chat) == sorted(numbers(api, chat))


def numbers(api: FakeBotApi, chat: int) -> list[int]:
    return [int(found[1]) for each in api.chats[chat] if (found := re.match(r"Bow (\d+)", each.text))]


def test_a_chat_gets_one_message_a_second_and_all_chats_together_thirty(start: Any) -> None:
    # limits of the Bot API's documentation (READ); kept times are those at which the fake took the calls
    with FakeBotApi() as api, start(api, gap_s=limits.GAP_S):
        for chat in range(100, 140):
            api.say(chat, "b1")
        for _ in range(2):
            api.say(100, "b1")
        api.wait_for(lambda: numbers(api, 100)[-1:] == [3], at_most_s=60)
        api.wait_for(lambda: all(len(api.chats[chat]) >= 2 for chat in range(100, 140)), at_most_s=60)
    times = sorted(each.at for sent in api.chats.values() for each in sent)
    assert max(sum(begin <= at < begin + 1 for at in times) for begin in times) <= 30
    for sent in api.chats.values():
        gaps = [later.at - earlier.at for earlier, later in itertools.pairwise(sent)]
        assert all(gap >= 1.0 for gap in gaps)


def test_retry_after_is_waited_for(start: Any) -> None:
    refused: list[float] = []

    def faults(method: str) -> str | None:
        if method == "sendMessage" and not refused:
            refused.append(time.time())
            return "429"
        return None

    with FakeBotApi(faults) as api, start(api):
        api.say(7, "b1")
        api.wait_for(lambda: bool(api.chats[7]))
    assert api.chats[7][0].at - refused[0] >= 1.0


def test_an_edit_that_changes_nothing_counts_as_done_and_one_of_a_lost_message_is_sent_anew(
    start: Any,
) -> None:
    with FakeBotApi() as api, start(api):
        api.say(7, "b1")
        api.wait_for(lambda: len(api.chats[7]) == 2)
        card = api.latest(7)
        card.text, data = "Bow 2", card.buttons[0][1]  # as if an edit had arrived whose answer was lost
        api.tap(7, data, message=card)
        api.wait_for(lambda: "editMessageText" in [method for _, method, _ in api.calls])
        api.say(7, "s1")
        api.wait_for(lambda: api.latest(7).text == "Bow 2, stern 1")
        api.chats[7].remove(gone := api.latest(7))
        api.tap(7, data, message=gone)
        api.wait_for(lambda: bool(api.chats[7]) and api.latest(7).text == "Bow 3, stern 1")
    assert not api.wrong


def test_a_bell_that_was_due_while_the_bot_was_away_rings_late_and_says_so(
    start: Any, tmp_path: Path
) -> None:
    with FakeBotApi() as api:
        with start(api):
            api.say(7, COMPLAINT)
            api.wait_for(lambda: len(api.chats[7]) == 2)
        with Store(tmp_path / "a.db") as store, store.writing() as rows:
            (boat,) = rows.execute("SELECT boat FROM phones").fetchone()
            from datetime import UTC, datetime

            due.ring(
                rows, boat, Bell("low", "x", datetime.fromtimestamp(time.time() - 600, UTC), "Low water.")
            )
        with start(api):
            api.wait_for(lambda: "Low water." in api.latest(7).text)
            assert "(Late by 10 minutes.)" in api.latest(7).text
            api.tap_label(7, "Done")
            api.wait_for(lambda: "Seen to" in api.latest(7).text)


def test_a_poller_that_is_stuck_is_started_again(start: Any) -> None:
    with FakeBotApi() as api, start(api, stuck_s=1.0, timeout_s=0.5):
        api.say(7, "b1")
        api.wait_for(lambda: len(api.chats[7]) == 2)
        api.stuck = True
        before = [method for _, method, _ in api.calls].count("deleteWebhook")
        api.wait_for(lambda: [method for _, method, _ in api.calls].count("deleteWebhook") > before)
        api.stuck = False
        api.say(7, "b1")
        api.wait_for(lambda: numbers(api, 7) == [1, 2])


def test_the_webhook_takes_nothing_without_its_secret(start: Any) -> None:
    with FakeBotApi() as api, start(api, mode="webhook"):
        api.say(7, "b1")
        api.wait_for(lambda: len(api.chats[7]) == 2)
        assert api.webhook
        body = json.dumps({"update_id": 999, "message": {}}).encode()
        for secret in (None, "wrong", SECRET[:-1]):
            headers = {"Content-Type": "application/json"}
            if secret:
                headers["X-Telegram-Bot-Api-Secret-Token"] = secret
            request = urllib.request.Request(api.webhook["url"], body, headers)
            with pytest.raises(urllib.error.HTTPError) as refused:
                urllib.request.urlopen(request, timeout=5)
            assert refused.value.code == 403
            refused.value.close()


def test_forgetting_on_the_phone_leaves_no_byte_in_the_file(start: Any, tmp_path: Path) -> None:
    secret = "Quillfeather-lost-her-oar"
    with FakeBotApi() as api, start(api):
        api.say(7, f"my {secret}")
        api.wait_for(lambda: len(api.chats[7]) >= 2)
        api.say(7, "/forget")
        api.wait_for(lambda: "cannot be undone" in api.latest(7).text)
        api.tap_label(7, "Erase it")
        api.wait_for(lambda: "Erased" in api.latest(7).text)
        kept = b"".join(file.read_bytes() for file in tmp_path.iterdir() if file.is_file())
        assert secret.encode() not in kept


# --- the queue by itself -----------------------------------------------------------------------------------


class _Broken(Store):
    def __init__(self, error: BaseException) -> None:
        super().__init__(":memory:")
        self.error = error

    @contextmanager
    def writing(self) -> Iterator[Any]:
        raise self.error
        yield


@pytest.mark.parametrize("error", [StoreError("the disk is full"), ZeroDivisionError("a bug")])
def test_an_update_that_cannot_be_written_down_is_asked_for_again(error: BaseException) -> None:
    # references: anything but a TelegramError raised by put() ends polling for good (MEASURED)
    from concurrent.futures import ThreadPoolExecutor

    person, chat = {"id": 7, "is_bot": False, "first_name": "P"}, {"id": 7, "type": "private"}
    message = {"message_id": 1, "date": 1, "text": "x", "chat": chat, "from": person}
    update = Update.de_json({"update_id": 1, "message": message}, None)

    async def put(store: Store, scribe: ThreadPoolExecutor) -> None:
        await InboxQueue(store, scribe, print).put(update)

    with _Broken(error) as store, ThreadPoolExecutor(1) as scribe, pytest.raises(NetworkError):
        asyncio.run(put(store, scribe))


# --- as a program ------------------------------------------------------------------------------------------


def test_the_program_says_nothing_of_a_chat_or_the_token_and_ends_in_good_order(tmp_path: Path) -> None:
    with FakeBotApi() as api, BotProcess(api, tmp_path) as bot:
        api.say(7, "my Quillfeather is lost")
        api.wait_for(lambda: len(api.chats[7]) >= 2)
        second = BotProcess(api, tmp_path)
        second.start()
        assert second.process
        assert second.process.wait(20) == 1
        assert bot.end() == 0
    logged = bot.logged()
    assert "runs already on this machine" in logged
    assert "running; left from before" in logged
    assert TOKEN not in logged
    assert "Quillfeather" not in logged
    assert "Secret-first-name" not in logged
    kept = b"".join(file.read_bytes() for file in tmp_path.iterdir() if file.name.startswith("coach.db"))
    assert b"Secret-first-name" not in kept
    assert TOKEN.encode() not in kept
