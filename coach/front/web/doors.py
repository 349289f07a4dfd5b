"""Who is let in: a link with a token that holds while the coach runs, then a cookie of the browser's own."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from coach.front.web.address import Address
from coach.post import browsers
from coach.store import Store

COOKIE_LIVES_S = 400 * 24 * 3600
KEY_HEADER = "x-coach-key"

_LET_IN = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8"><meta http-equiv="refresh" content="0;url=/">'
    '<meta name="viewport" content="width=device-width, initial-scale=1"><title>Lamp coach</title>'
    '<link rel="stylesheet" href="/app.css"></head><body><main class="alone"><h1>Lamp coach</h1>'
    '<p>You are let in. <a href="/">Go on</a></p></main></body></html>'
)
"""A page of our own on the way in: a cookie that is for our own pages only is not sent along when
somebody else's page has led here."""
_KEPT_OUT = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8">'
    '<meta name="viewport" content="width=device-width, initial-scale=1"><title>Lamp coach</title>'
    '<link rel="stylesheet" href="/app.css"></head><body><main class="alone"><h1>Lamp coach</h1>'
    "<p>This link no longer holds. Open the one that the coach printed when it was started last.</p>"
    "</main></body></html>"
)


class Doors:
    """Lets browsers in. Raises StoreError."""

    def __init__(self, store: Store, address: Address, token: str) -> None:
        self._store, self._address, self._token = store, address, token

    def boat(self, request: Request) -> str | None:
        """The boat that a request's browser writes for; None if it was not let in."""
        shown = request.cookies.get(self._address.cookie, "")
        if not 20 <= len(shown) <= 100:
            return None
        with self._store.reading() as rows:
            return browsers.boat_of(rows, shown)

    def key(self, request: Request) -> str:
        """What a page of ours has to show beside the cookie before it may change anything."""
        shown = request.cookies.get(self._address.cookie, "")
        return hashlib.sha256(f"page:{shown}".encode()).hexdigest()[:40]

    def has_key(self, request: Request) -> bool:
        """Whether a request shows it."""
        return hmac.compare_digest(request.headers.get(KEY_HEADER, "").encode(), self.key(request).encode())

    def enter(self, request: Request) -> Response:
        """Exchange the link's token for a cookie; a browser that has one keeps it."""
        if not hmac.compare_digest(str(request.path_params["token"]).encode(), self._token.encode()):
            return HTMLResponse(_KEPT_OUT, 403)
        response = HTMLResponse(_LET_IN)
        if self.boat(request) is None:
            shown = secrets.token_urlsafe(32)
            with self._store.writing() as rows:
                browsers.let_in(rows, shown, f"web-{secrets.token_hex(8)}", at=time.time())
            response.set_cookie(
                self._address.cookie,
                shown,
                max_age=COOKIE_LIVES_S,
                path="/",
                secure=self._address.is_secret_in_transit,
                httponly=True,
                samesite="strict",
            )
        return response
