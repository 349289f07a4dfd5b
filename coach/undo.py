"""Going back: each turn leaves behind what it changed, so that it can be taken back."""

from __future__ import annotations

from typing import Any

from coach.conversation import Session

_STEPS_BACK = 100


def remember(before: Session, after: Session) -> Session:
    """The state after a turn, with what the turn changed kept for undo; unchanged if it changed nothing."""
    changed = _changed(before, after)
    if not changed:
        return after.model_copy(update={"past": before.past})
    return after.model_copy(update={"past": (*before.past, changed)[-_STEPS_BACK:]})


def take_back(session: Session) -> Session | None:
    """The state before the latest turn that changed anything; None if there is none."""
    if not session.past:
        return None
    state = session.model_dump(exclude={"past"})
    changed = dict(session.past[-1])
    for name, heard in changed.pop("facts", {}).items():
        if heard is None:
            state["facts"].pop(name, None)
        else:
            state["facts"][name] = heard
    return Session(**{**state, **changed, "past": session.past[:-1]})


def _changed(before: Session, after: Session) -> dict[str, Any]:
    """What was otherwise before: whole fields, and of the facts only those that changed."""
    old, new = before.model_dump(exclude={"past"}), after.model_dump(exclude={"past"})
    changed = {name: old[name] for name in old if name != "facts" and old[name] != new[name]}
    names = {
        n for n in old["facts"].keys() | new["facts"].keys() if old["facts"].get(n) != new["facts"].get(n)
    }
    if names:
        changed["facts"] = {name: old["facts"].get(name) for name in sorted(names)}
    return changed
