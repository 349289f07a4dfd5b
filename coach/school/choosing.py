"""What comes next for a learner: what is due, and new items that fit, topics mixed, help fading."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, time
from functools import lru_cache

from coach.school.bank import Bank
from coach.school.difficulty import chance_right
from coach.school.gate import open_topics
from coach.school.memory import memory_of
from coach.school.nights import STEPS
from coach.school.schedule import Plan
from coach.school.state import Learner

CASE, NEW_CASE = "case/", f"/{STEPS[1]}"
KINDS = ("clear", "hazard", "number", "case", "scene", "points", "shows", "two-hazards", "fix", "set")
"""The kinds of items in the order in which a topic brings them, then over again."""
_CANDIDATES = 8
ENOUGH_RECALLED = 10
"""So many items must have been asked again after days, before they say anything of a memory."""


def plan_of(bank: Bank, learner: Learner | None = None) -> Plan:
    """How a learner studies, as plan.toml says, and by how long this learner's memory lasts, once enough is
    known of it."""
    school = bank.kitchen.school
    recalled = learner.recalled if learner is not None else ()
    begin, end = (time.fromisoformat(at) for at in school.quiet)
    return Plan(
        cards_a_day=round(school.plan["day.items"]),
        new_a_day=round(school.plan["day.new"]),
        quiet=(begin, end),
        memory=_memory(recalled) if len(recalled) >= ENOUGH_RECALLED else 1.0,
    )


@lru_cache(maxsize=256)
def _memory(recalled: tuple[tuple[float, bool], ...]) -> float:
    return memory_of(recalled)


def todays(
    learner: Learner, bank: Bank, *, now: datetime, hardness: Mapping[str, float], more: bool = False
) -> tuple[str, ...]:
    """The items for now, in order. `more`: a round on top of the day's number."""
    known = {name: _topic(name, bank) for name in learner.cards if bank.item(name) is not None}
    fresh = list(fresh_items(learner, bank, hardness))
    topics = known | {name: _topic(name, bank) for name in fresh}
    plan = plan_of(bank, learner)
    if more:
        return tuple(fresh[: plan.cards_a_day // 2])
    return plan.due(learner.cards, now, topics, asked=True)


def _topic(name: str, bank: Bank) -> str:
    item = bank.item(name)
    return "" if item is None else item.topic


def fresh_items(learner: Learner, bank: Bank, hardness: Mapping[str, float]) -> Iterator[str]:
    """New items that can be asked, topic by topic in turn; of a case only the step that stands for it."""
    topics = open_topics(learner.tries, bank.kitchen.school)
    rows = {topic: _of_topic(topic, learner, bank, hardness) for topic in topics}
    given = 0
    while rows and given < _CANDIDATES:
        for topic in list(rows):
            name = next(rows[topic], None)
            if name is None:
                del rows[topic]
            else:
                given += 1
                yield name


def _of_topic(topic: str, learner: Learner, bank: Bank, hardness: Mapping[str, float]) -> Iterator[str]:
    """The topic's new items that can be made, kinds in turn, in each the best fitting first."""
    rows: dict[str, list[str]] = {}
    for name in bank.in_topic(topic):
        if name not in learner.cards and (not name.startswith(CASE) or name.endswith(NEW_CASE)):
            rows.setdefault(name.partition("/")[0], []).append(name)
    ability = learner.ability.get(topic, 0.0)
    wanted = bank.kitchen.school.plan["difficulty.wanted"]

    def fit(name: str) -> float:
        return abs(chance_right(ability, hardness.get(name, 0.0)) - wanted)

    order = [kind for kind in KINDS if kind in rows] + [kind for kind in rows if kind not in KINDS]
    made = {kind: _made(sorted(rows[kind], key=fit), bank) for kind in order}
    while made:
        for kind in list(made):
            found = next(made[kind], None)
            if found is None:
                del made[kind]
            else:
                yield found


def _made(names: Iterable[str], bank: Bank) -> Iterator[str]:
    return (name for name in names if bank.item(name) is not None)


# --- cases: first worked out, then fading help, then alone -------------------------------------------------


def steps_of(name: str, bank: Bank) -> list[str]:
    """The steps of an item's case that can be asked, in order."""
    head = name.rpartition("/")[0]
    return [f"{head}/{step}" for step in STEPS if bank.item(f"{head}/{step}") is not None]


def shown_steps(seen: int, bank: Bank) -> int:
    """How many steps of a new case are worked out for somebody who has seen so many of the topic."""
    plan = bank.kitchen.school.plan
    if seen < plan["stages.faded_from"]:
        return len(STEPS) - 1
    return 1 if seen < plan["stages.alone_from"] else 0
