"""The store: where each chat stands and every turn it took, in one SQLite file.

A turn and the state it leads to are committed together, before the answer is given, in WAL mode
with synchronous FULL: what was answered survives a kill and, if the disk honours sync, a power
cut. Several programs may use one file: a turn is only kept if the chat still stands where it
stood when the turn was worked out (`Store.keep`), so none is lost. This is the only module that
knows the database.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Protocol

from sqlite_utils import Database, Migrations

from coach import folders, forgotten, tables, typed

MEMORY = ":memory:"
BUSY_MS = 5000
APPLICATION_ID = 0x4C4D5043
"""Written into the file's head, so that another program's database is never taken for ours."""

_SWEEP_DUE = 1
"""`user_version` of a file in which a chat was deleted but its traces not yet swept out."""

_FAULTS = {
    sqlite3.SQLITE_BUSY: ("another program holds it", "Close that program and try again."),
    sqlite3.SQLITE_LOCKED: ("another program holds it", "Close that program and try again."),
    sqlite3.SQLITE_FULL: ("the disk is full", "Make room and try again."),
    sqlite3.SQLITE_READONLY: ("it cannot be written", "Allow writing or choose another file by --store."),
    sqlite3.SQLITE_CANTOPEN: ("it cannot be opened", "Choose another file by --store."),
    sqlite3.SQLITE_NOTADB: ("it is not a store", "Move the file away or choose another by --store."),
    sqlite3.SQLITE_CORRUPT: ("the file is damaged", "Move it away and start afresh, or bring back a copy."),
    sqlite3.SQLITE_IOERR: ("the disk refused to read or write", "Check the disk and its free room."),
}

migrations = Migrations("coach")


def _create(name: str, statements: tuple[str, ...]) -> None:
    @migrations(name=name)
    def _step(db: Database) -> None:
        for statement in statements:
            db.execute(statement)


for _name, _statements in tables.STEPS.items():
    _create(_name, _statements)


class Rows(Protocol):
    """What may be done with the database within a transaction: SQL with its values."""

    def execute(self, sql: str, parameters: Any = ..., /) -> sqlite3.Cursor:
        """Run one statement."""
        ...


Beside = Callable[[Rows], None]
"""What else is to be written in the transaction of a turn."""


def nothing_else(rows: Rows) -> None:
    """Write nothing beside."""
    del rows


class StoreError(OSError):
    """The store cannot be used; the text says which, why, and what to do, in one line."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a chat stands: its last turn's number, answer and time, and its state as JSON text.

    `repeat` is the answer already given to the message id that was asked about, if it was seen.
    A chat never heard of stands at turn 0 with everything else None.
    """

    seq: int = 0
    session: str | None = None
    reply: str | None = None
    at: str | None = None
    repeat: str | None = None


@dataclass(frozen=True, slots=True)
class Turn:
    """One turn as it is kept. JSON text: `said` (the message; None if it was refused),
    `understood` (facts taken from it), `fired` (ids of the rules that fired), `reply` (the
    answer's line), `changed` (what the turn changed). `rules` is the digest of the rule base, `at` the
    clock used (ISO 8601)."""

    chat: str
    id: str | None
    at: str
    said: str | None
    understood: str
    fired: str
    reply: str
    rules: str
    changed: str = "{}"


def default_path() -> Path:
    """The store's place in the user's data folder.

    Raises StoreError if no home folder is known.
    """
    try:
        return folders.data() / "coach.db"
    except folders.NoHome as missing:
        raise StoreError("no home folder is known for the store. Name a file by --store.") from missing


def _is_own(folder: Path) -> bool:
    """Whether it is the person's own folder for what the coach keeps."""
    try:
        return folder == default_path().parent
    except StoreError:
        return False


class Store:
    """An open store. Raises StoreError from every method when the file cannot be used.

    Threads may share it: they take turns.
    """

    def __init__(self, path: Path | str) -> None:
        self.path = str(path)
        self._lock = threading.RLock()
        with self._plainly():
            self._db = self._opened()
            self._prepare()

    def close(self) -> None:
        """Close the file; nothing may be called afterwards."""
        self._db.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def look(self, chat: str, message_id: str | None = None) -> Standing:
        """Where the chat stands, and the answer to this message id if it was given before."""
        with self._plainly():
            repeat = None if message_id is None else self._answered(chat, message_id)
            row = self._db.execute(
                "SELECT c.seq, c.session, t.reply, t.at FROM chats c"
                " JOIN turns t ON t.chat = c.chat AND t.seq = c.seq WHERE c.chat = ?",
                [chat],
            ).fetchone()
        seq, session, reply, at = row or (0, None, None, None)
        return Standing(seq, session, reply, at, repeat)

    def keep(
        self, turn: Turn, session: str | None, *, after: Standing, beside: Beside = nothing_else
    ) -> bool:
        """Commit the turn, the state it leads to and what `beside` writes; False, and nothing kept,
        if the chat has moved on from `after` in the meantime (or this id was answered): look again."""
        seq = after.seq + 1
        with self._writing():
            if not self._moved(turn.chat, seq, session, after):
                return False
            self._db.table("turns").insert({**asdict(turn), "seq": seq})
            beside(self._db)
        return True

    @contextlib.contextmanager
    def writing(self) -> Iterator[Rows]:
        """One transaction of whoever shares the file: committed at its end, or nothing of it kept."""
        with self._writing():
            yield self._db

    @contextlib.contextmanager
    def reading(self) -> Iterator[Rows]:
        """A look at what is kept."""
        with self._plainly():
            yield self._db

    @property
    def is_sweep_due(self) -> bool:
        """Whether bytes of what was deleted still wait to be swept out."""
        with self._plainly():
            return self._pragma("user_version") == _SWEEP_DUE

    def sweep(self) -> None:
        """Sweep the bytes of what was deleted out of the file and its log; later if it has to wait."""
        with self._writing():
            self._db.execute(f"PRAGMA user_version = {_SWEEP_DUE}")
        with self._plainly("what was deleted is not yet swept out"):
            self._sweep()

    def forget(
        self, chat: str, *, message_id: str | None = None, reply: str = "", beside: Beside = nothing_else
    ) -> None:
        """Delete every row of the chat, write `beside`, and sweep its bytes out of the file and its log;
        the lines that were typed for it at a prompt go too.

        With a message id, a hash of chat and id stays with `reply`, so that a late repeat of
        this message cannot delete what was said since. Raises StoreError if the sweeping has to
        wait; it is made up for when the store is next opened.
        """
        with self._writing():
            erase(self._db, chat)
            beside(self._db)
            if message_id is not None:
                key = _key(chat, message_id)
                self._db.execute("INSERT OR REPLACE INTO forgotten (key, reply) VALUES (?, ?)", [key, reply])
            self._db.execute(f"PRAGMA user_version = {_SWEEP_DUE}")
        try:
            self._erase_typed(chat)
        finally:
            with self._plainly("the chat is deleted, but its traces on the disk are not yet swept out"):
                self._sweep()

    def _erase_typed(self, chat: str) -> None:
        file = typed.file_of(self.path, chat)
        try:
            if file is not None:
                typed.erase(file)
        except OSError as error:
            why = f"the chat is deleted, but not the lines typed for it: {error.strerror}"
            raise StoreError(f"{file}: {why}. Delete that file.") from error

    def _opened(self) -> Database:
        if self.path != MEMORY:
            path = Path(self.path)
            self._make_folder(path.parent)
            os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))  # for its owner's eyes only
        connection = sqlite3.connect(self.path, timeout=BUSY_MS / 1000, check_same_thread=False)
        return Database(connection, execute_plugins=False)

    def _make_folder(self, folder: Path) -> None:
        """The last folder of a path is made where it is missing; more would rather be a slip of the pen.
        What lies in the person's own folder for data is made whole."""
        if not folder.parent.is_dir() and not _is_own(folder):
            raise self._error(f"there is no folder {folder.parent}", "Make it, or correct the path.")
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)

    def _prepare(self) -> None:
        self._refuse_strangers()
        self._pragma("journal_mode = WAL")
        self._pragma("synchronous = FULL")
        self._pragma("secure_delete = ON")
        with self._writing():
            self._pragma(f"application_id = {APPLICATION_ID}")
            migrations.apply(self._db)
        if self._pragma("user_version") == _SWEEP_DUE:
            self._sweep()

    def _refuse_strangers(self) -> None:
        """Leave a file alone that is not ours, or that a newer version made."""
        ours = self._pragma("application_id") == APPLICATION_ID
        if not ours and self._db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise self._error("it belongs to another program", "Choose another file by --store.")
        known = {migration.name for migration in migrations.pending(Database(memory=True))}
        if {migration.name for migration in migrations.applied(self._db)} - known:
            raise self._error("a newer version of the coach wrote it", "Install that version.")

    def _pragma(self, text: str) -> object:
        row = self._db.execute(f"PRAGMA {text}").fetchone()
        return row and row[0]

    def _sweep(self) -> None:
        """Rebuild the file without what was deleted and empty the log that still holds it.

        secure_delete alone leaves copies that SQLite made when it moved rows between pages.
        """
        self._db.execute("VACUUM")
        if self._pragma("wal_checkpoint(TRUNCATE)"):
            raise sqlite3.OperationalError("another program is reading")
        self._pragma("user_version = 0")

    def _answered(self, chat: str, message_id: str) -> str | None:
        row = self._db.execute(
            "SELECT reply FROM turns WHERE chat = :chat AND id = :id"
            " UNION ALL SELECT reply FROM forgotten WHERE key = :key",
            {"chat": chat, "id": message_id, "key": _key(chat, message_id)},
        ).fetchone()
        return row and str(row[0])

    def _moved(self, chat: str, seq: int, session: str | None, after: Standing) -> bool:
        if after.seq == 0:
            sql = "INSERT OR IGNORE INTO chats (chat, seq, session) VALUES (:chat, :seq, :session)"
        else:
            # the state is compared too: the chat may have been forgotten and reached this number again
            sql = (
                "UPDATE chats SET seq = :seq, session = :session"
                " WHERE chat = :chat AND seq = :after AND session IS :before"
            )
        values = {"chat": chat, "seq": seq, "session": session, "after": after.seq, "before": after.session}
        return self._db.execute(sql, values).rowcount == 1

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction that holds the right to write from its beginning."""
        with self._plainly():
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                self._db.rollback()
                raise

    @contextlib.contextmanager
    def _plainly(self, what: str = "") -> Iterator[None]:
        """Turn what the database or the file system raises into one plain line; one thread at a time."""
        try:
            with self._lock:
                yield
        except StoreError:
            raise
        except sqlite3.Error as error:
            code = getattr(error, "sqlite_errorcode", 0) & 0xFF
            raise self._error(*_FAULTS.get(code, (str(error), "Try again.")), what=what) from error
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise self._error(reason, "Choose another file by --store.", what=what) from error

    def _error(self, why: str, do: str, *, what: str = "") -> StoreError:
        return StoreError(f"the store {self.path}: {what + ': ' if what else ''}{why}. {do}")


def erase(rows: Rows, chat: str) -> None:
    """Delete every row of a chat; its bytes go with the next sweep."""
    forgotten.note(rows, chat)
    rows.execute("DELETE FROM turns WHERE chat = ?", [chat])
    rows.execute("DELETE FROM chats WHERE chat = ?", [chat])
    for table in tables.OF_A_BOAT:
        rows.execute(f"DELETE FROM {table} WHERE boat = ?", [chat])


def _key(chat: str, message_id: str) -> str:
    return hashlib.sha256(json.dumps([chat, message_id]).encode()).hexdigest()
