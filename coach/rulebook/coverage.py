"""Is every rule tried? In one situation it must fire, in a near one it must not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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
    for name, rules in written(book).items():
        at = (f"{folder.name}/{rules[0].file}", rules[0].line, f"rule '{name}'")
        names = {name, *(rule.id for rule in rules)}
        if not any(names.intersection(each.situation.fires) for each in played):
            yield Fault(*at, "no situation in which it must fire", f"Add one to {FOLDER}/.")
        if not _always_fires(rules) and not any(
            _is_near_miss(rules, names, each, book=book) for each in played
        ):
            do = f"Add one to {FOLDER}/ that keeps it silent by a single condition or exception."
            yield Fault(*at, "no near miss, in which it must be silent", do)


def _always_fires(rules: Sequence[Rule]) -> bool:
    return all(c.fact == OPEN for rule in rules for c in (*rule.when, *rule.unless))


def _is_near_miss(rules: Sequence[Rule], names: set[str], played: Played, *, book: Rulebook) -> bool:
    """Whether the situation keeps one of the rules silent, and only just."""
    silent = names.intersection(played.situation.silent)
    meant = [rule for rule in rules if rule.id in silent or silent - {each.id for each in rules}]
    return any(_is_only_just_silent(rule, played, book) for rule in meant)


def _is_only_just_silent(rule: Rule, played: Played, book: Rulebook) -> bool:
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
