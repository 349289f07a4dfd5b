"""The labels of the set from above: each where it touches nothing, the ones that matter most first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from coach.pictures.lay import Lay, Spot
from coach.pictures.letters import Box, Placer, text_box, text_width
from coach.pictures.seen import Seen, lamps_told
from coach.pictures.svg import Point, Text
from coach.wording import quantity

NOSE_PX = 30.0
NEAR_FT = 0.5
"""Closer than this, circles and hull are said to touch: nobody on deck sees the difference."""


@dataclass(frozen=True, slots=True)
class Scene:
    """A set with its scale [px/ft] and the heights [px] of hull edge, far side and the water's end."""

    seen: Seen
    lay: Lay
    metric: bool
    scale: float
    hull_y: float
    middle_x: float
    deck_y: float
    lower: float

    def of(self, spot: Spot) -> Point:
        """A lamp's place in px."""
        return self.middle_x + spot.x_ft * self.scale, self.hull_y - spot.y_ft * self.scale

    def feet(self, feet: float) -> str:
        """A length in the person's units."""
        return quantity(feet, "ft", metric=self.metric)

    @property
    def ends(self) -> tuple[float, float]:
        """The hull's two ends in px."""
        half = self.lay.length_ft / 2 * self.scale
        return self.middle_x - half, self.middle_x + half

    @property
    def net_known(self) -> bool:
        """Whether it is known where the net hangs."""
        return self.seen.net == "centre_cleat" or (self.seen.net == "pole" and self.seen.bow is not None)

    @property
    def net_x(self) -> float:
        """Where the net is drawn in px: at the stern for the pole, otherwise amidships."""
        if self.seen.net != "pole" or self.seen.bow is None:
            return self.middle_x
        left, right = self.ends
        return right - 24 if self.seen.bow == "left" else left + 24

    @property
    def deep_lamp(self) -> Point:
        """Where the deep lamp is drawn, dashed: in the middle, for nobody said where it is."""
        (x1, y1), (x2, y2) = (self.of(spot) for spot in self.lay.spots)
        return (x1 + x2) / 2, (y1 + y2) / 2 - min(44.0, self.lay.radius_ft * self.scale * 0.7)

    @property
    def flow_words(self) -> str:
        """What is said of the flow."""
        if self.seen.wind_driven:
            return "wind-driven: no one direction"
        if self.seen.flow == "none":
            return "no flow"
        if self.seen.across is False:
            return "not across the flow ?"
        return "flow" if self.seen.across else "flow ?"

    def centre_words(self) -> str:
        """Overlap or dark strip between the circles."""
        gap = self.seen.centre_gap_ft
        if gap is None:
            said = {"overlap": "overlap ?", "touch": "just touch", "gap": "dark strip ?"}
            return said.get(self.seen.centre or "", "middle ?")
        if abs(gap) < NEAR_FT:
            return "just touch"
        return f"dark {self.feet(gap)}" if gap > 0 else f"overlap {self.feet(-gap)}"

    def hull_words(self, spot: Spot) -> str:
        """How a circle ends at the hull."""
        gap = self.seen.gap_ft(spot.lamp)
        if gap is None:
            said = {"touch": "touches", "gap": "gap ?", "over": "under her ?", "under": "at the rail"}
            return said.get(self.seen.hull or "", "gap ?")
        if abs(gap) < NEAR_FT:
            return "touches"
        return f"gap {self.feet(gap)}" if gap > 0 else f"{self.feet(-gap)} under"

    def label(self, x: float, y: float, text: str, anchor: str = "middle") -> Text:
        """A label on the water, with a rim of the colour that most of it stands on."""
        box = text_box(Text((x, y), text, anchor=anchor))
        across = (box.left, (box.left + box.right) / 2, box.right)
        lit = sum(self._is_lit(at, y - 5) for at in across)
        return Text((x, y), text, anchor=anchor, halo="lit" if lit >= 2 else "water")

    def _is_lit(self, x: float, y: float) -> bool:
        radius = self.lay.radius_ft * self.scale
        places = (self.of(spot) for spot in self.lay.spots)
        return any((x - at[0]) ** 2 + (y - at[1]) ** 2 < radius**2 for at in places)


def put_labels(scene: Scene, placer: Placer) -> None:
    """Place them all; what finds no room is left over as a sentence."""
    left, right = scene.ends
    for spot in scene.lay.spots:
        x, y = scene.of(spot)
        placer.keep_clear(Box(x - 8, y - 8, x + 8, y + 8))
    for side, end in ((-1, left), (1, right)):  # where anchors are drawn
        middle = (scene.hull_y + scene.deck_y) / 2
        edge = end + side * 26
        placer.keep_clear(Box(min(end + side * 8, edge), middle - 14, max(end + side * 8, edge), middle + 14))
    if scene.seen.net is not None:
        x = scene.net_x
        placer.keep_clear(Box(x - 22, scene.deck_y, x + 22, scene.deck_y + 46))
    _hull(scene, placer)
    _centre(scene, placer)
    for spot in scene.lay.spots:
        _reach(scene, placer, spot)
        _lamp(scene, placer, spot)
    _net_and_deep_lamp(scene, placer)
    placer.left_over += list(_notes(scene))


def _hull(scene: Scene, placer: Placer) -> None:
    """Under each lamp how its circle ends at the hull; then her ends and her length."""
    left, right = scene.ends
    for spot in scene.lay.spots:
        words = scene.hull_words(spot)
        said = f"{spot.lamp.name.capitalize()} circle at the hull: {words}."
        placer.put(_hull_label(scene, scene.of(spot)[0], words), spelled=said)
    y = scene.deck_y - 9
    ends = {"left": ("bow", "stern"), "right": ("stern", "bow")}.get(scene.seen.bow or "", ("bow ?", "bow ?"))
    for x, side, word in ((left, 1, ends[0]), (right, -1, ends[1])):
        inset = NOSE_PX if word == "bow" else 6
        at = (x + side * inset, y)
        placer.put([Text(at, word, anchor="start" if side > 0 else "end")], spelled=f"Her {word}.")
    length = scene.seen.length_ft
    words = "length ?" if length is None else f"{scene.feet(length)} long"
    placer.put([Text((scene.middle_x, y), words, anchor="middle")], spelled=f"The boat: {words}.")


def _hull_label(scene: Scene, x: float, words: str) -> Iterator[Text]:
    """Where the words about a circle at the hull may stand: within her; above, for a lamp past her ends."""
    left, right = scene.ends
    if not left <= x <= right:
        for up in (7, 25):
            yield scene.label(x + 7, scene.hull_y - up, words, "start")
            yield scene.label(x - 7, scene.hull_y - up, words, "end")
    middle = _beside_the_ends(scene, x, text_width(words) / 2)
    for y in (scene.hull_y + 18, scene.hull_y + 34):
        for aside in (0, 14, -14, 30, -30):
            yield Text((middle + aside, y), words, anchor="middle")


def _beside_the_ends(scene: Scene, x: float, half: float) -> float:
    """A label's middle moved along so that it does not lie across an end of the hull."""
    left, right = scene.ends
    inset = {"left": (NOSE_PX, 4.0), "right": (4.0, NOSE_PX)}.get(scene.seen.bow or "", (4.0, 4.0))
    low, high = left + inset[0] + half, right - inset[1] - half
    return min(max(x, low), high) if left <= x <= right and low <= high else x


def _centre(scene: Scene, placer: Placer) -> None:
    """How far the lamps are apart, and overlap or dark strip between their circles."""
    (x1, y1), (x2, y2) = (scene.of(spot) for spot in scene.lay.spots)
    x, y = (x1 + x2) / 2, (y1 + y2) / 2
    apart = "apart ?" if scene.seen.apart_ft is None else f"{scene.feet(scene.seen.apart_ft)} apart"
    above = [scene.label(x, y - up, apart) for up in (7, 25, 43, 61, 79)]
    placer.put(above, spelled=f"The lamps: {apart}.")
    words = scene.centre_words()
    below = [scene.label(x, y + down, words) for down in (18, 36, 54, 72)]
    placer.put(below, spelled=f"In the middle: {words}.")


def _lamp(scene: Scene, placer: Placer, spot: Spot) -> None:
    x, y = scene.of(spot)
    radius = scene.lay.radius_ft * scene.scale
    outward = -1 if spot.x_ft < 0 else 1
    ups = [y - radius + 26, y - radius + 20, y - 34, y - 16]
    aside = [0.0, outward * 20.0, outward * 40.0]
    circle = scene.seen.circle_ft
    width = "circle ?" if circle is None else f"{scene.feet(circle)} circle"
    name = f"{spot.lamp.name} lamp"
    at = [(x + off, up) for up in ups for off in aside]
    placer.put([scene.label(*place, name) for place in at], spelled=f"On the {spot.lamp.name}: {name}.")
    below = [scene.label(px, py + 18, width) for px, py in at]
    placer.put(below, spelled=f"Each lit {width}.")


def _reach(scene: Scene, placer: Placer, spot: Spot) -> None:
    x, y = scene.of(spot)
    out = "out ?" if spot.lamp.out_ft is None else f"{scene.feet(spot.lamp.out_ft)} out"
    outward = -1 if spot.x_ft < 0 else 1
    middle = (y + scene.hull_y) / 2 + 5
    places = [
        scene.label(x + side * off, middle + down, out, "start" if side > 0 else "end")
        for down in (0, -10, 10)
        for side, off in ((outward, 6), (-outward, 6), (outward, 14))
    ]
    placer.put(places, spelled=f"{spot.lamp.name.capitalize()} lamp: {out}.")


def _net_and_deep_lamp(scene: Scene, placer: Placer) -> None:
    seen = scene.seen
    if seen.deep_lamp:
        x, y = scene.deep_lamp
        places = [scene.label(x, y - up, "deep lamp ?") for up in (10, 28, -22)]
        placer.put(places, spelled="A deep lamp is down (dashed square); where is not known.")
    if seen.net is not None:
        words = {"centre_cleat": "net", "pole": "net on the pole"}.get(seen.net, "net")
        words += "" if scene.net_known else ", where ?"
        x, y = scene.net_x, scene.deck_y + 30
        sides = [scene.label(x + 28, y, words, "start"), scene.label(x - 28, y, words, "end")]
        placer.put(sides, spelled=f"The frame net: {words}.")


def _notes(scene: Scene) -> Iterable[str]:
    """What the drawing cannot show, as lines below it."""
    anchors, told = scene.seen.anchors, scene.seen.lamps_told
    if scene.lay.contradiction:
        yield "These distances cannot all be right: the lamps differ more in reach than they are apart."
    if told is not None and told != 2:
        yield f"{lamps_told(told)} told; only left and right are drawn."
    if anchors is None:
        yield "How many anchors: not known."
    else:
        word = {0: "No anchor", 1: "1 anchor"}.get(int(anchors), f"{anchors:g} anchors")
        yield f"{word} down."
