"""How long a learner's memory lasts, by what he answered; whether his confidence fits. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from coach.school.spacing import stretched

WAITED_DAYS = 2.0
"""What was asked sooner tells of the lesson, not of the memory."""
MEMORY_SPREAD = 1.0
"""Deviation of the logarithm of people's memories: an assumption, wide enough to learn from the answers."""
ENOUGH_TO_JUDGE = 10
"""Answers below which nothing is said about a learner's confidence."""

Fit = Literal["too few", "fits", "overconfident", "underconfident"]


def memory_of(answers: Sequence[tuple[float, bool]]) -> float:
    """A learner's memory as a multiple of the usual one, from (recall foretold, was it known?) pairs.

    What was foretold is `Plan().recall` with memory 1 just before each answer, of items that were to wait
    WAITED_DAYS or more; a lucky guess is not known. Highest posterior on a grid from 1/10 to 10,
    log-normal prior around 1 with deviation MEMORY_SPREAD, so that few answers say little.
    """
    grid = [10 ** (step / 20 - 1) for step in range(41)]

    def log_posterior(memory: float) -> float:
        total = -0.5 * (math.log(memory) / MEMORY_SPREAD) ** 2
        for foretold, is_known in answers:
            known = stretched(max(foretold, 1e-3), memory)
            total += math.log(min(max(known if is_known else 1 - known, 1e-9), 1))
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
