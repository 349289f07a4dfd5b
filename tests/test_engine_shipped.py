"""The shipped rule base in the inference engine, against the oracle (tests/oracle.py) on random facts."""

from rulebases import random_facts, require_agreement

from coach.rulebook import clauses


def test_the_shipped_rules_conclude_what_the_oracle_does_on_two_thousand_sets_of_facts(shipped):
    given = clauses(shipped)
    fired = require_agreement(given, (random_facts(given, seed) for seed in range(2000)), isolated=False)
    assert fired > 20_000


def test_the_worker_process_concludes_the_same(shipped):
    given = clauses(shipped)
    assert require_agreement(given, (random_facts(given, seed) for seed in range(2000, 2060)), isolated=True)
