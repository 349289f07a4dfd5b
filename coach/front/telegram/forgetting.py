"""What goes when a chat is forgotten: beside the consultation also what its learner learned."""

from __future__ import annotations

from coach.front.telegram.case import Case
from coach.front.telegram.lessons import learner_of
from coach.post import crew, outbox, privacy
from coach.school import kept
from coach.store import Rows


def person(rows: Rows, case: Case) -> None:
    """Erase a person's words, name and counts from a boat that others are on; where it is a chat of one
    person, all that it left elsewhere, what was learned in it, and what waits to be sent to it."""
    privacy.forget_person(rows, case.boat, case.event.person)
    if not case.event.is_group:
        kept.forget(rows, learner_of(case.event.chat))
        privacy.forget_elsewhere(rows, case.event.chat, case.event.person, but=case.boat)
        outbox.drop(rows, case.event.chat)
        crew.leave(rows, case.event.chat)


def boat(rows: Rows, case: Case) -> None:
    """Her boat was erased: what stands beside it goes as well, and what this chat left on others. What the
    others aboard have learned is theirs."""
    if crew.phones_of(rows, case.boat) == [case.event.chat]:
        privacy.forget_elsewhere(rows, case.event.chat, case.event.person, but=case.boat)
    if not case.event.is_group:
        kept.forget(rows, learner_of(case.event.chat))
    privacy.forget_boat(rows, case.boat)
