"""What is known of a set, gathered for drawing: figures in feet, None where a thing is not known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from coach.figures.lamp import Hang, hang
from coach.figures.rig import Rig
from coach.model import Scalar

LAMPS = ("left", "right")
_SAME_FT = 0.05
_ABOVE = ("boat", "anchor_line")


@dataclass(frozen=True, slots=True)
class Lamp:
    """One dipping lamp. `borrowed`: the depth is the boat's, not sounded under this lamp."""

    name: str
    depth_ft: float | None
    borrowed: bool
    depth_when_set_ft: float | None
    clip_ft: float | None
    advised_ft: float | None
    out_ft: float | None
    now: Hang | None
    after: Hang | None

    @property
    def moves(self) -> bool:
        """Whether the advice changes how the lamp hangs."""
        if self.after is None or self.clip_ft is None or self.advised_ft is None:
            return self.after is not None
        return abs(self.clip_ft - self.advised_ft) >= _SAME_FT


@dataclass(frozen=True, slots=True)
class Seen:
    """A set as far as it is known. `centre` and `hull` are what was seen there, without a number."""

    lamps: tuple[Lamp, Lamp]
    rig: Rig
    circle_ft: float | None
    apart_ft: float | None
    centre: str | None
    hull: str | None
    bow: str | None
    length_ft: float | None
    anchors: float | None
    across: bool | None
    flow: str | None
    wind_driven: bool
    from_above: bool
    net: str | None
    deep_lamp: bool
    lamps_told: float | None
    now_at: str = ""

    def gap_ft(self, lamp: Lamp) -> float | None:
        """Dark water between this lamp's circle and the hull [ft]; negative: it runs under her."""
        if lamp.out_ft is None or self.circle_ft is None:
            return None
        return lamp.out_ft - self.circle_ft / 2

    @property
    def centre_gap_ft(self) -> float | None:
        """Dark water between the circles [ft]; negative: they overlap."""
        if self.apart_ft is None or self.circle_ft is None:
            return None
        return self.apart_ft - self.circle_ft


def seen(known: Mapping[str, Scalar], numbers: Mapping[str, Any], rig: Rig) -> Seen:
    """Gather what is known: facts with everything worked out from them, and a verdict's numbers."""
    net = known.get("net.in_water")
    where = str(known.get("net.where", "somewhere"))
    return Seen(
        lamps=(_lamp("left", known, numbers, rig), _lamp("right", known, numbers, rig)),
        rig=rig,
        circle_ft=_feet(known, "lamps.circle_ft"),
        apart_ft=_feet(known, "lamps.apart_ft"),
        centre=_word(known, "lamps.centre"),
        hull=_word(known, "lamps.hull"),
        bow=_word(known, "boat.bow_hand"),
        length_ft=_feet(known, "boat.length_ft"),
        anchors=_feet(known, "boat.anchors"),
        across=_yes(known, "boat.across_flow"),
        flow=_word(known, "water.flow"),
        wind_driven=known.get("water.kind") == "wind_driven",
        from_above=known.get("lamps.hung_from") in _ABOVE,
        net=where if net is True else None,
        deep_lamp=known.get("deep_lamp.in_water") is True,
        lamps_told=_feet(known, "lamps.count"),
    )


def _lamp(name: str, known: Mapping[str, Scalar], numbers: Mapping[str, Any], rig: Rig) -> Lamp:
    depth = _feet(known, f"{name}.depth_ft")
    clip = _feet(known, f"lamps.clip_{name}_ft")
    advised = numbers.get(f"clip_{name}_ft")
    return Lamp(
        name=name,
        depth_ft=depth,
        borrowed=f"water.depth_{name}_ft" not in known,
        depth_when_set_ft=_feet(known, f"{name}.depth_when_set_ft"),
        clip_ft=clip,
        advised_ft=advised,
        out_ft=_feet(known, f"lamps.out_{name}_ft"),
        now=None if depth is None or clip is None else hang(depth, clip, rig),
        after=None if depth is None or advised is None else hang(depth, float(advised), rig),
    )


def drawn(seen: Seen) -> tuple[Lamp, ...]:
    """The lamps to be drawn from the side: one where both hang alike, or where there is but one."""
    if alike(seen):
        return seen.lamps[:1]
    known = tuple(lamp for lamp in seen.lamps if lamp.clip_ft is not None or lamp.advised_ft is not None)
    return known if seen.lamps_told == 1 and len(known) == 1 else seen.lamps


def alike(seen: Seen) -> bool:
    """Whether both lamps hang in the same depth at the same height, so that one drawing serves."""
    left, right = seen.lamps
    figures = ("depth_ft", "borrowed", "depth_when_set_ft", "clip_ft", "advised_ft")
    return all(getattr(left, name) == getattr(right, name) for name in figures)


def _feet(known: Mapping[str, Scalar], name: str) -> float | None:
    value = known.get(name)
    return None if value is None else float(value)


def _word(known: Mapping[str, Scalar], name: str) -> str | None:
    value = known.get(name)
    return None if value is None else str(value)


def _yes(known: Mapping[str, Scalar], name: str) -> bool | None:
    value = known.get(name)
    return value if isinstance(value, bool) else None


def lamps_told(count: float) -> str:
    """How many dipping lamps were told of, in words."""
    return "1 lamp was" if count == 1 else f"{count:g} lamps were"
