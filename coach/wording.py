"""Values and rule texts as people read them. Whole sentences come from the rule base."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import datetime

from coach.model import Fact, Rulebook, Scalar

SLOT = re.compile(r"\{([a-z_]+(?:\.[a-z_0-9]+)?)\}")
"""A slot of a text: the name of a fact, a number or a phrase in braces."""
_UNITS: dict[str | None, str] = {
    "ft": " ft",
    "m": " m",
    "C": " °C",
    "kn": " kn",
    "F": " °F",
    "V": " V",
    "min": " minutes",
    "count": "",
    "h": " hours",
    "Ah": " Ah",
    "A": " A",
    "W": " W",
    "deg": " degrees",
    "nmi": " nautical miles",
    "lux": " lux",
    "dB": " decibans",
    "lb": " lb",
    "in": " in",
    None: "",
}
_SPOKEN_UNITS: Mapping[str | None, str] = {"ft": "feet", "m": "metres", "F": "°F", "C": "°C", "kn": "knots"}
_METRIC: Mapping[str | None, Callable[[float, bool], float]] = {
    "ft": lambda feet, _: feet * 0.3048,
    "F": lambda degrees, difference: (degrees if difference else degrees - 32) / 1.8,
}
_METRIC_UNIT: Mapping[str | None, str] = {"ft": "m", "F": "C"}
_SUFFIXES = {
    "_ft": "ft",
    "_min": "min",
    "_kn": "kn",
    "_f": "F",
    "_volts": "V",
    "_v": "V",
    "_w": "W",
    "_lb": "lb",
    "_in": "in",
    "_h": "h",
}
_DIGITS: dict[str | None, int] = dict.fromkeys(("m", "ft", "kn", "V", "h", "A", "nmi"), 1)
_DIGITS |= {"lux": 2, None: 2}
"""Decimals told; none for any other unit."""
_ONE = {"min": " minute", "h": " hour", "deg": " degree", "nmi": " nautical mile"}


def in_words(value: Scalar, fact: Fact, *, metric: bool = False, finer: bool = False) -> str:
    """A fact's value as said to a person, with its unit; `finer`: with one decimal more."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if fact.type == "choice":
        labels = {option.id: option.label for option in fact.options}
        return labels.get(str(value), str(value)).lower()
    if fact.type == "time":
        return clock(datetime.fromisoformat(str(value)))
    return quantity(float(value), fact.unit, metric=metric, difference=fact.is_difference, finer=finer)


def quantity(
    value: float, unit: str | None, *, metric: bool = False, difference: bool = False, finer: bool = False
) -> str:
    """A number with its unit, rounded as one reads it off: 1.9 ft, 0.6 m, 64 °F, 40 minutes.

    `difference`: a step of temperature, not a temperature. `finer`: one decimal more, for sums. Feet are
    0.3048 m and °C is (°F - 32)/1.8 exactly (NIST SP 811, MEMORY); knots stay knots.
    """
    if metric and unit in _METRIC:
        value, unit = _METRIC[unit](value, difference), _METRIC_UNIT[unit]
    digits = _DIGITS.get(unit, 0) + finer
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return ("0" if text in ("-0", "") else text) + _unit_of(text, unit)


def _unit_of(text: str, unit: str | None) -> str:
    return _ONE[unit] if text == "1" and unit in _ONE else _UNITS[unit]


def unit_in_words(unit: str | None, *, metric: bool = False) -> str:
    """The unit as a question names it: feet, metres, °F, °C, knots."""
    return _SPOKEN_UNITS.get(_METRIC_UNIT.get(unit, unit) if metric else unit, "")


def shortened(text: str) -> str:
    """What a person wrote, on one line and short enough to be said back."""
    text = " ".join(text.split())
    return text if len(text) <= 60 else text[:57] + "..."


def clock(at: datetime) -> str:
    """A time of day on the 24-hour clock."""
    return f"{at:%H:%M}"


class Filler:
    """Fills the {slots} of rule texts from facts, numbers of the trade and worked-out phrases."""

    def __init__(
        self,
        book: Rulebook,
        facts: Mapping[str, Scalar],
        phrases: Mapping[str, str] | None = None,
        *,
        metric: bool = False,
        finer: bool = False,
    ) -> None:
        self._book, self._facts, self._phrases = book, facts, phrases or {}
        self._metric, self._finer = metric, finer

    def fill(self, text: str) -> str | None:
        """The text with its slots filled; None if one of them is not known."""
        missing = False

        def put(slot: re.Match[str]) -> str:
            nonlocal missing
            word = self._word(slot[1])
            missing = missing or word is None
            return word or ""

        filled = SLOT.sub(put, text)
        return None if missing else filled

    def first(self, texts: tuple[str, ...]) -> str | None:
        """The first of the texts that can be filled."""
        return next((filled for text in texts if (filled := self.fill(text)) is not None), None)

    def all(self, texts: tuple[str, ...]) -> list[str]:
        """Those of the texts that can be filled."""
        return [filled for text in texts if (filled := self.fill(text)) is not None]

    def _fact_in_words(self, name: str) -> str:
        fact = self._book.facts[name]
        return in_words(self._facts[name], fact, metric=self._metric, finer=self._finer)

    def _word(self, name: str) -> str | None:
        if name in self._phrases:
            return self._phrases[name]
        if name in self._facts:
            return self._fact_in_words(name)
        if name in self._book.numbers:
            unit = next((unit for suffix, unit in _SUFFIXES.items() if name.endswith(suffix)), None)
            return quantity(self._book.numbers[name], unit, metric=self._metric, finer=self._finer)
        return None
