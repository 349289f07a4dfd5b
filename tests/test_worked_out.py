"""The figures that rules may use: each against the trade's own sums, the calculators or scipy.

"Common practice": clip height = depth - 8 ft, a lit band 5 ft thick; the worked numbers beside the
checks follow from these by hand.
"""

import random
from collections.abc import Mapping
from datetime import datetime, timedelta, timezone
from functools import cache

import legal_facts
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rule_folders import VOCABULARY
from scipy import stats

from coach import rulebook
from coach.figures.light import circle_of_secchi, circle_of_word
from coach.model import Rulebook, Scalar
from coach.rulebook import clauses
from coach.worked_out import Figures

NOW = datetime(2027, 2, 11, 21, 5, tzinfo=timezone(timedelta(hours=-5)))
READ = [
    name for name in VOCABULARY["facts"] if name.startswith(("water.", "tide.", "lamps.", "crew.", "catch."))
]
"""The facts of the vocabulary among which figures find their inputs."""


@cache
def book() -> Rulebook:
    return rulebook.load()


@cache
def shipped_figures() -> Figures:
    return Figures(book().facts, book().numbers)


def worked(facts: Mapping[str, Scalar]) -> dict[str, Scalar]:
    return shipped_figures().work_out(facts, now=NOW)


def lamps(depth: float, left: float, right: float | None = None, **more: Scalar) -> dict[str, Scalar]:
    facts: dict[str, Scalar] = {"water.depth_ft": depth, "lamps.clip_left_ft": left}
    if right is not None:
        facts["lamps.clip_right_ft"] = right
    return facts | {name.replace("__", "."): value for name, value in more.items()}


# --- the height of a lamp --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("clip_ft", "lamp_depth_ft", "dark_ft", "under_ft", "too_high_ft"),
    [(3, 8, 5.5, 0.5, 0), (7, 4, 1.5, 4.5, 4), (1, 10, 7.5, 0, -2), (11, 0, 0, 8.5, 8)],
)
def test_in_eleven_feet_the_bands_are_those_of_the_trade(
    clip_ft: float, lamp_depth_ft: float, dark_ft: float, under_ft: float, too_high_ft: float
) -> None:
    # common practice: in 11 ft 3 ft of clip leave 5.5 above and 0.5 below; 4 ft too high 1.5 and 4.5
    found = worked(lamps(11, clip_ft))
    assert found["left.clip_advised_ft"] == 3
    assert found["left.lamp_depth_ft"] == lamp_depth_ft
    assert found["left.dark_band_ft"] == dark_ft
    assert found["left.under_path_ft"] == under_ft
    assert found["left.under_over_dark_ft"] == under_ft - dark_ft
    assert found["left.too_high_ft"] == too_high_ft


def test_a_fall_of_a_foot_and_a_half_brings_the_lamp_up_by_as_much() -> None:
    # common practice: in 11 ft with 3 ft of clip 8 ft down, 6.5 after a 1.5 ft fall
    found = worked(lamps(9.5, 3, tide__fall_since_set_ft=1.5))
    assert found["level.change_ft"] == 1.5
    assert found["left.depth_when_set_ft"] == 11
    assert found["left.lamp_depth_when_set_ft"] == 8
    assert found["left.lamp_depth_ft"] == 6.5
    assert found["left.dark_band_when_set_ft"] == 5.5
    assert found["left.dark_band_ft"] == 4
    assert (found["left.too_high_when_set_ft"], found["left.too_high_ft"]) == (0, 1.5)


def test_where_there_is_no_tide_the_level_stands() -> None:
    assert worked(lamps(11, 3, tide__state="none"))["level.change_ft"] == 0
    assert "level.change_ft" not in worked(lamps(11, 3, tide__state="falling"))


@pytest.mark.parametrize("above", ["boat", "anchor_line"])
def test_a_lamp_hung_from_above_keeps_its_depth(above: str) -> None:
    found = worked(lamps(9.5, 3, tide__fall_since_set_ft=1.5, lamps__hung_from=above))
    assert found["left.too_high_when_set_ft"] == found["left.too_high_ft"] == 1.5


def test_the_depth_under_the_boat_stands_in_where_a_lamps_own_is_not_known() -> None:
    found = worked(lamps(11, 3, 3, water__depth_left_ft=9))
    assert (found["left.depth_ft"], found["right.depth_ft"]) == (9, 11)
    assert (found["left.clip_advised_ft"], found["right.clip_advised_ft"]) == (1, 3)


def test_the_higher_and_the_lower_lamp_are_told_apart() -> None:
    found = worked(lamps(11, 5, 2, tide__fall_since_set_ft=1))
    assert (found["lamps.highest_ft"], found["lamps.lowest_ft"]) == (2, -1)
    assert (found["lamps.highest_when_set_ft"], found["lamps.lowest_when_set_ft"]) == (1, -2)
    alone = worked(lamps(11, 5))
    assert alone["lamps.highest_ft"] == alone["lamps.lowest_ft"] == 2


@pytest.mark.parametrize("depth_ft", [5.9, 23.1])
def test_where_the_sum_has_no_clip_height_nothing_is_too_high(depth_ft: float) -> None:
    # assumption of the trade: no clip height under 6 ft or over 23 ft
    found = worked(lamps(depth_ft, 3))
    assert not {"left.clip_advised_ft", "left.too_high_ft"} & set(found)
    assert "left.lamp_depth_ft" in found


@pytest.mark.parametrize("fall_ft", [12, -12])
def test_a_fall_that_leaves_the_limits_says_nothing_about_when_it_was_set(fall_ft: float) -> None:
    found = worked(lamps(55 if fall_ft > 0 else 8, 3, tide__fall_since_set_ft=fall_ft))
    assert not [name for name in found if "when_set" in name]


@given(st.integers(90, 150), st.integers(5, 40))
def test_a_lamp_is_exactly_as_much_too_high_as_the_tenths_say(depth: int, over: int) -> None:
    # 11.2 ft and 4.7 ft of clip make 1.5, not 1.4999999999999996: the rule says "at least 1.5"
    clip_ft = (depth - 80 + over) / 10
    found = worked(lamps(depth / 10, clip_ft))
    assert found["left.too_high_ft"] == over / 10 or depth >= 160


# --- circles -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("word", ["clear", "stained", "murky"])
def test_a_word_for_the_water_gives_the_calculators_circle(word: str) -> None:
    assert worked({"water.clarity": word})["lamps.circle_ft"] == pytest.approx(
        circle_of_word(word, shipped_figures().rig).value, abs=1e-9
    )


def test_a_measured_disc_beats_the_word() -> None:
    found = worked({"water.clarity": "clear", "water.secchi_ft": 2.0})
    assert found["lamps.circle_ft"] == pytest.approx(
        circle_of_secchi(2.0, shipped_figures().rig).value, abs=1e-9
    )


def test_gaps_are_distances_less_radii() -> None:
    # geometry by hand
    found = worked(
        {"water.clarity": "clear", "lamps.apart_ft": 20, "lamps.out_left_ft": 12, "lamps.out_right_ft": 8.5}
    )
    across = found["lamps.circle_ft"]
    assert isinstance(across, float)
    assert found["lamps.centre_gap_ft"] == pytest.approx(20 - across, abs=1e-9)
    assert found["left.hull_gap_ft"] == pytest.approx(12 - across / 2, abs=1e-9)
    assert found["right.hull_gap_ft"] == pytest.approx(8.5 - across / 2, abs=1e-9)
    assert found["lamps.reach_difference_ft"] == 3.5


# --- counts ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("bow", "stern"), [(44, 3), (11, 8), (6, 39), (0, 1), (500, 450), (0, 100_000)])
def test_shares_and_their_luck_are_those_of_the_exact_binomial_test(bow: int, stern: int) -> None:
    # scipy.stats.binomtest
    found = worked({"crew.bow_count": float(bow), "crew.stern_count": float(stern)})
    assert found["crew.lifted"] == bow + stern
    assert found["crew.bow_share"] == pytest.approx(bow / (bow + stern), abs=1e-9)
    assert found["crew.share_p"] == pytest.approx(stats.binomtest(bow, bow + stern, 0.5).pvalue, abs=1e-9)


def test_nothing_lifted_has_no_shares() -> None:
    found = worked({"crew.bow_count": 0.0, "crew.stern_count": 0.0})
    assert found["crew.lifted"] == 0
    assert not {"crew.bow_share", "crew.share_p"} & set(found)


@pytest.mark.parametrize(("before", "now"), [(30, 5), (30, 29), (4, 0), (0, 4), (2500, 2400)])
def test_a_drop_and_its_luck_are_those_of_the_conditional_test(before: int, now: int) -> None:
    # one count among both over equal times (Przyborowski & Wilenski 1940): scipy.stats.binomtest
    found = worked({"catch.before_per_10min": float(before), "catch.now_per_10min": float(now)})
    assert found["catch.drop_p"] == pytest.approx(stats.binomtest(now, before + now, 0.5).pvalue, abs=1e-9)
    assert found.get("catch.kept_share") == (pytest.approx(now / before) if before else None)


@pytest.mark.parametrize("before", [5e-324, 1e-14, 0.0])
def test_a_share_of_next_to_nothing_is_no_figure(before: float) -> None:
    found = worked({"catch.before_per_10min": before, "catch.now_per_10min": 40.0})
    assert "catch.kept_share" not in found
    assert "catch.drop_p" in found


def test_minutes_to_low_water_are_counted_until_it_is_past() -> None:
    low = NOW + timedelta(minutes=95)
    assert worked({"tide.low_at": low.isoformat()})["tide.minutes_to_low"] == 95
    elsewhere = low.astimezone(timezone(timedelta(hours=3)))
    assert worked({"tide.low_at": elsewhere.isoformat()})["tide.minutes_to_low"] == 95
    assert "tide.minutes_to_low" not in worked({"tide.low_at": (NOW - timedelta(minutes=1)).isoformat()})


# --- what is missing, and in which order ---------------------------------------------------------------


def test_the_facts_that_a_figure_still_needs_are_named() -> None:
    missing = shipped_figures().missing
    assert missing("left.too_high_ft", {}, ()) == ("water.depth_ft", "lamps.clip_left_ft")
    assert missing("left.too_high_ft", worked({"water.depth_ft": 11.0}), ()) == ("lamps.clip_left_ft",)
    assert missing("left.too_high_ft", worked({"water.depth_left_ft": 11.0}), ()) == ("lamps.clip_left_ft",)
    assert missing("lamps.centre_gap_ft", {}, ()) == ("lamps.apart_ft", "water.clarity")
    assert missing("left.too_high_ft", worked(lamps(11, 3)), ()) == ()


def test_a_figure_that_needs_what_may_not_be_asked_is_out_of_reach() -> None:
    assert shipped_figures().missing("left.too_high_ft", {}, ("lamps.clip_left_ft",)) is None
    assert shipped_figures().missing("something.is_wrong", {}, ()) is None


@settings(max_examples=60)
@given(legal_facts.facts(names=READ), st.randoms())
def test_the_order_in_which_facts_are_stated_does_not_matter(
    facts: dict[str, Scalar], dice: random.Random
) -> None:
    shuffled = list(facts.items())
    dice.shuffle(shuffled)
    assert worked(dict(shuffled)) == worked(facts)


@settings(max_examples=150)
@given(legal_facts.facts(names=READ, max_size=20))
def test_no_legal_facts_are_too_odd_to_be_worked_on(facts: dict[str, Scalar]) -> None:
    found = worked(facts)
    assert {name: found[name] for name in facts} == facts
    assert all(isinstance(value, bool | str) or abs(value) <= 1e15 for value in found.values())


HEIGHT = [
    "water.depth_ft",
    "water.depth_left_ft",
    "tide.fall_since_set_ft",
    "tide.state",
    "lamps.clip_left_ft",
    "lamps.hung_from",
]
"""The facts behind a lamp's height, where one figure stands on the other."""


@settings(max_examples=300)
@given(
    legal_facts.facts(names=READ, max_size=14) | legal_facts.facts(names=HEIGHT),
    legal_facts.facts(names=READ, max_size=2) | legal_facts.facts(names=HEIGHT, max_size=2),
)
def test_working_out_again_what_changes_is_working_it_all_out(
    facts: dict[str, Scalar], changes: dict[str, Scalar]
) -> None:
    known = worked(facts)
    fresh = worked({**facts, **changes})
    again = {**known, **shipped_figures().again(known, changes, now=NOW)}
    vanished = {name for name in known if name not in fresh}
    assert {name: value for name, value in again.items() if name not in vanished} == fresh


@settings(max_examples=300)
@given(
    st.fixed_dictionaries({name: legal_facts.answers(name) for name in HEIGHT}),
    legal_facts.facts(names=HEIGHT, max_size=2),
)
def test_what_is_worked_out_again_is_nothing_but_what_follows(
    facts: dict[str, Scalar], changes: dict[str, Scalar]
) -> None:
    again = shipped_figures().again(worked(facts), changes, now=NOW)
    fresh = worked({**facts, **changes})
    assert {name: fresh.get(name) for name in again} == again


def test_every_figure_is_declared_as_one_and_every_declared_one_is_worked_out() -> None:
    given_by_the_program = {"chat.open", "catch.row", "facts.stood_in"}
    declared = {
        name
        for name, fact in book().facts.items()
        if fact.origin == "computed" and fact.file == "worked_out.toml"
    }
    given = {each.gives for each in shipped_figures().sums if not each.stands_in}
    assert given == declared - given_by_the_program


def test_only_what_people_can_tell_has_a_stand_in() -> None:
    stand_ins = {each.gives for each in shipped_figures().sums if each.stands_in}
    assert stand_ins
    assert all(book().facts[name].origin == "asked" for name in stand_ins)


def test_a_figure_that_is_not_declared_is_refused_by_name() -> None:
    facts = {name: fact for name, fact in book().facts.items() if name != "left.too_high_ft"}
    with pytest.raises(ValueError, match=r"left\.too_high_ft"):
        Figures(facts, book().numbers)


def test_a_fact_that_a_figure_needs_and_nobody_declares_is_refused_by_name() -> None:
    facts = {name: fact for name, fact in book().facts.items() if name != "water.secchi_ft"}
    with pytest.raises(ValueError, match="water_secchi_ft"):
        Figures(facts, book().numbers)


def test_figures_meet_the_rules_as_numbers_of_the_same_name() -> None:
    read = {pattern.fact for clause in clauses(book()) for pattern in (*clause.when, *clause.unless)}
    assert {each.gives for each in shipped_figures().sums} & read
