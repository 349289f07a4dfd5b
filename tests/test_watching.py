"""The watch over the counts: it speaks up when a test allows it, and on few even nights."""

import random

import pytest
from even_nights import HOURS, alarm_share, findings_of, ways
from figures_rig import RIG
from scipy import stats

from coach.counting import Entry
from coach.watching import Finding, Watch, begun_again, facts_of, look, silent_from, watch_after, windows

NIGHTS = 100


def entry(at: float, side: str = "bow", amount: float = 1, unit: str = "piece") -> Entry:
    return Entry(at, side, "", amount, unit)  # type: ignore[arg-type]


@pytest.mark.parametrize("way", list(ways()))
def test_few_nights_that_never_change_raise_an_alarm(way: str) -> None:
    # The promise is at most 5 % of nights. More than 12 of 100 would come by luck alone in 1 of 700 such
    # tests (binomial, scipy); bench_telegram.py alarms prints the shares of thousands of nights.
    raised = alarm_share(ways()[way], nights=NIGHTS, chance=random.Random(way)) * NIGHTS
    assert raised <= stats.binom.ppf(0.9986, NIGHTS, RIG.false_alarm_share)


def night(chance: random.Random, rates_h: list[float], *, bow_share: float = 0.5) -> list[Entry]:
    """Taps at a rate for each hour of the night."""
    at, entries = 0.0, []
    while at < len(rates_h) * 3600:
        at += chance.expovariate(rates_h[min(int(at // 3600), len(rates_h) - 1)] / 3600)
        entries.append(entry(at, "bow" if chance.random() < bow_share else "stern"))
    return entries


def test_a_rate_that_falls_to_a_third_is_told_within_the_next_hour() -> None:
    chance = random.Random(8)
    told = [list(findings_of(night(chance, [90, 90, 30, 30]))) for _ in range(10)]
    assert all("drop" in found for found in told)


def test_three_of_four_at_the_bow_is_told() -> None:
    chance = random.Random(9)
    told = [list(findings_of(night(chance, [60] * 3, bow_share=0.75))) for _ in range(10)]
    assert all("share" in found for found in told)


def test_a_run_that_stops_altogether_is_asked_about() -> None:
    taps = night(random.Random(4), [60, 60])
    silent = silent_from(Watch(taps[0].at), taps, RIG)
    assert silent is not None
    assert 5 * 60 < silent - taps[-1].at < 40 * 60


def test_the_pause_that_is_too_long_is_the_one_that_the_f_distribution_gives() -> None:
    # scipy.stats.f: the ratio of a gap to the mean of n gaps follows F(2, 2n)
    taps = [entry(60.0 * minute) for minute in range(1, 31)]
    silent = silent_from(Watch(0.0), taps, RIG)
    assert silent is not None
    ratio = (silent - 1800.0) / (1800.0 / 30)
    level = RIG.false_alarm_share / 4 / (30 * 31)
    assert stats.f.sf(ratio, 2, 60) == pytest.approx(level, rel=1e-9)


def test_a_pause_is_asked_about_once_and_not_before_three_entries() -> None:
    taps = [entry(60.0), entry(120.0), entry(180.0)]
    assert silent_from(Watch(0.0), taps[:2], RIG) is None
    assert silent_from(Watch(0.0), taps, RIG) is not None
    assert silent_from(Watch(0.0, told=("silence",)), taps, RIG) is None


def test_a_deep_lamp_that_pays_is_told_once_and_one_that_does_not_is_not() -> None:
    jumps, catch = (entry(360.0 * n, "deep") for n in range(1, 16)), (entry(300.0 * n) for n in range(20))
    paying = sorted([*jumps, *catch], key=lambda each: each.at)
    watch, told = Watch(0.0), []
    for place in range(1, len(paying) + 1):
        watch, found = look(watch, paying[:place], RIG, window_min=10, deep_since=0.0)
        told += [each.kind for each in found]
    assert told.count("keep") == 1
    _, found = look(
        Watch(0.0), [entry(2700.0, "deep"), entry(5400.0, "deep")], RIG, window_min=10, deep_since=0.0
    )
    assert not found


def test_windows_end_at_entries_and_are_as_long_as_they_were() -> None:
    row = [entry(0.0), entry(300.0), entry(660.0, "stern", 2), entry(660.0, amount=3), entry(1300.0)]
    found = windows(row, 0.0, 10)
    assert [(each.bow, each.stern, each.crew, each.minutes) for each in found] == [
        (4, 2, 6, 11.0),
        (1, 0, 1, pytest.approx(640 / 60)),
    ]


def test_unlike_measures_are_not_compared() -> None:
    mixed = [entry(60.0 * n, "bow", 9, "piece") for n in range(1, 40)]
    mixed += [entry(60.0 * n + 1, "stern", 1, "bucket") for n in range(1, 40)]
    _, found = look(Watch(0.0), sorted(mixed, key=lambda each: each.at), RIG, window_min=10)
    assert not found


def test_the_looks_of_a_night_go_on_counting_after_the_set_was_changed() -> None:
    watch = Watch(0.0, seen=4, looks=4, told=("drop",))
    again = begun_again(watch, 900.0)
    assert (again.since, again.seen, again.looks, again.told) == (900.0, 0, 4, ())
    assert watch_after(again, 1000.0, last_at=950.0) == again
    assert watch_after(again, 1000.0 + HOURS * 3600, last_at=950.0).looks == 0


def test_what_was_found_is_told_to_the_consultation_as_facts() -> None:
    share = Finding("share", "bow", 0.8, bow=16, stern=4)
    assert facts_of(share) == {"crew.bow_count": 16, "crew.stern_count": 4, "crew.one_sided": "bow"}
    drop = facts_of(Finding("drop", before_per_10min=14.6, now_per_10min=4.2))
    assert drop == {"catch.course": "faded", "catch.before_per_10min": 15, "catch.now_per_10min": 4}
    assert facts_of(Finding("silence")) == {"catch.course": "stopped"}
    assert facts_of(Finding("keep")) == {}
