"""Runs the page until it is told to stop."""

from __future__ import annotations

import contextlib
import logging
import secrets
import signal
import socket
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

import uvicorn

from coach.consult import opened
from coach.front.web.address import Address, AddressError, address
from coach.front.web.app import Web, application

HEAD_LIMIT = 16_384
"""Most bytes of a request before its body."""
MOST_AT_ONCE = 300
OPEN = "The coach is open. On this machine, in a browser:"
OPEN_TO_ALL = (
    "Warning: every device on this network can reach this. Who has the link, or reads the traffic, which is"
    " not encrypted, reads what you write and writes in your name. Never do this on a strange network. From"
    " another device open the link with this machine's number in place of 127.0.0.1."
)
KEEP = "Each browser that opens the link has a log of its own. Stop the coach with Ctrl-C; nothing is lost."


class _Server(uvicorn.Server):
    """A server that lets its open pages go when it is told to stop."""

    def __init__(self, config: uvicorn.Config, web: Web) -> None:
        super().__init__(config)
        self._web = web

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stop at a signal and end in good order: the library's own way would then raise it again, and
        so end the program before store and engine are closed."""
        held = {each: signal.signal(each, self.handle_exit) for each in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for each, handler in held.items():
                signal.signal(each, handler)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop in good order."""
        self._web.hub.close_soon()
        super().handle_exit(sig, frame)


def run(store: str | None, rules: Path | None, *, host: str, port: int, origin: str | None) -> int:
    """Serve until SIGINT or SIGTERM; the exit code. Raises AddressError, and as `opened` does."""
    wanted = address(host, port, origin)
    logging.basicConfig(
        level=logging.WARNING, stream=sys.stderr, format="%(asctime)s %(levelname)s %(message)s"
    )
    listening = _listening(wanted)
    with listening, opened(store, rules) as desk:
        found = Address(wanted.host, listening.getsockname()[1], wanted.origin)
        token = secrets.token_urlsafe(24)
        web = Web(desk, found, token=token, now=time.time, rules=rules)
        config = uvicorn.Config(
            application(web, found),
            http="h11",
            ws="none",
            loop="asyncio",
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=False,
            limit_concurrency=MOST_AT_ONCE,
            h11_max_incomplete_event_size=HEAD_LIMIT,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=3,
        )
        _greet(found, token)
        _Server(config, web).run(sockets=[listening])
    return 0


def _listening(wanted: Address) -> socket.socket:
    try:
        family, _, _, _, where = socket.getaddrinfo(
            wanted.host, wanted.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        found = socket.create_server(where[:2], family=family)
        found.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)  # else each answer waits 40 ms for an ACK
        return found
    except OSError as error:
        why = error.strerror or str(error)
        raise AddressError(
            f"{wanted.host}, port {wanted.port}: {why}. Is it open already? If not, name another --port."
        ) from error


def _greet(found: Address, token: str) -> None:
    print(OPEN, f"    {found.link(token)}", KEEP, sep="\n", flush=True)
    if found.is_open:
        print(OPEN_TO_ALL, file=sys.stderr, flush=True)
