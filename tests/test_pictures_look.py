"""Pictures can be read: contrast, size of type, nothing over anything, nothing by colour alone, safe text.

Contrast is WCAG 2.1's (MEMORY); simulated colour blindness uses the matrices of Machado, Oliveira &
Fernandes 2009 for full severity (MEMORY). Widths of letters come from fontTools reading the bundled font;
what lies behind letters from the pixels that resvg renders.
"""

from __future__ import annotations

import io
import itertools
import sys
from datetime import timedelta
from functools import cache
from typing import Any
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from picture_scenes import BOAT, CIRCLES, LOOKS, NOW, SCENES, SVG, TIDE, draw, texts
from PIL import Image

from coach import rulebook
from coach.pictures import KINDS, Mark, picture_for
from coach.pictures import png as drawn
from coach.pictures.letters import spread, text_width, wrapped
from coach.pictures.parts import MissingPartError
from coach.pictures.png import FONT_FILES, png
from coach.pictures.svg import Drawing, Text
from coach.pictures.themes import DIM, LIGHT, THEMES, contrast, luminance
from coach.trips.looks import Look

BOOK = rulebook.load()
LEAST_CONTRAST, LEAST_TEXT_PX, WIDTH_PX, LARGEST_BYTES = 4.5, 14, 360, 40_000

Box = tuple[float, float, float, float]


# --- any facts whatever ------------------------------------------------------------------------------


def _values(name: str) -> st.SearchStrategy[Any]:
    fact = BOOK.facts[name]
    if fact.type == "bool":
        return st.booleans()
    if fact.type == "choice":
        return st.sampled_from([option.id for option in fact.options])
    low, high = fact.range or (0, 100)
    return st.floats(low, high).map(lambda value: round(value, 1))


DRAWN = [
    *BOAT, *CIRCLES, "water.kind", "lamps.centre", "lamps.hull", "net.in_water", "net.where",
    "deep_lamp.in_water", "lamps.count", "lamps.hung_from", "water.depth_ft", "water.depth_left_ft",
    "water.depth_right_ft", "lamps.clip_left_ft", "lamps.clip_right_ft", "tide.fall_since_set_ft",
]  # fmt: skip
any_facts = st.fixed_dictionaries({}, optional={name: _values(name) for name in DRAWN})
any_clips = st.fixed_dictionaries(
    {},
    optional={f"clip_{lamp}_ft": st.floats(1, 11.5).map(lambda v: round(v, 1)) for lamp in ("left", "right")},
)
kinds = st.sampled_from(["plan", "side"])


@cache
def font(bold: bool) -> tuple[dict[int, str], Any, int]:
    face = TTFont(FONT_FILES[bold])
    return face.getBestCmap(), face["hmtx"], face["head"].unitsPerEm


def true_width(text: str, size: float, *, bold: bool) -> float:
    names, advances, units = font(bold)
    return float(sum(advances[names[ord(sign)]][0] for sign in text) * size / units)


def box(text: ElementTree.Element) -> Box:
    """The room of a text: its true width, from the height of capitals down to descenders."""
    size, x, y = (float(text.get(name, "nan")) for name in ("font-size", "x", "y"))
    width = true_width(text.text or "", size, bold=text.get("font-weight") == "bold")
    left = x - {"start": 0.0, "middle": width / 2, "end": width}[text.get("text-anchor", "start")]
    return left, y - 0.73 * size, left + width, y + 0.2 * size


def overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def check_letters(svg: str) -> None:
    """Large enough, within the picture, and none over another."""
    height = float(ElementTree.fromstring(svg).get("viewBox", "").split()[3])
    found = [(text.text, float(text.get("font-size", "0")), box(text)) for text in texts(svg)]
    for words, size, (left, top, right, bottom) in found:
        assert size >= LEAST_TEXT_PX, words
        assert left >= 0, words
        assert top >= 0, words
        assert right <= WIDTH_PX, words
        assert bottom <= height, words
    for (one, _, one_box), (other, _, other_box) in itertools.combinations(found, 2):
        assert not overlap(one_box, other_box), (one, other)


@given(facts=any_facts, numbers=any_clips, kind=kinds, metric=st.booleans())
@settings(max_examples=250, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_is_known_all_text_is_large_within_the_picture_and_over_no_other(
    facts: dict[str, Any], numbers: dict[str, float], kind: str, metric: bool
) -> None:
    check_letters(picture_for(facts, numbers, book=BOOK, now=NOW, kind=kind, metric=metric).svg)


@pytest.mark.parametrize("name", SCENES)
def test_the_scenes_too(name: str) -> None:
    check_letters(draw(BOOK, name).svg)


@given(
    steps=st.lists(st.integers(0, 370), max_size=9, unique=True),
    hours=st.floats(1.5, 25),
    now_at=st.integers(0, 370),
)
@settings(max_examples=60)
def test_tides_of_any_length_with_any_steps_too(steps: list[int], hours: float, now_at: int) -> None:
    facts = {
        **TIDE,
        "tide.high_at": NOW.isoformat(),
        "tide.low_at": (NOW + timedelta(hours=hours)).isoformat(),
        "tide.high_ft": 12.4,
        "tide.low_ft": -1.2,
    }
    reclip = [
        {
            "at": (NOW + timedelta(minutes=at)).isoformat(timespec="seconds"),
            "clip_left_ft": 11.5,
            "clip_right_ft": 10.5,
        }
        for at in sorted(steps)
    ]
    now = NOW + timedelta(minutes=now_at)
    check_letters(picture_for(facts, {"reclip": reclip}, book=BOOK, now=now, kind="tide").svg)


@given(
    counts=st.lists(
        st.tuples(st.integers(0, 2000), st.integers(0, 2000), st.one_of(st.none(), st.floats(1, 170))),
        min_size=1,
        max_size=20,
    ),
    marks=st.lists(st.integers(0, 600), max_size=12),
)
@settings(max_examples=80)
def test_any_counts_with_any_marks_too(counts: list[tuple[int, int, float | None]], marks: list[int]) -> None:
    looks, at = [], NOW
    for bow, stern, minutes in counts:
        at += timedelta(minutes=minutes or 20)
        looks.append(Look(at, minutes, float(bow), float(stern)))
    told = [Mark(NOW + timedelta(minutes=minute), "helped: " + "clip them lower, " * 5) for minute in marks]
    check_letters(picture_for({}, book=BOOK, now=NOW, kind="counts", looks=looks, marks=told).svg)


# --- colours -------------------------------------------------------------------------------------------


def test_contrast_of_black_and_white_is_21_and_of_a_middle_grey_as_published() -> None:
    # WCAG 2.1: white on black is 21:1; #767676 on white is 4.54, just enough (MEMORY)
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert luminance("#ffffff") == pytest.approx(1)


@pytest.mark.parametrize("theme", ["dim", "light"])
@pytest.mark.parametrize("name", SCENES)
def test_every_letter_stands_out_from_what_is_behind_it(name: str, theme: str) -> None:
    svg = draw(BOOK, name, theme).svg
    behind = fills(svg)
    for text in texts(svg):
        ink = text.get("fill", "")
        if (halo := text.get("stroke")) is not None:
            assert contrast(ink, halo) >= LEAST_CONTRAST, text.text
        for colour in beneath(behind, box(text)):
            assert contrast(ink, colour) >= LEAST_CONTRAST, (text.text, colour)


def fills(svg: str) -> Image.Image:
    """The picture's surfaces alone: no lines, no letters."""
    tree = ElementTree.fromstring(svg)
    for shape in list(tree):
        if shape.tag == f"{SVG}text" or shape.get("fill") == "none":
            tree.remove(shape)
        shape.attrib.pop("stroke", None)
    ElementTree.register_namespace("", SVG.strip("{}"))
    made = png(ElementTree.tostring(tree, encoding="unicode"), pixels=WIDTH_PX)
    return Image.open(io.BytesIO(made)).convert("RGB")


def beneath(picture: Image.Image, room: Box) -> set[str]:
    """The colours behind a text that are more than a rim between two surfaces."""
    area = picture.crop((int(room[0]), int(room[1]), int(room[2]) + 1, int(room[3]) + 1))
    counted = area.getcolors(area.width * area.height) or []
    return {
        "#{:02x}{:02x}{:02x}".format(*rgb)
        for count, rgb in counted
        if count > 0.02 * area.width * area.height
    }


MACHADO = {
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


def as_seen_with(kind: str, colour: str) -> str:
    linear = [luminance(f"#{part * 3}") for part in (colour[1:3], colour[3:5], colour[5:7])]
    mixed = [sum(a * b for a, b in zip(row, linear, strict=True)) for row in MACHADO[kind]]
    bent = [
        12.92 * v if v <= 0.0031308 else 1.055 * v ** (1 / 2.4) - 0.055
        for v in (min(1, max(0, m)) for m in mixed)
    ]
    return "#" + "".join(f"{round(255 * v):02x}" for v in bent)


@pytest.mark.parametrize("kind", MACHADO)
@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_the_colour_blind_can_read_every_text_and_tell_lit_from_dark(kind: str, theme: Any) -> None:
    for ink in ("ink", "soft", "strong"):
        for ground in ("paper", "water", "lit", "hull"):
            if (ink, ground) in (("soft", "lit"), ("soft", "hull"), ("strong", "hull")):
                continue  # no text of this ink stands there
            seen = contrast(as_seen_with(kind, theme[ink]), as_seen_with(kind, theme[ground]))
            assert seen >= LEAST_CONTRAST, (ink, ground, seen)
    lit, water = (as_seen_with(kind, theme[role]) for role in ("lit", "water"))
    assert contrast(lit, water) > 1.2  # and dots and an outline besides


def test_the_dim_look_gives_little_light_and_hardly_any_blue() -> None:
    # blue and green light cost night vision most (common practice: red or amber on deck)
    assert luminance(DIM["paper"]) < 0.01
    for role, colour in DIM.colours.items():
        red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
        assert blue <= 0.45 * red, role
        assert green <= 0.72 * red, role
    assert max(mean_light(draw(BOOK, name, "dim").svg) for name in SCENES) < 0.08


def mean_light(svg: str) -> float:
    """Mean light of a picture, 0 to 1."""
    image = Image.open(io.BytesIO(png(svg, pixels=90))).convert("RGB")
    counted = image.getcolors(image.width * image.height) or []
    light = sum(count * luminance("#{:02x}{:02x}{:02x}".format(*rgb)) for count, rgb in counted)
    return light / sum(count for count, _ in counted)


def test_lit_dark_and_beneath_are_told_without_colour() -> None:
    for theme in (DIM, LIGHT):
        svg = draw(BOOK, "side-too-high", theme.name).svg
        marks = [each for each in ElementTree.fromstring(svg).iter() if each.get("stroke") == theme["mark"]]
        assert [each for each in marks if each.get("stroke-dasharray") == "2 8"]  # dotted: lit
        assert [each for each in marks if each.get("stroke-dasharray") is None]  # hatched: beneath


# --- safe and self-contained -----------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_needs_nothing_and_runs_nothing(kind: str) -> None:
    svg = picture_for({**BOAT, **CIRCLES, **TIDE}, book=BOOK, now=NOW, kind=kind, looks=LOOKS).svg
    tags = {each.tag.removeprefix(SVG) for each in ElementTree.fromstring(svg).iter()}
    assert tags <= {"svg", "title", "desc", "circle", "polyline", "polygon", "text"}
    names = {name for each in ElementTree.fromstring(svg).iter() for name in each.attrib}
    assert not {name for name in names if name in ("style", "id", "class", "href") or name.startswith("on")}
    assert "url(" not in svg
    assert len(svg.encode()) <= LARGEST_BYTES


@given(text=st.text(max_size=60))
def test_any_text_in_a_picture_stays_text(text: str) -> None:
    svg = Drawing(40, (Text((5, 20), text, part=text),), text, (text,)).svg(DIM)
    tree = ElementTree.fromstring(svg)  # broken markup would not parse
    (label,) = tree.iter(f"{SVG}text")
    assert {each.tag.removeprefix(SVG) for each in tree.iter()} == {"svg", "title", "desc", "polygon", "text"}
    shown = [sign for sign in (label.text or "") if sign not in "\r\n�"]
    assert [sign for sign in text if sign not in "\r\n�" and sign in shown] == shown


def test_markup_in_a_text_is_shown_as_typed() -> None:
    hostile = "<script>alert('x')</script>&\"><svg onload=1>"
    svg = Drawing(40, (Text((5, 20), hostile),), hostile).svg(LIGHT)
    assert "<script" not in svg
    assert texts(svg)[0].text == hostile


# --- as PNG --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SCENES)
def test_a_png_is_small_and_the_same_each_time(name: str) -> None:
    svg = draw(BOOK, name).svg
    made = png(svg)
    assert made == png(svg)
    assert len(made) <= LARGEST_BYTES
    assert Image.open(io.BytesIO(made)).width >= 540


def test_letters_are_really_there() -> None:
    svg = draw(BOOK, "plan-right").svg
    tree = ElementTree.fromstring(svg)
    for text in list(tree.iter(f"{SVG}text")):
        tree.remove(text)
    with_text, without = (
        Image.open(io.BytesIO(png(each, pixels=WIDTH_PX))).convert("L")
        for each in (svg, ElementTree.tostring(tree, encoding="unicode"))
    )
    differ = sum(a != b for a, b in zip(with_text.tobytes(), without.tobytes(), strict=True))
    assert differ > 2_000


def test_a_missing_font_is_said_and_never_drawn_without(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Any
) -> None:
    monkeypatch.setattr(drawn, "FONT_FILES", (tmp_path / "gone.ttf",))
    with pytest.raises(FileNotFoundError, match=r"gone\.ttf is missing"):
        png(draw(BOOK, "plan-right").svg)


def test_a_library_that_is_not_installed_is_named_with_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    with pytest.raises(MissingPartError, match=r"resvg_py.*pip install -e '.\[pictures\]'"):
        png(draw(BOOK, "plan-right").svg)


# --- letters ---------------------------------------------------------------------------------------------


@given(text=st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=40), bold=st.booleans())
def test_the_width_of_a_text_is_the_fonts(text: str, bold: bool) -> None:
    assert text_width(text, 14, bold=bold) == pytest.approx(true_width(text, 14, bold=bold), abs=0.3)


@given(
    wanted=st.lists(st.floats(0, 300), max_size=8),
    low=st.floats(0, 50),
    room=st.floats(0, 300),
)
def test_spread_labels_keep_their_distance_and_their_order(
    wanted: list[float], low: float, room: float
) -> None:
    got = spread(wanted, gap=18, low=low, high=low + room)
    ordered = [got[i] for i in sorted(range(len(wanted)), key=lambda i: (wanted[i], i))]
    assert all(b - a >= 18 - 1e-6 for a, b in itertools.pairwise(ordered))
    assert not ordered or ordered[0] >= low - 1e-6
    if len(wanted) * 18 <= room:
        assert not ordered or ordered[-1] <= low + room + 1e-6


@given(text=st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=120))
def test_wrapped_lines_are_never_too_wide_and_lose_no_letter(text: str) -> None:
    lines = wrapped(text, 200)
    assert all(text_width(line) <= 200 for line in lines)
    joined = "".join(lines).replace("-", "").replace(" ", "")
    assert joined == "".join(text.split()).replace("-", "")
