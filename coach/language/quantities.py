"""Lengths, speeds, temperatures, volts, durations, counts and rates in a text.

Every value comes back in the unit the facts are held in: ft, kn, F, V, min. A number without a unit
is taken in that unit; a number with a unit of another kind is not taken at all. Of a range the mean
is taken, of "no more than 4" the 4; `how` says so, so that it can be said back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from coach.language.hedges import is_doubt, skip_lead, skip_trail
from coach.language.numbers import Number, number_at
from coach.language.tokens import Text
from coach.language.units import Unit, unit_at

KINDS = frozenset({"length", "speed", "temp", "degrees", "volts", "minutes", "count", "number"})
"""What a quantity may be of. "degrees" is a difference of temperatures."""

_NOT_SMALLER_UNIT = frozenset({
    "lamp", "lamps", "light", "lights", "anchor", "anchors", "of", "people", "boats", "boat", "men",
    "guys", "dippers",
    "jumps", "jump", "per", "each", "shrimp", "nets", "aboard", "persons", "and", "or", "to", "-", "/",
    "more", "other",
})  # fmt: skip
_BEFORE_PRONOUN = frozenset({
    "the", "this", "that", "which", "each", "every", "no", "other", "bow", "stern", "left", "right",
    "deep", "third",
    "first", "last", "port", "starboard", "next", "another", "any", "some", "back", "front", "old",
    "new", "good",
})  # fmt: skip
"""Words after which "one" stands for a thing and not for the number."""
_RATE_LINKS = tuple(
    tuple(phrase.split())
    for phrase in (
        "in the last", "in the past", "over the last", "over the past", "during the last",
        "in the first", "for every",
        "in every", "in each", "within", "per", "every", "each", "in", "/", "for the last", "for", "over", "",
    )
)  # fmt: skip


_AFTER_TWO = frozenset({  # what may follow two numbers that stand side by side for a range
    "", ",", ".", "!", ";", "\n", "or", "i", "maybe", "deep", "of", "here", "down", "now", "tops", "max",
    "about", "there", "under", "out", "off", "ago", "apart", "tonight", "ish",
})  # fmt: skip
_BEFORE_NOW = frozenset({"ago", "back"})
_CLOSE = 0.34  # how far apart such numbers may be, as a share of the lower


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity that ends before word `end`. `how`: "" said plainly, "range" or "bound".

    `has_unit`: the unit was said. `is_part`: only a fraction was said, without a unit ("a half").
    `is_about`: it was said to be only about so much.
    """

    value: float
    end: int
    how: str = ""
    has_unit: bool = False
    is_part: bool = False
    is_about: bool = False


def quantity_at(text: Text, start: int, *, kind: str) -> Quantity | None:
    """The longest quantity of `kind` that starts at word `start`, hedges included; None if none does."""
    if text.is_glued(start) and _word(text, start - 1) == "-":
        return None
    at, is_bound = skip_lead(text, start)
    found = _range_at(text, at, kind=kind) or (None if at == start else _range_at(text, start, kind=kind))
    if found is None or not math.isfinite(found.value):
        return None
    end, is_trail_bound = skip_trail(text, found.end)
    how = found.how or ("bound" if is_bound or is_trail_bound else "")
    hedges = text.words[start:at] + text.words[found.end : end]
    return replace(found, end=end, how=how, is_about=found.how == "range" or is_doubt(hedges))


def rate_at(text: Text, start: int, *, per_min: float) -> Quantity | None:
    """A count per time, as a count in `per_min` minutes: "two a minute", "5 per 10 min"."""
    many = _range_at(text, skip_lead(text, start)[0], kind="number")
    if many is None or many.has_unit or many.is_part:
        return None
    window = _window_at(text, many.end)
    if window is None or not 0 < window.value <= 1440 or _word(text, window.end) in _BEFORE_NOW:
        return None
    return Quantity(many.value * per_min / window.value, window.end, many.how, has_unit=True)


def _window_at(text: Text, start: int) -> Quantity | None:
    start += _word(text, start) in ("shrimp", "of", "or")
    for link in _RATE_LINKS:
        at = start + len(link)
        if text.words[start:at] != link:
            continue
        if link in (("per",), ("every",), ("each",), ("/",)) and (unit := unit_at(text, at, kind="minutes")):
            return Quantity(unit[0].size, unit[1], has_unit=True) if unit[0].kind == "minutes" else None
        one = _one_at(text, at, kind="minutes")
        found = one if one is not None and one.has_unit else quantity_at(text, at, kind="minutes")
        if found is not None and (found.has_unit or link in (("per",), ("every",))):
            return found
    return None


def _word(text: Text, index: int) -> str:
    return text.words[index] if 0 <= index < len(text.words) else ""


def _range_at(text: Text, start: int, *, kind: str) -> Quantity | None:
    """One quantity, or the mean of two: "9-10", "between nine and ten", "a foot or two"."""
    is_between = _word(text, start) == "between"
    low = _one_at(text, start + is_between, kind=kind)
    if low is None:
        return None
    side_by_side = None if is_between else _side_by_side(text, low, start=start, kind=kind)
    if side_by_side is not None:
        return side_by_side
    links = ("and", "to", "-") if is_between else ("to", "-", "or", "till", "maybe", "perhaps")
    if _word(text, low.end) == "," and _word(text, low.end + 1) in ("maybe", "perhaps", "or"):
        low = replace(low, end=low.end + 1)
    if _word(text, low.end) in links and _word(text, start - 1) != "from":
        high = _one_at(text, skip_lead(text, low.end + 1)[0], kind=kind)
        if high is not None:
            mean = _mean(
                low, high, links=_word(text, low.end), text=text, start=start + is_between, kind=kind
            )
            if mean is not None:
                return mean
    if is_between or (low.how == "open" and not low.has_unit):
        return None
    return low


def _side_by_side(text: Text, low: Quantity, *, start: int, kind: str) -> Quantity | None:
    """Two numbers close together without a word between: "five, six knots", "ten twelve feet"."""
    has_comma = _word(text, low.end) == ","
    is_spoken = _word(text, start).isalpha() and _word(text, low.end).isalpha() and not low.has_unit
    if kind in ("count", "number", "time") or low.how or low.is_part or not (has_comma or is_spoken):
        return None
    high = _one_at(text, low.end + has_comma, kind=kind)
    if high is None or high.is_part or _word(text, high.end) not in _AFTER_TWO:
        return None
    mean = _mean(low, high, links="or", text=text, start=start, kind=kind)
    is_close = mean is not None and 2 * (mean.value - low.value) <= max(1.0, _CLOSE * abs(low.value))
    return mean if is_close and (has_comma or high.value % 1 == 0) else None


def _mean(low: Quantity, high: Quantity, *, links: str, text: Text, start: int, kind: str) -> Quantity | None:
    """The mean of a range whose ends go upwards; a unit said once counts for both ends."""
    first = low.value
    if high.has_unit and not low.has_unit:
        number = number_at(text.words, start)
        unit = _unit_before(text, high.end, kind=kind)
        if number is None or unit is None:
            return None
        first = number.value * unit.size + unit.zero
    second = high.value
    if low.has_unit and not high.has_unit:
        unit = _unit_before(text, low.end, kind=kind)
        number = number_at(text.words, low.end + 1)
        if links == "-" or unit is None or number is None:
            return None
        second = number.value * unit.size + unit.zero
    if not first < second:
        return None
    return Quantity((first + second) / 2, high.end, "range", low.has_unit or high.has_unit, low.is_part)


def _unit_before(text: Text, end: int, *, kind: str) -> Unit | None:
    for start in (end - 3, end - 2, end - 1):
        unit = unit_at(text, start, kind=kind) if start >= 0 else None
        if unit is not None and unit[1] == end:
            return _fit(unit[0], kind)
    return None


def _fit(unit: Unit, kind: str) -> Unit | None:
    """The unit if it is of this kind; for a difference of temperatures the zero point is dropped."""
    if kind == "degrees":
        return unit._replace(zero=0.0) if unit.kind == "temp" else None
    return unit if unit.kind == kind else None


def _one_at(text: Text, start: int, *, kind: str) -> Quantity | None:
    article = _article_at(text, start, kind=kind)
    if article is not None:
        return article
    sign, at = _sign_at(text, start)
    number = number_at(text.words, at)
    if number is None:
        return _unit_alone(text, start, kind=kind)
    if _word(text, at) == "one" and number.end == at + 1 and _word(text, at - 1) in _BEFORE_PRONOUN:
        return None
    number = Number(number.value * sign, number.end, number.is_part)
    with_unit = _with_unit(text, number, kind=kind)
    if with_unit is not None:
        return with_unit
    return _bare(text, number, kind=kind)


def _sign_at(text: Text, start: int) -> tuple[float, int]:
    """A minus that touches its number, and does not follow another number."""
    is_minus = _word(text, start) == "-" and text.is_glued(start + 1) and not text.is_glued(start)
    return (-1.0, start + 1) if is_minus else (1.0, start)


def _article_at(text: Text, start: int, *, kind: str) -> Quantity | None:
    """ "a foot", "an hour and a half", "a good knot"."""
    if _word(text, start) not in ("a", "an"):
        return None
    at = start + 1 + (_word(text, start + 1) in ("good", "full", "whole", "short", "solid", "bare"))
    unit = unit_at(text, at, kind=kind)
    fit = _fit(unit[0], kind) if unit else None
    if unit is None or fit is None or (fit.kind == "temp" and _word(text, at) in ("c", "f", "°")):
        return None
    return _with_tail(text, Quantity(fit.size + fit.zero, unit[1], has_unit=True), unit=fit)


def _unit_alone(text: Text, start: int, *, kind: str) -> Quantity | None:
    """ "hour and a half", "foot and a half": only with its tail."""
    unit = unit_at(text, start, kind=kind)
    fit = _fit(unit[0], kind) if unit and kind in ("length", "minutes", "speed") else None
    if unit is None or fit is None:
        return None
    tailed = _with_tail(text, Quantity(fit.size, unit[1], has_unit=True), unit=fit)
    return tailed if tailed.end > unit[1] and _word(text, unit[1]) == "and" else None


def _with_unit(text: Text, number: Number, *, kind: str) -> Quantity | None:
    at = number.end
    at += _word(text, at) in ("-", "+", "odd", "good", "full", "solid", "whole", "or")
    if number.is_part or _word(text, at) == "of":
        at += _word(text, at) == "of"
        at += _word(text, at) in ("a", "an")
    unit = unit_at(text, at, kind=kind)
    fit = _fit(unit[0], kind) if unit else None
    if unit is None or fit is None:
        return None
    value = number.value * fit.size + fit.zero
    return _with_tail(text, Quantity(value, unit[1], has_unit=True), unit=fit)


def _with_tail(text: Text, said: Quantity, *, unit: Unit) -> Quantity:
    """Add what follows the unit: "and a half", "and twenty minutes", "6 ft 4", "2h10"."""
    at = said.end + (_word(text, said.end) in ("and", "&", "-"))
    number = number_at(text.words, at)
    if number is None or number.value < 0 or (not unit.inner and not number.is_part):
        return said
    if number.is_part:
        is_own = _word(text, at - 1) in ("and", "&") and unit_at(text, number.end, kind=unit.kind) is None
        return replace(said, value=said.value + number.value * unit.size, end=number.end) if is_own else said
    after = unit_at(text, number.end, kind=unit.kind)
    if after is not None:
        is_smaller = after[0].kind == unit.kind and after[0].size < unit.size and not after[0].zero
        return (
            replace(said, value=said.value + number.value * after[0].size, end=after[1])
            if is_smaller
            else said
        )
    return _with_inner(text, said, unit=unit, number=number, at=at)


def _with_inner(text: Text, said: Quantity, *, unit: Unit, number: Number, at: int) -> Quantity:
    """A bare number after the unit counts the smaller unit: inches after feet, minutes after hours."""
    follows = _word(text, number.end)
    is_glued_digits = text.is_glued(at) and _word(text, at)[:1].isdigit()
    fits = number.value < unit.inner_below and (number.value == int(number.value) or unit.kind == "length")
    two_digits = unit.inner_below != 100 or (len(_word(text, at)) == 2 or not _word(text, at)[:1].isdigit())
    is_listed = at > said.end and _word(text, said.end) in ("and", "&") and unit.kind != "minutes"
    if follows == "and" and number_at(text.words, number.end + 1) is None:
        follows = ""
    is_free = is_glued_digits or (unit.kind != "volts" and follows not in _NOT_SMALLER_UNIT and not is_listed)
    if not (fits and two_digits and is_free):
        return said
    end = number.end + (_word(text, number.end) == '"' or (follows == "in" and text.is_glued(number.end)))
    return replace(said, value=said.value + number.value * unit.inner, end=end)


def _bare(text: Text, number: Number, *, kind: str) -> Quantity | None:
    """A number without a unit: only if no unit of any kind follows it."""
    at = number.end
    if (
        unit_at(text, at, kind=kind) is not None
        or unit_at(text, at + (_word(text, at) == "-"), kind=kind) is not None
    ):
        return None
    if (
        (_word(text, at) == "/" and not _word(text, at + 1).isalpha())
        or (_word(text, at) in (":", "point", "hundred", "thousand", "past"))
        or (text.is_glued(at) and _is_name(text, at))
    ):
        return None
    if kind == "count" and (number.value != int(number.value) or number.value < 0 or number.is_part):
        return None
    return Quantity(number.value, at, is_part=number.is_part)


def _is_name(text: Text, index: int) -> bool:
    """Letters that touch a number without being a unit: "4x4", "3D", "1e999"."""
    word = _word(text, index)
    return word.isalpha() and word not in ("ish", "odd", "or", "x", "left", "right", "and", "plus")
