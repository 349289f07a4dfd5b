"""Which answers of an item are right: found by inference on its facts, with whatever engine is passed in.

Items are made with the plain evaluator; tests find every key again with the real engine through the same
door. A judge says of a list of choices which are right; an item is sound if exactly one of them is.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from coach.apparatus import Apparatus
from coach.consultation import Assessment, Infer, assess, next_question
from coach.conversation import Heard, Session
from coach.model import Scalar
from coach.rulebook.situations import MOMENT, written
from coach.school.parts import NOTHING, Item
from coach.school.sums import odd_lamps
from coach.verdict import Verdict, conclude

Rights = frozenset[str]


@dataclass(frozen=True, slots=True)
class Bench:
    """What a judge works with."""

    tools: Apparatus
    infer: Infer

    def assessed(self, facts: Mapping[str, Scalar]) -> Assessment:
        """What the facts come to."""
        return assess(facts, self.tools, infer=self.infer, now=MOMENT)

    def verdict(self, found: Assessment) -> Verdict:
        """The coach's own verdict on it."""
        return conclude(found, self.tools, infer=self.infer)

    def gains(self, found: Assessment) -> dict[str, int]:
        """By how much the odds of each cause have moved [whole decibans]."""
        return {cause: each.db - each.prior_db for cause, each in found.weighed.items()}


Judge = Callable[[Mapping[str, Scalar], str, Sequence[str], Bench], Rights]
JUDGES: dict[str, Judge] = {}


def _judge(name: str) -> Callable[[Judge], Judge]:
    def declare(judge: Judge) -> Judge:
        JUDGES[name] = judge
        return judge

    return declare


def rights(item: Item, bench: Bench, facts: Mapping[str, Scalar] | None = None) -> Rights:
    """The ids of the choices that are right, on the item's facts or on others."""
    ids = [choice.id for choice in item.choices]
    return JUDGES[item.judge](item.facts if facts is None else facts, item.about, ids, bench)


def of(judge: str, facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The ids that a judge finds right."""
    return JUDGES[judge](facts, about, ids, bench)


# --- causes ------------------------------------------------------------------------------------------------


@_judge("wrong")
def _wrong(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The causes that the coach names; nothing, where it names none."""
    del about, ids
    return frozenset(bench.assessed(facts).named or (NOTHING,))


@_judge("points")
def _points(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The causes that the facts speak for at all."""
    del about
    gains = bench.gains(bench.assessed(facts))
    return frozenset(cause for cause in ids if gains[cause] > 0)


@_judge("rules out")
def _rules_out(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The causes that the facts speak against at all."""
    del about
    gains = bench.gains(bench.assessed(facts))
    return frozenset(cause for cause in ids if gains[cause] < 0)


@_judge("shows")
def _shows(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The rules that speak for the cause `about`."""
    del facts
    return frozenset(name for name in ids if _voice(name, about, bench) > 0)


@_judge("denies")
def _denies(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The rules that speak against the cause `about`."""
    del facts
    return frozenset(name for name in ids if _voice(name, about, bench) < 0)


def _voice(name: str, cause: str, bench: Bench) -> int:
    rules = written(bench.tools.book)[name]
    return sum(db for rule in rules[:1] for speaks, db in rule.weighs if speaks == cause)


# --- conclusions, hazards, set-ups -------------------------------------------------------------------------


@_judge("follows")
def _follows(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The conclusions that rules draw from the facts."""
    del about
    known = bench.assessed(facts).inference.facts
    return frozenset(name for name in ids if known.get(name) is True)


@_judge("would")
def _would(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The changes ("fact=value") with which the rule `about` fires."""
    wanted = {rule.id for rule in written(bench.tools.book)[about]}

    def fires(change: str) -> bool:
        found = bench.assessed({**facts, **dict([read_change(change)])})
        return any(firing.rule in wanted for firing in found.inference.firings)

    return frozenset(change for change in ids if fires(change))


def change(name: str, value: Scalar) -> str:
    """A change as the id of a choice."""
    return f"{name}={json.dumps(value)}"


def read_change(text: str) -> tuple[str, Scalar]:
    """The fact and the value of such an id."""
    name, _, value = text.partition("=")
    read: Scalar = json.loads(value)
    return name, read


@_judge("hazard")
def _hazard(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The gravest hazard in force."""
    del about, ids
    return frozenset(hazard for hazard, _ in bench.assessed(facts).hazards[:1])


@_judge("set")
def _set(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The set-up that the coach advises."""
    del about, ids
    return frozenset({str(bench.verdict(bench.assessed(facts)).record["set"])})


@_judge("set for")
def _set_for(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The nights (their facts as JSON) for which the coach advises the set `about`."""
    nights = {night: {**facts, **json.loads(night)} for night in ids}
    return frozenset(n for n, told in nights.items() if of("set", told, "", (), bench) == {about})


@_judge("fix")
def _fix(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The causes for which a fix fires once the cause `about` is named."""
    del facts, ids
    rules = bench.tools.scales.rules
    fired = bench.infer({f"named.{about}": True}).firings
    return frozenset(cause for firing in fired if (cause := rules[firing.rule].fix_for) is not None)


# --- the steps of a case -----------------------------------------------------------------------------------


@_judge("first")
def _first(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The question that the coach asks next when it knows these facts."""
    del about, ids
    asks = next_question(session_of(facts), bench.assessed(facts), bench.tools)
    return frozenset() if asks is None else frozenset({asks})


def session_of(facts: Mapping[str, Scalar], asked: Sequence[str] = ()) -> Session:
    """A chat that has told these facts."""
    heard = {name: Heard(value=value, at=MOMENT.isoformat()) for name, value in facts.items()}
    return Session(facts=heard, asked=tuple(asked))


@_judge("again")
def _again(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """When the coach says to look again [min]."""
    del about, ids
    verdict = bench.verdict(bench.assessed(facts))
    return frozenset() if verdict.look_again_min is None else frozenset({f"{verdict.look_again_min:g}"})


# --- pictures, clearing, sums ------------------------------------------------------------------------------


@_judge("lamp")
def _lamp(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """Which lamp is out of line, in a picture of the kind `about`."""
    del ids
    figures = bench.tools.figures
    return frozenset({odd_lamps(figures.work_out(facts, now=MOMENT), figures.rig, from_side=about == "side")})


@_judge("next step")
def _next_step(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The step of clearing the water that comes after so many (`about`)."""
    del facts, ids, bench
    return frozenset({about})


@_judge("note")
def _note(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The rules that add the same note as the rule `about`."""
    del facts
    rules = written(bench.tools.book)
    return frozenset(name for name in ids if rules[name][0].note == rules[about][0].note)


@_judge("reason")
def _reason(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The rules that give the same reason as the rule `about`."""
    del facts
    rules = written(bench.tools.book)
    return frozenset(name for name in ids if rules[name][0].because == rules[about][0].because)


@_judge("asks")
def _asks(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """The fact that the rule `about` asks for."""
    del facts, ids
    return frozenset({str(written(bench.tools.book)[about][0].asks)})


@_judge("trip")
def _trip(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """What was found on a trip stands in the log (`about`)."""
    del facts, ids, bench
    return frozenset({about})


@_judge("sum")
def _sum(facts: Mapping[str, Scalar], about: str, ids: Sequence[str], bench: Bench) -> Rights:
    """Sums have their own check: see coach.school.numbers."""
    del facts, ids, bench
    return frozenset({about})
