"""Simulated learners: published memory models that are not the scheduler's.

A learner has true memories that no way of studying sees; it sees only right and wrong. What the
publications leave open (how much rereading helps, how people differ, how a first lesson maps on the model)
is an assumption and named where it stands. Nothing here is the product.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from random import Random
from typing import NamedTuple, Protocol

from coach.school.cards import Grade

LEARN_S, RIGHT_S, WRONG_S = 20.0, 10.0, 50.0
"""Seconds for a new item, for an answer that is right, for one that is wrong with its explanation: costs in
the simulator of `fsrs-optimizer` (READ as an excerpt: learn 20, good 10, forget 50); Ye 2022 has the same
proportions, 6 to 3 to 15 (READ). Rereading an item takes as long as reading it first (assumption)."""

REREAD_GAIN = 0.5
"""Rereading lengthens a memory by this share of what recalling does: recall after a week 42 against 56 %
(Roediger & Karpicke 2006, MEMORY) at a threefold gain. A later experiment found no gain at all for what is
already recalled (Karpicke & Roediger 2007, abstract READ): 0 is tried as well."""


class Memory(Protocol):
    """One learner's true memory of one item; times in days."""

    def first(self, at: float) -> Grade:
        """Meet the item; the grade of the try before it is explained."""

    def recall(self, at: float) -> float:
        """The chance to recall it; 0 before it was met."""

    def answer(self, at: float, *, right: bool) -> None:
        """It was asked, answered and explained."""

    def reread(self, at: float, *, gain: float) -> None:
        """It was read again without being asked."""


class HalfLife:
    """Difficulty, half-life, recall: Ye, Su & Cao 2022 (KDD), "A Stochastic Shortest Path Algorithm for
    Optimizing Spaced Repetition Scheduling". Formulas, parameters and the spread of difficulties are those of
    the authors' published simulator (READ). Forgetting is exponential, unlike the scheduler's.
    """

    SHARES = (0.06, 0.15, 0.26, 0.40, 0.54, 0.67, 0.78, 0.88, 0.95, 1.0)

    def __init__(self, people: Random, strength: float) -> None:
        drawn = people.random()
        self.difficulty = 1 + next(at for at, share in enumerate(self.SHARES) if drawn <= share)
        self.strength, self.half_life, self.last = strength, 0.0, 0.0

    def first(self, at: float) -> Grade:
        recalled_next_day = max(0.925 - 0.05 * self.difficulty, 0.025)
        self.half_life, self.last = -self.strength / math.log2(recalled_next_day), at
        return Grade.AGAIN

    def recall(self, at: float) -> float:
        return 2 ** (-(at - self.last) / self.half_life) if self.half_life else 0.0

    def _grown(self, at: float) -> float:
        usual, forgotten = self.half_life / self.strength, 1 - self.recall(at)
        gain = math.exp(3.80863264) * self.difficulty**-0.53420593 * usual**-0.127362 * forgotten**0.9678043
        return self.half_life * (1 + gain)

    def _shrunk(self, at: float) -> float:
        usual, forgotten = self.half_life / self.strength, max(1 - self.recall(at), 1e-3)
        shrunk = math.exp(-0.04158382) * self.difficulty**-0.04067209 * usual**0.37745957
        return self.strength * shrunk * float(forgotten**-0.22724425)

    def answer(self, at: float, *, right: bool) -> None:
        self.half_life = self._grown(at) if right else self._shrunk(at)
        self.difficulty += 0 if right else min(2, 18 - self.difficulty)
        self.last = at

    def reread(self, at: float, *, gain: float) -> None:
        known = self.recall(at)
        grown = self.half_life + gain * (self._grown(at) - self.half_life)
        self.half_life, self.last = known * grown + (1 - known) * self._shrunk(at), at


class Stability:
    """Difficulty, stability, retrievability with weights and curve of FSRS-4 (weights READ as an excerpt,
    formulas of its published description MEMORY): an older generation than the scheduler, fitted on other
    people. First grades as in the simulator of `fsrs-optimizer` (READ as an excerpt).
    """

    W = (0.4, 0.6, 2.4, 5.8, 4.93, 0.94, 0.86, 0.01, 1.49, 0.14, 0.94, 2.18, 0.05, 0.34, 1.26, 0.29, 2.61)
    FIRST = (0.15, 0.35, 0.95, 1.0)

    def __init__(self, people: Random, strength: float) -> None:
        drawn = people.random()
        self.begins = Grade(1 + next(at for at, share in enumerate(self.FIRST) if drawn <= share))
        self.difficulty = min(max(self.W[4] - (self.begins - 3) * self.W[5], 1), 10)
        self.strength, self.stability, self.last = strength, 0.0, 0.0

    def first(self, at: float) -> Grade:
        self.stability, self.last = self.W[self.begins - 1] * self.strength, at
        return self.begins

    def recall(self, at: float) -> float:
        return 1 / (1 + (at - self.last) / (9 * self.stability)) if self.stability else 0.0

    def _grown(self, at: float) -> float:
        w, usual = self.W, self.stability / self.strength
        late = math.expm1(w[10] * (1 - self.recall(at)))
        return self.stability * (1 + math.exp(w[8]) * (11 - self.difficulty) * usual ** -w[9] * late)

    def _shrunk(self, at: float) -> float:
        w, usual = self.W, self.stability / self.strength
        late = math.exp(w[14] * (1 - self.recall(at)))
        return self.strength * min(
            w[11] * self.difficulty ** -w[12] * ((usual + 1) ** w[13] - 1) * late, usual
        )

    def answer(self, at: float, *, right: bool) -> None:
        self.stability = self._grown(at) if right else self._shrunk(at)
        harder = self.difficulty + (0 if right else 2 * self.W[6])
        self.difficulty = min(max(self.W[7] * self.W[4] + (1 - self.W[7]) * harder, 1), 10)
        self.last = at

    def reread(self, at: float, *, gain: float) -> None:
        known = self.recall(at)
        grown = self.stability + gain * (self._grown(at) - self.stability)
        self.stability, self.last = known * grown + (1 - known) * self._shrunk(at), at


class Activation:
    """Traces that decay by powers, the faster the more active the item was when they were laid: Pavlik &
    Anderson 2005 (Cognitive Science 29, 559-586; formulas READ in a thesis' account, parameters MEMORY).
    It knows no stability and no difficulty: the mismatched model. Assumptions: a lesson or an explanation
    lays three traces ten seconds apart; rereading lays one of smaller weight; items ease by EASE, so that the
    usual item is recalled by two in three the day after its lesson, as with HalfLife.
    """

    DECAY, SCALE, THRESHOLD, NOISE, SLOW = 0.177, 0.217, -0.704, 0.255, 0.025
    TRACES, EASE = 3, 0.43

    def __init__(self, people: Random, strength: float) -> None:
        self.traces: list[tuple[float, float, float]] = []
        self.shift = self.EASE + 0.5 * math.log(strength) + people.gauss(0, 0.3)

    def _activation(self, at_s: float) -> float:
        return math.log(sum(weight * max(at_s - laid, 1.0) ** -decay for laid, decay, weight in self.traces))

    def _study(self, at: float, times: int, weight: float = 1.0) -> None:
        for k in range(times):
            at_s = at * 86400 * self.SLOW + 10 * k
            active = math.exp(self._activation(at_s)) if self.traces else 0.0
            self.traces.append((at_s, self.SCALE * active + self.DECAY, weight))

    def first(self, at: float) -> Grade:
        self._study(at, self.TRACES)
        return Grade.AGAIN

    def recall(self, at: float) -> float:
        if not self.traces:
            return 0.0
        active = self._activation(at * 86400 * self.SLOW + 40) + self.shift
        return 1 / (1 + math.exp((self.THRESHOLD - active) / self.NOISE))

    def answer(self, at: float, *, right: bool) -> None:
        self._study(at, 1 if right else self.TRACES)

    def reread(self, at: float, *, gain: float) -> None:
        if gain:
            self._study(at, 1, gain)


Model = Callable[[Random, float], Memory]
MODELS: Mapping[str, Model] = {
    "half-life (Ye 2022)": HalfLife,
    "stability (FSRS-4)": Stability,
    "activation (Pavlik 2005)": Activation,
}


class Review(NamedTuple):
    """One answer: the days it was planned to wait, whether it was right."""

    planned_days: float
    right: bool


@dataclass
class Learner:
    """One person at the school: true memories, what was spent and answered. The seed gives the person, the
    answers and the times of the sittings; people's strengths are log-normal around 1 (assumption)."""

    model: Model
    seed: int
    items: int = 200
    minutes_a_day: float = 5.0
    spread: float = 0.4
    off_h: float = 1.5
    reread_gain: float = REREAD_GAIN
    wrong_s: float = WRONG_S
    memories: list[Memory] = field(init=False)
    met: int = 0
    spent_s: float = 0.0
    today_s: float = 0.0
    reviews: list[Review] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.dice, people = Random(f"answers {self.seed}"), Random(f"people {self.seed}")
        strength = math.exp(people.gauss(0, self.spread))
        self.memories = [self.model(people, strength) for _ in range(self.items)]

    def evenings(self, days: int) -> Iterator[float]:
        """The time of each day's sitting [days]: the same hour, more or less."""
        times = Random(f"times {self.seed}")
        for day in range(days):
            self.today_s = 0.0
            yield day + times.uniform(-self.off_h, self.off_h) / 24

    @property
    def has_time(self) -> bool:
        return self.today_s < 60 * self.minutes_a_day

    def spend(self, seconds: float) -> None:
        """Use up time of today."""
        self.today_s += seconds
        self.spent_s += seconds

    def meet(self, item: int, at: float) -> Grade:
        self.spend(LEARN_S)
        self.met += 1
        return self.memories[item].first(at)

    def ask(self, item: int, at: float, *, planned_days: float) -> bool:
        memory = self.memories[item]
        right = self.dice.random() < memory.recall(at)
        memory.answer(at, right=right)
        self.spend(RIGHT_S if right else self.wrong_s)
        self.reviews.append(Review(planned_days, right))
        return right

    def read(self, item: int, at: float) -> None:
        self.spend(LEARN_S)
        self.memories[item].reread(at, gain=self.reread_gain)

    def kept(self, at: float) -> float:
        """Items that would be recalled at a time, in expectation."""
        return sum(memory.recall(at) for memory in self.memories)
