"""What the school says, by name: the sentences stand in rules/school/texts.toml, where each must be."""

from __future__ import annotations

from coach.rulebook.entries import Entry, Sentence


class TextTable(Entry):
    """The sentences; {slots} are filled by the school."""

    # questions
    ask_points: Sentence
    ask_rules_out: Sentence
    ask_shows: Sentence
    ask_denies: Sentence
    ask_talk: Sentence
    ask_follows: Sentence
    ask_would: Sentence
    ask_hazard: Sentence
    ask_set: Sentence
    ask_set_for: Sentence
    ask_fix: Sentence
    ask_fix_for: Sentence
    ask_first: Sentence
    ask_wrong: Sentence
    ask_do: Sentence
    ask_again: Sentence
    ask_picture: Sentence
    ask_lamp: Sentence
    ask_next_step: Sentence
    ask_first_step: Sentence
    ask_note_for: Sentence
    ask_note_of: Sentence
    ask_reason: Sentence
    ask_asks: Sentence
    ask_trip: Sentence
    # answers
    nothing_wrong: Sentence
    would_be: Sentence
    talk: Sentence
    minutes: Sentence
    lamp_left: Sentence
    lamp_right: Sentence
    lamp_both: Sentence
    lamp_neither: Sentence
    # why a choice is wrong
    slip_left_out: Sentence
    slip_misread: Sentence
    slip_assumed: Sentence
    slip_other_rule: Sentence
    slip_other_against: Sentence
    slip_other_set: Sentence
    slip_set_there: Sentence
    slip_unheard: Sentence
    slip_against: Sentence
    slip_too_light: Sentence
    slip_nothing_for: Sentence
    slip_other_fix: Sentence
    slip_no_effect: Sentence
    slip_gained: Sentence
    slip_later: Sentence
    slip_second: Sentence
    slip_first_less: Sentence
    slip_first_nothing: Sentence
    slip_again: Sentence
    lamp_off: Sentence
    lamp_in_line: Sentence
    slip_gave: Sentence
    slip_take: Sentence
    slip_number: Sentence
    slip_part: Sentence
    slip_as_no: Sentence
    slip_reason: Sentence
    slip_note: Sentence
    slip_trip: Sentence
    # hints
    hint_look: Sentence
    hint_think: Sentence
    hint_strike: Sentence
    hint_answer: Sentence
    why_later: Sentence
    no_more_hints: Sentence
    # a lesson
    hello: Sentence
    anew: Sentence
    hello_again: Sentence
    quiet: Sentence
    nothing_today: Sentence
    how_sure: Sentence
    right: Sentence
    right_with_hint: Sentence
    wrong: Sentence
    shown: Sentence
    near_miss: Sentence
    comes_back: Sentence
    not_understood: Sentence
    not_understood_choice: Sentence
    not_understood_number: Sentence
    wrong_unit: Sentence
    worked_head: Sentence
    worked_step: Sentence
    faded_head: Sentence
    now_you: Sentence
    topic_head: Sentence
    worked_sum: Sentence
    another_day: Sentence
    mastered: Sentence
    opened: Sentence
    done: Sentence
    done_sure: Sentence
    stopped: Sentence
    help: Sentence
    out_of_place: Sentence
    # the role play
    play_hello: Sentence
    play_help: Sentence
    play_not_understood: Sentence
    play_asked_before: Sentence
    play_unknown: Sentence
    play_about: Sentence
    play_guess: Sentence
    play_right: Sentence
    play_shown: Sentence
    play_wrong: Sentence
    play_yours: Sentence
    play_mine: Sentence
    play_differs: Sentence
    play_same: Sentence
    play_why: Sentence
    play_none: Sentence
    # after a trip
    trip_helped: Sentence
    trip_not_helped: Sentence
    trip_counts: Sentence
    slip_trip_later: Sentence
    trip_not_told: Sentence
    trip_none: Sentence
    # progress
    topic_line: Sentence
    topic_new: Sentence
    topic_mastered: Sentence
    topic_begun: Sentence
    topic_shaky: Sentence
    topic_locked: Sentence
    trip_line: Sentence
    sure_line: Sentence
    sure_too_much: Sentence
    sure_too_little: Sentence
    rail_title: Sentence
    rail_heights: Sentence
    rail_clear: Sentence
    rail_shaky: Sentence
    rail_sign: Sentence
    rail_causes: Sentence
    group_line: Sentence
    ready: Sentence
    not_ready: Sentence
    signed: Sentence


class TextsFile(Entry):
    """The whole of texts.toml."""

    text: TextTable
