"""What people ask the coach: answered beside the consultation, which goes on as if nothing had been asked."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from talks import Talk

from coach.answering import answer_to
from coach.conversation import Block, Session
from coach.model import Answer, Rulebook

LINES = json.loads((Path(__file__).parent / "cases" / "dev_lines.json").read_text())

Start = Callable[..., Talk]


def said(one: Talk) -> str:
    return " ".join(block.text for block in one.reply.blocks)


@pytest.mark.parametrize("depth,clip", [("11 ft", "3 ft"), ("thirteen feet", "5 ft"), ("8 ft", "1 ft")])
def test_asked_for_a_clip_height_the_coach_works_it_out(depth: str, clip: str, talk: Start) -> None:
    """Common practice: clip height = depth - 8 ft, at least 1 ft."""
    one = talk()
    one.say(f"how high should i clip the lamps in {depth}?")
    assert f"clip at {clip} above the weight" in said(one)


def test_a_depth_that_was_only_asked_about_is_not_taken_as_told(talk: Start) -> None:
    one = talk()
    one.say("how high should i clip the lamps in 13 ft?")
    assert "water.depth_ft" not in one.session.facts


def test_beyond_the_rope_the_coach_says_so_instead_of_a_number(talk: Start) -> None:
    one = talk()
    one.say("where do i clip in 30 ft?")
    assert "no clip height" in said(one)


def test_a_word_of_the_trade_is_explained_and_the_question_stays_open(talk: Start) -> None:
    one = talk()
    one.say("catch faded, others still at it")
    before, ask = one.session, one.reply.ask
    for text in (
        "what is the dark band?",
        "whats a clip",
        "What does slack mean?",
        "explain under-path",
        "what is the dipping side?",
        "what is traffic",
        "how do I sound?",
        "which is the left lamp?",
    ):
        one.say(text)
        assert one.reply.blocks and "not understand" not in said(one), text
        assert one.session == before
        assert one.reply.ask == ask


def test_a_greeting_is_returned_and_starts_nothing(talk: Start) -> None:
    one = talk()
    for text in ("hi", "Hello!", "thanks", "good evening"):
        one.say(text)
        assert "not understand" not in said(one)
        assert (one.session, one.reply.ask) == (Session(), None)


def test_what_is_told_beside_a_question_is_heard_and_the_consultation_goes_on(talk: Start) -> None:
    one = talk()
    one.say("the catch faded. how often do i re-clip?")
    assert one.session.facts["catch.course"].value == "faded"
    assert "foot for foot" in said(one)
    assert one.reply.ask is not None


def test_a_warning_stands_before_an_answer(talk: Start) -> None:
    one = talk()
    one.say("thunder all round. how often do i re-clip?")
    assert [block.kind for block in one.reply.blocks][:2] == ["warn", "say"]


def test_statements_are_not_taken_for_questions(shipped: Rulebook) -> None:
    lines = [line["text"] for line in LINES["lines"] if "?" not in line["text"] and line["understood"]]
    assert len(lines) > 300
    assert [line for line in lines if answer_to(line, shipped.answers)] == []


def test_the_longest_and_oddest_text_is_no_question() -> None:
    answer = Answer("one", (("how",), ("clip*",)), ("apart",), ("It.",))
    for text in ("", "?" * 5000, "how " * 5000, "\x00 how", "how apart clips"):
        assert answer_to(text, [answer]) is None
    assert answer_to("HOW are they clipped?", [answer]) is answer


# --- emergencies -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text,hazard",
    [
        ("my wife fell overboard", "person-overboard"),
        ("man overboard!!", "person-overboard"),
        ("the battery is smoking", "fire-aboard"),
        ("we are taking on water", "taking-water"),
        ("he is bleeding badly", "hurt"),
        ("my dad got zapped", "shock-in-water"),
        ("there is a fire", "fire-aboard"),
        ("water in the boat", "taking-water"),
        ("carbon monoxide alarm is beeping", "fumes"),
    ],
)
def test_in_an_emergency_nothing_else_is_asked_until_it_is_over(text: str, hazard: str, talk: Start) -> None:
    one = talk()
    one.say("catch faded")
    one.say(text)
    assert [name for name, _ in one.reply.hazards] == [hazard]
    assert one.reply.ask is None
    one.say("the lamps are 8 ft out")
    assert one.reply.ask is None
    assert Block("say", one.book.texts["emergency_goes_on"]) in one.reply.blocks
    one.say("all safe")
    assert one.reply.ask is not None


@pytest.mark.parametrize(
    "text",
    [
        "we dropped a lamp overboard",
        "the lamps went in the water at dusk",
        "they fall off at the edge of the light",
        "the bucket is filling up fast",
        "my wife is in the bow, i am in the stern",
        "the catch is sinking",
        "what do i do if someone falls in?",
        "i fell in love with this creek",
    ],
)
def test_a_lamp_or_the_run_in_the_water_is_no_emergency(text: str, talk: Start) -> None:
    one = talk()
    one.say(text)
    assert one.reply.hazards == ()
