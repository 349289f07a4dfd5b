"""Each calculator taken away in turn: what of situations, cases and scenes then comes out otherwise.

A calculator is taken away by putting something in its place that says "there is no such figure", which is
what it says itself for an input beyond its limits.
"""

import contextlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any
from unittest import mock

from talks import Talk

from coach.apparatus import apparatus
from coach.figures.command import FIGURES
from coach.model import Rulebook
from coach.plain import PlainEvaluator
from coach.rulebook import clauses, default_folder
from coach.rulebook.situations import Situation, called, complaints, play, read_situations
from coach.sums import circles, ground, nights, row, sky

KINDS = tuple(FIGURES)
EASTERN = timezone(timedelta(hours=-5))
MOST_QUESTIONS = 25


def refuses(*_args: Any, **_more: Any) -> Any:
    raise ValueError("taken away")


def has_none(*_args: Any, **_more: Any) -> Any:
    return None


def finds_nothing(*_args: Any, **_more: Any) -> Any:
    return []


Stand = Callable[..., Any]
TAKEN: Mapping[str, Sequence[tuple[str, Stand]]] = {
    "clip": [
        ("coach.sums.height.clip_for_depth_ft", refuses),
        ("coach.sums.height.high_above_sum_ft", refuses),
        ("coach.sums.height.hang", refuses),
        ("coach.advice.clip_height_ft", has_none),
    ],
    "circle": [
        ("coach.sums.circles.circle_of_secchi", refuses),
        ("coach.sums.circles.circle_of_word", refuses),
    ],
    "gap": [("coach.sums.circles.centre_gap_ft", refuses), ("coach.sums.circles.hull_gap_ft", refuses)],
    "reclip": [("coach.advice.reclip_plan", refuses)],
    "share": [("coach.sums.counts.two_sided_p", refuses)],
    "drop": [("coach.sums.counts.rate_drop", refuses)],
    "rate": [("coach.sums.counts.catch_rate", refuses)],
    "change": [("coach.sums.row.change_point", refuses)],
    "watch": [("coach.sums.row.drop_watch", refuses)],
    "deep-lamp": [
        ("coach.sums.counts.deep_lamp_odds_db", refuses),
        ("coach.sums.counts.deep_lamp_decision", refuses),
    ],
    "battery": [
        ("coach.sums.power.battery_hours", refuses),
        ("coach.sums.power.hours_from_volts", refuses),
        ("coach.sums.power.fuse_a", refuses),
    ],
    "lead": [("coach.sums.power.at_lamp", refuses), ("coach.sums.power.wire_gauge", refuses)],
    "lean": [("coach.sums.boat.lamp_lean", refuses), ("coach.sums.boat.weight_hold", refuses)],
    "scope": [("coach.sums.boat.rode_ft", refuses), ("coach.sums.boat.scope_of", refuses)],
    "clear": [("coach.sums.boat.clearing", refuses)],
    "low-water": [("coach.sums.boat.low_water", refuses)],
    "wind": [("coach.sums.boat.setup_ft", refuses), ("coach.sums.boat.waves", refuses)],
    "tide": [
        ("coach.sums.ground.tide_extremes", refuses),
        ("coach.sums.tide.leg_between", refuses),
    ],
    "current": [("coach.sums.ground.current_events", refuses)],
    "flow": [("coach.sums.tide.flow_at_kn", refuses)],
    "lag": [("coach.sums.ground.lagoon_lag", refuses)],
    "sky": [("coach.sums.sky.sky_day", refuses)],
    "colour": [("coach.sums.circles.light_left", refuses)],
    "nights": [("coach.sums.nights.nights", finds_nothing)],
    "moon": [("coach.sums.sky.moon_at", refuses), ("coach.sums.sky.moonlight_lux", refuses)],
}
"""For each kind of `coach figure` the functions that give it to a consultation, and what stands instead."""

SCENES: Mapping[str, Mapping[str, Any]] = {
    "faded on the ebb, with a table": {
        "catch.course": "faded",
        "water.depth_ft": 9,
        "water.depth_left_ft": 9,
        "lamps.clip_left_ft": 3,
        "lamps.clip_right_ft": 3,
        "tide.fall_since_set_ft": 2,
        "tide.high_at": "2027-02-11T19:00:00-05:00",
        "tide.high_ft": 4,
        "tide.low_at": "2027-02-12T01:10:00-05:00",
        "tide.low_ft": 0,
    },
    "rising over the lamps, with a table": {
        "catch.course": "faded",
        "lamps.glow_seen": "faint",
        "water.depth_ft": 12,
        "water.depth_left_ft": 12,
        "lamps.clip_left_ft": 2,
        "lamps.clip_right_ft": 2,
        "tide.fall_since_set_ft": -2,
        "tide.high_at": "2027-02-12T01:10:00-05:00",
        "tide.high_ft": 4,
        "tide.low_at": "2027-02-11T19:00:00-05:00",
        "tide.low_ft": 0,
    },
    "everyone has stopped, off an inlet": {
        "others.catching": "no",
        "catch.course": "stopped",
        "water.depth_ft": 11,
        "lamps.clip_left_ft": 3,
        "lamps.clip_right_ft": 3,
        "water.flow": "moderate",
        "sky.moon": "dark",
        "water.temp_drop_f": 0,
        "tide.state": "falling",
        "place.lat_deg": 29.08,
        "place.lon_deg": -80.93,
    },
}
"""Moments whose answers hang on times and nights, which situations do not see."""


@contextlib.contextmanager
def without(kind: str) -> Iterator[None]:
    """The consultation without one calculator."""
    with contextlib.ExitStack() as stack:
        for target, stand in TAKEN[kind]:
            stack.enter_context(mock.patch(target, stand))
        forget()
        yield
    forget()


def forget() -> None:
    """Drop what earlier looks have left behind."""
    for module in (circles, ground, nights, row, sky):
        module.forget()


def situations(book: Rulebook) -> tuple[Situation, ...]:
    return read_situations(default_folder(), book)


def broken(book: Rulebook, of: Sequence[Situation]) -> Iterator[str]:
    """The titles of the situations that come out otherwise than they say."""
    tools, infer, rules = apparatus(book), PlainEvaluator(clauses(book)).evaluate, called(book)
    for situation in of:
        if complaints(play(situation, tools, infer=infer), rules, folder=default_folder()):
            yield situation.title


def scene(facts: Mapping[str, Any], book: Rulebook) -> Any:
    """What is said about a scene, everything else being not known."""
    talk = Talk(
        book, PlainEvaluator(clauses(book)).evaluate, now=datetime(2027, 2, 11, 21, 5, tzinfo=EASTERN)
    )
    talk.tell({"safety.all_clear": True, **facts})
    for _ in range(MOST_QUESTIONS):
        if talk.reply.ask is None:
            break
        talk.pick("unknown")
    return [each.text for reply in talk.replies for each in reply.blocks], talk.reply.verdict


def cases() -> list[dict[str, Any]]:
    """The development cases."""
    file = Path(__file__).parent / "cases" / "dev_cases.json"
    found: list[dict[str, Any]] = json.loads(file.read_text(encoding="utf-8"))["cases"]
    return found


def held(case: Mapping[str, Any], book: Rulebook) -> Any:
    """The questions of a case and its verdict."""
    talk = Talk(book, PlainEvaluator(clauses(book)).evaluate)
    asked = talk.play(case["opening"], case["facts"], most=MOST_QUESTIONS)
    return asked, talk.reply.verdict
