"""How one comes to a wrong answer: the coach's own inference with one rule left out or one fact misread.

Nothing here is written beside the rules: a wrong choice is what the evaluator concludes then, and the
sentence that explains it names the rule or the fact.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from coach.consultation import Assessment, Infer
from coach.model import Clause, Fact, Firing, Inference, Rule, Rulebook, Scalar
from coach.plain import PlainEvaluator
from coach.rulebook.situations import written
from coach.school.keys import Bench
from coach.school.parts import Slip
from coach.school.told import filled, line
from coach.wording import Filler, in_words, unit_in_words

_STEPS = (3.0, -3.0, 1.5, -1.5)
"""By how much a number is misread, beside the answers that the rule base expects."""
_TRIED_FOR_ONE = 2

Leader = Callable[[Assessment], Iterable[str]]
"""What somebody would answer who had come to this."""


@dataclass(frozen=True, slots=True)
class Fall:
    """A slip with what it leads to."""

    slip: Slip
    found: Assessment


class Slips:
    """Tries out slips on one rule base. Immutable but for caches."""

    def __init__(self, bench: Bench, clauses: Sequence[Clause]) -> None:
        self._bench, self._clauses = bench, clauses
        self._book: Rulebook = bench.tools.book
        self._written = written(self._book)
        self._name_of = {rule.id: name for name, rules in self._written.items() for rule in rules}
        self._without: dict[str, PlainEvaluator] = {}
        self._signs: dict[str, list[tuple[int, str, Scalar]]] | None = None

    def wrong(
        self,
        facts: Mapping[str, Scalar],
        found: Assessment,
        leader: Leader,
        *,
        never: Iterable[str],
        most: int = 3,
        assume: Sequence[str] = (),
    ) -> dict[str, Slip]:
        """Wrong answers with the slip that leads to each, none of them in `never`.

        `assume`: answers for which something may be taken for granted, the most plausible first; they
        fill up where leaving out and misreading give too few.
        """
        gone = set(never)
        chosen: dict[str, Slip] = {}
        for fall in (*self.left_out(facts, found), *self.misread(facts)):
            for answer in leader(fall.found):
                if answer not in gone:
                    chosen.setdefault(answer, fall.slip)
        if len(chosen) < most and len(facts) > 1:
            for fall in self.unheard(facts):
                for answer in leader(fall.found):
                    if answer not in gone:
                        chosen.setdefault(answer, fall.slip)
        chosen = _mixed(chosen, most)
        for answer in assume:
            if len(chosen) >= most:
                break
            if answer not in gone and answer not in chosen and (slip := self._assumed(facts, answer, leader)):
                chosen[answer] = slip
        return chosen

    # -- the three ways

    def left_out(self, facts: Mapping[str, Scalar], found: Assessment) -> Iterator[Fall]:
        """Leave out each rule that fired, one after the other."""
        names = dict.fromkeys(self._name_of[firing.rule] for firing in found.inference.firings)
        for name in names:
            rule = self._written[name][0]
            if rule.weighs or rule.concludes or rule.advises_set:
                altered = Bench(self._bench.tools, self.infer_without(name))
                yield Fall(Slip("left-out", rule=name), altered.assessed(facts))

    def misread(self, facts: Mapping[str, Scalar]) -> Iterator[Fall]:
        """Misread each fact, one after the other."""
        for name, value in facts.items():
            for other in others(self._book.facts[name], value):
                yield Fall(
                    Slip("misread", fact=name, value=other), self._bench.assessed({**facts, name: other})
                )

    def unheard(self, facts: Mapping[str, Scalar]) -> Iterator[Fall]:
        """Leave a question unasked, or two."""
        for count in (1, 2):
            for names in combinations(facts, count):
                left = {name: value for name, value in facts.items() if name not in names}
                if left:
                    yield Fall(Slip("unheard", fact="+".join(names)), self._bench.assessed(left))

    def _assumed(self, facts: Mapping[str, Scalar], answer: str, leader: Leader) -> Slip | None:
        """A fact that nobody told and with which one would answer so."""
        signs = [sign for sign in self.signs().get(answer, []) if sign[1] not in facts]
        for _, name, value in signs[:_TRIED_FOR_ONE]:
            if answer in leader(self._bench.assessed({**facts, name: value})):
                return Slip("assumed", fact=name, value=value)
        return None

    def signs(self) -> dict[str, list[tuple[int, str, Scalar]]]:
        """For each cause the single answers that speak for it, the strongest first [whole decibans]."""
        if self._signs is None:
            self._signs = {cause: [] for cause in self._book.causes}
            for fact in self._book.facts.values():
                for value, _ in fact.expect if fact.origin == "asked" else ():
                    gains = self._bench.gains(self._bench.assessed({fact.name: value}))
                    for cause, db in gains.items():
                        if db > 0:
                            self._signs[cause].append((db, fact.name, value))
            for found in self._signs.values():
                found.sort(key=lambda sign: -sign[0])
        return self._signs

    # -- inference without a rule

    def infer_without(self, name: str) -> Infer:
        """The inference of somebody who does not know a rule (by the captain's id)."""
        gone = {rule.id for rule in self._written[name]}
        if not self._written[name][0].concludes:
            return lambda facts: _less(self._bench.infer(facts), gone)
        if name not in self._without:
            left = [clause for clause in self._clauses if clause.id not in gone]
            self._without[name] = PlainEvaluator(left)
        return self._without[name].evaluate

    # -- in words

    def why(self, slip: Slip, found: Assessment, texts: Mapping[str, str]) -> str:
        """How one gets there, and why not, in a sentence or two."""
        if slip.kind == "left-out":
            fired = [f.rule for f in found.inference.firings if self._name_of[f.rule] == slip.rule]
            return filled(texts["slip_left_out"], because=self.because(fired[0], found))
        if slip.kind == "unheard":
            asks = " ".join(_ask(self._book.facts[name]) for name in slip.fact.split("+"))
            return filled(texts["slip_unheard"], asks=asks)
        fact = self._book.facts[slip.fact]
        assert slip.value is not None
        slots = {"says": fact.says, "value": in_words(slip.value, fact)}
        if slip.kind == "assumed":
            return filled(texts["slip_assumed"], **slots)
        return filled(texts["slip_misread"], **slots, here=in_words(found.given[slip.fact], fact))

    def lighter(self, cause: str, found: Assessment, texts: Mapping[str, str]) -> str:
        """Why a cause is not it: what speaks against it, or that nothing speaks for it."""
        voices = sorted((e for e in found.weighed[cause].evidence if e.counted), key=lambda e: e.db)
        if voices and voices[0].db < 0:
            return filled(texts["slip_against"], because=self.because(voices[0].rule, found))
        if voices:
            return filled(texts["slip_too_light"], because=self.because(voices[-1].rule, found))
        _, name, value = self.signs()[cause][0]
        fact = self._book.facts[name]
        return filled(texts["slip_nothing_for"], says=fact.says, value=in_words(value, fact))

    def because(self, rule_id: str, found: Assessment) -> str:
        """What a rule that fired says, with its figures."""
        rule: Rule = self._bench.tools.scales.rules[rule_id]
        return Filler(self._book, found.inference.facts).fill(rule.because) or f"{rule.title}."

    def name_of(self, rule_id: str) -> str:
        """The captain's id of a rule."""
        return self._name_of[rule_id]

    def stood_on(self, firing: Firing, found: Assessment) -> list[str]:
        """The told facts that a firing stands on, through whatever was worked out or concluded."""
        book, wanted, seen = self._book, [name for name, _ in firing.because], set[str]()
        told: dict[str, None] = {}
        while wanted:
            name = wanted.pop(0)
            if name in seen:
                continue
            seen.add(name)
            if name in found.given:
                told.setdefault(name)
            elif book.facts[name].origin == "concluded":
                wanted += [
                    because
                    for other in found.inference.firings
                    if name in self._bench.tools.scales.rules[other.rule].concludes
                    for because, _ in other.because
                ]
            else:
                wanted += self._bench.tools.figures.missing(name, (), ()) or ()
        return list(told)

    def line(self, name: str, value: Scalar) -> str:
        """A fact in words."""
        return line(name, value, self._book)


def _ask(fact: Fact) -> str:
    return fact.ask.replace("{unit}", unit_in_words(fact.unit))


def others(fact: Fact, value: Scalar) -> Iterator[Scalar]:
    """What a fact may be misread as."""
    if fact.type == "choice":
        yield from (option.id for option in fact.options if option.id != value)
    elif fact.type == "bool":
        yield value is not True
    elif fact.type == "number" and isinstance(value, float):
        low, high = fact.range or (float("-inf"), float("inf"))
        near = [answer for answer, _ in fact.expect if isinstance(answer, float)]
        steps = [value + step for step in _STEPS]
        for other in dict.fromkeys((*near, *steps)):
            if other != value and low <= other <= high:
                yield other


def _less(inference: Inference, gone: set[str]) -> Inference:
    return Inference(tuple(f for f in inference.firings if f.rule not in gone), inference.facts)


def _mixed(chosen: Mapping[str, Slip], most: int) -> dict[str, Slip]:
    """At most so many, taking the kinds of slips in turn, so that each says something else."""
    by_kind: dict[str, list[str]] = {}
    for answer, slip in chosen.items():
        by_kind.setdefault(slip.kind, []).append(answer)
    picked: dict[str, Slip] = {}
    told: set[tuple[str, str]] = set()
    queues = list(by_kind.values())
    while len(picked) < most and any(queues):
        for queue in queues:
            if queue and len(picked) < most:
                answer = queue.pop(0)
                slip = chosen[answer]
                if (slip.rule, f"{slip.fact}={slip.value}") not in told:
                    told.add((slip.rule, f"{slip.fact}={slip.value}"))
                    picked[answer] = slip
    return picked
