"""A whole bot for tests: in a process of its own, against the fake Bot API."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

from fake_bot_api import SECRET, TOKEN, FakeBotApi

CHECKOUT = Path(__file__).resolve().parent.parent


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


class OwnProcess:
    """A program of ours in a process of its own that logs into its folder: how it ends."""

    folder: Path
    process: subprocess.Popen[bytes] | None = None

    def kill(self) -> None:
        """SIGKILL to the whole process group."""
        assert self.process
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(20)

    def end(self) -> int:
        """Let it end in good order; its exit code."""
        assert self.process
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        return self.process.wait(30)

    def logged(self) -> str:
        return (self.folder / "log.txt").read_text()

    def __exit__(self, *_: object) -> None:
        if self.process and self.process.poll() is None:
            self.end()


class BotProcess(OwnProcess):
    """`coach telegram` on a store in `folder`; may be killed and started again."""

    def __init__(self, api: FakeBotApi, folder: Path, *, mode: str = "polling", **settings: Any) -> None:
        self.api, self.folder = api, folder
        self.store = folder / "coach.db"
        lines = [f"{key} = {value!r}" for key, value in ({"burst": 10_000} | settings).items()]
        if mode == "webhook":
            port = free_port()
            lines += ["[webhook]", f'url = "http://127.0.0.1:{port}/hook"', f"port = {port}"]
        (folder / "telegram.toml").write_text("\n".join(lines).replace("'", '"') + "\n")

    def start(self) -> None:
        command = [
            sys.executable, "-m", "coach", "telegram",
            "--store", str(self.store), "--config", str(self.folder / "telegram.toml"),
        ]  # fmt: skip
        environment = {
            **os.environ,
            "COACH_TELEGRAM_TOKEN": TOKEN,
            "COACH_TELEGRAM_API": self.api.url,
            "COACH_TELEGRAM_SECRET": SECRET,
        }
        with (self.folder / "log.txt").open("ab") as log:
            self.process = subprocess.Popen(
                command, cwd=CHECKOUT, env=environment, stdout=log, stderr=log, start_new_session=True
            )

    def resident_mb(self) -> float:
        assert self.process
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(status.split("VmRSS:")[1].split()[0]) / 1024

    def cpu_s(self) -> float:
        assert self.process
        parts = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")

    def __enter__(self) -> BotProcess:
        self.start()
        return self
