"""Memory: a bot stands for weeks on a small machine, beside other things.

Some libraries take along others that merely happen to be installed and that a bot has no use for; and
the C library keeps room for each thread that it does not need. Everything works without this too.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import importlib
import sys
from collections.abc import Iterable, Iterator
from typing import Any

TAKERS = ("sqlite_utils", "rapidfuzz", "httpx")
TAKEN = ("numpy", "rich", "pygments")
FOR_WEBHOOKS = ("tornado",)
_NOT_TO_BE_FOUND: Any = None
"""The language's way to say so of a module."""
_ARENA_MAX = -8
"""The number of that setting in malloc.h of the GNU C library."""


def begin() -> None:
    """Import what takes others along, without them. (They can be imported later all the same.)"""
    with without(TAKEN):
        for name in TAKERS:
            with contextlib.suppress(ModuleNotFoundError):
                importlib.import_module(name)


@contextlib.contextmanager
def without(names: Iterable[str]) -> Iterator[None]:
    """Let imports of these fail for a while, as if they were not installed."""
    hidden = [name for name in names if name not in sys.modules]
    sys.modules.update(dict.fromkeys(hidden, _NOT_TO_BE_FOUND))
    try:
        yield
    finally:
        for name in hidden:
            del sys.modules[name]


def few_arenas() -> None:
    """Let threads share the room that the C library keeps. Before any thread begins."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).mallopt(_ARENA_MAX, 1)


def trim() -> None:
    """Give back what was needed to get ready and is not needed any more; what stays (rules, words) is not
    looked through again for what could be let go of."""
    gc.collect()
    gc.freeze()
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)
