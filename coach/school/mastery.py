"""What a learner holds, topic by topic; how good his memory is; whether his confidence fits. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from coach.school.cards import CardState
from coach.school.schedule import Plan
from coach.school.spacing import stretched

GATE = 0.9
"""A topic is mastered when so large a part of its items (rounded down) would be right, so surely."""
AHEAD_DAYS = 7.0
"""Right not only now but still after so many days: a topic must last until the next nights out."""
MEMORY_SPREAD = 1.0
"""Deviation of the logarithm of people's memories: an assumption, wide enough to learn from the answers."""
ENOUGH_TO_JUDGE = 10
"""Answers below which nothing is said about a learner's confidence."""

Level = Literal["new", "shaky", "mastered"]
Fit = Literal["too few", "fits", "overconfident", "underconfident"]


@dataclass(frozen=True, slots=True)
class Mastery:
    """How a topic stands: items there are, met, stuck; chances of recall averaged over all items (0 for one
    not met) now and `AHEAD_DAYS` later; how many would then be right with the assurance of GATE."""

    level: Level
    items: int
    met: int
    stuck: tuple[str, ...]
    recall: float
    recall_later: float
    sure_right: int


def mastery(
    cards: Mapping[str, CardState], now: datetime, topics: Mapping[str, str], plan: Plan
) -> dict[str, Mastery]:
    """How each topic stands, in the order of `topics` (item to topic)."""
    members: dict[str, list[str]] = {}
    for item, topic in topics.items():
        members.setdefault(topic, []).append(item)
    return {topic: _stands(items, cards, now, plan) for topic, items in members.items()}


def _stands(items: Sequence[str], cards: Mapping[str, CardState], now: datetime, plan: Plan) -> Mastery:
    met = {item: cards[item] for item in items if item in cards}
    later = now + timedelta(days=AHEAD_DAYS)
    chances = [plan.recall(card, later) for card in met.values()]
    sure = sure_right(chances, assurance=GATE)
    held = len(met) == len(items) and sure >= math.floor(GATE * len(items))
    return Mastery(
        level="mastered" if held else "shaky" if met else "new",
        items=len(items),
        met=len(met),
        stuck=tuple(item for item, card in met.items() if plan.is_stuck(card)),
        recall=sum(plan.recall(card, now) for card in met.values()) / len(items),
        recall_later=sum(chances) / len(items),
        sure_right=sure,
    )


def sure_right(chances: Sequence[float], *, assurance: float) -> int:
    """How many of independent answers with these chances are right at the least, with this assurance.

    The largest m with P(m or more right) at or above `assurance`, by the exact Poisson-binomial
    distribution (sum of unlike Bernoulli tries, computed by convolution).
    """
    exactly = [1.0]
    for chance in chances:
        grown = [share * (1 - chance) for share in exactly] + [0.0]
        for right, share in enumerate(exactly):
            grown[right + 1] += share * chance
        exactly = grown
    at_least = 0.0
    for right in range(len(chances), 0, -1):
        at_least += exactly[right]
        if at_least >= assurance:
            return right
    return 0


def memory_of(answers: Sequence[tuple[float, bool]], *, guess: float = 0.0) -> float:
    """A learner's memory as a multiple of the usual one, from (recall foretold, was it right?) pairs.

    What was foretold is `Plan().recall` with memory 1 just before each answer, of items that were to wait two
    days or more (the first days tell of the lesson); `guess` is the chance to be right without knowing.
    Highest posterior on a grid from 1/10 to 10, log-normal prior around 1 with deviation MEMORY_SPREAD, so
    that few answers say little.
    """
    grid = [10 ** (step / 20 - 1) for step in range(41)]

    def log_posterior(memory: float) -> float:
        total = -0.5 * (math.log(memory) / MEMORY_SPREAD) ** 2
        for foretold, right in answers:
            known = guess + (1 - guess) * stretched(max(foretold, 1e-3), memory)
            total += math.log(min(max(known if right else 1 - known, 1e-9), 1))
        return total

    return max(grid, key=log_posterior)


@dataclass(frozen=True, slots=True)
class Calibration:
    """How sure a learner said to be against how often he was right, and the parts of his Brier score:
    brier = reliability − resolution + uncertainty (Murphy 1973, MEMORY)."""

    answers: int
    said: float
    right: float
    brier: float
    reliability: float
    resolution: float
    uncertainty: float
    fit: Fit

    @property
    def bias(self) -> float:
        """Said less right: above 0 is overconfidence, -1 to 1."""
        return self.said - self.right


def calibration(answers: Iterable[tuple[float, bool]]) -> Calibration | None:
    """Compare (chance said, was it right?) pairs; None if there are none.

    The verdict needs ENOUGH_TO_JUDGE answers and a difference beyond 1.96 deviations of the sum, as if what
    was said were true (calibration in the large; Spiegelhalter 1986, MEMORY).
    Raises ValueError for a chance outside 0 to 1.
    """
    pairs = list(answers)
    wild = [said for said, _ in pairs if not 0 <= said <= 1]
    if wild:
        raise ValueError(f"chance said: got {wild[0]}; allowed 0 to 1")
    if not pairs:
        return None
    count = len(pairs)
    base = sum(right for _, right in pairs) / count
    groups: dict[float, list[bool]] = {}
    for said, right in pairs:
        groups.setdefault(said, []).append(right)
    shares = {said: sum(rights) / len(rights) for said, rights in groups.items()}
    return Calibration(
        answers=count,
        said=sum(said for said, _ in pairs) / count,
        right=base,
        brier=sum((said - right) ** 2 for said, right in pairs) / count,
        reliability=sum(len(groups[said]) * (said - shares[said]) ** 2 for said in groups) / count,
        resolution=sum(len(groups[said]) * (shares[said] - base) ** 2 for said in groups) / count,
        uncertainty=base * (1 - base),
        fit=_fit(pairs),
    )


def _fit(pairs: Sequence[tuple[float, bool]]) -> Fit:
    if len(pairs) < ENOUGH_TO_JUDGE:
        return "too few"
    kept = [(min(max(said, 0.01), 0.99), right) for said, right in pairs]
    off = sum(said - right for said, right in kept)
    deviations = off / math.sqrt(sum(said * (1 - said) for said, _ in kept))
    if abs(deviations) <= 1.96:
        return "fits"
    return "overconfident" if deviations > 0 else "underconfident"
