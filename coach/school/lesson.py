"""A lesson: one text in, the next state and lines out. Pure; front ends only translate.

    state, lines, choices = lesson.step(state, text, now=now)

The first step of a sitting takes any text and greets. After that a text is an answer, a number, how sure
one is, or one of: hint, ? (show it), why, more, stop, help. Nothing that is typed raises.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import NamedTuple

from coach.conversation import Choice as Pick
from coach.pictures import Picture, picture_for
from coach.school import choosing, introducing, marking
from coach.school.asking import Given, given, picks, question_lines
from coach.school.bank import Bank
from coach.school.cards import retaught
from coach.school.parts import Item
from coach.school.state import Coming, Learner, Open, Sitting
from coach.school.told import addressed, filled
from coach.wording import shortened

HINT, WHY, STOP, MORE, HELP = "hint", "why", "stop", "more", "help"
_WORDS = {"?": "?", "h": HINT, "hints": HINT, "quit": STOP, "bye": STOP, "end": STOP, "exit": STOP}


class Step(NamedTuple):
    """What a step comes to: the state, what is said, what may be picked now (none: type freely)."""

    state: Learner
    lines: tuple[str, ...]
    choices: tuple[Pick, ...]


class Lesson:
    """Lessons on one bank of items. `hardness` is what answers have told of items, in the units of Rasch."""

    def __init__(self, bank: Bank, *, hardness: Mapping[str, float] | None = None) -> None:
        self.bank = bank
        self._text = bank.kitchen.text
        self._hardness = hardness or {}

    def step(self, state: Learner, text: str, *, now: datetime) -> Step:
        """Answer one text. `now` is an aware time. The answers made are in the state's `fresh`."""
        after, lines, choices = self._step(state.model_copy(update={"fresh": ()}), text, now)
        return Step(after, _without_gaps(lines), choices)

    def _step(self, state: Learner, text: str, now: datetime) -> Step:
        word = " ".join(text.casefold().split())
        word = _WORDS.get(word, word)
        if word == STOP:
            return self._stopped(state)
        if state.open is None or self._item(state.open) is None:
            return self._without_question(state, word, now)
        if word in (HINT, WHY, HELP):
            return self._beside(state, state.open, word)
        if state.open.phase == "sure":
            return self._sure(state, state.open, text, now)
        return self._answered(state, state.open, text, now)

    def picture(self, state: Learner, *, now: datetime, theme: str = "dim") -> Picture | None:
        """The picture of the open question, if it has one."""
        item = None if state.open is None else self._item(state.open)
        if item is None or not item.picture:
            return None
        return picture_for(item.facts, book=self.bank.kitchen.book, now=now, kind=item.picture, theme=theme)

    # -- beginning and ending

    def _without_question(self, state: Learner, word: str, now: datetime) -> Step:
        if word == HELP:
            return Step(state, (self._text["help"],), ())
        if state.sitting.is_over and word not in (MORE, ""):
            return Step(state, (self._text["out_of_place"],), ())
        return self._begun(state, now, more=word == MORE)

    def _begun(self, state: Learner, now: datetime, *, more: bool) -> Step:
        queue = choosing.todays(state, self.bank, now=now, hardness=self._hardness, more=more)
        lines = [self._greeting(state, len(queue))] if queue and not more else []
        state, anew = self._taught_anew(state)
        if choosing.plan_of(self.bank, state).is_quiet(now) and not more and state.began and queue:
            lines.append(self._text["quiet"])
        state = state.model_copy(update={"began": True, "sitting": Sitting(queue=queue), "open": None})
        if not queue:
            over = state.sitting.model_copy(update={"is_over": True})
            state = state.model_copy(update={"sitting": over})
            return Step(state, (*lines, *anew, self._text["nothing_today"]), ())
        return self._next(state, (*lines, *anew))

    def _taught_anew(self, state: Learner) -> tuple[Learner, tuple[str, ...]]:
        """One item that was wrong too often is explained instead of asked, and may come again."""
        plan = choosing.plan_of(self.bank, state)
        stuck = [name for name, card in state.cards.items() if plan.is_stuck(card)]
        item = next((item for name in stuck if (item := self.bank.item(name)) is not None), None)
        if item is None:
            return state, ()
        cards = {**state.cards, item.id: retaught(state.cards[item.id])}
        told = filled(self._text["anew"], ask=item.ask, answer=item.answer)
        return state.model_copy(update={"cards": cards}), ("", *item.told, told, *item.because)

    def _greeting(self, state: Learner, count: int) -> str:
        name = "hello_again" if state.began else "hello"
        return addressed(self._text[name], state.shown_name, count=marking.questions(count))

    def _stopped(self, state: Learner) -> Step:
        told = () if state.sitting.is_over else self._result(state)
        over = state.sitting.model_copy(update={"is_over": True, "queue": (), "back": ()})
        state = state.model_copy(update={"open": None, "sitting": over})
        return Step(state, (self._text["stopped"], *told), ())

    def _over(self, state: Learner, lines: tuple[str, ...]) -> Step:
        over = state.sitting.model_copy(update={"is_over": True})
        state = state.model_copy(update={"open": None, "sitting": over})
        return Step(state, (*lines, *self._result(state)), ())

    def _result(self, state: Learner) -> tuple[str, ...]:
        sitting = state.sitting
        if not sitting.count:
            return ()
        sure = tuple(
            filled(self._text["done_sure"], says=each.says, right=right, count=count)
            for each in self.bank.kitchen.school.sure
            for count, right in [sitting.sure.get(each.id, (0, 0))]
            if count
        )
        return (filled(self._text["done"], right=sitting.right, count=sitting.count), *sure)

    # -- the next question

    def _next(self, state: Learner, lines: tuple[str, ...]) -> Step:
        """Put the next question, after what is still to be said."""
        back = state.sitting.back
        ready = next((each for each in back if each.after <= 0 or not state.sitting.queue), None)
        if ready is not None:
            left = tuple(each for each in back if each is not ready)
            state = _sat(state, back=left)
            return self._put(state, ready.item, lines, retry=ready.times)
        if not state.sitting.queue:
            return self._over(state, lines)
        name, *rest = state.sitting.queue
        state = _sat(state, queue=tuple(rest))
        if name.startswith(choosing.CASE) and name.endswith(choosing.NEW_CASE) and name not in state.cards:
            return self._new_case(state, name, lines)
        lines = (*lines, *self._introduction(state, name))
        return self._put(self._introduced(state, name), name, lines)

    def _introduction(self, state: Learner, name: str) -> tuple[str, ...]:
        """What a topic is about, where it is met for the first time; a sum worked out before the first."""
        item = self.bank.item(name)
        if item is None:
            return ()
        topic = () if item.topic in state.met else ("", *introducing.introduction(item.topic, self.bank))
        is_first_sum = item.wanted is not None and name not in state.cards
        if not is_first_sum:
            return topic
        asked = self.bank.item(name, state.asked.get(name, 0))
        return (*topic, *introducing.worked_sum(name, self.bank, asked="" if asked is None else asked.ask))

    def _introduced(self, state: Learner, name: str) -> Learner:
        item = self.bank.item(name)
        met = dict.fromkeys((*state.met, *([item.topic] if item else [])))
        return state.model_copy(update={"met": tuple(met)})

    def _new_case(self, state: Learner, name: str, lines: tuple[str, ...]) -> Step:
        """A case met for the first time: some steps worked out, the rest to be done."""
        item = self.bank.item(name)
        steps = choosing.steps_of(name, self.bank)
        seen = state.cases.get(item.topic if item else "", 0)
        shown = min(choosing.shown_steps(seen, self.bank), len(steps) - 1)
        fresh = [step for step in steps[shown:] if step not in state.cards]
        if item is None or not fresh:
            return self._next(state, lines)
        worked = introducing.worked(steps[:shown], item.case, self.bank, is_first=seen == 0) if shown else ()
        worked = (
            (*self._introduction(state, name), "", *worked) if worked else self._introduction(state, name)
        )
        state = self._introduced(state, name)
        state = state.model_copy(update={"cases": {**state.cases, item.topic: seen + 1}})
        state = _sat(state, queue=(*fresh[1:], *state.sitting.queue))
        return self._put(state, fresh[0], (*lines, *worked))

    def _put(self, state: Learner, name: str, lines: tuple[str, ...], *, retry: int = 0) -> Step:
        turn = state.asked.get(name, 0)
        item = self.bank.item(name, turn)
        if item is None:  # the rules have changed since
            return self._next(state, lines)
        opened = Open(item=name, turn=turn, retry=retry)
        state = state.model_copy(update={"open": opened, "asked": {**state.asked, name: turn + 1}})
        last = self.bank.item(state.sitting.last)
        goes_on = last is not None and bool(item.case) and last.case == item.case and not retry
        told = (item.ask,) if goes_on else question_lines(item)
        lines = (*lines, "") if lines and lines[-1] != self._text["now_you"] else lines
        if item.case and any(item.told[0] in line for line in lines):
            told = tuple(line for line in told if line != item.told[0])
        return Step(state, (*lines, *told), picks(item, turn))

    # -- what is typed while a question is open

    def _item(self, opened: Open) -> Item | None:
        return self.bank.item(opened.item, opened.turn)

    def _beside(self, state: Learner, opened: Open, word: str) -> Step:
        item = self._item(opened)
        assert item is not None  # `step` has looked
        choices = self._sures() if opened.phase == "sure" else picks(item, opened.turn)
        if word != HINT:
            return Step(state, (self._text["help" if word == HELP else "why_later"], item.ask), choices)
        if opened.hints >= len(item.hints) or opened.phase == "sure":
            return Step(state, (self._text["no_more_hints"],), choices)
        state = state.model_copy(update={"open": opened.model_copy(update={"hints": opened.hints + 1})})
        return Step(state, (item.hints[opened.hints],), choices)

    def _answered(self, state: Learner, opened: Open, text: str, now: datetime) -> Step:
        item = self._item(opened)
        assert item is not None
        kitchen = self.bank.kitchen
        meant = given(text, item, opened.turn, book=kitchen.book, lexicon=kitchen.tools.lexicon, now=now)
        if meant.kind in ("unclear", "unit"):
            return Step(state, self._not_understood(item, meant, text), picks(item, opened.turn))
        if meant.kind == "unknown":
            return self._marked(state, opened, item, None, shown=True, now=now)
        picked = meant.picked if meant.kind == "picked" else repr(meant.number)
        if opened.retry or opened.hints:
            return self._marked(state, opened, item, picked, shown=False, now=now)
        waiting = opened.model_copy(update={"phase": "sure", "picked": picked})
        state = state.model_copy(update={"open": waiting})
        return Step(state, (self._text["how_sure"],), self._sures())

    def _not_understood(self, item: Item, meant: Given, text: str) -> tuple[str, ...]:
        if item.wanted is not None and meant.kind == "unit":
            return (filled(self._text["wrong_unit"], unit=item.wanted.unit),)
        if item.wanted is None:
            return (*self._said_back(text), self._text["not_understood_choice"])
        return (
            *self._said_back(text),
            filled(self._text["not_understood_number"], unit=item.wanted.unit),
        )

    def _said_back(self, text: str) -> tuple[str, ...]:
        return (filled(self._text["not_understood"], what=shortened(text)),) if text.strip() else ()

    def _sures(self) -> tuple[Pick, ...]:
        return tuple(Pick(each.id, each.says) for each in self.bank.kitchen.school.sure)

    def _sure(self, state: Learner, opened: Open, text: str, now: datetime) -> Step:
        item = self._item(opened)
        assert item is not None
        sure = marking.how_sure(text, self.bank.kitchen.school.sure)
        if sure is None:
            return Step(state, (*self._said_back(text), self._text["how_sure"]), self._sures())
        return self._marked(state, opened, item, opened.picked, shown=False, sure=sure, now=now)

    def _marked(
        self,
        state: Learner,
        opened: Open,
        item: Item,
        picked: str | None,
        *,
        shown: bool,
        now: datetime,
        sure: str | None = None,
    ) -> Step:
        """The answer is marked, kept, told about, and the next question put."""
        mark = marking.marked(item, picked, opened, self._text)
        plan = choosing.plan_of(self.bank, state)
        after = marking.kept(state, item, mark, opened, plan=plan, sure=sure, shown=shown, now=now)
        if mark.comes_back:
            wait = round(self.bank.kitchen.school.plan["day.again_after"])
            coming = Coming(item=item.id, after=wait, times=opened.retry + 1)
            after = _sat(after, back=(*after.sitting.back, coming))
        news = marking.news(state.tries, after.tries, self.bank.kitchen.school)
        return self._next(after, (*mark.lines, *news))


def _without_gaps(lines: tuple[str, ...]) -> tuple[str, ...]:
    """The lines with single empty ones between the parts, none at the ends."""
    kept = [line for place, line in enumerate(lines) if line or (place and lines[place - 1])]
    return tuple(kept[:-1] if kept and not kept[-1] else kept)


def _sat(state: Learner, **changes: object) -> Learner:
    return state.model_copy(update={"sitting": state.sitting.model_copy(update=changes)})
