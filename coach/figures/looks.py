"""Looking again and again at the same counts without crying wolf: stopping rules of a night."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

from coach.figures.binomial import two_sided_p
from coach.figures.limits import checked, whole
from coach.figures.rig import Rig

Decision = Literal["keep", "wait", "lift"]

DECIBANS_PER_NAT = 10 / math.log(10)


class Bounds(NamedTuple):
    """Odds, in decibans, from which a question is settled for and against."""

    yes_db: float
    no_db: float


def level_for_look(look: float, *, false_alarm_share: float) -> float:
    """The p-value that a test must beat at the n-th look of a night.

    share / (n·(n + 1)): over ever so many looks these add up to the share, so that a night whose rate
    never changes raises an alarm at any look with that chance at most (Boole's inequality).
    Raises ValueError unless the look is a whole number from 1 and the share lies in 0 to 1.
    """
    n = whole("look", look)
    return checked("share", false_alarm_share, name="false_alarm_share") / (n * (n + 1))


class Watch(NamedTuple):
    """Whether a row of counts has dropped by its last look.

    `ratio` is the rate of the last `window` counts by the rate before them (None: nothing before);
    `p_value` is for the clearest window, counted for having tried several; it must beat `level`.
    """

    window: int
    ratio: float | None
    p_value: float
    level: float
    has_dropped: bool


def _window_p(counts: Sequence[int], minutes: Sequence[float], window: int) -> tuple[float, float | None]:
    """The p-value of the last `window` counts against all before them, and the ratio of the rates."""
    now, before = sum(counts[-window:]), sum(counts[:-window])
    now_t, before_t = math.fsum(minutes[-window:]), math.fsum(minutes[:-window])
    p_value = two_sided_p(now, now + before, now_t / (now_t + before_t))
    return p_value, now / before * before_t / now_t if before else None


def drop_watch(
    counts: Sequence[float], minutes: Sequence[float], *, false_alarm_share: float, windows: int = 3
) -> Watch:
    """Look once more at a night's counts: has the rate dropped?

    Tests the last one, two, three counts against all before them (exact conditional test) at the
    level of this look, the n-th where n + 1 counts are there. On a night whose rate never changes
    any of its looks says "dropped" with a chance of `false_alarm_share` at most (Boole's
    inequality). Holds for counts that come independently; animals that come in bunches raise it.
    Raises ValueError for fewer than 2 counts, or bad ones.
    """
    row = [whole("count", count) for count in counts]
    times = [checked("minutes", length) for length in minutes]
    if len(row) < 2 or len(row) != len(times):
        raise ValueError(
            f"counts: got {len(row)} with {len(times)} durations; allowed 2 and more of each alike"
        )
    tried = range(1, min(windows, len(row) - 1) + 1)
    (p_value, ratio), window = min((_window_p(row, times, k), k) for k in tried)
    level = level_for_look(len(row) - 1, false_alarm_share=false_alarm_share)
    p_value = min(1.0, p_value * len(tried))
    return Watch(window, ratio, p_value, level, p_value <= level and ratio is not None and ratio < 1)


def wald_bounds_db(*, false_yes_share: float, false_no_share: float) -> Bounds:
    """Odds [decibans] at which a sequential test may stop, from the two errors it may make.

    ln((1 − β)/α) and ln(β/(1 − α)). Source: Wald 1945, "Sequential tests of statistical hypotheses",
    as in the NIST handbook (MEMORY). Raises ValueError for shares outside 0 to 1.
    """
    alpha = checked("share", false_yes_share, name="false_yes_share")
    beta = checked("share", false_no_share, name="false_no_share")
    nats = math.log((1 - beta) / alpha), math.log(beta / (1 - alpha))
    return Bounds(*(DECIBANS_PER_NAT * odds for odds in nats))


def deep_lamp_odds_db(minutes: float, jumps: float, rig: Rig) -> float:
    """Odds that the deep lamp is a paying one [decibans], after some minutes with some jumps.

    Prior plus n·ln(good/poor) − (good − poor)·t for jumps that come at a steady rate (Poisson).
    Both rates are assumptions, in numbers.toml. Raises ValueError outside 0 to 1440 min, or for
    jumps that are not whole.
    """
    t = checked("watched_min", minutes, name="minutes") / rig.deep_lamp_decide_min
    n = whole("count", jumps, name="jumps")
    good, poor = rig.deep_good_jumps, rig.deep_poor_jumps
    return rig.deep_prior_db + DECIBANS_PER_NAT * (n * math.log(good / poor) - (good - poor) * t)


def deep_lamp_bounds_db(rig: Rig) -> Bounds:
    """Odds [decibans] from which a deep lamp is kept or lifted."""
    return wald_bounds_db(
        false_yes_share=rig.deep_false_keep_share,
        false_no_share=rig.deep_false_lift_share,
    )


def deep_lamp_decision(minutes: float, jumps: float, rig: Rig) -> Decision:
    """What to do with the deep lamp now: "keep", "wait", or "lift" (from the trade's time on only).

    The odds may be told at any time; lifting is said at 90 min at the earliest (common practice).
    Raises ValueError as `deep_lamp_odds_db`.
    """
    odds, bounds = deep_lamp_odds_db(minutes, jumps, rig), deep_lamp_bounds_db(rig)
    if odds >= bounds.yes_db:
        return "keep"
    return "lift" if odds <= bounds.no_db and minutes >= rig.deep_lamp_decide_min else "wait"
