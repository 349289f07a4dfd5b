"""Reads what a boater typed: facts, don't-knows, corrections, and what was not understood.

Nothing is guessed: what fits no phrase, has two meanings or lies outside a fact's range is handed
back as not understood, and a chosen reading ("half nine") is said back.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from coach.language.answers import answer, last_word
from coach.language.clauses import Frame, frame
from coach.language.corrections import ANY_TIME, marks, other_side, pieces
from coach.language.hedges import stands_after_doubt
from coach.language.lexicon import Lexicon
from coach.language.match import Match, any_part, find, find_answers, number_places
from coach.language.pairs import of_one_side, with_pairs
from coach.language.quantities import Quantity
from coach.language.readback import label, limits, note, quote
from coach.language.refers import referred
from coach.language.says import Statements, statements
from coach.language.scan import GAP, Held, Scan
from coach.language.settled import Settled, settled
from coach.language.standing import standing
from coach.language.thennow import with_now
from coach.language.tokens import LIMIT, Text, read_words
from coach.language.typos import repaired
from coach.language.undone import without_undone
from coach.model import Fact, Scalar

_LONGEST_QUOTE = 120
_VALUE_KINDS = ("length", "count", "time", "minutes", "speed", "temp", "volts")


@dataclass(frozen=True, slots=True)
class Reading:
    """What a text says. Times are ISO 8601 with zone; lengths ft, speeds kn, temperatures °F.

    `unknown`: the asked fact, answered with a don't-know. `read_back`: sentences to say where one
    reading was chosen among several. `not_understood`: what looked like an answer or a statement
    and was not; empty if nothing did. `retracted`: facts taken back without a new value. `about`: facts
    whose number was said to be only about so much. `beyond`: numbers that their facts cannot have; what
    was not understood besides is `missed`.
    """

    facts: Mapping[str, Scalar] = field(default_factory=dict)
    unknown: tuple[str, ...] = ()
    read_back: tuple[str, ...] = ()
    not_understood: str = ""
    retracted: tuple[str, ...] = ()
    about: tuple[str, ...] = ()
    beyond: Mapping[str, float] = field(default_factory=dict)
    missed: str = ""


@dataclass(slots=True)
class _Draft:
    """A reading in the making, over the pieces of a text that corrects itself."""

    facts: dict[str, Scalar] = field(default_factory=dict)
    notes: dict[str, str] = field(default_factory=dict)
    is_unknown: bool = False
    missed: list[str] = field(default_factory=list)
    retracted: list[str] = field(default_factory=list)
    about: set[str] = field(default_factory=set)
    beyond: dict[str, tuple[float, str]] = field(default_factory=dict)
    last: str = ""


def read(text: str, *, asked: Fact | None, lexicon: Lexicon, now: datetime) -> Reading:
    """Read one message. `asked` is the fact of the open question, `now` the clock for times of day.

    Any text is accepted; what is longer than 1,000 characters is cut, and said to be.
    """
    whole = referred(_repaired(read_words(text, lexicon.spelling), lexicon), lexicon.aboard)
    draft = _Draft()
    for piece, mark in pieces(whole, lexicon):
        _read_piece(piece, draft, mark=mark, asked=asked, lexicon=lexicon, now=now)
    if whole.cut:
        draft.missed.append(f"only the first {whole.ends[-1] if whole.ends else LIMIT} characters were read")
    unknown = (asked.name,) if asked and draft.is_unknown and asked.name not in draft.facts else ()
    if not (draft.facts or unknown or draft.missed or draft.retracted or draft.beyond):
        draft.missed.extend(_leftover(whole, asked, lexicon=lexicon, now=now))
    return Reading(
        draft.facts,
        unknown,
        tuple(draft.notes.values()),
        "; ".join((*(said for _, said in draft.beyond.values()), *draft.missed)),
        tuple(draft.retracted),
        tuple(name for name in draft.facts if name in draft.about),
        {name: value for name, (value, _) in draft.beyond.items() if name not in draft.facts},
        "; ".join(draft.missed),
    )


def plainly(text: str, lexicon: Lexicon) -> str:
    """The text in usual words: slips repaired, short forms written out, a space between words."""
    return " ".join(_repaired(read_words(text, lexicon.spelling), lexicon).words)


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


def _read_piece(
    piece: Text, draft: _Draft, *, mark: str, asked: Fact | None, lexicon: Lexicon, now: datetime
) -> None:
    before = draft.last or (asked.name if asked else "")
    other = other_side(piece, draft.last, lexicon=lexicon) if mark and draft.last in draft.facts else ""
    if other:
        draft.facts[other] = draft.facts.pop(draft.last)
        draft.last = other
        return
    names_side = any(word in lexicon.aboard.sides for word in piece.words)
    twin = _same_of_pair(draft, lexicon) if mark and not names_side else ""
    if mark == "takes_back":
        draft.facts.pop(before, None)
        draft.notes.pop(before, None)
    if any(word[0].isalnum() or word[1:].isdigit() for word in piece.words):
        corrected = lexicon.facts.get(draft.last) if mark else None
        _read_words(piece, draft, asked=(corrected, asked), lexicon=lexicon, now=now)
    if twin and before in draft.facts and draft.last == before:
        draft.facts[twin] = draft.facts[before]
    if mark == "takes_back" and before and before not in draft.facts:
        draft.retracted.append(before)
        draft.last = ""


def _same_of_pair(draft: _Draft, lexicon: Lexicon) -> str:
    """The other fact of the pair of which one was told last, if both were told alike: "both at 4"."""
    pair = lexicon.pairs.get(draft.last)
    is_same = pair is not None and draft.facts.get(pair.fact, draft) == draft.facts.get(draft.last)
    return pair.fact if pair is not None and is_same else ""


def _read_words(
    piece: Text, draft: _Draft, *, asked: tuple[Fact | None, Fact | None], lexicon: Lexicon, now: datetime
) -> None:
    scan = Scan(piece, piece.words, now)
    glued = frozenset(at for at in range(len(piece.words)) if piece.is_glued(at))
    clauses = frame(piece.words, glued, markers=lexicon.markers)
    topics = frozenset(fact.name for fact in asked if fact is not None)
    stated = _stated(scan, clauses, lexicon=lexicon, topics=topics)
    stated = with_now(stated, scan, frame=clauses, lexicon=lexicon)
    stated = of_one_side(stated, scan, frame=clauses, lexicon=lexicon)
    stated = with_pairs(stated, scan, frame=clauses, lexicon=lexicon)
    stated = without_undone(stated, scan, frame=clauses, lexicon=lexicon)
    facts, missed = settled(stated, clauses, lexicon=lexicon)
    draft.missed += missed
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


def _is_spoiled(fact: Fact, facts: Settled, *, lexicon: Lexicon) -> bool:
    """True if what is told rules out a yes to a question that asks for several things at once."""
    spoilers = lexicon.spoiled_by.get(fact.name, ())
    return any(name in facts and facts[name][0] == value for name, value in spoilers)


def _answer_into(
    facts: Settled,
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
    for fact in asked:
        if fact is not None and fact.type == "bool" and (said := last_word(scan, lexicon)) is not None:
            facts[fact.name] = (said, ())
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
    chosen = standing(found, scan, frame=clauses, lexicon=lexicon, topics=topics)
    stated = statements(chosen, scan, frame=clauses, lexicon=lexicon, topics=topics)
    if len(clauses.clauses) < 2:
        return stated
    told = {one.fact for one in stated.said}
    opened = frozenset().union(*(lexicon.opens.get(name, frozenset()) for name in told - topics))
    named = _named_before(scan, lexicon)
    more = (stated.denied | opened - told | named.keys() - told) - topics
    if not more:
        return stated
    answers = find_answers(scan, lexicon, topics=more)
    found += [one for one in answers if _follows(one, named, clauses)]
    only_named = more - stated.denied
    chosen = standing(found, scan, frame=clauses, lexicon=lexicon, topics=topics | more, named=only_named)
    return statements(chosen, scan, frame=clauses, lexicon=lexicon, topics=topics | more, named=only_named)


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


def _follows(match: Match, named: Mapping[str, int], clauses: Frame) -> bool:
    """True if a short answer stands in a clause behind that of its subject, where it lives by that."""
    places = [named[name] for name, _ in match.phrase.meaning.facts if name in named]
    return all(clauses.clause_of[match.start] > clauses.clause_of[place] for place in places)


def _together(hints: Collection[str], lexicon: Lexicon) -> dict[str, Scalar]:
    """What hints say together: for each fact the first rule that fits."""
    facts: dict[str, Scalar] = {}
    for rule in lexicon.together:
        if rule.hints <= set(hints) and not rule.without & set(hints):
            for name, take in rule.facts:
                if take.value is not None:
                    facts.setdefault(name, take.value)
    return facts


def _take(draft: _Draft, fact: Fact, *, value: Scalar, held: tuple[Held, ...], scan: Scan) -> None:
    slots = [one for one in held if one.name != GAP or one.value is not None]
    if isinstance(value, float) and fact.range and not fact.range[0] <= value <= fact.range[1]:
        said = quote(scan.text, slots) or f"{value:g}"
        draft.beyond[fact.name] = (value, f'"{said}": {fact.says} may be {limits(fact)}')
        return
    draft.facts[fact.name] = value
    draft.last = fact.name
    draft.about.discard(fact.name)
    if any(_is_about(one, scan) for one in slots):
        draft.about.add(fact.name)
    chosen = note(fact, value, slots=slots, scan=scan)
    if chosen:
        draft.notes[fact.name] = chosen


def _is_about(one: Held, scan: Scan) -> bool:
    if not isinstance(one.value, Quantity):
        return False
    return one.value.is_about or stands_after_doubt(scan.words, one.start)


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
