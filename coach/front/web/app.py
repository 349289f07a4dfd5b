"""The page's addresses, and what each of them gives."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import hashlib
import re
from collections.abc import AsyncIterator, Awaitable, Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route, Router
from starlette.types import ASGIApp, Receive, Scope, Send

from coach.consult import Desk
from coach.exchange import Refused
from coach.front.lessons import Lessons
from coach.front.web import shell
from coach.front.web.address import Address
from coach.front.web.beside import BesideTalk
from coach.front.web.doors import Doors
from coach.front.web.guard import POLICY, Guard, log
from coach.front.web.hub import Bells, Full, Hub
from coach.front.web.lessons import LessonsOfPage
from coach.front.web.office import Office
from coach.front.web.posted import read_posted
from coach.front.web.sheet import ROWS, Sheet
from coach.front.web.turns import Turns
from coach.store import StoreError

BODY_WAIT_S = 20.0
_LEARNED = {"lessons.csv": "text/csv; charset=utf-8", "lessons.json": "application/json"}
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)

Handler = Callable[[Request, str], Response]
"""Answers a request of a browser that writes for a boat."""


class Web:
    """All that the page asks for. `now` gives the time [s since 1970]."""

    def __init__(
        self, desk: Desk, address: Address, *, token: str, now: Callable[[], float], rules: Path | None = None
    ) -> None:
        self._now, self.hub = now, Hub()
        store, book, infer = desk.parts
        lessons = Lessons(store, book, rules, infer=infer)
        self._office, self._sheet = Office(desk, lessons), Sheet(desk, lessons)
        self._beside, self._lessons = BesideTalk(desk), LessonsOfPage(Turns(desk), lessons)
        self._doors, self._bells = Doors(store, address, token), Bells(store, self.hub)

    def routes(self) -> list[Route]:
        """Every address that there is."""
        known: dict[str, Handler] = {
            "/state": self._state,
            "/events": self._events,
            "/picture/{kind}": self._picture,
            "/card": self._card,
            "/trips": self._trips,
            "/trips/{form}": self._export,
            "/lesson/picture": self._lesson_picture,
            "/lesson/standing": self._standing,
            "/lesson/{form}": self._learned,
            "/sheet": self._rail,
        }
        return [
            *shell.routes(),
            Route("/in/{token}", self._enter, methods=["GET"]),
            Route("/do", self._do, methods=["POST"]),
            *(Route(path, self._let_in(handler), methods=["GET"]) for path, handler in known.items()),
        ]

    @contextlib.asynccontextmanager
    async def running(self, _: Any) -> AsyncIterator[None]:
        """While the page is served, bells ring."""
        self.hub.open()
        bells = asyncio.create_task(self._bells.run())
        try:
            yield
        finally:
            bells.cancel()
            await asyncio.gather(bells, return_exceptions=True)

    # -- who asks

    def _let_in(self, handler: Handler) -> Callable[[Request], Awaitable[Response]]:
        """The answer of a handler, made in a thread of its own once it is known whose browser asks."""

        def answered(request: Request) -> Response:
            boat = self._doors.boat(request)
            return _not_let_in() if boat is None else handler(request, boat)

        async def guarded(request: Request) -> Response:
            return await self._threaded(answered, request)

        return guarded

    async def _enter(self, request: Request) -> Response:
        return await self._threaded(self._doors.enter, request)

    async def _threaded(self, work: Callable[[Request], Response], request: Request) -> Response:
        try:
            return await asyncio.to_thread(work, request)
        except StoreError as error:
            log.error("%s", error)
            return refused(503, "store", str(error))

    # -- the talk

    def _state(self, request: Request, boat: str) -> Response:
        return JSONResponse(self._made(request, boat))

    def _made(self, request: Request, boat: str) -> dict[str, Any]:
        given = request.query_params.get("most", "")
        most = int(given) if given.isascii() and given.isdecimal() and len(given) < 5 else ROWS
        state = self._sheet.state(boat, now=self._clock(), most=max(1, most))
        return {**state, "key": self._doors.key(request)}

    async def _do(self, request: Request) -> Response:
        try:
            body = await asyncio.wait_for(request.body(), BODY_WAIT_S)
        except TimeoutError:
            return _logged(408, "too-slow", "This came too slowly. Send it again.")
        return await self._let_in(lambda request, boat: self._done(request, boat, body))(request)

    def _done(self, request: Request, boat: str, body: bytes) -> Response:
        if not self._doors.has_key(request):
            return _logged(403, "no-key", "This page is out of date. Load it again.")
        try:
            posted = read_posted(body)
        except Refused as refusal:
            return _logged(422, refusal.code, refusal.say)
        answer = self._office.handle(boat, posted, now=self._clock())
        self.hub.changed([boat])
        error = None if answer.error is None else {"code": answer.error[0], "say": answer.error[1]}
        return JSONResponse({"note": answer.note, "error": error, "state": self._made(request, boat)})

    def _events(self, request: Request, boat: str) -> Response:
        del request
        try:
            return StreamingResponse(self.hub.listen(boat), media_type="text/event-stream")
        except Full:
            return refused(429, "too-many", "Too many pages are open. Close some.")

    # -- beside the talk

    def _picture(self, request: Request, boat: str) -> Response:
        kind, theme = request.path_params["kind"], request.query_params.get("theme", "dim")
        try:
            svg = self._beside.picture(boat, kind, theme=theme, now=self._clock())
        except ValueError:
            return refused(404, "no-such", "There is no such picture.")
        return _drawn(request, svg)

    def _card(self, request: Request, boat: str) -> Response:
        del request
        return _paper(self._beside.card(boat, now=self._clock()))

    def _trips(self, request: Request, boat: str) -> Response:
        del request
        return JSONResponse({"trips": self._beside.trips(boat)})

    def _export(self, request: Request, boat: str) -> Response:
        found = self._beside.export(boat, request.path_params["form"], now=self._clock())
        if found is None:
            return refused(404, "no-such", "There is no such file.")
        name, kind, whole = found
        headers = {"content-disposition": f'attachment; filename="{name}"'}
        return Response(whole.encode(), media_type=kind, headers=headers)

    # -- the school

    def _lesson_picture(self, request: Request, boat: str) -> Response:
        try:
            theme = request.query_params.get("theme", "dim")
            svg = self._lessons.picture(boat, theme=theme, now=self._clock())
        except ValueError:
            svg = None
        return refused(404, "no-such", "There is no such picture.") if svg is None else _drawn(request, svg)

    def _standing(self, request: Request, boat: str) -> Response:
        del request
        return JSONResponse(self._lessons.standing(boat))

    def _learned(self, request: Request, boat: str) -> Response:
        form = request.path_params["form"]
        whole = self._lessons.paper(boat, form, now=self._clock()) if form in _LEARNED else None
        if whole is None:
            return refused(404, "no-such", "There is no such file.")
        headers = {"content-disposition": f'attachment; filename="{form}"'}
        return Response(whole.encode(), media_type=_LEARNED[form], headers=headers)

    def _rail(self, request: Request, boat: str) -> Response:
        del request
        page = self._lessons.sheet(boat, now=self._clock())
        return refused(404, "no-such", "There is no such page.") if page is None else _paper(page)

    def _clock(self) -> datetime:
        return datetime.fromtimestamp(self._now(), UTC).astimezone()


def _drawn(request: Request, svg: str) -> Response:
    """A picture, or that the browser has it already."""
    tag = f'"{hashlib.sha256(svg.encode()).hexdigest()[:20]}"'
    headers = {"etag": tag, "cache-control": "private, no-cache"}
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    return Response(svg, media_type="image/svg+xml", headers=headers)


def _paper(page: str) -> Response:
    """A page with a style of its own."""
    styles = " ".join(_hash(style) for style in _STYLE.findall(page)) or "'none'"
    headers = {"content-security-policy": POLICY.format(style=styles)}
    return Response(page, media_type="text/html; charset=utf-8", headers=headers)


def refused(status: int, code: str, say: str) -> JSONResponse:
    """An answer that says why nothing was done."""
    return JSONResponse({"error": {"code": code, "say": say}}, status)


def _not_let_in() -> JSONResponse:
    return refused(401, "not-let-in", "Open the link that the coach printed.")


def _logged(status: int, code: str, say: str) -> JSONResponse:
    log.warning("refused: a POST request, %s %s", status, code)
    return refused(status, code, say)


def application(web: Web, address: Address) -> ASGIApp:
    """The page with its guard before it. (The library's own application would answer a fault before the
    guard could.)"""
    router = Router(web.routes(), redirect_slashes=False, default=_no_such, lifespan=web.running)
    return Guard(router, address)


async def _no_such(scope: Scope, receive: Receive, send: Send) -> None:
    await refused(404, "no-such", "There is nothing of that name here.")(scope, receive, send)


def _hash(style: str) -> str:
    """How a policy names the one style sheet that stands in a page."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()}'"
