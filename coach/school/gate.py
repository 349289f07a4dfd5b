"""The gate of each topic: mastered when the latest first tries show it, surely enough; then others open.

First tries only, without help, and a lower bound instead of the bare share: a few lucky answers open nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from coach.figures.binomial import clopper_pearson
from coach.school.parts import School


@dataclass(frozen=True, slots=True)
class Gate:
    """How a topic stands: (first tries that count, right ones), the share that is at least surely right."""

    topic: str
    count: int
    right: int
    at_least: float
    mastered: bool
    is_open: bool


def gates(tries: Mapping[str, str], school: School) -> dict[str, Gate]:
    """Every topic with its gate, in order. `tries` as in `Learner.tries`.

    The bound is Clopper and Pearson's lower one, one-sided at the level of plan.toml.
    """
    found: dict[str, Gate] = {}
    for topic in school.topics.values():
        latest = tries.get(topic.id, "")[-round(school.plan["mastery.answers"]) :]
        right, count = latest.count("1"), len(latest)
        low, _ = clopper_pearson(right, count, level=2 * school.plan["mastery.level"] - 1)
        is_open = all(found[before].mastered for before in topic.after)
        mastered = low >= school.plan["mastery.share"]
        found[topic.id] = Gate(topic.id, count, right, low, mastered, is_open)
    return found


def open_topics(tries: Mapping[str, str], school: School) -> tuple[str, ...]:
    """The topics that are open, in order."""
    return tuple(name for name, gate in gates(tries, school).items() if gate.is_open)
