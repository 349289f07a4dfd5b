"""`coach telegram`: the coach as a Telegram bot. Only this package imports python-telegram-bot.

An update's way: `queue` writes it to the inbox, `office` handles it (session, effects, bells, outbox
and the inbox mark in one transaction), `sender` posts the outbox, `bell` rings what is due.
"""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

from coach.front.telegram import thrift

MISSING = (
    "The Telegram bot needs a package that is not installed."
    " Run: .venv/bin/pip install -e '.[telegram]'"
)


def serve(store: str | None = None, rules: Path | None = None, config: Path | None = None) -> int:
    """Run the bot until it is told to stop; the exit code. Raises as `coach.consult.opened` does, and
    ConfigError for a setting that cannot be used."""
    if importlib.util.find_spec("telegram") is None:
        raise OSError(MISSING)
    from coach.front.telegram.config import load  # noqa: PLC0415  (heavy)

    settings = load(config, os.environ)
    with thrift.without(() if settings.webhook else thrift.FOR_WEBHOOKS):
        from coach.front.telegram.app import run  # noqa: PLC0415  (heavy)
    return run(store, rules, settings)


thrift.begin()
