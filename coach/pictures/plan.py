"""The set from above, as the dippers see it: facing the lamps, up-current at the top.

        | flow |
        v      v
    (  left  )(  right  )     lit circles to scale
 ___(___o____)(____o____)___
<bow_________________stern_|   the dipping side is her upper edge
"""

from __future__ import annotations

from collections.abc import Iterator

from coach.pictures.lay import Lay, Spot, lay_out
from coach.pictures.letters import Box, Placer, text_box, wrapped
from coach.pictures.plan_labels import NOSE_PX, Scene, put_labels
from coach.pictures.seen import Seen
from coach.pictures.svg import HEAD, WIDTH, Circle, Drawing, Line, Shape, Text, box

_MOST_PX_A_FT = 16.0
_SIDE = 10.0
_ANCHOR_ROOM = 30.0
_TOP = 28.0
_FLOW_TOP, _FLOW_BOTTOM = 34.0, 74.0
_HULL_PX = 54.0
_NET_PX = 58.0
_ROW = 18.0
_DASH = "6 5"
_BAR_FT, _BAR_M = (5.0, 10.0, 20.0), (1.0, 2.0, 5.0)
_M_PER_FT = 0.3048


def plan(seen: Seen, *, metric: bool) -> Drawing:
    """Draw hull, lamps, lit circles, gaps, flow, net and anchors to one scale."""
    scene = _scene(seen, lay_out(seen), metric)
    placer = Placer(Box(4, _TOP, WIDTH - 4, scene.lower))
    fixed = [*_ground(scene), *_circles(scene), *_hull(scene), *_net(scene), *_lamps(scene)]
    fixed += [*_dimensions(scene), *_anchors(scene), *_flow(scene, placer)]
    put_labels(scene, placer)
    notes = [line for said in dict.fromkeys(placer.left_over) for line in wrapped(said)]
    below = [Text((8, scene.lower + _ROW * (i + 1)), line) for i, line in enumerate(notes)]
    facts = (
        ("kind", "plan"),
        ("px-per-ft", f"{scene.scale:.6f}"),
        ("hull-y", f"{scene.hull_y:.4f}"),
        ("middle-x", f"{scene.middle_x:.4f}"),
    )
    height = scene.lower + _ROW * len(notes) + 10
    return Drawing(height, (*fixed, *placer.placed, *below), "The set from above", facts=facts)


def _scene(seen: Seen, lay: Lay, metric: bool) -> Scene:
    """The scale at which all of it fits in the width, and where things then lie."""
    room = WIDTH - 2 * (_SIDE + (_ANCHOR_ROOM if seen.anchors != 0 else 0))
    scale = min(_MOST_PX_A_FT, room / (lay.right_ft - lay.left_ft), 330 / (lay.top_ft + 1))
    hull_y = _FLOW_BOTTOM + 6 + lay.top_ft * scale
    return Scene(
        seen=seen,
        lay=lay,
        metric=metric,
        scale=scale,
        hull_y=hull_y,
        middle_x=WIDTH / 2 - (lay.left_ft + lay.right_ft) / 2 * scale,
        deck_y=hull_y + _HULL_PX,
        lower=hull_y + _HULL_PX + (_NET_PX if seen.net else 10),
    )


def _ground(scene: Scene) -> Iterator[Shape]:
    """Title, a bar that tells the scale, and the dark water."""
    yield Text((8, 21), "From above", HEAD, bold=True)
    bars = [length / _M_PER_FT for length in _BAR_M] if scene.metric else list(_BAR_FT)
    bar = next((length for length in bars if length * scene.scale >= 40), bars[-1])
    right, left = WIDTH - 10, WIDTH - 10 - bar * scene.scale
    yield Line(((left, 10), (left, 16), (right, 16), (right, 10)), part="scale-bar")
    yield Text((left - 6, 20), scene.feet(bar), anchor="end", part="scale-text")
    yield Line(box(0, _TOP, WIDTH, scene.lower - _TOP), stroke=None, fill="water", part="water")


def _circles(scene: Scene) -> Iterator[Shape]:
    """Both lit circles, then both outlines, so that where they overlap both are seen."""
    radius = scene.lay.radius_ft * scene.scale
    for spot in scene.lay.spots:
        yield Circle(scene.of(spot), radius, stroke=None, fill="lit")
    for spot in scene.lay.spots:
        yield from _dots(scene, spot, radius)
    for spot in scene.lay.spots:
        sure = scene.lay.radius_known and spot.out_known and spot.apart_known
        name = f"circle-{spot.lamp.name}"
        yield Circle(scene.of(spot), radius, width=2, dash="" if sure else _DASH, part=name)


def _dots(scene: Scene, spot: Spot, radius: float) -> Iterator[Shape]:
    """Dotted lines across a lit circle: lit, told without colour."""
    x, y = scene.of(spot)
    step = 12.0
    rows = int(radius / step)
    for i in range(-rows, rows + 1):
        half = (radius**2 - (i * step) ** 2) ** 0.5 - 4
        if half > 4:
            # dots fall on one grid, so that those of two circles lie on each other
            start = x - half + (scene.middle_x - x + half) % step
            yield Line(((start, y + i * step), (x + half, y + i * step)), stroke="mark", width=2, dash="2 10")


def _hull(scene: Scene) -> Iterator[Shape]:
    """Her dipping edge to scale; her far side dashed, for nobody asks how wide she is."""
    points = _outline(scene)
    known = scene.seen.length_ft is not None and scene.seen.bow
    near = tuple(point for point in points if point[1] == scene.hull_y)
    yield Line(points, stroke=None, fill="hull", part="hull")
    yield Line((*points[1:], points[0]), stroke="soft", width=1.5, dash=_DASH, part="hull-far-side")
    yield Line(near, width=3, dash="" if known else _DASH, part="hull-edge")


def _outline(scene: Scene) -> tuple[tuple[float, float], ...]:
    """From the dipping edge's left end round."""
    left, right = scene.ends
    y, low, middle = scene.hull_y, scene.deck_y, (scene.hull_y + scene.deck_y) / 2
    nose = min(NOSE_PX, (right - left) / 4)
    if scene.seen.bow == "left":
        return ((left + nose, y), (right, y), (right, low), (left + nose, low), (left, middle))
    if scene.seen.bow == "right":
        return ((left, y), (right - nose, y), (right, middle), (right - nose, low), (left, low))
    return ((left, y), (right, y), (right, low), (left, low))


def _net(scene: Scene) -> Iterator[Shape]:
    """The frame net down-current; dashed where it is not known where it hangs."""
    if scene.seen.net is None:
        return
    y, dash = scene.deck_y, "" if scene.net_known else _DASH
    x = scene.net_x
    yield Line(((x, y), (x, y + 12)), width=2, dash=dash)
    bag = ((x - 20, y + 12), (x + 20, y + 12), (x + 8, y + 42), (x - 8, y + 42))
    yield Line((*bag, bag[0]), width=2, dash=dash, part="net")
    for step in (-10, 0, 10):
        yield Line(((x + step, y + 12), (x + step / 2.5, y + 42)), stroke="mark", width=1)


def _lamps(scene: Scene) -> Iterator[Shape]:
    for spot in scene.lay.spots:
        yield Circle(scene.of(spot), 6, width=2, fill="lit", part=f"lamp-{spot.lamp.name}")
        yield Circle(scene.of(spot), 2, stroke=None, fill="ink")
    if scene.seen.deep_lamp:
        x, y = scene.deep_lamp
        corners = box(x - 6, y - 6, 12, 12)
        yield Line((*corners, corners[0]), width=2, dash="3 2", fill="water", part="deep-lamp")


def _dimensions(scene: Scene) -> Iterator[Shape]:
    """Thin lines from lamp to lamp and from lamp to hull; dashed where nobody gave the figure."""
    one, other = (scene.of(spot) for spot in scene.lay.spots)
    dash = "" if scene.lay.spots[0].apart_known else _DASH
    if other[0] - one[0] > 16:
        yield Line(((one[0] + 8, one[1]), (other[0] - 8, other[1])), stroke="soft", width=1, dash=dash)
    for spot in scene.lay.spots:
        x, y = scene.of(spot)
        if scene.hull_y - y > 10:
            dash = "" if spot.out_known else _DASH
            yield Line(((x, y + 8), (x, scene.hull_y - 2)), stroke="soft", width=1, dash=dash)


def _anchors(scene: Scene) -> Iterator[Shape]:
    """From bow and stern for two anchors, from one end and dashed for fewer or for not known.

    Where they lie is not known, so the lines are short and end in a mark, not in a place.
    """
    anchors = scene.seen.anchors
    if anchors == 0:
        return
    many = anchors is not None and anchors >= 2
    one_end = 1 if scene.seen.bow == "right" else -1
    for side in (-1, 1) if many else (one_end,):
        x, y = scene.ends[0 if side < 0 else 1], (scene.hull_y + scene.deck_y) / 2
        top = (x + side * 17, y - 6)
        yield Line(((x, y), top), width=1.5, dash="" if many else "4 3", part="anchor")
        yield Circle((top[0], top[1] - 3), 3, width=1.5)
        yield Line((top, (top[0], y + 12)), width=2)
        yield Line(((top[0] - 7, y + 5), (top[0], y + 12), (top[0] + 7, y + 5)), width=2)


def _flow(scene: Scene, placer: Placer) -> Iterator[Shape]:
    """Arrows from up-current, at the top; dashed where it is not known how she lies."""
    seen = scene.seen
    text = Text((WIDTH / 2, _FLOW_TOP + 26), scene.flow_words, anchor="middle", halo="water")
    placer.put([text])
    placer.keep_clear(Box(0, _TOP, WIDTH, _FLOW_BOTTOM + 2))
    if seen.wind_driven or seen.flow == "none":
        return
    dash = "" if seen.across else "5 4"
    slant = 12.0 if seen.across is False else 0.0
    reach = text_box(text)
    for x in (reach.left - 24, reach.right + 24):
        low = (x - slant, _FLOW_BOTTOM)
        yield Line(((x + slant, _FLOW_TOP), low), width=2.5, dash=dash, part="flow")
        lean = slant / 3
        head = ((low[0] - 6 + lean, low[1] - 9), low, (low[0] + 6 + lean, low[1] - 7))
        yield Line(head, width=2.5, part="flow-head")
