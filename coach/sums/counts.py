"""What the counts say: shares, drops, rates, and whether the deep lamp pays."""

from __future__ import annotations

from coach.figures.binomial import two_sided_p
from coach.figures.counts import rate_drop
from coach.figures.looks import deep_lamp_decision, deep_lamp_odds_db
from coach.figures.rates import Rate, catch_rate
from coach.figures.rig import Rig
from coach.sums.declare import gives

COUNTED_MIN = 10.0
"""Rates are told for ten minutes: the unit of catch.now_per_10min."""


@gives("crew.lifted")
def lifted(crew_bow_count: float, crew_stern_count: float) -> float:
    """What both dippers lifted."""
    return crew_bow_count + crew_stern_count


@gives("crew.bow_share")
def bow_share(crew_bow_count: float, crew_lifted: float) -> float | None:
    """The bow's share of the counts, 0 to 1; none where nothing was lifted."""
    return crew_bow_count / crew_lifted if crew_lifted else None


@gives("crew.share_p")
def share_p(crew_bow_count: float, crew_lifted: float) -> float | None:
    """Two-sided exact binomial p that luck alone splits the counts so; null share one half."""
    if not crew_lifted or not (crew_bow_count.is_integer() and crew_lifted.is_integer()):
        return None
    return two_sided_p(int(crew_bow_count), int(crew_lifted), 0.5)


@gives("catch.kept_share")
def kept_share(catch_before_per_10min: float, catch_now_per_10min: float) -> float | None:
    """The catch now as a part of the catch before; none where nothing was caught before."""
    return catch_now_per_10min / catch_before_per_10min if catch_before_per_10min else None


@gives("catch.drop_p")
def drop_p(catch_before_per_10min: float, catch_now_per_10min: float) -> float | None:
    """Two-sided conditional test that both ten minutes came from one rate."""
    before, now = round(catch_before_per_10min), round(catch_now_per_10min)
    if before + now > 5000:
        return None
    return rate_drop(before, COUNTED_MIN, now_count=now, now_min=COUNTED_MIN).p_value


@gives("catch.per_lamp_hour")
def per_lamp_hour(catch_now_per_10min: float, lamps_count: float) -> float | None:
    """The catch of the last ten minutes per lamp-hour."""
    rate = _rate(catch_now_per_10min, lamps_count)
    return None if rate is None else rate.per_lamp_hour


@gives("catch.per_lamp_hour_low")
def per_lamp_hour_low(catch_now_per_10min: float, lamps_count: float) -> float | None:
    """The least that it may be with luck in it (95 % range)."""
    rate = _rate(catch_now_per_10min, lamps_count)
    return None if rate is None else rate.low


@gives("catch.per_lamp_hour_high")
def per_lamp_hour_high(catch_now_per_10min: float, lamps_count: float) -> float | None:
    """The most that it may be with luck in it (95 % range)."""
    rate = _rate(catch_now_per_10min, lamps_count)
    return None if rate is None else rate.high


def _rate(per_10min: float, lamps: float) -> Rate | None:
    return catch_rate(round(per_10min), lamps * COUNTED_MIN / 60) if lamps else None


@gives("deep_lamp.odds_db")
def deep_odds_db(deep_lamp_minutes: float, deep_lamp_jumps: float, rig: Rig) -> float:
    """Odds that the deep lamp pays [decibans]; they may be told at any time."""
    return deep_lamp_odds_db(deep_lamp_minutes, deep_lamp_jumps, rig)


@gives("deep_lamp.decision")
def deep_decision(deep_lamp_minutes: float, deep_lamp_jumps: float, rig: Rig) -> str:
    """Keep it, wait, or lift it; "lift" from the trade's time on only."""
    return deep_lamp_decision(deep_lamp_minutes, deep_lamp_jumps, rig)
