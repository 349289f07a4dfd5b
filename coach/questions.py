"""Which question to ask next: the one whose answer is expected to tell most per trouble.

For each open fact every possible answer is tried out on the plain evaluator: which rules would
fire, how each cause's odds would move, how much less there would be to doubt. How often each answer
is to be expected comes from the rule base ("expect") and moves with what is already suspected.
The evaluator here only plans; what is concluded comes from the inference engine.

Source of the measure: expected information (Lindley 1956, MEMORY; de Kleer & Williams 1987 choose
measurements so, abstract READ). Divided by trouble as in Kadane & Simon 1977 (READ as cited).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import product

from coach.diagnosis import (
    WRONG,
    Evidence,
    Scales,
    Weighed,
    entropy_bits,
    named,
    probability,
    unexplained,
    unexplained_db,
)
from coach.model import Condition, Fact, Inference, Outlook, Rule, Rulebook, Scalar
from coach.plain import PlainEvaluator, Standing
from coach.rulebook.topics import GROUP as SPOKEN_OF
from coach.worked_out import Figures

_SAME = 1.0
_FEW_WAYS = 150
_LIKE_SHARE = 0.9


@dataclass(frozen=True, slots=True)
class Candidate:
    """A question worth considering: the fact to ask, what it costs, what the answers may be."""

    fact: str
    trouble: int
    outcomes: tuple[tuple[Mapping[str, Scalar], float], ...]
    label: str


@dataclass(frozen=True, slots=True)
class Scored:
    """A candidate with the information its answer is expected to give [bits].

    `spoken`: how much of that is about causes that the person spoke of.
    """

    candidate: Candidate
    bits: float
    spoken: float = 0.0


@dataclass(frozen=True, slots=True)
class Case:
    """What is known when a question is chosen.

    `given` are the facts that people stated, `known` those and what was worked out from them;
    `closed` are facts that may not be asked (asked before, answered unknown), `told` those of `given`
    that the person brought up without being asked.
    """

    given: Mapping[str, Scalar]
    known: Mapping[str, Scalar]
    closed: Collection[str]
    inference: Inference
    weighed: Mapping[str, Weighed]
    now: datetime
    told: Collection[str] = ()


class Planner:
    """Chooses questions for one rulebook. Immutable but for caches."""

    def __init__(self, book: Rulebook, figures: Figures, evaluator: PlainEvaluator) -> None:
        self._book, self._figures, self._evaluator = book, figures, evaluator
        self._rules = {rule.id: rule for rule in book.rules}
        self._evidence = [rule for rule in book.rules if rule.weighs]
        used = {c.fact for rule in book.rules for c in (*rule.when, *rule.unless)}
        self._askable = [
            fact
            for name, fact in book.facts.items()
            if fact.origin == "asked" and name in used and fact.expect
        ]
        self._beside = [fact for fact in book.facts.values() if fact.near is not None]
        self._spoken_weight = book.asking["spoken_weight"]
        self._scales = Scales(book)
        self._revocable = _revocable(book.rules)
        self._prior = {cause: probability(c.prior_db) for cause, c in book.causes.items()}
        self._outlooks = {outlook.id: outlook for outlook in book.outlooks}
        self._threshold_db = 10 * math.log10(book.asking["name_from"] / (1 - book.asking["name_from"]))

    def ranked(
        self,
        case: Case,
        *,
        likely_from: float = 0.0,
        found: tuple[str, ...] = (),
        anyway: Collection[str] = (),
    ) -> list[Scored]:
        """All candidates, the most telling per trouble first; ties in the order of the rule base.

        What has to be asked `anyway`, if it ends as it looks now, is held to be the more telling for it.

        Only doubts count about causes found, brought up by the person, or at least as probable as
        `likely_from` on what those found do not explain.
        """
        standing = self._evaluator.standing(case.known, case.inference)
        doubtful = {c for c in self._doubtful(case) if self._is_open(c, case, found, likely_from)}
        scored = [
            Scored(candidate, *self._bits(candidate, case, standing, doubtful))
            for candidate in self._candidates(case)
        ]
        return sorted(scored, key=lambda s: -self._worth(s, anyway))

    def _worth(self, scored: Scored, anyway: Collection[str]) -> float:
        """Bits per trouble; more for a question that spares one later."""
        spares = self._book.asking["anyway_weight"] if scored.candidate.label in anyway else 1.0
        return spares * scored.bits / scored.candidate.trouble

    def best(
        self,
        case: Case,
        *,
        factor: float = 1.0,
        spoken_factor: float | None = None,
        likely_from: float = 0.0,
        found: tuple[str, ...] = (),
        anyway: Collection[str] = (),
    ) -> str | None:
        """The fact to ask next; None when nothing is worth asking.

        `factor` raises the bar, `spoken_factor` that for what the person spoke of; the others are those
        of `ranked`.
        """
        of_spoken = factor if spoken_factor is None else spoken_factor
        asking = self._book.asking
        ranked = self.ranked(case, likely_from=likely_from, found=found, anyway=anyway)
        if self._comes_to_one_end(case, [scored.candidate for scored in ranked]):
            return None
        for scored in ranked:
            bits = (scored.bits - scored.spoken) / factor + scored.spoken / of_spoken
            per_trouble = bits / scored.candidate.trouble
            if bits >= asking["least_bits"] and per_trouble >= asking["least_bits_per_trouble"]:
                return scored.candidate.fact
        return None

    def _comes_to_one_end(self, case: Case, candidates: list[Candidate]) -> bool:
        """Whether all ways to go on name the same causes; tried out where there are few of them."""
        ways = math.prod(len(candidate.outcomes) + 1 for candidate in candidates)
        if not 1 < ways <= _FEW_WAYS or any(self._waits(fact, case) for fact in self._askable):
            return False
        ends = set()
        for answers in product(*([{}, *(changes for changes, _ in c.outcomes)] for c in candidates)):
            changes = {name: value for answer in answers for name, value in answer.items()}
            known = {**case.known, **self._figures.again(case.known, changes, now=case.now)}
            inference = self._evaluator.evaluate(known)
            weighed = self._scales.weigh(inference.firings)
            ends.add(named(weighed, self._book, something_is_wrong=WRONG in inference.facts))
        return len(ends) == 1

    def _waits(self, fact: Fact, case: Case) -> bool:
        """Whether the question may make sense later, once another answer is known."""
        is_open = fact.name not in case.known and fact.name not in case.closed
        return is_open and fact.only_if is not None and fact.only_if not in {*case.known, *case.closed}

    # -- candidates

    def _candidates(self, case: Case) -> Iterable[Candidate]:
        for fact in self._askable:
            may_ask = fact.only_if is None or case.known.get(fact.only_if) is True
            if may_ask and fact.name not in case.known and fact.name not in case.closed:
                outcomes = tuple(({fact.name: answer}, weight) for answer, weight in fact.expect)
                yield Candidate(fact.name, fact.trouble, outcomes, fact.name)
        for fact in self._beside:
            if candidate := _beside(fact, case):
                yield candidate
        for outlook in self._outlooks.values():
            if candidate := self._from_outlook(outlook, case):
                yield candidate

    def _from_outlook(self, outlook: Outlook, case: Case) -> Candidate | None:
        open_figures = [name for name in outlook.shows if name not in case.known]
        wanted: list[str] = []
        for name in open_figures:
            missing = self._figures.missing(name, case.known, case.closed)
            wanted += missing or ()
        if not wanted:
            return None
        trouble = sum(self._book.facts[name].trouble for name in dict.fromkeys(wanted))
        return Candidate(wanted[0], trouble, tuple(self._outcomes(outlook, case)), outlook.id)

    def _outcomes(self, outlook: Outlook, case: Case) -> Iterable[tuple[Mapping[str, Scalar], float]]:
        twin = self._outlooks[outlook.like] if outlook.like else None
        for values, weight in outlook.cases:
            fits = _fit(outlook.shows, values, case.known)
            if twin is not None and all(name in case.known for name in twin.shows[:1]):
                alike = _fit(twin.shows, values, case.known)
                fits *= _LIKE_SHARE if alike == 1 else (1 - _LIKE_SHARE)
            row = dict(zip(outlook.shows, values, strict=True))
            yield {name: value for name, value in row.items() if name not in case.known}, weight * fits

    # -- what an answer would tell

    def _bits(
        self, candidate: Candidate, case: Case, standing: Standing, doubtful: Collection[str]
    ) -> tuple[float, float]:
        """What an answer is expected to tell [bits], and how much of it about what was spoken of."""
        total, drop, spoken = 0.0, 0.0, 0.0
        for changes, weight in candidate.outcomes:
            moved = self._moved(changes, case, standing)
            share, change, of_spoken = weight, 0.0, 0.0
            for cause, db in moved.items():
                old = case.weighed[cause].db
                ratio = math.pow(10, min(300, db - old) / 10)
                p, p0 = probability(old), self._prior[cause]
                share *= (1 - p + p * ratio) / (1 - p0 + p0 * ratio)
                if cause in doubtful:
                    less = entropy_bits(old) - entropy_bits(db)
                    was_spoken_of = _was_spoken_of(case.weighed[cause])
                    change += less * (self._spoken_weight if was_spoken_of else 1.0)
                    of_spoken += less * self._spoken_weight * was_spoken_of
            total += share
            drop += share * change
            spoken += share * of_spoken
        return (drop / total, spoken / total) if total else (0.0, 0.0)

    def _moved(self, changes: Mapping[str, Scalar], case: Case, standing: Standing) -> Mapping[str, int]:
        """The causes whose odds an answer would move, with their odds then [decibans]."""
        difference = standing.what_if(self._figures.again(case.known, changes, now=case.now))
        gained: dict[str, list[tuple[str, int]]] = {}
        for firing in difference.gained:
            rule = self._rules[firing.rule]
            for cause, db in rule.weighs:
                gained.setdefault(cause, []).append((rule.group, db))
        touched = set(gained)
        for rule_id in difference.lost:
            touched.update(cause for cause, _ in self._rules[rule_id].weighs)
        moved = {}
        for cause in touched:
            db = self._with(case.weighed[cause], gained.get(cause, []), difference.lost)
            if db != case.weighed[cause].db:
                moved[cause] = db
        return moved

    @staticmethod
    def _with(weighed: Weighed, gained: list[tuple[str, int]], lost: Collection[str]) -> int:
        best: dict[str, int] = {}
        for evidence in weighed.evidence:
            if evidence.rule not in lost and abs(evidence.db) > abs(best.get(evidence.group, 0)):
                best[evidence.group] = evidence.db
        for group, db in gained:
            if abs(db) > abs(best.get(group, 0)):
                best[group] = db
        return weighed.prior_db + sum(best.values())

    # -- what can still change

    def _is_open(self, cause: str, case: Case, found: tuple[str, ...], likely_from: float) -> bool:
        """Whether a cause is still worth a question beside those found."""
        each = case.weighed[cause]
        if cause in found or _was_spoken_of(each) or self._was_brought_up(each, case, found):
            return True
        return probability(unexplained_db(each, (case.weighed[name] for name in found))) >= likely_from

    def _was_brought_up(self, weighed: Weighed, case: Case, found: tuple[str, ...]) -> bool:
        """Whether the person told, unasked, of a strong sign for the cause that none found explains."""
        strong = self._book.asking["second_sign_db"]
        own = unexplained(weighed, (case.weighed[name] for name in found))
        return any(
            evidence.db >= strong and any(c.fact in case.told for c in self._rules[evidence.rule].when)
            for evidence in own
        )

    def _doubtful(self, case: Case) -> frozenset[str]:
        """The causes that open questions could still bring over the line, or under it."""
        fired = {firing.rule for firing in case.inference.firings}
        unheard: dict[str, dict[str, list[int]]] = {cause: {} for cause in case.weighed}
        for rule in self._evidence:
            if rule.id not in fired and self._may_fire(rule, case):
                for cause, db in rule.weighs:
                    unheard[cause].setdefault(rule.group, []).append(db)
        reaches = {cause: self._reaches(weighed, unheard[cause]) for cause, weighed in case.weighed.items()}
        low = {
            cause: case.weighed[cause].prior_db + sum(map(min, r.values())) for cause, r in reaches.items()
        }
        high = {
            cause: case.weighed[cause].prior_db + sum(map(max, r.values())) for cause, r in reaches.items()
        }
        sure = [cause for cause in low if low[cause] >= self._threshold_db]
        doubtful = [cause for cause in low if low[cause] < self._threshold_db <= high[cause]]
        return frozenset(
            cause
            for cause in doubtful
            if high[cause] - _explained(reaches, cause, [s for s in sure if low[s] > high[cause]])
            >= self._threshold_db
        )

    def _reaches(self, weighed: Weighed, unheard: Mapping[str, list[int]]) -> dict[str, list[int]]:
        """For each evidence group of a cause the weights it may still come to."""
        heard: dict[str, list[Evidence]] = {}
        for evidence in weighed.evidence:
            heard.setdefault(evidence.group, []).append(evidence)
        groups = heard.keys() | unheard.keys()
        return {group: self._may_come_to(heard.get(group, []), unheard.get(group, [])) for group in groups}

    def _may_come_to(self, heard: list[Evidence], unheard: list[int]) -> list[int]:
        """The weights that may count for a group: a louder voice yet unheard, and if the one that counts
        may fall silent (its rule has an "unless") any other, or none."""
        now = next((evidence for evidence in heard if evidence.counted), None)
        if now is None:
            return [0, *unheard]
        if now.rule in self._revocable:
            return [0, *(evidence.db for evidence in heard), *unheard]
        return [now.db, *(db for db in unheard if abs(db) >= abs(now.db))]

    def _may_fire(self, rule: Rule, case: Case) -> bool:
        return not any(self._is_settled_against(condition, case) for condition in rule.when)

    def _is_settled_against(self, condition: Condition, case: Case) -> bool:
        fact = self._book.facts[condition.fact]
        if fact.name in case.inference.facts:
            return fact.origin != "concluded" and not _holds(condition, case.inference.facts[fact.name])
        return fact.origin == "asked" and fact.name in case.closed


def _beside(fact: Fact, case: Case) -> Candidate | None:
    """A number that usually equals another one, which is known: by how much may it differ?"""
    about = case.known.get(fact.near or "")
    is_open = fact.name not in case.known and fact.name not in case.closed
    if not is_open or not isinstance(about, float | int):
        return None
    low, high = fact.range or (-math.inf, math.inf)
    values = [(about + off, weight) for off, weight in fact.differs if low <= about + off <= high]
    outcomes = tuple(({fact.name: value}, weight) for value, weight in values)
    return Candidate(fact.name, fact.trouble, outcomes, fact.name)


def _explained(reaches: Mapping[str, Mapping[str, list[int]]], cause: str, sure: list[str]) -> int:
    """The most that causes sure to be named before this one take from it: signs that surely speak for
    one of them are explained, and speak for no other."""
    explained = {group for name in sure for group, weights in reaches[name].items() if min(weights) > 0}
    return sum(max(0, *weights) for group, weights in reaches[cause].items() if group in explained)


def _was_spoken_of(weighed: Weighed) -> bool:
    return any(evidence.group == SPOKEN_OF and evidence.db > 0 for evidence in weighed.evidence)


def _revocable(rules: Iterable[Rule]) -> frozenset[str]:
    """The rules that may fire no longer once more is known: those with an "unless" behind them."""
    rules = tuple(rules)
    found: set[str] = {rule.id for rule in rules if rule.unless}
    while True:
        shaky = {fact for rule in rules if rule.id in found for fact in rule.concludes}
        more = {rule.id for rule in rules if any(c.fact in shaky for c in rule.when)} - found
        if not more:
            return frozenset(found)
        found |= more


def _holds(condition: Condition, value: Scalar) -> bool:
    wanted = condition.value
    if condition.operator == "known":
        return True
    if condition.operator == "in":
        return isinstance(wanted, tuple) and value in wanted
    if condition.operator in ("is", "is_not"):
        return (value == wanted) == (condition.operator == "is")
    assert isinstance(value, float | int) and isinstance(wanted, float)
    return {
        "at_least": value >= wanted,
        "more_than": value > wanted,
        "at_most": value <= wanted,
        "less_than": value < wanted,
    }[condition.operator]


def _fit(shows: tuple[str, ...], values: tuple[float, ...], known: Mapping[str, Scalar]) -> float:
    """1 where a row agrees with the figures already known, next to nothing where it does not."""
    fits = 1.0
    for name, value in zip(shows, values, strict=True):
        have = known.get(name)
        if isinstance(have, float | int) and abs(have - value) > _SAME:
            fits *= 0.02
    return fits
