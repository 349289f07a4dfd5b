"""Promises for every consultation, held against 300 random ones on the shipped rules; and that the core
looks at nothing but the message, the state and the time.
"""

import json
import random
import socket
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest
from talks import Infer, Talk, answers, fact_asked, hazards_in_force, openings

from coach.apparatus import apparatus
from coach.conversation import Reply, Session
from coach.model import UNKNOWN, Inference, Rulebook

Start = Callable[..., Talk]


@dataclass
class Played:
    """A random consultation, turn by turn."""

    replies: list[Reply] = field(default_factory=list)
    in_force: list[set[str]] = field(default_factory=list)

    @property
    def asked(self) -> list[str]:
        """The questions in the order in which they were put; one that is still open counts once."""
        return [fact for fact in (fact_asked(reply) for reply in self.replies) if fact is not None]


@pytest.fixture(scope="module")
def played(shipped: Rulebook, plain: Infer) -> list[Played]:
    """300 random consultations: a few facts to begin with, then legal answers or "unknown" (0.3)."""
    found = []
    for seed in range(300):
        dice, one, record = random.Random(seed), Talk(shipped, plain), Played()
        one.tell(openings(dice, shipped))
        record.replies.append(one.reply)
        record.in_force.append(hazards_in_force(one))
        for answer in answers(dice, one):
            one.pick(answer)
            record.replies.append(one.reply)
            record.in_force.append(hazards_in_force(one))
        found.append(record)
    return found


def test_every_consultation_ends_with_a_verdict_within_25_questions(played: list[Played]) -> None:
    assert all(record.replies[-1].verdict is not None for record in played)
    assert max(len(record.asked) for record in played) <= 25


def is_doubted(reply: Reply) -> bool:
    """Whether the reply says why it asks for a number once more."""
    return any(block.kind == "heard" and block.text.startswith("I heard ") for block in reply.blocks)


def test_nothing_is_asked_twice_but_a_number_in_doubt_and_that_once_more(played: list[Played]) -> None:
    for record in played:
        put = Counter(record.asked)
        again = {fact_asked(reply) for reply in record.replies if is_doubted(reply)}
        assert all(times == 1 or (times == 2 and fact in again) for fact, times in put.items())


def test_nothing_is_asked_that_was_told_but_a_number_in_doubt(played: list[Played]) -> None:
    for record in played:
        told: set[str] = set()
        for reply in record.replies:
            told |= set(reply.understood)
            assert fact_asked(reply) not in told or is_doubted(reply)


def test_no_random_answer_is_refused(played: list[Played]) -> None:
    assert all(reply.error is None for record in played for reply in record.replies)


def test_every_hazard_is_told_in_the_turn_in_which_it_comes_and_not_again_while_it_lasts(
    played: list[Played],
) -> None:
    told = 0
    for record in played:
        before: set[str] = set()
        for reply, now in zip(record.replies, record.in_force, strict=True):
            assert {hazard for hazard, _ in reply.hazards} == now - before
            assert [block.text for block in reply.blocks if block.kind == "warn"] == [
                say for _, say in reply.hazards
            ]
            told += len(reply.hazards)
            before = now
    assert told > 100


def test_the_safety_check_is_asked_once_at_most(played: list[Played], shipped: Rulebook) -> None:
    assert all(record.asked.count(shipped.safety_check) <= 1 for record in played)


def verdicts(played: list[Played]) -> list[Reply]:
    return [record.replies[-1] for record in played if record.replies[-1].verdict is not None]


def test_the_first_line_of_a_verdict_is_its_action_in_80_characters(played: list[Played]) -> None:
    for reply in verdicts(played):
        first = next(block for block in reply.blocks if block.kind != "warn")
        assert first.kind == "action"
        assert 0 < len(first.text) <= 80, first.text


def test_causes_come_the_likeliest_first_with_reasons_and_something_to_do(
    played: list[Played], shipped: Rulebook
) -> None:
    named = 0
    for reply in verdicts(played):
        assert reply.verdict is not None
        causes = reply.verdict["causes"]
        probabilities = [cause["probability"] for cause in causes]
        assert probabilities == sorted(probabilities, reverse=True)
        assert len({cause["id"] for cause in causes}) == len(causes)
        for cause in causes:
            assert set(cause) == {"id", "probability", "because", "rules", "fix", "look_again_min"}
            assert cause["id"] in shipped.causes
            assert 0 < cause["probability"] < 1
            assert cause["because"]
            assert cause["rules"]
            assert cause["fix"]
            assert cause["look_again_min"] > 0
        named += len(causes)
    assert named > 100


def test_no_blank_and_no_machine_word_is_left_in_what_is_said(
    played: list[Played], shipped: Rulebook
) -> None:
    dotted = {name for name in shipped.facts if "_" in name}
    for record in played:
        for reply in record.replies:
            for block in reply.blocks:
                said = " ".join((block.text, *block.items))
                assert not set("{}") & set(said), said
                assert "None" not in said
                assert not [name for name in dotted if name in said], said


def test_verdicts_can_be_written_as_json(played: list[Played]) -> None:
    for reply in verdicts(played):
        assert json.loads(json.dumps(reply.verdict, allow_nan=False)) == reply.verdict


def test_numbers_are_there_only_where_they_can_be_worked_out(talk: Start) -> None:
    one = talk()
    one.tell(
        {"safety.all_clear": True, "water.depth_ft": 11, "lamps.clip_left_ft": 7, "lamps.clip_right_ft": 7}
    )
    for answer in answers(random.Random(1), one, unknown=1):
        one.pick(answer)
    assert one.reply.verdict is not None
    numbers = one.reply.verdict["numbers"]
    # common practice: 3 ft of clip in 11 ft, 8 ft down, 5.5 dark above; at 7 ft 4 down and 1.5 dark
    assert (numbers["clip_left_ft"], numbers["lamp_depth_right_ft"], numbers["dark_band_ft"]) == (3, 8, 5.5)
    assert numbers["now"] == {
        "lamp_depth_left_ft": 4,
        "lamp_depth_right_ft": 4,
        "dark_band_ft": 1.5,
        "under_path_ft": 4.5,
    }
    assert "reclip" not in numbers
    blind = talk()
    blind.say("something is odd")
    for answer in answers(random.Random(1), blind, unknown=1):
        blind.pick(answer)
    assert blind.reply.verdict is not None
    assert blind.reply.verdict["numbers"] == {}


def test_a_ship_that_explains_the_no_is_followed_by_what_makes_her_deadlier(talk: Start) -> None:
    one = talk()
    one.tell({"boat.traffic": True, "catch.course": "faded"})
    one.pick(False)
    assert one.reply.ask is not None and one.reply.ask.fact == "boat.in_channel"
    one.pick(False)
    assert one.reply.ask is not None and one.reply.ask.fact == "boat.anchor_light"


def test_where_one_dipper_has_all_and_all_seems_right_each_lamp_is_sounded(talk: Start) -> None:
    one = talk()
    right = {"lamps.upright": True, "lamps.equally_out": True, "lamps.hull": "touch"}
    heights = {"water.depth_ft": 11, "lamps.clip_left_ft": 3, "tide.fall_since_set_ft": 1.4}
    one.tell(
        {"safety.all_clear": True, "crew.one_sided": "stern", "boat.across_flow": True, **right, **heights}
    )
    asked = []
    while one.reply.ask is not None:
        asked.append(one.reply.ask.fact)
        one.pick({"water.depth_left_ft": 9.5, "run.seen": "under_boat"}.get(asked[-1], "unknown"))
    assert "water.depth_left_ft" in asked
    assert one.reply.verdict is not None
    assert [cause["id"] for cause in one.reply.verdict["causes"]] == ["tide-fell"]


@pytest.mark.parametrize("seed", range(10))
def test_with_firings_switched_off_nothing_is_named_worked_out_or_advised(seed: int, talk: Start) -> None:
    dice = random.Random(seed)
    one = talk(infer=lambda facts: Inference((), facts))
    one.tell(openings(dice, one.book) | {"water.depth_ft": 11.0, "lamps.clip_left_ft": 8.0})
    for answer in answers(dice, one):
        assert one.reply.hazards == ()
        one.pick(answer)
    assert one.reply.verdict == {"causes": [], "numbers": {}, "set": None}


# --- nothing but the message, the state and the time -------------------------------------------------------


@pytest.mark.parametrize("seed", range(5))
def test_a_session_survives_being_written_down_at_any_step(seed: int, talk: Start) -> None:
    dice, one, other = random.Random(seed), talk(), talk()
    opening = openings(dice, one.book)
    one.tell(opening)
    other.tell(opening)
    for answer in answers(dice, one):
        one.session = Session.model_validate_json(one.session.model_dump_json())
        assert one.session.model_dump_json() == other.session.model_dump_json()
        assert one.pick(answer) == other.pick(answer)
    for _ in range(3):
        assert one.command("undo") == other.command("undo")
    assert one.session.model_dump_json() == other.session.model_dump_json()


def test_two_chats_do_not_hear_each_other(talk: Start) -> None:
    def lines(seed: int) -> Iterator[Reply]:
        dice, one = random.Random(seed), talk()
        yield one.tell(openings(dice, one.book))
        for answer in answers(dice, one):
            yield one.pick(answer)

    apart = [list(lines(seed)) for seed in (1, 2)]
    first, second = lines(1), lines(2)
    together: tuple[list[Reply], list[Reply]] = ([], [])
    while True:
        heard = [next(first, None), next(second, None)]
        for place, reply in enumerate(heard):
            if reply is not None:
                together[place].append(reply)
        if heard == [None, None]:
            break
    assert list(together) == apart


def forbidden(*_: Any, **__: Any) -> Any:
    raise AssertionError("the core looked at a clock, dice, a file or the network")


def test_the_core_looks_at_no_clock_no_dice_no_file_and_no_network(
    talk: Start, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = talk()
    apparatus(one.book)
    for module, names in (
        (time, ("time", "time_ns", "monotonic", "perf_counter")),
        (random, ("random", "choice", "randint")),
        (socket, ("socket",)),
    ):
        for name in names:
            monkeypatch.setattr(module, name, forbidden)
    monkeypatch.setattr("builtins.open", forbidden)
    one.say("was good till nine then it faded")
    for answer in (True, UNKNOWN, UNKNOWN, UNKNOWN):
        if one.reply.ask is not None:
            one.pick(answer if one.reply.ask.type == "bool" else UNKNOWN)
    for command in ("why", "summary", "clear", "undo"):
        one.command(command)
    assert one.session != Session()


@pytest.mark.parametrize("seed", range(3))
def test_the_same_messages_bring_the_same_replies(seed: int, talk: Start) -> None:
    def record() -> list[Reply]:
        dice, one = random.Random(seed), talk()
        said = [one.tell(openings(dice, one.book))]
        return said + [one.pick(answer) for answer in answers(dice, one)]

    assert record() == record()


def test_a_message_changes_only_the_session_it_is_sent_to(started: Talk) -> None:
    before, copy = started.session, started.session.model_copy(deep=True)
    started.pick(True)
    assert before == copy
    facts: Mapping[str, Any] = {"tool.edge": "keen"}
    started.tell(facts)
    assert facts == {"tool.edge": "keen"}
