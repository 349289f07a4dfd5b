"""Which of the phrases found stand: what else is said beside a short answer, and which make room."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from coach.language.clauses import Frame
from coach.language.lexicon import Lexicon
from coach.language.match import Match, choose, first_end
from coach.language.scan import Scan
from coach.model import Fact

_LOOSE_WORDS = 3
"""Loose words weigh against what else is said from the fourth on: three must be all of their clause."""
_MOST_STRANGE = 3
_MOST_TRIES = 3
_BEFORE_DOUBT = 3


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
                and not stands_alone(
                    match, chosen, scan=scan, frame=frame, lexicon=lexicon, topics=topics, named=named
                )
            )
            or (
                match.phrase.meaning.is_beside
                and not is_beside(match, told_by(chosen), topics=topics, facts=lexicon.facts)
            )
        }
        if not idle:
            break
        found = [match for match in found if id(match) not in idle]
        chosen = choose(found)
    return chosen


def stands_alone(
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
    is_taken = any(other.used & match.used and not other.phrase.alone for other in others)
    if is_taken or (match.phrase.asked is not None and is_doubt(match, scan, lexicon)):
        return False
    taken = frozenset().union(*(other.used for other in others))
    if match.phrase.asked is None or match.phrase.asked & set(named):
        besides = taken if match.phrase.asked is None else frozenset[int]()
        return not strangeness(match.used, besides, scan=scan, frame=frame, lexicon=lexicon, topics=own)
    return answers_alone(match.used, taken, scan=scan, frame=frame, lexicon=lexicon, topics=[*topics, *own])


def told_by(matches: Iterable[Match]) -> frozenset[str]:
    """The facts that some matches tell."""
    return frozenset(name for match in matches for name, _ in match.phrase.meaning.facts)


def is_doubt(match: Match, scan: Scan, lexicon: Lexicon) -> bool:
    """True if the words of a short answer are part of a longer don't-know: "I have not measured it"."""
    first, last = min(match.used), max(match.used)
    part = lexicon.answers.unknown
    for at in range(max(0, first - _BEFORE_DOUBT), first + 1):
        stop = first_end(scan, part, at=at) if scan.words[at] in part.starts() else None
        if stop is not None and stop > last and (stop - at > len(match.used) or match.phrase.asked is None):
            return True
    return False


def is_beside(
    match: Match, told: Collection[str], *, topics: Collection[str], facts: Mapping[str, Fact]
) -> bool:
    """True if other facts are told in the text, and no number is asked."""
    own = {name for name, _ in match.phrase.meaning.facts}
    return bool(set(told) - own) and not any(facts[name].type in ("number", "time") for name in topics)


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
