"""The two looks of a picture: dim for a dark deck, light for daylight and paper.

Nothing is told by colour alone: lit water is dotted, the under-path is hatched, what is unknown is
dashed and carries a question mark. The dim look is of one warm hue and little light, since red and
amber spare the eye's night vision more than white does (common practice aboard).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Theme:
    """A name and a colour (#rrggbb) for every role that a shape may have.

    Roles: paper (behind all), ink (text and solid lines), soft (lesser text and lines), water (unlit),
    lit (lit water), mark (the dots of lit water and hatching), bed (the bottom), hull, strong (now).
    """

    name: str
    colours: Mapping[str, str]

    def __getitem__(self, role: str) -> str:
        return self.colours[role]


DIM = Theme(
    "dim",
    {
        "paper": "#0b0503",
        "ink": "#ef8f45",
        "soft": "#cf7534",
        "water": "#170a05",
        "lit": "#4a2609",
        "mark": "#9c5520",
        "bed": "#2c1509",
        "hull": "#25120a",
        "strong": "#ffb066",
    },
)
LIGHT = Theme(
    "light",
    {
        "paper": "#ffffff",
        "ink": "#101820",
        "soft": "#3c4852",
        "water": "#b9c9d6",
        "lit": "#fff0b0",
        "mark": "#8a6d1c",
        "bed": "#d8cbb6",
        "hull": "#eef1f3",
        "strong": "#7a1a00",
    },
)
THEMES: Mapping[str, Theme] = {theme.name: theme for theme in (DIM, LIGHT)}


def luminance(colour: str) -> float:
    """Relative luminance of a colour #rrggbb, 0 to 1. Source: WCAG 2.1, "relative luminance" (MEMORY)."""
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1 to 21. Source: WCAG 2.1, "contrast ratio" (MEMORY)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)
