"""The role play: the learner coaches a boater whose night is hidden; then the coach shows where it differs.

Pure. The boater answers out of a hidden case, roughly where boaters are rough; what he would not know he does
not say. The coach's own questions come from the same consultation as on the water.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from rapidfuzz import fuzz
from rapidfuzz.utils import default_process

from coach.consultation import next_question
from coach.conversation import Choice as Pick
from coach.conversation import Frozen
from coach.language.read import read
from coach.model import Fact, Scalar
from coach.rulebook.topics import fact_name
from coach.school.keys import session_of
from coach.school.kitchen import Kitchen, dice
from coach.school.nights import opening_facts
from coach.school.parts import NOTHING, Case
from coach.school.told import filled, line, small
from coach.topics import spoken_of
from coach.wording import quantity, unit_in_words

_ALIKE = 62.0
_MOST_ASKED = 15
_FINDING = re.compile(r"^\s*(?:it'?s|it is|i (?:think|say)(?: it'?s| it is)?)\b[\s:,]*", re.IGNORECASE)
_GIVE_UP = {"give up", "?", "show", "i give up"}
_STOP = {"stop", "quit", "bye", "exit"}
_LITTLE_WORDS = (
    "a an and any are at been by can did do does for from had has have how i in is it its many much now of"
    " on or our she that the them there they this to was we were what when where which who you your ft feet"
)
_LITTLE = frozenset(_LITTLE_WORDS.split())
_VERB = re.compile(r"^(?:is there|are there|is|are|was|were|do you see|do you have|any|how about)\b\s*")
_SPOKEN = 30.0
"""How much nearer talk of a thing brings what it is about, in hundredths of likeness."""
_RARE = 2
"""A word in so few questions tells which one is meant."""
_TROUBLE = 3.0
"""How much farther away is what is hard to tell: of two alike the easier is meant."""
_ROUGH = {"ft": 0.5, "F": 5.0, "min": 10.0, "count": 5.0, "kn": 1.0}
"""To what a boater rounds what he only knows roughly, by unit."""


class Play(Frozen):
    """Where a role play stands: the case, the facts asked for in order, and whether it is over."""

    case: str
    asked: tuple[str, ...] = ()
    finding: str = ""
    is_over: bool = False


class Spoken(NamedTuple):
    """What a step of the play comes to."""

    state: Play
    lines: tuple[str, ...]
    choices: tuple[Pick, ...]


class RolePlay:
    """Role plays on the cases of one school."""

    def __init__(self, kitchen: Kitchen) -> None:
        self._kitchen, self._text, self._book = kitchen, kitchen.text, kitchen.book
        self._cases = {case.id: case for case in kitchen.school.cases}
        self._asks = {fact.name: fact for fact in kitchen.book.facts.values() if fact.origin == "asked"}
        self._words = {
            name: set(_content(default_process(f"{fact.ask} {fact.says}")).split())
            for name, fact in self._asks.items()
        }
        self._spread = Counter(word for words in self._words.values() for word in words)

    def after(self, last: str | None) -> str:
        """The case that comes after another, in an order that mixes them."""
        order = sorted(self._cases, key=lambda name: dice("boater", name))
        return order[(order.index(last) + 1) % len(order)] if last in order else order[0]

    def begin(self, case: str) -> Spoken:
        """The boater calls. Raises KeyError for a case that is none."""
        opening = self._cases[case].opening
        return Spoken(Play(case=case), (filled(self._text["play_hello"], opening=opening),), ())

    def step(self, state: Play, text: str, *, now: datetime) -> Spoken:
        """Answer one text: a question to the boater, a finding, or giving up. Nothing typed raises."""
        word = " ".join(text.casefold().split()).strip(" .!")
        if state.is_over or word in ("", "help"):
            return Spoken(state, (self._text["play_help"],), ())
        if word in _GIVE_UP or word in _STOP:
            return self._ended(state, "")
        found = _FINDING.match(text)
        if found and (finding := self._cause(text[found.end() :])):
            return self._ended(state, finding)
        return self._asked(state, text, now)

    # -- questions

    def _asked(self, state: Play, text: str, now: datetime) -> Spoken:
        ranked = self._alike(text, now)
        score, name = ranked[0]
        if score < _ALIKE:
            guess = " ".join(self._question(near) for _, near in ranked[:2]).rstrip("?")
            return Spoken(state, (filled(self._text["play_not_understood"], or_else=guess),), ())
        case = self._cases[state.case]
        answer = self.answer(case, name)
        if name in state.asked:
            told = answer.strip('".')
            return Spoken(state, (filled(self._text["play_asked_before"], answer=told),), ())
        state = state.model_copy(update={"asked": (*state.asked, name)})
        if len(state.asked) >= _MOST_ASKED:
            return self._ended(state, "", before=(answer,))
        return Spoken(state, (answer,), ())

    def _alike(self, text: str, now: datetime) -> list[tuple[float, str]]:
        """The questions of the rule base by how much a text is like them, the nearest first.

        Whoever asks about weed on the lamps speaks of it: what the language of boaters hears in the text
        comes first.
        """
        bare = _VERB.sub("", text.casefold().rstrip(" ?"))
        lexicon = self._kitchen.tools.lexicon
        readings = [read(each, asked=None, lexicon=lexicon, now=now) for each in (text, bare)]
        heard = {name for reading in readings for name in reading.facts}
        spoken = self._spoken_facts(bare)
        plain = default_process(text)
        words = set(_content(plain).split())

        def score(fact: Fact) -> float:
            ask = default_process(fact.ask)
            alike = fuzz.token_set_ratio(_content(plain), _content(f"{ask} {fact.says}"))
            rare = {word for word in words & self._words[fact.name] if self._spread[word] <= _RARE}
            found = (
                0.75 * alike + 0.25 * fuzz.ratio(plain, ask) + _SPOKEN * (fact.name in spoken or bool(rare))
            )
            return (150.0 if fact.name in heard else found) - fact.trouble * _TROUBLE

        return sorted(((score(fact), name) for name, fact in self._asks.items()), key=lambda each: -each[0])

    def _spoken_causes(self, text: str) -> list[str]:
        """The causes that what is spoken of makes likelier."""
        topics = {fact_name(topic) for topic in spoken_of(text, self._book.topics)}
        rules = [rule for rule in self._book.rules if {c.fact for c in rule.when} & topics]
        return [cause for rule in rules for cause, db in rule.weighs if db == max(rule.weighs, key=_db)[1]]

    def _spoken_facts(self, text: str) -> set[str]:
        """The questions that tell most about those causes."""
        signs = self._kitchen.slips.signs()
        return {signs[cause][0][1] for cause in self._spoken_causes(text) if signs[cause]}

    def _question(self, name: str) -> str:
        return self._asks[name].ask.replace("{unit}", unit_in_words(self._asks[name].unit))

    def answer(self, case: Case, name: str) -> str:
        """What the boater says to a question."""
        fact, value = self._asks[name], case.hidden.get(name)
        if value is None:
            return self._text["play_unknown"]
        if isinstance(value, float) and not isinstance(value, bool) and name in case.vague:
            return filled(self._text["play_about"], value=_roughly(value, fact))
        return f'"{line(name, value, self._book)}."'

    # -- the finding

    def _cause(self, text: str) -> str:
        """The cause that a finding means; "" if none is near."""
        causes = {name: cause.says for name, cause in self._book.causes.items()}
        causes[NOTHING] = self._text["nothing_wrong"]
        plain, spoken = default_process(text), self._spoken_causes(text)

        def score(name: str) -> float:
            names = [_content(default_process(each)) for each in (causes[name], name)]
            alike = max(
                0.7 * fuzz.token_set_ratio(_content(plain), each) + 0.3 * fuzz.ratio(_content(plain), each)
                for each in names
            )
            return alike + _SPOKEN * (name in spoken)

        exact = [
            name for name, says in causes.items() if default_process(says) == plain or name == text.strip()
        ]
        if exact:
            return exact[0]
        best = max(causes, key=score)
        return best if score(best) >= _ALIKE else ""

    def _ended(self, state: Play, finding: str, *, before: tuple[str, ...] = ()) -> Spoken:
        state = state.model_copy(update={"finding": finding, "is_over": True})
        return Spoken(state, (*before, *self.review(state)), ())

    def right(self, case: str) -> str:
        """What the coach finds when it knows the whole night."""
        found = self._kitchen.bench.assessed(self._cases[case].hidden)
        return (*found.named, NOTHING)[0]

    def review(self, state: Play) -> tuple[str, ...]:
        """Whether it was that, the reasons, and where the coach's questions would have differed."""
        case, right = self._cases[state.case], self.right(state.case)
        says = self._says(right)
        mine = self.own_questions(case)
        slots = {"cause": small(says), "count": len(state.asked), "mine": len(mine)}
        name = "play_right" if state.finding == right else "play_wrong" if state.finding else "play_shown"
        head = filled(self._text[name], **slots)
        found = self._kitchen.bench.assessed(case.hidden)
        reasons = tuple(b.text for b in self._kitchen.bench.verdict(found).blocks if b.kind == "reason")
        return (head, *reasons, *self._compared(state, case, mine))

    def _says(self, cause: str) -> str:
        return self._text["nothing_wrong"] if cause == NOTHING else self._book.causes[cause].says

    def own_questions(self, case: Case) -> tuple[str, ...]:
        """The questions that the coach asks of this boater, until it knows."""
        facts, asked = opening_facts(case, self._kitchen), list[str]()
        while len(asked) < _MOST_ASKED and (name := self._next(facts, asked)) is not None:
            asked.append(name)
            if name in case.hidden:
                facts[name] = case.hidden[name]
        return tuple(asked)

    def _next(self, facts: Mapping[str, Scalar], asked: Sequence[str]) -> str | None:
        """What the coach would ask, knowing these facts and having asked so much."""
        found = self._kitchen.bench.assessed(facts)
        return next_question(session_of(facts, asked), found, self._kitchen.tools)

    def _compared(self, state: Play, case: Case, mine: Sequence[str]) -> tuple[str, ...]:
        lists = (
            filled(self._text["play_yours"], questions=self._list(state.asked)),
            filled(self._text["play_mine"], questions=self._list(mine)),
        )
        facts = opening_facts(case, self._kitchen)
        for place, yours in enumerate(state.asked):
            wanted = self._next(facts, state.asked[:place])
            if wanted is None or wanted == yours:
                facts |= {yours: case.hidden[yours]} if yours in case.hidden else {}
                if wanted is None:
                    break
                continue
            slots = {"number": place + 1, "yours": self._question(yours), "mine": self._question(wanted)}
            why = filled(self._text["play_why"], why=self._asks[wanted].why)
            return (*lists, filled(self._text["play_differs"], **slots), why)
        return (*lists, self._text["play_same"]) if state.asked else lists

    def _list(self, names: Sequence[str]) -> str:
        return " ".join(self._question(name) for name in names) or self._text["play_none"]


def _db(voice: tuple[str, int]) -> int:
    return voice[1]


def _content(text: str) -> str:
    """The words that carry the question."""
    return " ".join(word for word in text.split() if word not in _LITTLE) or text


def _roughly(value: float, fact: Fact) -> str:
    """A number as a boater gives it who has not measured: rounded to what he can tell."""
    step = _ROUGH.get(fact.unit or "", 1.0)
    return quantity(round(value / step) * step or value, fact.unit)
