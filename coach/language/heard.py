"""What an answer to the open question can be, and the little words round it."""

from __future__ import annotations

from dataclasses import dataclass

from coach.language.lexicon import Lexicon
from coach.language.match import first_end
from coach.language.scan import Held, Scan
from coach.model import Scalar

_CHANGING = frozenset({"not", "no", "never", "none", "nothing", "nobody", "hardly", "barely"})
"""Little words that turn an answer round."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What was answered. `is_unknown`: a plain don't know. `held`: the words it was read from.

    `is_guess`: taken from a telling word only, to be said back.
    """

    value: Scalar | None = None
    is_unknown: bool = False
    held: Held | None = None
    is_guess: bool = False


NOTHING = Answer()


def after_lead(scan: Scan, lexicon: Lexicon, *, start: int, end: int) -> int:
    """Where an answer starts, past "well", "I think" and the like."""
    at = start
    for _ in range(4):
        step = first_end(scan, lexicon.answers.lead, at=at) if at < end else None
        if step is None or step >= end:
            break
        at = step
    return at


def only_filler(scan: Scan, lexicon: Lexicon, *, start: int, end: int) -> bool:
    """True if the words from `start` to before `end` add nothing to an answer."""
    return all(
        word not in _CHANGING and (word in lexicon.filler or not word[0].isalnum())
        for word in scan.words[start:end]
    )
