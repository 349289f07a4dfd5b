"""The lit circles: how wide in this water, and how they lie to each other and to the hull."""

from __future__ import annotations

from functools import lru_cache

from coach.figures.colour import Left, light_left, water_type_of
from coach.figures.light import (
    centre_gap_ft,
    circle_of_secchi,
    circle_of_word,
    hull_gap_ft,
    secchi_of_word_ft,
)
from coach.figures.rig import Rig
from coach.sums.declare import gives


@gives("lamps.circle_ft", asks=("water.clarity",))
def circle_ft(
    rig: Rig, water_secchi_ft: float | None = None, water_clarity: str | None = None
) -> float | None:
    """Width of a lit circle in this water [ft]."""
    if water_secchi_ft is not None:
        return circle_of_secchi(water_secchi_ft, rig).value
    return None if water_clarity is None else circle_of_word(water_clarity, rig).value


@gives("lamps.centre_gap_ft")
def gap_ft(lamps_apart_ft: float, lamps_circle_ft: float) -> float:
    """Dark water between the two circles [ft]; negative: overlap."""
    return centre_gap_ft(lamps_apart_ft, lamps_circle_ft, circle_right_ft=lamps_circle_ft)


@gives("lamp.hull_gap_ft")
def lamp_hull_gap_ft(lamps_out_lamp_ft: float, lamps_circle_ft: float) -> float:
    """Dark water between this circle and the hull [ft]; negative: the circle runs under her."""
    return hull_gap_ft(lamps_out_lamp_ft, lamps_circle_ft)


@gives("lamps.reach_difference_ft")
def reach_difference_ft(lamps_out_left_ft: float, lamps_out_right_ft: float) -> float:
    """How much farther out one lamp stands than the other [ft]."""
    return abs(lamps_out_left_ft - lamps_out_right_ft)


@gives("water.better_colour")
def better_colour(
    lamps_circle_ft: float,
    rig: Rig,
    water_secchi_ft: float | None = None,
    water_clarity: str | None = None,
) -> str | None:
    """Which of green and white keeps more of its light over a circle's radius in this water.

    None where that depends on where in its range the word for the water lies.
    """
    discs: tuple[float, ...] = ()
    if water_secchi_ft is not None:
        discs = (water_secchi_ft,)
    elif water_clarity is not None:
        discs = secchi_of_word_ft(water_clarity, rig)
    better = {_better(water_type_of(disc, rig), round(lamps_circle_ft / 2, 1), rig) for disc in discs}
    return better.pop() if len(better) == 1 else None


@gives("water.colour_gain_share")
def colour_gain_share(
    lamps_circle_ft: float, rig: Rig, water_secchi_ft: float | None = None, water_clarity: str | None = None
) -> float | None:
    """By what part the better colour keeps more, taking the middle of what the word stands for."""
    disc = water_secchi_ft
    if disc is None and water_clarity is not None:
        disc = secchi_of_word_ft(water_clarity, rig).value
    if disc is None:
        return None
    left = _left(water_type_of(disc, rig), round(lamps_circle_ft / 2, 1), rig)
    return max(left) / min(left) - 1


def _better(water_type: str, path_ft: float, rig: Rig) -> str:
    left = _left(water_type, path_ft, rig)
    return "green" if left.green > left.white else "white"


@lru_cache(maxsize=256)
def _left(water_type: str, path_ft: float, rig: Rig) -> Left:
    return light_left(water_type, path_ft, rig)


def forget() -> None:
    """Drop what was worked out about colours."""
    _left.cache_clear()
