"""Worked cases, from the opening words to the verdict, with the real inference engine.

A case's facts are what is true on the water; whatever the coach asks is answered from them. The cases
are common practice of the trade, written down before the rules.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from talks import Infer, Talk

from coach.model import Inference

FILE = tomllib.loads((Path(__file__).parent / "cases" / "open_cases.toml").read_text(encoding="utf-8"))
CASES: dict[str, dict[str, Any]] = {case["id"]: case for case in FILE["case"]}
MOST_QUESTIONS = 25


@dataclass
class Outcome:
    """What a conversation came to."""

    asked: list[str]
    verdict: Mapping[str, Any]
    hazards: set[str]

    @property
    def causes(self) -> list[str]:
        return [cause["id"] for cause in self.verdict["causes"]]


def truth(case: Mapping[str, Any]) -> dict[str, Any]:
    return {**FILE["base"], **case["facts"]}


def outcome(case: Mapping[str, Any], talk: Talk) -> Outcome:
    """Hold the conversation of a case."""
    asked = talk.play(case["opening"], truth(case), most=MOST_QUESTIONS)
    assert all(reply.error is None for reply in talk.replies)
    assert talk.reply.verdict is not None, f"no verdict after {len(asked)} questions"
    return Outcome(
        asked, talk.reply.verdict, {hazard for reply in talk.replies for hazard, _ in reply.hazards}
    )


def is_right(case: Mapping[str, Any], found: Outcome) -> bool:
    """The first cause is one of those allowed, or none is named where nothing is wrong; what must be named
    too is, and what must not be is not."""
    first = found.causes[0] in case["causes"] if found.causes else False
    named = first if case["causes"] else not found.causes
    return (
        named
        and set(case.get("also", [])) <= set(found.causes)
        and not set(case.get("not", [])) & set(found.causes)
    )


@pytest.mark.parametrize("id", CASES)
def test_each_open_case_is_judged_rightly(id: str, talk: Callable[..., Talk], engine: Infer) -> None:
    case = CASES[id]
    found = outcome(case, talk(infer=engine))
    assert is_right(case, found), (found.causes, found.asked)
    assert set(case.get("hazards", [])) <= found.hazards
    for name, value in case.get("numbers", {}).items():
        assert found.verdict["numbers"][name] == pytest.approx(value, abs=0.25)


@pytest.mark.parametrize("id", [id for id, case in CASES.items() if case["causes"]])
def test_with_firings_switched_off_no_case_with_a_cause_is_judged_rightly(
    id: str, talk: Callable[..., Talk]
) -> None:
    found = outcome(CASES[id], talk(infer=lambda facts: Inference((), facts)))
    assert not is_right(CASES[id], found)
    assert found.verdict == {"causes": [], "numbers": {}, "set": None}
    assert found.hazards == set()


@pytest.mark.parametrize("id", CASES)
def test_the_engine_and_the_plain_evaluator_hold_the_same_conversation(
    id: str, talk: Callable[..., Talk], engine: Infer, plain: Infer
) -> None:
    by_engine, plainly = outcome(CASES[id], talk(infer=engine)), outcome(CASES[id], talk(infer=plain))
    assert by_engine == plainly


def test_every_case_is_about_known_facts_with_legal_values(talk: Callable[..., Talk]) -> None:
    for case in CASES.values():
        facts = {name: value for name, value in truth(case).items() if value != "unknown"}
        assert talk().tell(facts).error is None, case["id"]
