"""Evidence in decibans: the arithmetic against published examples and a Bayesian network library.

Authorities: Good and Turing's decibans (General Report on Tunny, p. 39, READ; Good 1950, MEMORY); the
certainty factors of EMYCIN (van Melle's form as in lecture notes on MYCIN, READ; that they are
likelihood ratios: Heckerman 1986, MEMORY); pyagrum for posteriors.
"""

import math
import random
import warnings
from collections.abc import Callable
from dataclasses import replace
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rule_folders import rule, yes_or_no

from coach.diagnosis import Scales, Weighed, decibans, entropy_bits, named, probability, strongest_per_group
from coach.explain import sum_lines
from coach.model import Firing, Rulebook

DB = st.integers(-60, 60)
VOICES = st.lists(
    st.tuples(st.sampled_from("abcdefgh"), st.sampled_from("gh"), st.integers(-30, 30)), max_size=8
)


def weighed(db: int, voices: tuple[tuple[str, str, int], ...] = (), *, cause: str = "it") -> Weighed:
    evidence = strongest_per_group(voices)
    return Weighed(cause, db, db + sum(e.db for e in evidence if e.counted), evidence)


# --- decibans ----------------------------------------------------------------------------------------


def test_twenty_heads_speak_60_206_db_for_a_two_headed_coin_and_leave_odds_of_104_8576() -> None:
    # General Report on Tunny, p. 39 (READ): 3 x 20 = 60 dB, less 40 of prior, "100:1 on"
    heads = 20 * 10 * math.log10(1.0 / 0.5)
    prior = decibans(1 / 10_001)
    assert heads == pytest.approx(60.206, abs=5e-4)
    assert prior == pytest.approx(-40, abs=1e-9)
    p = probability(prior + heads)
    assert prior + heads == pytest.approx(20.206, abs=5e-4)
    assert p / (1 - p) == pytest.approx(104.8576, rel=1e-9)


@pytest.mark.parametrize(
    ("p", "db"), [(0.5, 0.0), (0.75, 4.77), (0.8, 6.02), (0.9, 9.54), (0.95, 12.79), (0.99, 19.96)]
)
def test_odds_of_a_probability_in_decibans(p: float, db: float) -> None:
    # the usual table of odds in decibans (Good 1950, MEMORY), to its two places
    assert decibans(p) == pytest.approx(db, abs=0.005)
    assert probability(db) == pytest.approx(p, abs=2e-4)


@given(st.floats(1e-9, 1 - 1e-9))
def test_probability_and_decibans_undo_each_other(p: float) -> None:
    assert probability(decibans(p)) == pytest.approx(p, rel=1e-9)


@pytest.mark.parametrize("p", [0.0, 1.0, -0.1, 1.1, math.nan, math.inf])
def test_certainty_has_no_odds(p: float) -> None:
    with pytest.raises(ValueError, match="allowed above 0 and below 1"):
        decibans(p)


@given(DB)
def test_uncertainty_is_one_bit_at_even_odds_and_less_on_either_side(db: int) -> None:
    assert entropy_bits(0) == 1
    assert entropy_bits(db) == pytest.approx(entropy_bits(-db), abs=1e-9)
    assert 0 <= entropy_bits(db) <= 1
    assert entropy_bits(abs(db) + 1) < entropy_bits(abs(db))


@pytest.mark.parametrize("db", [-300, 300])
def test_no_weight_is_too_great_to_be_uncertain_about(db: int) -> None:
    assert entropy_bits(db) == pytest.approx(0, abs=1e-12)


# --- certainty factors are likelihood ratios ---------------------------------------------------------


def emycin(x: float, y: float) -> float:
    """The combination of two certainty factors, van Melle's form (READ in lecture notes on MYCIN)."""
    if x >= 0 and y >= 0:
        return x + y - x * y
    if x < 0 and y < 0:
        return x + y + x * y
    return (x + y) / (1 - min(abs(x), abs(y)))


def as_db(factor: float) -> float:
    ratio = 1 / (1 - factor) if factor >= 0 else 1 + factor
    return 10 * math.log10(ratio)


def as_factor(db: float) -> float:
    ratio = math.pow(10, db / 10)
    return 1 - 1 / ratio if ratio >= 1 else ratio - 1


@given(st.floats(-0.999, 0.999), st.floats(-0.999, 0.999))
def test_certainty_factors_combine_as_their_decibans_add(x: float, y: float) -> None:
    assert as_factor(as_db(x) + as_db(y)) == pytest.approx(emycin(x, y), abs=1e-12)


@pytest.mark.parametrize(
    ("x", "y", "both"),
    [(0.5, 0.6, 0.8), (0.5, -0.6, -0.2), (-0.5, -0.6, -0.8), (0.8, 0.8, 0.96), (0.7, -0.7, 0)],
)
def test_the_worked_certainty_factors_come_out_of_adding_decibans(x: float, y: float, both: float) -> None:
    # .5 and .6: lecture notes (READ); the others computed by hand from van Melle's form
    assert as_factor(as_db(x) + as_db(y)) == pytest.approx(both, abs=1e-12)


@pytest.mark.parametrize(
    ("factor", "db"), [(0.2, 0.97), (0.5, 3.01), (0.6, 3.98), (0.8, 6.99), (0.9, 10.0), (0.95, 13.01)]
)
def test_certainty_factors_in_decibans(factor: float, db: float) -> None:
    # computed by hand: 10 log10 of 1/(1 - CF)
    assert as_db(factor) == pytest.approx(db, abs=0.005)


# --- adding it up ------------------------------------------------------------------------------------


def test_only_the_strongest_of_a_group_counts() -> None:
    evidence = strongest_per_group([("a", "g", 4), ("b", "g", -11), ("c", "g", 7), ("d", "h", 2)])
    assert [e.rule for e in evidence if e.counted] == ["b", "d"]


def test_of_two_equally_strong_the_earlier_counts() -> None:
    evidence = strongest_per_group([("a", "g", 7), ("b", "g", -7), ("c", "g", 7)])
    assert [e.rule for e in evidence if e.counted] == ["a"]


@given(VOICES)
def test_each_group_has_one_voice_and_none_louder_is_left_out(voices: list[tuple[str, str, int]]) -> None:
    evidence = strongest_per_group(voices)
    counted = [e for e in evidence if e.counted]
    assert sorted(e.group for e in counted) == sorted({group for _, group, _ in voices})
    assert all(abs(e.db) <= abs(c.db) for c in counted for e in evidence if e.group == c.group)


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(-30, 30)), max_size=6), st.randoms())
def test_the_sum_does_not_depend_on_the_order_of_the_evidence(
    pairs: list[tuple[int, int]], dice: random.Random
) -> None:
    # of two equal sizes the earlier counts by design; sizes are distinct here
    voices = [(f"r{at}", f"g{group}", db * 7 + at) for at, (group, db) in enumerate(pairs)]
    voices = [v for at, v in enumerate(voices) if abs(v[2]) not in {abs(w[2]) for w in voices[:at]}]
    shuffled = list(voices)
    dice.shuffle(shuffled)
    assert weighed(-10, tuple(voices)).db == weighed(-10, tuple(shuffled)).db


@given(st.lists(DB, max_size=6), st.integers(0, 6))
def test_evidence_may_be_added_up_in_parts(dbs: list[int], cut: int) -> None:
    voices = tuple((f"r{at}", f"g{at}", db) for at, db in enumerate(dbs))
    first = weighed(-10, voices[:cut])
    assert weighed(first.db, voices[cut:]).db == weighed(-10, voices).db
    odds = 0.1 * math.prod(math.pow(10, db / 10) for db in dbs)
    assert weighed(-10, voices).probability == pytest.approx(odds / (1 + odds), rel=1e-9)


def three(small_rules: Callable[..., Rulebook]) -> Rulebook:
    facts = "".join(yes_or_no(f"sign.{letter}") for letter in "abc")
    rules = (
        rule("a", "sign.a is yes", {"blunt": 7, "loose": -3}, group="one")
        + rule("b", "sign.b is yes", {"blunt": 5, "loose": 12}, group="one")
        + rule("c", "sign.c is yes", {"blunt": 9}, group="two")
    )
    return small_rules(facts=facts, rules=rules, causes={"blunt": -10, "loose": -12, "dull": -6})


def fired(*rules: str) -> list[Firing]:
    return [Firing(rule, ()) for rule in rules]


def test_a_cause_comes_to_its_prior_and_the_strongest_of_each_group(
    small_rules: Callable[..., Rulebook],
) -> None:
    found = Scales(three(small_rules)).weigh(fired("a", "b", "c"))
    assert {cause: w.db for cause, w in found.items()} == {
        "blunt": -10 + 7 + 9,
        "loose": -12 + 12,
        "dull": -6,
    }
    assert [(e.rule, e.counted) for e in found["blunt"].evidence] == [("a", True), ("b", False), ("c", True)]


def test_the_order_of_the_firings_does_not_matter(small_rules: Callable[..., Rulebook]) -> None:
    scales = Scales(three(small_rules))
    sums = [{c: w.db for c, w in scales.weigh(fired(*order)).items()} for order in permutations("abc")]
    assert all(each == sums[0] for each in sums)


def test_without_firings_every_cause_stands_at_its_prior(small_rules: Callable[..., Rulebook]) -> None:
    book = three(small_rules)
    assert {c: (w.db, w.evidence) for c, w in Scales(book).weigh([]).items()} == {
        cause: (known.prior_db, ()) for cause, known in book.causes.items()
    }


def test_the_lines_of_a_sum_add_up_to_what_is_shown(small_rules: Callable[..., Rulebook]) -> None:
    scales = Scales(three(small_rules))
    for rules in (("a", "b", "c"), ("b",), ()):
        for each in scales.weigh(fired(*rules)).values():
            *parts, total = sum_lines(each, scales)
            assert sum(int(line.split(" dB")[0]) for line in parts) == int(total.split(" dB")[0]) == each.db
            assert total.endswith(f": {100 * probability(each.db):.0f} in 100")


def test_each_line_of_a_sum_names_its_rule_and_where_it_is_from(small_rules: Callable[..., Rulebook]) -> None:
    scales = Scales(three(small_rules))
    lines = sum_lines(scales.weigh(fired("a", "b", "c"))["blunt"], scales)
    assert lines == [
        "-10 dB before anything is known",
        "+7 dB Rule a (invented)",
        "+9 dB Rule c (invented)",
        "+6 dB in all: 80 in 100",
    ]


# --- what deserves acting on ---------------------------------------------------------------------------


def spoken(cause: str, db: int, *, against_only: bool = False) -> Weighed:
    """A cause at `db` for which one rule speaks, or only against, on a sign of its own."""
    voice = -3 if against_only else 3
    return weighed(db - voice, (("r", f"sign of {cause}", voice),), cause=cause)


def names(book: Rulebook, *found: Weighed, wrong: bool = True) -> tuple[str, ...]:
    return named({each.cause: each for each in found}, book, something_is_wrong=wrong)


@pytest.fixture
def book(small_rules: Callable[..., Rulebook]) -> Rulebook:
    """Names from 0.5 (0 dB) on, one alone from 0.3 (-3.68 dB) on."""
    return small_rules(asking={"name_from": 0.5, "name_alone_from": 0.3})


def test_all_causes_from_the_threshold_on_are_named_the_likeliest_first(book: Rulebook) -> None:
    assert names(book, spoken("x", 0), spoken("y", 9), spoken("z", -1), spoken("w", 4)) == ("y", "w", "x")


def test_a_sign_that_a_found_cause_accounts_for_names_no_second_one(book: Rulebook) -> None:
    first = weighed(-10, (("looked", "own", 20), ("seen", "sign", 7)), cause="x")
    second = weighed(-5, (("seen too", "sign", 7),), cause="y")
    assert names(book, first, second) == ("x",)
    assert names(book, second) == ("y",)


def test_a_second_cause_with_evidence_of_its_own_is_named_beside_the_first(book: Rulebook) -> None:
    first = weighed(-10, (("looked", "own", 20), ("seen", "sign", 7)), cause="x")
    second = weighed(-10, (("looked there", "there", 14), ("seen too", "sign", 7)), cause="y")
    assert names(book, first, second) == ("x", "y")


def test_a_likely_second_cause_with_a_strong_sign_of_its_own_is_named_though_the_rest_is_explained(
    book: Rulebook,
) -> None:
    asking = book.asking | {"name_from": 0.5, "second_from": 0.75, "second_sign_db": 11}
    book = replace(book, asking=asking)
    first = weighed(-10, (("looked", "own", 20), ("seen", "sign", 7)), cause="x")
    strong = weighed(-13, (("looked there", "there", 11), ("seen too", "sign", 7)), cause="y")
    weak = weighed(-9, (("looked there", "there", 7), ("seen too", "sign", 7)), cause="y")
    unlikely = weighed(-14, (("looked there", "there", 11), ("seen too", "sign", 7)), cause="y")
    assert names(book, first, strong) == ("x", "y")
    assert names(book, first, weak) == ("x",)
    assert names(book, first, unlikely) == ("x",)


def test_one_just_below_is_named_alone_when_something_is_wrong_and_nothing_reaches_it(book: Rulebook) -> None:
    assert names(book, spoken("x", -3), spoken("y", -2)) == ("y",)
    assert names(book, spoken("x", -3), spoken("y", -2), wrong=False) == ()
    assert names(book, spoken("x", -4), spoken("y", -5)) == ()
    assert names(book, spoken("x", -3), spoken("y", 1)) == ("y",)


def test_what_no_rule_speaks_for_is_never_named(book: Rulebook) -> None:
    assert names(book, weighed(9, cause="x"), spoken("y", 9, against_only=True)) == ()
    overruled = weighed(20, (("for", "g", 3), ("against", "g", -9)), cause="x")
    assert names(book, overruled) == ()


# --- posteriors against a Bayesian network library ---------------------------------------------------


def agrum() -> Any:
    """The library, loaded where its own warnings fail no test."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pyagrum

    return pyagrum


@pytest.mark.parametrize("seed", range(20))
def test_posteriors_are_those_of_a_naive_bayesian_network(seed: int) -> None:
    gum, dice = agrum(), random.Random(seed)
    prior_db, signs = dice.randint(-20, 0), dice.randint(1, 6)
    net = gum.BayesNet("one cause and its signs")
    net.add(gum.LabelizedVariable("cause", "", 2))
    p = probability(prior_db)
    net.cpt("cause").fillWith([1 - p, p])
    voices, seen = [], {}
    for at in range(signs):
        name, p_if_not, db = f"sign{at}", dice.uniform(0.02, 0.5), dice.randint(-15, 15)
        p_if_so = min(0.98, p_if_not * math.pow(10, db / 10))
        net.add(gum.LabelizedVariable(name, "", 2))
        net.addArc("cause", name)
        net.cpt(name)[{"cause": 0}] = [1 - p_if_not, p_if_not]
        net.cpt(name)[{"cause": 1}] = [1 - p_if_so, p_if_so]
        voices.append(10 * math.log10(p_if_so / p_if_not))
        seen[name] = 1
    inference = gum.LazyPropagation(net)
    inference.setEvidence(seen)
    inference.makeInference()
    assert probability(prior_db + sum(voices)) == pytest.approx(inference.posterior("cause")[1], abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_whole_decibans_of_rules_give_the_networks_posterior(
    seed: int, small_rules: Callable[..., Rulebook]
) -> None:
    gum, dice = agrum(), random.Random(seed)
    weights = [dice.choice((-12, -7, -4, 4, 7, 12)) for _ in range(5)]
    prior_db = dice.randint(-16, -6)
    book = small_rules(
        facts="".join(yes_or_no(f"sign.n{at}") for at in range(5)), causes={"blunt": prior_db},
        rules="".join(rule(f"r{at}", f"sign.n{at} is yes", {"blunt": db}) for at, db in enumerate(weights)),
    )  # fmt: skip
    net = gum.BayesNet("one cause and its signs")
    net.add(gum.LabelizedVariable("cause", "", 2))
    p = probability(prior_db)
    net.cpt("cause").fillWith([1 - p, p])
    for at, db in enumerate(weights):
        net.add(gum.LabelizedVariable(f"n{at}", "", 2))
        net.addArc("cause", f"n{at}")
        p_if_not = 0.05 if db > 0 else 0.6
        p_if_so = p_if_not * math.pow(10, db / 10)
        net.cpt(f"n{at}")[{"cause": 0}] = [1 - p_if_not, p_if_not]
        net.cpt(f"n{at}")[{"cause": 1}] = [1 - p_if_so, p_if_so]
    inference = gum.LazyPropagation(net)
    inference.setEvidence({f"n{at}": 1 for at in range(5)})
    inference.makeInference()
    found = Scales(book).weigh(fired(*(f"r{at}" for at in range(5))))["blunt"]
    assert found.probability == pytest.approx(inference.posterior("cause")[1], abs=1e-12)
