"""A lamp on its line in a current: how far it leans, and whether its weight stays put.

flow -->      (lamp)   lift upwards, drag down-current
              /
             /  lean, from the vertical
            /
______[weight]______
"""

from __future__ import annotations

import math
from typing import NamedTuple

from coach.figures.limits import checked, positive
from coach.figures.rig import Rig
from coach.figures.units import KG_PER_LB, M_PER_IN, knots, metres, metres_per_second, newtons

MATERIALS = ("lead", "steel", "concrete")


class Lean(NamedTuple):
    """How a lamp hangs in a flow."""

    lean_deg: float
    height_lost_ft: float
    down_current_ft: float


class Hold(NamedTuple):
    """Whether a weight stays where it is: the pull on it, what it stands, the flow it stands."""

    pull_n: float
    holds_n: float
    slides_at_kn: float


def drag_n(drag_coefficient: float, area_m2: float, speed_m_s: float, *, density_kg_m3: float) -> float:
    """Drag [N] of a body in a flow: ½·ρ·C_d·A·v². Source: any handbook of fluid dynamics (MEMORY).

    Valid while the coefficient is: for a cylinder across the flow, Reynolds numbers of 1e3 to 2e5.
    Raises ValueError for a value that is not above 0 (speed: below 0).
    """
    positive("area_m2", area_m2, unit="m2")
    positive("density_kg_m3", density_kg_m3, unit="kg/m3")
    if not speed_m_s >= 0:
        raise ValueError(f"speed_m_s: got {speed_m_s}; allowed 0 and more m/s")
    return positive("drag_coefficient", drag_coefficient) * area_m2 * density_kg_m3 * speed_m_s**2 / 2


def lean_deg(drag_newton: float, lift_n: float) -> float:
    """Lean from the vertical [degrees] of a buoyant body on a light line: atan(drag / lift)."""
    return math.degrees(math.atan2(drag_newton, positive("lift_n", lift_n, unit="N")))


def _lamp_area_m2(rig: Rig) -> float:
    return rig.lamp_width_in * rig.lamp_length_in * M_PER_IN**2


def _line_area_m2(clip_ft: float, rig: Rig) -> float:
    return metres(checked("clip_ft", clip_ft)) * rig.line_width_in * M_PER_IN


def lamp_lean(flow_kn: float, clip_ft: float, rig: Rig) -> Lean:
    """Lean of a lamp clipped at `clip_ft` [ft] in a flow [kn], with the height it loses.

    Half of the drag of the line below it is put at the lamp (usual approximation, MEMORY). Size and
    lift of the lamp are assumptions, in numbers.toml. Raises ValueError outside 0 to 8 kn, 0 to 60 ft.
    """
    speed = metres_per_second(checked("flow_kn", flow_kn))
    area = _lamp_area_m2(rig) + _line_area_m2(clip_ft, rig) / 2
    drag = drag_n(rig.drag_cylinder, area, speed, density_kg_m3=rig.water_density_kg_m3)
    lean = lean_deg(drag, rig.lamp_lift_n)
    tilt = math.radians(lean)
    return Lean(lean, clip_ft * (1 - math.cos(tilt)), clip_ft * math.sin(tilt))


def weight_in_water_n(weight_lb: float, rig: Rig, *, material: str) -> float:
    """What presses down on the bottom [N] of a weight in pounds: its weight less the water it displaces.

    Source: Archimedes. Raises ValueError outside 0.5 to 100 lb or for another material.
    """
    if material not in MATERIALS:
        raise ValueError(f"material: got {material!r}; allowed {', '.join(MATERIALS)}")
    density = getattr(rig, f"{material}_density_kg_m3")
    return float(newtons(checked("weight_lb", weight_lb)) * (1 - rig.water_density_kg_m3 / density))


def _weight_area_m2(weight_lb: float, rig: Rig, material: str) -> float:
    """Side of a block of this weight and material, squared."""
    density = getattr(rig, f"{material}_density_kg_m3")
    return float((weight_lb * KG_PER_LB / density) ** (2 / 3))


def weight_hold(flow_kn: float, clip_ft: float, rig: Rig, *, material: str) -> Hold:
    """Whether the weight stays put under the pull of lamp, line and its own drag in a flow [kn].

    Friction on what presses it down, less the lamp's lift. An order of magnitude: the angle of the
    line and a soft bottom change it. Friction is an assumption. Raises ValueError outside limits.
    """
    speed = metres_per_second(checked("flow_kn", flow_kn))
    down_n = weight_in_water_n(rig.weight_lb, rig, material=material) - rig.lamp_lift_n
    round_area = _lamp_area_m2(rig) + _line_area_m2(clip_ft, rig)
    block_area = _weight_area_m2(rig.weight_lb, rig, material)
    at_one = rig.drag_cylinder * round_area + rig.drag_cube * block_area
    pull = drag_n(1.0, at_one, speed, density_kg_m3=rig.water_density_kg_m3)
    holds = max(0.0, rig.bottom_friction * down_n)
    slides = math.sqrt(2 * holds / (rig.water_density_kg_m3 * at_one))
    return Hold(pull, holds, knots(slides))
