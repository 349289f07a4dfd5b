"""Ways to study for simulated learners, what becomes of them, and classes with items of known difficulty."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random
from typing import NamedTuple

import numpy as np
from sim_learners import LEARN_S, Learner, Model

from coach.school.difficulty import FirstAnswer, chance_right, sure_weights
from coach.school.memory import memory_of
from coach.school.schedule import CardState, Grade, Plan, retaught

START = datetime(2026, 6, 1, 20, 0, tzinfo=UTC)
DAY = timedelta(days=1)
SEED = 1000
Way = Callable[[Learner, int], None]
"""Study for some days."""


def answered(plan: Plan, marks: list[Grade], *, start: datetime = START) -> Iterator[CardState]:
    """The card after each answer, every one given when due."""
    card, now = None, start
    for grade in marks:
        card = plan.after(card, grade, now)
        yield card
        now = card.due_at


def by_plan(plan: Plan, *, steered: bool = False) -> Way:
    """What the plan says, as far as the day's minutes go; `steered`: it is told the memory as it shows."""

    def study(learner: Learner, days: int) -> None:
        sitting = _Sitting(learner, plan)
        for at in learner.evenings(days):
            if steered:
                sitting.steer()
            sitting.hold(START + at * DAY)

    return study


class _Sitting:
    """A learner before the plan."""

    def __init__(self, learner: Learner, plan: Plan) -> None:
        self.learner, self.plan, self.usual = learner, plan, replace(plan, memory=1.0)
        self.cards: dict[str, CardState] = {}
        self.topics = {str(item): f"topic {item % 8}" for item in range(learner.items)}
        self.seen: list[tuple[float, bool]] = []

    def steer(self) -> None:
        if len(self.seen) >= 10:
            self.plan = replace(self.plan, memory=memory_of(self.seen))

    def hold(self, now: datetime) -> None:
        self._teach_anew()
        end = now + timedelta(hours=1)
        while self.learner.has_time and now < end:
            for item in self.plan.due(self.cards, now, self.topics):
                if self.learner.has_time:
                    self._take(item, now)
                    now += timedelta(seconds=15)
            soon = [c.due_at for c in self.cards.values() if now < c.due_at < end and c.step is not None]
            now = min(soon, default=end)

    def _teach_anew(self) -> None:
        """Stuck items are explained again, which here costs time and helps nothing (assumption)."""
        for item, card in self.cards.items():
            if self.plan.is_stuck(card) and self.learner.has_time:
                self.learner.spend(LEARN_S)
                self.cards[item] = retaught(card)

    def _take(self, item: str, now: datetime) -> None:
        card, at = self.cards.get(item), (now - START) / DAY
        if card is None:
            grade = self.learner.meet(int(item), at)
        else:
            foretold = self.usual.recall(card, now)
            planned_days = (card.due_at - card.last_at) / DAY
            right = self.learner.ask(int(item), at, planned_days=planned_days)
            grade = Grade.GOOD if right else Grade.AGAIN
            if planned_days >= 1.5:
                self.seen.append((foretold, right))
        self.cards[item] = self.plan.after(card, grade, now)


def by_ladder(rungs: tuple[float, ...], *, new_a_day: int, reading: bool = False, back: bool = False) -> Way:
    """Days set beforehand: up a rung each time, the last one repeats. One rung is the fixed interval.

    `back`: a wrong answer leads to the first rung, so that the ladder answers to the learner. `reading`:
    items are read again instead of asked.
    """

    def study(learner: Learner, days: int) -> None:
        due: dict[int, float] = {}
        rung: dict[int, int] = {}
        for at in learner.evenings(days):
            for _, item in sorted((when, item) for item, when in due.items() if when <= at + 0.25):
                if learner.has_time:
                    right = _again(learner, item, at, planned_days=rungs[rung[item]], reading=reading)
                    rung[item] = 0 if back and not right else min(rung[item] + 1, len(rungs) - 1)
                    due[item] = at + rungs[rung[item]]
            for item in range(learner.met, min(learner.met + new_a_day, learner.items)):
                if learner.has_time:
                    learner.meet(item, at)
                    rung[item], due[item] = 0, at + rungs[0]

    return study


def _again(learner: Learner, item: int, at: float, *, planned_days: float, reading: bool) -> bool:
    if not reading:
        return learner.ask(item, at, planned_days=planned_days)
    learner.read(item, at)
    return True


def by_mind_reading(aim: float, *, new_a_day: int) -> Way:
    """What no program can do: the true chances of recall are known, and what is below is asked."""

    def study(learner: Learner, days: int) -> None:
        for at in learner.evenings(days):
            weak = sorted(
                ((chance, item) for item in range(learner.met)
                 if (chance := learner.memories[item].recall(at)) < aim),
                reverse=True,
            )  # fmt: skip
            for _, item in weak:
                if learner.has_time:
                    learner.ask(item, at, planned_days=2)
            for item in range(learner.met, min(learner.met + new_a_day, learner.items)):
                if learner.has_time:
                    learner.meet(item, at)

    return study


# --- what becomes of them -----------------------------------------------------------------------------------


class Outcome(NamedTuple):
    """What became of the learners one by one: kept, kept a week later, met, minutes; their answers."""

    kept: np.ndarray
    later: np.ndarray
    met: np.ndarray
    minutes: np.ndarray
    asked: np.ndarray
    right: np.ndarray
    chosen: np.ndarray
    chosen_right: np.ndarray

    def per_minute(self, who: np.ndarray) -> float:
        return float(self.kept[who].sum() / self.minutes[who].sum())

    def share(self, who: np.ndarray) -> float:
        return float(self.kept[who].sum() / self.met[who].sum())

    def retention(self, who: np.ndarray) -> float:
        """Share right where the plan could choose the day: planned for two days or more."""
        return float(self.chosen_right[who].sum() / max(self.chosen[who].sum(), 1))


def studied(way: Way, model: Model, learners: int, *, days: int = 30, **person: float) -> Outcome:
    """What becomes of so many learners, with seeds from SEED on."""
    rows = []
    for seed in range(SEED, SEED + learners):
        one = Learner(model, seed, **person)  # type: ignore[arg-type]
        way(one, days)
        chosen = [review for review in one.reviews if review.planned_days >= 1.5]
        rows.append((
            one.kept(days), one.kept(days + 7), one.met, one.spent_s / 60,
            len(one.reviews), sum(review.right for review in one.reviews),
            len(chosen), sum(review.right for review in chosen),
        ))  # fmt: skip
    return Outcome(*np.array(rows, dtype=float).T)


def at_the_same_share(fixed: Sequence[Outcome], share: float, who: np.ndarray) -> float:
    """Kept per minute by the fixed interval that keeps this share, between the two that lie around it."""
    points = sorted((one.share(who), one.per_minute(who)) for one in fixed)
    return float(np.interp(share, [x for x, _ in points], [y for _, y in points]))


WEIGHTS = sure_weights({"guess": 0.4, "fairly": 0.7, "certain": 0.95})
"""As the shipped plan promises."""

# --- items of known difficulty ------------------------------------------------------------------------------


def sure_class_of(
    each: int, seed: int, *, spread: float, guess: float, blur: float, bias: float
) -> tuple[list[FirstAnswer], list[FirstAnswer], dict[str, float], dict[str, float]]:
    """The same first answers bare and weighed by how sure was said, the true difficulties and abilities.

    An assumption, no measurement: what one says follows what one knew [logits], blurred by normal errors of
    deviation `blur`, and off by a habit of one's own of deviation `bias`; "a guess" below 0, "certain" from
    1.5 on.
    """
    dice = Random(seed)
    hard = {f"i{k}": dice.gauss(0, spread) for k in range(60)}
    able = {f"p{k}": dice.gauss(0, 1) for k in range(max(40, each))}
    habit = {who: dice.gauss(0, bias) for who in able}
    bare, weighed = [], []
    for item, logits in hard.items():
        for who in dice.sample(sorted(able), each):
            odds = dice.random()
            knew = able[who] - logits + math.log(odds / (1 - odds))
            said = knew + habit[who] + dice.gauss(0, blur)
            right = knew > 0 or dice.random() < guess
            weight = WEIGHTS["guess" if said < 0 else "fairly" if said < 1.5 else "certain"]
            bare.append(FirstAnswer(who, item, float(right)))
            weighed.append(FirstAnswer(who, item, weight if right else 0.0))
    return bare, weighed, hard, able


def class_of(
    each: int, seed: int, *, spread: float, guess: float
) -> tuple[list[FirstAnswer], dict[str, float]]:
    dice = Random(seed)
    hard = {f"i{k}": dice.gauss(0, spread) for k in range(60)}
    able = {f"p{k}": dice.gauss(0, 1) for k in range(max(40, each))}
    return [
        FirstAnswer(who, item, dice.random() < chance_right(able[who], hard[item], guess=guess))
        for item in hard
        for who in dice.sample(sorted(able), each)
    ], hard
