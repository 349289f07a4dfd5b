"""The lines typed into a chat, kept for the arrow keys at the prompt, and erased with the chat.

One file a chat in the user's state folder, for its owner's eyes only. Its name is a hash of the store
and the chat, so that a name betrays nobody.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from pathlib import Path

from coach import folders

KEEPS_NOTHING = ":memory:"
LINES = 500
"""So many lines are kept; the file is cut back when it holds twice as many."""


def file_of(store: str, chat: str) -> Path | None:
    """Where the lines of a chat lie; None if nothing is to be kept or there is no place for it."""
    if store == KEEPS_NOTHING:
        return None
    key = hashlib.sha256(json.dumps([os.path.realpath(store), chat]).encode()).hexdigest()
    try:
        return folders.state() / "typed" / key[:32]
    except folders.NoHome:
        return None


def lines(file: Path) -> list[str]:
    """The lines kept, oldest first. Raises OSError unless there is simply no file."""
    try:
        found = file.read_text(encoding="utf-8", errors="replace").split("\n")[:-1]
    except FileNotFoundError:
        return []
    if len(found) > 2 * LINES:
        found = found[-LINES:]
        _overwrite(file, "".join(f"{line}\n" for line in found).encode())
    return found


def add(file: Path, line: str) -> None:
    """Keep one line. Raises OSError."""
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle = os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
    try:
        os.write(handle, " ".join(line.split()).encode("utf-8", "replace") + b"\n")
    finally:
        os.close(handle)


def erase(file: Path) -> None:
    """Write over all that was kept, and delete the file. Raises OSError."""
    with contextlib.suppress(FileNotFoundError):
        _overwrite(file, b"")
        file.unlink()


def _overwrite(file: Path, content: bytes) -> None:
    """Put zeros over the bytes on the disk before the new content stands in their place."""
    with file.open("r+b") as handle:
        handle.write(b"\0" * file.stat().st_size)
        handle.flush()
        os.fsync(handle.fileno())
        handle.seek(0)
        handle.write(content)
        handle.truncate()
        handle.flush()
        os.fsync(handle.fileno())
