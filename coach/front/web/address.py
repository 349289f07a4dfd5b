"""Where the page is, and by which names it may be called there.

A page of somebody else's may point a name of its own at this machine and have the browser ask here
("DNS rebinding"). So only numbers of this machine are answered to, "localhost", and a name that the
captain wrote down by --origin.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from urllib.parse import urlsplit

DEFAULT_HOST, DEFAULT_PORT = "127.0.0.1", 8321
_LOOPBACK_NAMES = frozenset({"localhost"})


class AddressError(OSError):
    """An address that cannot be used: which, and what to do."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where the page listens; `origin` is where a proxy in front of it shows it, "" without one."""

    host: str = DEFAULT_HOST
    port: int = DEFAULT_PORT
    origin: str = ""

    @property
    def is_open(self) -> bool:
        """Whether others than this machine reach it."""
        return not _is_loopback(self.host)

    @property
    def is_secret_in_transit(self) -> bool:
        """Whether the browser speaks TLS to the proxy in front."""
        return self.origin.startswith("https:")

    @property
    def cookie(self) -> str:
        """The name of the cookie: cookies of one machine are seen on all its ports."""
        return f"coach-{self.port}"

    def link(self, token: str) -> str:
        """What to open in a browser."""
        if self.origin:
            return f"{self.origin}/in/{token}"
        host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(self.host, self.host)
        return f"http://{f'[{host}]' if ':' in host else host}:{self.port}/in/{token}"

    def origin_of(self, host: str) -> str | None:
        """The origin of pages that this Host header asks for; None if it is no name of ours."""
        if self.origin and host.casefold() == urlsplit(self.origin).netloc.casefold():
            return self.origin
        try:
            parts = urlsplit(f"//{host}")
            port = parts.port or 80
        except ValueError:
            return None
        name = (parts.hostname or "").casefold()
        if parts.netloc != host or "@" in host or port != self.port or not self._is_ours(name):
            return None
        return f"http://{host.casefold()}"

    def _is_ours(self, name: str) -> bool:
        if name in _LOOPBACK_NAMES or name == self.host.casefold():
            return True
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return self.is_open or _is_loopback(name)


def address(host: str, port: int, origin: str | None = None) -> Address:
    """The address of these options. Raises AddressError."""
    if not 0 <= port <= 65535:
        raise AddressError(f"--port: got {port}; allowed 1 to 65535, or 0 for any that is free.")
    if origin:
        parts = urlsplit(origin)
        if (
            parts.scheme not in ("http", "https")
            or not parts.hostname
            or parts.path.strip("/")
            or parts.query
        ):
            raise AddressError(f"--origin: got {origin[:80]!r}; write it such as https://coach.example.net")
        origin = f"{parts.scheme}://{parts.netloc.casefold()}"
    return Address(host, port, origin or "")


def _is_loopback(host: str) -> bool:
    if host.casefold() in _LOOPBACK_NAMES:
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
