"""Reads what a boater typed: facts, don't-knows, corrections, and what was not understood.

Nothing is guessed: what fits no phrase, has two meanings or lies outside a fact's range is handed
back as not understood, and a chosen reading ("half nine") is said back.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from coach.language.answers import answer
from coach.language.clauses import Frame, frame
from coach.language.corrections import ANY_TIME, marks, pieces
from coach.language.lexicon import Lexicon
from coach.language.match import Match, any_part, choose, find, find_answers, number_places
from coach.language.pairs import with_pairs
from coach.language.readback import label, limits, note, quote
from coach.language.says import Said, Statements, contradicts_later, statements
from coach.language.scan import GAP, Held, Scan
from coach.language.tokens import LIMIT, Text, read_words
from coach.language.typos import repaired
from coach.model import Fact, Scalar

_LONGEST_QUOTE = 120
_TURN = "but"
_ONE_OF_TWO = frozenset({"left", "right", "port", "starboard"})
_VALUE_KINDS = ("length", "count", "time", "minutes", "speed", "temp", "volts")
_Settled = dict[str, tuple[Scalar, tuple[Held, ...]]]
"""Facts with their value and the slots it was read from."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a text says. Times are ISO 8601 with zone; lengths ft, speeds kn, temperatures °F.

    `unknown`: the asked fact, answered with a don't-know. `read_back`: sentences to say where one
    reading was chosen among several. `not_understood`: what looked like an answer or a statement
    and was not; empty if nothing did. `retracted`: facts taken back without a new value.
    """

    facts: Mapping[str, Scalar] = field(default_factory=dict)
    unknown: tuple[str, ...] = ()
    read_back: tuple[str, ...] = ()
    not_understood: str = ""
    retracted: tuple[str, ...] = ()


@dataclass(slots=True)
class _Draft:
    """A reading in the making, over the pieces of a text that corrects itself."""

    facts: dict[str, Scalar] = field(default_factory=dict)
    notes: dict[str, str] = field(default_factory=dict)
    is_unknown: bool = False
    missed: list[str] = field(default_factory=list)
    retracted: list[str] = field(default_factory=list)
    last: str = ""


def read(text: str, *, asked: Fact | None, lexicon: Lexicon, now: datetime) -> Reading:
    """Read one message. `asked` is the fact of the open question, `now` the clock for times of day.

    Any text is accepted; what is longer than 1,000 characters is cut, and said to be.
    """
    whole = _repaired(read_words(text, lexicon.spelling), lexicon)
    draft = _Draft()
    for piece, mark in pieces(whole, lexicon):
        _read_piece(piece, draft, mark=mark, asked=asked, lexicon=lexicon, now=now)
    if whole.cut:
        draft.missed.append(f"only the first {whole.ends[-1] if whole.ends else LIMIT} characters were read")
    unknown = (asked.name,) if asked and draft.is_unknown and asked.name not in draft.facts else ()
    if not draft.facts and not unknown and not draft.missed and not draft.retracted:
        draft.missed.extend(_leftover(whole, asked, lexicon=lexicon, now=now))
    return Reading(
        draft.facts, unknown, tuple(draft.notes.values()), "; ".join(draft.missed), tuple(draft.retracted)
    )


def is_correction(text: str, lexicon: Lexicon) -> bool:
    """True if a text starts like taking back what was said last: "sorry, I meant 9", "no, twelve"."""
    whole = _repaired(read_words(text, lexicon.spelling), lexicon)
    opening = next(((end, mark) for start, end, mark in marks(whole, lexicon) if start == 0), None)
    if opening is not None:
        return opening[1] != "turns" or _has_value(whole, opening[0])
    return whole.words[:1] in (("no",), ("not",)) and _has_value(whole, 1)


def _has_value(text: Text, at: int) -> bool:
    """True if a number or time stands at word `at`, or after one comma."""
    at += text.words[at : at + 1] == (",",)
    scan = Scan(text, text.words, ANY_TIME)
    return at < len(text.words) and any(scan.value(kind, at) is not None for kind in _VALUE_KINDS)


def _repaired(text: Text, lexicon: Lexicon) -> Text:
    words = repaired(text.words, lexicon)
    return text if words is text.words else replace(text, words=words)


# --- one piece -----------------------------------------------------------------------------------


def _read_piece(
    piece: Text, draft: _Draft, *, mark: str, asked: Fact | None, lexicon: Lexicon, now: datetime
) -> None:
    before = draft.last or (asked.name if asked else "")
    if mark == "takes_back":
        draft.facts.pop(before, None)
        draft.notes.pop(before, None)
    if any(word[0].isalnum() for word in piece.words):
        corrected = lexicon.facts.get(draft.last) if mark else None
        _read_words(piece, draft, asked=(corrected, asked), lexicon=lexicon, now=now)
    if mark == "takes_back" and before and before not in draft.facts:
        draft.retracted.append(before)
        draft.last = ""


def _read_words(
    piece: Text, draft: _Draft, *, asked: tuple[Fact | None, Fact | None], lexicon: Lexicon, now: datetime
) -> None:
    scan = Scan(piece, piece.words, now)
    glued = frozenset(at for at in range(len(piece.words)) if piece.is_glued(at))
    clauses = frame(piece.words, glued, markers=lexicon.markers)
    topics = frozenset(fact.name for fact in asked if fact is not None)
    stated = _stated(scan, clauses, lexicon=lexicon, topics=topics)
    stated = with_pairs(stated, scan, frame=clauses, lexicon=lexicon)
    facts = _settled(stated, clauses, lexicon=lexicon, draft=draft)
    answered = _answer_into(
        facts, draft, asked=asked, scan=scan, clauses=clauses, stated=stated, lexicon=lexicon
    )
    for fact in asked:
        if fact is not None and _is_spoiled(fact, facts, lexicon=lexicon):
            facts.setdefault(fact.name, (False, ()))
    for name, value in _together(_free_hints(stated, clauses, answered=answered), lexicon).items():
        facts.setdefault(name, (value, ()))
    for name, (value, held) in facts.items():
        _take(draft, lexicon.facts[name], value=value, held=held, scan=scan)


def _is_spoiled(fact: Fact, facts: _Settled, *, lexicon: Lexicon) -> bool:
    """True if what is told rules out a yes to a question that asks for several things at once."""
    told = {name: value for name, (value, _) in facts.items()}
    return any(told.get(name) == value for name, value in lexicon.spoiled_by.get(fact.name, ()))


def _answer_into(
    facts: _Settled,
    draft: _Draft,
    *,
    asked: tuple[Fact | None, Fact | None],
    scan: Scan,
    clauses: Frame,
    stated: Statements,
    lexicon: Lexicon,
) -> set[int]:
    """Add the answer to the first asked fact that has one; the words it was read from."""
    hinted = _together(stated.hints.keys(), lexicon)
    for fact in dict.fromkeys(asked):
        if fact is None or fact.name in facts or fact.name in hinted:
            continue
        found = answer(scan, clauses, fact=fact, lexicon=lexicon, taken=stated.used)
        if found.value is not None:
            facts[fact.name] = (found.value, (found.held,) if found.held else ())
            if found.is_guess:
                draft.notes[fact.name] = f"I took that as {label(fact, found.value)}."
            return set(range(found.held.start, found.held.end)) if found.held else set()
        draft.is_unknown = draft.is_unknown or (found.is_unknown and fact is asked[1])
    return set()


def _free_hints(stated: Statements, clauses: Frame, *, answered: set[int]) -> list[str]:
    """The hints from clauses that do not answer the question already."""
    taken = answered | {at for one in stated.said if one.match.phrase.asked for at in one.match.used}
    busy = {clauses.clause_of[at] for at in taken}
    return [
        hint for hint, used in stated.hints.items() if busy.isdisjoint(clauses.clause_of[at] for at in used)
    ]


def _stated(scan: Scan, clauses: Frame, *, lexicon: Lexicon, topics: frozenset[str]) -> Statements:
    found = _without_idle_hints(find(scan, lexicon, topics=topics), scan, lexicon)
    stated = statements(choose(found), scan, frame=clauses, lexicon=lexicon, topics=topics)
    if len(clauses.clauses) < 2:
        return stated
    told = {one.fact for one in stated.said}
    opened = frozenset().union(*(lexicon.opens.get(name, frozenset()) for name in told - topics))
    named = _named_before(scan, lexicon)
    turned = frozenset() if _TURN in scan.words else told
    more = (stated.denied | opened - told | named.keys() - turned) - topics
    if not more:
        return stated
    answers = find_answers(scan, lexicon, topics=more)
    found += [one for one in answers if _follows(one, named)]
    return statements(choose(found), scan, frame=clauses, lexicon=lexicon, topics=topics | more)


def _without_idle_hints(found: list[Match], scan: Scan, lexicon: Lexicon) -> list[Match]:
    """The matches without hints that say no more than an answer to what was asked: "none yet"."""
    answers = [one for one in found if one.phrase.asked and not one.phrase.meaning.hint]

    def is_idle(match: Match) -> bool:
        rests = [match.used - one.used for one in answers if match.used & one.used]
        return any(all(scan.words[at] in lexicon.filler for at in rest) for rest in rests)

    return [one for one in found if not (one.phrase.meaning.hint and answers and is_idle(one))]


def _named_before(scan: Scan, lexicon: Lexicon) -> dict[str, int]:
    """The facts whose subject is named in the text, with the first place where it is."""
    places = {name: any_part(scan, part) for name, part in lexicon.carry.items()}
    return {name: found[0][0] for name, found in places.items() if found}


def _follows(match: Match, named: Mapping[str, int]) -> bool:
    """True if a short answer stands after its subject, where it lives by that."""
    return all(match.start > named.get(name, -1) for name, _ in match.phrase.meaning.facts)


def _settled(stated: Statements, clauses: Frame, *, lexicon: Lexicon, draft: _Draft) -> _Settled:
    """One value for each fact; those stated with two values are reported and left out."""
    by_fact: dict[str, list[Said]] = {}
    for one in stated.said:
        if not _is_of_one(one, clauses, lexicon=lexicon):
            by_fact.setdefault(one.fact, []).append(one)
    facts: _Settled = {}
    for name, several in by_fact.items():
        best = _one_of(several, clauses, lexicon=lexicon)
        if best is None:
            draft.missed.append(f"two answers about {lexicon.facts[name].says}")
        else:
            facts[name] = (best.value, best.held)
    return facts


def _is_of_one(one: Said, clauses: Frame, *, lexicon: Lexicon) -> bool:
    """ "The other one is clean", "the left lamp isn't dim": does not say that all are fine."""
    fine = {**dict.fromkeys(lexicon.any_of, False), **dict.fromkeys(lexicon.all_of, True)}
    if fine.get(one.fact) is not one.value:
        return False
    start, end = clauses.clauses[clauses.clause_of[one.at]]
    named = _ONE_OF_TWO & {clauses.words[at] for at in one.match.used}
    words = clauses.words[start:end]
    is_other = "other" in words and words[max(0, words.index("other") - 1)] != "each"
    return (is_other or len(named) == 1) and "both" not in words


def _together(hints: Collection[str], lexicon: Lexicon) -> dict[str, Scalar]:
    """What hints say together: for each fact the first rule that fits."""
    facts: dict[str, Scalar] = {}
    for rule in lexicon.together:
        if rule.hints <= set(hints) and not rule.without & set(hints):
            for name, take in rule.facts:
                if take.value is not None:
                    facts.setdefault(name, take.value)
    return facts


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
    last = several[-1]
    earlier = max(one.at for one in several if one.value != last.value)
    return last if contradicts_later(clauses, earlier, second=last.at) else None


def _take(draft: _Draft, fact: Fact, *, value: Scalar, held: tuple[Held, ...], scan: Scan) -> None:
    slots = [one for one in held if one.name != GAP or one.value is not None]
    if isinstance(value, float) and fact.range and not fact.range[0] <= value <= fact.range[1]:
        said = quote(scan.text, slots) or f"{value:g}"
        draft.missed.append(f'"{said}": {fact.says} may be {limits(fact)}')
        return
    draft.facts[fact.name] = value
    draft.last = fact.name
    chosen = note(fact, value, slots=slots, scan=scan)
    if chosen:
        draft.notes[fact.name] = chosen


def _leftover(whole: Text, asked: Fact | None, *, lexicon: Lexicon, now: datetime) -> list[str]:
    """The text, if it looks like an answer or a statement: not for a question, thanks or a greeting."""
    scan = Scan(whole, whole.words, now)
    clauses = frame(whole.words, frozenset(), markers=lexicon.markers)
    said = [word for word in whole.words if word[0].isalnum()]
    if not said or any(start == 0 for start, _ in any_part(scan, lexicon.answers.small_talk)):
        return []
    is_asking = all("question" in clauses.blocked(range(start, end)) for start, end in clauses.clauses)
    if is_asking and not (asked is not None and asked.type == "number" and number_places(scan, lexicon)):
        return []
    return [whole.said.strip()[:_LONGEST_QUOTE]] if asked is not None or len(said) > 1 else []
