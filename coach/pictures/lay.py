"""Where things lie as seen from above, in feet: to the right along the hull, and out from her.

The origin is the middle of the hull's edge on the dipping side. Where a distance is not known a
stand-in is drawn that fits what was seen (overlap, gap, touch); it is marked, and never labelled
with a number.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from coach.pictures.seen import Lamp, Seen

# how far apart, in circles, and how far out, in radii, a stand-in is drawn: drawing only, no figures
_APART = {"overlap": 0.85, "touch": 1.0, "gap": 1.3}
_OUT = {"touch": 1.0, "gap": 1.35, "over": 0.6, "under": 0.15}


@dataclass(frozen=True, slots=True)
class Spot:
    """A lamp's place [ft]; `out_known` and `apart_known` say which of its distances are figures."""

    lamp: Lamp
    x_ft: float
    y_ft: float
    out_known: bool
    apart_known: bool


@dataclass(frozen=True, slots=True)
class Lay:
    """The places of both lamps, the circle's radius and the hull's length [ft], known or stand-ins."""

    spots: tuple[Spot, Spot]
    radius_ft: float
    radius_known: bool
    length_ft: float
    length_known: bool
    contradiction: bool

    @property
    def left_ft(self) -> float:
        """The leftmost point that matters."""
        return min(*(spot.x_ft - self.radius_ft for spot in self.spots), -self.length_ft / 2)

    @property
    def right_ft(self) -> float:
        """The rightmost point that matters."""
        return max(*(spot.x_ft + self.radius_ft for spot in self.spots), self.length_ft / 2)

    @property
    def top_ft(self) -> float:
        """The farthest lit water from the hull."""
        return max(spot.y_ft for spot in self.spots) + self.radius_ft


def lay_out(seen: Seen) -> Lay:
    """Place both lamps from what is known of them."""
    radius = (seen.circle_ft if seen.circle_ft is not None else seen.rig.circle_clear_ft) / 2
    outs = [_out_ft(lamp, seen, radius) for lamp in seen.lamps]
    apart = seen.apart_ft if seen.apart_ft is not None else 2 * radius * _APART.get(seen.centre or "", 0.85)
    along = apart**2 - (outs[0] - outs[1]) ** 2
    contradiction = seen.apart_ft is not None and along < 0
    contradiction = contradiction and all(lamp.out_ft is not None for lamp in seen.lamps)
    half = math.sqrt(along) / 2 if along >= 0 else 0.0
    is_apart_known = seen.apart_ft is not None and along >= 0
    spots = tuple(
        Spot(lamp, sign * half, out, lamp.out_ft is not None, is_apart_known)
        for lamp, out, sign in zip(seen.lamps, outs, (-1, 1), strict=True)
    )
    length = seen.length_ft if seen.length_ft is not None else 2 * half + radius
    return Lay(
        (spots[0], spots[1]),
        radius,
        seen.circle_ft is not None,
        length,
        seen.length_ft is not None,
        contradiction,
    )


def _out_ft(lamp: Lamp, seen: Seen, radius: float) -> float:
    return lamp.out_ft if lamp.out_ft is not None else radius * _OUT.get(seen.hull or "", 1.0)
