"""Cases played inside this process, and how sure a rate measured on them is.

A case is what is true on the water: opening words, facts, and what a good answer names. Whatever the
coach asks is answered from the facts; what they do not hold is "unknown". The fields, as in
cases/dev_cases.json: `causes` any one of which may come first (none: the set is healthy), `also` and
`not` what must and must not be named besides, `numbers` of the verdict within a quarter of a foot,
`hazards` to be told in any turn.

Benchmarks stand on this (bench_cases, bench_robust, bench_questions, bench_stable); they print.
"""

from __future__ import annotations

import json
import math
import multiprocessing
import random
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from talks import Infer, Talk

from coach import rulebook
from coach.apparatus import apparatus
from coach.model import Rulebook
from coach.plain import PlainEvaluator
from coach.turn import Turn

CASES = Path(__file__).parent / "cases" / "dev_cases.json"
MOST_QUESTIONS = 25
NUMBER_WITHIN = 0.25
Z95 = 1.959963984540054
"""The normal deviate that leaves out 2.5 % on either side."""

Answers = Callable[[str, int], Any]
"""What is answered to a question about a fact; its place among all questions, from 0."""
T = TypeVar("T")
R = TypeVar("R")


@dataclass(frozen=True)
class Case:
    """What is true on one night, and what a good answer names."""

    id: str
    opening: str
    facts: Mapping[str, Any]
    causes: tuple[str, ...]
    also: tuple[str, ...] = ()
    excluded: tuple[str, ...] = ()
    numbers: Mapping[str, float] = field(default_factory=dict)
    hazards: tuple[str, ...] = ()

    @property
    def is_healthy(self) -> bool:
        return not self.causes

    def answer(self, fact: str, _: int = 0) -> Any:
        """The true answer."""
        return self.facts.get(fact, "unknown")


@dataclass(frozen=True)
class Played:
    """What came of a case: the facts asked, the causes named with their probability, every cause by
    probability with the named ones in front, and the rest of the verdict."""

    case: Case
    asked: tuple[str, ...]
    named: tuple[tuple[str, float], ...]
    ranked: tuple[tuple[str, float], ...]
    numbers: Mapping[str, Any]
    hazards: frozenset[str]
    is_concluded: bool

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(cause for cause, _ in self.named)

    def is_true(self, cause: str) -> bool:
        return cause in (*self.case.causes, *self.case.also)

    @property
    def is_first_right(self) -> bool:
        """The cause named first is one of the case's; none is named where nothing is wrong."""
        if self.case.is_healthy:
            return self.is_concluded and not self.names
        return self.names[:1] != () and self.names[0] in self.case.causes

    @property
    def is_among_three(self) -> bool:
        """One of the case's causes is among the first three of all causes by probability."""
        if self.case.is_healthy:
            return self.is_first_right
        return any(cause in self.case.causes for cause, _ in self.ranked[:3])

    @property
    def is_right(self) -> bool:
        """First right, and everything else that must be named is, and nothing that must not."""
        return (
            self.is_first_right
            and set(self.case.also) <= set(self.names)
            and not set(self.case.excluded) & set(self.names)
        )

    @property
    def numbers_right(self) -> dict[str, bool]:
        """For each number of the case whether the verdict has it."""
        return {name: _is_near(self.numbers.get(name), value) for name, value in self.case.numbers.items()}

    @property
    def hazards_told(self) -> dict[str, bool]:
        return {hazard: hazard in self.hazards for hazard in self.case.hazards}


def _is_near(given: Any, wanted: float) -> bool:
    return isinstance(given, int | float) and abs(given - wanted) <= NUMBER_WITHIN


def read_cases(file: Path = CASES) -> list[Case]:
    """The cases of a file."""
    raw = json.loads(file.read_text(encoding="utf-8"))["cases"]
    return [
        Case(
            each["id"], each["opening"], each["facts"], tuple(each["causes"]), tuple(each.get("also") or ()),
            tuple(each.get("not") or ()), each.get("numbers") or {}, tuple(each.get("hazards") or ()),
        )
        for each in raw
    ]  # fmt: skip


class Core:
    """The dialogue core on one rulebook, by the plain evaluator unless another inference is given."""

    def __init__(self, book: Rulebook | None = None, infer: Infer | None = None) -> None:
        self.book = book or rulebook.load()
        self.infer = infer or PlainEvaluator(rulebook.clauses(self.book)).evaluate

    def play(self, case: Case, answers: Answers | None = None) -> Played:
        """Say the opening, answer what is asked (by default with the truth) up to the verdict."""
        answers, talk, asked = answers or case.answer, Talk(self.book, self.infer), []
        talk.say(case.opening)
        while talk.reply.verdict is None and talk.reply.ask is not None and len(asked) < MOST_QUESTIONS:
            asked.append(talk.reply.ask.fact)
            talk.pick(answers(asked[-1], len(asked) - 1))
        return self.outcome(case, talk, asked)

    def outcome(self, case: Case, talk: Talk, asked: Sequence[str]) -> Played:
        verdict = talk.reply.verdict or {"causes": [], "numbers": {}}
        named = tuple((cause["id"], cause["probability"]) for cause in verdict["causes"])
        told = frozenset(hazard for reply in talk.replies for hazard, _ in reply.hazards)
        ranked = (*named, *self._others(talk, {cause for cause, _ in named}))
        is_concluded = talk.reply.verdict is not None
        return Played(case, tuple(asked), named, ranked, verdict["numbers"], told, is_concluded)

    def _others(self, talk: Talk, named: set[str]) -> list[tuple[str, float]]:
        found = Turn(talk.session, apparatus(self.book), self.infer, talk.now).assess()
        rest = [(each.cause, each.probability) for each in found.weighed.values() if each.cause not in named]
        return sorted(rest, key=lambda pair: -pair[1])


# --- several at once -------------------------------------------------------------------------------------

_work: Callable[[Any], Any]


def _called(item: Any) -> Any:
    return _work(item)


def spread(work: Callable[[T], R], items: Iterable[T], *, jobs: int = 2) -> Iterator[R]:
    """work(item) for each item, in order, in so many processes; what `work` holds reaches them by fork."""
    global _work  # noqa: PLW0603
    _work = work
    if jobs == 1:
        yield from map(work, items)
        return
    with multiprocessing.get_context("fork").Pool(jobs) as pool:
        yield from pool.imap(_called, items, chunksize=4)


# --- how sure a rate is ----------------------------------------------------------------------------------


def wilson(hits: int, of: int) -> tuple[float, float]:
    """The 95 % interval of a rate seen `hits` times in `of`. Source: Wilson 1927 (MEMORY)."""
    if not of:
        return 0.0, 1.0
    p, z2 = hits / of, Z95 * Z95
    middle = (p + z2 / (2 * of)) / (1 + z2 / of)
    half = Z95 / (1 + z2 / of) * math.sqrt(p * (1 - p) / of + z2 / (4 * of * of))
    return max(0.0, middle - half), min(1.0, middle + half)


def rate(name: str, hits: int, of: int) -> str:
    """A line: the rate, what it was counted from, its interval."""
    low, high = wilson(hits, of)
    return f"{name:34} {hits:5}/{of:<5} {hits / max(1, of):6.1%}  [{low:.1%}, {high:.1%}]"


def resampled(per_case: Sequence[float], *, seed: int = 0, times: int = 2000) -> tuple[float, float]:
    """The 95 % interval of the mean over cases, by drawing the cases anew (percentile bootstrap, Efron
    1979, MEMORY): for figures of which each case gave several that hang together."""
    dice, of = random.Random(seed), len(per_case)
    means = sorted(sum(dice.choices(per_case, k=of)) / of for _ in range(times))
    return means[round(0.025 * times)], means[round(0.975 * times) - 1]


def percentile(values: Sequence[float], share: float) -> float:
    """The least value that this share of all does not exceed (nearest rank)."""
    return sorted(values)[max(0, math.ceil(share * len(values)) - 1)]
