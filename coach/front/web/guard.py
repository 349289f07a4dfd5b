"""What stands before the page: who may ask, how much may be sent, and what every answer carries."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Awaitable, Callable, Iterable
from pathlib import Path
from typing import Any

from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from coach.front.web.address import Address
from coach.front.web.posted import BODY_LIMIT

log = logging.getLogger("coach.web")

POLICY = (
    "default-src 'none'; script-src 'self'; style-src {style}; img-src 'self'; connect-src 'self';"
    " manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""What a page may load: of this address only, and nothing that stands within the page itself."""
HEADERS = {
    "content-security-policy": POLICY.format(style="'self'"),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), payment=(), usb=(), geolocation=(self)",
    "cache-control": "no-store",
}
"""On every answer that does not set its own."""
READS, WRITES = ("GET", "HEAD"), ("POST",)


class TooLarge(ValueError):  # noqa: N818  (what happened)
    """More was sent than may be."""


class Guard:
    """Refuses what no page of ours sends. A refusal is logged, without anything that was sent."""

    def __init__(self, app: ASGIApp, address: Address) -> None:
        self._app, self._address = app, address

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or let it through."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        sender = _Sender(send)
        refusal = self._refusal(scope)
        if refusal is not None:
            await sender.refuse(*refusal, scope=scope)
            return
        try:
            await self._app(scope, _limited(receive), sender)
        except TooLarge:
            await sender.refuse(413, "too-long", scope=scope)
        except ClientDisconnect:
            log.info("a request broke off")  # the page sends it again
        except Exception as error:  # its own words, and the library's traceback, may quote a person
            log.error("%s could not be answered: %s", _what(scope), kind_of(error))
            await sender.refuse(500, "internal", scope=scope)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        """The status and code with which a request is turned away; None if it may pass."""
        headers = _Headers(scope["headers"])
        if scope["method"] not in READS + WRITES:
            return 405, "bad-method"
        host = headers.only("host")
        origin = self._address.origin_of(host) if host is not None else None
        if origin is None:
            return 421, "bad-host"
        if scope["method"] in READS:
            return (403, "cross-site") if _is_foreign_read(headers) else None
        return _refused_write(headers, origin)


def _is_foreign_read(headers: _Headers) -> bool:
    """Whether a page of somebody else's asks, other than by a link that a person followed."""
    site, mode = headers.only("sec-fetch-site"), headers.only("sec-fetch-mode")
    return site not in (None, "same-origin", "none") and mode != "navigate"


def _refused_write(headers: _Headers, origin: str) -> tuple[int, str] | None:
    if headers.only("origin") != origin or headers.only("sec-fetch-site") not in (None, "same-origin"):
        return 403, "cross-site"
    if (headers.only("content-type") or "").partition(";")[0].strip().casefold() != "application/json":
        return 415, "bad-type"
    length = headers.only("content-length")
    if length is not None and (not length.isdecimal() or len(length) > 12):
        return 400, "bad-length"
    if length is not None and int(length) > BODY_LIMIT:
        return 413, "too-long"
    return None


class _Headers:
    """Headers of a request; one that stands twice is none."""

    def __init__(self, raw: Iterable[tuple[bytes, bytes]]) -> None:
        self._raw = list(raw)

    def only(self, name: str) -> str | None:
        found = [value for key, value in self._raw if key.lower() == name.encode()]
        if len(found) > 1:
            return ""
        return found[0].decode("latin-1") if found else None


class _Sender:
    """Sends answers with the headers that every one carries."""

    def __init__(self, send: Send) -> None:
        self._send, self.has_begun = send, False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.has_begun = True
            own = {key.decode().lower() for key, _ in message.get("headers", ())}
            more = [(key.encode(), value.encode()) for key, value in HEADERS.items() if key not in own]
            message = {**message, "headers": [*message.get("headers", ()), *more]}
        await self._send(message)

    async def refuse(self, status: int, code: str, *, scope: Scope) -> None:
        log.warning("refused: %s, %s %s", _what(scope), status, code)
        if self.has_begun:
            return
        body = f'{{"error": {{"code": "{code}", "say": "{REFUSALS[code]}"}}}}'.encode()
        headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
        await self({"type": "http.response.start", "status": status, "headers": headers})
        await self({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})


REFUSALS = {
    "bad-method": "Only reading and posting are known here.",
    "bad-host": "This address is not known by that name. Open the link that the coach printed.",
    "cross-site": "This was not sent by the coach's own page.",
    "bad-type": "Send application/json.",
    "bad-length": "The length of this is no number.",
    "too-long": "That is more than is read. Say it shorter; nothing of it was taken.",
    "internal": "Something is wrong inside the coach; what you sent changed nothing. Say it another way.",
}


def _limited(receive: Receive) -> Callable[[], Awaitable[Message]]:
    """What is received, until it is more than may be sent."""
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > BODY_LIMIT:
            raise TooLarge
        return message

    return limited


def _what(scope: Scope) -> str:
    """The request without its path, which may hold a token or anything else."""
    return f"a {scope['method'] if scope['method'] in READS + WRITES else 'strange'} request"


def kind_of(error: BaseException) -> str:
    """What broke and where, without the message: it may quote a person."""
    last: list[Any] = traceback.extract_tb(error.__traceback__)[-1:]
    place = f" at {Path(last[0].filename).name}:{last[0].lineno}" if last else ""
    return f"{type(error).__name__}{place}"
