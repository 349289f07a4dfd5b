"""From firings to causes: evidence weighed in whole decibans.

Each cause is a hypothesis of its own. Its prior odds and the weight of every rule that fired for
or against it are decibans, 10·log10 of a likelihood ratio, and add. Of the rules of one evidence
group only the strongest counts for a cause, since they look at the same thing.

Sources: I. J. Good, "Probability and the Weighing of Evidence" (1950), for the deciban and the sum
(MEMORY); the groups answer Heckerman's finding that dependent findings must be clustered before
their odds are multiplied (summary READ).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from coach.model import Firing, Rule, Rulebook

WRONG = "something.is_wrong"
"""The fact that rules conclude when the catch, or what is seen, is not as it should be."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One rule's voice about a cause [whole decibans]; only a `counted` one is added."""

    rule: str
    group: str
    db: int
    counted: bool


@dataclass(frozen=True, slots=True)
class Weighed:
    """A cause with all that was said about it: prior plus counted evidence give `db`."""

    cause: str
    prior_db: int
    db: int
    evidence: tuple[Evidence, ...]

    @property
    def probability(self) -> float:
        """Probability that the cause holds, 0 to 1."""
        return probability(self.db)


def probability(db: float) -> float:
    """Probability for odds given in decibans: 1 / (1 + 10^(-dB/10)). Source: definition (Good 1950)."""
    return 1 / (1 + math.pow(10, -db / 10))


def decibans(p: float) -> float:
    """Odds of a probability in decibans. Raises ValueError unless 0 < p < 1."""
    if not 0 < p < 1:
        raise ValueError(f"p: got {p}; allowed above 0 and below 1")
    return 10 * math.log10(p / (1 - p))


@lru_cache(maxsize=200_000)
def entropy_bits(db: int) -> float:
    """Uncertainty [bits] about a yes-or-no matter with odds in decibans."""
    p = probability(db)
    if p in (0.0, 1.0):
        return 0.0
    return -(p * math.log2(p) + (1 - p) * math.log2(1 - p))


def strongest_per_group(voices: Iterable[tuple[str, str, int]]) -> tuple[Evidence, ...]:
    """Mark which of (rule, group, dB) count: in each group the greatest size, the earlier on a tie."""
    voices = tuple(voices)
    best: dict[str, int] = {}
    for place, (_, group, db) in enumerate(voices):
        if group not in best or abs(db) > abs(voices[best[group]][2]):
            best[group] = place
    return tuple(
        Evidence(rule, group, db, best[group] == place) for place, (rule, group, db) in enumerate(voices)
    )


class Scales:
    """Weighs firings by the rulebook's weights. Immutable."""

    def __init__(self, book: Rulebook) -> None:
        self.rules: Mapping[str, Rule] = {rule.id: rule for rule in book.rules}
        self.causes = book.causes

    def weigh(self, firings: Iterable[Firing]) -> dict[str, Weighed]:
        """Every cause with its evidence, in the order of the rulebook."""
        voices: dict[str, list[tuple[str, str, int]]] = {cause: [] for cause in self.causes}
        for firing in firings:
            rule = self.rules[firing.rule]
            for cause, db in rule.weighs:
                voices[cause].append((rule.id, rule.group, db))
        return {cause: self._weighed(cause, voices[cause]) for cause in self.causes}

    def _weighed(self, cause: str, voices: list[tuple[str, str, int]]) -> Weighed:
        prior = self.causes[cause].prior_db
        evidence = strongest_per_group(voices)
        return Weighed(cause, prior, prior + sum(e.db for e in evidence if e.counted), evidence)


def named(
    weighed: Mapping[str, Weighed],
    book: Rulebook,
    *,
    something_is_wrong: bool,
    aside: Collection[str] = (),
) -> tuple[str, ...]:
    """The causes that deserve acting on now, the likeliest first.

    Those that reach `name_from`, and after the first only on what the ones before do not explain; if
    none does and something is wrong, the likeliest one that reaches `name_alone_from`. A cause that no
    rule speaks for is never named, nor one set `aside`: it was put right, and that did not help.
    """
    open_causes = [w for w in weighed.values() if w.cause not in aside]
    spoken_for = [w for w in open_causes if any(e.counted and e.db > 0 for e in w.evidence)]
    ranked = sorted(spoken_for, key=lambda w: -w.db)
    sure: list[Weighed] = []
    for each in ranked:
        left = unexplained_db(each, sure)
        if probability(left) >= book.asking["name_from"] or _stands_alone(each, sure, book):
            sure.append(each)
    if sure or not something_is_wrong:
        return tuple(each.cause for each in sure)
    return tuple(w.cause for w in ranked[:1] if w.probability >= book.asking["name_alone_from"])


def _stands_alone(weighed: Weighed, found: Iterable[Weighed], book: Rulebook) -> bool:
    """Whether a further cause is likely, and a strong sign speaks for it that no cause found explains.

    Signs that two causes share then count for both: a full moon and a sudden cold both quiet all boats.
    """
    own = (e.db for e in unexplained(weighed, found))
    likely = weighed.probability >= book.asking["second_from"]
    return likely and max(own, default=0) >= book.asking["second_sign_db"]


def unexplained(weighed: Weighed, found: Iterable[Weighed]) -> tuple[Evidence, ...]:
    """The counted evidence about a cause of which no cause found accounts for the sign."""
    explained = _explained_by(found)
    return tuple(e for e in weighed.evidence if e.counted and e.group not in explained)


def unexplained_db(weighed: Weighed, found: Iterable[Weighed]) -> int:
    """The odds [whole decibans] without the signs that causes already found account for.

    A sign that speaks for a found cause is explained by it and says nothing for another any more
    ("explaining away": Pearl 1988, MEMORY).
    """
    explained = _explained_by(found)
    return weighed.db - sum(e.db for e in weighed.evidence if e.counted and e.db > 0 and e.group in explained)


def _explained_by(found: Iterable[Weighed]) -> set[str]:
    return {e.group for each in found for e in each.evidence if e.counted and e.db > 0}
