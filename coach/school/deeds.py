"""Items about what to do once it is found, and about clearing the water in order."""

from __future__ import annotations

from coach.school.kitchen import Kitchen, dice
from coach.school.parts import Item, Slip
from coach.school.told import filled, large, small

_MOST = 3
_EASY = -0.6


# --- fixes -------------------------------------------------------------------------------------------------


def fix(cause: str, kitchen: Kitchen) -> Item | None:
    """A cause is found: what do you do?"""
    return _fix(cause, kitchen, backwards=False)


def fix_for(cause: str, kitchen: Kitchen) -> Item | None:
    """You are told to do this: for what?"""
    return _fix(cause, kitchen, backwards=True)


def _fix(cause: str, kitchen: Kitchen, *, backwards: bool) -> Item | None:
    rule = kitchen.doable.get(cause)
    if rule is None:
        return None
    actions, says = {c: kitchen.action(c) for c in kitchen.doable}, kitchen.book.causes
    others = sorted(
        (c for c in kitchen.doable if c != cause and actions[c] != actions[cause]),
        key=lambda c: (kitchen.topic_of_cause(c) != kitchen.topic_of_cause(cause), dice(cause, c, backwards)),
    )[:_MOST]
    wrong = {
        c: (
            large(says[c].says) if backwards else actions[c],
            filled(kitchen.text["slip_other_fix"], cause=says[c].says)
            if not backwards
            else f"{large(says[c].says)}: {actions[c]}",
            Slip("other", fact=f"named.{c}", value=True),
        )
        for c in others
    }
    right_text = large(says[cause].says) if backwards else actions[cause]
    ask = (
        filled(kitchen.text["ask_fix_for"], action=actions[cause])
        if backwards
        else filled(kitchen.text["ask_fix"], cause=says[cause].says)
    )
    name = kitchen.slips.name_of(rule.id)
    return kitchen.item(
        f"{'fix-for' if backwards else 'fix'}/{cause}",
        right_text,
        wrong,
        topic=kitchen.topic_of(name) or "",
        ask=ask,
        told=(),
        right=cause,
        because=(rule.because,),
        rules=(name,),
        judge="fix",
        about=cause,
        hardness=_EASY,
    )


# --- clearing the water ------------------------------------------------------------------------------------


def next_step(place: int, kitchen: Kitchen) -> Item | None:
    """Clearing the water: what comes next after so many steps?"""
    steps = [step.says for step in kitchen.book.clearing]
    if place >= len(steps) - LEAST_LEFT:
        return None
    later = range(place + 1, len(steps))
    wrong = {
        str(at): (
            steps[at],
            filled(kitchen.text["slip_later"], before="; ".join(small(s) for s in steps[place:at])),
            Slip("other", value=float(at)),
        )
        for at in list(later)[:_MOST]
    }
    done = "; ".join(small(step) for step in steps[:place])
    because = tuple(f"{number}. {step}" for number, step in enumerate(steps, 1))
    safety = next(name for name, rules in kitchen.rules.items() if rules[0].hazard)
    return kitchen.item(
        f"clear/{place + 1}",
        steps[place],
        wrong,
        think=(),
        topic=kitchen.topic_of(safety) or "",
        ask=filled(kitchen.text["ask_next_step"], done=done) if place else kitchen.text["ask_first_step"],
        told=(),
        right=str(place),
        because=because,
        rules=(),
        judge="next step",
        about=str(place),
        hardness=_EASY,
    )


LEAST_LEFT = 2
"""So many steps must be left to choose from."""
