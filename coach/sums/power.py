"""Amps, volts and hours: whether the light lasts as long as the stay, and what reaches the lamps."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import cast

from coach.figures.power import (
    Battery,
    at_lamp,
    battery_hours,
    fuse_a,
    hours_from_volts,
    lamp_current_a,
    wire_gauge,
)
from coach.figures.rig import Rig
from coach.sums.declare import gives, stands_in


@gives("power.draw_a")
def draw_a(
    rig: Rig,
    lamps_total: float | None = None,
    lamps_count: float | None = None,
    lamps_watts: float | None = None,
) -> float | None:
    """Current of all lamps together [A], at the rated voltage; the usual lamp where nobody told its watts."""
    lamps = lamps_total or lamps_count
    if not lamps:
        return None
    return lamps * lamp_current_a(lamps_watts or rig.lamp_power_w, rig.lamp_rated_v)


@gives("power.hours_left")
def hours_left(
    power_battery_ah: float,
    power_battery_kind: str,
    *,
    power_draw_a: float,
    rig: Rig,
    power_rested_v: float | None = None,
    lamps_minutes_since_set: float = 0.0,
) -> float:
    """Hours of light left: from the volts before the lamps were lit, else from a full battery."""
    kind = cast(Battery, power_battery_kind)
    if power_rested_v is None:
        hours = battery_hours(power_battery_ah, power_draw_a, rig, battery=kind)
    else:
        hours = hours_from_volts(power_rested_v, power_battery_ah, power_draw_a, rig, battery=kind)
    return max(0.0, hours - lamps_minutes_since_set / 60)


@gives("power.spare_h")
def spare_h(power_hours_left: float, stay_minutes_more: float) -> float:
    """Hours of light left over at the end of the stay; negative: it ends before."""
    return power_hours_left - stay_minutes_more / 60


@gives("power.out_at")
def out_at(power_hours_left: float, now: datetime) -> str:
    """When the usable part of the battery is used."""
    return (now + timedelta(hours=power_hours_left)).isoformat(timespec="seconds")


@gives("power.fuse_a")
def fuse(power_draw_a: float, rig: Rig) -> float | None:
    """The fuse at the battery [A]."""
    size = fuse_a(power_draw_a, rig)
    return None if size is None else float(size)


@stands_in("lamps.volts_at_lamp")
def volts_at_lamp(
    power_battery_v: float,
    power_lead_ft: float,
    power_lead_awg: str,
    rig: Rig,
    lamps_watts: float | None = None,
) -> float:
    """Volts at the end of a lead [V], where nobody measured them."""
    watts = lamps_watts or rig.lamp_power_w
    return at_lamp(watts, power_battery_v, rig, one_way_ft=power_lead_ft, awg=int(power_lead_awg)).volts


@gives("power.drop_v")
def drop_v(power_battery_v: float, lamps_volts_at_lamp: float) -> float | None:
    """Volts lost between the battery and the lamp."""
    lost = power_battery_v - lamps_volts_at_lamp
    return lost if lost > 0 else None


@gives("power.awg_needed")
def awg_needed(
    power_battery_v: float, power_lead_ft: float, rig: Rig, lamps_watts: float | None = None
) -> float | None:
    """Thinnest gauge of lead that loses no more than the part allowed."""
    current = lamp_current_a(lamps_watts or rig.lamp_power_w, power_battery_v)
    share = rig.drop_allowed_share
    awg = wire_gauge(current, 2 * power_lead_ft, volts=power_battery_v, drop_share=share)
    return None if awg is None else float(awg)
