"""Small diagnostic problems made of invented causes and signs, to hold the choice of questions against
what can be worked out by trying everything.

Their rulebooks are made in memory from one small folder; a sign is a yes-or-no fact or a choice.
"""

import math
import random
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from pathlib import Path

import rule_folders

from coach import rulebook
from coach.consultation import WRONG
from coach.diagnosis import Scales, decibans, named, probability
from coach.model import Cause, Condition, Fact, Option, Rule, Rulebook, Scalar
from coach.plain import PlainEvaluator
from coach.questions import Case, Planner
from coach.worked_out import Figures

NOW = rule_folders.NOW


@cache
def base() -> Rulebook:
    """A small rulebook without rules or questions."""
    with tempfile.TemporaryDirectory() as folder:
        return rulebook.load(rule_folders.write(Path(folder), facts="", rules=""))


def sign(name: str, answers: Mapping[Scalar, float], *, trouble: int = 1) -> Fact:
    """A fact to ask, with the weight of each answer to expect."""
    kind = "bool" if set(answers) <= {True, False} else "choice"
    options = () if kind == "bool" else tuple(Option(str(each), str(each)) for each in answers)
    return Fact(name, kind, "asked", name, ask=name, why=name, options=options, trouble=trouble,
                expect=tuple(answers.items()))  # fmt: skip


def evidence(
    id: str, when: Mapping[str, Scalar], weighs: Mapping[str, int], *, group: str | None = None
) -> Rule:
    """A rule that speaks about causes [dB] when these signs are so."""
    conditions = tuple(Condition(fact, "is", value, f"{fact} is {value}") for fact, value in when.items())
    return Rule(id, id, conditions, (), f"{id}.", "invented", "draft", "Always.", group or id,
                weighs=tuple(weighs.items()))  # fmt: skip


def problem(
    causes: Mapping[str, int], signs: Sequence[Fact], rules: Sequence[Rule], **asking: float
) -> "Problem":
    """A rulebook of these causes (prior dB), signs and rules, ready to be asked."""
    book = base()
    facts = {**book.facts, **{fact.name: fact for fact in signs}}
    return Problem(
        replace(book, facts=facts, rules=tuple(rules), asking={**book.asking, **asking},
                causes={id: Cause(id, id, db) for id, db in causes.items()})
    )  # fmt: skip


@dataclass
class Problem:
    """A rulebook with its planner."""

    book: Rulebook

    def __post_init__(self) -> None:
        self.evaluator = PlainEvaluator(rulebook.clauses(self.book))
        self.figures = Figures(self.book.facts, self.book.numbers)
        self.planner = Planner(self.book, self.figures, self.evaluator)
        self.scales = Scales(self.book)
        self.signs = [fact for fact in self.book.facts.values() if fact.expect]

    def case(self, given: Mapping[str, Scalar], closed: Sequence[str] = ()) -> Case:
        """What is known when a question is chosen."""
        known = self.figures.work_out(given, now=NOW)
        inference = self.evaluator.evaluate(known)
        weighed = self.scales.weigh(inference.firings)
        return Case(given, known, {*closed, *given}, inference, weighed, NOW)

    def best(self, given: Mapping[str, Scalar], closed: Sequence[str] = ()) -> str | None:
        return self.planner.best(self.case(given, closed))

    def named(self, given: Mapping[str, Scalar]) -> tuple[str, ...]:
        """The causes named on these facts, in no order."""
        case = self.case(given)
        wrong = WRONG in case.inference.facts
        return tuple(sorted(named(case.weighed, self.book, something_is_wrong=wrong)))

    def completions(
        self, given: Mapping[str, Scalar], closed: Sequence[str] = ()
    ) -> Iterator[dict[str, Scalar]]:
        """The facts given with every way in which the open questions may be answered, or not."""
        still = [fact for fact in self.signs if fact.name not in given and fact.name not in closed]
        for answers in product(*([*(answer for answer, _ in fact.expect), None] for fact in still)):
            more = {f.name: a for f, a in zip(still, answers, strict=True) if a is not None}
            yield {**given, **more}

    def is_settled(self, given: Mapping[str, Scalar], closed: Sequence[str] = ()) -> bool:
        """Whether every way to go on names the same causes."""
        return len({self.named(full) for full in self.completions(given, closed)}) == 1


def scattered(
    dice: random.Random, *, causes: int = 3, signs: int = 5, reach: int = 2, tangled: bool = False
) -> Problem:
    """A random problem that could come from some night: each sign shows its answers about as often as
    expected, and more or less often if one of a few causes holds; the ratio is the rule's weight.

    The rules of a sign form a group of their own; in a tangled problem groups run across signs.
    """
    names = [f"c{at}" for at in range(causes)]
    facts, rules = [], []
    for at in range(signs):
        answers: tuple[Scalar, ...] = dice.choice(((True, False), ("low", "middle", "high")))
        usual = _shares(dice, len(answers))
        name = f"sign.s{at}"
        facts.append(sign(name, dict(zip(answers, usual, strict=True)), trouble=dice.choice((1, 1, 2, 3))))
        if_so = {
            cause: _shares(dice, len(answers))
            for cause in dice.sample(names, k=dice.randint(1, min(reach, causes)))
        }
        for place, answer in enumerate(answers):
            weights = {
                cause: round(decibans_of(shares[place] / usual[place])) for cause, shares in if_so.items()
            }
            group = f"group{dice.randint(0, 2) if tangled else at}"
            rules.append(
                evidence(
                    f"s{at}-{answer}", {name: answer}, {c: db for c, db in weights.items() if db}, group=group
                )
            )
    return problem(
        {name: dice.randint(-16, -4) for name in names}, facts, [rule for rule in rules if rule.weighs]
    )


def decibans_of(ratio: float) -> float:
    return 10 * math.log10(ratio)


def _shares(dice: random.Random, count: int) -> list[float]:
    raw = [dice.random() ** 2 + 0.02 for _ in range(count)]
    return [each / sum(raw) for each in raw]


def shaken(one: Problem, dice: random.Random, by_db: int = 3) -> Problem:
    """The problem with every weight moved by up to so many decibans; signs of weights may turn."""
    rules = tuple(
        replace(rule, weighs=tuple((cause, db + dice.randint(-by_db, by_db)) for cause, db in rule.weighs))
        for rule in one.book.rules
    )
    return Problem(replace(one.book, rules=rules))


# --- single faults without noise: the one case for which the best order of questions can be found -------


@dataclass(frozen=True)
class SingleFault:
    """One of the causes holds; sign j is seen if and only if it holds one of `shows[j]`."""

    prior: tuple[float, ...]
    shows: tuple[frozenset[int], ...]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(f"c{at}" for at in range(len(self.prior)))

    def left(self, suspects: frozenset[int], asked: int, seen: bool) -> frozenset[int]:
        return suspects & self.shows[asked] if seen else suspects - self.shows[asked]

    def as_problem(self) -> Problem:
        """As rules in whole decibans: what is seen for certain weighs at most 40 dB here."""
        signs, rules = [], []
        for at, shown in enumerate(self.shows):
            yes = sum(self.prior[each] for each in shown)
            signs.append(sign(f"sign.s{at}", {True: yes, False: 1 - yes}))
            for answer, share, holds in (
                (True, yes, shown),
                (False, 1 - yes, set(range(len(self.prior))) - shown),
            ):
                weights = {c: _weight(self.prior[i], share, i in holds) for i, c in enumerate(self.names)}
                rules.append(
                    evidence(
                        f"s{at}-{answer}", {f"sign.s{at}": answer}, {c: db for c, db in weights.items() if db}
                    )
                )
        return problem(
            {c: round(decibans(p)) for c, p in zip(self.names, self.prior, strict=True)}, signs, rules
        )


def _weight(p: float, share: float, is_shown: bool) -> int:
    """10 log10 of P(answer | cause) / P(answer | not cause), the answer being certain either way."""
    if not is_shown:
        return -40
    otherwise = (share - p) / (1 - p)
    return 40 if otherwise <= 1e-4 else round(decibans_of(1 / otherwise))


def single_fault(dice: random.Random, *, causes: int = 6, signs: int = 7) -> SingleFault:
    """A random problem in which the signs tell every cause from every other."""
    while True:
        raw = [dice.uniform(0.2, 1) for _ in range(causes)]
        shows = tuple(frozenset(c for c in range(causes) if dice.random() < 0.5) for _ in range(signs))
        told_apart = all(
            any((a in shown) != (b in shown) for shown in shows) for a in range(causes) for b in range(a)
        )
        if told_apart and all(0 < len(shown) < causes for shown in shows):
            return SingleFault(tuple(each / sum(raw) for each in raw), shows)


def fewest_questions(one: SingleFault) -> float:
    """Mean number of questions of the best tree, by trying every tree (dynamic programming)."""

    @cache
    def cost(suspects: frozenset[int]) -> float:
        """Chance of being among the suspects times the mean number of questions from there."""
        if len(suspects) == 1:
            return 0.0
        splits = [
            (one.left(suspects, at, True), one.left(suspects, at, False)) for at in range(len(one.shows))
        ]
        mass = sum(one.prior[each] for each in suspects)
        return mass + min(cost(yes) + cost(no) for yes, no in splits if yes and no)

    return cost(frozenset(range(len(one.prior))))


def whole_strengths(dice: random.Random, strengths: Sequence[int], *, causes: int, signs: int) -> Problem:
    """A random problem with a rule for either answer of each sign, weights taken from a few strengths.

    How often "yes" is to be expected follows from the weights, so that they are true likelihood ratios.
    """
    priors = {f"c{at}": dice.randint(-16, -6) for at in range(causes)}
    facts, rules = [], []
    for at in range(signs):
        name, cause = f"sign.s{at}", dice.choice(list(priors))
        up, down = dice.choice(strengths), dice.choice(strengths)
        facts.append(sign(name, expected(priors[cause], up, down), trouble=dice.choice((1, 1, 2, 3))))
        rules.append(evidence(f"s{at}-yes", {name: True}, {cause: up}, group=name))
        rules.append(evidence(f"s{at}-no", {name: False}, {cause: -down}, group=name))
    return problem(priors, facts, rules)


def chances(up: int, down: int) -> tuple[float, float]:
    """Chance of "yes" if the cause holds, and if it does not, so that yes speaks `up` dB for it and no
    `down` dB against it."""
    yes, no = math.pow(10, up / 10), math.pow(10, -down / 10)
    if_not = (1 - no) / (yes - no)
    return yes * if_not, if_not


def expected(prior_db: int, up: int, down: int) -> dict[Scalar, float]:
    """The share of either answer before anything is known."""
    if_so, if_not = chances(up, down)
    p = probability(prior_db)
    yes = p * if_so + (1 - p) * if_not
    return {True: yes, False: 1 - yes}


# --- ways to order questions, to compare with ------------------------------------------------------------

Order = Callable[[frozenset[int], dict[str, Scalar]], Sequence[int]]


def mean_questions(one: SingleFault, order: Order) -> float:
    """Mean number of questions until one suspect is left, asking signs in the order given at each point;
    a sign that tells the suspects apart no longer is passed over."""

    def cost(suspects: frozenset[int], given: dict[str, Scalar]) -> float:
        if len(suspects) == 1:
            return 0.0
        for at in order(suspects, given):
            yes, no = one.left(suspects, at, True), one.left(suspects, at, False)
            if yes and no:
                name = f"sign.s{at}"
                mass = sum(one.prior[each] for each in suspects)
                return mass + cost(yes, {**given, name: True}) + cost(no, {**given, name: False})
        raise AssertionError("no sign is left that tells the suspects apart")

    return cost(frozenset(range(len(one.prior))), {})


def most_telling(one: SingleFault) -> Order:
    """The planner's order."""
    made = one.as_problem()
    return lambda _, given: [
        int(scored.candidate.fact.removeprefix("sign.s")) for scored in made.planner.ranked(made.case(given))
    ]


def as_written(one: SingleFault) -> Order:
    return lambda *_: range(len(one.shows))


def by_chance(one: SingleFault, dice: random.Random) -> Order:
    return lambda *_: dice.sample(range(len(one.shows)), k=len(one.shows))


def likeliest_first(one: SingleFault) -> Order:
    """Signs of the likeliest suspect first: confirm what one thinks."""

    def order(suspects: frozenset[int], _: dict[str, Scalar]) -> list[int]:
        top = max(suspects, key=lambda each: one.prior[each])
        return sorted(range(len(one.shows)), key=lambda at: top not in one.shows[at])

    return order
