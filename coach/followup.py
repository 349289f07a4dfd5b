"""After the verdict: did the advice help, and what follows if it did not."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from coach.conversation import Outcome, Session
from coach.model import FollowUp, Scalar
from coach.wording import clock


def advised(
    session: Session,
    causes: tuple[str, ...],
    look_again_min: float | None,
    *,
    follow: FollowUp,
    now: datetime,
) -> Session:
    """The session after a verdict: what was named, when to look again, and the catch until then."""
    heard = session.facts.get(follow.catch)
    look = None if look_again_min is None or not causes else now + timedelta(minutes=look_again_min)
    return session.model_copy(
        update={
            "asking": None,
            "concluded": True,
            "named": causes,
            "advised_at": now.isoformat(),
            "look_again_at": look.isoformat() if look else None,
            "spent": len(session.asked),
            "catch_before": float(heard.value) if heard is not None else None,
        }
    )


def is_due(session: Session, follow: FollowUp, *, now: datetime) -> bool:
    """Whether it is time to ask if the advice helped."""
    if session.look_again_at is None or not session.concluded or follow.ask in session.unknown:
        return False
    return now >= datetime.fromisoformat(session.look_again_at)


def answered(session: Session, answer: Scalar, follow: FollowUp, *, now: datetime) -> Session:
    """The session after "did it help?": the outcome kept, a cause that was not it set aside.

    Too early to say leaves the advice standing.
    """
    session = unasked(session, follow)
    update: dict[str, Any] = {}
    if answer in (follow.yes, follow.no) and session.named:
        helped = answer == follow.yes
        update["outcomes"] = (*session.outcomes, _outcome(session, helped, follow, now))
        update["look_again_at"] = None
        if not helped:
            update["tried"] = (*session.tried, *session.named)
            update["named"] = ()
            update["concluded"] = False
    return session.model_copy(update=update)


def unasked(session: Session, follow: FollowUp) -> Session:
    """The session without the question whether advice helped: it is put anew for each advice."""
    facts = {name: heard for name, heard in session.facts.items() if name != follow.ask}
    asked = tuple(name for name in session.asked if name != follow.ask)
    asking = None if session.asking == follow.ask else session.asking
    return session.model_copy(update={"facts": facts, "asked": asked, "asking": asking})


def wait_until(session: Session, *, now: datetime, pause_min: float) -> tuple[Session, str]:
    """Put the question off; the session and the time in words."""
    until = now + timedelta(minutes=pause_min)
    return session.model_copy(update={"look_again_at": until.isoformat()}), clock(until)


def tried_facts(session: Session) -> Mapping[str, Scalar]:
    """What the rules are told of advice that did not help."""
    return {f"tried.{cause}": True for cause in session.tried}


def _outcome(session: Session, helped: bool, follow: FollowUp, now: datetime) -> Outcome:
    heard = session.facts.get(follow.catch)
    count = float(heard.value) if heard is not None else None
    advised_at = session.advised_at or now.isoformat()
    is_new = heard is not None and datetime.fromisoformat(heard.at) > datetime.fromisoformat(advised_at)
    return Outcome(
        causes=session.named,
        advised_at=advised_at,
        answered_at=now.isoformat(),
        helped=helped,
        before_per_10min=session.catch_before if is_new else count,
        after_per_10min=count if is_new else None,
    )
