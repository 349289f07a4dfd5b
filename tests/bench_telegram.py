"""Prints how the bot stands load, kills and idleness, in processes of its own on loopback.

    python tests/bench_telegram.py load        updates a second, and their way to the committed outbox row
    python tests/bench_telegram.py flow        replies end to end with the sending limits on
    python tests/bench_telegram.py idle        memory and processor time while nothing happens
    python tests/bench_telegram.py kill [N]    N (100) kills in each mode
    python tests/bench_telegram.py alarms [N]  false alarms of the watch over the counts in N (5,000) nights
    python tests/bench_telegram.py             all of it, with few kills

"load" sends a mix: half counts ("b1"), half turns of the consultation (complaints and answers). A
benchmark prints; it promises nothing and pytest does not collect it.
"""

from __future__ import annotations

import contextlib
import itertools
import random
import sqlite3
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from bots import BotProcess
from fake_bot_api import FakeBotApi
from kill_loops import kill_loop

FAST = {"per_minute": 1_000_000.0, "burst": 1_000_000}
TEXTS = ("b1", "was good till nine then it faded", "s2", "1", "b1 s1", "2", "b3", "0")


def cuts(times_ms: list[float]) -> str:
    """Quantiles of some milliseconds."""
    found = statistics.quantiles(times_ms, n=100)
    return f"p50 {found[49]:.0f}  p95 {found[94]:.0f}  p99 {found[98]:.0f}  max {max(times_ms):.0f} ms"


@contextlib.contextmanager
def running(mode: str = "polling", **settings: object) -> Iterator[tuple[FakeBotApi, BotProcess]]:
    """A bot that has answered its first message."""
    with tempfile.TemporaryDirectory() as folder, FakeBotApi() as api:
        api.at_once = 40
        with BotProcess(api, Path(folder), mode=mode, **settings) as bot:
            api.say(1, "was good till nine then it faded")
            api.wait_for(lambda: len(api.chats[1]) >= 2)
            yield api, bot


class Handled(threading.Thread):
    """Looks into the store every 4 milliseconds for which updates were handled, and notes when."""

    def __init__(self, store: Path) -> None:
        super().__init__(daemon=True)
        self.store, self.at, self.over = store, dict[int, float](), threading.Event()

    def run(self) -> None:
        rows = sqlite3.connect(self.store, timeout=10)
        newest = 0
        while not self.over.is_set():
            found = rows.execute(
                "SELECT update_id FROM inbox WHERE event IS NULL AND update_id > ?", (newest - 2000,)
            ).fetchall()
            now = time.time()
            for (update_id,) in found:
                self.at.setdefault(update_id, now)
            newest = max([newest, *(each for (each,) in found)])
            time.sleep(0.004)
        rows.close()


def load(mode: str, rate: float, seconds: float, *, chats: int = 300) -> None:
    """Send updates at a rate and print what came of them."""
    with running(mode, **FAST) as (api, bot):
        watch = Handled(bot.store)
        watch.start()
        said: dict[int, float] = {}
        first, begin, cpu, own_cpu = 2, time.time(), bot.cpu_s(), time.process_time()
        for number in range(int(rate * seconds)):
            wait_s = begin + number / rate - time.time()
            if wait_s > 0:
                time.sleep(wait_s)
            said[first + number] = time.time()
            api.say(1000 + number % chats, TEXTS[(number // chats + number) % len(TEXTS)])
        sent_for = time.time() - begin
        deadline = time.time() + 60
        while len(watch.at) < len(said) + 1 and time.time() < deadline:
            time.sleep(0.02)
        done = max(watch.at.values()) - begin
        watch.over.set()
        watch.join()
        ways = [1000 * (watch.at[each] - at) for each, at in said.items() if each in watch.at]
        print(
            f"load {mode}: {len(said)} updates at {len(said) / sent_for:.0f}/s over {chats} chats, all"
            f" handled in {done:.1f} s = {len(ways) / done:.0f}/s; to the committed row {cuts(ways)};"
            f" {100 * (bot.cpu_s() - cpu) / done:.0f} % of a core,"
            f" {1000 * (bot.cpu_s() - cpu) / len(said):.2f} ms of processor an update (this program:"
            f" {1000 * (time.process_time() - own_cpu) / len(said):.2f} ms);"
            f" not handled {len(said) - len(ways)}, wrong calls {len(api.wrong)}",
            flush=True,
        )


def flow(mode: str, rate: float, seconds: float, *, chats: int = 60, latency_s: float = 0.0) -> None:
    """One message at a time in each chat, and how long until its answer is at the Bot API, which itself
    takes `latency_s` for each call."""
    with running(mode, **FAST) as (api, _):
        api.latency_s = latency_s
        for chat in range(2000, 2000 + chats):  # the greetings
            api.say(chat, "b1")
        api.wait_for(
            lambda: all(len(api.chats[chat]) == 2 for chat in range(2000, 2000 + chats)), at_most_s=60
        )
        time.sleep(2)
        began, seen = {}, dict.fromkeys(range(2000, 2000 + chats), 2)
        begin = time.time()
        for number in range(int(rate * seconds)):
            wait_s = begin + number / rate - time.time()
            if wait_s > 0:
                time.sleep(wait_s)
            chat = 2000 + number % chats
            began[chat, seen[chat]] = time.time()
            seen[chat] += 1
            api.say(chat, TEXTS[(number // chats) % len(TEXTS)])
        time.sleep(5)
        ways = [
            1000 * (api.chats[chat][place].at - at)
            for (chat, place), at in began.items()
            if len(api.chats[chat]) > place
        ]
        times = sorted(at for at, method, _ in api.calls if method in {"sendMessage", "editMessageText"})
        most = max(sum(1 for at in times if start <= at < start + 1) for start in times)
        print(
            f"flow {mode}, {1000 * latency_s:g} ms a call: {len(began)} replies at {rate:g}/s over {chats}"
            f" chats: {cuts(ways)}; missing"
            f" {len(began) - len(ways)}; at most {most} in a second; wrong calls {len(api.wrong)}",
            flush=True,
        )


def idle(seconds: float) -> None:
    """Memory and processor time of a bot to which nobody writes."""
    talks = {
        "before any chat": (),
        "after a chat": ("was good till nine then it faded",),
        "after a picture and a card": (
            "12 ft deep, both clipped at 7 ft, tide is falling",
            "/picture",
            "/card",
        ),
    }
    for name, texts in talks.items():
        with (
            tempfile.TemporaryDirectory() as folder,
            FakeBotApi() as api,
            BotProcess(api, Path(folder)) as bot,
        ):
            time.sleep(2)
            for text in texts:
                before = len(api.chats[1])
                api.say(1, text)
                api.wait_for(lambda api=api, before=before: len(api.chats[1]) > before, at_most_s=30)
                time.sleep(4)
            cpu = bot.cpu_s()
            time.sleep(seconds)
            share = 100 * (bot.cpu_s() - cpu) / seconds
            print(f"idle {name}: {bot.resident_mb():.0f} MB resident, {share:.2f} % of a core", flush=True)


def kill(kills: int) -> None:
    """Kill loops in both modes, in parts, so that the outbox does not grow without end."""
    for mode in ("polling", "webhook"):
        for part, seed in zip(parts(kills), itertools.count(100), strict=False):
            with tempfile.TemporaryDirectory() as folder:
                print(f"kill {mode}: {kill_loop(Path(folder), mode, kills=part, seed=seed)}", flush=True)


def parts(kills: int, most: int = 25) -> list[int]:
    """A number in parts of at most 25."""
    return [most] * (kills // most) + ([kills % most] if kills % most else [])


def alarms(nights: int) -> None:
    """The watch over nights that never change."""
    from even_nights import alarm_share, ways

    for name, way in ways().items():
        raised = alarm_share(way, nights=nights, chance=random.Random(3))
        print(f"alarms, counted {name}: {raised:.2%} of {nights} nights that never change", flush=True)


def main() -> None:
    what = sys.argv[1] if len(sys.argv) > 1 else "all"
    number = int(sys.argv[2]) if len(sys.argv) > 2 else None
    does: dict[str, Callable[[], None]] = {
        "idle": lambda: idle(10),
        "load": lambda: [load(mode, rate, 10) for mode in ("polling", "webhook") for rate in (100, 300, 400)],  # type: ignore[dict-item,return-value]
        "flow": lambda: [  # type: ignore[dict-item,return-value]
            flow(mode, rate, 20, latency_s=wait)
            for mode in ("polling", "webhook")
            for rate, wait in ((20, 0.0), (8, 0.1))
        ],
        "kill": lambda: kill(number or (100 if what == "kill" else 5)),
        "alarms": lambda: alarms(number or 5_000),
    }
    for name, do in does.items():
        if what in (name, "all"):
            do()


if __name__ == "__main__":
    main()
