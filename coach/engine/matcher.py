"""The only module that calls durable_rules 2.0.28. It is also the program that runs in the worker process.

The library does one thing here, the one it does well: find, by forward matching, which conditions
the known facts meet. All around it is ours, because used as documented it can hang, crash or answer
wrongly:

* It is given whole numbers only. Facts and their values are numbered when the clauses are compiled
  (coach.engine.plan), so no text and no float from outside ever reaches its parsers.
* Its negation is not used. The agenda below goes stratum by stratum: when the conditions of all lower
  strata have been found, what has not been met is known to be absent.
* Tests compare a value with a constant, never two facts: its evaluation of joins reads out of bounds.
* Facts are asserted one by one, each with an id of its own (else ids are 32-bit hashes and may collide).
* Each evaluation has a fresh session, in which a first fact fires a first rule: a session in which
  no action ever ran cannot be deleted safely. No Host, so no background threads either.

A plan is a dict of plain lists: how many "facts" there are; "rules" as [condition, patterns], where
a pattern is [fact, [[operator, value], ...]]; which conditions hold "always"; and "clauses" as
[stratum, condition, conditions that block it, facts it concludes as [fact, value]].

Imports only what starts fast: as a program, this file is run by path, without the rest of the package.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import weakref
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import IO, Any

import durable_rules_engine as library

SESSION = "t"
BOOT = "boot"
BOOT_FACT = f'{{"sid":"{SESSION}","b":1}}'
HANDLED, NOT_HANDLED = 0, 1
START_ALARM_S = 60
GROUP_SIZE = 16
"""Facts that share a first test. The library walks through siblings one by one, and 512 of them hang it."""

_OPERATORS = {"!=": "$neq", "<": "$lt", "<=": "$lte", ">": "$gt", ">=": "$gte"}


class MatcherError(RuntimeError):
    """The library did something that cannot happen when it works. The matcher must be given up."""


class Matcher:
    """A rule set built in the library. One evaluation at a time; the caller sees to that.

    `close()` gives the rule set's memory back; so does letting go of the matcher.
    """

    def __init__(self, plan: dict[str, Any]) -> None:
        self._strata = _by_stratum(plan["clauses"])
        self._always: list[int] = plan["always"]
        self._most_actions = len(plan["rules"])
        self._fact_lines = [_fact_line(fact) for fact in range(plan["facts"])]
        with _its_errors_as_ours():
            self._handle: int = library.create_ruleset("coach", ruleset_text(plan["rules"]))
        self.close = weakref.finalize(self, library.delete_ruleset, self._handle)

    def fire(self, facts: list[list[int]]) -> list[int]:
        """The clauses that fire on these [fact, value] pairs, in firing order, each by its index.

        Raises MatcherError when the library misbehaves.
        """
        with _its_errors_as_ours():
            session = self._open_session()
            try:
                for fact, value in facts:
                    self._assert(fact, value)
                return self._agenda(session, {fact for fact, _ in facts})
            finally:
                library.delete_state(self._handle, SESSION)

    def _open_session(self) -> int:
        """Start a session and run its first action, without which it could not be deleted."""
        handled, session = library.assert_fact(self._handle, BOOT_FACT)
        started = library.start_action_for_state(self._handle, session)
        if handled != HANDLED or not started or _fired_rule(started[1]) != BOOT:
            raise MatcherError("the session's first rule did not fire")
        if library.complete_and_start_action(self._handle, session) is not None:
            raise MatcherError("an empty session has something to fire")
        return int(session)

    def _agenda(self, session: int, known: set[int]) -> list[int]:
        met, fired = set(self._always), list[int]()
        met.update(self._newly_met(session))
        for stratum in self._strata:
            waiting = stratum
            while ready := [clause for clause in waiting if clause[1] in met]:
                waiting = [clause for clause in waiting if clause[1] not in met]
                ready = [clause for clause in ready if met.isdisjoint(clause[2])]
                fired += [clause[0] for clause in ready]
                self._conclude((pair for clause in ready for pair in clause[3]), known)
                met.update(self._newly_met(session))
        return fired

    def _conclude(self, pairs: Iterable[tuple[int, int]], known: set[int]) -> None:
        for fact, value in pairs:
            if fact not in known:
                known.add(fact)
                self._assert(fact, value)

    def _assert(self, fact: int, value: int) -> None:
        code, _ = library.assert_fact(self._handle, f"{self._fact_lines[fact]}{value}}}")
        if code not in (HANDLED, NOT_HANDLED):
            raise MatcherError(f"fact {fact} was refused with code {code}")

    def _newly_met(self, session: int) -> Iterator[int]:
        """Run the library's agenda dry; the condition of each rule that comes up."""
        started = library.start_action_for_state(self._handle, session)
        message = started[1] if started else None
        for _ in range(self._most_actions):
            if message is None:
                return
            yield int(_fired_rule(message).split("_")[0])
            message = library.complete_and_start_action(self._handle, session)
        if message is not None:
            raise MatcherError("more rules fired than there are")


@contextmanager
def _its_errors_as_ours() -> Iterator[None]:
    try:
        yield
    except (library.error, MemoryError) as error:
        raise MatcherError(f"the library gave up: {error}") from error


def ruleset_text(rules: list[list[Any]]) -> str:
    """The rule set in the library's JSON, without any text from outside: rules are "condition_number"."""
    ruleset: dict[str, Any] = {BOOT: {"all": [{"p0": {"b": 1}}]}}
    for number, (condition, patterns) in enumerate(rules):
        ruleset[f"{condition}_{number}"] = {
            "all": [{f"p{place}": _pattern(*pattern)} for place, pattern in enumerate(patterns)]
        }
    return json.dumps(ruleset)


def _pattern(fact: int, tests: list[tuple[str, int]]) -> dict[str, Any]:
    compared = [{"v": value} if op == "==" else {_OPERATORS[op]: {"v": value}} for op, value in tests]
    return {"$and": [{"g": fact // GROUP_SIZE}, {"n": fact}, *compared]}


def _fact_line(fact: int) -> str:
    return f'{{"sid":"{SESSION}","id":"{fact}","g":{fact // GROUP_SIZE},"n":{fact},"v":'


def _fired_rule(message: str) -> str:
    """The rule's name out of '{"name": {...}}'. Our names need no unescaping."""
    return message.split('"', 2)[1]


_Clause = tuple[int, int, frozenset[int], list[tuple[int, int]]]


def _by_stratum(clauses: list[Any]) -> list[list[_Clause]]:
    strata: dict[int, list[_Clause]] = {}
    for index, (stratum, condition, blockers, concludes) in enumerate(clauses):
        strata.setdefault(stratum, []).append((index, condition, frozenset(blockers), concludes))
    return [strata[stratum] for stratum in sorted(strata)]


def serve(requests: IO[bytes], replies: IO[bytes]) -> None:
    """Answer requests, a JSON line each: first {"plan", "alarm_s"}, then lists of [fact, value].

    Ends when the other side closes, as it also does when it is killed. If it is killed while the
    library hangs, the alarm ends this process: no Python would get to run, but the signal's default does.
    """
    setup = json.loads(requests.readline())
    signal.alarm(START_ALARM_S)
    matcher = Matcher(setup["plan"])
    signal.alarm(0)
    _reply(replies, [])
    for line in requests:
        signal.setitimer(signal.ITIMER_REAL, setup["alarm_s"])
        fired = matcher.fire(json.loads(line))
        signal.setitimer(signal.ITIMER_REAL, 0)
        _reply(replies, fired)


def _reply(replies: IO[bytes], answer: list[int]) -> None:
    replies.write(json.dumps(answer).encode() + b"\n")
    replies.flush()


def main() -> None:
    """Serve over standard input and output, which the library is kept from printing to."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    replies = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    serve(sys.stdin.buffer, replies)


if __name__ == "__main__":
    main()
