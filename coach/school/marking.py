"""Marking an answer: right or not, what is said about it, and what is kept of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from coach.school.cards import CardState, graded
from coach.school.difficulty import chance_right
from coach.school.gate import gates
from coach.school.memory import WAITED_DAYS
from coach.school.numbers import said
from coach.school.parts import Item, School, Sure
from coach.school.schedule import Plan
from coach.school.state import Answer, Learner, Open
from coach.school.told import filled, large

MOST_RETRIES = 2
"""So often a question comes back in one sitting; then it is left for another day."""
_KEPT_TRIES = 50
_KEPT_RECALLED = 200
_STEP = 0.3
"""How far one answer moves what is thought of a learner (Elo's constant, in the units of Rasch)."""


@dataclass(frozen=True, slots=True)
class Mark:
    """How an answer went, and what is said about it."""

    right: bool
    picked: str
    lines: tuple[str, ...]
    comes_back: bool = False


def marked(item: Item, picked: str | None, opened: Open, text: Mapping[str, str]) -> Mark:
    """Mark an answer; None means that it was to be shown. What is missed comes back, but not for ever."""
    mark = _marked(item, picked, opened, text)
    if mark.right:
        return mark
    if opened.retry >= MOST_RETRIES:
        return replace(mark, lines=(*mark.lines, text["another_day"]))
    return replace(mark, lines=(*mark.lines, text["comes_back"]), comes_back=True)


def _marked(item: Item, picked: str | None, opened: Open, text: Mapping[str, str]) -> Mark:
    if picked is None:
        return Mark(False, "", (text["shown"], *_answer(item, text), *item.because))
    if item.wanted is not None:
        return _number(item, float(picked), opened, text)
    if picked == item.right:
        head = text["right_with_hint" if opened.hints else "right"]
        return Mark(True, picked, (head, *item.because))
    choice = item.choice(picked)
    lines = (f"{text['wrong']} {choice.why}", *_answer(item, text), *item.because)
    return Mark(False, picked, lines)


def _answer(item: Item, text: Mapping[str, str]) -> tuple[str, ...]:
    return (filled(text["hint_answer"], answer=item.answer.rstrip(".")),)


def _number(item: Item, value: float, opened: Open, text: Mapping[str, str]) -> Mark:
    wanted = item.wanted
    assert wanted is not None
    if wanted.is_right(value):
        head = text["right_with_hint" if opened.hints else "right"]
        return Mark(True, f"{value:g}", (head, *item.because))
    slip = wanted.slip_of(value)
    head = f"{text['wrong']} {large(slip)}." if slip else ""
    if not slip:
        head = filled(text["near_miss"], given=said(value, wanted.unit), answer=item.answer)
    return Mark(False, f"{value:g}", (head.replace("..", "."), *item.because))


def how_sure(text: str, ways: Sequence[Sure]) -> str | None:
    """How sure a text says one is: a digit, the words, or their beginning."""
    word = " ".join(text.casefold().split()).strip(" .!")
    if word.isdecimal() and 1 <= int(word) <= len(ways):
        return ways[int(word) - 1].id
    fits = [way.id for way in ways if word and (way.id == word or way.says.casefold().startswith(word))]
    return fits[0] if len(fits) == 1 else None


# --- what is kept ------------------------------------------------------------------------------------------


def kept(
    state: Learner,
    item: Item,
    mark: Mark,
    opened: Open,
    *,
    plan: Plan,
    sure: str | None,
    shown: bool,
    now: datetime,
) -> Learner:
    """The learner after an answer. Only the first try of a sitting counts; a retry is practice."""
    answer = Answer(
        item=item.id,
        topic=item.topic,
        picked=mark.picked,
        right=mark.right,
        first=opened.retry == 0,
        sure=sure,
        hints=opened.hints,
        shown=shown,
        at=now,
    )
    back = tuple(each.model_copy(update={"after": each.after - 1}) for each in state.sitting.back)
    sitting = state.sitting.model_copy(update={"back": back, "last": item.id})
    state = state.model_copy(update={"open": None, "fresh": (answer,), "sitting": sitting})
    return state if opened.retry else _counted(state, item, answer, plan, now)


def _counted(state: Learner, item: Item, answer: Answer, plan: Plan, now: datetime) -> Learner:
    right = answer.right and not answer.hints
    is_sure = answer.sure is not None and answer.sure != "guess" and not answer.hints
    card = state.cards.get(item.id)
    grade = graded(right=answer.right, sure=is_sure)
    tries = (state.tries.get(item.topic, "") + ("1" if right else "0"))[-_KEPT_TRIES:]
    sitting = state.sitting
    sitting = sitting.model_copy(
        update={
            "count": sitting.count + 1,
            "right": sitting.right + right,
            "sure": _more(sitting.sure, answer),
        }
    )
    moment = now if card is None else max(now, card.last_at)  # a clock set back must not lose an answer
    return state.model_copy(
        update={
            "cards": {**state.cards, item.id: plan.after(card, grade, moment)},
            "tries": {**state.tries, item.topic: tries},
            "sure": _more(state.sure, answer),
            "ability": {**state.ability, item.topic: _moved(state, item, right)},
            "sitting": sitting,
            "recalled": _recalled(state, card, plan, moment, known=right and answer.sure != "guess"),
        }
    )


def _recalled(
    state: Learner, card: CardState | None, plan: Plan, now: datetime, *, known: bool
) -> tuple[tuple[float, bool], ...]:
    """What tells of this memory, with an item that was asked again after days."""
    if card is None or now - card.last_at < timedelta(days=WAITED_DAYS):
        return state.recalled
    foretold = replace(plan, memory=1.0).recall(card, now)
    return (*state.recalled, (round(foretold, 4), known))[-_KEPT_RECALLED:]


def _more(counts: Mapping[str, tuple[int, int]], answer: Answer) -> dict[str, tuple[int, int]]:
    if answer.sure is None:
        return dict(counts)
    count, right = counts.get(answer.sure, (0, 0))
    return {**counts, answer.sure: (count + 1, right + answer.right)}


def _moved(state: Learner, item: Item, right: bool) -> float:
    """What is thought of the learner in this topic after an answer. Source: Elo's rule (MEMORY)."""
    ability = state.ability.get(item.topic, 0.0)
    guess = 1 / len(item.choices) if item.choices else 0.0
    return ability + _STEP * (right - chance_right(ability, item.hardness, guess=guess))


# --- what else is said -------------------------------------------------------------------------------------


def news(before: Mapping[str, str], after: Mapping[str, str], school: School) -> tuple[str, ...]:
    """Topics that an answer mastered or opened."""
    old, new = gates(before, school), gates(after, school)
    titles = {name: topic.title for name, topic in school.topics.items()}
    lines = [
        filled(school.texts["mastered"], topic=titles[name])
        for name in new
        if new[name].mastered and not old[name].mastered
    ]
    lines += [
        filled(school.texts["opened"], topic=titles[name])
        for name in new
        if new[name].is_open and not old[name].is_open
    ]
    return tuple(lines)


def questions(count: int) -> str:
    """So many questions, in words."""
    return "1 question" if count == 1 else f"{count} questions"
