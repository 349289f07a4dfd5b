"""The conversation: one message in, the next state and a reply out.

The machinery is tried on a rule base of three invented signs; what holds for any rule base, on random
answers to the shipped one.
"""

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from rule_folders import NOW, PRICKED, VOCABULARY, rule, yes_or_no
from talks import BENCH, Talk, answers, fact_asked, kinds, openings, without_past

from coach.conversation import Block, Session
from coach.model import UNKNOWN, Rulebook

Start = Callable[..., Talk]


# --- asking and concluding -----------------------------------------------------------------------------


def test_a_consultation_runs_from_the_safety_check_to_a_verdict_with_what_to_do(bench: Talk) -> None:
    bench.tell({"tool.wobbles": True})
    assert fact_asked(bench.reply) == "safety.all_clear"
    bench.pick(True)
    assert fact_asked(bench.reply) == "tool.edge"
    bench.pick("keen")
    assert bench.reply.verdict is not None
    (cause,) = bench.reply.verdict["causes"]
    # 10 dB for, that is 10 to 1: 0.9091
    assert (cause["id"], cause["probability"]) == ("loose", pytest.approx(10 / 11, abs=5e-5))
    assert cause["because"] == ["It wobbles."]
    assert cause["rules"] == ["wobbly"]
    assert cause["fix"] == ["Tighten it."]
    assert cause["look_again_min"] == 10
    assert bench.reply.verdict["set"] == "plain-bench"
    assert kinds(bench.reply, "action") == ["Tighten it."]
    assert kinds(bench.reply, "reason") == ["It wobbles."]


def test_two_faults_are_both_named_the_likelier_first(
    small_rules: Callable[..., Rulebook], talk: Start
) -> None:
    rules = BENCH.replace('loose = "w20"', 'loose = "w25"')
    both = talk(small_rules(facts=PRICKED, rules=rules))
    both.tell({"safety.all_clear": True, "tool.wobbles": True, "tool.edge": "round"})
    assert both.reply.verdict is not None
    assert [cause["id"] for cause in both.reply.verdict["causes"]] == ["loose", "blunt"]
    assert kinds(both.reply, "action") == ["Tighten it."]
    assert any("Whet it." in said for said in kinds(both.reply, "say"))
    assert any("10 minutes" in said for said in kinds(both.reply, "say"))


def test_a_chain_of_rules_is_told_causes_before_effects(
    small_rules: Callable[..., Rulebook], talk: Start
) -> None:
    declared = "".join(f'\n["tool.{n}"]\nkind = "concluded"\nsays = "{n}"\n' for n in ("worn", "slack"))
    rules = (
        rule("wears", "tool.edge is round", concludes=["tool.worn"], because="Round means worn.")
        + rule(
            "slackens",
            "tool.worn is yes; tool.wobbles is yes",
            concludes=["tool.slack"],
            because="Worn and wobbling means slack.",
        )
        + rule("loosens", "tool.slack is yes", {"loose": 20}, because="Slack means loose.")
        + rule("tighten", "named.loose is yes", fix_for="loose", action=["Tighten it."], look_again_min=10)
    )
    chain = talk(small_rules(facts=PRICKED, rules=rules, worked_out=declared, causes={"loose": -8}))
    chain.tell({"safety.all_clear": True, "tool.wobbles": True, "tool.edge": "round"})
    assert chain.reply.verdict is not None
    (cause,) = chain.reply.verdict["causes"]
    assert cause["rules"] == ["wears", "slackens", "loosens"]
    chain.command("why")
    (steps,) = [block for block in chain.reply.blocks if block.kind == "steps"]
    assert steps.items == ("Round means worn.", "Worn and wobbling means slack.", "Slack means loose.")


def test_the_strongest_reason_is_told_first(small_rules: Callable[..., Rulebook], talk: Start) -> None:
    louder = rule("rattles", "tool.edge is keen", {"loose": 25}, because="It rattles.")
    one = talk(small_rules(facts=PRICKED, rules=BENCH + louder))
    one.tell({"safety.all_clear": True, "tool.wobbles": True, "tool.edge": "keen"})
    assert one.reply.verdict is not None
    (cause,) = one.reply.verdict["causes"]
    assert cause["because"] == ["It rattles.", "It wobbles."]
    assert cause["rules"] == ["rattles", "wobbly"]
    assert kinds(one.reply, "reason") == ["It rattles.", "It wobbles."]


def test_an_open_question_stays_open_while_other_things_are_told(started: Talk) -> None:
    asked = fact_asked(started.reply)
    started.tell({"sky.fog": True})
    assert fact_asked(started.reply) == asked
    assert started.session.asked.count(str(asked)) == 1


def test_an_open_question_that_is_answered_on_the_side_is_closed(started: Talk) -> None:
    assert fact_asked(started.reply) == "tool.wobbles"
    started.tell({"tool.wobbles": False})
    assert fact_asked(started.reply) == "tool.edge"


def test_a_fact_told_again_takes_the_place_of_what_was_told(started: Talk) -> None:
    started.tell({"tool.wobbles": True, "tool.edge": "round"})
    assert started.reply.verdict is not None
    assert {cause["id"] for cause in started.reply.verdict["causes"]} == {"loose", "blunt"}
    started.tell({"tool.wobbles": False})
    assert started.reply.verdict is not None
    assert {cause["id"] for cause in started.reply.verdict["causes"]} == {"blunt"}


def test_unknown_is_never_taken_for_a_value_and_may_be_made_good_later(started: Talk) -> None:
    started.pick(UNKNOWN)
    assert started.reply.understood == {"tool.wobbles": UNKNOWN}
    assert "tool.wobbles" not in started.session.facts
    assert fact_asked(started.reply) == "tool.edge"
    started.pick(UNKNOWN)
    assert started.reply.verdict is not None
    assert started.reply.verdict["causes"] == []
    started.tell({"tool.wobbles": True})
    assert started.session.unknown == ("tool.edge",)
    assert started.reply.verdict["causes"][0]["id"] == "loose"


def test_what_is_no_longer_known_is_forgotten(started: Talk) -> None:
    started.tell({"tool.wobbles": True, "tool.edge": "keen"})
    started.tell({"tool.wobbles": UNKNOWN})
    assert "tool.wobbles" not in started.session.facts
    assert started.reply.verdict is not None
    assert started.reply.verdict["causes"] == []


def test_what_is_only_told_where_something_is_so_says_that_it_is(
    small_rules: Callable[..., Rulebook], talk: Start
) -> None:
    there = yes_or_no("tool.there").rstrip() + '\ntold_by = ["tool.length_ft"]\n'
    rules = BENCH + rule("gone", "tool.there is no", {"loose": 30, "blunt": 30})
    one = talk(small_rules(facts=PRICKED + there, rules=rules))
    one.tell({"safety.all_clear": True})
    assert fact_asked(one.reply) == "tool.there"
    one.tell({"tool.length_ft": 3})
    assert fact_asked(one.reply) == "tool.wobbles"
    assert "tool.there" not in one.session.facts


def test_what_explains_no_poor_catch_does_not_end_the_questions(
    small_rules: Callable[..., Rulebook], talk: Start
) -> None:
    settled = {"found_from": 0.85, "found_factor": 1e12, "found_likely_from": 0.0}
    book = small_rules(facts=PRICKED, rules=BENCH, asking=settled)
    aside = replace(book, causes={**book.causes, "loose": replace(book.causes["loose"], is_aside=True)})
    for rules, asked in ((book, None), (aside, "tool.edge")):
        one = talk(rules)
        one.tell({"safety.all_clear": True, "tool.wobbles": True})
        assert fact_asked(one.reply) == asked


def test_a_pick_is_answered_with_what_was_understood(started: Talk) -> None:
    assert started.pick(True).understood == {"tool.wobbles": True}


# --- did it help? --------------------------------------------------------------------------------------


def at(minutes: float, talk: Talk) -> Talk:
    """The same chat, some minutes later."""
    later = Talk(talk.book, talk.infer, now=NOW + timedelta(minutes=minutes))
    later.session, later.reply = talk.session, talk.reply
    return later


@pytest.fixture
def advised(talk: Start, small_rules: Callable[..., Rulebook]) -> Talk:
    """Told to tighten it, and to look again after 10 minutes."""
    tried = rule("tried", "tried.loose is yes", {"loose": -40}, because="That was tried.")
    one = talk(small_rules(facts=PRICKED, rules=BENCH + tried))
    one.tell({"safety.all_clear": True, "tool.wobbles": True, "tool.edge": "keen", "catch.now_per_10min": 5})
    assert one.reply.verdict is not None
    return one


def test_whether_it_helped_is_asked_when_it_is_time_to_look_again_and_not_before(advised: Talk) -> None:
    assert fact_asked(at(9, advised).say("hello")) is None
    assert fact_asked(at(10, advised).say("hello")) == "advice.helped"


def test_advice_that_did_not_help_is_set_aside_and_what_came_of_it_is_kept(advised: Talk) -> None:
    later = at(12, advised)
    later.say("hello")
    later.pick("no")
    assert later.session.tried == ("loose",)
    assert later.reply.verdict is not None
    assert later.reply.verdict["causes"] == []
    (outcome,) = later.session.outcomes
    assert (outcome.causes, outcome.helped, outcome.before_per_10min) == (("loose",), False, 5)


def test_the_counts_before_and_after_the_advice_are_kept(advised: Talk) -> None:
    later = at(12, advised)
    later.tell({"catch.now_per_10min": 21})
    later.tell({"advice.helped": "yes"})
    (outcome,) = later.session.outcomes
    assert (outcome.helped, outcome.before_per_10min, outcome.after_per_10min) == (True, 5, 21)


def test_too_early_to_say_puts_the_question_off(advised: Talk) -> None:
    later = at(10, advised)
    later.say("hello")
    later.pick("too_early")
    assert later.session.outcomes == ()
    assert fact_asked(at(11, later).say("hello")) is None
    assert fact_asked(at(10 + later.book.numbers["look_again_min"], later).say("hello")) == "advice.helped"


def test_an_opinion_on_advice_that_was_never_given_is_no_outcome(started: Talk) -> None:
    asked = fact_asked(started.reply)
    started.tell({"advice.helped": "no"})
    assert started.session.outcomes == ()
    assert fact_asked(started.reply) == asked


# --- safety --------------------------------------------------------------------------------------------


def test_hazards_come_first_are_told_when_heard_and_not_again_while_they_last(started: Talk) -> None:
    started.tell({"sky.lightning": True})
    assert started.reply.hazards == (("fire", "Lightning: leave."),)
    assert started.reply.blocks[0] == Block("warn", "Lightning: leave.")
    started.pick(True)
    assert started.reply.hazards == ()
    started.tell({"sky.lightning": False})
    started.tell({"sky.lightning": True})
    assert started.reply.hazards == (("fire", "Lightning: leave."),)


def test_the_gravest_hazard_is_told_first(started: Talk) -> None:
    started.tell({"crew.jackets": False, "sky.lightning": True})
    assert [hazard for hazard, _ in started.reply.hazards] == ["fire", "flood"]


def test_a_hazard_told_with_the_last_answer_stands_before_the_verdict(started: Talk) -> None:
    started.tell({"tool.wobbles": True, "tool.edge": "keen", "sky.lightning": True})
    assert started.reply.verdict is not None
    assert [block.kind for block in started.reply.blocks][:2] == ["warn", "action"]


def test_a_hazard_told_when_asked_whether_the_advice_helped_is_heard(started: Talk) -> None:
    started.tell({"tool.wobbles": True, "tool.edge": "keen"})
    for answer in VOCABULARY["facts"]["advice.helped"]["of"]:
        later = Talk(started.book, started.infer, now=NOW + timedelta(minutes=30))
        later.session = started.session
        later.tell({"advice.helped": answer, "sky.lightning": True})
        assert [hazard for hazard, _ in later.reply.hazards] == ["fire"], answer


def test_a_clean_check_leaves_the_single_questions_out(bench: Talk) -> None:
    asked = bench.play("hello", {"safety.all_clear": True, "tool.wobbles": False, "tool.edge": "keen"})
    assert asked == ["safety.all_clear", "tool.wobbles", "tool.edge"]


def test_a_no_to_the_check_is_followed_up_until_it_is_explained(bench: Talk) -> None:
    bench.say("hello")
    bench.pick(False)
    assert fact_asked(bench.reply) == "sky.lightning"
    bench.pick(False)
    assert fact_asked(bench.reply) == "crew.jackets"
    bench.pick(False)
    assert [hazard for hazard, _ in bench.reply.hazards] == ["flood"]
    assert fact_asked(bench.reply) == "tool.wobbles"


def test_a_bare_no_is_asked_for_the_word_that_says_which(bench: Talk) -> None:
    bench.say("hello")
    bench.pick(False)
    which = Block("say", bench.book.texts["which_hazard"])
    assert which in bench.reply.blocks
    bench.pick(False)
    assert which not in bench.reply.blocks


def test_going_through_the_hazards_is_over_once_one_is_named(bench: Talk) -> None:
    bench.say("hello")
    bench.pick(False)
    bench.tell({"crew.jackets": False})
    assert fact_asked(bench.reply) == "tool.wobbles"


def test_a_hazard_heard_before_explains_a_no(bench: Talk) -> None:
    bench.tell({"sky.lightning": True})
    bench.pick(False)
    assert fact_asked(bench.reply) == "tool.wobbles"


def test_dont_know_to_the_check_asks_only_the_first_few_singly(
    small_rules: Callable[..., Rulebook], talk: Start
) -> None:
    one = talk(small_rules(facts=PRICKED, rules=BENCH, asking={"singles_after_unknown": 1}))
    asked = one.play("hello", {})
    assert asked == ["safety.all_clear", "sky.lightning", "tool.wobbles", "tool.edge"]


# --- the words that work at every question ---------------------------------------------------------------

STILL = {"why": "why", "summary": "sum up", "clear": "clear the water"}
"""Commands that change nothing, and words for them."""


@pytest.mark.parametrize("seed", range(12))
def test_why_summary_and_clearing_the_water_change_nothing_at_any_question(seed: int, talk: Start) -> None:
    dice, one = random.Random(seed), talk()
    one.tell(openings(dice, one.book))
    for answer in answers(dice, one):
        before, asked = one.session, one.reply.ask
        for command, words in STILL.items():
            for reply in (one.command(command), one.say(words)):
                assert one.session == before
                assert reply.ask == asked
                assert reply.blocks
                assert reply.error is None
        one.pick(answer)
    for command in STILL:
        before = one.session
        assert one.command(command).blocks
        assert one.session == before


@pytest.mark.parametrize("seed", range(12))
def test_undo_goes_back_to_the_exact_state_before_at_any_question(seed: int, talk: Start) -> None:
    dice, one = random.Random(seed), talk()
    one.tell(openings(dice, one.book))
    for answer in answers(dice, one):
        before, asked = one.session, one.reply.ask
        one.pick(answer)
        after = one.session
        one.command("undo")
        assert without_past(one.session) == without_past(before)
        assert one.reply.ask == asked
        one.pick(answer)
        assert one.session == after


@pytest.mark.parametrize("seed", range(12))
def test_undoing_everything_leads_back_to_the_empty_session(seed: int, talk: Start) -> None:
    dice, one = random.Random(seed), talk()
    one.tell(openings(dice, one.book))
    turns = 1
    for answer in answers(dice, one):
        one.pick(answer)
        turns += 1
    for _ in range(turns):
        one.command("undo")
    assert one.session == Session()
    assert one.command("undo").blocks == (Block("say", one.book.texts["nothing_to_undo"]),)
    assert one.session == Session()


def test_undo_of_new_brings_the_consultation_back(started: Talk) -> None:
    before = started.session
    started.command("new")
    assert set(started.session.facts) == {"safety.all_clear"}
    assert without_past(started.session) == without_past(Session(facts=started.session.facts))
    started.command("undo")
    assert started.session == before


def test_a_new_consultation_on_the_same_trip_does_not_ask_about_safety_again(started: Talk) -> None:
    started.command("new")
    started.say("hello")
    assert fact_asked(started.reply) == "tool.wobbles"


def test_a_new_consultation_on_another_night_asks_about_safety_again(started: Talk) -> None:
    later = Talk(started.book, started.infer, now=NOW + timedelta(hours=started.book.asking["same_trip_h"]))
    later.session = started.session
    later.command("new")
    later.say("hello")
    assert fact_asked(later.reply) == "safety.all_clear"


def test_a_hazard_in_force_is_told_again_after_new(started: Talk) -> None:
    started.tell({"sky.lightning": True})
    started.command("new")
    started.say("hello")
    assert [hazard for hazard, _ in started.reply.hazards] == ["fire"]


def test_undo_after_a_verdict_asks_the_last_question_again(started: Talk) -> None:
    started.pick(True)
    asked = started.reply.ask
    started.pick("keen")
    assert started.reply.verdict is not None
    started.command("undo")
    assert started.reply.ask == asked


def test_a_verdict_given_again_by_undo_is_the_same(started: Talk) -> None:
    started.tell({"tool.wobbles": True, "tool.edge": "keen"})
    verdict = started.reply.verdict
    started.tell({"tool.edge": "round"})
    started.command("undo")
    assert started.reply.verdict == verdict


def test_forget_leaves_nothing_and_says_so_to_who_keeps_the_chat(started: Talk) -> None:
    reply = started.command("forget")
    assert reply.forget
    assert started.session == Session()


def test_why_tells_what_the_question_is_for(started: Talk) -> None:
    assert any("A loose handle wobbles." in said for said in kinds(started.command("why"), "say"))


def test_why_after_a_verdict_shows_the_sum_behind_it(started: Talk) -> None:
    started.tell({"tool.wobbles": True, "tool.edge": "keen"})
    said = kinds(started.command("why"), "say")
    assert [line.split(" dB")[0] for line in said if " dB" in line] == ["-10", "+20", "+10"]


def test_the_summary_lists_what_was_told(started: Talk) -> None:
    started.pick(True)
    (listed,) = [block for block in started.command("summary").blocks if block.kind == "list"]
    assert listed.items == ("safety.all_clear? Yes", "Does the tool wobble? Yes")


def test_clearing_the_water_is_an_ordered_list_with_minutes_at_any_moment(talk: Start) -> None:
    one = talk()
    for prepare in (lambda: None, lambda: one.tell({"lamps.total": 4})):
        prepare()
        (steps,) = [block for block in one.say("clear the water").blocks if block.kind == "steps"]
        assert len(steps.items) >= 4
        assert all("minute" in item for item in steps.items)
