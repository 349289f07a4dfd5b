"""What the phrases found in a text state: facts and hints, after denial, doubt and other people's affairs."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from coach.language.clauses import Frame
from coach.language.clock import Clock, moment
from coach.language.lexicon import Lexicon, Take
from coach.language.match import Match
from coach.language.quantities import Quantity
from coach.language.scan import Held, Scan
from coach.language.standing import is_beside, is_doubt, stands_alone, told_by
from coach.language.whose import carried, is_in, is_theirs, speaking_of
from coach.model import Fact, Scalar

_NOW_WORDS = frozenset({"now", "tonight", "currently", "presently"})
_TURNS = frozenset({
    "but", "then", "now", "though", "er", "uh", "actually", "rather", "sorry", "wait", "oops",
})  # fmt: skip


_EXCEPT = frozenset({"except", "bar", "barring", "excepting"})


@dataclass(frozen=True, slots=True)
class Said:
    """A fact stated: its value, where, what the slots held, and whether it was said of right now."""

    fact: str
    value: Scalar
    at: int
    held: tuple[Held, ...]
    is_now: bool
    beats: bool
    match: Match


@dataclass(frozen=True, slots=True)
class Statements:
    """All facts and hints stated, the words taken, and the facts that were spoken of without a value.

    `past`: what was stated of an earlier hour, and so is not said of now.
    """

    said: tuple[Said, ...]
    hints: Mapping[str, frozenset[int]]
    used: frozenset[int]
    denied: frozenset[str]
    past: tuple[Said, ...] = ()


def statements(
    matches: Iterable[Match],
    scan: Scan,
    *,
    frame: Frame,
    lexicon: Lexicon,
    topics: Collection[str],
    named: Collection[str] = (),
) -> Statements:
    """Turn matches into statements. `topics`: facts asked or just denied, whose short answers count.

    `named`: facts whose subject was only named before; a short answer then has to be all of its clause.
    """
    listed = list(matches)
    theirs = carried(speaking_of(lexicon.others, scan, frame=frame), frame, aboard=lexicon.aboard)
    partly = speaking_of(lexicon.part_of_us, scan, frame=frame)
    told = told_by(listed)
    asked = set(topics) - set(named)
    known = told | set(topics)
    said: list[Said] = []
    hints: dict[str, frozenset[int]] = {}
    used: set[int] = set()
    denied: set[str] = set()
    past: list[Said] = []
    for match in listed:
        meaning = match.phrase.meaning
        is_elsewhere = is_theirs(match, frame, theirs=theirs, lexicon=lexicon)
        if not is_elsewhere and frame.blocked(match.used) == {"earlier"}:
            past.extend(_said(match, meaning.facts, now=scan.now, frame=frame, facts=lexicon.facts))
        is_partial = bool(meaning.hint) and not meaning.of_one and is_in(match, frame, spoken_of=partly)
        if is_elsewhere or is_partial or _states_nothing(match, frame) or meaning.unless & known:
            continue
        about = {name for name, _ in meaning.facts}
        is_aside = bool(asked and about) and about.isdisjoint(topics) and lexicon.grave.isdisjoint(about)
        if is_aside and is_doubt(match, scan, lexicon):
            continue
        if meaning.is_beside and not is_beside(match, told, topics=topics, facts=lexicon.facts):
            continue
        if not stands_alone(
            match, listed, scan=scan, frame=frame, lexicon=lexicon, topics=topics, named=named
        ):
            continue
        count, is_weak = _denials(match, frame)
        used |= frozenset() if meaning.hint else match.used
        if count and not is_weak:
            denied.update(name for name, _ in meaning.facts)
        if meaning.hint and not count and not is_weak:
            hints[meaning.hint] = match.used
        is_excepted = not count and _has_exception(match, frame)
        takes = () if is_weak or count > 1 else meaning.denied if count else meaning.facts
        if is_excepted:
            takes = tuple(_but_one(name, take, lexicon=lexicon) for name, take in takes)
        said.extend(_said(match, takes, now=scan.now, frame=frame, facts=lexicon.facts))
    return Statements(tuple(said), hints, frozenset(used), frozenset(denied), tuple(past))


def _has_exception(match: Match, frame: Frame) -> bool:
    """True if the next clause takes one out: "all have jackets on, except grandpa"."""
    number = frame.clause_of[max(match.used)] + 1
    return number < len(frame.clauses) and frame.words[frame.clauses[number][0]] in _EXCEPT


def _but_one(name: str, take: Take, *, lexicon: Lexicon) -> tuple[str, Take]:
    """What is said of all with one taken out is not so of all."""
    return (name, Take(False)) if name in lexicon.all_of and take.value is True else (name, take)


def _denials(match: Match, frame: Frame) -> tuple[int, bool]:
    count, is_weak = frame.negators(match.used)
    if count == 0 and _denied_after(frame, match):
        count = 1
    return count, is_weak


def _denied_after(frame: Frame, match: Match) -> bool:
    """ "lightning: none", "dragging? no": a bare no that follows."""
    at = match.end
    words = frame.words
    while at < len(words) and words[at] in (":", "?", "-", "="):
        at += 1
    if at >= len(words) or words[at] not in ("no", "none", "nope", "negative", "nil", "not"):
        return False
    ends_there = at + 1 >= len(words) or words[at + 1] in (",", ".", ";", "!", "\n", "and")
    return ends_there and (at > match.end or words[at] != "no")


def _states_nothing(match: Match, frame: Frame) -> bool:
    kinds = set(frame.blocked(match.used))
    if match.phrase.meaning.may_be_past:
        kinds.discard("earlier")
    if match.phrase.asked is not None:
        kinds -= {"modal", "unsure"}
    if match.phrase.meaning.even_asked or ("question" in kinds and _answers_itself(match, frame)):
        kinds.discard("question")
    return bool(kinds)


def _answers_itself(match: Match, frame: Frame) -> bool:
    after = frame.words[match.end : match.end + 2]
    return after[:1] == ("?",) and after[1:] in (("no",), ("none",), ("nope",), ("yes",), ("yep",))


def _said(
    match: Match, takes: Iterable[tuple[str, Take]], *, now: datetime, frame: Frame, facts: Mapping[str, Fact]
) -> Iterable[Said]:
    start, end = frame.clauses[frame.clause_of[min(match.used)]]
    is_now = not _NOW_WORDS.isdisjoint(frame.words[start:end])
    for name, take in takes:
        value = value_of(take, match.held, now=now, fact=facts[name])
        if value is not None:
            yield Said(name, value, min(match.used), match.held, is_now, match.phrase.meaning.beats, match)


def value_of(take: Take, held: tuple[Held, ...], *, now: datetime, fact: Fact) -> Scalar | None:
    """The value a phrase gives a fact: fixed, or read from its slots."""
    if take.value is not None:
        return take.value
    by_name = {one.name: one.value for one in held}
    value = by_name.get(take.slot)
    if isinstance(value, Clock):
        return _time_value(value, now, fact=fact, is_since=take.is_since)
    if not isinstance(value, Quantity):
        return None
    second = by_name.get(take.second) if take.second else None
    more = take.second_sign * second.value if isinstance(second, Quantity) else 0.0
    return take.sign * (value.value + more) + 0.0


def _time_value(value: Clock, now: datetime, *, fact: Fact, is_since: bool) -> Scalar | None:
    if fact.type == "time":
        return moment(value, now).isoformat()
    if not is_since:
        return None
    return minutes_since(value, now)


def minutes_since(value: Clock, now: datetime) -> float:
    """Whole minutes from the last such moment to now, never below 0."""
    then = moment(value, now, lean="past")
    now = now if now.tzinfo is not None else now.replace(tzinfo=UTC)
    return float(max(0, round((now - then).total_seconds() / 60)))


def contradicts_later(frame: Frame, first: int, *, second: int) -> bool:
    """True if a "but", "then" or "now" stands between two statements, so that the later one holds."""
    return not _TURNS.isdisjoint(frame.words[first:second])
