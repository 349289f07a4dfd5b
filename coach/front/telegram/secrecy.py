"""What must never be seen: the token, the webhook's secret, anything of a chat. Logs, and a token's lock."""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import hmac
import logging
import os
import re
import sys
import traceback
from collections.abc import Iterator
from pathlib import Path

_TOKEN = re.compile(r"\d{4,}:[\w-]{30,}")
log = logging.getLogger("coach.telegram")


def redacted(text: str) -> str:
    """The text with everything that looks like a token blacked out."""
    return _TOKEN.sub("(token)", text)


def kind_of(error: BaseException) -> str:
    """What broke and where, without the message: it may quote a person or the token."""
    last = traceback.extract_tb(error.__traceback__)[-1:]
    place = f" at {Path(last[0].filename).name}:{last[0].lineno}" if last else ""
    return f"{type(error).__name__}{place}"


class Discreet(logging.Formatter):
    """Lines without tokens, and without tracebacks, whose last lines may quote what a person said."""

    def format(self, record: logging.LogRecord) -> str:
        """One line."""
        line = f"{self.formatTime(record)} {record.levelname} {record.name}: "
        if record.exc_info and record.exc_info[1] is not None:
            return line + kind_of(record.exc_info[1])
        return line + redacted(record.getMessage())


def set_up_logs() -> None:
    """Our own lines at INFO, those of the libraries from WARNING on, all without secrets."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(Discreet())
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
    for name in ("httpx", "httpcore", "telegram", "apscheduler", "tornado", "asyncio"):
        logging.getLogger(name).setLevel(logging.WARNING)
    logging.getLogger("telegram.ext.Updater").setLevel(logging.CRITICAL)  # its lines carry what came in
    log.setLevel(logging.INFO)


class Taken(OSError):  # noqa: N818  (what happened)
    """Another program runs this bot on this machine."""


@contextlib.contextmanager
def only_one(token: str, folder: Path) -> Iterator[None]:
    """Hold the lock of this token, so that no second program polls with it. Raises Taken."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    path = folder / f"telegram-{hashlib.sha256(token.encode()).hexdigest()[:16]}.lock"
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise Taken("the bot of this token runs already on this machine. Stop it first.") from error
        yield
    finally:
        os.close(descriptor)


class Secret(str):
    """A text whose comparison takes the same time whatever it is compared with."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, str) and hmac.compare_digest(self.encode(), other.encode())

    def __ne__(self, other: object) -> bool:
        return not self == other

    __hash__ = str.__hash__
