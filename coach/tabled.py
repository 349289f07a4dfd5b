"""The tide table of the place where a boat lies, among what a chat knows: bells and pictures go by it.

The core looks the table up anew in each turn and keeps none of it, so that it cannot grow old.
"""

from __future__ import annotations

from datetime import datetime

from coach.apparatus import apparatus
from coach.conversation import Heard, Session
from coach.model import Rulebook
from coach.places import WHERE
from coach.worked_out import STOOD_IN


def with_table(session: Session, book: Rulebook, *, now: datetime) -> Session:
    """The state with what stands in at `now` for what was not told at this place, such as its tide table."""
    if not all(name in session.facts for name in WHERE):
        return session
    given = {name: heard.value for name, heard in session.facts.items()}
    known = apparatus(book).figures.work_out(given, now=now)
    stood_in = str(known.get(STOOD_IN, "")).split()
    found = {name: Heard(value=known[name], at=now.isoformat()) for name in stood_in}
    return session.model_copy(update={"facts": {**session.facts, **found}}) if found else session
