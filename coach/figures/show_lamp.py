"""`coach figure clip | circle | gap`: the lamps and their light."""

from __future__ import annotations

from typing import Any

from coach.figures.about import clip_about, clip_doubt_words, gap_about
from coach.figures.lamp import clip_height_ft, hang, why_no_clip
from coach.figures.light import (
    CLARITIES,
    Range,
    centre_gap_ft,
    circle_of_secchi,
    circle_of_word,
    hull_gap_ft,
    overlap_ft2,
)
from coach.figures.options import Answer, Figure, Given, Option, amount, word
from coach.figures.rig import Rig

_DEPTH = Option("--depth-ft", amount("water_depth_ft"), "water depth under this lamp now", needed=True)


def _doubt(given: Given, rig: Rig) -> tuple[dict[str, object], tuple[str, ...]]:
    """What a depth that may be off by some feet changes, as values and as lines."""
    off, depth = given["off_by_ft"], given["depth_ft"]
    if off is None:
        return {}, ()
    span = Range(depth, depth - off, depth + off)
    found = clip_about(span, rig)
    words = clip_doubt_words(span, found, rig) or "The doubt about the depth changes nothing that matters."
    values = {"clip_low_ft": found.low, "clip_high_ft": found.high, "matters": found.matters}
    return {**values, "settle": found.settle}, (words, *([found.settle] if found.settle else []))


def _clip(given: Given, rig: Rig) -> Answer:
    depth = given["depth_ft"]
    clip = clip_height_ft(depth, rig) if given["clip_ft"] is None else given["clip_ft"]
    more, doubt = _doubt(given, rig)
    if clip is None:
        why = why_no_clip(depth, rig)
        nothing = dict.fromkeys(("clip_ft", "lamp_depth_ft", "dark_band_ft", "under_path_ft"))
        return Answer({**nothing, "reason": why, **more}, (why, *doubt))
    found = hang(depth, clip, rig, lean_deg=given["lean_deg"])
    half = rig.lit_band_ft / 2
    lines = (
        f"Clip height {clip:.1f} ft in {depth:g} ft of water"
        f" (depth − {rig.lamp_depth_rule_ft:g}, at least {rig.clip_min_ft:g},"
        f" at most {rig.clip_max_share:g} of the depth).",
        f"Lamp depth {found.lamp_depth_ft:.1f} ft: {depth:g} less the clip height.",
        f"Dark band {found.dark_band_ft:.1f} ft above the light: lamp depth − {half:g}.",
        f"Under-path {found.under_path_ft:.1f} ft beneath it: lamp height − {half:g}.",
    )
    return Answer({"clip_ft": clip, **found._asdict(), **more}, lines + doubt)


def _water(given: Given, rig: Rig) -> Range:
    """The lit circle in the water that was described, by a disc or by a word."""
    secchi, clarity = given["secchi_ft"], given["clarity"]
    if (secchi is None) == (clarity is None):
        got = "neither" if secchi is None else "both"
        raise ValueError(f"--secchi-ft, --clarity: got {got}; allowed one of them")
    return circle_of_secchi(secchi, rig) if clarity is None else circle_of_word(clarity, rig)


def _circle(given: Given, rig: Rig) -> Answer:
    found, secchi, clarity = _water(given, rig), given["secchi_ft"], given["clarity"]
    water = f"{clarity} water" if clarity else f"water where a white disc is lost at {secchi:g} ft"
    lines = (
        f"Lit circle {found.value:.1f} ft across in {water}; it may be {found.low:.1f} to {found.high:.1f}.",
        f"Taken from {rig.circle_clear_ft:g} ft on a clear night, where the disc is lost"
        f" at about {rig.secchi_clear_ft:g} ft (assumed).",
    )
    settle = ("A white disc lowered until it is lost would settle it.",) if clarity else ()
    values = {"circle_ft": found.value, "circle_low_ft": found.low, "circle_high_ft": found.high}
    return Answer(values, lines + settle)


def _gap_words(gap_ft: float, dark: str, over: str) -> str:
    return f"{abs(gap_ft):.1f} ft {dark if gap_ft > 0 else over}"


def _gap(given: Given, rig: Rig) -> Answer:
    water = Range(*([given["circle_ft"]] * 3)) if given["circle_ft"] is not None else _water(given, rig)
    apart, left = given["apart_ft"], water.value
    right = left if given["circle_right_ft"] is None else given["circle_right_ft"]
    gap = centre_gap_ft(apart, left, circle_right_ft=right)
    area = overlap_ft2(apart, left, circle_right_ft=right)
    dark = _gap_words(gap, "of dark water between the circles", "of overlap")
    lines = [f"{apart:g} ft apart less radii of {left / 2:.1f} and {right / 2:.1f} ft: {dark}."]
    values: dict[str, Any] = {"gap_ft": gap, "overlap_ft2": area}
    if given["out_ft"] is not None:
        values["hull_gap_ft"] = hull = hull_gap_ft(given["out_ft"], left)
        side = _gap_words(hull, "of dark water at the hull", "of light under the boat")
        lines.append(f"{given['out_ft']:g} ft out less {left / 2:g} ft: {side}.")
    doubt = gap_about(apart, water)
    if doubt.matters:
        values |= {"gap_low_ft": doubt.low, "gap_high_ft": doubt.high, "settle": doubt.settle}
        lines += ["In this water it may be a gap or an overlap.", doubt.settle]
    return Answer(values, tuple(lines))


_WATER = (
    Option("--secchi-ft", amount("secchi_ft"), "depth at which a white disc is lost"),
    Option("--clarity", word(*CLARITIES), "or the water in a word: " + ", ".join(CLARITIES)),
)

FIGURES = {
    "clip": Figure(
        "clip height of a lamp, and the dark water above and below its light",
        (
            _DEPTH,
            Option("--clip-ft", amount("clip_ft"), "clip height as it hangs, instead of the one by the sum"),
            Option("--off-by-ft", amount("off_ft"), "how far the depth may be off, either way"),
            Option("--lean-deg", amount("lean_deg"), "lean of the lamp's line", default=0.0),
        ),
        _clip,
    ),
    "circle": Figure(
        "width of the lit circle in this water",
        _WATER,
        _circle,
    ),
    "gap": Figure(
        "dark water between two lit circles, and at the hull",
        (
            Option("--apart-ft", amount("apart_ft"), "distance between the lamps", needed=True),
            Option("--circle-ft", amount("circle_ft"), "width of the (left) lit circle"),
            *_WATER,
            Option("--circle-right-ft", amount("circle_ft"), "width of the right one, where it differs"),
            Option("--out-ft", amount("out_ft"), "reach out of the (left) lamp from the hull"),
        ),
        _gap,
    ),
}
