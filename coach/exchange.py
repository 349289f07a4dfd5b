"""The exchanged form, version 1: one JSON object in, one line of JSON out.

In, exactly one of text, pick, facts, command:
    {"chat": NAME, "text" | "pick" | "facts" | "command": ..., "at": TIME?, "id": ID?}
Out, always with every key:
    {"v": 1, "chat", "say", "understood", "hazards", "ask", "verdict", "error"}

What is bad is answered, never raised: `error` is {"code", "say"}, the state is unchanged.
The codes of this module:
    bad-json     not one JSON object in UTF-8: broken, a key twice, too deep
    bad-message  the object lacks something, or a key has the wrong type
    unknown-key  a key that is not part of a message
    bad-value    NaN, Infinity or a huge number, half a character, a control character, a list, null
    bad-time     `at` is no ISO 8601 time with its zone
    bad-command  no such command
    too-long     more than TEXT_LIMIT characters of text, NAME_LIMIT of a name, LINE_LIMIT bytes
Others come from the dialogue itself (an answer out of range, a fact that does not exist) and from
`coach.consult` (store, old-state, internal).

Tabs and line ends are welcome in `text`; other control characters are refused. `at` and `id` may
be null, which is as good as absent.
"""

from __future__ import annotations

import difflib
import json
import math
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from coach.conversation import Block, Choice, Message, Question, Reply

VERSION = 1
TEXT_LIMIT = 2_000
NAME_LIMIT = 128
FACTS_LIMIT = 200
LINE_LIMIT = 16_000_000
COMMANDS = ("new", "why", "undo", "summary", "forget")
CONTENTS = ("text", "pick", "facts", "command")
KEYS = ("chat", *CONTENTS, "at", "id")
YEARS = (1970, 2199)
_DIGITS_LIMIT = 18
_SHOWN = 60


class Refused(ValueError):  # noqa: N818  (a refusal is an answer, not a failure)
    """What was sent is not a message; carries the code and what to say about it."""

    def __init__(self, code: str, say: str) -> None:
        self.code, self.say = code, say
        super().__init__(say)


@dataclass(frozen=True, slots=True)
class Envelope:
    """One line as received. If `refusal` (code, words) is set, there is no message, and chat and
    id are set as far as they could be read."""

    chat: str | None = None
    id: str | None = None
    message: Message | None = None
    at: datetime | None = None
    refusal: tuple[str, str] | None = None


def read(line: bytes) -> Envelope:
    """Read one line of at most LINE_LIMIT bytes. Never raises: what is bad is in `refusal`."""
    chat = message_id = None
    try:
        given = decoded(line)
        chat = _name(given, "chat")
        message_id = None if given.get("id") is None else _name(given, "id")
        refuse_unknown_keys(given, KEYS)
        return Envelope(chat, message_id, _message(given), clock(given.get("at")))
    except Refused as refused:
        return Envelope(chat, message_id, refusal=(refused.code, refused.say))


def write(chat: str | None, reply: Reply) -> str:
    """The reply as one line of pure ASCII, without its end. Raises ValueError on NaN or Infinity."""
    answer = {
        "v": VERSION,
        "chat": chat,
        "say": sentences(reply.blocks),
        "understood": dict(reply.understood),
        "hazards": [{"id": hazard, "say": say} for hazard, say in reply.hazards],
        "ask": None if reply.ask is None else asdict(reply.ask),
        "verdict": reply.verdict,
        "error": None if reply.error is None else {"code": reply.error[0], "say": reply.error[1]},
    }
    return json.dumps(answer, allow_nan=False)


def addressed(line: str, chat: str) -> str:
    """An answer that was kept without its chat's name, with it."""
    return line.replace('"chat": null', f'"chat": {json.dumps(chat)}', 1)


def open_question(line: str | None) -> Question | None:
    """The question that an earlier answer left open."""
    ask = None if line is None else json.loads(line)["ask"]
    if ask is None:
        return None
    return Question(**{**ask, "options": tuple(Choice(**option) for option in ask["options"])})


def sentences(blocks: Iterable[Block]) -> list[str]:
    """What a person reads, in order. Warnings are left out: they stand in `hazards`."""
    said: list[str] = []
    for block in blocks:
        if block.kind != "warn":
            said += [block.text] if block.text else []
            said += items(block)
    return said


def items(block: Block) -> list[str]:
    """The items of a block with their marks: numbers where their order counts."""
    is_ordered = block.kind == "steps"
    return [f"{number}. {item}" if is_ordered else f"- {item}" for number, item in enumerate(block.items, 1)]


def decoded(line: bytes) -> dict[str, Any]:
    """The JSON object in a line. Raises Refused for anything else, however hostile."""
    if len(line) > LINE_LIMIT:
        raise Refused("too-long", f"A line may have at most {LINE_LIMIT} bytes.")
    try:
        given = json.loads(
            line.decode(),
            object_pairs_hook=_once_each,
            parse_int=_whole,
        )
    except UnicodeDecodeError as error:
        raise Refused("bad-json", f"Byte {error.start + 1} is not UTF-8. Send UTF-8.") from error
    except json.JSONDecodeError as error:
        say = f"This is not JSON: {error.msg} at character {error.pos + 1}. Send one object a line."
        raise Refused("bad-json", say) from error
    except RecursionError as error:
        raise Refused("bad-json", "This is nested too deeply to be a message.") from error
    if not isinstance(given, dict):
        raise Refused("bad-json", 'Send one JSON object a line, such as {"chat": "boat-7", "text": "..."}.')
    return given


def refuse_unknown_keys(given: Mapping[str, Any], known: tuple[str, ...]) -> None:
    """Raise Refused for a key that is not known, naming the nearest one."""
    for key in given:
        if key not in known:
            near = difflib.get_close_matches(key[:NAME_LIMIT], known, 1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            say = f"{shown(key)} is not part of a message.{hint} Known: {', '.join(known)}."
            raise Refused("unknown-key", say)


def clock(given: object) -> datetime | None:
    """The time in `at`. Raises Refused unless it is ISO 8601 with its zone, or absent."""
    if given is None:
        return None
    try:
        at = datetime.fromisoformat(given) if isinstance(given, str) else None
    except ValueError:
        at = None
    if at is None or at.tzinfo is None or not YEARS[0] <= at.year <= YEARS[1]:
        say = f"'at' is {shown(given)}. Send a time with its zone, such as 2027-02-11T21:05:00-05:00."
        raise Refused("bad-time", say)
    return at


def plain(text: str, what: str, limit: int, allowed: str = "") -> str:
    """The text itself. Raises Refused if it is too long or holds what no person types."""
    if len(text) > limit:
        raise Refused("too-long", f"{what} has {len(text)} characters; at most {limit} are read.")
    for character in text:
        kind = unicodedata.category(character)
        if kind == "Cs" or (kind == "Cc" and character not in allowed):
            say = f"{what} holds the character U+{ord(character):04X}, which is no text. Leave it out."
            raise Refused("bad-value", say)
    return text


def shown(value: object) -> str:
    """A short, safe picture of what was given, for an error."""
    if isinstance(value, dict | list):
        return "an object" if isinstance(value, dict) else "a list"
    text = ascii(value[:_SHOWN] if isinstance(value, str) else value)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 3] + "..."


def _name(given: Mapping[str, Any], key: str) -> str:
    name = given.get(key)
    if not isinstance(name, str) or not name.strip():
        found = "is missing" if key not in given else f"is {shown(name)}"
        raise Refused("bad-message", f"{key!r} {found}. It must be a text of 1 to {NAME_LIMIT} characters.")
    return plain(name, repr(key), NAME_LIMIT)


def _message(given: Mapping[str, Any]) -> Message:
    contents = [key for key in CONTENTS if key in given]
    if len(contents) != 1:
        found = " and ".join(contents) or "none"
        raise Refused("bad-message", f"Send exactly one of {', '.join(CONTENTS)}; this has {found}.")
    key = contents[0]
    return {"text": _text, "pick": _pick, "facts": _facts, "command": _command}[key](given[key])


def _text(value: object) -> Message:
    if not isinstance(value, str):
        raise Refused("bad-message", f"'text' is {shown(value)}. It must be a text.")
    return Message(text=plain(value, "'text'", TEXT_LIMIT, "\t\n\r"))


def _pick(value: object) -> Message:
    return Message(pick=_scalar(value, "'pick'"), has_pick=True)


def _facts(value: object) -> Message:
    if not isinstance(value, dict) or not 0 < len(value) <= FACTS_LIMIT:
        say = f"'facts' is {shown(value)}. It must be an object of 1 to {FACTS_LIMIT} names with values."
        raise Refused("bad-message", say)
    names = [plain(name, "a fact's name", NAME_LIMIT) for name in value]
    return Message(facts={name: _scalar(value[name], name) for name in names})


def _command(value: object) -> Message:
    if value not in COMMANDS:
        say = f"'command' is {shown(value)}. Known: {', '.join(COMMANDS)}."
        raise Refused("bad-command", say)
    return Message(command=str(value))


def _scalar(value: object, what: str) -> object:
    if isinstance(value, str):
        return plain(value, what, TEXT_LIMIT)
    if isinstance(value, bool | int | float) and math.isfinite(value):
        return value
    say = f"{what} is {shown(value)}. Send a number below 1e18, true, false or a text."
    raise Refused("bad-value", say)


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    given: dict[str, Any] = {}
    for key, value in pairs:
        if key in given:
            raise Refused("bad-json", f"The key {shown(key)} stands twice. Send it once.")
        given[key] = value
    return given


def _whole(digits: str) -> float:
    """A whole number; infinite if it is larger than anything that can be meant."""
    return int(digits) if len(digits) <= _DIGITS_LIMIT else math.inf
