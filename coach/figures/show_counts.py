"""`coach figure share | drop | rate | change | watch | deep-lamp`: what small counts can and cannot tell."""

from __future__ import annotations

from coach.figures.counts import bow_share, rate_drop
from coach.figures.looks import (
    deep_lamp_bounds_db,
    deep_lamp_decision,
    deep_lamp_odds_db,
    drop_watch,
    level_for_look,
)
from coach.figures.options import Answer, Figure, Given, Option, amount, counted, counts
from coach.figures.rates import catch_rate, change_point
from coach.figures.rig import Rig

_LOOK = Option(
    "--look", counted("look"), "how many times the counts were tested tonight, this included", default=1
)


def _verdict(p_value: float, given: Given, rig: Rig) -> tuple[str, dict[str, float | bool]]:
    """In words and as values: whether a p-value beats the level of this look of the night."""
    level = level_for_look(given["look"], false_alarm_share=rig.false_alarm_share)
    is_real = p_value <= level
    words = "more than luck" if is_real else "luck alone can do it"
    return f"{words} (p {p_value:.2g}, look {given['look']} asks for {level:.2g})", {
        "level": level,
        "is_real": is_real,
    }


def _share(given: Given, rig: Rig) -> Answer:
    bow_h, stern_h = given["bow_lamp_hours"], given["stern_lamp_hours"]
    expected = bow_h / (bow_h + stern_h)
    found = bow_share(given["bow"], given["stern"], expected_share=expected)
    words, verdict = _verdict(found.p_value, given, rig)
    values = {**found._asdict(), **verdict}
    if found.bow_share is None:
        return Answer(values, ("Nobody has lifted any: there is no share to test.",))
    lines = (
        f"The bow has {found.bow_share:.0%} of {given['bow'] + given['stern']}"
        f" (with luck in it, {found.bow_share_low:.0%} to {found.bow_share_high:.0%}).",
        f"Against {expected:.0%} by lamp-hours: {words}.",
    )
    return Answer(values, lines)


def _drop(given: Given, rig: Rig) -> Answer:
    found = rate_drop(given["before"], given["before_min"], now_count=given["now"], now_min=given["now_min"])
    words, verdict = _verdict(found.p_value, given, rig)
    values = {**found._asdict(), **verdict}
    if found.ratio is None:
        return Answer(values, ("Nothing was lifted before: there is no drop to test.",))
    high = "any" if found.ratio_high is None else f"{found.ratio_high:.0%}"
    luck = f"with luck in it, {found.ratio_low:.0%} to {high}"
    line = f"The rate is {found.ratio:.0%} of what it was ({luck})."
    return Answer(values, (line, f"A change? {words.capitalize()}."))


def _rate(given: Given, rig: Rig) -> Answer:
    del rig
    found = catch_rate(given["count"], given["lamp_hours"])
    line = (
        f"{given['count']} in {given['lamp_hours']:g} lamp-hours: {found.per_lamp_hour:.1f} per lamp-hour"
        f" (with luck in it, {found.low:.1f} to {found.high:.1f})."
    )
    return Answer(found._asdict(), (line,))


def _change(given: Given, rig: Rig) -> Answer:
    row = given["counts"]
    found = change_point(row, [given["each_min"]] * len(row))
    words, verdict = _verdict(found.p_value, given, rig)
    values = {
        "after": found.after,
        "minutes": found.after * given["each_min"],
        "before_per_10min": 10 * found.rate_before,
        "after_per_10min": 10 * found.rate_after,
        "p_value": found.p_value,
        **verdict,
    }
    lines = (
        f"The likeliest break is after {values['minutes']:g} min (count {found.after} of {len(row)}):",
        f"{values['before_per_10min']:.1f} per 10 min before, {values['after_per_10min']:.1f} after.",
        f"A change? {words.capitalize()}.",
    )
    return Answer(values, lines)


def _watch(given: Given, rig: Rig) -> Answer:
    row = given["counts"]
    found = drop_watch(row, [given["each_min"]] * len(row), false_alarm_share=rig.false_alarm_share)
    if found.ratio is None:
        return Answer(found._asdict(), ("Nothing was lifted before: there is no drop to see.",))
    verdict = "it has dropped" if found.has_dropped else "luck alone can do it so far"
    lines = (
        f"The last {found.window * given['each_min']:g} min have {found.ratio:.0%} of the rate before:",
        f"{verdict} (p {found.p_value:.2g}, look {len(row) - 1} of the night asks for {found.level:.2g}).",
    )
    return Answer(found._asdict(), lines)


_DEEP = {"keep": "keep it", "wait": "wait and watch", "lift": "lift it and close the circles"}


def _deep_lamp(given: Given, rig: Rig) -> Answer:
    minutes, jumps = given["minutes"], given["jumps"]
    odds, bounds = deep_lamp_odds_db(minutes, jumps, rig), deep_lamp_bounds_db(rig)
    decision = deep_lamp_decision(minutes, jumps, rig)
    lines = (
        f"{jumps} jumps in {minutes:g} min: {odds:+.0f} decibans that the deep lamp pays, by"
        f" {rig.deep_good_jumps:g} against {rig.deep_poor_jumps:g} in {rig.deep_lamp_decide_min:g} min.",
        f"Kept from {bounds.yes_db:+.0f}; lifted at {bounds.no_db:+.0f},"
        f" not before {rig.deep_lamp_decide_min:g} min: {_DEEP[decision]}.",
    )
    return Answer({"odds_db": odds, "decision": decision}, lines)


_ROW = Option("--counts", counts, "counts in order, like 12,9,11,3,2", needed=True)
_EACH = Option("--each-min", amount("minutes"), "minutes of each count", default=10.0)
_HOURS = "lamp-hours that the {} dipper had (their share is what to expect)"

FIGURES = {
    "share": Figure(
        "whether one dipper's share is more than luck",
        (
            Option("--bow", counted("count"), "lifted at the bow", needed=True),
            Option("--stern", counted("count"), "lifted at the stern", needed=True),
            Option("--bow-lamp-hours", amount("lamp_hours"), _HOURS.format("bow"), default=1.0),
            Option("--stern-lamp-hours", amount("lamp_hours"), _HOURS.format("stern"), default=1.0),
            _LOOK,
        ),
        _share,
    ),
    "drop": Figure(
        "whether the rate really dropped",
        (
            Option("--before", counted("count"), "lifted before", needed=True),
            Option("--before-min", amount("minutes"), "in so many minutes", needed=True),
            Option("--now", counted("count"), "lifted now", needed=True),
            Option("--now-min", amount("minutes"), "in so many minutes", needed=True),
            _LOOK,
        ),
        _drop,
    ),
    "rate": Figure(
        "catch per lamp-hour with its range",
        (
            Option("--count", counted("count"), "lifted in all", needed=True),
            Option("--lamp-hours", amount("lamp_hours"), "hours times dipping lamps", needed=True),
        ),
        _rate,
    ),
    "change": Figure(
        "when the rate changed, in a row of counts",
        (
            _ROW,
            _EACH,
            _LOOK,
        ),
        _change,
    ),
    "watch": Figure(
        "whether the last of a night's counts have dropped, look after look", (_ROW, _EACH), _watch
    ),
    "deep-lamp": Figure(
        "the odds that the deep lamp pays, and whether to lift it",
        (
            Option("--minutes", amount("watched_min"), "minutes since it went in", needed=True),
            Option("--jumps", counted("count"), "jumps seen since", needed=True),
        ),
        _deep_lamp,
    ),
}
