"""`coach read`: the language part alone, without any state. JSON lines in, JSON lines out.

In: {"asked": FACT or null, "text": WORDS, "at": TIME?}. Out: {"v": 1, "understood": {FACT: VALUE}}.
A plain "don't know" to the asked fact is the value "unknown". What is bad is answered with nothing
understood and "error": {"code", "say"}, with the codes of `coach.exchange`, or unknown-fact.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from coach import exchange
from coach.consult import prepared
from coach.exchange import Refused
from coach.front.talk import answers_only, lines, local_now, send
from coach.language import read
from coach.model import UNKNOWN, Fact, Rulebook, Scalar

KEYS = ("asked", "text", "at")


def serve(rules: Path | None = None) -> int:
    """Answer standard input until it ends; the exit code as for `coach talk`. Raises one of UNUSABLE."""
    book = prepared(rules)
    try:
        with answers_only() as out:
            for line in lines(sys.stdin.buffer):
                send(out, answered(line, book))
    except BrokenPipeError:
        return 1
    except KeyboardInterrupt:
        return 130
    return 0


def answered(line: bytes, book: Rulebook) -> str:
    """The line that answers a line. Never raises for what is in it."""
    answer: dict[str, Any] = {"v": exchange.VERSION, "understood": {}}
    try:
        answer["understood"] = understood(line, book)
    except Refused as refused:
        answer["error"] = {"code": refused.code, "say": refused.say}
    return json.dumps(answer, allow_nan=False)


def understood(line: bytes, book: Rulebook) -> dict[str, Scalar]:
    """The facts in a line. Raises Refused if the line is bad."""
    given = exchange.decoded(line)
    exchange.refuse_unknown_keys(given, KEYS)
    text, asked = given.get("text"), _asked(given.get("asked"), book)
    if not isinstance(text, str):
        raise Refused("bad-message", f"'text' is {exchange.shown(text)}. It must be a text.")
    text = exchange.plain(text, "'text'", exchange.TEXT_LIMIT, "\t\n\r")
    now = exchange.clock(given.get("at")) or local_now()
    reading = read(text, asked=asked, lexicon=book.lexicon, now=now)
    return {**reading.facts, **dict.fromkeys(reading.unknown, UNKNOWN)}


def _asked(name: object, book: Rulebook) -> Fact | None:
    if name is None:
        return None
    if not isinstance(name, str) or name not in book.facts or book.facts[name].origin != "asked":
        raise Refused("unknown-fact", f"There is no fact {exchange.shown(name)} that is asked for.")
    return book.facts[name]
