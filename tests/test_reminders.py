"""What rings and when. Times are checked against the cosine tide worked out here with math alone (the rule
of the official tables of heights at any time, READ), sums of the trade (common practice), and ephem."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import ephem
import pytest
from figures_rig import RIG

from coach.conversation import Heard, Session
from coach.model import Rulebook
from coach.reminders import (
    AHEAD_MIN,
    Aboard,
    Bell,
    battery_kind,
    bells,
    deep_lamp_since,
    lateness,
    moon_bells,
)

NOW = datetime(2027, 2, 11, 20, 0, tzinfo=UTC)
HIGH, LOW = NOW - timedelta(hours=1), NOW + timedelta(hours=5)
TIDE = {
    "tide.high_at": HIGH.isoformat(),
    "tide.high_ft": 4.0,
    "tide.low_at": LOW.isoformat(),
    "tide.low_ft": 0.0,
}


def session(facts: dict[str, Any], *, at: datetime = NOW, **more: Any) -> Session:
    return Session(
        facts={name: Heard(value=value, at=at.isoformat()) for name, value in facts.items()}, **more
    )


def rung(
    facts: dict[str, Any], book: Rulebook, *, before: Session | None = None, verdict: Any = None,
    aboard: Aboard | None = None, **more: Any
) -> dict[str, tuple[Bell, ...]]:  # fmt: skip
    after = session(facts, **more)
    return bells(
        after,
        before=before or Session(),
        verdict=verdict,
        aboard=aboard or Aboard(),
        book=book,
        rig=RIG,
        now=NOW,
    )


def level_ft(at: datetime) -> float:
    """Cosine between high and low, worked out here."""
    gone = (at - HIGH) / (LOW - HIGH)
    return 2.0 + 2.0 * math.cos(math.pi * gone)


def test_re_clip_times_of_a_verdict_ring_with_their_clip_heights(shipped: Rulebook) -> None:
    at = NOW + timedelta(minutes=50)
    step = {"at": at.isoformat(), "clip_left_ft": 2.0, "clip_right_ft": 1.5}
    (bell,) = rung({}, shipped, verdict={"numbers": {"reclip": [step]}})["reclip"]
    assert bell.at == at
    assert "left to 2 ft and right to 1.5 ft" in bell.say


def test_re_clip_times_change_when_the_set_changes_and_only_then(shipped: Rulebook) -> None:
    facts = {**TIDE, "water.depth_ft": 12.0, "lamps.clip_left_ft": 4.0}
    (first, *_) = rung(facts, shipped)["reclip"]
    # the lamp has come up by the slack of 1 ft when the level has fallen by as much (common practice)
    assert level_ft(NOW) - level_ft(first.at) == pytest.approx(RIG.reclip_slack_ft, abs=0.01)
    same = rung({**facts, "water.clarity": "clear"}, shipped, before=session(facts))
    assert "reclip" not in same
    lowered = {**facts, "lamps.clip_left_ft": 3.5}
    assert rung(lowered, shipped, before=session(facts))["reclip"][0].at > first.at
    assert rung({}, shipped, before=session(facts))["reclip"] == ()


def test_a_lamp_clipped_later_than_the_sounding_is_clipped_again_from_the_water_of_later(
    shipped: Rulebook,
) -> None:
    # trade arithmetic: clip height = depth - 8 ft; the level itself is checked in test_figures_tide.py
    told = session({**TIDE, "water.depth_ft": 12.0, "lamps.clip_left_ft": 2.5, "lamps.clip_right_ft": 2.5})
    later = (NOW + timedelta(hours=1)).isoformat()
    facts = {
        name: heard.model_copy(update={"at": later}) if "clip" in name else heard
        for name, heard in told.facts.items()
    }
    after = told.model_copy(update={"facts": facts})
    found = bells(
        after, before=Session(), verdict=None, aboard=Aboard(), book=shipped, rig=RIG, now=NOW
    )["reclip"]  # fmt: skip
    fall_until = [level_ft(NOW) - level_ft(bell.at) for bell in found]
    assert fall_until == pytest.approx([12 - (1.5 + 8)], abs=0.02)
    assert "left to 1.5 ft" in found[0].say


def test_the_deep_lamp_rings_at_its_deciding_time(shipped: Rulebook) -> None:
    (bell,) = rung({"deep_lamp.in_water": True}, shipped)["deep"]
    assert bell.at == NOW + timedelta(minutes=90)  # common practice: 90 min
    (sooner,) = rung({"deep_lamp.in_water": True, "deep_lamp.minutes": 30.0}, shipped)["deep"]
    assert sooner.at == NOW + timedelta(minutes=60)
    assert rung({"deep_lamp.in_water": False}, shipped)["deep"] == ()
    assert deep_lamp_since(session({"deep_lamp.in_water": True})) == NOW


def test_look_again_rings_when_the_advice_said(shipped: Rulebook) -> None:
    at = NOW + timedelta(minutes=10)
    advised = {"look_again_at": at.isoformat(), "named": ("a-cause",)}
    (bell,) = rung({}, shipped, **advised)["look"]  # also when other things are told meanwhile
    assert bell.at == at
    assert rung({}, shipped, named=("a-cause",))["look"] == ()


def test_slack_rings_ahead_of_high_and_low_water_still_to_come(shipped: Rulebook) -> None:
    found = rung(TIDE, shipped)
    assert [bell.at for bell in found["low"]] == [LOW - timedelta(minutes=AHEAD_MIN)]
    assert [bell.at for bell in found["high"]] == [HIGH - timedelta(minutes=AHEAD_MIN)]  # gone by: not set


def test_the_last_time_to_leave_is_before_the_water_under_her_is_too_little(shipped: Rulebook) -> None:
    facts = {**TIDE, "water.depth_ft": 5.0, "lamps.total": 2.0, "boat.anchors": 1.0, "net.in_water": False}
    (bell,) = rung(facts, shipped, aboard=Aboard(draft_ft=1.5))["leave"]
    clearing_min = 2 * 1.5 + 0.5 + 6.0 + 1.0  # texts.toml: lamps, cords, anchor, engine (assumptions)
    aground = bell.at + timedelta(minutes=AHEAD_MIN + clearing_min)
    assert 5.0 + level_ft(aground) - level_ft(NOW) == pytest.approx(1.5 + RIG.under_keel_ft, abs=0.01)
    assert rung(facts, shipped)["leave"] == ()  # her draft is not known
    assert rung({**facts, "water.depth_ft": 20.0}, shipped, aboard=Aboard(draft_ft=1.5))["leave"] == ()


def test_a_table_that_does_not_fit_rings_nothing(shipped: Rulebook) -> None:
    turned = {**TIDE, "tide.low_ft": 9.0, "water.depth_ft": 5.0, "lamps.clip_left_ft": 1.0}
    found = rung(turned, shipped, aboard=Aboard(draft_ft=1.5))
    assert (found["leave"], found["reclip"]) == ((), ())


def test_the_battery_rings_when_its_usable_part_is_gone(shipped: Rulebook) -> None:
    # 100 Ah lithium, 2 lamps of 30 W at 12 V: 5 A, at the 20-hour rate exactly; 80 % of it is usable
    aboard = Aboard(battery_ah=100.0, battery="lithium", full_at=NOW)
    (bell,) = rung({"lamps.total": 2.0}, shipped, aboard=aboard)["battery"]
    assert bell.at == NOW + timedelta(hours=16, minutes=-AHEAD_MIN)
    assert rung({}, shipped, aboard=aboard)["battery"] == ()


@pytest.mark.parametrize(("word", "kind"), [("lead", "lead"), ("lifepo4", "lithium"), ("li", "lithium")])
def test_kinds_of_battery_have_names(word: str, kind: str) -> None:
    assert battery_kind(word) == kind


def test_another_kind_of_battery_is_refused() -> None:
    with pytest.raises(ValueError, match="allowed lead, lithium"):
        battery_kind("potato")


def test_moonrise_rings_when_it_gives_light(shipped: Rulebook) -> None:
    # ephem itself, with the horizon of the almanac (READ): the full moon of 20 February 2027
    at = datetime(2027, 2, 22, 22, 0, tzinfo=UTC)
    here = ephem.Observer()
    here.lat, here.lon, here.pressure, here.horizon = "30", "-85", 0, "-0:34"
    here.date = at.replace(tzinfo=None)
    rise = here.next_rising(ephem.Moon()).datetime().replace(tzinfo=UTC)
    aboard = Aboard(lat_deg=30.0, lon_deg=-85.0, zone=ZoneInfo("America/Chicago"))
    (bell,) = moon_bells(aboard, shipped, RIG, at)
    assert abs(bell.at + timedelta(minutes=AHEAD_MIN) - rise) < timedelta(minutes=1)
    assert moon_bells(replace(aboard, lat_deg=None), shipped, RIG, at) == ()


def test_a_thin_moon_rings_nothing(shipped: Rulebook) -> None:
    # new moon on 6 February 2027 (ephem)
    assert ephem.Date(ephem.next_new_moon("2027/2/1")).datetime().day == 6
    aboard = Aboard(lat_deg=30.0, lon_deg=-85.0, zone=ZoneInfo("America/Chicago"))
    assert moon_bells(aboard, shipped, RIG, datetime(2027, 2, 7, 5, 0, tzinfo=UTC)) == ()


@pytest.mark.parametrize(
    ("late_s", "said"),
    [(0, ""), (90, ""), (200, "(Late by 3 minutes.) "), (3 * 3600, "(Late by 3.0 hours.) ")],
)
def test_a_bell_that_comes_late_says_by_how_much(late_s: float, said: str) -> None:
    assert lateness(1000.0, 1000.0 + late_s) == said
