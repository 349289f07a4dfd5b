"""Nights to draw: invented facts, each with what a verdict would give. Shared by tests and benchmark.

python tests/picture_scenes.py --write     rewrites tests/golden/; read the difference
python tests/picture_scenes.py --png DIR   PNG files at 360 px to look at
"""

from __future__ import annotations

import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from coach.model import Rulebook
from coach.pictures import Mark, Picture, picture_for
from coach.trips.looks import Look

GOLDEN = Path(__file__).parent / "golden"
NOW = datetime.fromisoformat("2027-02-11T21:50:00-05:00")
SVG = "{http://www.w3.org/2000/svg}"

TIDE = {
    "tide.state": "falling",
    "tide.high_at": "2027-02-11T20:15:00-05:00",
    "tide.high_ft": 4.2,
    "tide.low_at": "2027-02-12T02:30:00-05:00",
    "tide.low_ft": -0.3,
}
BOAT = {
    "boat.bow_hand": "left",
    "boat.length_ft": 19.0,
    "boat.anchors": 2.0,
    "boat.across_flow": True,
    "water.flow": "moderate",
}
CIRCLES = {
    "water.clarity": "clear",
    "lamps.apart_ft": 14.0,
    "lamps.out_left_ft": 8.0,
    "lamps.out_right_ft": 8.0,
}
RECLIP = [
    {"at": "2027-02-11T22:51:00-05:00", "clip_left_ft": 2.0, "clip_right_ft": 4.0},
    {"at": "2027-02-11T23:45:00-05:00", "clip_left_ft": 1.0, "clip_right_ft": 3.0},
    {"at": "2027-02-12T00:44:00-05:00", "clip_right_ft": 2.0},
]


def look(minute: int, minutes: float | None, bow: float | None, stern: float | None) -> Look:
    return Look(NOW + timedelta(minutes=minute), minutes, bow, stern)


LOOKS = (
    look(0, None, 12, 9),
    look(15, 15, 20, 18),
    look(45, 30, 9, 4),
    look(60, 15, 6, 1),
    look(72, 12, 14, 12),
    look(90, 18, 22, 20),
)

SCENES: dict[str, dict[str, Any]] = {
    "plan-right": {"kind": "plan", "facts": {**BOAT, **CIRCLES}},
    "plan-uneven-metric": {
        "kind": "plan",
        "metric": True,
        "facts": {
            **BOAT, **CIRCLES, "boat.bow_hand": "right", "lamps.apart_ft": 22.0, "lamps.out_right_ft": 13.0,
        },
    },
    "plan-nothing-known": {"kind": "plan", "facts": {}},
    "plan-said-not-measured": {
        "kind": "plan",
        "facts": {
            "lamps.centre": "gap", "lamps.hull": "gap", "boat.across_flow": False, "boat.bow_hand": "left",
            "net.in_water": True, "net.where": "pole",
        },
    },
    "plan-murky-net-deep-lamp": {
        "kind": "plan",
        "facts": {
            **BOAT, "water.clarity": "murky", "lamps.apart_ft": 12.0, "lamps.out_left_ft": 2.0,
            "lamps.out_right_ft": 3.0, "net.in_water": True, "net.where": "centre_cleat",
            "deep_lamp.in_water": True, "boat.length_ft": 17.0, "boat.anchors": 1.0,
        },
    },
    "side-too-high": {
        "kind": "side",
        "facts": {
            "water.depth_ft": 11.0, "lamps.clip_left_ft": 6.5, "lamps.clip_right_ft": 6.5,
            "tide.fall_since_set_ft": 1.5,
        },
        "numbers": {"clip_left_ft": 3.0, "clip_right_ft": 3.0},
    },
    "side-two-depths-metric": {
        "kind": "side",
        "metric": True,
        "facts": {
            "water.depth_left_ft": 11.0, "water.depth_right_ft": 13.0, "lamps.clip_left_ft": 6.5,
            "lamps.clip_right_ft": 1.0,
        },
        "numbers": {"clip_left_ft": 3.0, "clip_right_ft": 5.0},
    },
    "side-clip-not-known": {"kind": "side", "facts": {"water.depth_ft": 11.0}},
    "tide-ebb": {
        "kind": "tide",
        "facts": {**TIDE, "water.depth_ft": 12.0},
        "numbers": {"clip_left_ft": 3.0, "clip_right_ft": 5.0, "reclip": RECLIP},
    },
    "tide-not-known": {"kind": "tide", "facts": {}},
    "counts-night": {
        "kind": "counts",
        "facts": {},
        "looks": LOOKS,
        "marks": (Mark(NOW + timedelta(minutes=61), "helped: Lower the lamps: clip left 3 ft, right 3 ft"),),
    },
}  # fmt: skip


def draw(book: Rulebook, name: str, theme: str = "dim") -> Picture:
    """The picture of a scene."""
    scene = dict(SCENES[name])
    return picture_for(
        scene.pop("facts"), scene.pop("numbers", None), book=book, now=NOW, theme=theme, **scene
    )


def parts(svg: str, part: str) -> list[ElementTree.Element]:
    """The shapes of a picture that say they show `part`."""
    return [each for each in ElementTree.fromstring(svg).iter() if each.get("data-part") == part]


def one(svg: str, part: str) -> ElementTree.Element:
    (found,) = parts(svg, part)
    return found


def points(shape: ElementTree.Element) -> list[tuple[float, float]]:
    pairs = (pair.split(",") for pair in shape.get("points", "").split())
    return [(float(x), float(y)) for x, y in pairs]


def data(svg: str, name: str) -> float:
    return float(ElementTree.fromstring(svg).get(f"data-{name}", "nan"))


def texts(svg: str) -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(svg).iter(f"{SVG}text"))


def golden_text(picture: Picture) -> str:
    """A picture's SVG, a shape a line, so that a difference can be read."""
    return picture.svg.replace("><", ">\n<")


def _main(arguments: list[str]) -> None:
    from coach import rulebook
    from coach.pictures.png import png

    book = rulebook.load()
    for name in SCENES:
        for theme in ("dim", "light"):
            picture = draw(book, name, theme)
            if arguments[:1] == ["--png"]:
                Path(arguments[1], f"{name}-{theme}.png").write_bytes(png(picture.svg, pixels=360))
            elif arguments == ["--write"]:
                (GOLDEN / f"{name}-{theme}.svg").write_text(golden_text(picture), encoding="utf-8")
                (GOLDEN / f"{name}.txt").write_text("\n".join(picture.words) + "\n", encoding="utf-8")


if __name__ == "__main__":
    _main(sys.argv[1:])
