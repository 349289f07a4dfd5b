"""Is every rule tried? In one situation it must fire, in a near one it must not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from coach.consultation import OPEN
from coach.model import Fault, Rule, Rulebook
from coach.rulebook.situations import FOLDER, Played, obstacles, written

_TOLD_OTHERWISE = ("named.", "tried.", "spoken_of.")


def coverage(played: Sequence[Played], book: Rulebook, *, folder: Path) -> Iterator[Fault]:
    """A fault for each rule that lacks its must-fire situation or its near miss."""
    if not played:
        do = f"Say in {FOLDER}/ when each rule must fire and when it must not."
        yield Fault(f"{folder.name}/{FOLDER}", 1, "the folder", "there are no situations", do)
        return
    must_fire = {name for each in played for name in each.situation.fires}
    silent: dict[str, list[Played]] = {}
    for each in played:
        for name in each.situation.silent:
            silent.setdefault(name, []).append(each)
    for name, rules in written(book).items():
        at = (f"{folder.name}/{rules[0].file}", rules[0].line, f"rule '{name}'")
        if must_fire.isdisjoint((name, *(rule.id for rule in rules))):
            yield Fault(*at, "no situation in which it must fire", f"Add one to {FOLDER}/.")
        meant = [(rule, each) for rule in rules for each in _silencing(rule, name, silent)]
        if not _always_fires(rules) and not any(_is_near_miss(*each, book) for each in meant):
            do = f"Add one to {FOLDER}/ that keeps it silent by a single condition or exception."
            yield Fault(*at, "no near miss, in which it must be silent", do)


def _silencing(rule: Rule, entry: str, silent: Mapping[str, list[Played]]) -> list[Played]:
    """The situations that want this rule silent, by the captain's id or by its own."""
    return [each for name in dict.fromkeys((entry, rule.id)) for each in silent.get(name, ())]


def _always_fires(rules: Sequence[Rule]) -> bool:
    return all(c.fact == OPEN for rule in rules for c in (*rule.when, *rule.unless))


def _is_near_miss(rule: Rule, played: Played, book: Rulebook) -> bool:
    """Exactly one thing stands in the way, and it is something told, not something left unsaid."""
    in_the_way = obstacles(rule, played.facts)
    if len(in_the_way) != 1:
        return False
    (only,) = in_the_way
    if only in rule.unless or only.operator == "known" or only.fact in played.facts:
        return True
    if only.fact.startswith(_TOLD_OTHERWISE):
        return bool(played.situation.named or played.situation.tried or played.situation.said)
    return book.facts[only.fact].origin == "concluded"  # told by its absence
