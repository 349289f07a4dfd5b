"""A browser for tests, without a browser: the page's addresses asked in-process, with a cookie and a key."""

from __future__ import annotations

import asyncio
import itertools
import json
from pathlib import Path
from typing import Any

import httpx

from coach.consult import Desk
from coach.dialogue import step
from coach.front.web.address import Address
from coach.front.web.app import Web, application
from coach.model import Rulebook
from coach.store import Store

TOKEN = "a-token-for-tests-of-many-signs"
ORIGIN = "http://127.0.0.1:8321"
START = 1802400600.0
"""11 February 2027, in the evening."""


class Ship:
    """A page over a store, and the browsers that open it. `clock` is the time [s since 1970]."""

    def __init__(
        self, path: Path | str, book: Rulebook, infer: Any, *, address: Address | None = None
    ) -> None:
        self.path, self.clock = str(path), START
        self.store = Store(self.path)
        desk = Desk(self.store, book, infer=infer, step=step)
        self.address = address or Address()
        self.web = Web(desk, self.address, token=TOKEN, now=lambda: self.clock)
        self.app = application(self.web, self.address)

    def browser(self, *, enters: bool = True) -> Browser:
        found = Browser(self)
        if enters:
            assert found.get(f"/in/{TOKEN}").status_code == 200
        return found

    def ring(self) -> set[str]:
        return self.web._bells.ring(self.clock)


class Browser:
    """One browser with its cookies."""

    ids = itertools.count(1)

    def __init__(self, ship: Ship) -> None:
        self.ship = ship
        self.cookies = httpx.Cookies()

    def ask(self, method: str, path: str, *, origin: str = ORIGIN, **given: Any) -> httpx.Response:
        """One request, as it is."""

        async def asked() -> httpx.Response:
            transport = httpx.ASGITransport(self.ship.app)
            async with httpx.AsyncClient(
                transport=transport, base_url=origin, cookies=self.cookies
            ) as client:
                answer = await client.request(method, path, **given)
                self.cookies = client.cookies
                return answer

        return asyncio.run(asked())

    def get(self, path: str, **headers: str) -> httpx.Response:
        return self.ask("GET", path, headers={name.replace("_", "-"): each for name, each in headers.items()})

    def state(self) -> dict[str, Any]:
        answer = self.get("/state")
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def post(self, body: bytes | str, *, key: str | None = None, **headers: str) -> httpx.Response:
        """Post as our page does; a header that is "" is left out."""
        given = {"origin": ORIGIN, "content-type": "application/json"}
        given["x-coach-key"] = self.state()["key"] if key is None else key
        given |= {name.replace("_", "-"): value for name, value in headers.items()}
        headers = {name: value for name, value in given.items() if value}
        return self.ask("POST", "/do", content=body, headers=headers)

    def do(self, do: str, what: str = "", about: str = "", **more: Any) -> dict[str, Any]:
        """Do one thing; the answer."""
        posted = {"id": f"message-{next(self.ids):06d}", "do": do, "what": what, "about": about, **more}
        answer = self.post(json.dumps(posted))
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def say(self, text: str, **more: Any) -> dict[str, Any]:
        """Words for the question that is open now."""
        ask = self.state()["ask"]
        return self.do("say", text, ask["token"] if ask else "", **more)

    def pick(self, label: str) -> dict[str, Any]:
        """Tap an answer by its label."""
        ask = self.state()["ask"]
        return self.do("pick", str(ask["answers"].index(label) + 1), ask["token"])

    def consult(self) -> dict[str, Any]:
        """A whole consultation, up to its verdict; the state after it."""
        for text in CONSULTATION:
            answer = self.say(text)
            assert answer["error"] is None
        return dict(answer["state"])


CONSULTATION = ("we never got going", "yes", "under the boat", "12.5", "7", "12.5")
"""What is told where the lamps were set too high, up to the verdict."""


def texts(state: dict[str, Any]) -> list[str]:
    """Everything that stands in the log, in order."""
    found: list[str] = []
    for row in state["log"]:
        found += [text for text in (row["asked"], row["told"]) if text]
        found += [line["say"] for line in row["lines"]]
    return found
