"""The page itself and what it is made of: a few files, read once, under fixed names."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

FOLDER = Path(__file__).parent / "static"
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webmanifest": "application/manifest+json",
}
FAVICON = "/favicon.ico"
"""What a browser asks for where a page names no icon."""
_VERSION = b"@VERSION@"
"""Stands in the service worker for a hash of all files, so that a browser takes new ones at once."""


@dataclass(frozen=True, slots=True)
class File:
    """A file as it is served."""

    body: bytes
    type: str
    tag: str


@cache
def files() -> dict[str, File]:
    """Every file by its path."""
    found = {file.name: file.read_bytes() for file in sorted(FOLDER.iterdir()) if file.suffix in TYPES}
    version = hashlib.sha256(b"".join(found.values())).hexdigest()[:16]
    made = {}
    for name, body in found.items():
        whole = body.replace(_VERSION, version.encode())
        tag = f'"{hashlib.sha256(whole).hexdigest()[:20]}"'
        made["/" if name == "index.html" else f"/{name}"] = File(whole, TYPES[Path(name).suffix], tag)
    return made


def routes() -> list[Route]:
    """A route for each file, and none for anything else."""
    return [Route(path, _serve, methods=["GET"]) for path in (*files(), FAVICON)]


async def _serve(request: Request) -> Response:
    path = request.url.path
    file = files()["/icon.svg" if path == FAVICON else path]
    headers = {"etag": file.tag, "cache-control": "no-cache"}
    if request.headers.get("if-none-match") == file.tag:
        return Response(status_code=304, headers=headers)
    return Response(file.body, media_type=file.type, headers=headers)
