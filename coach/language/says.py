"""What the phrases found in a text state: facts and hints, after denial, doubt and other people's affairs."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from coach.language.clauses import Frame
from coach.language.clock import Clock, moment
from coach.language.lexicon import Lexicon, Take
from coach.language.match import Match, choose, first_end
from coach.language.nodes import Part
from coach.language.quantities import Quantity
from coach.language.scan import Held, Scan
from coach.model import Fact, Scalar

_NOW_WORDS = frozenset({"now", "tonight", "currently", "presently"})
_LOOSE_WORDS = 3
"""Loose words weigh against what else is said from the fourth on: three must be all of their clause."""
_MOST_STRANGE = 3
_MOST_TRIES = 3
_BEFORE_DOUBT = 3
_TURNS = frozenset({
    "but", "then", "now", "though", "er", "uh", "actually", "rather", "sorry", "wait", "oops",
})  # fmt: skip

_GOING_ON = frozenset({"and", "but", "then", "so"})
_OURS = frozenset({"we", "i", "us", "me", "our", "my", "ours", "mine", "it", "here", "bow", "stern", "you"})
"""Words by which a clause speaks of our own boat again."""

_EXCEPT = frozenset({"except", "bar", "barring", "excepting"})
_WE = frozenset({"we", "i"})
_WE_DO = frozenset({"are", "am", "have", "got", "put", "set", "run", "use", "hung", "clipped", "keep", "had", "let"})
"""Words by which a clause that opens with one tells of us."""


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
    theirs = _carried(_speaking_of(lexicon.others, scan, frame=frame), frame)
    partly = _speaking_of(lexicon.part_of_us, scan, frame=frame)
    told = _told(listed)
    asked = set(topics) - set(named)
    known = told | set(topics)
    said: list[Said] = []
    hints: dict[str, frozenset[int]] = {}
    used: set[int] = set()
    denied: set[str] = set()
    past: list[Said] = []
    for match in listed:
        meaning = match.phrase.meaning
        is_elsewhere = _is_theirs(match, frame, theirs=theirs, lexicon=lexicon)
        if not is_elsewhere and frame.blocked(match.used) == {"earlier"}:
            past.extend(_said(match, meaning.facts, now=scan.now, frame=frame, facts=lexicon.facts))
        is_partial = bool(meaning.hint) and not meaning.of_one and _is_in(match, frame, spoken_of=partly)
        if is_elsewhere or is_partial or _states_nothing(match, frame) or meaning.unless & known:
            continue
        about = {name for name, _ in meaning.facts}
        is_aside = bool(asked and about) and about.isdisjoint(topics) and lexicon.grave.isdisjoint(about)
        if is_aside and _is_doubt(match, scan, lexicon):
            continue
        if meaning.is_beside and not _is_beside(match, told, topics=topics, facts=lexicon.facts):
            continue
        if not _stands_alone(
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


def standing(
    found: list[Match],
    scan: Scan,
    *,
    frame: Frame,
    lexicon: Lexicon,
    topics: Collection[str],
    named: Collection[str] = (),
) -> list[Match]:
    """The matches that stand; a short answer that does not count makes room for what it took the words of."""
    chosen = choose(found)
    for _ in range(_MOST_TRIES):
        idle = {
            id(match)
            for match in chosen
            if (
                match.phrase.alone
                and not _stands_alone(
                    match, chosen, scan=scan, frame=frame, lexicon=lexicon, topics=topics, named=named
                )
            )
            or (
                match.phrase.meaning.is_beside
                and not _is_beside(match, _told(chosen), topics=topics, facts=lexicon.facts)
            )
        }
        if not idle:
            break
        found = [match for match in found if id(match) not in idle]
        chosen = choose(found)
    return chosen


def _stands_alone(
    match: Match,
    listed: list[Match],
    *,
    scan: Scan,
    frame: Frame,
    lexicon: Lexicon,
    topics: Collection[str],
    named: Collection[str],
) -> bool:
    """A short answer counts if no other phrase uses its words and little else is said with it; words that
    only stand in one clause count if they are most of what it says, or grave."""
    if not match.phrase.alone and not match.phrase.loose:
        return True
    own = [name for name, _ in match.phrase.meaning.facts]
    others = [other for other in listed if other is not match and not other.phrase.meaning.hint]
    if match.phrase.loose:
        if not lexicon.grave.isdisjoint(own):
            return True
        besides = frozenset[int]().union(*(other.used for other in others))
        left = strangeness(match.used, besides, scan=scan, frame=frame, lexicon=lexicon, topics=own)
        return left <= max(0, len(match.used) - _LOOSE_WORDS)
    if any(other.used & match.used and not other.phrase.alone for other in others):
        return False
    if match.phrase.asked is not None and _is_doubt(match, scan, lexicon):
        return False
    taken = frozenset().union(*(other.used for other in others))
    if match.phrase.asked is None or match.phrase.asked & set(named):
        besides = taken if match.phrase.asked is None else frozenset[int]()
        return not strangeness(match.used, besides, scan=scan, frame=frame, lexicon=lexicon, topics=own)
    return answers_alone(match.used, taken, scan=scan, frame=frame, lexicon=lexicon, topics=[*topics, *own])


def _told(matches: Iterable[Match]) -> frozenset[str]:
    return frozenset(name for match in matches for name, _ in match.phrase.meaning.facts)


def _is_doubt(match: Match, scan: Scan, lexicon: Lexicon) -> bool:
    """True if the words of a short answer are part of a longer don't-know: "I have not measured it"."""
    first, last = min(match.used), max(match.used)
    part = lexicon.answers.unknown
    for at in range(max(0, first - _BEFORE_DOUBT), first + 1):
        stop = first_end(scan, part, at=at) if scan.words[at] in part.starts() else None
        if stop is not None and stop > last and (stop - at > len(match.used) or match.phrase.asked is None):
            return True
    return False


def _is_beside(
    match: Match, told: Collection[str], *, topics: Collection[str], facts: Mapping[str, Fact]
) -> bool:
    """True if other facts are told in the text, and no number is asked."""
    own = {name for name, _ in match.phrase.meaning.facts}
    return bool(set(told) - own) and not any(facts[name].type in ("number", "time") for name in topics)


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


def _speaking_of(part: Part, scan: Scan, *, frame: Frame) -> list[tuple[int, frozenset[int]]]:
    """The clauses that speak of something (another boat, one end of ours), and the words that name it."""
    starts = part.starts()
    return [
        (frame.clause_of[at], frozenset(range(at, end)))
        for at, word in enumerate(scan.words)
        if word in starts and (end := first_end(scan, part, at=at)) is not None
    ]


def _carried(spoken: list[tuple[int, frozenset[int]]], frame: Frame) -> list[tuple[int, frozenset[int]]]:
    """The same, and the clauses that go on about it: "they had some, but nothing now"."""
    found = list(spoken)
    for clause, names in spoken:
        later = clause + 1
        if later < len(frame.clauses) and names:
            start, end = frame.clauses[later]
            words = frame.words[start:end]
            if words[0] in _GOING_ON and _OURS.isdisjoint(words):
                found.append((later, frozenset()))
    return found


def _is_theirs(
    match: Match, frame: Frame, *, theirs: list[tuple[int, frozenset[int]]], lexicon: Lexicon
) -> bool:
    """True if the match tells of our catch in a clause whose subject is another boat."""
    meaning = match.phrase.meaning
    is_ours = bool(meaning.hint) or any(name in lexicon.not_theirs for name, _ in meaning.facts)
    if not is_ours:
        return False
    clauses = {frame.clause_of[at] for at in match.used}
    return any(
        clause in clauses and not _is_of_us(frame, clause) and not (names and min(names) in match.used)
        for clause, names in theirs
    )


def _is_of_us(frame: Frame, clause: int) -> bool:
    """True if a clause opens with us: "we put a ring of lights around her"."""
    first, second = (*frame.words[slice(*frame.clauses[clause])], "", "")[:2]
    return first in _WE and second in _WE_DO


def _is_in(match: Match, frame: Frame, *, spoken_of: list[tuple[int, frozenset[int]]]) -> bool:
    clauses = {frame.clause_of[at] for at in match.used}
    return any(clause in clauses and not names & match.used for clause, names in spoken_of)


def answers_alone(
    used: frozenset[int],
    taken: Collection[int],
    *,
    scan: Scan,
    frame: Frame,
    lexicon: Lexicon,
    topics: Collection[str],
) -> bool:
    """True if the clause of a short answer holds little else that could change its meaning."""
    left = strangeness(used, taken, scan=scan, frame=frame, lexicon=lexicon, topics=topics)
    return left <= min(len(used) - 1, _MOST_STRANGE)


def strangeness(
    used: frozenset[int],
    taken: Collection[int],
    *,
    scan: Scan,
    frame: Frame,
    lexicon: Lexicon,
    topics: Collection[str],
) -> int:
    """How much else its clauses say: one for each word that is not filler, two for one that is not known."""
    own = frozenset().union(*(lexicon.subject_words.get(topic, frozenset()) for topic in topics))
    start, end = frame.clauses[frame.clause_of[min(used)]][0], frame.clauses[frame.clause_of[max(used)]][1]
    left = 0
    for at in range(start, min(end, len(scan.words))):
        word = scan.words[at]
        if at in taken or at in used or word in lexicon.filler or word in own or not word[0].isalnum():
            continue
        left += 1 if word in lexicon.known else 2
    return left


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
