"""One value for each fact among all that a text states of it."""

from __future__ import annotations

from coach.language.clauses import Frame
from coach.language.lexicon import Lexicon
from coach.language.says import Said, Statements, contradicts_later
from coach.language.scan import Held
from coach.model import Scalar

Settled = dict[str, tuple[Scalar, tuple[Held, ...]]]
"""Facts with their value and the slots it was read from."""

_ONE_OF_TWO = frozenset({"left", "right", "port", "starboard"})


def settled(stated: Statements, clauses: Frame, *, lexicon: Lexicon) -> tuple[Settled, list[str]]:
    """One value for each fact, and what to say of those stated with two values, which are left out."""
    by_fact: dict[str, list[Said]] = {}
    for one in stated.said:
        if not _is_of_one(one, clauses, lexicon=lexicon):
            by_fact.setdefault(one.fact, []).append(one)
    facts: Settled = {}
    missed: list[str] = []
    for name, several in by_fact.items():
        best = _one_of(several, clauses, lexicon=lexicon)
        if best is None:
            missed.append(f"two answers about {lexicon.facts[name].says}")
        else:
            facts[name] = (best.value, best.held)
    return facts, missed


def _is_of_one(one: Said, clauses: Frame, *, lexicon: Lexicon) -> bool:
    """ "The other one is clean", "the left lamp isn't dim": does not say that all are fine."""
    fine = {**dict.fromkeys(lexicon.any_of, False), **dict.fromkeys(lexicon.all_of, True)}
    if fine.get(one.fact) is not one.value:
        return False
    words = clauses.words[slice(*clauses.clauses[clauses.clause_of[one.at]])]
    named = _ONE_OF_TWO & {clauses.words[at] for at in one.match.used}
    is_other = "other" in words and words[max(0, words.index("other") - 1)] != "each"
    return (is_other or len(named) == 1) and "both" not in words


def _are_alike(several: list[Said]) -> bool:
    """ "It hasn't dropped, it came up half a foot": one number that is not zero."""
    value = several[0].value
    return not isinstance(value, bool | str) and all(one.value == value for one in several)


def _one_of(several: list[Said], clauses: Frame, *, lexicon: Lexicon) -> Said | None:
    """The statement that holds among several about one fact; None if none clearly does."""
    first = several[0]
    if all(one.value == first.value for one in several):
        return first
    for chosen in ([one for one in several if one.beats], [one for one in several if one.is_now]):
        if chosen and all(one.value == chosen[0].value for one in chosen):
            return chosen[0]
    for names, value in ((lexicon.all_of, False), (lexicon.any_of, True)):
        if first.fact in names:
            return next(one for one in several if one.value is value)
    told = [one for one in several if one.value != 0.0]
    if told and len(told) < len(several) and _are_alike(told):
        return told[0]
    last = several[-1]
    earlier = max(one.at for one in several if one.value != last.value)
    return last if contradicts_later(clauses, earlier, second=last.at) else None
