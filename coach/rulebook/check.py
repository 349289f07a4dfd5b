"""`coach rules check`: what a captain should know about rules that load and still cannot be right.

Loading has found every word that does not fit. Here the rules are looked at together: rules that can
never fire, that say the same twice or contradict each other, causes without enough evidence, blanks
that nothing fills, conclusions that lead nowhere, rules that no situation tries. The situations are
played, and each that comes out otherwise is a fault.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations
from pathlib import Path

from coach.advice import PHRASES
from coach.apparatus import apparatus
from coach.model import Condition, Fault, Rule, Rulebook
from coach.plain import PlainEvaluator
from coach.rulebook import uses
from coach.rulebook.coverage import coverage
from coach.rulebook.reading import clauses
from coach.rulebook.situations import Situation, called, complaints, play
from coach.rulebook.view import BLANK, View
from coach.wording import Filler


def check(book: Rulebook, situations: Sequence[Situation], *, folder: Path) -> tuple[Fault, ...]:
    """Every fault, in the order of files and lines; `folder` is where the rules were read from.
    Examples that come out otherwise are among them."""
    faults, changed = examined(book, situations, folder=folder)
    return _in_order((*faults, *changed))


def examined(
    book: Rulebook, situations: Sequence[Situation], *, folder: Path
) -> tuple[tuple[Fault, ...], tuple[Fault, ...]]:
    """What is wrong with the rules; and the examples that come out otherwise than they say, which is no
    fault of the rules where a number or a strength was changed on purpose.

    A near miss that is one no longer goes with the examples while there are any of the latter.
    """
    view = View(book, folder)
    tools, infer = apparatus(book), PlainEvaluator(clauses(book)).evaluate
    played = [play(situation, tools, infer=infer) for situation in situations]
    rules = called(book)
    faults = [
        *_dead_rules(view),
        *_twins(view),
        *_blanks(view),
        *_fixes(view),
        *uses.causes(view),
        *uses.unused_names(view),
        *uses.conclusions(view),
    ]
    changed = [fault for each in played for fault in complaints(each, rules, folder=folder)]
    (changed if changed else faults).extend(coverage(played, book, folder=folder))
    return _in_order(faults), _in_order(changed)


def _in_order(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    return tuple(sorted(faults, key=lambda fault: (fault.file, fault.line)))


def notes(book: Rulebook, *, folder: Path) -> tuple[Fault, ...]:
    """What is worth knowing and no fault: numbers and questions that nothing uses."""
    view = View(book, folder)
    return (*uses.unused_numbers(view), *uses.unused_questions(view))


# --- rules that can never fire -------------------------------------------------------------------


def _dead_rules(view: View) -> Iterator[Fault]:
    """One fault for each rule with a condition that cannot hold, or an exception that always does."""
    for rules in view.entries.values():
        found = (fault for rule in rules for fault in _dead(view, rule))
        yield from list(found)[:1]


def _dead(view: View, rule: Rule) -> Iterator[Fault]:
    yield from _without_source(view, rule)
    for fact in dict.fromkeys(c.fact for c in rule.when):
        yield from _contradicting(view, rule, fact)
    if not view.possible.can_fire(rule):
        facts = [c.fact for c in (*rule.when, *rule.unless) if view.is_concluded(c)]
        wrong = "it can never fire: its conditions and what other rules conclude exclude each other"
        yield view.fault(rule, wrong, f"Look at the rules that conclude {', '.join(dict.fromkeys(facts))}.")


def _without_source(view: View, rule: Rule) -> Iterator[Fault]:
    given = {each.gives for each in view.figures.sums}
    for key, conditions in (("when", rule.when), ("unless", rule.unless)):
        for c in conditions:
            fact = view.book.facts[c.fact]
            if fact.origin == "concluded" and c.fact not in view.possible.concluded_by:
                do = "Write a rule that does, or take the condition out."
                yield view.fault(rule, f"{key}: no rule concludes '{c.fact}'", do)
            elif fact.origin == "computed" and fact.file and c.fact not in given and fact.type != "bool":
                yield view.fault(rule, f"{key}: nothing works out '{c.fact}'", "Take the condition out.")


def _contradicting(view: View, rule: Rule, fact: str) -> Iterator[Fault]:
    own = [c for c in rule.when if c.fact == fact]
    common = view.possible.together(own) or frozenset()
    if not common:
        said = " and ".join(f"'{c.text}'" for c in own)
        how = "can never hold" if len(own) == 1 else "cannot hold together"
        yield view.fault(rule, f"it can never fire: {said} {how}", "Correct or drop one of them.")
        return
    for c in (c for c in rule.unless if c.fact == fact):
        passing = view.possible.passing(c)
        if common <= passing:
            wrong = f"it can never fire: whenever its conditions hold, so does the exception '{c.text}'"
            yield view.fault(rule, wrong, "Correct the exception or drop it.")
        elif common.isdisjoint(passing):
            wrong = f"the exception '{c.text}' can never hold while the conditions do"
            yield view.fault(rule, wrong, "Drop it, or correct the condition.")


# --- rules that say the same, or the opposite ----------------------------------------------------


def _twins(view: View) -> Iterator[Fault]:
    """Rules on the same conditions that repeat or contradict each other, each pair once."""
    alike: dict[object, list[Rule]] = {}
    for rule in (rules[0] for rules in view.entries.values()):
        alike.setdefault((_sets(view, rule.when), _sets(view, rule.unless)), []).append(rule)
    for rules in alike.values():
        for one, other in combinations(rules, 2):
            yield from _twin(view, one, other)


def _sets(view: View, conditions: Iterable[Condition]) -> frozenset[tuple[str, frozenset[object]]]:
    return frozenset((c.fact, frozenset(view.possible.passing(c))) for c in conditions)


def _twin(view: View, one: Rule, other: Rule) -> Iterator[Fault]:
    named = f"rule '{one.id}' ({one.file}:{one.line})"
    if _says(one) == _says(other):
        yield view.fault(other, f"it says the same on the same conditions as {named}", "Drop one of the two.")
        return
    for cause, db in other.weighs:
        own = dict(one.weighs).get(cause)
        if own is not None:
            wrong = _relation(other, one, named, signs=(db > 0, own > 0))
            yield view.fault(other, f"{wrong} '{cause}'", "Keep one of the two.")


def _relation(rule: Rule, earlier: Rule, named: str, *, signs: tuple[bool, bool]) -> str:
    """How two rules on the same conditions stand to each other over a cause."""
    side, earlier_side = ("for" if sign else "against" for sign in signs)
    if side != earlier_side:
        return f"{named} speaks {earlier_side}, and this on the same conditions {side}"
    if rule.group == earlier.group:
        return f"on the same conditions in the same group only the stronger of it and {named} counts {side}"
    return f"it counts the same conditions as {named} a second time {side}"


# --- texts ---------------------------------------------------------------------------------------


def _blanks(view: View) -> Iterator[Fault]:
    """Blanks that nothing can fill: a text with one is never said, or said with its braces."""
    filler = Filler(view.book, {})
    known = {*view.book.facts, *(n for n in view.book.numbers if _is_filled(n, filler))}
    for rules in view.entries.values():
        rule = rules[0]
        for key, texts, more in (
            ("because", (rule.because,), ()),
            ("say", (rule.say,), ()),
            ("action", rule.action, PHRASES),
            ("fix", rule.fix, PHRASES),
            ("note", (rule.note,), PHRASES),
        ):
            for name in (name for text in texts for name in BLANK.findall(text)):
                if name not in known and name not in more:
                    do = "Use a fact or a number; action and fix also take " + ", ".join(PHRASES) + "."
                    yield view.fault(rule, f"{key}: nothing fills the blank '{{{name}}}'", do)


def _fixes(view: View) -> Iterator[Fault]:
    """Fixes whose action may stay unsaid, or that do not say when to look again."""
    for rule in (rule for rule in view.book.rules if rule.fix_for):
        if all(set(BLANK.findall(line)) - view.book.numbers.keys() for line in rule.action):
            do = "Add a last line without blanks, for when the figures are not known."
            yield view.fault(rule, "action: every line has a blank that may stay open", do)
        if rule.look_again_min is None:
            do = "Say after how many minutes to look again."
            yield view.fault(rule, "look_again_min: is missing", do)


def _says(rule: Rule) -> object:
    told = (rule.hazard, rule.fix_for, rule.advises_set, rule.note, rule.asks)
    return (set(rule.concludes), set(rule.weighs), *told)


def _is_filled(number: str, filler: Filler) -> bool:
    blank = f"{{{number}}}"
    return filler.fill(blank) not in (None, blank)
