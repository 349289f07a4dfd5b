"""Items about what the coach adds to a verdict, and what it asks before one: the notes of rules."""

from __future__ import annotations

import re

from coach.rulebook.topics import GROUP as SPOKEN_OF
from coach.school.kitchen import Kitchen, dice
from coach.school.parts import Item, Slip
from coach.school.told import filled, small
from coach.wording import unit_in_words

_MOST = 3
_HARD = 0.3
_SLOT = re.compile(r"\{[^}]*\}")


def note_for(name: str, kitchen: Kitchen) -> Item | None:
    """The coach adds this: what stands behind it?"""
    return _note(name, kitchen, backwards=True)


def note_of(name: str, kitchen: Kitchen) -> Item | None:
    """This is so: what does the coach add?"""
    return _note(name, kitchen, backwards=False)


def plain(text: str) -> str:
    """A text with its figures left out."""
    return _SLOT.sub("…", text)


def _note(name: str, kitchen: Kitchen, *, backwards: bool) -> Item | None:
    rule = kitchen.rule(name)
    if not rule.note:
        return None
    others = [other for other, rules in kitchen.rules.items() if rules[0].note and other != name]
    own = kitchen.topic_of(name)
    others.sort(key=lambda other: (kitchen.topic_of(other) != own, dice(name, other, backwards)))
    wrong = {}
    for other in others[:_MOST]:
        there = kitchen.rule(other)
        why = filled(kitchen.text["slip_note"], title=small(there.title), note=plain(there.note))
        wrong[other] = (there.title if backwards else plain(there.note), why, Slip("other", rule=other))
    text = rule.title if backwards else plain(rule.note)
    ask = "ask_note_for" if backwards else "ask_note_of"
    because = (plain(rule.because),)
    return kitchen.item(
        f"note-{'for' if backwards else 'of'}/{name}",
        text,
        wrong,
        topic=kitchen.topic_of(name) or "",
        ask=filled(kitchen.text[ask], title=rule.title, note=plain(rule.note)),
        told=(),
        right=name,
        because=because,
        rules=(name,),
        judge="note",
        about=name,
        hardness=_HARD,
    )


def reason(name: str, kitchen: Kitchen) -> Item | None:
    """Why does that matter? For dangers, conclusions, and what stands on figures."""
    rule = kitchen.rule(name)
    figured = any(kitchen.book.facts[condition.fact].origin == "computed" for condition in rule.when)
    if not (rule.hazard or rule.concludes or figured) or rule.fix_for or rule.group == SPOKEN_OF:
        return None
    own = kitchen.topic_of(name)
    others = [other for other in kitchen.rules if other != name and kitchen.topic_of(other) == own]
    others.sort(key=lambda other: dice(name, other, "reason"))
    wrong = {}
    for other in others[:_MOST]:
        there = kitchen.rule(other)
        why = filled(kitchen.text["slip_reason"], title=small(there.title))
        wrong[other] = (plain(there.because), why, Slip("other", rule=other))
    text = plain(rule.because)
    return kitchen.item(
        f"reason/{name}",
        text,
        wrong,
        think=(),
        topic=own or "",
        ask=filled(kitchen.text["ask_reason"], title=rule.title),
        told=(),
        right=name,
        because=(text,),
        rules=(name,),
        judge="reason",
        about=name,
        hardness=_HARD,
    )


def asks(name: str, kitchen: Kitchen) -> Item | None:
    """This is so: what does the coach ask before it answers?"""
    rule = kitchen.rule(name)
    if rule.asks is None:
        return None
    facts = kitchen.book.facts
    topic = kitchen.topic_of(name)
    others = sorted(
        {
            condition.fact
            for other, rules in kitchen.rules.items()
            if kitchen.topic_of(other) == topic
            for condition in rules[0].when
            if facts[condition.fact].origin == "asked" and condition.fact != rule.asks
        },
        key=lambda fact: dice(name, fact),
    )
    wrong = {
        fact: (_ask(fact, kitchen), facts[fact].why, Slip("other", fact=fact)) for fact in others[:_MOST]
    }
    text = _ask(rule.asks, kitchen)
    because = (facts[rule.asks].why,)
    return kitchen.item(
        f"asks/{name}",
        text,
        wrong,
        topic=topic or "",
        ask=filled(kitchen.text["ask_asks"], title=rule.title),
        told=(),
        right=rule.asks,
        because=because,
        rules=(name,),
        judge="asks",
        about=name,
        hardness=_HARD,
    )


def _ask(fact: str, kitchen: Kitchen) -> str:
    return kitchen.book.facts[fact].ask.replace("{unit}", unit_in_words(kitchen.book.facts[fact].unit))
