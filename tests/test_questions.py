"""Which question is asked next: held against trying everything, and against other orders.

Authorities: the expected information of an answer is the mutual information of a Bayesian network
(pyagrum); the best tree of questions is found by dynamic programming in small_problems.
"""

import random
import warnings
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import small_problems
from rule_folders import NOW, rule, yes_or_no
from small_problems import Problem, evidence, problem, sign

from coach.diagnosis import probability
from coach.model import Rulebook, Scalar
from coach.rulebook.topics import GROUP as SPOKEN_OF

LIKELY = {True: 1.0, False: 1.0}


def two_signs(**second: Any) -> Problem:
    """Two signs of one cause that tell as much as each other."""
    rules = [
        evidence(f"{name}-{answer}", {f"sign.{name}": answer}, {"c": db})
        for name in "ab"
        for answer, db in ((True, 12), (False, -6))
    ]
    return problem({"c": -4}, [sign("sign.a", LIKELY), sign("sign.b", LIKELY, **second)], rules)


# --- what is asked -------------------------------------------------------------------------------------


def test_of_two_that_tell_as_much_the_one_that_is_less_trouble_is_asked() -> None:
    assert two_signs(trouble=2).best({}) == "sign.a"
    dearer_first = problem(
        {"c": -4}, [sign("sign.a", LIKELY, trouble=2), sign("sign.b", LIKELY)], two_signs().book.rules
    )
    assert dearer_first.best({}) == "sign.b"


def test_of_two_alike_the_first_in_the_rule_base_is_asked() -> None:
    assert two_signs().best({}) == "sign.a"


def test_of_two_alike_the_one_that_must_be_asked_anyway_comes_first() -> None:
    one = two_signs()
    assert one.planner.best(one.case({}), anyway=["sign.b"]) == "sign.b"


def test_beside_what_is_found_only_what_the_person_brought_up_is_asked_about() -> None:
    rules = [
        evidence("a-yes", {"sign.a": True}, {"found": 40}),
        evidence("b-yes", {"sign.b": True}, {"other": 11}),
        evidence("c-yes", {"sign.c": True}, {"other": 26}),
        evidence("c-no", {"sign.c": False}, {"other": -26}),
    ]
    signs = [sign(f"sign.{name}", LIKELY) for name in "abc"]
    one = problem({"found": -10, "other": -22}, signs, rules, second_sign_db=11)
    asked = one.case({"sign.a": True, "sign.b": True})
    bar: dict[str, Any] = {"likely_from": 0.15, "found": ("found",)}
    assert one.planner.best(asked, **bar) is None
    assert one.planner.best(replace(asked, told=["sign.a"]), **bar) is None
    assert one.planner.best(replace(asked, told=["sign.b"]), **bar) == "sign.c"


def test_a_sign_that_no_rule_reads_is_never_asked() -> None:
    one = two_signs()
    more = problem({"c": -4}, [sign("sign.idle", LIKELY), *one.signs], one.book.rules)
    assert [scored.candidate.fact for scored in more.planner.ranked(more.case({}))] == ["sign.a", "sign.b"]


def test_nothing_is_asked_below_the_least_that_is_worth_asking() -> None:
    one = two_signs()
    telling = one.planner.ranked(one.case({}))[0].bits
    assert telling > 0.01
    for key in ("least_bits", "least_bits_per_trouble"):
        assert problem({"c": -4}, one.signs, one.book.rules, **{key: telling * 1.01}).best({}) is None
        assert problem({"c": -4}, one.signs, one.book.rules, **{key: telling * 0.99}).best({}) == "sign.a"
    assert one.planner.best(one.case({}), factor=1e9) is None


def test_a_bar_for_idle_questions_need_not_hold_for_what_the_person_spoke_of() -> None:
    rules = [*two_signs().book.rules, evidence("talk", {"said.c": True}, {"c": 1}, group=SPOKEN_OF)]
    one = problem({"c": -4}, [*two_signs().signs, sign("said.c", {})], rules)
    case = one.case({"said.c": True})
    telling = one.planner.ranked(case)[0]
    assert telling.spoken == pytest.approx(telling.bits) and telling.bits > 0
    assert one.planner.ranked(one.case({}))[0].spoken == 0
    assert one.planner.best(case, factor=1e12) is None
    assert one.planner.best(case, factor=1e12, spoken_factor=1.0) == "sign.a"
    assert one.planner.best(one.case({}), factor=1e12, spoken_factor=1.0) is None


def test_a_question_waits_for_the_fact_that_gives_it_sense(small_rules: Callable[..., Rulebook]) -> None:
    facts = (
        yes_or_no("deep.down", yes=1, no=9) + yes_or_no("deep.paying").rstrip() + '\nonly_if = "deep.down"\n'
    )
    rules = rule("idle", "deep.paying is no", {"blunt": 20}) + rule("down", "deep.down is no", {"blunt": -9})
    one = Problem(small_rules(facts=facts, rules=rules, causes={"blunt": -6}))
    assert one.best({}) == "deep.down"
    assert one.best({"deep.down": True}) == "deep.paying"
    assert one.best({"deep.down": False}) is None
    assert one.best({}, closed=["deep.down"]) is None


@pytest.mark.parametrize("seed", range(60))
def test_nothing_is_asked_that_was_answered_or_may_not_be_asked(seed: int) -> None:
    dice = random.Random(seed)
    one = small_problems.scattered(
        dice, causes=dice.randint(1, 4), signs=dice.randint(2, 7), tangled=seed % 2 == 0
    )
    given: dict[str, Scalar] = {}
    closed: list[str] = []
    while (asked := one.best(given, closed)) is not None:
        assert asked not in given
        assert asked not in closed
        if dice.random() < 0.3:
            closed.append(asked)
        else:
            given[asked] = dice.choice(one.book.facts[asked].expect)[0]
    assert len(given) + len(closed) <= len(one.signs)


# --- what can no longer change the answer ------------------------------------------------------------------


def test_nothing_is_asked_when_every_cause_is_beyond_reach() -> None:
    rules = [evidence("yes", {"sign.a": True}, {"c": 5}), evidence("no", {"sign.a": False}, {"c": -5})]
    assert problem({"c": -6}, [sign("sign.a", LIKELY)], rules).best({}) is None
    assert problem({"c": -5}, [sign("sign.a", LIKELY)], rules).best({}) == "sign.a"


def test_answers_of_one_question_are_not_added_up() -> None:
    fact = sign("sign.a", {"low": 1, "high": 1})
    rules = [evidence("low", {"sign.a": "low"}, {"c": 5}), evidence("high", {"sign.a": "high"}, {"c": 5})]
    assert problem({"c": -8}, [fact], rules).best({}) is None


def test_what_was_heard_already_is_no_reason_to_ask_more() -> None:
    rules = [
        evidence("heard", {"sign.a": True}, {"c": 12}),
        evidence("more", {"sign.b": True}, {"c": 3}),
        evidence("less", {"sign.b": False}, {"c": -3}),
    ]
    one = problem({"c": -6}, [sign("sign.a", LIKELY), sign("sign.b", LIKELY)], rules)
    assert one.is_settled({"sign.a": True})
    assert one.best({"sign.a": True}) is None


def settled(tangled: bool, seeds: range) -> tuple[int, list[int]]:
    """How many random cases can only come to one end, and those in which something is asked still."""
    count, asked = 0, []
    for seed in seeds:
        dice = random.Random(seed)
        one = small_problems.scattered(
            dice, causes=dice.randint(1, 3), signs=dice.randint(2, 4), tangled=tangled
        )
        given = {fact.name: dice.choice(fact.expect)[0] for fact in one.signs if dice.random() < 0.4}
        if one.is_settled(given):
            count += 1
            if one.best(given) is not None:
                asked.append(seed)
    return count, asked


def test_nothing_is_asked_once_every_way_to_go_on_names_the_same_causes() -> None:
    count, asked = settled(False, range(400))
    assert count > 100
    assert not asked


def test_hardly_anything_is_asked_in_vain_where_groups_of_evidence_run_across_questions() -> None:
    # answers that exclude each other but speak in different groups cannot be told apart in little time
    count, asked = settled(True, range(400))
    assert count > 100
    assert len(asked) <= 0.05 * count


def test_what_could_still_change_the_answer_is_asked() -> None:
    open_cases = missed = 0
    for seed in range(400):
        dice = random.Random(seed)
        one = small_problems.scattered(dice, causes=dice.randint(1, 3), signs=dice.randint(2, 4))
        given = {fact.name: dice.choice(fact.expect)[0] for fact in one.signs if dice.random() < 0.4}
        if not one.is_settled(given):
            open_cases += 1
            missed += one.best(given) is None
    assert open_cases > 100
    # weights are rounded to whole decibans: an answer may then be expected to tell nothing at all
    assert missed <= 0.01 * open_cases


# --- figures ---------------------------------------------------------------------------------------------

OUTLOOK = """
[[outlook]]
id = "height"
shows = ["left.too_high_ft"]
cases = [[0, 1], [3, 1]]
"""
HIGH = rule("high", "left.too_high_ft at least 2", {"blunt": 20}) + rule(
    "right", "left.too_high_ft less than 1", {"blunt": -9}
)


def height(small_rules: Callable[..., Rulebook]) -> Problem:
    return Problem(small_rules(facts="", rules=HIGH, worked_out=OUTLOOK, causes={"blunt": -6}))


def test_a_missing_input_of_a_figure_becomes_the_question(small_rules: Callable[..., Rulebook]) -> None:
    one = height(small_rules)
    assert one.best({}) == "water.depth_ft"
    assert one.best({"water.depth_ft": 11.0}) == "lamps.clip_left_ft"
    assert one.best({"lamps.clip_left_ft": 3.0}) == "water.depth_ft"
    assert one.best({"water.depth_left_ft": 11.0}) == "lamps.clip_left_ft"


def test_a_figure_that_is_worked_out_or_out_of_reach_is_not_asked_for(
    small_rules: Callable[..., Rulebook],
) -> None:
    one = height(small_rules)
    assert one.best({"water.depth_ft": 11.0, "lamps.clip_left_ft": 6.0}) is None
    assert one.best({}, closed=["lamps.clip_left_ft"]) is None


def test_the_trouble_of_a_figure_is_that_of_all_it_still_needs(small_rules: Callable[..., Rulebook]) -> None:
    one = height(small_rules)
    (both,) = one.planner.ranked(one.case({}))
    (last,) = one.planner.ranked(one.case({"water.depth_ft": 11.0}))
    depth, clip = (one.book.facts[name].trouble for name in ("water.depth_ft", "lamps.clip_left_ft"))
    assert (both.candidate.trouble, last.candidate.trouble) == (depth + clip, clip)
    assert both.bits == pytest.approx(last.bits)


# --- how much an answer tells ------------------------------------------------------------------------------


def network(prior_db: int, weights: dict[str, tuple[int, int]]) -> tuple[Any, Any]:
    """A cause and its yes-or-no signs as a Bayesian network: yes speaks up, no speaks down [dB]."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pyagrum as gum

    net, p = gum.BayesNet(), probability(prior_db)
    net.add(gum.LabelizedVariable("cause", "", 2))
    net.cpt("cause").fillWith([1 - p, p])
    for name, (up, down) in weights.items():
        if_so, if_not = small_problems.chances(up, down)
        net.add(gum.LabelizedVariable(name, "", 2))
        net.addArc("cause", name)
        net.cpt(name)[{"cause": 0}] = [1 - if_not, if_not]
        net.cpt(name)[{"cause": 1}] = [1 - if_so, if_so]
    return gum, net


def one_cause(prior_db: int, weights: dict[str, tuple[int, int]]) -> Problem:
    signs = [sign(f"sign.{n}", small_problems.expected(prior_db, *w)) for n, w in weights.items()]
    rules = [
        evidence(f"{n}-{answer}", {f"sign.{n}": answer}, {"c": db}, group=n)
        for n, (up, down) in weights.items()
        for answer, db in ((True, up), (False, -down))
    ]
    return problem({"c": prior_db}, signs, rules)


@pytest.mark.parametrize("seed", range(25))
def test_the_expected_information_is_the_mutual_information_of_a_bayesian_network(seed: int) -> None:
    dice = random.Random(seed)
    weights = {name: (dice.randint(8, 20), dice.randint(8, 20)) for name in ("s0", "s1")}
    prior_db = -dice.randint(1, 8)
    one = one_cause(prior_db, weights)
    gum, net = network(prior_db, weights)
    before = {scored.candidate.fact: scored.bits for scored in one.planner.ranked(one.case({}))}
    for name in weights:
        told = gum.InformationTheory(gum.LazyPropagation(net), ["cause"], [name]).mutualInformationXY()
        assert before[f"sign.{name}"] == pytest.approx(told, abs=1e-9)


def bayes(prior_db: int, weights: dict[str, tuple[int, int]], seen: dict[str, int]) -> float:
    """The network's chance that the cause holds after what was seen."""
    gum, net = network(prior_db, weights)
    inference = gum.LazyPropagation(net)
    inference.setEvidence(seen)
    inference.makeInference()
    chance: float = inference.posterior("cause")[1]
    return chance


@pytest.mark.parametrize("answer", [True, False])
def test_after_an_answer_the_information_of_the_next_is_that_of_the_network(answer: bool) -> None:
    weights, prior_db = {"s0": (9, 4), "s1": (16, 7)}, -6
    one = one_cause(prior_db, weights)
    gum, net = network(prior_db, weights)
    inference = gum.LazyPropagation(net)
    inference.setEvidence({"s0": int(answer)})
    inference.makeInference()
    told = gum.InformationTheory(inference, ["cause"], ["s1"]).mutualInformationXY()
    case = one.case({"sign.s0": answer})
    (scored,) = one.planner.ranked(case)
    assert case.weighed["c"].probability == pytest.approx(
        bayes(prior_db, weights, {"s0": int(answer)}), abs=1e-12
    )
    assert scored.bits == pytest.approx(told, abs=1e-9)


# --- how good the order is -----------------------------------------------------------------------------


def test_shaking_every_weight_by_three_decibans_leaves_the_question_among_the_best_in_nine_cases_of_ten() -> (
    None
):
    # de Kleer 1990 (abstract READ): crude probabilities are enough to pick a measurement
    shaken = among_the_best = 0
    for seed in range(120):
        dice = random.Random(seed)
        one = small_problems.whole_strengths(
            dice, (7, 11, 18, 26), causes=dice.randint(2, 5), signs=dice.randint(3, 7)
        )
        chosen = one.best({})
        if chosen is None:
            continue
        for _ in range(3):
            other = small_problems.shaken(one, dice)
            worth = {
                s.candidate.fact: s.bits / s.candidate.trouble for s in other.planner.ranked(other.case({}))
            }
            shaken += 1
            among_the_best += worth[chosen] >= 0.9 * max(worth.values())
    assert shaken > 300
    assert among_the_best >= 0.9 * shaken


@pytest.fixture(scope="module")
def single_faults() -> list[small_problems.SingleFault]:
    """Forty problems of six causes and seven questions without noise."""
    return [small_problems.single_fault(random.Random(seed)) for seed in range(40)]


def test_questions_come_within_a_tenth_of_the_best_tree(
    single_faults: list[small_problems.SingleFault],
) -> None:
    taken = [small_problems.mean_questions(one, small_problems.most_telling(one)) for one in single_faults]
    fewest = [small_problems.fewest_questions(one) for one in single_faults]
    assert all(t >= f - 1e-9 for t, f in zip(taken, fewest, strict=True))
    assert sum(taken) <= 1.1 * sum(fewest)


def test_no_other_order_needs_fewer_questions(single_faults: list[small_problems.SingleFault]) -> None:
    dice = random.Random(1)
    taken = sum(small_problems.mean_questions(one, small_problems.most_telling(one)) for one in single_faults)
    others = [small_problems.as_written, small_problems.likeliest_first]
    for order in (*others, lambda one: small_problems.by_chance(one, dice)):
        assert taken < sum(small_problems.mean_questions(one, order(one)) for one in single_faults)


def test_time_matters_only_as_it_is_told() -> None:
    one = two_signs()
    assert one.case({}).now == NOW
    assert one.best({}) == one.best({})
