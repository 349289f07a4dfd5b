"""The tables of the store, step by step as they came to be: chats and turns, the bot's post, what rings.

All stand in one file, so that a turn and all that follows from it are one transaction. A `boat` is
what a chat of the core is called; a `chat` is a place where people write to it.
"""

from __future__ import annotations

STEPS: dict[str, tuple[str, ...]] = {
    "0001-chats-and-turns": (
        "CREATE TABLE chats (chat TEXT PRIMARY KEY, seq INTEGER NOT NULL, session TEXT) STRICT",
        "CREATE TABLE turns (chat TEXT NOT NULL, seq INTEGER NOT NULL, id TEXT, at TEXT NOT NULL, said TEXT,"
        " understood TEXT NOT NULL, fired TEXT NOT NULL, reply TEXT NOT NULL, rules TEXT NOT NULL,"
        " PRIMARY KEY (chat, seq)) STRICT",
        "CREATE UNIQUE INDEX turn_ids ON turns (chat, id) WHERE id IS NOT NULL",
    ),
    "0002-forgotten": ("CREATE TABLE forgotten (key TEXT PRIMARY KEY, reply TEXT NOT NULL) STRICT",),
    "0003-post": (
        # an update as received; `event` is emptied once it was handled, the number stays
        "CREATE TABLE inbox (update_id INTEGER PRIMARY KEY, chat TEXT, at REAL NOT NULL, event TEXT) STRICT",
        "CREATE INDEX inbox_waiting ON inbox (update_id) WHERE event IS NOT NULL",
        # what is still to be sent, in order; a row goes once it was sent
        "CREATE TABLE outbox (id INTEGER PRIMARY KEY AUTOINCREMENT, chat TEXT NOT NULL, kind TEXT NOT NULL,"
        " message_id INTEGER, body TEXT NOT NULL, due_at REAL) STRICT",
        # what rings and when; `state` is waiting, rung or done
        "CREATE TABLE due (id INTEGER PRIMARY KEY AUTOINCREMENT, boat TEXT NOT NULL, key TEXT NOT NULL,"
        " kind TEXT NOT NULL, at REAL NOT NULL, say TEXT NOT NULL, state TEXT NOT NULL) STRICT",
        "CREATE UNIQUE INDEX due_keys ON due (boat, key)",
        "CREATE INDEX due_waiting ON due (at) WHERE state = 'waiting'",
        # which boat a chat is on; its latest message; whether it was greeted
        "CREATE TABLE phones (chat TEXT PRIMARY KEY, boat TEXT NOT NULL, latest INTEGER NOT NULL,"
        " is_group INTEGER NOT NULL) STRICT",
        "CREATE INDEX phones_of ON phones (boat)",
        "CREATE TABLE codes (code TEXT PRIMARY KEY, boat TEXT NOT NULL, until REAL NOT NULL) STRICT",
        "CREATE TABLE crew (boat TEXT NOT NULL, person TEXT NOT NULL, name TEXT NOT NULL, side TEXT,"
        " PRIMARY KEY (boat, person)) STRICT",
        "CREATE TABLE aboard (boat TEXT NOT NULL, name TEXT NOT NULL, value TEXT NOT NULL,"
        " PRIMARY KEY (boat, name)) STRICT",
        "CREATE TABLE counts (id INTEGER PRIMARY KEY AUTOINCREMENT, boat TEXT NOT NULL, at REAL NOT NULL,"
        " person TEXT NOT NULL, dipper TEXT NOT NULL, side TEXT NOT NULL, amount REAL NOT NULL,"
        " unit TEXT NOT NULL, batch INTEGER NOT NULL) STRICT",
        "CREATE INDEX counts_of ON counts (boat, id)",
        # who said a turn, so that nobody exports or keeps another's words
        "CREATE TABLE authors (boat TEXT NOT NULL, turn TEXT NOT NULL, person TEXT NOT NULL,"
        " PRIMARY KEY (boat, turn)) STRICT",
    ),
    "0004-trips": (
        # what a turn changed, so that the log can leave out what was taken back
        "ALTER TABLE turns ADD COLUMN changed TEXT NOT NULL DEFAULT '{}'",
        # where a boat is from a time on, rounded
        "CREATE TABLE places (boat TEXT NOT NULL, at TEXT NOT NULL, name TEXT NOT NULL, lat_deg REAL,"
        " lon_deg REAL, PRIMARY KEY (boat, at)) STRICT",
        # trips brought from an export
        "CREATE TABLE brought (boat TEXT NOT NULL, start TEXT NOT NULL, body TEXT NOT NULL,"
        " PRIMARY KEY (boat, start)) STRICT",
    ),
    "0005-berths": (
        # the boats that a chat was on; `own` is 1 for one that was made for it
        "CREATE TABLE berths (chat TEXT NOT NULL, boat TEXT NOT NULL, own INTEGER NOT NULL,"
        " PRIMARY KEY (chat, boat)) STRICT",
        "INSERT INTO berths (chat, boat, own) SELECT chat, boat, 1 FROM phones",
    ),
    "0006-school": (
        # where a learner stands, as JSON; a learner has the name of a chat, and is forgotten with it
        "CREATE TABLE learners (boat TEXT PRIMARY KEY, at TEXT NOT NULL, state TEXT NOT NULL,"
        " play TEXT) STRICT",
        "CREATE TABLE lessons (boat TEXT NOT NULL, seq INTEGER NOT NULL, at TEXT NOT NULL,"
        " item TEXT NOT NULL, topic TEXT NOT NULL, picked TEXT NOT NULL, is_right INTEGER NOT NULL,"
        " is_first INTEGER NOT NULL,"
        " sure TEXT, hints INTEGER NOT NULL, shown INTEGER NOT NULL, PRIMARY KEY (boat, seq)) STRICT",
        # what a captain has signed
        "CREATE TABLE signed (boat TEXT NOT NULL, topic TEXT NOT NULL, by TEXT NOT NULL, at TEXT NOT NULL,"
        " PRIMARY KEY (boat, topic)) STRICT",
    ),
    "0007-browsers": (
        # which boat a browser writes for; `key` is a hash of what the browser shows to be let in
        "CREATE TABLE browsers (key TEXT PRIMARY KEY, boat TEXT NOT NULL, at REAL NOT NULL) STRICT",
        # what a browser sent beside the consultation: a hash of boat and message id, to know a repeat
        "CREATE TABLE deeds (key TEXT PRIMARY KEY, at REAL NOT NULL) STRICT",
    ),
}
"""Statements by the name of the step; a step never changes once it was released."""

OF_A_BOAT = (
    "due",
    "codes",
    "crew",
    "aboard",
    "counts",
    "authors",
    "places",
    "brought",
    "berths",
    "learners",
    "lessons",
    "signed",
)
"""The tables whose rows go when a boat is forgotten."""
