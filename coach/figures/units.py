"""Units of boaters and of science, there and back. All factors are exact by definition but none
is rounded: foot 0.3048 m, nautical mile 1852 m, inch 25.4 mm (international definitions, MEMORY)."""

from __future__ import annotations

M_PER_FT = 0.3048
M_PER_NMI = 1852.0
M_PER_IN = 0.0254
KG_PER_LB = 0.45359237
N_PER_KGF = 9.80665


def metres(ft: float) -> float:
    """Feet to metres."""
    return ft * M_PER_FT


def feet(m: float) -> float:
    """Metres to feet."""
    return m / M_PER_FT


def metres_per_second(kn: float) -> float:
    """Knots to metres per second."""
    return kn * M_PER_NMI / 3600


def knots(m_per_s: float) -> float:
    """Metres per second to knots."""
    return m_per_s * 3600 / M_PER_NMI


def celsius(f: float) -> float:
    """Degrees Fahrenheit to degrees Celsius."""
    return (f - 32) * 5 / 9


def newtons(lb: float) -> float:
    """Weight of a mass in pounds, in newtons."""
    return lb * KG_PER_LB * N_PER_KGF
