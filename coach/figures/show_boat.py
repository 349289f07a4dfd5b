"""`coach figure battery | lead | lean | scope | clear | low-water | wind`: the boat and its gear."""

from __future__ import annotations

from coach.figures.anchor import clearing, low_water, rode_ft
from coach.figures.lean import MATERIALS, lamp_lean, weight_hold
from coach.figures.options import Answer, Figure, Given, Option, amount, counted, word
from coach.figures.power import (
    BATTERIES,
    GAUGES,
    at_lamp,
    battery_hours,
    fuse_a,
    hours_from_volts,
    is_dim,
    lamp_current_a,
    usable_share,
    wire_gauge,
)
from coach.figures.rig import Rig
from coach.figures.wind import beaufort, drift_kn, setup_ft, waves

_DEPTH = Option("--depth-ft", amount("water_depth_ft"), "water depth now", needed=True)
_LAMPS = Option("--lamps", counted("gear"), "lamps in the water", default=2)
_LAMP_W = Option("--lamp-w", amount("power_w"), "power of one lamp")


def _battery(given: Given, rig: Rig) -> Answer:
    kind, capacity, lamps = given["kind"], given["capacity_ah"], given["lamps"]
    lamp_w = rig.lamp_power_w if given["lamp_w"] is None else given["lamp_w"]
    current = lamps * lamp_current_a(lamp_w, rig.lamp_rated_v) if lamps else 0.0
    if not current:
        raise ValueError("--lamps: got 0; allowed 1 to 12, there is nothing to run down a battery")
    full = battery_hours(capacity, current, rig, battery=kind)
    values = {"current_a": current, "hours_full": full, "hours": full, "fuse_a": fuse_a(current, rig)}
    lines = [
        f"{lamps} lamps of {lamp_w:g} W at {rig.lamp_rated_v:g} V draw {current:.1f} A.",
        f"{capacity:g} Ah, {usable_share(kind, rig):.0%} of it to use: {full:.1f} h from full.",
    ]
    if given["rested_v"] is not None:
        values["hours"] = hours_from_volts(given["rested_v"], capacity, current, rig, battery=kind)
        lines.append(f"At {given['rested_v']:g} V rested: about {values['hours']:.1f} h left.")
    if values["fuse_a"] is not None:
        lines.append(f"Fuse {values['fuse_a']:g} A, within {rig.fuse_within_in:g} in of the battery.")
    return Answer(values, tuple(lines))


def _lead(given: Given, rig: Rig) -> Answer:
    length, volts, awg = given["length_ft"], given["battery_v"], int(given["awg"])
    lamp_w = rig.lamp_power_w if given["lamp_w"] is None else given["lamp_w"]
    found = at_lamp(lamp_w, volts, rig, one_way_ft=length, awg=awg)
    share = rig.drop_allowed_share
    better = wire_gauge(found.current_a, 2 * length, volts=volts, drop_share=share)
    dim = is_dim(found.volts, rig)
    lines = (
        f"{lamp_w:g} W at the end of {length:g} ft of {awg} AWG: {found.current_a:.2f} A,"
        f" {found.drop_v:.2f} V lost ({found.drop_v / volts:.1%}).",
        f"{found.volts:.1f} V at the lamp: {'dim' if dim else 'bright'} ({rig.lamp_dim_v:g} V is the line).",
        f"To lose no more than {share:.0%}: {f'{better} AWG or thicker' if better else 'more than 2 AWG'}.",
    )
    values = {
        "current_a": found.current_a,
        "drop_v": found.drop_v,
        "volts_at_lamp": found.volts,
        "is_dim": dim,
        "awg_for_allowed_drop": better,
    }
    return Answer(values, lines)


def _lean(given: Given, rig: Rig) -> Answer:
    flow, clip = given["flow_kn"], given["clip_ft"]
    found, hold = lamp_lean(flow, clip, rig), weight_hold(flow, clip, rig, material=given["weight_of"])
    stays = hold.pull_n <= hold.holds_n
    lines = (
        f"In {flow:g} kn a lamp clipped at {clip:g} ft leans {found.lean_deg:.0f} degrees:"
        f" {found.height_lost_ft:.1f} ft lower, {found.down_current_ft:.1f} ft down-current.",
        f"Pull on the weight about {hold.pull_n:.0f} N; {rig.weight_lb:g} lb of {given['weight_of']}"
        f" stand {hold.holds_n:.0f} N: it {'holds' if stays else 'slides'}"
        f" (until about {hold.slides_at_kn:.1f} kn).",
        "Size and lift of the lamp and the hold of the bottom are assumed.",
    )
    return Answer({**found._asdict(), **hold._asdict(), "weight_holds": stays}, lines)


def _scope(given: Given, rig: Rig) -> Answer:
    scope = rig.scope if given["scope"] is None else given["scope"]
    parts = given["depth_ft"], given["bow_height_ft"], given["rise_ft"]
    rode = rode_ft(parts[0], parts[1], rise_ft=parts[2], scope=scope)
    line = (
        f"Let out {rode:g} ft: {scope:g} times {sum(parts):g} ft"
        f" ({parts[0]:g} of water, {parts[1]:g} of bow, {parts[2]:g} of rise)."
    )
    return Answer({"rode_ft": rode}, (line,))


def _clear(given: Given, rig: Rig) -> Answer:
    gear = {name: given[name] for name in ("lamps", "nets", "anchors")}
    found = clearing(rig, **gear, is_buoyed=given["buoyed"] == "yes", traffic_min=given["traffic_min"])
    out = ", ".join(f"{count} {name}" for name, count in gear.items())
    lines = [f"Clearing the water takes about {found.minutes:.0f} min ({out}, engine; margin for the dark)."]
    if found.spare_min is not None:
        late = found.spare_min <= 0
        word_ = (
            "start now, let the anchor go on its buoy" if late else f"start within {found.spare_min:.0f} min"
        )
        lines.append(f"Traffic is here in {given['traffic_min']:g} min: {word_}.")
    return Answer(found._asdict(), tuple(lines))


def _low_water(given: Given, rig: Rig) -> Answer:
    depth, fall, draft = given["depth_ft"], given["fall_ft"], given["draft_ft"]
    found = low_water(depth, rig, fall_to_low_ft=fall, draft_ft=draft)
    verdict = "enough" if found.is_enough else "not enough: move before"
    line = (
        f"At low water {found.depth_ft:.1f} ft here ({depth:g} now less {fall:g} of fall),"
        f" {found.under_boat_ft:.1f} ft under the boat: {verdict} ({rig.under_keel_ft:g} ft is the least)."
    )
    return Answer(found._asdict(), (line,))


def _wind(given: Given, rig: Rig) -> Answer:
    wind, fetch, depth = given["wind_kn"], given["fetch_nmi"], given["depth_ft"]
    level, sea = setup_ft(wind, fetch, rig, depth_ft=depth), waves(wind, fetch, depth_ft=depth)
    drift = drift_kn(wind, rig)
    lines = [
        f"{wind:g} kn (force {beaufort(wind)}) over {fetch:g} nautical miles of {depth:g} ft:",
        f"the lee end stands about {level:.1f} ft above the weather end once it has blown for hours.",
        f"Waves about {sea.height_ft:.1f} ft every {sea.period_s:.1f} s; surface drift {drift:.1f} kn.",
    ]
    values = {"setup_ft": level, "drift_kn": drift, "wave_ft": sea.height_ft, "wave_s": sea.period_s}
    if given["tide_range_ft"] is not None:
        values["wind_rules"] = rules = level >= given["tide_range_ft"] / 2
        word_ = "do not trust the tide table" if rules else "the table holds by and large"
        lines.append(f"Against {given['tide_range_ft']:g} ft of tide: {word_}.")
    return Answer(values, tuple(lines))


FIGURES = {
    "battery": Figure(
        "hours of light in a battery",
        (
            Option("--capacity-ah", amount("capacity_ah"), "rated amp-hours of the battery", needed=True),
            Option("--kind", word(*BATTERIES), "lead or lithium (LiFePO4)", default="lead"),
            _LAMPS,
            _LAMP_W,
            Option("--rested-v", amount("volts"), "volts after an hour without load"),
        ),
        _battery,
    ),
    "lead": Figure(
        "voltage drop along a lamp's lead",
        (
            Option("--length-ft", amount("lead_ft"), "length of the lead, one way", needed=True),
            Option("--awg", word(*map(str, GAUGES)), "gauge of its wires", needed=True),
            Option("--battery-v", amount("volts"), "volts at the battery under load", default=12.0),
            _LAMP_W,
        ),
        _lead,
    ),
    "lean": Figure(
        "lean of a lamp in the flow, and whether its weight holds",
        (
            Option("--flow-kn", amount("flow_kn"), "flow of the water", needed=True),
            Option("--clip-ft", amount("clip_ft"), "clip height", needed=True),
            Option("--weight-of", word(*MATERIALS), "what the weight is made of", default="steel"),
        ),
        _lean,
    ),
    "scope": Figure(
        "anchor rode to let out",
        (
            _DEPTH,
            Option("--bow-height-ft", amount("bow_height_ft"), "height of the bow", needed=True),
            Option("--rise-ft", amount("rise_ft"), "rise of the tide still to come", default=0.0),
            Option("--scope", amount("scope"), "rode by height, to 1"),
        ),
        _scope,
    ),
    "clear": Figure(
        "minutes to clear the water when traffic comes",
        (
            _LAMPS,
            Option("--nets", counted("gear"), "frame nets in the water", default=0),
            Option("--anchors", counted("gear"), "anchors out", default=1),
            Option("--buoyed", word("yes", "no"), "anchor lines can be let go on a float", default="no"),
            Option("--traffic-min", amount("watched_min"), "minutes until the vessel is here"),
        ),
        _clear,
    ),
    "low-water": Figure(
        "depth at this anchorage at low water, against the boat's draft",
        (
            _DEPTH,
            Option("--fall-ft", amount("rise_ft"), "fall still to come until low water", needed=True),
            Option("--draft-ft", amount("draft_ft"), "draft of the boat, engine down", needed=True),
        ),
        _low_water,
    ),
    "wind": Figure(
        "what the wind does to a lagoon: level, waves, drift",
        (
            Option("--wind-kn", amount("wind_kn"), "speed of the wind", needed=True),
            Option("--fetch-nmi", amount("fetch_nmi"), "open water to windward and lee", needed=True),
            Option("--depth-ft", amount("water_depth_ft"), "mean depth of the lagoon", needed=True),
            Option("--tide-range-ft", amount("rise_ft"), "range of the tide, to compare"),
        ),
        _wind,
    ),
}
