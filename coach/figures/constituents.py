"""The astronomy of tidal constituents: arguments and node factors by Schureman's manual.

Source of every formula here: P. Schureman, "Manual of Harmonic Analysis and Prediction of Tides",
U.S. Coast and Geodetic Survey Special Publication 98, 1940 (MEMORY); mean longitudes: J. Meeus,
"Astronomical Algorithms", chapters 25 and 47 (MEMORY). Checked as a whole against NOAA's published
predictions. Angles in degrees.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import cache
from typing import NamedTuple

_J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)


class Sky(NamedTuple):
    """Mean longitudes [degrees]: moon, sun, lunar perigee, lunar node, solar perigee."""

    s: float
    h: float
    p: float
    n: float
    p1: float


class Node(NamedTuple):
    """Factor on the amplitude and shift of the argument [degrees] of a constituent."""

    f: float
    u: float


class Argument(NamedTuple):
    """Multiples of the hour angle of the mean sun and of s, h, p, p1, and a constant [degrees]."""

    t: int
    s: int
    h: int
    p: int
    p1: int
    constant: int


def mean_longitudes(at: datetime) -> Sky:
    """Mean longitudes of moon, sun, perigees and node at a time [degrees]."""
    c = (at - _J2000).total_seconds() / 86_400 / 36_525
    return Sky(
        s=218.3164477 + 481_267.88123421 * c - 0.0015786 * c * c,
        h=280.46646 + 36_000.76983 * c + 0.0003032 * c * c,
        p=83.3532465 + 4_069.0137287 * c - 0.0103200 * c * c,
        n=125.0445479 - 1_934.1362891 * c + 0.0020754 * c * c,
        p1=282.93735 + 1.71946 * c + 0.00046 * c * c,
    )


# The constituents of the U.S. predictions. M1 has its p in the node shift; see `_m1`.
ARGUMENTS: Mapping[str, Argument] = {
    "M2": Argument(2, -2, 2, 0, 0, 0),
    "S2": Argument(2, 0, 0, 0, 0, 0),
    "N2": Argument(2, -3, 2, 1, 0, 0),
    "K1": Argument(1, 0, 1, 0, 0, -90),
    "M4": Argument(4, -4, 4, 0, 0, 0),
    "O1": Argument(1, -2, 1, 0, 0, 90),
    "M6": Argument(6, -6, 6, 0, 0, 0),
    "MK3": Argument(3, -2, 3, 0, 0, -90),
    "S4": Argument(4, 0, 0, 0, 0, 0),
    "MN4": Argument(4, -5, 4, 1, 0, 0),
    "NU2": Argument(2, -3, 4, -1, 0, 0),
    "S6": Argument(6, 0, 0, 0, 0, 0),
    "MU2": Argument(2, -4, 4, 0, 0, 0),
    "2N2": Argument(2, -4, 2, 2, 0, 0),
    "OO1": Argument(1, 2, 1, 0, 0, -90),
    "LAM2": Argument(2, -1, 0, 1, 0, 180),
    "S1": Argument(1, 0, 0, 0, 0, 0),
    "M1": Argument(1, -1, 1, 0, 0, -90),
    "J1": Argument(1, 1, 1, -1, 0, -90),
    "MM": Argument(0, 1, 0, -1, 0, 0),
    "SSA": Argument(0, 0, 2, 0, 0, 0),
    "SA": Argument(0, 0, 1, 0, 0, 0),
    "MSF": Argument(0, 2, -2, 0, 0, 0),
    "MF": Argument(0, 2, 0, 0, 0, 0),
    "RHO": Argument(1, -3, 3, -1, 0, 90),
    "Q1": Argument(1, -3, 1, 1, 0, 90),
    "T2": Argument(2, 0, -1, 0, 1, 0),
    "R2": Argument(2, 0, 1, 0, -1, 180),
    "2Q1": Argument(1, -4, 1, 2, 0, 90),
    "P1": Argument(1, 0, -1, 0, 0, 90),
    "2SM2": Argument(2, 2, -2, 0, 0, 0),
    "M3": Argument(3, -3, 3, 0, 0, 0),
    "L2": Argument(2, -1, 2, -1, 0, 180),
    "2MK3": Argument(3, -4, 3, 0, 0, 90),
    "K2": Argument(2, 0, 2, 0, 0, 0),
    "M8": Argument(8, -8, 8, 0, 0, 0),
    "MS4": Argument(4, -2, 2, 0, 0, 0),
}

# Degrees per mean solar hour of the hour angle and of s, h, p, p1 (Schureman, table 1, MEMORY).
_RATES = (15.0, 0.5490165, 0.0410686, 0.0046418, 0.0000020)


def speed_deg_per_h(name: str) -> float:
    """Speed of a constituent [degrees per hour]. That of M1 holds the mean motion of its node shift."""
    argument = ARGUMENTS[name]
    drift = _RATES[3] if name == "M1" else 0.0
    return drift + math.fsum(part * rate for part, rate in zip(argument[:5], _RATES, strict=True))


def argument_deg(name: str, at: datetime) -> float:
    """Equilibrium argument V of a constituent at a time [degrees, 0 to 360], without its node shift."""
    sky, a = mean_longitudes(at), ARGUMENTS[name]
    hour = at.hour + at.minute / 60 + at.second / 3600 + at.microsecond / 3.6e9
    parts = a.t * (15 * hour + 180), a.s * sky.s, a.h * sky.h, a.p * sky.p, a.p1 * sky.p1, a.constant
    return math.fsum(parts) % 360


class _Orbit(NamedTuple):
    """The moon's orbit for one position of the node: inclination to the equator and shifts [radians]."""

    i: float
    xi: float
    nu: float
    p: float


def _orbit(sky: Sky) -> _Orbit:
    n = math.radians(sky.n % 360)
    n = n - 2 * math.pi if n > math.pi else n
    i = math.acos(0.91370 - 0.03569 * math.cos(n))
    one, two = math.atan(1.01883 * math.tan(n / 2)), math.atan(0.64412 * math.tan(n / 2))
    xi = n - one - two
    return _Orbit(i, xi, one - two, math.radians(sky.p) - xi)


def _k1(orbit: _Orbit) -> Node:
    double = math.sin(2 * orbit.i)
    f = math.sqrt(0.8965 * double**2 + 0.6001 * double * math.cos(orbit.nu) + 0.1006)
    shift = math.atan2(double * math.sin(orbit.nu), double * math.cos(orbit.nu) + 0.3347)
    return Node(f, -math.degrees(shift))


def _k2(orbit: _Orbit) -> Node:
    square = math.sin(orbit.i) ** 2
    f = math.sqrt(19.0444 * square**2 + 2.7702 * square * math.cos(2 * orbit.nu) + 0.0981)
    shift = math.atan2(square * math.sin(2 * orbit.nu), square * math.cos(2 * orbit.nu) + 0.0727)
    return Node(f, -math.degrees(shift))


def _l2(orbit: _Orbit, m2: Node) -> Node:
    tan2 = math.tan(orbit.i / 2) ** 2
    ra = math.sqrt(1 - 12 * tan2 * math.cos(2 * orbit.p) + 36 * tan2**2)
    r = math.atan2(math.sin(2 * orbit.p), 1 / (6 * tan2) - math.cos(2 * orbit.p))
    return Node(m2.f * ra, m2.u - math.degrees(r))


def _m1(orbit: _Orbit, o1: Node) -> Node:
    q = math.atan2(0.483 * math.sin(orbit.p), math.cos(orbit.p))
    f = o1.f * math.sqrt(2.310 + 1.435 * math.cos(2 * orbit.p))
    return Node(f, math.degrees(orbit.xi - orbit.nu + q))


def _sum(*parts: tuple[Node, int]) -> Node:
    """A compound constituent: factors multiply, shifts add, each so many times."""
    f = math.prod(node.f ** abs(times) for node, times in parts)
    return Node(f, math.fsum(node.u * times for node, times in parts))


def _nodes(sky: Sky) -> dict[str, Node]:
    orbit = _orbit(sky)
    i, xi, nu = orbit.i, math.degrees(orbit.xi), math.degrees(orbit.nu)
    none = Node(1.0, 0.0)
    m2 = Node(math.cos(i / 2) ** 4 / 0.9154, 2 * xi - 2 * nu)
    o1 = Node(math.sin(i) * math.cos(i / 2) ** 2 / 0.3800, 2 * xi - nu)
    k1, k2 = _k1(orbit), _k2(orbit)
    return {
        **dict.fromkeys(("M2", "N2", "NU2", "MU2", "2N2", "LAM2", "MS4"), m2),
        **dict.fromkeys(("O1", "Q1", "2Q1", "RHO"), o1),
        **dict.fromkeys(("S1", "S2", "S4", "S6", "T2", "R2", "P1", "SA", "SSA"), none),
        **dict.fromkeys(("M4", "MN4"), _sum((m2, 2))),
        **dict.fromkeys(("2SM2", "MSF"), _sum((m2, -1))),
        "K1": k1,
        "K2": k2,
        "J1": Node(math.sin(2 * i) / 0.7214, -nu),
        "OO1": Node(math.sin(i) * math.sin(i / 2) ** 2 / 0.0164, -2 * xi - nu),
        "MM": Node((2 / 3 - math.sin(i) ** 2) / 0.5021, 0.0),
        "MF": Node(math.sin(i) ** 2 / 0.1578, -2 * xi),
        "M3": Node(m2.f**1.5, m2.u * 1.5),
        "M6": _sum((m2, 3)),
        "M8": _sum((m2, 4)),
        "MK3": _sum((m2, 1), (k1, 1)),
        "2MK3": _sum((m2, 2), (k1, -1)),
        "L2": _l2(orbit, m2),
        "M1": _m1(orbit, o1),
    }


@cache
def year_nodes(year: int) -> Mapping[str, Node]:
    """Node factors and shifts of every constituent for a year, taken at its middle (2 July).

    Yearly values, as NOAA's published predictions use them: values of the instant differ from
    those by up to 2 minutes and 2 centimetres.
    """
    return _nodes(mean_longitudes(datetime(year, 7, 2, tzinfo=UTC)))
