"""Values and rule texts as people read them. Whole sentences come from the rule base."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import datetime

from coach.model import Fact, Rulebook, Scalar

_SLOT = re.compile(r"\{([a-z_]+(?:\.[a-z_0-9]+)?)\}")
_UNITS = {
    "ft": " ft",
    "m": " m",
    "C": " °C",
    "kn": " kn",
    "F": " °F",
    "V": " V",
    "min": " minutes",
    "count": "",
    None: "",
}
_SPOKEN_UNITS: Mapping[str | None, str] = {"ft": "feet", "m": "metres", "F": "°F", "C": "°C", "kn": "knots"}
_METRIC: Mapping[str | None, Callable[[float, bool], float]] = {
    "ft": lambda feet, _: feet * 0.3048,
    "F": lambda degrees, difference: (degrees if difference else degrees - 32) / 1.8,
}
_METRIC_UNIT: Mapping[str | None, str] = {"ft": "m", "F": "C"}
_SUFFIXES = {"_ft": "ft", "_min": "min", "_kn": "kn", "_f": "F", "_volts": "V"}
_DIGITS = {"m": 1, "C": 0, "ft": 1, "kn": 1, "F": 0, "V": 1, "min": 0, "count": 0, None: 2}


def in_words(value: Scalar, fact: Fact, *, metric: bool = False) -> str:
    """A fact's value as said to a person, with its unit."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if fact.type == "choice":
        labels = {option.id: option.label for option in fact.options}
        return labels.get(str(value), str(value)).lower()
    if fact.type == "time":
        return clock(datetime.fromisoformat(str(value)))
    return quantity(float(value), fact.unit, metric=metric, difference=fact.is_difference)


def quantity(value: float, unit: str | None, *, metric: bool = False, difference: bool = False) -> str:
    """A number with its unit, rounded as one reads it off: 1.9 ft, 0.6 m, 64 °F, 40 minutes.

    `difference`: a step of temperature, not a temperature. Feet are 0.3048 m and °C is
    (°F - 32)/1.8 exactly (NIST SP 811, MEMORY); knots stay knots.
    """
    if metric and unit in _METRIC:
        value, unit = _METRIC[unit](value, difference), _METRIC_UNIT[unit]
    digits = _DIGITS[unit]
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return ("0" if text in ("-0", "") else text) + _UNITS[unit]


def unit_in_words(unit: str | None, *, metric: bool = False) -> str:
    """The unit as a question names it: feet, metres, °F, °C, knots."""
    return _SPOKEN_UNITS.get(_METRIC_UNIT.get(unit, unit) if metric else unit, "")


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
    ) -> None:
        self._book, self._facts, self._phrases, self._metric = book, facts, phrases or {}, metric

    def fill(self, text: str) -> str | None:
        """The text with its slots filled; None if one of them is not known."""
        missing = False

        def put(slot: re.Match[str]) -> str:
            nonlocal missing
            word = self._word(slot[1])
            missing = missing or word is None
            return word or ""

        filled = _SLOT.sub(put, text)
        return None if missing else filled

    def first(self, texts: tuple[str, ...]) -> str | None:
        """The first of the texts that can be filled."""
        return next((filled for text in texts if (filled := self.fill(text)) is not None), None)

    def all(self, texts: tuple[str, ...]) -> list[str]:
        """Those of the texts that can be filled."""
        return [filled for text in texts if (filled := self.fill(text)) is not None]

    def _word(self, name: str) -> str | None:
        if name in self._phrases:
            return self._phrases[name]
        if name in self._facts:
            return in_words(self._facts[name], self._book.facts[name], metric=self._metric)
        if name in self._book.numbers:
            unit = next((unit for suffix, unit in _SUFFIXES.items() if name.endswith(suffix)), None)
            return quantity(self._book.numbers[name], unit, metric=self._metric)
        return None
