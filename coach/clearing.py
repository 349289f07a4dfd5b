"""Clearing the water: the ordered list with minutes for what is out."""

from __future__ import annotations

from collections.abc import Mapping

from coach.model import ClearStep, Rulebook, Scalar
from coach.wording import quantity


def minutes_for(step: ClearStep, facts: Mapping[str, Scalar]) -> float:
    """Minutes that a step takes with what is out; 0 where it falls away.

    What is not known is counted as out: a list that is too long is the safer one.
    """
    if step.only_if is not None and facts.get(step.only_if) is False:
        return 0.0
    times = facts.get(step.times, step.otherwise) if step.times is not None else 1.0
    return step.minutes * float(times)


def clearing_steps(book: Rulebook, facts: Mapping[str, Scalar]) -> tuple[str, list[str], str]:
    """Head, steps in order with their minutes, and the total in words."""
    timed = [(step, minutes_for(step, facts)) for step in book.clearing]
    text = book.texts
    items = [
        text["clear_step"].replace("{says}", step.says).replace("{minutes}", quantity_min(minutes))
        for step, minutes in timed
        if minutes > 0
    ]
    total = sum(minutes for _, minutes in timed)
    return text["clear_head"], items, text["clear_total"].replace("{minutes}", quantity_min(total))


def quantity_min(minutes: float) -> str:
    """Minutes as said: half a minute, 1 minute, 5 minutes (rounded up, so as not to promise too much)."""
    if minutes <= 0.5:
        return "half a minute"
    whole = -(-minutes // 1)
    return "1 minute" if whole == 1 else quantity(whole, "min")
