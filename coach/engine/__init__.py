"""Inference by the durable_rules library, kept in a process of its own.

    with Engine(clauses) as engine:
        inference = engine.evaluate({"water.depth_ft": 11.0})

Firings come in a fixed order, the same as the plain evaluator's: stratum by stratum, within one in
rounds, and within a round in the order of the clauses. DEVELOPERS.md says why the library is held
at arm's length; coach.engine.matcher says how.
"""

from __future__ import annotations

import json
import logging
import os
import threading
from collections.abc import Mapping, Sequence
from types import TracebackType
from typing import Any, Self

from coach.clauses import EngineLimits, checked_facts
from coach.engine.matcher import Matcher, MatcherError
from coach.engine.plan import Plan
from coach.engine.process import WorkerLost, WorkerProcess
from coach.model import Clause, Inference, Scalar
from coach.plain import PlainEvaluator

__all__ = ["Engine", "EngineLimits"]

_log = logging.getLogger(__name__)


class Engine:
    """A rule base in the inference engine. Safe to share between threads; evaluations take turns.

    `isolated` runs the library in a worker process, started on first use: if it crashes, or takes
    longer than `time_limit_s` seconds, it is killed, restarted and asked once more; if that fails too
    the plain evaluator answers and a warning is logged. Without it the library runs in this process.

    Raises EngineLimits, with every problem found, for clauses that cannot be evaluated.
    """

    def __init__(
        self, clauses: Sequence[Clause], *, isolated: bool = True, time_limit_s: float = 2.0
    ) -> None:
        self._plan = Plan(clauses)
        self._plain = PlainEvaluator(clauses)
        self._isolated = isolated
        self._time_limit_s = time_limit_s
        self._lock = threading.Lock()
        self._worker: WorkerProcess | None = None
        self._matcher: Matcher | None = None

    def evaluate(self, facts: Mapping[str, Scalar]) -> Inference:
        """Infer from the facts. A fact that is given keeps its value even if a clause concludes it.

        Facts that no clause reads are kept in the result. Raises TypeError or ValueError, with the
        name, for a fact that is not text, a number in ±1e15 or a bool, or not of the kind its tests
        expect. Never fails otherwise.
        """
        known = checked_facts(facts, self._plan.kinds)
        request = self._plan.encoded(known)
        with self._lock:
            for _ in range(2):
                try:
                    return self._plan.inference(known, self._fired(request))
                except (WorkerLost, MatcherError, LookupError, ValueError, OSError) as failure:
                    _log.info("rule engine: %s; starting it again", failure)
                    self._give_up()
        _log.warning("rule engine: failed twice on the same facts; the plain evaluator answers")
        return self._plain.evaluate(facts)

    @property
    def worker_pid(self) -> int | None:
        """The worker's process id while one is running, for those who watch over processes."""
        return self._worker.pid if self._worker else None

    def close(self) -> None:
        """End the worker. Evaluating again starts another."""
        with self._lock:
            self._give_up()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _fired(self, request: list[list[int]]) -> list[int]:
        if not self._isolated:
            self._matcher = self._matcher or Matcher(self._plan.document)
            return self._matcher.fire(request)
        worker = self._ready_worker()
        return _clause_indices(worker.ask(json.dumps(request).encode() + b"\n", self._time_limit_s))

    def _ready_worker(self) -> WorkerProcess:
        # after a fork the parent's worker is not ours to talk to
        if self._worker is None or self._worker.owner != os.getpid():
            setup = {"plan": self._plan.document, "alarm_s": self._time_limit_s + 1}
            self._worker = WorkerProcess(json.dumps(setup).encode() + b"\n")
        return self._worker

    def _give_up(self) -> None:
        if self._worker:
            self._worker.kill()
        if self._matcher:
            self._matcher.close()
        self._worker = self._matcher = None


def _clause_indices(answer: bytes) -> list[int]:
    fired: Any = json.loads(answer)
    if not isinstance(fired, list) or not all(type(index) is int and index >= 0 for index in fired):
        raise ValueError("the worker's answer is not a list of clauses")
    return fired
