"""`coach figure clip | reclip | circle | gap`: the lamps and their light."""

from __future__ import annotations

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
from coach.figures.options import TZ, Answer, Figure, Given, Option, amount, moment, stamp, told_at, word
from coach.figures.reclip import Plan, clip_for_time_ft, reclip_plan, stay_on
from coach.figures.rig import Rig
from coach.figures.tide import leg_between

_DEPTH = Option("--depth-ft", amount("water_depth_ft"), "water depth under this lamp now", needed=True)
_HIGH_LOW = (
    Option("--high-at", moment, "time of the high water", needed=True),
    Option("--high-ft", amount("tide_ft"), "level of the high water", needed=True),
    Option("--low-at", moment, "time of the low water", needed=True),
    Option("--low-ft", amount("tide_ft"), "level of the low water", needed=True),
)


def _clip(given: Given, rig: Rig) -> Answer:
    depth = given["depth_ft"]
    clip = clip_height_ft(depth, rig) if given["clip_ft"] is None else given["clip_ft"]
    if clip is None:
        why = why_no_clip(depth, rig)
        nothing = dict.fromkeys(("clip_ft", "lamp_depth_ft", "dark_band_ft", "under_path_ft"))
        return Answer({**nothing, "reason": why}, (why,))
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
    return Answer({"clip_ft": clip, **found._asdict()}, lines)


def _plan(plan: Plan) -> Answer:
    steps = [{**step._asdict(), "at": stamp(step.at)} for step in plan.steps]
    lines = [
        f"{at:%H:%M}  clip at {clip:.1f} ft ({depth:.1f} ft of water)." for at, clip, depth in plan.steps
    ]
    note = (plan.note,) if plan.note else ()
    return Answer(
        {"steps": steps, **({"note": plan.note} if plan.note else {})},
        (*(lines or ["The lamp need not be clipped again during this stay."]), *note),
    )


def _reclip(given: Given, rig: Rig) -> Answer:
    high, low = told_at(given, "high_at"), told_at(given, "low_at")
    leg = leg_between(high, given["high_ft"], low_at=low, low_ft=given["low_ft"])
    until = told_at(given, "until")
    stay = stay_on(leg, given["depth_ft"], from_at=told_at(given, "from"), until_at=until)
    if given["once_for"] is None:
        slack = rig.reclip_slack_ft if given["slack_ft"] is None else given["slack_ft"]
        return _plan(reclip_plan(stay, given["clip_ft"], rig, slack_ft=slack, asked_until=until))
    at = told_at(given, "once_for")
    clip, depth = clip_for_time_ft(stay, at, rig), stay.depth_at(at)
    line = f"For {at:%H:%M}, in {depth:.1f} ft: clip at {clip:.1f} ft." if clip else why_no_clip(depth, rig)
    return Answer({"at": stamp(at), "clip_ft": clip, "depth_ft": depth}, (line,))


def _circle(given: Given, rig: Rig) -> Answer:
    secchi, clarity = given["secchi_ft"], given["clarity"]
    if (secchi is None) == (clarity is None):
        got = "neither" if secchi is None else "both"
        raise ValueError(f"--secchi-ft, --clarity: got {got}; allowed one of them")
    found: Range = circle_of_secchi(secchi, rig) if clarity is None else circle_of_word(clarity, rig)
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
    del rig
    apart, left = given["apart_ft"], given["circle_ft"]
    right = left if given["circle_right_ft"] is None else given["circle_right_ft"]
    gap = centre_gap_ft(apart, left, circle_right_ft=right)
    area = overlap_ft2(apart, left, circle_right_ft=right)
    dark = _gap_words(gap, "of dark water between the circles", "of overlap")
    lines = [f"{apart:g} ft apart less radii of {left / 2:g} and {right / 2:g} ft: {dark}."]
    values = {"gap_ft": gap, "overlap_ft2": area}
    if given["out_ft"] is not None:
        values["hull_gap_ft"] = hull = hull_gap_ft(given["out_ft"], left)
        side = _gap_words(hull, "of dark water at the hull", "of light under the boat")
        lines.append(f"{given['out_ft']:g} ft out less {left / 2:g} ft: {side}.")
    return Answer(values, tuple(lines))


FIGURES = {
    "clip": Figure(
        "clip height of a lamp, and the dark water above and below its light",
        (
            _DEPTH,
            Option("--clip-ft", amount("clip_ft"), "clip height as it hangs, instead of the one by the sum"),
            Option("--lean-deg", amount("lean_deg"), "lean of the lamp's line", default=0.0),
        ),
        _clip,
    ),
    "reclip": Figure(
        "when to clip the lamp again on a falling or rising tide, and how high",
        (
            _DEPTH,
            Option("--clip-ft", amount("clip_ft"), "clip height as it hangs", needed=True),
            *_HIGH_LOW,
            Option("--from", moment, "time at which the depth was sounded", needed=True),
            Option("--until", moment, "end of the stay", needed=True),
            Option("--slack-ft", amount("slack_ft"), "how far off the sum the lamp may come"),
            Option("--once-for", moment, "instead of steps: one clip height, right at this time"),
            TZ,
        ),
        _reclip,
    ),
    "circle": Figure(
        "width of the lit circle in this water",
        (
            Option("--secchi-ft", amount("secchi_ft"), "depth at which a white disc is lost"),
            Option("--clarity", word(*CLARITIES), "or the water in a word: " + ", ".join(CLARITIES)),
        ),
        _circle,
    ),
    "gap": Figure(
        "dark water between two lit circles, and at the hull",
        (
            Option("--apart-ft", amount("apart_ft"), "distance between the lamps", needed=True),
            Option("--circle-ft", amount("circle_ft"), "width of the (left) lit circle", needed=True),
            Option("--circle-right-ft", amount("circle_ft"), "width of the right one, where it differs"),
            Option("--out-ft", amount("out_ft"), "reach out of the (left) lamp from the hull"),
        ),
        _gap,
    ),
}
