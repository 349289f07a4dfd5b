"""Prints what the page of `coach web` weighs and how fast it is, in processes of its own on loopback.

    python tests/bench_web.py            weight, answers, taps, states, pictures, card; first paint
    python tests/bench_web.py answers    the addresses alone, without Chromium
    python tests/bench_web.py kill [N]   N (10) times SIGKILL while messages are sent as the page sends them

"Answers" are whole turns of the demo conversation, posted one after the other as the page posts them:
from the first byte sent to the last byte of the state that comes back. A benchmark prints; it promises
nothing and pytest does not collect it.
"""

from __future__ import annotations

import itertools
import json
import random
import sqlite3
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import httpx
from browsers import CONSULTATION
from pages import PageProcess

from coach.front.web import shell

ROUNDS = 30


def cuts(times_ms: list[float]) -> str:
    """Quantiles of some milliseconds."""
    found = statistics.quantiles(times_ms, n=100)
    return f"p50 {found[49]:.0f}  p95 {found[94]:.0f}  p99 {found[98]:.0f}  max {max(times_ms):.0f} ms"


def timed(work: Callable[[], object]) -> float:
    """How long it takes [ms]."""
    start = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - start)


def weight() -> None:
    """What a first visit loads."""
    files = shell.files()
    icons = {path for path in files if path.endswith(".png") or path == shell.FAVICON}
    page = sum(len(file.body) for path, file in files.items() if path not in icons)
    print(f"weight      page {page / 1000:.0f} kB, with all icons "
          f"{sum(len(file.body) for file in files.values()) / 1000:.0f} kB, uncompressed")  # fmt: skip


class Client:
    """A browser's side of the page's addresses."""

    def __init__(self, page: PageProcess) -> None:
        self.http = httpx.Client(base_url=page.origin, headers={"origin": page.origin})
        self.http.get(page.link)
        self.ids = itertools.count(1)
        self.state = self.http.get("/state").json()

    def do(self, do: str, what: str = "") -> None:
        """Do one thing, as the page does it."""
        about = self.state["ask"]["token"] if self.state["ask"] and do == "say" else ""
        body = {"id": f"bench-{next(self.ids):08d}", "do": do, "what": what, "about": about}
        answer = self.http.post("/do", json=body, headers={"x-coach-key": self.state["key"]})
        answer.raise_for_status()
        self.state = answer.json()["state"]
        assert answer.json()["error"] is None


def answers(page: PageProcess) -> None:
    """Turns, taps, states, pictures, the card."""
    client = Client(page)
    turns: list[float] = []
    for _ in range(ROUNDS):
        for text in CONSULTATION:
            turns.append(timed(lambda text=text: client.do("say", text)))  # type: ignore[misc]
        client.do("command", "new")
    print("answers    ", cuts(turns), f"({len(turns)} turns)")
    print("taps       ", cuts([timed(lambda: client.do("count", "bow")) for _ in range(200)]))
    print("states     ", cuts([timed(lambda: client.http.get("/state")) for _ in range(200)]))
    size = len(client.http.get("/state").content)
    print(f"a state     {size / 1000:.0f} kB with {len(client.state['log'])} rows of the log")
    print("pictures   ", cuts([timed(lambda: client.http.get("/picture/side")) for _ in range(100)]))
    print("cards      ", cuts([timed(lambda: client.http.get("/card")) for _ in range(50)]))


def paint(page: PageProcess) -> None:
    """First paint in Chromium with nothing in its cache, and what it loaded for that."""
    from chromium import PHONE, Visitor, running_browser  # the rest needs no Chromium

    with running_browser() as browser:
        for visit in ("cold", "second"):
            visitor = Visitor(browser, page.link, PHONE)
            fresh = visitor.open(f"{page.origin}/")
            fresh.wait_for_selector("#question")
            found = json.loads(
                fresh.evaluate("""() => JSON.stringify({
                paint: performance.getEntriesByName('first-contentful-paint')[0]?.startTime,
                bytes: ['resource', 'navigation'].flatMap(kind => performance.getEntriesByType(kind))
                    .reduce((sum, each) => sum + each.encodedBodySize, 0)})""")
            )
            print(
                f"first paint {found['paint']:.0f} ms ({visit} visit), {found['bytes'] / 1000:.0f} kB loaded"
            )
            visitor.close()


class Sending(threading.Thread):
    """Sends one message after the other, each until it is answered, as the page does."""

    def __init__(self, page: PageProcess) -> None:
        super().__init__(daemon=True)
        self.client, self.over, self.sent = Client(page), threading.Event(), 0

    def run(self) -> None:
        """Send until told to stop."""
        while not self.over.is_set():
            self.sent += 1
            what = {"do": "say", "what": f"it is {10 + self.sent % 5} ft deep here"}
            self.until_answered(what if self.sent % 2 else {"do": "count", "what": "bow"})

    def until_answered(self, what: dict[str, str]) -> None:
        """Send one message until it is answered."""
        body = {"id": f"killed-{self.sent:06d}", **what}
        headers = {"x-coach-key": self.client.state["key"]}
        while True:
            try:
                self.client.http.post("/do", json=body, headers=headers).raise_for_status()
                return
            except httpx.HTTPError:
                time.sleep(0.02)


def kill(times: int) -> None:
    """Kill the page at any moment, again and again; what was lost and what was done twice."""
    with tempfile.TemporaryDirectory() as folder, PageProcess(Path(folder)) as page:
        sending = Sending(page)
        sending.start()
        for _ in range(times):
            time.sleep(random.uniform(0.1, 0.9))
            page.kill()
            page.start()
        sending.over.set()
        sending.join(60)
        with sqlite3.connect(page.store) as rows:
            turns = rows.execute("SELECT count(*), count(DISTINCT id) FROM turns").fetchone()
            counts = rows.execute("SELECT count(*) FROM counts").fetchone()[0]
        wanted = (sending.sent + 1) // 2, sending.sent // 2
        print(f"kills       {times}: {sending.sent} messages sent and answered")
        print(f"turns       {turns[0]} kept of {wanted[0]}, under {turns[1]} ids")
        print(f"counts      {counts} kept of {wanted[1]}")


def main() -> None:
    """All of it, or the part named."""
    if sys.argv[1:2] == ["kill"]:
        kill(int(sys.argv[2]) if len(sys.argv) > 2 else 10)
        return
    weight()
    with tempfile.TemporaryDirectory() as folder:
        page = PageProcess(Path(folder))
        start = time.perf_counter()
        with page:
            print(f"start       {time.perf_counter() - start:.1f} s from the command to the first link")
            if "answers" not in sys.argv[1:]:
                paint(page)
            answers(page)


if __name__ == "__main__":
    main()
