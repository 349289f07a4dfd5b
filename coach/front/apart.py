"""Does one thing in a short-lived process of its own: what it needs of memory comes back when it ends.

A bot stands for weeks; the libraries that draw a picture or a page would stay in it for good.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from typing import Any, TypeVar

R = TypeVar("R")
LIMIT_S = 60.0
"""A picture takes half a second; this is for a machine on its knees."""


class ApartLost(RuntimeError):  # noqa: N818  (what happened, not whose error)
    """The process ended without a result."""


def apart(do: Callable[..., R], *given: Any) -> R:
    """What a function of a module gives for these values, worked out in a process of its own.

    Blocking. Raises what the function raises, ApartLost if the process ends otherwise, and
    subprocess.TimeoutExpired (the process is ended) after LIMIT_S.
    """
    ended = subprocess.run(
        [sys.executable, "-P", "-m", __name__],
        input=pickle.dumps((do, given)),
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        timeout=LIMIT_S,
        check=False,
    )
    if ended.returncode != 0:
        raise ApartLost(f"it ended with {ended.returncode}")
    is_done, made = pickle.loads(ended.stdout)
    if not is_done:
        raise made
    result: R = made
    return result


def _answer() -> None:
    """Read a function and its values, write whether it gave something and what."""
    do, given = pickle.loads(sys.stdin.buffer.read())
    try:
        answer: tuple[bool, Any] = (True, do(*given))
    except Exception as error:  # raised again where it was asked for
        answer = (False, error)
    sys.stdout.buffer.write(pickle.dumps(answer))


if __name__ == "__main__":
    _answer()
