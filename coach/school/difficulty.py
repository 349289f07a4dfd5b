"""How hard each item is, from who answered it rightly at the first try. Pure.

Rasch's model: the chance to be right depends on ability less difficulty. The author's rating is where an
item starts; answers move it as far as they carry.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

ENOUGH = 15
"""Answers from which an item's estimate stands on its own; below, the author's rating carries it."""
SPREAD = 1.0
"""Deviation of abilities around 0, and of difficulties around the author's rating [logits]: an assumption."""
SWEEPS, SMALL = 200, 1e-6


class FirstAnswer(NamedTuple):
    """A learner's first answer to an item. Later ones tell of learning, not of the item.

    `right` is 0 for a wrong answer and 1 for a right one. Where learners say how sure they are, a right one
    counts as much as that promises (see `sure_weights`): most lucky guesses are told as guesses.
    """

    learner: str
    item: str
    right: float


@dataclass(frozen=True, slots=True)
class Difficulty:
    """An item's difficulty [logits; 0: the usual learner is right every second time], deviation, answers."""

    logits: float
    deviation: float
    answers: int

    @property
    def is_settled(self) -> bool:
        """Are there enough answers to trust it over the author's rating?"""
        return self.answers >= ENOUGH


def sure_weights(promises: Mapping[str, float]) -> dict[str, float]:
    """How much a right answer counts by how sure one said to be: the share right which that promises, as a
    part of the greatest."""
    most = max(promises.values(), default=1.0)
    return {name: promise / most for name, promise in promises.items()}


def chance_right(ability: float, difficulty: float, *, guess: float = 0.0) -> float:
    """Chance to be right: guess + (1 − guess)/(1 + e^−(ability − difficulty)).

    Source: Rasch 1960; with a chance to guess, Birnbaum 1968 (both MEMORY). Logits; `guess` below 1.
    """
    return guess + (1 - guess) / (1 + math.exp(-min(max(ability - difficulty, -30), 30)))


def difficulties(
    answers: Iterable[FirstAnswer], *, rated: Mapping[str, float], guess: Mapping[str, float] | None = None
) -> dict[str, Difficulty]:
    """Estimate the difficulty of all items rated or answered.

    `rated`: the author's ratings [logits], 0 where there is none; `guess`: an item's chance to be right by
    guessing (one over the number of choices), 0 where there is none. Abilities and difficulties of highest
    joint posterior with normal priors, by Fisher's scoring in turns (Mislevy 1986, MEMORY); answers that
    count in part by quasi-likelihood (Wedderburn 1974, MEMORY). Raises ValueError if a learner's first answer
    to an item comes twice.
    """
    sheet = _Sheet(answers, rated, guess or {})
    for _ in range(SWEEPS):
        if max(sheet.sweep_abilities(), sheet.sweep_difficulties()) < SMALL:
            break
    return {item: sheet.found(item) for item in sheet.difficulty}


class _Sheet:
    """Answers both ways round, and the estimates as they stand."""

    def __init__(
        self, answers: Iterable[FirstAnswer], rated: Mapping[str, float], guess: Mapping[str, float]
    ) -> None:
        self.by_learner: dict[str, dict[str, float]] = {}
        self.by_item: dict[str, dict[str, float]] = {}
        for learner, item, right in answers:
            if item in self.by_learner.setdefault(learner, {}):
                raise ValueError(f"item {item!r}: two first answers of {learner!r}; only the first counts")
            self.by_learner[learner][item] = right
            self.by_item.setdefault(item, {})[learner] = right
        self.rated = {item: rated.get(item, 0.0) for item in {**rated, **self.by_item}}
        self.guess = guess
        self.ability = dict.fromkeys(self.by_learner, 0.0)
        self.difficulty = dict(self.rated)

    def sweep_abilities(self) -> float:
        moved = 0.0
        for learner, sheet in self.by_learner.items():
            score, information = -self.ability[learner] / SPREAD**2, 1 / SPREAD**2
            for item, right in sheet.items():
                pull, told = self._told(learner, item, right)
                score, information = score + pull, information + told
            moved = max(moved, abs(step := _damped(score / information)))
            self.ability[learner] += step
        return moved

    def sweep_difficulties(self) -> float:
        moved = 0.0
        for item in self.by_item:
            score, information = self._item_told(item)
            moved = max(moved, abs(step := _damped(score / information)))
            self.difficulty[item] += step
        return moved

    def _item_told(self, item: str) -> tuple[float, float]:
        score, information = (self.rated[item] - self.difficulty[item]) / SPREAD**2, 1 / SPREAD**2
        for learner, right in self.by_item.get(item, {}).items():
            pull, told = self._told(learner, item, right)
            score, information = score - pull, information + told
        return score, information

    def _told(self, learner: str, item: str, right: float) -> tuple[float, float]:
        """Slope of the log-likelihood in the ability, and Fisher's information, of one answer."""
        guess = self.guess.get(item, 0.0)
        chance = chance_right(self.ability[learner], self.difficulty[item], guess=guess)
        slope = (chance - guess) * (1 - chance) / (1 - guess)
        spread = max(chance * (1 - chance), 1e-12)
        return (right - chance) * slope / spread, slope**2 / spread

    def found(self, item: str) -> Difficulty:
        _, information = self._item_told(item)
        return Difficulty(self.difficulty[item], 1 / math.sqrt(information), len(self.by_item.get(item, {})))


def _damped(step: float) -> float:
    """No more than one logit at a time: a first guess far off must not overshoot."""
    return min(max(step, -1.0), 1.0)
