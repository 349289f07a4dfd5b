"""The number or time that answers the open question."""

from __future__ import annotations

from collections.abc import Iterator

from coach.language.clauses import Frame
from coach.language.clock import Clock, moment
from coach.language.heard import NOTHING, Answer, after_lead, only_filler
from coach.language.lexicon import Lexicon
from coach.language.match import first_end, number_places
from coach.language.quantities import Quantity, quantity_at, rate_at
from coach.language.says import minutes_since
from coach.language.scan import Held, Scan
from coach.language.standing import answers_alone
from coach.model import Fact, Scalar

_KIND_OF_UNIT = {"ft": "length", "kn": "speed", "F": "temp", "V": "volts", "min": "minutes", "count": "count"}
_SINCE = frozenset({"since", "at", "from"})
_COMPARED = frozenset({
    "less", "more", "deeper", "shallower", "lower", "higher", "farther", "further", "nearer",
})  # fmt: skip
"""Words that make a number a difference: "half a foot less"."""
_MOMENTS = frozenset({"midnight", "noon", "midday", "now", "just", "half", "quarter", "hour", "foot", "knot"})


def measured(scan: Scan, frame: Frame, *, fact: Fact, lexicon: Lexicon, taken: frozenset[int]) -> Answer:
    """The one free-standing quantity of the kind of `fact` in a text; nothing if there are two."""
    found = list(_quantities(scan, frame, fact=fact, lexicon=lexicon, taken=taken))
    with_unit = [held for held in found if isinstance(held.value, Quantity) and held.value.has_unit]
    found = with_unit or found
    in_now = [
        held for held in found if "now" in scan.words[slice(*frame.clauses[frame.clause_of[held.start]])]
    ]
    found = in_now if len(in_now) == 1 else found
    values = {_value(held, fact, scan=scan) for held in found}
    if len(values) == 1:
        return Answer(values.pop(), held=found[0])
    return NOTHING if found else _zero(scan, frame, fact=fact, lexicon=lexicon)


def _value(held: Held, fact: Fact, *, scan: Scan) -> Scalar:
    if isinstance(held.value, Clock):
        return (
            moment(held.value, scan.now).isoformat()
            if fact.type == "time"
            else minutes_since(held.value, scan.now)
        )
    assert isinstance(held.value, Quantity)
    return held.value.value + 0.0


def _quantities(
    scan: Scan, frame: Frame, *, fact: Fact, lexicon: Lexicon, taken: frozenset[int]
) -> Iterator[Held]:
    """Every free-standing quantity of the fact's kind, from left to right."""
    done = -1
    places = set(number_places(scan, lexicon)) | ({at for at, w in enumerate(scan.words) if w in _MOMENTS})
    for at in sorted(places):
        if at < done or at in taken:
            continue
        value = _value_at(scan, at, fact=fact, lexicon=lexicon)
        if value is None or taken & set(range(at, value.end)):
            continue
        used = frozenset(range(at, value.end))
        if _is_meant(scan, frame, used=used, fact=fact, lexicon=lexicon, taken=taken):
            yield Held("", at, value.end, value)
        done = value.end


def _value_at(scan: Scan, at: int, *, fact: Fact, lexicon: Lexicon) -> Quantity | Clock | None:
    if fact.type == "time":
        return scan.value("time", at)
    per_min = lexicon.per_minutes.get(fact.name)
    if per_min is not None and (rate := rate_at(scan.text, at, per_min=per_min)) is not None:
        return rate
    kind = _KIND_OF_UNIT.get(fact.unit or "", "number")
    if kind == "temp" and fact.is_difference:
        kind = "degrees"
    span = quantity_at(scan.text, at, kind=kind)
    if kind == "minutes":
        return _minutes_at(scan, at, span=span)
    return None if span is not None and span.is_part and span.end - at < len(scan.words) - 2 else span


def _minutes_at(scan: Scan, at: int, *, span: Quantity | None) -> Quantity | Clock | None:
    """A duration; or a clock time the duration has run since."""
    if span is not None and span.has_unit:
        return span
    clock = scan.value("time", at)
    is_since = (scan.words[at - 1 : at] and scan.words[at - 1] in _SINCE) or scan.words[at] in _SINCE
    if (
        isinstance(clock, Clock)
        and (not clock.is_bare or is_since)
        and (span is None or clock.end > span.end or is_since)
    ):
        return clock
    return None if span is not None and span.is_part else span


def _is_meant(
    scan: Scan, frame: Frame, *, used: frozenset[int], fact: Fact, lexicon: Lexicon, taken: frozenset[int]
) -> bool:
    """False for a quantity that is denied, asked, supposed, or said of something else."""
    first = min(used)
    if first and scan.words[first - 1] == "not":
        return False
    is_compared = not _COMPARED.isdisjoint(scan.words[max(used) + 1 : max(used) + 2])
    if is_compared and fact.range and fact.range[0] >= 0 and not fact.is_difference:
        return False
    kinds = frame.blocked(used) - {"modal", "unsure"}
    if fact.type == "time" or fact.unit == "min":
        kinds -= {"earlier"}
    start, end = frame.clauses[frame.clause_of[first]]
    if kinds and not (kinds == {"question"} and len(used) >= min(len(scan.words), end - start) - 1):
        return False
    return answers_alone(used, taken, scan=scan, frame=frame, lexicon=lexicon, topics=(fact.name,))


def _zero(scan: Scan, frame: Frame, *, fact: Fact, lexicon: Lexicon) -> Answer:
    """ "none", "zip", "not one": zero of what was asked."""
    if fact.type != "number" or fact.range is None or fact.range[0] > 0:
        return NOTHING
    start, end = frame.clauses[0]
    at = after_lead(scan, lexicon, start=start, end=end)
    if first_end(scan, lexicon.answers.unknown, at=at) is not None:
        return NOTHING
    stop = first_end(scan, lexicon.answers.zero, at=at)
    is_zero = stop is not None and only_filler(scan, lexicon, start=stop, end=end)
    return Answer(0.0, held=Held("", at, stop)) if is_zero and stop is not None else NOTHING
