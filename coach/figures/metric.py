"""The metric twin of an answer: metres beside every foot, metres a second beside every knot."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from coach.figures.units import M_PER_FT, celsius, metres, metres_per_second

_TWINS = {
    "_ft_per_h": ("_m_per_h", metres),
    "_ft2": ("_m2", lambda ft2: ft2 * M_PER_FT**2),
    "_ft": ("_m", metres),
    "_kn": ("_m_per_s", metres_per_second),
    "_f": ("_c", celsius),
}
_FEET = re.compile(r"(?<![\d.])(-?\d+(?:\.\d+)?)( to (-?\d+(?:\.\d+)?))? ft\b(?! \()")


def _twin(name: str, value: object) -> tuple[str, float] | None:
    """Name and value of the metric twin of a number, or None where it has none."""
    if name == "ft":
        name = "_ft"
    for ending, (metric, convert) in _TWINS.items():
        if name.endswith(ending) and isinstance(value, int | float):
            return (name.removesuffix(ending) + metric).lstrip("_"), convert(value)
    return None


def with_twins(value: Any) -> Any:
    """The same values with a metric twin after each number whose name ends in a unit of boaters."""
    if isinstance(value, list | tuple):
        return [with_twins(part) for part in value]
    if not isinstance(value, Mapping):
        return value
    twins: dict[str, Any] = {}
    for name, part in value.items():
        twins[name] = with_twins(part)
        if (twin := _twin(name, part)) is not None:
            twins[twin[0]] = twin[1]
    return twins


def _told(found: re.Match[str]) -> str:
    numbers = [f"{metres(float(number)):.2f}" for number in (found[1], found[3]) if number]
    return f"{found[0]} ({' to '.join(numbers)} m)"


def line_with_metres(line: str) -> str:
    """A line for a person with metres after each length in feet that has none yet."""
    return _FEET.sub(_told, line)
