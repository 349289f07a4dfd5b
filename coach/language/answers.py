"""The answer to the open question: a value, a don't-know, or nothing that can be taken."""

from __future__ import annotations

from collections.abc import Iterator

from coach.language.clauses import Frame
from coach.language.clock import Clock
from coach.language.heard import NOTHING, Answer, after_lead, only_filler
from coach.language.lexicon import Lexicon
from coach.language.match import first_end
from coach.language.measured import measured
from coach.language.quantities import Quantity
from coach.language.scan import Scan
from coach.language.tokens import plain_words
from coach.model import Fact, Scalar

_LONGEST_CUED = 12
_UNSURE = "unsure"
"""The option that is a don't-know of its own, where a fact offers one."""
_EXCEPT = frozenset({"except", "apart", "besides", "bar", "barring", "excepting"})


def answer(scan: Scan, frame: Frame, *, fact: Fact, lexicon: Lexicon, taken: frozenset[int]) -> Answer:
    """The answer to `fact` in a text whose words `taken` already mean something."""
    if fact.type in ("number", "time"):
        found = measured(scan, frame, fact=fact, lexicon=lexicon, taken=taken)
    else:
        found = _worded(scan, frame, fact=fact, lexicon=lexicon, taken=taken)
    if found.value is None and _says_unknown(scan, frame, lexicon=lexicon, taken=taken):
        return Answer(_UNSURE) if any(one.id == _UNSURE for one in fact.options) else Answer(is_unknown=True)
    return _cued(scan, frame, fact=fact, lexicon=lexicon, taken=taken) if found.value is None else found


def last_word(scan: Scan, lexicon: Lexicon) -> bool | None:
    """The yes or no that a text comes to: "3 ft at low so no"."""
    words = scan.words
    if len(words) < 3 or words[-2] != "so":
        return None
    for part, value in ((lexicon.answers.no, False), (lexicon.answers.yes, True)):
        if first_end(scan, part, at=len(words) - 1) == len(words):
            return value
    return None


def _worded(scan: Scan, frame: Frame, *, fact: Fact, lexicon: Lexicon, taken: frozenset[int]) -> Answer:
    label = _label(scan, fact, lexicon=lexicon)
    if label is not None:
        return Answer(label)
    is_yes = _yes_or_no(scan, frame, fact=fact, lexicon=lexicon, taken=taken)
    if fact.type == "bool":
        return Answer(_fine(scan, frame, fact=fact, lexicon=lexicon) if is_yes is None else is_yes)
    ids = {option.id for option in fact.options}
    if is_yes is None or not {"yes", "no"} <= ids:
        return NOTHING
    return Answer("yes" if is_yes else "no")


def _label(scan: Scan, fact: Fact, *, lexicon: Lexicon) -> str | None:
    """The option whose label the text is, word for word."""
    words = tuple(word for word in scan.words if word[0].isalnum())
    for option in fact.options:
        label = plain_words(option.label, lexicon.spelling)
        if words and words == tuple(word for word in label if word[0].isalnum()):
            return option.id
    return None


def _yes_or_no(
    scan: Scan, frame: Frame, *, fact: Fact, lexicon: Lexicon, taken: frozenset[int]
) -> bool | None:
    """The first clause that is, or opens with, a yes or a no."""
    for number, (start, end) in enumerate(frame.clauses):
        kinds = frame.blocked(range(start, end)) - {"modal", "unsure", "earlier"}
        if end <= start or (kinds and not _is_answered_doubt(frame, start, end=end)):
            continue
        for at in dict.fromkeys((start, after_lead(scan, lexicon, start=start, end=end))):
            if first_end(scan, lexicon.answers.unknown, at=at) is not None:
                return None
            found = _clause_answer(
                scan, lexicon, at=at, end=end, fact=fact, taken=taken, is_first=number == 0
            )
            if found and fact.name in lexicon.spoiled_by and _denies_one(scan.words, frame, after=number):
                return None
            if found is not None:
                return found and not _makes_exception(frame, fact, lexicon=lexicon, after=end)
        if _says_unknown_here(scan, lexicon, start=start, end=end):
            return None
    return None


def _denies_one(words: tuple[str, ...], frame: Frame, *, after: int) -> bool:
    """ "Jackets and light yes, channel no": neither a yes nor a no to all of it."""
    later = frame.clauses[after + 1 :]
    return any(end - start > 1 and words[end - 1] in ("no", "not", "nope") for start, end in later)


def _is_answered_doubt(frame: Frame, start: int, *, end: int) -> bool:
    return end - start <= 2 and frame.words[end : end + 1] != ("?",)


def _makes_exception(frame: Frame, fact: Fact, *, lexicon: Lexicon, after: int) -> bool:
    """ "yes, except ...": not all of it, where all of it was asked."""
    return fact.name in lexicon.all_of and not _EXCEPT.isdisjoint(frame.words[after:])


def _clause_answer(
    scan: Scan, lexicon: Lexicon, *, at: int, end: int, fact: Fact, taken: frozenset[int], is_first: bool
) -> bool | None:
    answers = lexicon.answers
    for part, value in ((answers.no, False), (answers.yes, True)):
        stop = first_end(scan, part, at=at)
        if (
            stop is not None
            and only_filler(scan, lexicon, start=stop, end=end)
            and not taken & set(range(at, stop))
        ):
            return value
    if not is_first and at + 1 < end:
        return None
    for part, value in ((answers.opens_no, False), (answers.opens_yes, True)):
        stop = first_end(scan, part, at=at)
        if stop is not None and _opens(
            scan, lexicon, stop=stop, end=end, fact=fact, taken=taken, value=value
        ):
            return value
    return None


def _opens(
    scan: Scan, lexicon: Lexicon, *, stop: int, end: int, fact: Fact, taken: frozenset[int], value: bool
) -> bool:
    """A yes or no before more words; "no lightning" answers only what lightning is about."""
    if stop >= end or scan.words[stop] in lexicon.filler:
        return True
    if value or scan.words[stop - 1] != "no":
        return True
    return fact.name in lexicon.any_of and not taken & set(range(stop, end))


def _fine(scan: Scan, frame: Frame, *, fact: Fact, lexicon: Lexicon) -> Scalar | None:
    """ "all good", "not right": what it means for this fact is in the word files."""
    meaning = lexicon.fine_means.get(fact.name)
    if meaning is None:
        return None
    for start, end in frame.clauses:
        at = after_lead(scan, lexicon, start=start, end=end)
        for part, is_fine in ((lexicon.answers.bad, False), (lexicon.answers.fine, True)):
            stop = first_end(scan, part, at=at) if at < end else None
            if (
                stop is not None
                and only_filler(scan, lexicon, start=stop, end=end)
                and not frame.blocked(range(at, stop))
            ):
                return meaning if is_fine else not meaning
    return None


def _says_unknown(scan: Scan, frame: Frame, *, lexicon: Lexicon, taken: frozenset[int]) -> bool:
    return any(
        _says_unknown_here(scan, lexicon, start=start, end=end, taken=taken) for start, end in frame.clauses
    )


def _says_unknown_here(
    scan: Scan, lexicon: Lexicon, *, start: int, end: int, taken: frozenset[int] = frozenset()
) -> bool:
    starts = lexicon.answers.unknown.starts()
    return any(
        scan.words[at] in starts
        and (stop := first_end(scan, lexicon.answers.unknown, at=at)) is not None
        and stop <= end
        and not taken & set(range(at, stop))
        for at in range(start, min(end, len(scan.words)))
    )


def _cued(scan: Scan, frame: Frame, *, fact: Fact, lexicon: Lexicon, taken: frozenset[int]) -> Answer:
    """An answer by a word that speaks for one value only, in a text without a strange word.

    Never a number: "a light breeze" has a word of "no breeze", and is not one.
    """
    is_open = fact.name in lexicon.spoiled_by and _denies_one(scan.words, frame, after=-1)
    if fact.type in ("number", "time") or is_open:
        return NOTHING
    cues = lexicon.cues.of(fact.name)
    if first_end(scan, lexicon.answers.small_talk, at=0) is not None:
        return NOTHING
    if any(held is not None and held.end == len(scan.words) for held in _quantities(scan)):
        return NOTHING
    if len(scan.words) > _LONGEST_CUED or any(_is_strange(word, lexicon) for word in scan.words):
        return NOTHING
    values: set[Scalar] = set()
    for at, word in enumerate(scan.words):
        if word not in cues or at in taken or frame.blocked((at,)) - {"modal"}:
            continue
        if frame.negators((at,)) != (0, False):
            return NOTHING
        values.add(cues[word])
    return Answer(values.pop(), is_guess=True) if len(values) == 1 else NOTHING


def _quantities(scan: Scan) -> Iterator[Quantity | Clock | None]:
    """What the text is from its first word on, read as a quantity: "8 and a half feet" picks nothing."""
    return (scan.value(kind, 0) for kind in ("length", "speed", "temp", "minutes", "volts"))


def _is_strange(word: str, lexicon: Lexicon) -> bool:
    return word[0].isalnum() and word not in lexicon.known and not word[0].isdigit()
