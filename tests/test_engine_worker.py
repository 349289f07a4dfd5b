"""The worker process may be killed, hang, or lose its parent; answers come and are right.

Expected inferences come from the independent `oracle.py`.
"""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import oracle
import pytest
from rulebases import EXPECTED, FACTS, SMALL, crowd, needs, random_base, random_facts

import coach.engine
from coach.engine import Engine, matcher
from coach.engine.process import WorkerLost, WorkerProcess
from coach.model import Clause
from coach.plain import PlainEvaluator

ROOT = Path(coach.engine.__file__).parents[2]
PATIENCE_S = 30.0

# A real way to hurt the library, past the limits that Engine keeps: 512 sibling tests make it loop
# for ever.
HANG = {
    "facts": 1,
    "rules": [[index, [[0, [["==", index]]]]] for index in range(512)],
    "always": [],
    "clauses": [[0, index, [], []] for index in range(512)],
}


@contextmanager
def small_engine(time_limit_s=PATIENCE_S):
    with Engine(SMALL, time_limit_s=time_limit_s) as engine:
        assert engine.evaluate(FACTS) == EXPECTED
        yield engine


def test_the_worker_is_another_process_and_serves_many_evaluations():
    with small_engine() as engine:
        pid = engine.worker_pid
        assert pid not in (None, os.getpid())
        assert engine.evaluate(FACTS) == EXPECTED
        assert engine.worker_pid == pid
    assert engine.worker_pid is None
    assert not is_alive(pid)


def test_a_closed_engine_starts_again_when_asked():
    engine = Engine(SMALL)
    engine.close()
    assert engine.evaluate(FACTS) == EXPECTED
    engine.close()


def test_a_worker_killed_between_evaluations_is_replaced_and_the_answer_is_right():
    with small_engine() as engine:
        pid = engine.worker_pid
        os.kill(pid, signal.SIGKILL)
        assert engine.evaluate(FACTS) == EXPECTED
        assert engine.worker_pid not in (None, pid)


def test_a_worker_killed_during_an_evaluation_is_replaced_and_the_answer_is_right():
    with small_engine() as engine:
        pid = engine.worker_pid
        os.kill(pid, signal.SIGSTOP)  # so that the evaluation is still under way when the kill comes
        killer = threading.Timer(0.2, os.kill, (pid, signal.SIGKILL))
        killer.start()
        assert engine.evaluate(FACTS) == EXPECTED
        killer.join()
        assert engine.worker_pid not in (None, pid)


def test_a_worker_under_constant_fire_still_gives_only_right_answers():
    done = threading.Event()
    with small_engine() as engine:

        def shoot():
            while not done.wait(0.02):
                pid = engine.worker_pid
                if pid and is_alive(pid):
                    os.kill(pid, signal.SIGKILL)

        shooter = threading.Thread(target=shoot)
        shooter.start()
        try:
            for depth in range(60):
                facts = {"depth_ft": depth, "tide": "falling"}
                assert engine.evaluate(facts) == oracle.evaluate(SMALL, facts)
        finally:
            done.set()
            shooter.join()


def test_a_hanging_worker_is_cut_off_and_the_answer_is_right():
    with small_engine(time_limit_s=0.3) as engine:
        pid = engine.worker_pid
        os.kill(pid, signal.SIGSTOP)
        assert engine.evaluate(FACTS) == EXPECTED
        assert not is_alive(pid)
        assert engine.worker_pid is not None


def test_when_the_library_itself_hangs_twice_the_plain_evaluator_answers(caplog):
    with Engine(SMALL, time_limit_s=0.2) as engine:
        engine._plan.document = HANG
        assert engine.evaluate(FACTS) == EXPECTED
        assert engine.worker_pid is None
    assert caplog.text.count("did not answer in time") <= 2
    assert "failed twice" in caplog.text


def test_a_worker_that_cannot_start_leaves_the_plain_evaluator_to_answer(monkeypatch, caplog):
    monkeypatch.setattr("coach.engine.process._PROGRAM", "/nowhere/at/all.py")
    with Engine(SMALL) as engine:
        assert engine.evaluate(FACTS) == EXPECTED
    assert "failed twice" in caplog.text


def test_an_answer_that_makes_no_sense_is_not_believed(monkeypatch, caplog):
    for nonsense in (b"\n", b"{}\n", b"[-1]\n", b"[99]\n", b"[1.5]\n", b"[1]\n"):  # 1 needs what 0 concludes
        with small_engine() as engine:
            monkeypatch.setattr(WorkerProcess, "ask", lambda *_, answer=nonsense: answer)
            assert engine.evaluate(FACTS) == EXPECTED
        monkeypatch.undo()
        assert "failed twice" in caplog.text
        caplog.clear()


def test_an_interrupted_evaluation_does_not_leave_its_answer_for_the_next():
    class Interrupted(BaseException):
        pass

    def interrupt(*_):
        raise Interrupted

    previous = signal.signal(signal.SIGALRM, interrupt)
    try:
        with small_engine() as engine:
            pid = engine.worker_pid
            os.kill(pid, signal.SIGSTOP)
            signal.setitimer(signal.ITIMER_REAL, 0.2)
            with pytest.raises(Interrupted):
                engine.evaluate({"tide": "rising"})
            assert not is_alive(pid)
            assert engine.evaluate(FACTS) == EXPECTED
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, previous)


def test_a_request_larger_than_the_pipe_reaches_a_worker_and_not_a_hanging_one():
    clauses, facts = crowd("rules", 3000)
    with Engine(clauses) as engine:
        assert len(json.dumps(engine._plan.document)) > 65536  # a pipe's usual capacity, pipe(7)
        assert engine.evaluate(facts) == PlainEvaluator(clauses).evaluate(facts)
        worker = engine._worker
        os.kill(worker.pid, signal.SIGSTOP)
        rescue = threading.Timer(PATIENCE_S, os.kill, (worker.pid, signal.SIGKILL))
        rescue.start()
        with pytest.raises(WorkerLost, match="did not answer in time"):
            worker.ask(b" " * 10**6 + b"[]\n", 0.2)
        rescue.cancel()


def test_starting_over_and_over_leaves_no_open_files_behind():
    with small_engine() as engine:
        before = len(list(Path("/proc/self/fd").iterdir()))
        for _ in range(5):
            os.kill(engine.worker_pid, signal.SIGKILL)
            assert engine.evaluate(FACTS) == EXPECTED
        assert len(list(Path("/proc/self/fd").iterdir())) == before


def test_threads_share_an_engine_without_mixing_their_answers():
    wrong = []

    def consult(engine, first):
        for depth in range(first, first + 40):
            facts = {"depth_ft": depth % 20, "tide": ("falling", "rising")[depth % 2]}
            if engine.evaluate(facts) != oracle.evaluate(SMALL, facts):
                wrong.append(facts)

    for isolated in (True, False):
        with Engine(SMALL, isolated=isolated) as engine:
            threads = [threading.Thread(target=consult, args=(engine, 7 * number)) for number in range(6)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
    assert wrong == []


FORKING = """
import os, sys
from rulebases import EXPECTED, FACTS, SMALL
from coach.engine import Engine
engine = Engine(SMALL)
engine.evaluate(FACTS)
first = engine.worker_pid
child = os.fork()
right = engine.evaluate(FACTS) == EXPECTED
same = engine.worker_pid == first
if child == 0:
    os._exit(0 if right and not same else 1)
_, status = os.waitpid(child, 0)
right = right and engine.evaluate(FACTS) == EXPECTED
sys.exit(0 if right and same and engine.worker_pid == first and status == 0 else 1)
"""


def test_a_forked_process_gets_a_worker_of_its_own():
    assert run_program(FORKING).wait(PATIENCE_S) == 0


ORPHANING = """
import os, signal, sys, time
from rulebases import FACTS, SMALL
from coach.engine import Engine
engine = Engine(SMALL)
engine.evaluate(FACTS)
print(engine.worker_pid, flush=True)
time.sleep(600)
"""


def test_the_worker_ends_when_its_parent_is_killed():
    parent = run_program(ORPHANING, stdout=subprocess.PIPE)
    with parent:
        worker = int(parent.stdout.readline())
        assert is_alive(worker)
        parent.kill()
    assert is_gone_soon(worker)


def test_a_worker_that_hangs_in_the_library_ends_itself_when_nobody_is_left_to_kill_it():
    with subprocess.Popen(
        [sys.executable, "-P", matcher.__file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as worker:
        worker.stdin.write(json.dumps({"plan": HANG, "alarm_s": 0.2}).encode() + b"\n[[0, 3]]\n")
        worker.stdin.flush()
        rescue = threading.Timer(PATIENCE_S, worker.kill)
        rescue.start()
        assert worker.wait() == -signal.SIGALRM
        rescue.cancel()


def test_thousands_of_evaluations_leave_the_workers_memory_flat():
    # Without deleting its session each evaluation of these clauses would leave about a megabyte.
    clauses = random_base(7) + [Clause(f"more{i}", needs(f"y{i}", ">=", i)) for i in range(60)]
    cases = [random_facts(clauses, seed) for seed in range(50)]
    with Engine(clauses) as engine:
        memory_mb = []
        for turn in range(3500):
            engine.evaluate(cases[turn % 50])
            if turn in (499, 3499):
                memory_mb.append(resident_mb(engine.worker_pid))
    assert memory_mb[1] - memory_mb[0] < 8


def run_program(program, **options):
    paths = os.pathsep.join([str(ROOT), str(Path(__file__).parent)])
    return subprocess.Popen(
        [sys.executable, "-c", program], env={**os.environ, "PYTHONPATH": paths}, **options
    )


def is_alive(pid):
    """Whether the process runs or could; one that has ended but was not yet collected does not count."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state not in "ZX"


def is_gone_soon(pid):
    deadline = time.monotonic() + PATIENCE_S
    while is_alive(pid) and time.monotonic() < deadline:
        time.sleep(0.02)
    return not is_alive(pid)


def resident_mb(pid):
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
