"""Libraries that only pictures and paper need, loaded when one of those is asked for."""

from __future__ import annotations

import importlib
from typing import Any


class MissingPartError(OSError):
    """A library is not installed; the text says what it is needed for and what to do."""


def part(module: str, *, needed_for: str) -> Any:
    """A library's module. Raises MissingPartError if the library is not installed."""
    try:
        return importlib.import_module(module)
    except ModuleNotFoundError as missing:
        raise MissingPartError(
            f"{needed_for} needs a part that is not installed ({missing.name}). Install it by:"
            " .venv/bin/pip install -e '.[pictures]'. Words, SVG and HTML work without it."
        ) from missing
