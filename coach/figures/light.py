"""How wide the lit circle is in this water, and how two circles and the hull lie to each other."""

from __future__ import annotations

import math
from typing import NamedTuple

from coach.figures.limits import checked
from coach.figures.rig import Rig
from coach.figures.units import metres

CLARITIES = ("clear", "stained", "murky")


class Range(NamedTuple):
    """A figure with the least and the most it may be."""

    value: float
    low: float
    high: float


def lambert_w(x: float) -> float:
    """The number w >= 0 with w·e^w = x, for x >= 0 (principal branch of Lambert's function).

    Halley's iteration from ln(1 + x), to 1e-15 of w. Source: Corless et al. 1996, "On the Lambert W
    function", Adv. Comput. Math. 5 (MEMORY). Raises ValueError below 0 or for a non-finite x.
    """
    if not (math.isfinite(x) and x >= 0):
        raise ValueError(f"x: got {x}; allowed 0 and more")
    w = math.log1p(x)
    for _ in range(50):
        grown = math.exp(w)
        error = w * grown - x
        step = error / (grown * (w + 1) - (w + 2) * error / (2 * w + 2))
        w -= step
        if abs(step) <= 1e-15 * abs(w):
            break
    return w


def attenuation_per_m(secchi_ft: float, *, constant: float) -> float:
    """Attenuation [1/m] from the depth at which a white disc is lost [ft]: constant / depth in metres.

    Constant 1.7 (Poole & Atkins 1929, "a very rough rule"; READ as cited in the jerlov package) or
    1.44 in turbid water (Holmes 1970, MEMORY). An estimate: the disc does not tell colour.
    Raises ValueError outside 0.2 to 60 ft.
    """
    return constant / metres(checked("secchi_ft", secchi_ft))


def range_for_light_m(k_per_m: float, *, reach_clear_m: float) -> float:
    """Range r [m] with r²·e^(K·r) = c², for attenuation K [1/m] and the range c in unlossy water [m].

    Solves (I/r²)·e^(−K·r) = E in closed form, c² = I/E: r = (2/K)·W(K·c/2); K = 0 gives c.
    Source: inverse-square law with exponential loss. Raises ValueError for K below 0 or c not above 0.
    """
    if not (k_per_m >= 0 and reach_clear_m > 0):
        raise ValueError(f"K, clear range: got {k_per_m}, {reach_clear_m}; allowed 0 and more, above 0")
    if k_per_m * reach_clear_m < 1e-9:
        return reach_clear_m
    return 2 / k_per_m * lambert_w(k_per_m * reach_clear_m / 2)


def circle_ft(secchi_ft: float, *, constant: float, clear_circle_ft: float, clear_secchi_ft: float) -> float:
    """Diameter of the lit circle [ft] where a white disc is lost at `secchi_ft` [ft].

    The lamp is calibrated by its circle in clear water [ft], where the disc is lost at
    `clear_secchi_ft`; `constant` turns both disc depths into attenuation.
    Raises ValueError outside 0.2 to 60 ft.
    """
    clear_k = attenuation_per_m(clear_secchi_ft, constant=constant)
    clear_r = metres(clear_circle_ft / 2)
    unlossy_m = clear_r * math.exp(clear_k * clear_r / 2)
    here_k = attenuation_per_m(secchi_ft, constant=constant)
    return clear_circle_ft * range_for_light_m(here_k, reach_clear_m=unlossy_m) / clear_r


def _circle_range(secchi: Range, clear_circle: Range, rig: Rig) -> Range:
    """Circle [ft] for a range of disc depths and of calibrations, under both Secchi constants."""

    def size(secchi_ft: float, clear_circle_ft: float, constant: float) -> float:
        clear = rig.secchi_clear_ft
        return circle_ft(secchi_ft, constant=constant, clear_circle_ft=clear_circle_ft, clear_secchi_ft=clear)

    constants = (rig.secchi_constant, rig.secchi_constant_turbid)
    return Range(
        size(secchi.value, clear_circle.value, rig.secchi_constant),
        min(size(secchi.low, clear_circle.low, constant) for constant in constants),
        max(size(secchi.high, clear_circle.high, constant) for constant in constants),
    )


def circle_of_secchi(secchi_ft: float, rig: Rig) -> Range:
    """Lit circle [ft] where a white disc is lost at a measured depth [ft].

    Its range is that of the clear-night circle (common practice) and of the two Secchi constants.
    Raises ValueError outside 0.2 to 60 ft.
    """
    clear = Range(rig.circle_clear_ft, rig.circle_clear_low_ft, rig.circle_clear_high_ft)
    return _circle_range(Range(secchi_ft, secchi_ft, secchi_ft), clear, rig)


def secchi_of_word_ft(clarity: str, rig: Rig) -> Range:
    """Depth of the white disc [ft] that a word for the water stands for, with its range.

    Source: an assumption for each word, in numbers.toml. Raises ValueError for another word.
    """
    if clarity not in CLARITIES:
        raise ValueError(f"clarity: got {clarity!r}; allowed {', '.join(CLARITIES)}")
    value, low, high = (getattr(rig, f"secchi_{clarity}{end}_ft") for end in ("", "_low", "_high"))
    return Range(value, low, high)


def circle_of_word(clarity: str, rig: Rig) -> Range:
    """Lit circle [ft] for clear, stained or murky water.

    Its range is that of the disc depths the word may stand for. Raises ValueError for another word.
    """
    clear = Range(rig.circle_clear_ft, rig.circle_clear_ft, rig.circle_clear_ft)
    return _circle_range(secchi_of_word_ft(clarity, rig), clear, rig)


def background_lux(surface_lux: float, depth_ft: float, rig: Rig, *, secchi_ft: float) -> float:
    """Light of the sky left at a depth [lux], from that on the surface [lux] and a white disc's depth [ft].

    E·e^(−K·z). Source: exponential loss with K from the disc, an estimate. Raises ValueError outside
    0 to 60 ft, 0.2 to 60 ft, or for a light below 0.
    """
    if not surface_lux >= 0:
        raise ValueError(f"surface_lux: got {surface_lux}; allowed 0 and more")
    k_per_m = attenuation_per_m(secchi_ft, constant=rig.secchi_constant)
    return surface_lux * math.exp(-k_per_m * metres(checked("lamp_depth_ft", depth_ft)))


def centre_gap_ft(apart_ft: float, circle_left_ft: float, *, circle_right_ft: float) -> float:
    """Dark water between two lit circles [ft]; negative: how far they overlap.

    Distance of the lamps less both radii. Source: geometry. Raises ValueError outside limits.
    """
    left = checked("circle_ft", circle_left_ft, name="circle_left_ft")
    right = checked("circle_ft", circle_right_ft, name="circle_right_ft")
    return checked("apart_ft", apart_ft) - (left + right) / 2


def hull_gap_ft(out_ft: float, circle_ft: float) -> float:
    """Dark water between a lit circle and the hull [ft]; negative: how far it runs under the boat.

    Reach out less the radius. Source: geometry. Raises ValueError outside limits.
    """
    return checked("out_ft", out_ft) - checked("circle_ft", circle_ft) / 2


def overlap_ft2(apart_ft: float, circle_left_ft: float, *, circle_right_ft: float) -> float:
    """Area lit by both lamps [square feet]: the lens of two circles, 0 where they lie apart.

    Source: plane geometry (Weisstein, "Circle-Circle Intersection"; MEMORY). Raises ValueError
    outside limits.
    """
    gap = centre_gap_ft(apart_ft, circle_left_ft, circle_right_ft=circle_right_ft)
    a, b = circle_left_ft / 2, circle_right_ft / 2
    if gap >= 0:
        return 0.0
    if apart_ft <= abs(a - b) + 1e-9:
        return math.pi * min(a, b) ** 2
    return _lens(a, b, apart_ft)


def _lens(a: float, b: float, d: float) -> float:
    """Area common to circles of radius a and b whose centres are d apart, |a − b| < d < a + b."""
    half_a = math.acos(max(-1.0, min(1.0, (d * d + a * a - b * b) / (2 * d * a))))
    half_b = math.acos(max(-1.0, min(1.0, (d * d + b * b - a * a) / (2 * d * b))))
    kite = math.sqrt(max(0.0, (-d + a + b) * (d + a - b) * (d - a + b) * (d + a + b))) / 2
    return a * a * half_a + b * b * half_b - kite


def footprint_radius_ft(height_ft: float, beam_deg: float) -> float:
    """Radius [ft] of a cone of light at a distance [ft] from the lamp, full angle [degrees].

    h·tan(θ/2). A flat window in water narrows the beam first: `beam_in_water_deg`.
    Source: geometry. Raises ValueError unless 0 < angle < 180.
    """
    if not 0 < beam_deg < 180:
        raise ValueError(f"beam_deg: got {beam_deg}; allowed above 0 and below 180 degrees")
    return height_ft * math.tan(math.radians(beam_deg) / 2)


def beam_in_water_deg(beam_in_air_deg: float, *, index: float = 1.34) -> float:
    """Full angle [degrees] that a beam keeps behind a flat window under water (Snell's law).

    Not for potted or domed lamps, which keep theirs. `index` is the refraction of sea water.
    Raises ValueError unless 0 < angle < 180.
    """
    footprint_radius_ft(1.0, beam_in_air_deg)
    return 2 * math.degrees(math.asin(math.sin(math.radians(beam_in_air_deg) / 2) / index))
