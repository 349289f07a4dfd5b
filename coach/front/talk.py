"""`coach talk`: JSON lines in, JSON lines out, for scripts, tests and other programs.

Each line of standard input is answered by exactly one line on standard output, in order and
flushed, be it empty, broken or hostile. What a line may hold, what comes back and the codes of
errors: `coach.exchange`. Standard error carries the log, without anything a person said.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from coach import exchange
from coach.consult import Desk, opened


def serve(store: str | None = None, rules: Path | None = None) -> int:
    """Answer standard input until it ends; the exit code: 0, 1 if nobody reads the answers,
    130 if interrupted. Raises as `opened` does before the first answer."""
    try:
        with opened(store, rules) as desk, answers_only() as out:
            run(desk, sys.stdin.buffer, out, clock=local_now)
    except BrokenPipeError:
        return 1
    except KeyboardInterrupt:
        return 130
    return 0


def run(desk: Desk, source: BinaryIO, out: BinaryIO, *, clock: Callable[[], datetime]) -> None:
    """Answer each line of `source` on `out`; `clock` gives the time for messages without one."""
    for line in lines(source):
        envelope = exchange.read(line)
        taken = desk.answer(envelope, now=envelope.at or clock())
        send(out, taken.line)


def lines(source: BinaryIO) -> Iterator[bytes]:
    """The lines of a stream. One beyond LINE_LIMIT is cut just past it and its rest thrown away,
    so that no sender can fill the memory."""
    while line := source.readline(exchange.LINE_LIMIT + 1):
        rest = line
        while len(rest) > exchange.LINE_LIMIT and not rest.endswith(b"\n"):
            rest = source.readline(exchange.LINE_LIMIT + 1)
        yield line


def send(out: BinaryIO, line: str) -> None:
    """Write one line and push it out."""
    out.write(line.encode("ascii") + b"\n")
    out.flush()


def answers_only() -> BinaryIO:
    """Standard output for the answers alone: whatever else prints goes to standard error."""
    sys.stdout.flush()
    own = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return own


def local_now() -> datetime:
    """The time now, with the zone of this machine."""
    return datetime.now().astimezone()
