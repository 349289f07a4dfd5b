"""The engine, the plain evaluator and the oracle agree on what clauses mean and which facts are none.

Expected values are worked out by hand beside the test, or come from `oracle.py`, an evaluator written
independently of the product. Set ENGINE_TEST_BASES for more random rule bases than the default.
"""

import os

import oracle
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from rulebases import SMALL, needs, random_base, random_facts, require_agreement

from coach.engine import Engine
from coach.model import Clause, Firing, Inference, Pattern
from coach.plain import PlainEvaluator, evaluate_plainly

BASES = int(os.environ.get("ENGINE_TEST_BASES", "300"))


def rules_fired(inference):
    return [firing.rule for firing in inference.firings]


@pytest.fixture(params=["worker", "in process", "plain"])
def evaluate(request):
    """Each evaluator's `evaluate`, after it was built from some clauses."""
    if request.param == "plain":
        yield lambda clauses, facts: PlainEvaluator(clauses).evaluate(facts)
        return
    engines = []

    def with_engine(clauses, facts):
        engines.append(Engine(clauses, isolated=request.param == "worker"))
        return engines[-1].evaluate(facts)

    yield with_engine
    for engine in engines:
        engine.close()


# --- meaning, worked out by hand ----------------------------------------------------------------


def test_conclusions_chain_and_each_firing_names_the_facts_it_stood_on(evaluate):
    assert evaluate(SMALL, {"depth_ft": 11, "tide": "falling"}) == Inference(
        (
            Firing("deep", (("depth_ft", 11.0),)),
            Firing("deep-and-falling", (("is.deep", True), ("tide", "falling"))),
        ),
        {"depth_ft": 11.0, "tide": "falling", "is.deep": True, "run": True},
    )


def test_a_denial_is_judged_only_when_nothing_can_conclude_the_denied_any_more(evaluate):
    assert rules_fired(evaluate(SMALL, {"tide": "rising"})) == ["not-falling"]
    assert rules_fired(evaluate(SMALL, {})) == ["nothing-known"]


def test_whole_numbers_become_floats_and_equal_them(evaluate):
    inference = evaluate(SMALL, {"depth_ft": 5})
    assert rules_fired(inference) == ["any-depth", "nothing-known"]
    assert type(inference.facts["depth_ft"]) is float
    assert type(inference.firings[0].because[0][1]) is float


def test_true_is_not_the_number_one(evaluate):
    one = [
        Clause("one", needs("n", "==", 1)),
        Clause("yes", needs("b", "==", True)),
    ]
    assert rules_fired(evaluate(one, {"n": 1.0, "b": True})) == ["one", "yes"]
    for facts in ({"n": True}, {"b": 1}, {"b": 1.0}):
        with pytest.raises(TypeError):
            evaluate(one, facts)


def test_a_given_fact_keeps_its_value_when_a_clause_concludes_it(evaluate):
    inference = evaluate(SMALL, {"depth_ft": 9, "is.deep": False})
    assert inference.facts["is.deep"] is False
    assert rules_fired(inference)[0] == "deep"


def test_facts_no_clause_reads_stay_in_the_result(evaluate):
    assert evaluate(SMALL, {"other": "x", "more": 3}).facts == {"other": "x", "more": 3.0}


def test_firings_come_in_rounds_and_then_in_the_order_of_the_clauses(evaluate):
    chain = [
        Clause("third", (Pattern("b"),)),
        Clause("second", (Pattern("a"),), (), ("b",)),
        Clause("first-too", (Pattern("x"),)),
        Clause("first", (Pattern("x"),), (), ("a",)),
    ]
    assert rules_fired(evaluate(chain, {"x": True})) == ["first-too", "first", "second", "third"]


def test_conclusions_that_need_each_other_do_not_arise_from_nothing(evaluate):
    ring = [Clause("ab", (Pattern("a"),), (), ("b",)), Clause("ba", (Pattern("b"),), (), ("a",))]
    assert rules_fired(evaluate(ring, {})) == []
    assert rules_fired(evaluate(ring, {"b": True})) == ["ba", "ab"]


@pytest.mark.parametrize("below", [7.999999999999998, -0.0, 0.0, 5e-324, -1e15, 1e-300])
def test_a_threshold_parts_even_the_nearest_floats(evaluate, below):
    assert rules_fired(evaluate(SMALL, {"depth_ft": below})) == ["nothing-known"]
    assert rules_fired(evaluate(SMALL, {"depth_ft": 8.000000000000002})) == ["deep", "nothing-known"]


def test_lists_without_a_value_in_common_never_match(evaluate):
    clauses = [
        Clause("never", (*needs("x", "in", (1, 2)), *needs("x", "in", (3, 4)))),
        Clause("any", (Pattern("x"),)),
    ]
    assert rules_fired(evaluate(clauses, {"x": 2})) == ["any"]


# --- agreement with the oracle ------------------------------------------------------------------


@pytest.mark.parametrize("block", range(10))
def test_both_evaluators_agree_with_the_oracle_on_random_rule_bases(block):
    fired = 0
    for seed in range(block, BASES, 10):
        clauses = random_base(seed)
        fired += require_agreement(clauses, [random_facts(clauses, 100 * seed + turn) for turn in range(8)])
    assert fired > BASES  # a test in which little fires proves little


def test_the_engine_in_its_worker_agrees_with_the_oracle_on_random_rule_bases():
    for seed in range(1000, 1015):
        clauses = random_base(seed)
        cases = [random_facts(clauses, 100 * seed + turn) for turn in range(8)]
        require_agreement(clauses, cases, isolated=True)


def test_what_if_says_what_a_new_evaluation_would():
    for seed in range(BASES):
        clauses = random_base(seed)
        evaluator = PlainEvaluator(clauses)
        given = random_facts(clauses, seed)
        standing = evaluator.standing(given)
        now = {firing.rule for firing in oracle.evaluate(clauses, given).firings}
        for turn in range(6):
            others = random_facts(clauses, 1000 * seed + turn)
            changes = dict(list(others.items())[-1 - turn % 3 :])
            then = oracle.evaluate(clauses, given | changes).firings
            difference = standing.what_if(changes)
            assert difference.gained == {firing for firing in then if firing.rule not in now}
            assert difference.lost == now - {firing.rule for firing in then}


def test_what_if_keeps_a_conclusion_that_would_be_given_though_its_grounds_would_go():
    clauses = [Clause("a", needs("x", "==", True), (), ("d",)), Clause("b", (Pattern("d"),))]
    standing = PlainEvaluator(clauses).standing({"x": True})
    assert standing.what_if({"x": False}).lost == {"a", "b"}
    assert standing.what_if({"x": False, "d": True}).lost == {"a"}


def test_what_if_leaves_the_standing_as_it_was():
    standing = PlainEvaluator(SMALL).standing({"depth_ft": 11})
    before = standing.inference
    difference = standing.what_if({"tide": "falling"})
    assert {firing.rule for firing in difference.gained} == {"deep-and-falling"}
    assert difference.lost == {"nothing-known"}
    assert standing.inference == before == evaluate_plainly(SMALL, {"depth_ft": 11})
    assert standing.what_if({"tide": "falling"}) == difference


# --- facts that must be refused -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "error"),
    [
        (None, TypeError),
        ([], TypeError),
        ({}, TypeError),
        (b"x", TypeError),
        (1j, TypeError),
        (float("nan"), ValueError),
        (float("inf"), ValueError),
        (-float("inf"), ValueError),
        (1.0000000000000002e15, ValueError),
        (10**400, ValueError),
        ("x" * 1001, ValueError),
        ("\ud800", ValueError),
    ],
)
def test_a_value_that_is_no_fact_is_refused_by_name_by_every_evaluator(evaluate, value, error):
    with pytest.raises(error, match=r"'whatever'"):
        evaluate(SMALL, {"whatever": value})
    with pytest.raises(error, match=r"'whatever'"):
        PlainEvaluator(SMALL).standing({}).what_if({"whatever": value})


@pytest.mark.parametrize("facts", [{"depth_ft": "8"}, {"tide": 3}, {"is.deep": 1}, {"light": "true"}])
def test_a_value_of_another_kind_than_its_tests_is_refused_by_name(evaluate, facts):
    with pytest.raises(TypeError, match=repr(next(iter(facts)))):
        evaluate(SMALL, facts)


@pytest.fixture(scope="module")
def one_worker():
    with Engine(SMALL) as engine:
        engine.evaluate({})
        yield engine


any_text = some.text(some.characters(codec=None, exclude_categories=()))
anything = some.recursive(
    some.none() | some.booleans() | some.integers() | some.floats() | any_text,
    lambda inner: some.lists(inner, max_size=2) | some.dictionaries(some.text(), inner, max_size=2),
    max_leaves=3,
)
number = some.floats(-1e15, 1e15) | some.integers(-(10**15), 10**15) | some.sampled_from([3, 5, 8, 1e-320])
word = some.text() | some.sampled_from(["falling", "", "\x00", '"', "\\", "\u2028", "\U0001f990", "x" * 1000])
hostile_facts = some.fixed_dictionaries(
    {},
    optional={
        "depth_ft": number,
        "tide": word,
        "light": some.booleans(),
        "is.deep": some.booleans(),
        "whatever": number | word,
    },
) | some.dictionaries(
    some.sampled_from(["depth_ft", "tide", "light", "whatever", "is.deep", "run"]) | any_text,
    anything,
    max_size=4,
)


@settings(max_examples=500, deadline=None, derandomize=True)
@given(facts=hostile_facts)
def test_no_fact_whatever_crashes_the_worker_or_makes_it_wrong(one_worker, facts):
    pid = one_worker.worker_pid
    try:
        inference = one_worker.evaluate(facts)
    except (TypeError, ValueError):
        assert any(not is_legal(name, value) for name, value in facts.items())
    else:
        assert all(is_legal(name, value) for name, value in facts.items())
        assert inference == oracle.evaluate(SMALL, facts)
    assert one_worker.worker_pid == pid


def is_legal(name, value):
    kind = {"depth_ft": (int, float), "tide": str, "light": bool, "is.deep": bool, "run": bool}.get(name)
    if isinstance(value, str):
        scalar = len(value) <= 1000 and not any(0xD800 <= ord(sign) < 0xE000 for sign in value)
    else:
        scalar = isinstance(value, bool) or (isinstance(value, int | float) and abs(value) <= 1e15)
    of_the_kind = kind is None or isinstance(value, kind)
    return scalar and of_the_kind and not (name == "depth_ft" and isinstance(value, bool))
