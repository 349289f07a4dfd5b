"""The units people use, each with its exact size in the unit the facts are held in.

Sizes: international foot 0.3048 m, yard 3 ft, fathom 6 ft, nautical mile 1852 m, statute mile 5280 ft
(NIST SP 811, appendix B; from memory). Fahrenheit from Celsius: 9/5 C + 32.
"""

from __future__ import annotations

from typing import NamedTuple

from coach.language.tokens import Text

FOOT_M = 0.3048
NAUTICAL_MILE_M = 1852.0
MILE_FT = 5280.0


class Unit(NamedTuple):
    """A unit of a kind of quantity: value in the fact's unit = said × size + zero.

    `inner` is the size of the smaller unit that a following bare number counts ("6 ft 4"),
    and `inner_below` how large that number may be.
    """

    kind: str
    size: float
    zero: float = 0.0
    inner: float = 0.0
    inner_below: float = 0.0
    needs_glue: bool = False


_FT = Unit("length", 1.0, inner=1 / 12, inner_below=12)
_METRE = Unit("length", 1 / FOOT_M, inner=0.01 / FOOT_M, inner_below=100)
_HOUR = Unit("minutes", 60.0, inner=1.0, inner_below=60)
_MINUTE = Unit("minutes", 1.0)
_KMH = Unit("speed", 1000 / NAUTICAL_MILE_M)
_MPH = Unit("speed", MILE_FT * FOOT_M / NAUTICAL_MILE_M)
_MS = Unit("speed", 3600 / NAUTICAL_MILE_M)
_FPS = Unit("speed", FOOT_M * 3600 / NAUTICAL_MILE_M)
_C = Unit("temp", 9 / 5, 32.0)

_TABLE: dict[str, Unit] = {
    **dict.fromkeys(("ft", "foot", "feet"), _FT),
    **dict.fromkeys(("in", '"'), Unit("length", 1 / 12, needs_glue=True)),
    "'": _FT._replace(needs_glue=True),
    **dict.fromkeys(("inch", "inches", "ins"), Unit("length", 1 / 12)),
    **dict.fromkeys(("m", "meter", "meters", "mtr", "mtrs"), _METRE),
    **dict.fromkeys(("cm", "cms", "centimeter", "centimeters"), Unit("length", 0.01 / FOOT_M)),
    **dict.fromkeys(("mm", "millimeter", "millimeters"), Unit("length", 0.001 / FOOT_M)),
    **dict.fromkeys(("yard", "yards", "yd", "yds"), Unit("length", 3.0)),
    **dict.fromkeys(("fathom", "fathoms", "fth"), Unit("length", 6.0, inner=1.0, inner_below=6)),
    **dict.fromkeys(("kn", "kt", "kts", "kns", "knot", "knots"), Unit("speed", 1.0)),
    **dict.fromkeys(
        ("kmh", "kph", "km / h", "km h", "kilometers an hour", "kilometers per hour", "km per hour",
        "km an hour"),
        _KMH,
    ),
    **dict.fromkeys(("mph", "miles per hour", "miles an hour", "mile an hour", "mile per hour",
    "mi / h"), _MPH),
    **dict.fromkeys(
        ("mps", "m / s", "m per second", "meters per second", "meters a second", "meter per second",
         "meter a second", "m per s"), _MS,
    ),
    **dict.fromkeys(("fps", "ft / s", "feet per second", "feet a second", "foot per second",
    "foot a second"), _FPS),
    **dict.fromkeys(("f", "° f", "fahrenheit", "degrees f", "degrees fahrenheit", "° fahrenheit",
    "deg f"), Unit("temp", 1.0)),
    **dict.fromkeys(("degrees", "°", "deg", "degree"), Unit("temp", 1.0)),
    **dict.fromkeys(
        ("c", "° c", "celsius", "centigrade", "degrees c", "degrees celsius", "degrees centigrade",
        "° celsius",
         "deg c", "degree c", "degree celsius"), _C,
    ),
    **dict.fromkeys(("v", "volt", "volts", "vdc"), Unit("volts", 1.0, inner=0.1, inner_below=10)),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), Unit("minutes", 1.0)),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), _HOUR),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), Unit("minutes", 1 / 60)),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds", "kg", "oz", "gallon", "gallons", "a", "amp", "amps",
    "ah", "w",
                     "watt", "watts", "dollars", "bucks", "%", "percent", "day", "days", "week", "weeks",
                     "month",
                     "months", "year", "years", "nm", "mile", "miles", "km", "am", "pm", "oclock",
                     "moment", "moments", "steps", "long steps", "big steps", "paces", "strides"),
                     Unit("other", 1.0)),
}  # fmt: skip
_BY_FIRST: dict[str, list[tuple[tuple[str, ...], Unit]]] = {}
for _name, _unit in sorted(_TABLE.items(), key=lambda item: -len(item[0].split())):
    _parts = tuple(_name.split())
    _BY_FIRST.setdefault(_parts[0], []).append((_parts, _unit))

UNIT_WORDS = frozenset(part for name in _TABLE for part in name.split() if part.isalpha())
# Single letters and "in", "a", "s", "h", "c", "f" are words of their own unless they touch the number.
_ONLY_GLUED = frozenset({"in", "a", "s", "h", "w", "am", "pm", "ins"})


_AFTER_INCHES = frozenset({
    "", ".", ",", "!", ";", "\n", "of", "up", "above", "off", "long", "deep", "or", "now", "?",
})  # fmt: skip


def _is_inches(words: tuple[str, ...], at: int, *, kind: str) -> bool:
    """True for the "in" of "30 in", which is not "in the water"."""
    after = words[at + 1] if at + 1 < len(words) else ""
    return kind == "length" and words[at] == "in" and words[at - 1][:1].isdigit() and after in _AFTER_INCHES


def unit_at(text: Text, start: int, *, kind: str) -> tuple[Unit, int] | None:
    """The unit that stands at word `start`, of whatever kind, and where it ends.

    Where minutes are meant, "20 m" is twenty minutes.
    """
    words = text.words
    for parts, unit in _BY_FIRST.get(words[start] if start < len(words) else "", ()):
        end = start + len(parts)
        if words[start:end] != parts:
            continue
        is_word_too = len(parts) == 1 and (unit.needs_glue or parts[0] in _ONLY_GLUED)
        if is_word_too and not text.is_glued(start) and not _is_inches(words, start, kind=kind):
            continue
        return (_MINUTE, end) if kind == "minutes" and parts == ("m",) else (unit, end)
    return None
