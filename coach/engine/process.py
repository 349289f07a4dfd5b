"""The worker process as its parent sees it: start it, ask it within a time limit, end it.

Pipes and `poll`, so POSIX only; where there is none, use `Engine(..., isolated=False)`.
"""

from __future__ import annotations

import math
import os
import select
import subprocess
import sys
import time
import weakref
from pathlib import Path

START_LIMIT_S = 30.0
"""Starting Python and building the rules takes some 50 ms; this is for a machine on its knees."""

_PROGRAM = Path(__file__).with_name("matcher.py")


class WorkerLost(RuntimeError):  # noqa: N818  (what happened, not whose error)
    """The worker died, hung, or does not make sense. It has been ended."""


class WorkerProcess:
    """A running worker that has accepted its first line. Raises WorkerLost if it does not."""

    def __init__(self, setup: bytes) -> None:
        self.owner = os.getpid()
        self._process = subprocess.Popen(
            [sys.executable, "-P", str(_PROGRAM)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            bufsize=0,
            start_new_session=True,  # Ctrl-C in the terminal is meant for the chat, not for the worker
        )
        self.kill = weakref.finalize(self, _end, self._process, self.owner)
        self._to, self._from = (_fileno(self._process.stdin), _fileno(self._process.stdout))
        os.set_blocking(self._to, False)
        self.ask(setup, START_LIMIT_S)

    @property
    def pid(self) -> int:
        """The process id."""
        return self._process.pid

    def ask(self, request: bytes, limit_s: float) -> bytes:
        """The worker's answer line to a request line.

        Raises WorkerLost after `limit_s` seconds without an answer, or when the worker ends. Whatever
        interrupts the exchange ends the worker, lest its answer be taken for that to the next request.
        """
        deadline = time.monotonic() + limit_s
        try:
            self._send(request, deadline)
            return self._receive(deadline)
        except OSError as error:
            self.kill()
            raise WorkerLost(f"the worker process ended ({error})") from error
        except BaseException:
            self.kill()
            raise

    def _send(self, request: bytes, deadline: float) -> None:
        rest = memoryview(request)
        while rest:
            _wait(self._to, select.POLLOUT, deadline)
            rest = rest[os.write(self._to, rest) :]

    def _receive(self, deadline: float) -> bytes:
        answer = b""
        while not answer.endswith(b"\n"):
            _wait(self._from, select.POLLIN, deadline)
            piece = os.read(self._from, 65536)
            if not piece:
                raise WorkerLost("the worker process ended")
            answer += piece
        return answer


def _fileno(pipe: object) -> int:
    return pipe.fileno()  # type: ignore[attr-defined,no-any-return]


def _wait(descriptor: int, event: int, deadline: float) -> None:
    poll = select.poll()
    poll.register(descriptor, event)
    if not poll.poll(max(0, math.ceil((deadline - time.monotonic()) * 1000))):
        raise WorkerLost("the worker process did not answer in time")


def _end(process: subprocess.Popen[bytes], owner: int) -> None:
    """Kill and bury; a forked copy of the parent only lets go of its ends of the pipes."""
    if os.getpid() == owner:
        process.kill()
        process.wait()
    for pipe in (process.stdin, process.stdout):
        if pipe:
            pipe.close()
