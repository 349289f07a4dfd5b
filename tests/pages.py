"""`coach web` in a process of its own, for tests and benchmarks: started, killed, and started again."""

from __future__ import annotations

import http.client
import re
import socket
import subprocess
import sys
import time
from pathlib import Path

from bots import CHECKOUT, OwnProcess, free_port

STARTS_WITHIN_S = 30.0


class PageProcess(OwnProcess):
    """The page on a store in `folder`, on one port for as long as this lives."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, free_port()
        self.store = folder / "coach.db"

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> str:
        """Start it; the link to open."""
        (self.folder / "out.txt").write_bytes(b"")
        command = [
            sys.executable, "-m", "coach", "web", "--store", str(self.store), "--port", str(self.port)
        ]  # fmt: skip
        with (self.folder / "out.txt").open("ab") as out, (self.folder / "log.txt").open("ab") as log:
            self.process = subprocess.Popen(
                command, cwd=CHECKOUT, stdout=out, stderr=log, start_new_session=True
            )
        return self._link()

    def _link(self) -> str:
        until = time.monotonic() + STARTS_WITHIN_S
        while time.monotonic() < until:
            found = re.search(r"http://\S+/in/\S+\n", (self.folder / "out.txt").read_text())
            if found and self.is_up():
                return found[0].strip()
            assert self.process is not None
            assert self.process.poll() is None, self.logged()
            time.sleep(0.02)
        raise TimeoutError(self.logged())

    def is_up(self) -> bool:
        try:
            with socket.create_connection(("127.0.0.1", self.port), 1):
                return True
        except OSError:
            return False

    def raw(self, sent: bytes) -> int:
        """The status that answers these bytes; 0 if the connection is closed without one."""
        with socket.create_connection(("127.0.0.1", self.port), 10) as line:
            line.sendall(sent)
            answer = http.client.HTTPResponse(line)
            try:
                answer.begin()
            except (http.client.HTTPException, OSError):
                return 0
            return answer.status

    def __enter__(self) -> PageProcess:
        self.link = self.start()
        return self
