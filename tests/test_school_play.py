"""The role play and the look back on a trip: the same consultation, the same causes as on the water."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from school_bank import NOON, bank, school

from coach.school import afterwards
from coach.school.nights import opening_facts
from coach.school.parts import NOTHING
from coach.school.roleplay import Play, RolePlay, Spoken
from coach.trips.looks import Look
from coach.trips.trip import Advice, Place, Trip
from coach.wording import in_words

CASES = [case.id for case in school().cases]


@pytest.fixture(scope="module")
def role() -> RolePlay:
    return RolePlay(bank().kitchen)


def says(role: RolePlay, case: str, *texts: str) -> Spoken:
    spoken = role.begin(case)
    for text in texts:
        spoken = role.step(spoken.state, text, now=NOON)
    return spoken


# --- the boater --------------------------------------------------------------------------------------------


def test_the_boater_answers_what_is_asked_from_the_hidden_night(role: RolePlay) -> None:
    spoken = role.begin("grass-on-the-line")
    assert "A lot of grass drifts by." in spoken.lines[0]
    for text, fact in {
        "are the others catching?": "others.catching",
        "is there weed on the lamps?": "lamps.fouled",
        "are the lamps dim": "lamps.dim",
        "is the tide falling": "tide.state",
        "how far apart are the lamps?": "lamps.apart_ft",
        "what is the moon doing": "sky.moon",
        "where do you see them?": "run.seen",
        "do you lie across the current?": "boat.across_flow",
    }.items():
        spoken = role.step(spoken.state, text, now=NOON)
        assert spoken.state.asked[-1] == fact, text
        value = next(case for case in school().cases if case.id == "grass-on-the-line").hidden.get(fact)
        told = (
            school().texts["play_unknown"]
            if value is None
            else in_words(value, bank().kitchen.book.facts[fact])
        )
        assert told in spoken.lines[0], text


def test_a_boater_who_has_not_measured_answers_roughly(role: RolePlay) -> None:
    case = next(case for case in school().cases if case.vague)
    fact = sorted(case.vague)[0]
    answer = role.answer(case, fact)
    assert answer.startswith('"About')


def test_what_is_not_understood_costs_no_question_and_what_was_asked_is_said_again(role: RolePlay) -> None:
    spoken = says(role, CASES[0], "what colour is your hat")
    assert spoken.state.asked == ()
    assert "What do you mean?" in spoken.lines[0]
    spoken = says(role, CASES[0], "what is the tide doing?", "what is the tide doing?")
    assert spoken.state.asked == ("tide.state",)
    assert "I told you" in spoken.lines[0]


@settings(max_examples=60, deadline=None)
@given(texts=st.lists(st.text(max_size=60), max_size=6))
def test_nothing_that_is_typed_breaks_the_play(texts: list[str]) -> None:
    spoken = says(RolePlay(bank().kitchen), "odd-lamp", *texts)
    assert Play.model_validate_json(spoken.state.model_dump_json()) == spoken.state


# --- the review --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", CASES)
def test_what_the_play_calls_right_is_what_the_written_case_calls_right(name: str, role: RolePlay) -> None:
    item = bank().item(f"case/{name}/wrong")
    assert item is not None
    assert role.right(name) == item.right


@pytest.mark.parametrize("name", CASES[::4])
def test_a_finding_in_the_words_of_the_cause_is_taken_and_told_right(name: str, role: RolePlay) -> None:
    right = role.right(name)
    words = "nothing is wrong" if right == NOTHING else bank().kitchen.book.causes[right].says
    spoken = says(role, name, f"it is {words}")
    assert spoken.state.is_over
    assert spoken.state.finding == right
    assert spoken.lines[0].startswith("That is it")


def test_somebody_who_asks_what_the_coach_asks_is_told_so(role: RolePlay) -> None:
    case = school().cases[0]
    questions = [bank().kitchen.book.facts[name].ask for name in role.own_questions(case)]
    assert 2 <= len(questions) <= bank().kitchen.book.asking["most_questions"] + 6
    right = bank().kitchen.book.causes[role.right(case.id)].says
    spoken = says(role, case.id, *questions, f"it is {right}")
    assert school().texts["play_same"] in spoken.lines


def test_whoever_asks_otherwise_is_shown_where_and_why_the_coach_would_not(role: RolePlay) -> None:
    case = school().cases[0]
    first = role.own_questions(case)[0]
    assert first not in opening_facts(case, bank().kitchen)
    spoken = says(role, case.id, "what is the water temperature?", "give up")
    assert any(line.startswith("At question 1 we part") for line in spoken.lines)
    assert any(bank().kitchen.book.facts[first].why in line for line in spoken.lines)
    assert spoken.lines[0].startswith("It is: ")


def test_the_plays_come_in_turn_and_none_is_left_out(role: RolePlay) -> None:
    name, seen = role.after(None), []
    while name not in seen:
        seen.append(name)
        name = role.after(name)
    assert sorted(seen) == sorted(CASES)


# --- after a trip ------------------------------------------------------------------------------------------


def trip(*advice: Advice, facts: str = "ebb-took-it", looks: tuple[Look, ...] = ()) -> Trip:
    told = next(case for case in school().cases if case.id == facts).facts
    end = NOON + timedelta(hours=3)
    return Trip(1, NOON, end, Place("Gull Point"), (), looks, advice, (), told, 9)


def advice(cause: str, *, helped: bool | None, minutes: int = 60) -> Advice:
    at = NOON + timedelta(minutes=minutes)
    return Advice(at, (cause,), "Do that.", {}, helped, at)


def test_the_advice_that_helped_is_what_it_was_not_the_one_that_did_not() -> None:
    night = trip(advice("lamp-dim", helped=False), advice("tide-fell", helped=True, minutes=90))
    item = afterwards.item_of(night, bank().kitchen)
    assert item is not None
    assert item.right == "tide-fell"
    assert "helped" in item.because[0]
    assert "tide-fell" not in {choice.id for choice in item.choices if choice.why}


def test_counts_before_and_after_are_told_with_what_it_was() -> None:
    looks = (
        Look(NOON + timedelta(minutes=50), 10, whole=6),
        Look(NOON + timedelta(minutes=80), 10, whole=31),
    )
    item = afterwards.item_of(trip(advice("tide-fell", helped=True), looks=looks), bank().kitchen)
    assert item is not None
    assert "6 in ten minutes before, 31 after" in item.because[0]


def test_a_trip_without_a_finding_or_with_a_cause_of_other_rules_makes_no_question() -> None:
    assert afterwards.item_of(trip(), bank().kitchen) is None
    assert afterwards.item_of(trip(advice("ghosts", helped=True)), bank().kitchen) is None


def test_the_facts_of_a_trip_are_cut_down_to_what_can_be_read_and_still_say_the_same() -> None:
    long = next(case for case in school().cases if case.id == "over-for-all")
    night = Trip(1, NOON, NOON, Place(), (), (), (advice("run-over", helped=None),), (), long.hidden, 9)
    item = afterwards.item_of(night, bank().kitchen)
    assert item is not None
    assert len(item.told) <= 12
    assert bank().kitchen.bench.assessed(item.facts).named[:1] == ("run-over",)
