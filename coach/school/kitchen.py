"""What all makers of items work with: rule base, school, inference, slips, situations; and how items end."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property
from typing import Any

from coach.apparatus import Apparatus
from coach.consultation import Assessment, Infer
from coach.model import Clause, Rule, Rulebook, Scalar
from coach.rulebook.situations import MOMENT, Called, Situation, written
from coach.rulebook.topics import fact_name
from coach.school.keys import Bench
from coach.school.parts import Choice, Item, School, Slip
from coach.school.slips import Slips
from coach.school.told import filled, told
from coach.sums.row import row_until
from coach.topics import spoken_of
from coach.wording import Filler

LEAST_WRONG = 2


class Kitchen:
    """Everything prepared once. Immutable but for caches."""

    def __init__(
        self,
        school: School,
        tools: Apparatus,
        *,
        infer: Infer,
        clauses: Sequence[Clause],
        situations: Sequence[Situation],
    ) -> None:
        self.school, self.tools = school, tools
        self.situations = tuple(each for each in situations if each.at == MOMENT)
        self.bench = Bench(tools, infer)
        self.slips = Slips(self.bench, clauses)
        self.rules: Called = written(tools.book)
        self._topic_of_rule = {rule: topic.id for topic in school.topics.values() for rule in topic.rules}
        self._topic_of_cause = {cause: topic.id for topic in school.topics.values() for cause in topic.causes}
        self._moments: dict[str, Mapping[str, Scalar] | None] = {}

    @property
    def book(self) -> Rulebook:
        """The rule base."""
        return self.tools.book

    @property
    def text(self) -> Mapping[str, str]:
        """The school's sentences."""
        return self.school.texts

    def topic_of(self, rule: str) -> str | None:
        """The topic that teaches a rule."""
        return self._topic_of_rule.get(rule)

    def topic_of_cause(self, cause: str) -> str | None:
        """The topic that teaches a cause."""
        return self._topic_of_cause.get(cause)

    # -- moments

    def facts_of(self, situation: Situation) -> dict[str, Scalar]:
        """All facts of a situation, with what was named, tried and spoken of."""
        facts: dict[str, Scalar] = {**situation.facts}
        facts |= {f"named.{cause}": True for cause in situation.named}
        facts |= {f"tried.{cause}": True for cause in situation.tried}
        facts |= {fact_name(topic): True for topic in spoken_of(situation.said, self.book.topics)}
        return facts | row_until(situation.counts, situation.at)

    def fires(self, name: str, found: Assessment) -> bool:
        """Whether a rule (by the captain's id) fired."""
        ids = {rule.id for rule in self.rules[name]}
        return any(firing.rule in ids for firing in found.inference.firings)

    def moment(self, name: str) -> Mapping[str, Scalar] | None:
        """The shortest moment in which a rule fires: the facts without which it would not."""
        if name not in self._moments:
            self._moments[name] = self._shortest(name)
        return self._moments[name]

    def _shortest(self, name: str) -> Mapping[str, Scalar] | None:
        ids = {name, *(rule.id for rule in self.rules[name])}
        here = [self.facts_of(s) for s in self.situations if ids & {*s.fires}]
        for facts in sorted(here, key=len):
            if self.fires(name, self.bench.assessed(facts)):
                return self.less(facts, lambda found: self.fires(name, found))
        return None

    def less(self, facts: Mapping[str, Scalar], holds: Callable[[Assessment], bool]) -> dict[str, Scalar]:
        """The facts without those that can go while something still holds."""
        left = dict(facts)
        for name in list(left):
            tried = {other: value for other, value in left.items() if other != name}
            if tried and holds(self.bench.assessed(tried)):
                left = tried
        return left

    # -- finishing

    def choices(
        self, right: str, right_text: str, wrong: Mapping[str, tuple[str, str, Slip]]
    ) -> tuple[Choice, ...] | None:
        """The right choice and the wrong ones ((text, why, slip) by id); None if too few are distinct."""
        made = [Choice(right, right_text)]
        texts, whys = {right_text}, set[str]()
        for name, (text, why, slip) in wrong.items():
            if text not in texts and why not in whys:
                made.append(Choice(name, text, why, slip))
                texts.add(text)
                whys.add(why)
        return tuple(made) if len(made) > LEAST_WRONG else None

    def hints(
        self, looks: Iterable[str], because: Sequence[str], choices: Sequence[Choice], right_text: str
    ) -> tuple[str, ...]:
        """The ladder: where to look, what to think of, one choice struck out, the answer."""
        rungs = [filled(self.text["hint_look"], what=look) for look in list(looks)[:1]]
        rungs += [filled(self.text["hint_think"], because=reason) for reason in because[:1]]
        wrong = [choice for choice in choices if choice.why]
        if len(wrong) > 1:
            struck = wrong[-1]
            rungs.append(filled(self.text["hint_strike"], choice=struck.text.rstrip("."), why=struck.why))
        return (*rungs, filled(self.text["hint_answer"], answer=right_text.rstrip(".")))

    def item(
        self,
        name: str,
        right_text: str,
        wrong: Mapping[str, tuple[str, str, Slip]],
        *,
        looks: Iterable[str] = (),
        think: Sequence[str] | None = None,
        **parts: Any,
    ) -> Item | None:
        """The item of these parts with its choices and hints; None if too few wrong choices are distinct.

        `think` is what the hint reminds of, where that is not what `because` says.
        """
        choices = self.choices(parts["right"], right_text, wrong)
        if choices is None:
            return None
        think = parts["because"] if think is None else think
        hints = self.hints(looks, think, choices, right_text)
        return Item(id=name, choices=choices, hints=hints, **parts)

    def told(self, facts: Mapping[str, Scalar], *, leave: Iterable[str] = ()) -> tuple[str, ...]:
        """The facts in words."""
        return told(facts, self.book, leave=leave)

    def rule(self, name: str) -> Rule:
        """The first of the rules by a captain's id."""
        return self.rules[name][0]

    def action(self, cause: str) -> str:
        """What to do about a cause, as it is said when no figures are known."""
        rule = self.doable[cause]
        return Filler(self.book, {}).first(rule.action) or rule.title

    @cached_property
    def doable(self) -> dict[str, Rule]:
        """The fix of each cause."""
        return {rule.fix_for: rule for rule in reversed(self.book.rules) if rule.fix_for is not None}


def shuffled(item: Item, turn: int) -> tuple[Choice, ...]:
    """The choices in an order that depends on nothing but the item and how often it was asked."""
    if item.judge == "sum":  # bands stay in order
        return item.choices
    return tuple(sorted(item.choices, key=lambda choice: dice(item.id, turn, choice.id)))


def dice(*what: object) -> int:
    """A number made of these words, always the same for the same words."""
    return zlib.crc32("|".join(map(str, what)).encode())
