"""`coach web`: the whole coach in a browser. Only this package imports the web libraries.

A message's way: `guard` turns away what no page of ours sends, `app` knows the addresses, `office` does
what was asked (a turn of the core, or an errand beside it, each once), `sheet` makes the state that
every open page then shows. `static/` is the page itself; it holds no state but what waits to be sent.
"""

from __future__ import annotations

from pathlib import Path

MISSING = "The page needs packages that are not installed. Run: .venv/bin/pip install -e '.[web]'"


def serve(
    store: str | None = None,
    rules: Path | None = None,
    host: str = "127.0.0.1",
    port: int = 8321,
    origin: str | None = None,
) -> int:
    """Serve the page until it is told to stop; the exit code. Raises as `coach.consult.opened` does, and
    AddressError for an address that cannot be used."""
    import importlib.util  # noqa: PLC0415

    if any(importlib.util.find_spec(name) is None for name in ("starlette", "uvicorn")):
        raise OSError(MISSING)
    from coach.front.web.run import run  # noqa: PLC0415  (heavy)

    return run(store, rules, host=host, port=port, origin=origin)
