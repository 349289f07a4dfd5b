"""Amps, hours and volts: what the battery holds, and what reaches the lamp."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from coach.figures.limits import checked, positive
from coach.figures.rig import Rig
from coach.figures.units import M_PER_FT

Battery = Literal["lead", "lithium"]
BATTERIES: tuple[Battery, ...] = ("lead", "lithium")

# Boat wire is sold in even gauges; areas in circular mils follow from the gauge.
GAUGES = (18, 16, 14, 12, 10, 8, 6, 4, 2)

# Columns of the published 3 % tables of boat wire: round-trip lengths [ft].
TABLE_FT = (5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80, 90, 100)

# Standard blade fuses [A] (ISO 8820-3, MEMORY).
FUSES_A = (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 40)

WIRE_K = 10.75
"""Ohm times circular mils of one foot of copper, as the boat wire tables use it (MEMORY)."""


class AtLamp(NamedTuple):
    """What reaches a lamp at the end of its lead."""

    volts: float
    current_a: float
    drop_v: float


def lamp_current_a(power_w: float, volts: float) -> float:
    """Current [A] of a lamp with a driver: power over volts, more as the volts sag.

    Source: Ohm and Joule. Raises ValueError outside 0.1 to 2000 W and 1 to 60 V.
    """
    return checked("power_w", power_w) / checked("volts", volts)


def hours_at_current(capacity_ah: float, current_a: float, *, rated_h: float, exponent: float) -> float:
    """Hours until a full battery is empty: H·(C/(I·H))^k, never more than C/I.

    C is the capacity [Ah] of a discharge in `rated_h` hours. The other form, C/I^k, takes C at 1 A
    and contradicts a 20-hour rating. Below the rated current no more than the rated amp-hours count.
    Source: Peukert 1897 in its rated form (MEMORY). Raises ValueError outside limits.
    """
    c, i = checked("capacity_ah", capacity_ah), checked("current_a", current_a)
    h, k = positive("rated_h", rated_h, unit="h"), checked("peukert", exponent)
    return float(min(c / i, h * (c / (i * h)) ** k))


def usable_share(battery: Battery, rig: Rig) -> float:
    """Part of a battery's amp-hours to use. Source: common practice. Raises ValueError for another kind."""
    shares = {"lead": rig.usable_lead_share, "lithium": rig.usable_lithium_share}
    if battery not in shares:
        raise ValueError(f"battery: got {battery!r}; allowed {', '.join(BATTERIES)}")
    return shares[battery]


def battery_hours(capacity_ah: float, current_a: float, rig: Rig, *, battery: Battery) -> float:
    """Hours from full until the usable part is used, at a steady current [A].

    Source: Peukert's rule and the usable share. Raises ValueError outside limits.
    """
    share = usable_share(battery, rig)
    exponent = rig.peukert_lead if battery == "lead" else rig.peukert_lithium
    return share * hours_at_current(capacity_ah, current_a, rated_h=rig.battery_rated_h, exponent=exponent)


def charge_share(rested_v: float, rig: Rig, *, battery: Battery) -> float:
    """Charge left in a rested 12 V battery, 0 to 1, from its volts.

    Straight lines between full, half and flat (makers' tables, MEMORY). Rested means an hour without
    load: under load it reads lower. On LiFePO4 a tenth of a volt is a third of the charge: a rough
    word only. Raises ValueError outside 1 to 60 V or for another kind of battery.
    """
    usable_share(battery, rig)  # refuses another kind
    volts = checked("volts", rested_v, name="rested_v")
    flat, half, full = (getattr(rig, f"{battery}_{state}_v") for state in ("flat", "half", "full"))
    low, high, base = (flat, half, 0.0) if volts < half else (half, full, 0.5)
    return float(max(0.0, min(1.0, base + 0.5 * (volts - low) / (high - low))))


def hours_from_volts(
    rested_v: float, capacity_ah: float, current_a: float, rig: Rig, *, battery: Battery
) -> float:
    """Hours left until the usable part is used, from the rested volts. Raises ValueError outside limits."""
    spare = 1 - usable_share(battery, rig)
    left = max(0.0, charge_share(rested_v, rig, battery=battery) - spare)
    full_h = battery_hours(capacity_ah, current_a, rig, battery=battery)
    return full_h * left / usable_share(battery, rig)


def gauge_diameter_mm(awg: int) -> float:
    """Diameter [mm] of a solid wire by American gauge: 0.127·92^((36 − n)/39).

    Source: ASTM B258 (MEMORY). Raises ValueError for a gauge that is not an even 2 to 18.
    """
    if awg not in GAUGES:
        raise ValueError(f"awg: got {awg}; allowed {', '.join(map(str, GAUGES))}")
    return float(0.127 * 92 ** ((36 - awg) / 39))


def circular_mils(awg: int) -> float:
    """Area of a wire in circular mils: the square of its diameter in thousandths of an inch."""
    return (gauge_diameter_mm(awg) / 0.0254) ** 2


def lead_ohm(one_way_ft: float, awg: int, rig: Rig) -> float:
    """Resistance [ohm] of a lead of two wires, at 20 °C. Source: ρ·L/A, copper of the annealed standard.

    Raises ValueError outside 0.5 to 200 ft.
    """
    length_m = 2 * checked("lead_ft", one_way_ft) * M_PER_FT
    area_m2 = math.pi / 4 * (gauge_diameter_mm(awg) / 1000) ** 2
    return rig.copper_ohm_m * length_m / area_m2


def lead_drop_v(current_a: float, one_way_ft: float, rig: Rig, *, awg: int) -> float:
    """Volts lost along a lead at a current [A]. Source: Ohm. Raises ValueError outside limits."""
    return checked("current_a", current_a) * lead_ohm(one_way_ft, awg, rig)


def at_lamp(power_w: float, battery_v: float, rig: Rig, *, one_way_ft: float, awg: int) -> AtLamp:
    """Volts and amps at a lamp that draws its power whatever the volts, behind a lead.

    V·(V_b − V) = P·R, the upper root. Raises ValueError outside limits, and where the lead cannot
    carry the power at all.
    """
    power, volts = checked("power_w", power_w), checked("volts", battery_v, name="battery_v")
    loss = power * lead_ohm(one_way_ft, awg, rig)
    if volts * volts < 4 * loss:
        raise ValueError(f"awg: got {awg}; allowed a thicker one: this lead cannot carry {power:g} W")
    there = (volts + math.sqrt(volts * volts - 4 * loss)) / 2
    return AtLamp(there, power / there, volts - there)


def is_dim(volts_at_lamp: float, rig: Rig) -> bool:
    """Whether a lamp that gets these volts is dim (assumption). Raises ValueError outside 1 to 60 V."""
    return checked("volts", volts_at_lamp, name="volts_at_lamp") < rig.lamp_dim_v


def wire_gauge(current_a: float, round_trip_ft: float, *, volts: float, drop_share: float) -> int | None:
    """Thinnest even gauge that loses no more than a share of the volts; None: none up to 2 AWG does.

    Circular mils = K·I·L/E with the round-trip length rounded up to the columns of the published
    3 % tables of boat wire, as they are used. Source: those tables (READ), K (MEMORY).
    Raises ValueError outside limits.
    """
    amps, length = checked("current_a", current_a), checked("round_trip_ft", round_trip_ft)
    lost_v = checked("volts", volts) * checked("share", drop_share, name="drop_share")
    column = next(column for column in TABLE_FT if column >= length)
    needed = WIRE_K * amps * column / lost_v
    return next((awg for awg in GAUGES if circular_mils(awg) >= needed), None)


def fuse_a(current_a: float, rig: Rig) -> float | None:
    """Smallest standard fuse [A] for a steady current with headroom; None above the largest.

    It must also be no larger than its wire may carry. Source: usual practice, in numbers.toml.
    Raises ValueError outside limits.
    """
    needed = rig.fuse_headroom * checked("current_a", current_a)
    return next((size for size in FUSES_A if size >= needed), None)
