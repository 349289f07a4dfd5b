"""A lesson: what is asked and when, hints, confidence, the gate, help that fades; nothing typed breaks it."""

from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from school_bank import NOON, Pupil, bank, items, right_answer, school
from scipy import stats

from coach.school import choosing, introducing
from coach.school.asking import given as meant
from coach.school.gate import gates, open_topics
from coach.school.marking import how_sure
from coach.school.nights import STEPS
from coach.school.parts import Item
from coach.school.state import Learner


def understood(item: Item, text: str) -> tuple[str, str, float]:
    kitchen = bank().kitchen
    found = meant(text, item, 0, book=kitchen.book, lexicon=kitchen.tools.lexicon, now=NOON)
    return found.kind, found.picked, found.number


# --- how long a memory lasts -------------------------------------------------------------------------------


def test_who_forgets_more_than_was_foretold_is_asked_sooner() -> None:
    waits = {}
    for name, known, forgotten in (("usual", 0, 0), ("forgets", 6, 6), ("keeps", 60, 0)):
        pupil = Pupil()
        pupil.types("")
        recalled = ((0.9, True),) * known + ((0.9, False),) * forgotten
        pupil.state = pupil.state.model_copy(update={"recalled": recalled})
        item = pupil.item
        assert item is not None
        pupil.answers(rightly=True)
        card = pupil.state.cards[item.id]
        waits[name] = card.due_at - card.last_at
    assert waits["forgets"] < waits["usual"] < waits["keeps"]


def test_what_was_asked_again_after_days_tells_of_a_memory_and_a_guess_is_not_known() -> None:
    pupil = Pupil()
    pupil.takes_a_lesson()
    assert pupil.state.recalled == ()
    before = pupil.state.cards
    pupil.now += timedelta(days=4)
    pupil.types("")
    while pupil.item is not None and pupil.item.id not in before:
        pupil.answers(rightly=True)
    item = pupil.item
    assert item is not None
    foretold = choosing.plan_of(bank()).recall(before[item.id], pupil.now)
    pupil.answers(rightly=True, sure="a guess")
    ((chance, known),) = pupil.state.recalled
    assert chance == pytest.approx(foretold, abs=1e-3)  # half a minute later
    assert not known


# --- the course of a lesson --------------------------------------------------------------------------------


def test_a_newcomer_who_answers_rightly_is_through_a_first_lesson_in_a_few_questions() -> None:
    pupil = Pupil()
    pupil.takes_a_lesson()
    assert pupil.state.sitting.is_over
    assert 3 <= pupil.state.sitting.count <= school().plan["day.items"] + len(STEPS)
    assert pupil.state.sitting.right == pupil.state.sitting.count
    assert pupil.now - NOON < timedelta(minutes=11)


def test_the_words_of_a_topic_are_told_and_a_sum_is_worked_out_before_the_first_is_asked() -> None:
    pupil = Pupil()
    lines = pupil.types("").lines
    heights = school().topics["heights"]
    assert any(line.startswith("Clip height:") for line in lines)
    assert heights.words
    worked = next(at for at, line in enumerate(lines) if line.startswith("One worked out first"))
    assert worked < len(lines) - 2
    assert pupil.item is not None
    shown = bank().item(pupil.item.id, introducing.WORKED_TURN)
    assert shown is not None and shown.ask != pupil.item.ask
    pupil.takes_a_lesson()
    assert pupil.said.count(introducing.introduction("heights", bank())[0]) == 1


def test_what_was_missed_comes_back_in_the_same_lesson_after_others_and_not_for_ever() -> None:
    pupil = Pupil()
    pupil.types("")
    first = pupil.state.open
    assert first is not None
    pupil.answers(rightly=False)
    between = 0
    while pupil.state.open is not None and pupil.state.open.item != first.item:
        pupil.answers(rightly=True)
        between += 1
    assert pupil.state.open is not None and pupil.state.open.retry == 1
    assert between >= school().plan["day.again_after"]
    hopeless = Pupil()
    hopeless.takes_a_lesson(rightly=False, most=80)
    assert hopeless.state.sitting.right == 0


def test_a_retry_is_practice_and_counts_for_nothing() -> None:
    pupil = Pupil()
    pupil.takes_a_lesson(rightly=False, most=80)
    tries = sum(map(len, pupil.state.tries.values()))
    assert tries == pupil.state.sitting.count
    assert all(set(row) == {"0"} for row in pupil.state.tries.values())


def test_no_more_than_the_days_number_and_the_days_new_ones() -> None:
    pupil = Pupil()
    pupil.takes_a_lesson()
    started = {name.rpartition("/")[0] if name.startswith("case/") else name for name in pupil.state.cards}
    assert len(started) <= school().plan["day.new"]
    again = pupil.types("")
    assert again.lines == (school().texts["nothing_today"],)
    tomorrow = Pupil(at=NOON + timedelta(days=1))
    tomorrow.state = pupil.state
    tomorrow.takes_a_lesson()
    assert len(tomorrow.state.cards) > len(pupil.state.cards)


def test_topics_are_mixed() -> None:
    order = []
    pupil = Pupil()
    pupil.types("")
    while pupil.item is not None:
        order.append(pupil.item.topic)
        pupil.answers(rightly=True)
    assert len(set(order)) >= 3


def test_asked_for_more_there_is_more() -> None:
    pupil = Pupil()
    pupil.takes_a_lesson()
    assert pupil.types("hello there").lines == (school().texts["out_of_place"],)
    pupil.types("more")
    assert pupil.state.open is not None


def test_what_was_wrong_too_often_is_explained_anew_instead_of_asked_again() -> None:
    pupil = Pupil()
    pupil.takes_a_lesson()
    name = next(iter(pupil.state.cards))
    stuck = pupil.state.cards[name].model_copy(update={"wrong": choosing.plan_of(bank()).stuck_after})
    pupil.state = pupil.state.model_copy(update={"cards": {**pupil.state.cards, name: stuck}})
    pupil.now += timedelta(days=1)
    lines = pupil.types("").lines
    item = bank().item(name)
    assert item is not None
    assert any(item.ask in line and "once more" in line for line in lines)
    assert set(item.because) <= set(lines)
    assert pupil.state.cards[name].wrong == 0


def test_in_quiet_hours_a_lesson_says_so_and_goes_on() -> None:
    night = datetime.fromisoformat("2027-02-12T23:15:00-05:00")
    pupil = Pupil()
    pupil.takes_a_lesson()
    pupil.now = night
    assert school().texts["quiet"] in pupil.types("").lines
    assert choosing.plan_of(bank()).is_quiet(night)
    assert not choosing.plan_of(bank()).is_quiet(NOON)


# --- hints, and how sure one is ----------------------------------------------------------------------------


def test_hints_go_from_a_nudge_to_the_answer_and_then_say_that_there_are_no_more() -> None:
    item = next(item for item in items() if item.id == "case/ebb-took-it/wrong")
    assert len(item.hints) == 4
    assert item.answer not in item.hints[0] and item.answer in item.hints[-1]
    pupil = Pupil()
    pupil.types("")
    assert pupil.item is not None
    rungs = [pupil.types("hint").lines for _ in pupil.item.hints]
    assert [line for (line,) in rungs] == list(pupil.item.hints)
    assert pupil.types("hint").lines == (school().texts["no_more_hints"],)


def test_what_is_not_understood_is_said_back_and_changes_nothing() -> None:
    pupil = Pupil()
    pupil.types("")
    before, item = pupil.state, pupil.item
    lines = pupil.types("a banana").lines
    assert lines[0] == "I did not understand: a banana"
    assert len(lines) == 2
    assert (pupil.state, pupil.item) == (before, item)


def test_an_answer_with_a_hint_is_right_but_no_first_try() -> None:
    pupil = Pupil()
    pupil.types("")
    assert pupil.item is not None
    topic = pupil.item.topic
    pupil.types("hint")
    lines = pupil.answers(rightly=True).lines
    assert lines[0] == school().texts["right_with_hint"]
    assert pupil.state.tries[topic] == "0"
    assert pupil.state.fresh[0].right and pupil.state.fresh[0].hints == 1


def test_a_question_mark_shows_the_answer_with_its_reason_and_it_comes_back() -> None:
    pupil = Pupil()
    pupil.types("")
    item = pupil.item
    assert item is not None
    lines = pupil.types("?").lines
    assert any(item.answer.rstrip(".") in line for line in lines)
    assert set(item.because) <= set(lines)
    assert pupil.state.sitting.back


def test_a_wrong_choice_is_told_how_one_comes_to_it() -> None:
    pupil = Pupil()
    pupil.types("")
    while pupil.item is not None and not pupil.item.choices:
        pupil.answers(rightly=True)
    item = pupil.item
    assert item is not None
    wrong = next(choice for choice in item.choices if choice.id != item.right)
    pupil.types(wrong.text)
    lines = pupil.types("1").lines
    assert wrong.why in lines[0]
    assert any(item.answer.rstrip(".") in line for line in lines)


def test_how_sure_one_was_is_shown_against_what_came_of_it() -> None:
    pupil = Pupil()
    pupil.types("")
    pupil.answers(rightly=True, sure="certain")
    pupil.answers(rightly=False, sure="3")
    lines = pupil.types("stop").lines
    assert any('"Certain" you were right 1 of 2' in line for line in lines)
    assert pupil.state.sure["certain"] == (2, 1)


@pytest.mark.parametrize(
    ("text", "found"),
    [("1", "guess"), ("2", "fairly"), ("certain", "certain"), ("a gu", "guess"), ("9", None), ("", None)],
)
def test_how_sure_is_said_by_digit_or_words(text: str, found: str | None) -> None:
    assert how_sure(text, school().sure) == found


# --- answers as people type them ---------------------------------------------------------------------------


def test_numbers_are_read_with_and_without_units_in_digits_and_words() -> None:
    item = bank().item("number/clip-height")
    assert item is not None
    for text, value in {
        "3": 3,
        "3 ft": 3,
        "3.5": 3.5,
        "3,5": 3.5,
        "three and a half": 3.5,
        "3'6\"": 3.5,
    }.items():
        assert understood(item, text) == ("number", "", pytest.approx(value)), text
    assert understood(item, "no idea")[0] == "unknown"
    assert understood(item, "up there")[0] == "unclear"
    hours = bank().item("number/reclip-time")
    assert hours is not None
    for text in ("2.1", "2.1 h", "2.1 hours"):
        assert understood(hours, text) == ("number", "", pytest.approx(2.1))


def test_choices_are_taken_by_digit_by_words_and_by_id_and_nothing_is_guessed() -> None:
    item = next(item for item in items() if item.id == "case/ebb-took-it/wrong")
    for choice in item.choices:
        assert understood(item, choice.text)[1] == choice.id
        assert understood(item, choice.id)[1] == choice.id
    assert understood(item, "9")[0] == "unclear"
    assert understood(item, "the")[0] == "unclear"


def test_a_number_in_the_wrong_unit_is_asked_for_again_and_costs_nothing() -> None:
    pupil = Pupil()
    pupil.types("")
    assert pupil.item is not None and pupil.item.wanted is not None
    lines = pupil.types("40 %").lines
    assert pupil.item.wanted.unit in lines[0]
    assert not pupil.state.cards


@settings(max_examples=60, deadline=None)
@given(texts=st.lists(st.text(max_size=40), max_size=8))
def test_nothing_that_is_typed_breaks_a_lesson(texts: list[str]) -> None:
    pupil = Pupil()
    pupil.types("")
    for text in texts:
        pupil.types(text)
        assert Learner.model_validate_json(pupil.state.model_dump_json()) == pupil.state


def test_a_step_is_pure_the_same_state_and_text_give_the_same_lines() -> None:
    one, other = Pupil(), Pupil()
    for text in ("", "3", "2", "hint", "?", "1", "1", "stop", "more"):
        assert one.types(text) == other.types(text)


# --- the gate ----------------------------------------------------------------------------------------------


def test_a_topic_is_mastered_by_a_lower_bound_not_by_a_few_lucky_answers() -> None:
    # Clopper-Pearson, one-sided at the plan's level, against scipy's exact interval
    level, share = school().plan["mastery.level"], school().plan["mastery.share"]
    for right in range(13):
        for wrong in range(13 - right):
            if right + wrong == 0:
                continue
            found = gates({"heights": "0" * wrong + "1" * right}, school())["heights"]
            exact = stats.binomtest(right, right + wrong).proportion_ci(2 * level - 1, method="exact")
            assert found.at_least == pytest.approx(exact.low, abs=1e-9)
            assert found.mastered == (exact.low >= share)
    assert not gates({"heights": "1" * 4}, school())["heights"].mastered
    assert gates({"heights": "1" * 8}, school())["heights"].mastered


def test_a_topic_opens_once_those_before_it_are_mastered_and_not_sooner() -> None:
    assert set(open_topics({}, school())) == {"heights", "bands", "safety"}
    assert "circles" in open_topics({"heights": "1" * 12}, school())
    assert "sets" not in open_topics({"heights": "1" * 12}, school())
    every = dict.fromkeys(school().topics, "1" * 12)
    assert set(open_topics(every, school())) == set(school().topics)


def test_nothing_of_a_closed_topic_is_asked() -> None:
    pupil = Pupil()
    pupil.takes_a_lesson()
    assert set(pupil.state.tries) <= set(open_topics({}, school()))


def test_a_learner_who_knows_it_all_masters_topics_and_is_told_so() -> None:
    pupil = Pupil()
    for day in range(14):
        pupil.now = NOON + timedelta(days=day)
        pupil.takes_a_lesson()
    mastered = [name for name, gate in gates(pupil.state.tries, school()).items() if gate.mastered]
    assert len(mastered) >= 3
    assert any("is mastered" in line for line in pupil.said)
    assert any("A new topic is open" in line for line in pupil.said)


# --- help that fades ---------------------------------------------------------------------------------------


def test_the_first_case_of_a_topic_is_worked_out_the_next_half_of_it_and_later_none() -> None:
    shown = [choosing.shown_steps(seen, bank()) for seen in range(5)]
    assert shown[0] == len(STEPS) - 1
    assert shown == sorted(shown, reverse=True)
    assert shown[-1] == 0
    steps = choosing.steps_of("case/ebb-took-it/wrong", bank())
    assert [name.rpartition("/")[2] for name in steps] == list(STEPS)
    told = introducing.worked(steps[:3], "ebb-took-it", bank(), is_first=True)
    item = bank().item("case/ebb-took-it/wrong")
    assert item is not None
    assert any(item.answer in line for line in told)
    assert set(item.because) <= set(told)


def test_a_new_items_difficulty_decides_which_comes_first_once_answers_tell_it() -> None:
    names = [n for n in bank().in_topic("heights") if n.startswith("number/")]

    def first(fitting: str) -> str:
        # answered right by four of five at ability 0, and all others by next to nobody
        hardness = dict.fromkeys(names, 9.0) | {fitting: -1.4}
        found = choosing.fresh_items(Learner(name="Bo"), bank(), hardness)
        return next(name for name in found if name in names)

    assert first(names[3]) == names[3]
    assert first(names[1]) == names[1]


def test_right_answers_of_all_items_are_understood_as_typed() -> None:
    for item in items()[::7]:
        kind, picked, number = understood(item, right_answer(item))
        if item.wanted is None:
            assert (kind, picked) == ("picked", item.right), item.id
        else:
            assert kind == "number" and item.wanted.is_right(number), item.id
