"""Replays a night on the bot and gives it back as text. Rewrite all with

    python tests/bot_transcripts.py --write

and read the difference before keeping it. A transcript is plain text:

    # now TIME          the clock from there on; what is due on the way rings when it is due
    # off until TIME    the bot is stopped, and started again at that time
    > words             what the person writes
    > (Button)          what the person taps, on the latest message that has it
    < text              what the bot sends; "< [A] [B]" are its buttons, a row a line
    ~ text              a message that the bot turned into this one
    # anything else     a remark
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from boats import Harbour, Shown
from transcripts import rewrite

from coach import rulebook
from coach.plain import PlainEvaluator
from coach.store import Store

FOLDER = Path(__file__).parent.parent / "transcripts_demo" / "telegram"
CHAT = 7


def replay(script: str) -> str:
    """The transcript with the bot's lines as it sends them now."""
    book = rulebook.load()
    infer = PlainEvaluator(rulebook.clauses(book)).evaluate
    with tempfile.TemporaryDirectory() as folder:
        harbour = Harbour(Path(folder) / "a.db", book, infer)
        out: list[str] = []
        for line in script.splitlines():
            if line.startswith(("<", "~")):
                continue
            out.append(line)
            if line.startswith("# now "):
                out += shown(ring_until(harbour, _time(line)))
            elif line.startswith("# off until "):
                harbour.store.close()
                harbour.at = _time(line)
                harbour = reopened(harbour, Path(folder) / "a.db", book, infer)
                out += shown(harbour.later(0))
            elif line.startswith("> (") and line.endswith(")"):
                out += shown(harbour.tap(CHAT, line[3:-1]))
            elif line.startswith("> "):
                out += shown(harbour.say(CHAT, line[2:]))
        harbour.store.close()
    return "\n".join(out) + "\n"


def reopened(before: Harbour, path: Path, book: object, infer: object) -> Harbour:
    """The bot started again on its file; the phones show what they showed."""
    after = Harbour(Store(path), book, infer)  # type: ignore[arg-type]
    after.at, after.chats = before.at, before.chats
    after._updates, after._numbers = before._updates, before._numbers
    return after


def ring_until(harbour: Harbour, until: float) -> list[Shown]:
    """Let time go by; each bell rings within the second it is due."""
    rang: list[Shown] = []
    if CHAT not in harbour.chats:  # the night begins
        harbour.at = until
    while CHAT in harbour.chats:
        due_at = [each.at for each in harbour.bells(CHAT) if each.at <= until]
        if not due_at:
            break
        harbour.at = max(harbour.at, due_at[0])
        rang += harbour.later(0)
    harbour.at = max(harbour.at, until)
    return rang


def shown(messages: list[Shown]) -> Iterator[str]:
    for message in messages:
        mark = "~" if message.was else "<"
        yield from (f"{mark} {line}".rstrip() for line in message.text.splitlines())
        yield from (f"{mark} {' '.join(f'[{text}]' for text, _ in row)}" for row in message.rows)


def _time(line: str) -> float:
    return datetime.fromisoformat(line.rpartition(" ")[2]).timestamp()


if __name__ == "__main__":
    rewrite(FOLDER, replay)
