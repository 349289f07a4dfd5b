"""What the engine refuses, and how it keeps away from the faults of the library under it.

The faults of durable_rules 2.0.28 were READ in its C source (events.c, state.c of the published sdist)
and reproduced; its limits were measured. Expected inferences come from the independent `oracle.py`.
"""

import json
import subprocess
import sys
from pathlib import Path

import oracle
import pytest
from rulebases import SMALL, crowd, needs, random_base, require_agreement

import coach.engine
from coach.engine import Engine, EngineLimits, matcher
from coach.engine.plan import Plan
from coach.model import Clause, Pattern
from coach.plain import PlainEvaluator

ROOT = Path(coach.engine.__file__).parents[2]


def problems_of(clauses):
    with pytest.raises(EngineLimits) as caught:
        Engine(clauses, isolated=False)
    return caught.value.problems


@pytest.mark.parametrize(
    ("clauses", "told"),
    [
        ([Clause("a", needs("x", ">", float("nan")))], ["'a'", "nan", "within ±1e15"]),
        ([Clause("a", needs("x", ">", float("inf")))], ["'a'", "inf", "within ±1e15"]),
        ([Clause("a", needs("x", "in", (1, 1e16)))], ["'a'", "1e+16", "within ±1e15"]),
        ([Clause("a", needs("x", "==", None))], ["'a'", "NoneType"]),
        ([Clause("a", needs("x", "=~", 1))], ["'a'", "=~", "unknown operator"]),
        ([Clause("a", needs("x", "<", "b"))], ["'a'", "only numbers have an order"]),
        ([Clause("a", needs("x", ">=", True))], ["'a'", "only numbers have an order"]),
        ([Clause("a", needs("x", "in", ()))], ["'a'", "at least one value"]),
        ([Clause("a", needs("x", "in", 3))], ["'a'", "list"]),
        ([Clause("a", needs("x", "==", (3,)))], ["'a'", "single value"]),
        (
            [Clause("a", needs("x", "==", 1)), Clause("b", needs("x", "==", "1"))],
            ["'x'", "'a'", "'b'", "one kind"],
        ),
        ([Clause("a", needs("x", "in", (1, True)))], ["'x'", "'a'", "one kind"]),
        ([Clause("a", (), (), ("x",)), Clause("b", needs("x", ">", 1))], ["'x'", "'a'", "'b'", "one kind"]),
        ([Clause("a", ()), Clause("a", ())], ["'a'", "2 times", "its own"]),
        ([Clause("a", (), (Pattern("x"),), ("x",))], ["'a'", "'x'", "take one of these links out"]),
    ],
)
def test_a_clause_without_a_clear_meaning_is_refused_by_both_with_its_id_and_what_to_do(clauses, told):
    [problem] = problems_of(clauses)
    assert all(words in problem for words in told)
    with pytest.raises(EngineLimits) as caught:
        PlainEvaluator(clauses)
    assert caught.value.problems == (problem,)


def test_a_denial_that_comes_round_to_itself_is_refused_with_the_way_round():
    [problem] = problems_of(
        [
            Clause("moon", (), (Pattern("dark"),), ("bright",)),
            Clause("deeper", (Pattern("bright"),), (), ("deep",)),
            Clause("night", (Pattern("deep"),), (), ("dark",)),
            Clause("innocent", (Pattern("dark"),)),
        ]
    )
    assert "'moon' -> 'deeper' -> 'night'" in problem
    assert "innocent" not in problem


def test_all_problems_are_told_at_once():
    clauses = [
        Clause("twice", needs("x", ">", float("nan"))),
        Clause("twice", needs("y", "<", "text")),
        Clause("self", (), (Pattern("z"),), ("z",)),
        Clause("one", needs("u", "==", 1)),
        Clause("text", needs("u", "==", "1")),
        Clause("wide", tuple(Pattern(f"w{index}") for index in range(13))),
        *(Clause(f"t{index}", needs("v", ">", index)) for index in range(61)),
    ]
    told = "\n".join(problems_of(clauses))
    assert len(problems_of(clauses)) == 6
    for words in ("'twice'", "nan", "only numbers", "'self'", "'u'", "13 facts"):
        assert words in told


@pytest.mark.parametrize(
    ("kind", "most"),
    [
        ("thresholds", 60),
        ("tests", 400),
        ("same pattern", 250),
        ("needs", 12),
        ("combinations", 32),
        ("rules", 3000),
    ],
)
def test_up_to_each_limit_the_engine_is_right_and_beyond_it_says_so(kind, most):
    clauses, facts = crowd(kind, most)
    with Engine(clauses) as engine:
        assert engine.evaluate(facts) == PlainEvaluator(clauses).evaluate(facts)
    clauses, facts = crowd(kind, most + 1)
    [problem] = problems_of(clauses)
    assert str(most) in problem or kind == "combinations"
    assert "clause" in problem
    PlainEvaluator(clauses).evaluate(facts)  # the limits are the library's alone


def test_any_number_of_clauses_may_need_the_very_same_and_deny_as_much_as_they_like():
    denied = tuple(Pattern(f"no{index}") for index in range(20))
    clauses = [Clause(f"c{index}", needs("x", "==", "yes"), denied) for index in range(300)]
    require_agreement(clauses, [{"x": "yes"}, {"x": "no"}, {"x": "yes", "no7": 1}])


# --- the library's faults, each shown to be kept away from --------------------------------------
LIBRARY_ALONE = """
import durable_rules_engine as library
handle = library.create_ruleset("alone", RULES)
for fact in FACTS:
    _, session = library.assert_fact(handle, fact)
started = library.start_action_for_state(handle, session)
print(started[1] if started else "nothing fires")
"""


def test_a_denial_holds_where_the_librarys_own_negation_is_wrong():
    # events.c, deleteDownstreamFrames: takes messages[i] for messages[reverseIndex[i]], so that a
    # pending activation survives the arrival of the fact that should have blocked it.
    rules = '{"dip": {"all": [{"lamp": {"n": 1}}, {"moon$not": {"n": 2}}]}}'
    facts = ['{"sid": "t", "n": 1}', '{"sid": "t", "n": 2}']
    program = f"RULES = {rules!r}\nFACTS = {facts!r}\n{LIBRARY_ALONE}"
    alone = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert alone.stdout.startswith('{"dip"')  # else this test would guard against nothing

    dip = Clause("dip", (Pattern("lamp"),), (Pattern("moon"),))
    plain = Clause("plain", (Pattern("lamp"),))
    bright = Clause("bright", (Pattern("lamp"), Pattern("sky")), (), ("moon",))
    for clauses in ([dip, plain, bright], [bright, plain, dip]):
        for facts in (
            {"lamp": 1, "moon": True},
            {"moon": True, "lamp": 1},
            {"lamp": 1, "sky": 1},
            {"lamp": 1},
        ):
            require_agreement(clauses, [facts])
    assert "$not" not in matcher.ruleset_text(Plan([dip, plain, bright]).document["rules"])


def test_the_library_is_never_given_a_join_to_evaluate():
    # events.c, reduceExpressionSequence: after a false join test it skips one expression too many and
    # reads out of bounds. It is reached only where a test's right side is another pattern's field.
    for seed in range(100):
        rules = json.loads(matcher.ruleset_text(Plan(random_base(seed)).document["rules"]))
        for rule in rules.values():
            for pattern in rule["all"]:
                [body] = pattern.values()
                for test in body.get("$and", [body]):
                    [(name, right)] = test.items()
                    compared = right["v"] if name.startswith("$") else right
                    assert type(compared) is int


class Recorder:
    """Stands in for the library, passes calls on and remembers them with their results."""

    error = matcher.library.error

    def __init__(self, failing_after=10**9):
        self.calls = []
        self._library = matcher.library
        self._failing_after = failing_after

    def __getattr__(self, name):
        def call(*arguments):
            if name == "assert_fact" and len(self.calls) > self._failing_after:
                raise self.error("made to fail")
            result = getattr(self._library, name)(*arguments)
            self.calls.append((name, result))
            return result

        return call


@pytest.mark.parametrize("facts", [{}, {"tide": "falling"}, {"depth_ft": 11, "tide": "falling"}])
def test_every_session_runs_an_action_before_it_is_deleted(monkeypatch, facts):
    # state.c, createStateNode: leaves `context` uninitialised, which deleteStateNode then frees,
    # unless an action was started in between.
    recorder = Recorder()
    monkeypatch.setattr(matcher, "library", recorder)
    with Engine(SMALL, isolated=False) as engine:
        for _ in range(3):
            engine.evaluate(facts)
    names = [name for name, _ in recorder.calls]
    opening = ["assert_fact", "start_action_for_state", "complete_and_start_action"]
    starts = [0, *(index for index, name in enumerate(names) if name == "delete_state")][:3]
    assert names.count("delete_state") == 3
    for start in starts:
        assert names[start + 1 : start + 4] == opening
        assert recorder.calls[start + 2][1] is not None  # an action did start
    assert "assert_facts" not in names


def test_sessions_in_which_nothing_fires_can_come_and_go_in_one_worker():
    # the same fault, which killed the library alone within seven such sessions
    with Engine([Clause("never", needs("x", "==", 5))]) as engine:
        engine.evaluate({})
        pid = engine.worker_pid
        for turn in range(300):
            assert engine.evaluate({"x": turn % 5}).firings == ()
        assert engine.worker_pid == pid


def test_a_session_broken_off_halfway_is_deleted_and_the_plain_evaluator_answers(monkeypatch, caplog):
    recorder = Recorder(failing_after=6)
    monkeypatch.setattr(matcher, "library", recorder)
    facts = {"depth_ft": 11, "tide": "falling", "light": True}
    with Engine(SMALL, isolated=False) as engine:
        assert engine.evaluate(facts) == oracle.evaluate(SMALL, facts)
    assert "plain evaluator" in caplog.text
    assert [name for name, _ in recorder.calls].count("delete_state") >= 1


def test_only_one_module_imports_the_library():
    importing = [
        path.name
        for path in ROOT.glob("coach/**/*.py")
        if "durable" in "".join(import_lines(path.read_text()))
    ]
    assert importing == ["matcher.py"]


def import_lines(text):
    return [line for line in text.splitlines() if line.lstrip().startswith(("import ", "from "))]
