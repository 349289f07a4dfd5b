"""What goes with an answer: what was noted, what will ring, whether it may wait behind others."""

from __future__ import annotations

from dataclasses import replace

from coach.commands import spoken_command
from coach.consult import Made
from coach.conversation import Choice, Message, Question
from coach.front.telegram import words
from coach.front.telegram.case import Case
from coach.front.telegram.screens import Screen, question
from coach.front.telegram.screens import screens as cut
from coach.model import UNKNOWN, Rulebook
from coach.places import WHERE
from coach.post.outbox import Letter
from coach.reminders import Bell
from coach.wording import clock, in_words

_NOTED = 6


def is_urgent(message: Message, made: Made) -> bool:
    """Whether an answer may not wait behind others: a hazard, or the water to be cleared."""
    clears = message.command == "clear" or spoken_command(message.text or "") == "clear"
    return clears or bool(made.reply.hazards)


def urgent(letter: Letter) -> Letter:
    """The letter as one that goes before others of its chat; an edit waits for the message it turns."""
    return replace(letter, body={**letter.body, "urgent": True}) if letter.kind == "send" else letter


def noted(case: Case, made: Made) -> str:
    """What was understood beside the answer to the open question; "" where there is nothing, and where a
    hazard speaks: nothing stands beside that. (A place is said back by its station's name.)"""
    if case.event.kind == "tap" or made.reply.hazards:
        return ""
    facts, metric = case.book.facts, made.after.metric
    aside = {made.before.asking, *WHERE}
    told = {n: v for n, v in made.reply.understood.items() if n not in aside and v != UNKNOWN}
    said = [f"{facts[n].says}: {in_words(value, facts[n], metric=metric)}" for n, value in told.items()]
    return words.NOTED.format(facts="; ".join(said[:_NOTED])) if said else ""


def with_bells(found: list[Screen], rings: list[Bell]) -> list[Screen]:
    """The last screen with what will ring."""
    if not rings:
        return found
    listed = [f"{words.BELL_NAMES[bell.kind]} {clock(bell.at)}" for bell in sorted(rings, key=lambda b: b.at)]
    *before, last = found
    said = words.BELLS_SET.format(bells=", ".join(listed[:8]))
    return [*before, *cut(f"{last.text}\n\n{said}", last.rows)]


def follow_question(book: Rulebook) -> Question:
    """The question whether advice helped."""
    fact = book.facts[book.follow_up.ask]
    options = tuple(Choice(option.id, option.label) for option in fact.options)
    return Question(fact.name, fact.ask, fact.why, fact.type, fact.unit, options)


def closed(case: Case, ask: Question | None) -> list[Letter]:
    """A button of a screen that is no longer so: the question that is open instead."""
    if ask is None:
        return case.edit(Screen(f"{words.CLOSED} {words.NOTHING_OPEN}"))
    text, buttons = question(ask, case.book.facts)
    return [*case.edit(Screen(words.CLOSED)), *case.letters([Screen(text, buttons)])]
