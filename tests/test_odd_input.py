"""Whatever is sent is answered, and what cannot be taken changes nothing."""

import random
from collections.abc import Callable
from typing import Any

import legal_facts
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rule_folders import NOW, VOCABULARY
from talks import Infer, Talk, answers

from coach.conversation import Message, Reply, Session
from coach.dialogue import step
from coach.model import UNKNOWN, Rulebook, Scalar

Start = Callable[..., Talk]


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"tool.wobbles": "maybe"}, "bad-value"),
        ({"tool.length_ft": 11}, "bad-value"),
        ({"tool.length_ft": float("nan")}, "bad-value"),
        ({"tool.edge": "sharp"}, "bad-value"),
        ({"tool.colour": "red"}, "unknown-fact"),
        ({"left.too_high_ft": 3}, "unknown-fact"),
        ({"something.is_wrong": True}, "unknown-fact"),
        ({"named.blunt": True}, "unknown-fact"),
        ({"chat.open": True}, "unknown-fact"),
        ({"tool.wobbles": True, "tool.length_ft": 11}, "bad-value"),
        ({"tool.wobbles": True, "": True}, "unknown-fact"),
    ],
)
def test_facts_that_cannot_be_so_leave_everything_as_it_was(
    facts: dict[str, Any], code: str, started: Talk
) -> None:
    before, asked = started.session, started.reply.ask
    reply = started.tell(facts)
    assert reply.error is not None
    assert reply.error[0] == code
    assert started.session == before
    assert reply.ask == asked
    assert reply.understood == {}


@pytest.mark.parametrize("value", ["maybe", 1, 0.5, None, [], {}, "Yes", 10**400])
def test_a_pick_that_is_no_answer_leaves_everything_as_it_was(value: Any, started: Talk) -> None:
    before, asked = started.session, started.reply.ask
    reply = started.pick(value)
    assert reply.error is not None
    assert reply.error[0] == "bad-value"
    assert (started.session, reply.ask) == (before, asked)


def test_a_pick_without_a_question_is_refused(bench: Talk) -> None:
    assert bench.pick(True).error == ("no-question", bench.book.texts["nothing_open"])
    assert bench.session == Session()


def test_a_command_that_does_not_exist_is_refused_with_those_that_do(started: Talk) -> None:
    before = started.session
    reply = started.command("shout")
    assert reply.error is not None
    assert reply.error[0] == "bad-command"
    assert all(name in reply.error[1] for name in ("new", "why", "undo", "summary", "forget"))
    assert started.session == before


JSONISH = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.sampled_from([10**400, -(10**19)])
    | st.floats()
    | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)
PIECES = [
    *"0123456789 .,-'\"½¼¾²³:/°?!é😀",
    *("ft ", "no ", "not ", "nine ", "the left ", "\u0301", "\u202e", "\0", "\ud800"),
]
TEXT = st.text(st.characters(), max_size=60) | st.lists(st.sampled_from(PIECES), max_size=25).map("".join)


class Sample:
    """A conversation on the shipped rules at its start, in the middle and after its verdict."""

    def __init__(self, book: Rulebook, infer: Infer, sessions: list[Session]) -> None:
        self.book, self.infer, self.sessions = book, infer, sessions

    def step(self, at: int, message: Message) -> tuple[Session, Reply]:
        return step(self.sessions[at], message, now=NOW, book=self.book, infer=self.infer)


@pytest.fixture(scope="module")
def sample(shipped: Rulebook, plain: Infer) -> Sample:
    one = Talk(shipped, plain)
    sessions = [one.session]
    one.tell({"catch.course": "faded"})
    for answer in answers(random.Random(3), one, unknown=0.2):
        sessions.append(one.session)
        one.pick(answer)
    return Sample(shipped, plain, [sessions[0], sessions[1], sessions[len(sessions) // 2], one.session])


AT = st.integers(0, 3)
FREELY = settings(max_examples=250, suppress_health_check=[HealthCheck.function_scoped_fixture])


@FREELY
@given(AT, TEXT)
def test_no_text_is_too_odd_to_be_answered(sample: Sample, at: int, text: str) -> None:
    session, reply = sample.step(at, Message(text=text))
    assert reply.blocks or reply.ask or reply.verdict
    assert reply.error is None
    written = session.model_dump_json()
    assert Session.model_validate_json(written).model_dump_json() == written


@FREELY
@given(AT, JSONISH)
def test_no_pick_is_too_odd_to_be_answered(sample: Sample, at: int, value: Any) -> None:
    session, reply = sample.step(at, Message(pick=value, has_pick=True))
    if reply.error is not None:
        assert session == sample.sessions[at]


@FREELY
@given(AT, st.dictionaries(st.sampled_from(sorted(VOCABULARY["facts"])) | st.text(), JSONISH, max_size=4))
def test_no_facts_are_too_odd_to_be_answered(sample: Sample, at: int, facts: dict[str, Any]) -> None:
    session, reply = sample.step(at, Message(facts=facts))
    if reply.error is not None:
        assert session == sample.sessions[at]


@settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(AT, legal_facts.facts(max_size=8))
def test_no_legal_facts_together_are_too_odd_to_be_answered(
    sample: Sample, at: int, facts: dict[str, Scalar]
) -> None:
    session, reply = sample.step(at, Message(facts=facts))
    assert reply.error is None
    assert reply.understood == facts
    assert {
        name: session.facts[name].value for name in facts if name in session.facts
    }.items() <= facts.items()


@pytest.mark.parametrize(
    "when",
    [
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-14:00",
        "0001-01-01T00:00:00Z",
        "9999-12-31T23:59:59Z",
    ],
)
def test_a_tide_table_from_the_ends_of_time_is_answered(when: str, talk: Start) -> None:
    one = talk()
    facts = {
        "tide.high_at": when, "tide.high_ft": 3, "tide.low_at": "2027-02-12T00:05:00-05:00", "tide.low_ft": 1,
        "water.depth_ft": 11, "lamps.clip_left_ft": 3, "lamps.clip_right_ft": 3, "safety.all_clear": True,
    }  # fmt: skip
    assert one.tell(facts).error is None
    for _ in answers(random.Random(1), one, unknown=1):
        one.pick(UNKNOWN)
    assert one.reply.verdict is not None
