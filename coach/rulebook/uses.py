"""What is declared and leads nowhere: causes, hazards, set-ups, conclusions, numbers, questions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from coach.figures.rig import Rig
from coach.model import Fault
from coach.rulebook.reading import CAUSES, NUMBERS
from coach.rulebook.view import BLANK, View, named_in_code

LEAST_GROUPS = 3
"""A cause that fewer groups of evidence speak about hangs on one or two answers."""

_SOFT = ("tried.", "spoken_of.")
"""What is only said in passing, or learned after advice, is no sign of its own."""


def causes(view: View) -> Iterator[Fault]:
    """Causes that are not weighed from several sides, or that nothing is done about."""
    said = [r for r in view.book.rules if not all(c.fact.startswith(_SOFT) for c in r.when)]
    for cause in view.book.causes:
        weights = [(rule.group, db) for rule in said for name, db in rule.weighs if name == cause]
        groups = {group for group, _ in weights}
        wrong = []
        if not any(db > 0 for _, db in weights):
            wrong.append(("no rule speaks for it", "Write one."))
        if not any(db < 0 for _, db in weights):
            wrong.append(("no rule speaks against it", "Write one."))
        if len(groups) < LEAST_GROUPS:
            do = f"Let at least {LEAST_GROUPS} different signs bear on it."
            wrong.append((f"{len(groups)} group(s) of evidence speak about it", do))
        if not any(rule.fix_for == cause for rule in view.book.rules):
            wrong.append(("no rule says what to do about it", "Write one with fix_for."))
        at = view.at(CAUSES, f"cause.{cause}")
        yield from (Fault(*at, f"cause '{cause}'", *each) for each in wrong)


def unused_names(view: View) -> Iterator[Fault]:
    """Hazards and set-ups that no rule concludes."""
    raised = {rule.hazard for rule in view.book.rules}
    advised = {rule.advises_set for rule in view.book.rules}
    for hazard in (name for name in view.book.hazards if name not in raised):
        at = view.at(CAUSES, "hazard", hazard)
        yield Fault(*at, f"hazard '{hazard}'", "no rule raises it", "Write one, or take it out.")
    for name in (name for name in view.book.sets if name not in advised):
        at = view.at(CAUSES, "set", name)
        yield Fault(*at, f"set-up '{name}'", "no rule advises it", "Write one, or take it out.")


def conclusions(view: View) -> Iterator[Fault]:
    """Conclusions that no rule reads, told once for both lamps."""
    read = view.read_by_rules() | named_in_code()
    at: dict[tuple[str, int], list[str]] = {}
    for name, fact in view.book.facts.items():
        if fact.origin == "concluded":
            at.setdefault((fact.file, fact.line), []).append(name)
    for (file, line), names in at.items():
        if read.isdisjoint(names):
            wrong = "no rule reads this conclusion"
            if view.possible.concluded_by.keys().isdisjoint(names):
                wrong = "no rule concludes it and none reads it"
            at_line, do = (f"{view.folder.name}/{file}", line), "Use it in a condition, or drop it."
            yield Fault(*at_line, f"fact '{names[0]}'", wrong, do)


def unused_numbers(view: View) -> Iterator[Fault]:
    """Numbers that no rule, text or calculator uses: one note a file."""
    rules = view.book.rules
    texts = [text for rule in rules for text in (rule.because, rule.say, *rule.action, *rule.fix)]
    texts += [text for answer in view.book.answers for text in answer.says]
    texts += [c.text for rule in rules for c in (*rule.when, *rule.unless)]
    used = {name for text in (*texts, *view.book.texts.values()) for name in BLANK.findall(text)}
    used |= named_in_code() | {each.name for each in fields(Rig)}
    for file in NUMBERS:
        unused = [name for name in view.tables(file) if name not in used]
        if unused:
            at, do = view.at(file, unused[0]), "Harmless; they may serve later."
            yield Fault(*at, "numbers", f"nothing uses {', '.join(unused)}", do)


def unused_questions(view: View) -> Iterator[Fault]:
    """Questions whose answers nothing uses; they are never asked, only heard."""
    book = view.book
    used = view.read_by_rules() | named_in_code()
    used |= {name for each in view.figures.sums for name in (*each.needs, *each.uses, *each.asks)}
    used |= {book.safety_check, *book.safety_singles, book.follow_up.ask, book.follow_up.catch}
    used |= {name for confirm in book.confirms for name in (confirm.ask, *(confirm.differ or ()))}
    used |= {name for step in book.clearing for name in (step.only_if, step.times) if name}
    used |= {fact.only_if for fact in book.facts.values() if fact.only_if}
    for name, fact in book.facts.items():
        if fact.origin == "asked" and name not in used:
            at = f"{view.folder.name}/{fact.file}"
            yield Fault(at, fact.line, f"question '{name}'", "nothing uses the answer", "Use it in a rule.")
