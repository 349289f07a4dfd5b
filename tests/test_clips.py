"""CLIPS, the rule engine that NASA began, fires the same rules and concludes the same facts.

The same clauses are given to CLIPS (through clipspy), to the inference engine and to the plain
evaluator. CLIPS shares nothing with either, nor with the oracle of the other tests but the strata.
Set CLIPS_TEST_SETS to 3000 for the long run; the default is a few hundred sets of facts.
"""

import os
import random

import pytest
from clips_rules import ClipsRules, constant, text
from rulebases import SMALL, TEXTS, random_base, random_facts

from coach import rulebook
from coach.apparatus import apparatus
from coach.engine import Engine
from coach.model import Clause, Pattern
from coach.model import Test as Comparison
from coach.plain import PlainEvaluator
from coach.rulebook.situations import MOMENT

SETS = int(os.environ.get("CLIPS_TEST_SETS", "300"))


def outcome(inference):
    """Which rules fired, each once, and every fact at the end."""
    fired = [firing.rule for firing in inference.firings]
    assert len(set(fired)) == len(fired)
    return frozenset(fired), dict(inference.facts)


def known_to_the_rules(facts, clauses):
    """CLIPS keeps only facts of a kind that it can compare; those that no rule reads may stay out."""
    read = {pattern.fact for clause in clauses for pattern in (*clause.when, *clause.unless)}
    read |= {name for clause in clauses for name in clause.concludes}
    return {name: value for name, value in facts.items() if name in read}


@pytest.fixture(scope="module")
def shipped_clauses(shipped):
    return rulebook.clauses(shipped)


@pytest.fixture(scope="module")
def in_clips(shipped_clauses):
    return ClipsRules(shipped_clauses)


@pytest.fixture(scope="module")
def in_engine(shipped_clauses):
    with Engine(shipped_clauses, isolated=False) as engine:
        yield engine


def near_the_thresholds(clauses):
    """Any facts whatever, with values on, just over and just under what rules compare with."""
    for seed in range(SETS // 2):
        yield known_to_the_rules(random_facts(clauses, seed), clauses)


def answers_of_a_night(shipped, clauses):
    """Answers that people could give near the thresholds, and what is worked out from them."""
    figures = apparatus(shipped).figures
    asked = {name: fact for name, fact in shipped.facts.items() if fact.origin == "asked"}
    for seed in range(SETS - SETS // 2):
        dice = random.Random(seed)
        share = dice.choice((0.2, 0.6, 0.95))
        given = {name: _answer(dice, fact) for name, fact in asked.items() if dice.random() < share}
        given |= {f"named.{cause}": True for cause in shipped.causes if dice.random() < 0.1}
        given |= {f"tried.{cause}": True for cause in shipped.causes if dice.random() < 0.05}
        yield known_to_the_rules({**figures.work_out(given, now=MOMENT), "chat.open": True}, clauses)


def _answer(dice, fact):
    if fact.type == "bool":
        return dice.random() < 0.5
    if fact.type == "choice":
        return dice.choice(fact.options).id
    if fact.type == "time":
        return MOMENT.isoformat()
    low, high = fact.range
    usual = [value for value, _ in fact.expect] or [(low + high) / 2]
    near = dice.choice(usual) + dice.choice((0, 0, 0.5, -0.5, 1, -1, 1.5, -1.5, 3, -3, 5, 40, 80))
    return float(max(low, min(high, near)))


def test_the_shipped_rules_come_to_the_same_in_clips_the_engine_and_plainly(
    shipped, shipped_clauses, in_clips, in_engine
):
    plain = PlainEvaluator(shipped_clauses)
    ever = set()
    for facts in (*near_the_thresholds(shipped_clauses), *answers_of_a_night(shipped, shipped_clauses)):
        fired, known = in_clips.evaluate(facts)
        assert (fired, known) == outcome(plain.evaluate(facts)) == outcome(in_engine.evaluate(facts))
        ever |= fired
    never = {clause.id for clause in shipped_clauses} - ever
    assert len(never) < len(shipped_clauses) / 20  # what never fires was hardly compared


@pytest.mark.parametrize("block", range(4))
def test_random_rule_bases_come_to_the_same_in_clips_and_plainly(block):
    fired_in_all = 0
    for seed in range(block, SETS // 3, 4):
        clauses = random_base(seed)
        in_clips, plain = ClipsRules(clauses), PlainEvaluator(clauses)
        for turn in range(6):
            facts = known_to_the_rules(random_facts(clauses, 100 * seed + turn), clauses)
            fired, known = in_clips.evaluate(facts)
            assert (fired, known) == outcome(plain.evaluate(facts))
            fired_in_all += len(fired)
    assert fired_in_all > SETS / 3  # a test in which little fires proves little


def test_a_denial_is_native_in_clips_and_judged_last():
    """Worked out by hand."""
    in_clips = ClipsRules(SMALL)
    assert in_clips.evaluate({"tide": "rising"})[0] == {"not-falling"}
    assert in_clips.evaluate({})[0] == {"nothing-known"}
    assert in_clips.evaluate({"depth_ft": 11.0, "tide": "falling"})[0] == {"deep", "deep-and-falling"}


def test_the_comparison_can_fail():
    """A clause read otherwise by one of the two is noticed."""
    strict = [Clause("deep", (Pattern("depth_ft", (Comparison(">", 8),)),))]
    loose = [Clause("deep", (Pattern("depth_ft", (Comparison(">=", 8),)),))]
    facts = {"depth_ft": 8.0}
    assert ClipsRules(strict).evaluate(facts) != outcome(PlainEvaluator(loose).evaluate(facts))


@pytest.mark.parametrize("words", [*TEXTS, "\\", '\\"', "a\tb", "()", ";", "?v", "FALSE"])
def test_text_reaches_clips_as_it_was(words):
    clauses = [Clause("same", (Pattern("x", (Comparison("==", words),)),))]
    assert ClipsRules(clauses).evaluate({"x": words})[0] == {"same"}
    assert ClipsRules(clauses).evaluate({"x": words + "."})[0] == frozenset()
    assert text(words) == constant(words)
