"""Green and white light by the kind of water: which of them is left after some feet.

There is no lamp colour that always reaches farther: in clear coastal water green keeps a little more,
in the murkiest it loses to the yellow in white.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from coach.figures.light import attenuation_per_m
from coach.figures.limits import checked
from coach.figures.rig import Rig
from coach.figures.units import metres

# Attenuation of daylight [1/m] at 450, 475 ... 650 nm. N. G. Jerlov, "Marine Optics", 1976, table
# XXVII, water types III (oceanic) and 1C to 9C (coastal), as printed (READ in the jerlov package,
# which marks these rows as taken from the book).
WAVELENGTHS_NM = (450, 475, 500, 525, 550, 575, 600, 625, 650)
KD_PER_M: dict[str, tuple[float, ...]] = {
    "III": (0.135, 0.116, 0.115, 0.116, 0.120, 0.148, 0.295, 0.375, 0.445),
    "1C": (0.250, 0.170, 0.140, 0.130, 0.120, 0.150, 0.300, 0.370, 0.450),
    "3C": (0.390, 0.290, 0.220, 0.200, 0.190, 0.210, 0.330, 0.400, 0.460),
    "5C": (0.560, 0.430, 0.360, 0.310, 0.300, 0.330, 0.400, 0.480, 0.540),
    "7C": (0.890, 0.710, 0.580, 0.490, 0.460, 0.460, 0.480, 0.540, 0.630),
    "9C": (1.600, 1.230, 0.990, 0.780, 0.630, 0.580, 0.600, 0.650, 0.760),
}


class Left(NamedTuple):
    """Share of the light of each colour that is left, as an eye weighs it."""

    green: float
    white: float


def kd_per_m(water_type: str, wavelength_nm: float) -> float:
    """Attenuation [1/m] of a water type at a wavelength [nm], straight between the table's values.

    Beyond 450 to 650 nm the last value stands. Raises ValueError for an unknown type or a wavelength
    outside 400 to 700 nm.
    """
    if water_type not in KD_PER_M:
        raise ValueError(f"water_type: got {water_type!r}; allowed {', '.join(KD_PER_M)}")
    nm = min(max(checked("wavelength_nm", wavelength_nm), 450.0), 650.0)
    i = min(int((nm - 450) // 25), len(WAVELENGTHS_NM) - 2)
    share = (nm - WAVELENGTHS_NM[i]) / 25
    row = KD_PER_M[water_type]
    return row[i] * (1 - share) + row[i + 1] * share


def _bell(nm: float, middle: float, width: float) -> float:
    return math.exp(-(((nm - middle) / width) ** 2) / 2)


def _eye(nm: float) -> float:
    """Daylight sensitivity of the human eye, by a bell over 559 nm (MEMORY)."""
    return 1.019 * math.exp(-285.4 * (nm / 1000 - 0.559) ** 2)


def _left(water_type: str, path_m: float, light: Callable[[float], float]) -> float:
    weights = [(nm, light(nm) * _eye(nm)) for nm in range(400, 701, 2)]
    kept = math.fsum(weight * math.exp(-kd_per_m(water_type, nm) * path_m) for nm, weight in weights)
    return kept / math.fsum(weight for _, weight in weights)


def light_left(water_type: str, path_ft: float, rig: Rig) -> Left:
    """Share of green and of white lamp light left after a way through water [ft].

    Absorption and scatter only, not the spreading with distance, which is the same for both. The
    spectra of both lights are assumptions, in numbers.toml. Raises ValueError outside 0 to 60 ft.
    """
    path_m = metres(checked("path_ft", path_ft))

    def green(nm: float) -> float:
        return _bell(nm, rig.green_nm, rig.green_width_nm)

    def white(nm: float) -> float:
        blue = _bell(nm, rig.white_blue_nm, rig.white_blue_width_nm)
        return blue + _bell(nm, rig.white_yellow_nm, rig.white_yellow_width_nm)

    return Left(_left(water_type, path_m, green), _left(water_type, path_m, white))


def water_type_of(secchi_ft: float, rig: Rig) -> str:
    """The water type whose attenuation of green light is nearest to that of a white disc's depth [ft].

    An estimate twice over; water murkier than 9C counts as 9C. Raises ValueError outside 0.2 to 60 ft.
    """
    here = math.log(attenuation_per_m(secchi_ft, constant=rig.secchi_constant))
    return min(KD_PER_M, key=lambda name: abs(math.log(kd_per_m(name, rig.green_nm)) - here))
