"""Numbers as people say and type them: "forty-four", "seven and three quarters", "8,5", "3 1/2".

Common practice of English speech; a comma before one, two or more than three digits is a decimal
comma, before exactly three digits it parts the thousands.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

_ONES = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
)  # fmt: skip
_TEENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen",
)  # fmt: skip
_TENS = (
    "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
)  # fmt: skip

UNITS_OF_TEN = {word: float(n) for n, word in enumerate(_ONES, 1)}
TEENS = {word: float(n) for n, word in enumerate(_TEENS, 10)}
TENS = {word: 10.0 * n for n, word in enumerate(_TENS, 2)} | {"fourty": 40.0}
ZEROS = frozenset({"zero", "nil", "nought", "naught"})
_SCALES = {"hundred": 100.0, "thousand": 1000.0}
_PARTS = {
    "half": 1 / 2, "halves": 1 / 2, "quarter": 1 / 4, "quarters": 1 / 4, "third": 1 / 3, "thirds": 1 / 3,
    "eighth": 1 / 8, "eighths": 1 / 8, "fifth": 1 / 5, "fifths": 1 / 5, "tenth": 1 / 10, "tenths": 1 / 10,
}  # fmt: skip
_GROUPS = {"dozen": 12.0, "couple": 2.0, "pair": 2.0}
NUMBER_WORDS = frozenset(
    {*UNITS_OF_TEN, *TEENS, *TENS, *ZEROS, *_SCALES, *_PARTS, *_GROUPS, "point", "minus", "a", "an", "oh"}
)
_THOUSANDS = re.compile(r"[0-9]{1,3}(,[0-9]{3})+(\.[0-9]+)?")
_DECIMAL = re.compile(r"[0-9]*([.,][0-9]+)?")
_LONGEST_NUMERAL = 12


class Number(NamedTuple):
    """A number that ends before word `end`. `is_part`: only a fraction was said ("three quarters")."""

    value: float
    end: int
    is_part: bool = False


def numeral(word: str) -> float | None:
    """The value of digits such as "12", "8,5", "1,200" or ".5"; None for anything else."""
    if not word or word[0] not in ".0123456789" or len(word) > _LONGEST_NUMERAL:
        return None
    if _THOUSANDS.fullmatch(word):
        return float(word.replace(",", ""))
    return float(word.replace(",", ".")) if _DECIMAL.fullmatch(word) else None


def number_at(words: Sequence[str], start: int) -> Number | None:
    """The longest number that starts at word `start`, or None."""
    if start >= len(words):
        return None
    if words[start] in ("minus", "negative"):
        below = number_at(words, start + 1) if _at(words, start + 1) != words[start] else None
        return None if below is None else Number(-below.value, below.end, below.is_part)
    grouped = _group_at(words, start)
    if grouped is not None:
        return grouped
    part = _part_at(words, start)
    if part is not None:
        return Number(part.value, part.end, is_part=True)
    whole = _digits_at(words, start) or _spoken_at(words, start)
    return None if whole is None else _with_part(words, whole)


def _at(words: Sequence[str], index: int) -> str:
    return words[index] if 0 <= index < len(words) else ""


def _digits_at(words: Sequence[str], start: int) -> Number | None:
    value = numeral(_at(words, start))
    if value is None:
        return None
    end = start + 1
    if _at(words, end) == "point" and (tail := numeral(_at(words, end + 1))) is not None and tail < 10:
        return Number(value + tail / 10, end + 2)
    if _at(words, end) in _SCALES:
        return Number(value * _SCALES[words[end]], end + 1)
    return Number(value, end)


def _below_hundred(words: Sequence[str], start: int) -> Number | None:
    word = _at(words, start)
    if word in TENS:
        unit = UNITS_OF_TEN.get(_at(words, start + 1 + (_at(words, start + 1) == "-")))
        if unit is not None:
            return Number(TENS[word] + unit, start + 2 + (_at(words, start + 1) == "-"))
        return Number(TENS[word], start + 1)
    value = UNITS_OF_TEN.get(word, TEENS.get(word))
    return None if value is None else Number(value, start + 1)


def _below_thousand(words: Sequence[str], start: int) -> Number | None:
    opens_with_a = _at(words, start) in ("a", "an") and _at(words, start + 1) == "hundred"
    small = Number(1.0, start + 1) if opens_with_a else _below_hundred(words, start)
    if small is None or _at(words, small.end) != "hundred":
        return small
    return _plus(words, Number(small.value * 100, small.end + 1), rest=_below_hundred)


def _plus(
    words: Sequence[str], base: Number, *, rest: Callable[[Sequence[str], int], Number | None]
) -> Number:
    more = rest(words, base.end + (_at(words, base.end) == "and"))
    return base if more is None else Number(base.value + more.value, more.end)


def _spoken_at(words: Sequence[str], start: int) -> Number | None:
    if _at(words, start) in ZEROS:
        return _with_point(words, Number(0.0, start + 1))
    if _at(words, start) == "point":
        tail = _decimals(words, start + 1)
        return None if tail is None else tail
    opens_with_a = _at(words, start) in ("a", "an") and _at(words, start + 1) == "thousand"
    small = Number(1.0, start + 1) if opens_with_a else _below_thousand(words, start)
    if small is None:
        return None
    if _at(words, small.end) == "thousand":
        small = _plus(words, Number(small.value * 1000, small.end + 1), rest=_below_thousand)
    return _with_point(words, small)


def _with_point(words: Sequence[str], whole: Number) -> Number:
    if _at(words, whole.end) not in ("point", "decimal"):
        return whole
    tail = _decimals(words, whole.end + 1)
    return whole if tail is None else Number(whole.value + tail.value, tail.end)


def _decimals(words: Sequence[str], start: int) -> Number | None:
    digits = ""
    end = start
    while end < len(words) and len(digits) < 4:
        word = words[end]
        value = 0.0 if word in ZEROS or word in ("oh", "o") else UNITS_OF_TEN.get(word)
        if value is None and word.isascii() and word.isdigit() and len(word) < 5:
            return Number(float("0." + digits + word), end + 1)
        if value is None and not digits and (small := _below_hundred(words, end)) is not None:
            return Number(small.value / 100, small.end)
        if value is None:
            break
        digits += str(int(value))
        end += 1
    return Number(float("0." + digits), end) if digits else None


def _part_at(words: Sequence[str], start: int, *, after_whole: bool = False) -> Number | None:
    """A fraction: "half", "a quarter", "three quarters", "1/2"; never a zero below.

    By itself "a quarter to" is a time of day; behind a whole number it is not.
    """
    top = numeral(_at(words, start))
    if top is not None:
        below = numeral(_at(words, start + 2)) if _at(words, start + 1) == "/" else None
        is_one = below is not None and 2 <= below <= 64 and 0 < top < below
        return Number(top / below, start + 3) if is_one and below else None
    word = _at(words, start)
    if word in ("half", "quarter"):
        return Number(_PARTS[word], start + 1)
    many = 1.0 if word in ("a", "an", "one") else UNITS_OF_TEN.get(word)
    part = _PARTS.get(_at(words, start + 1))
    if many is None or part is None or many * part >= 1:
        return None
    if _at(words, start + 2) in (("dozen",) if after_whole else ("dozen", "past", "to")):
        return None
    return Number(many * part, start + 2)


def _with_part(words: Sequence[str], whole: Number) -> Number:
    """Add "and a half", "and three quarters", "1/2", "and 1/2" to a whole number."""
    at = whole.end
    if _at(words, at) in ("and", "&"):
        part = _part_at(words, at + 1, after_whole=True)
        has_room = part is not None and _at(words, part.end) not in ("a", "an", "of", "dozen")
        return Number(whole.value + part.value, part.end) if part is not None and has_room else whole
    at += _at(words, at) == "-"
    part = _part_at(words, at) if "/" in words[at : at + 2] and whole.value == int(whole.value) else None
    return whole if part is None else Number(whole.value + part.value, part.end)


def _group_at(words: Sequence[str], start: int) -> Number | None:
    """Dozens, couples and pairs: "two dozen", "half a dozen", "a couple of"."""
    at, many = start, 1.0
    if _at(words, at) == "half":
        at, many = at + 1 + (_at(words, at + 1) == "a"), 0.5
    elif _at(words, at) in ("a", "an"):
        at += 1 + (_at(words, at + 1) == "good")
    else:
        whole = _digits_at(words, at) or _below_thousand(words, at)
        if whole is not None:
            at, many = whole.end, whole.value
    word = _at(words, at)
    if word not in _GROUPS or (many != 1.0 and word != "dozen"):
        return None
    end = at + 1
    if word != "dozen":
        end += _at(words, end) == "of"
        if _at(words, end) in ("dozen", "hundred"):
            return Number(24.0 if words[end] == "dozen" else 200.0, end + 1)
        return Number(2.0, end)
    if _at(words, end) == "and" and (part := _part_at(words, end + 1)) is not None:
        return Number(12 * (many + part.value), part.end)
    return Number(12 * many, end)
