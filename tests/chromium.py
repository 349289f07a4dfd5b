"""A real browser for tests: Debian's Chromium, driven without any download."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, BrowserContext, Page, Request, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome")
HOW = (
    "The tests of the page need Chromium, and none was found. On Debian, as root:"
    " apt-get update && apt-get install -y chromium. Elsewhere name one in COACH_CHROMIUM."
)
PHONE, DESK = (360, 740), (1280, 800)


def chromium() -> str:
    """Chromium's file. Raises FileNotFoundError, with what to do."""
    found = os.environ.get("COACH_CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        raise FileNotFoundError(HOW)
    return found


@contextmanager
def running_browser() -> Iterator[Browser]:
    """Chromium without a window. It is not let out of this machine: no name is known to it."""
    arguments = [
        "--no-sandbox",
        "--disable-dev-shm-usage",
        "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
    ]
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium(), args=arguments)
        yield browser
        browser.close()


class Visitor:
    """Somebody with a browser of their own on the page. `asked` are the addresses that it asked for,
    `faults` what the page complained about."""

    def __init__(self, browser: Browser, link: str, size: tuple[int, int] = PHONE) -> None:
        self.link, self.origin = link, link.partition("/in/")[0]
        self.asked: list[str] = []
        self.faults: list[str] = []
        width, height = size
        self.context: BrowserContext = browser.new_context(
            viewport={"width": width, "height": height}, has_touch=width < 900, is_mobile=width < 900
        )
        self.context.set_default_timeout(10_000)
        self.context.on("request", self._note)
        self.page = self.open(link)
        self.page.wait_for_url(f"{self.origin}/")
        self.page.wait_for_selector("#welcome:not([hidden]), #log .row")

    def open(self, where: str) -> Page:
        """Another tab."""
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("console", lambda said: self.faults.append(said.text) if said.type == "error" else None)
        page.goto(where)
        return page

    def _note(self, request: Request) -> None:
        self.asked.append(request.url)

    # -- what a person does

    def tell(self, text: str) -> None:
        """Write into the field and send it off; wait for the row in the log."""
        before = self.turns()
        self.page.fill("#field", text)
        self.page.press("#field", "Enter")
        self.wait_for_turns(before + 1)

    def tap(self, label: str) -> None:
        """Tap an answer; wait for the row in the log."""
        before = self.turns()
        self.page.locator("#answers button", has_text=label).first.click()
        self.wait_for_turns(before + 1)

    def turns(self) -> int:
        return self.page.locator("#log .row[data-key^=t]").count()

    def wait_for_turns(self, number: int) -> None:
        self.page.wait_for_function(
            "number => document.querySelectorAll('#log .row[data-key^=t]').length >= number", arg=number
        )

    def last_row(self) -> str:
        return self.page.locator("#log .row").last.inner_text()

    def wait_for_text(self, where: str, text: str) -> None:
        self.page.wait_for_function(
            "([where, text]) => document.querySelector(where).innerText.includes(text)", arg=[where, text]
        )

    def close(self) -> None:
        self.context.close()
