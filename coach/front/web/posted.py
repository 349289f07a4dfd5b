"""What a browser sends: one thing to do, in one small JSON object."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from coach import exchange
from coach.exchange import TEXT_LIMIT, Refused

BODY_LIMIT = 16_000
"""Most bytes of a body: the longest text that is read, each sign written out."""
AGE_LIMIT_S = 12 * 3600.0
"""How long a message may have waited in a browser for its connection and still count as said then."""

Do = Literal[
    "say", "pick", "unknown", "command", "count", "uncount", "bell", "found", "helped", "place", "here",
    "draft", "battery", "learn", "answer", "sign",
]  # fmt: skip
_ID = Annotated[str, StringConstraints(pattern=re.compile(r"^[A-Za-z0-9-]{8,64}\Z"))]


class Posted(BaseModel):
    """One thing to do.

    `id` is the browser's own: the same id again does nothing again. `age_s` [s] is how long it waited
    for a connection. `about` is what it refers to: the token of an open question, or a bell's number.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    id: _ID
    do: Do
    what: str = ""
    about: str = Field("", max_length=32)
    age_s: float = Field(0.0, ge=0, allow_inf_nan=False)


def read_posted(body: bytes) -> Posted:
    """Read a body. Raises Refused, with a code and what to say about it."""
    given = exchange.decoded(body)
    try:
        posted = Posted.model_validate(given)
    except ValidationError as error:
        fault = error.errors(include_input=False, include_url=False)[0]
        where = ".".join(str(part)[:20] for part in fault["loc"])
        raise Refused("bad-message", f"{exchange.shown(where)}: {fault['msg']}.") from None
    exchange.plain(posted.what, "the text", TEXT_LIMIT, "\t\n\r")
    exchange.plain(posted.about, "'about'", 32)
    return posted
