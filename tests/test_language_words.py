"""The word files: what a captain may write, and that every mistake is told with what to do."""

from __future__ import annotations

import re
from typing import Any

import pytest
from language_bench import NOW, reading
from score_language import load_words

from coach.language import WordFault, WordFaults, build_lexicon, read
from coach.language.phrases import PhraseFault, PhraseReader, forms_of
from coach.model import Fact, Option

SOUP = Fact(
    name="soup.state",
    type="choice",
    origin="asked",
    says="the soup",
    options=(Option("hot", "Hot"), Option("cold", "Cold")),
)
SALTED = Fact(name="soup.salted", type="bool", origin="asked", says="salt")
BOWLS = Fact(name="soup.bowls", type="number", origin="asked", says="the bowls", unit="count", range=(0, 9))
SPOON = Fact(name="soup.spoon_ft", type="number", origin="asked", says="the spoon", unit="ft", range=(0, 3))
FACTS = {fact.name: fact for fact in (SOUP, SALTED, BOWLS, SPOON)}


def built(content: object) -> Any:
    return build_lexicon({"soup.toml": content}, FACTS)


def faults(content: object) -> tuple[WordFault, ...]:
    with pytest.raises(WordFaults) as caught:
        built(content)
    return caught.value.faults


def heard(content: object, text: str, asked: Fact | None = None) -> dict[str, Any]:
    return dict(read(text, asked=asked, lexicon=built(content), now=NOW).facts)


def entry(facts: dict[str, Any], **lists: Any) -> dict[str, Any]:
    return {"means": [{"facts": facts, **lists}]}


# The phrase language, one sign at a time.
@pytest.mark.parametrize(
    ("phrase", "fits", "misses"),
    [
        ("boiling hot", ["boiling hot", "it is boiling hot now"], ["hot", "boiling and hot"]),
        ("(boiling|steaming) hot", ["steaming hot"], ["hot"]),
        ("too [damn] hot", ["too hot", "too damn hot"], ["damn hot"]),
        ("burn~ my tongue", ["burned my tongue", "burns my tongue",
        "burning my tongue"], ["cooked my tongue"]),
        ("soup ... steam", ["soup in a steam", "soup steam"], ["soup one two three four five steam",
        "soup, steam", "soup and steam"]),
        ("soup , steam", ["soup, steam", "soup steam"], ["soup. steam"]),
        ("isn't cold", ["isn't cold", "is not cold", "isnt cold"], ["is cold"]),
    ],
)  # fmt: skip
def test_each_sign_of_the_phrase_language_does_what_it_says(
    phrase: str, fits: list[str], misses: list[str]
) -> None:
    content = entry({"soup.state": "hot"}, say=[phrase])
    assert {text: heard(content, text) for text in fits} == {text: {"soup.state": "hot"} for text in fits}
    assert {text: heard(content, text) for text in misses} == {text: {} for text in misses}


def test_slots_give_their_values() -> None:
    content = entry(
        {"soup.bowls": "{count}", "soup.spoon_ft": "{length}"}, say=["{count} bowls and a spoon of {length}"]
    )
    assert heard(content, "three bowls and a spoon of 6 inches") == {"soup.bowls": 3.0, "soup.spoon_ft": 0.5}


def test_a_second_name_tells_two_slots_of_one_kind_apart_and_minus_turns_the_sign() -> None:
    content = entry({"soup.bowls": "{count b} - {count}"}, say=["from {count} to {count b} bowls"])
    assert heard(content, "from 2 to 5 bowls") == {"soup.bowls": 3.0}


def test_a_slot_with_a_mark_wants_its_unit() -> None:
    content = entry({"soup.spoon_ft": "{length!}"[:-2] + "}"}, say=["spoon {length!}"])
    assert heard(content, "spoon 2 ft") == {"soup.spoon_ft": 2.0}
    assert heard(content, "spoon 2") == {}


def test_short_answers_count_when_asked_or_next_to_the_subject() -> None:
    content = entry({"soup.state": "hot"}, bare=["hot"]) | {
        "subject": {"soup.state": ["[the] soup"]},
        "class": {"is": ["is"]},
    }
    assert heard(content, "hot") == {}
    assert heard(content, "hot", SOUP) == {"soup.state": "hot"}
    assert heard(content, "the soup is hot") == {"soup.state": "hot"}
    assert heard(content, "hot soup") == {"soup.state": "hot"}


def test_a_denied_phrase_gives_its_opposite_only_where_the_file_says_so() -> None:
    salted = entry({"soup.salted": True}, say=["salted"], denied={"soup.salted": False})
    assert heard(salted, "it is not salted") == {"soup.salted": False}
    hot = entry({"soup.state": "hot"}, say=["hot"])
    assert heard(hot, "it is not hot") == {}


def test_the_longer_phrase_wins_and_a_false_friend_blocks() -> None:
    content = {
        "means": [
            {"facts": {"soup.state": "hot"}, "say": ["hot"]},
            {"facts": {"soup.state": "cold"}, "say": ["hot as ice"]},
            {"nothing": True, "say": ["hot dog"]},
        ]
    }
    assert heard(content, "hot") == {"soup.state": "hot"}
    assert heard(content, "hot as ice") == {"soup.state": "cold"}
    assert heard(content, "a hot dog") == {}


def test_a_number_outside_the_range_an_entry_allows_is_left_to_other_phrases() -> None:
    content = {
        "means": [
            {"facts": {"soup.bowls": "{count}"}, "say": ["table {count}"], "within": [3, 9]},
            {"facts": {"soup.state": "cold"}, "say": ["two"]},
        ]
    }
    assert heard(content, "table five") == {"soup.bowls": 5.0}
    assert heard(content, "table two") == {"soup.state": "cold"}


def test_an_entry_gives_way_where_another_fact_is_told() -> None:
    content = {
        "means": [
            {"facts": {"soup.bowls": "{count}"}, "say": ["{count} bowls"], "unless": ["soup.salted"]},
            {"facts": {"soup.salted": True}, "say": ["salted"]},
        ]
    }
    assert heard(content, "3 bowls") == {"soup.bowls": 3.0}
    assert heard(content, "3 bowls, salted") == {"soup.salted": True}


def test_an_entry_may_count_in_a_question() -> None:
    content = entry({"soup.state": "hot"}, say=["that steam"], even_asked=True)
    assert heard(content, "what is that steam?") == {"soup.state": "hot"}
    assert heard(entry({"soup.state": "hot"}, say=["that steam"]), "what is that steam?") == {}


def test_hints_together_say_what_none_says_alone() -> None:
    content = {
        "means": [{"hint": "steam", "say": ["steams"]}, {"hint": "burn", "say": ["burns"]}],
        "together": [{"hints": ["steam", "burn"], "facts": {"soup.state": "hot"}}],
    }
    assert heard(content, "it steams") == {}
    assert heard(content, "it burns and steams") == {"soup.state": "hot"}


# Every mistake is told: where, what, and what to do.
@pytest.mark.parametrize(
    ("content", "phrase", "wrong"),
    [
        (entry({"soup.colour": True}, say=["red"]), "soup.colour", "not a declared fact"),
        (entry({"soup.state": "tepid"}, say=["tepid"]), "soup.state", "'tepid' is not allowed"),
        (entry({"soup.salted": "yes"}, say=["salted"]), "soup.salted", "'yes' is not allowed"),
        (entry({"soup.bowls": 12}, say=["a dozen"]), "soup.bowls", "12 is not allowed"),
        (entry({"soup.spoon_ft": "{volts}"}, say=["{volts}"]), "soup.spoon_ft", "a volts does not fit"),
        (entry({"soup.state": "hot"}, say=["(hot|warm"]), "(hot|warm", "never closed"),
        (entry({"soup.state": "hot"}, say=["hot)"]), "hot)", "closes nothing"),
        (entry({"soup.state": "hot"}, say=["(hot [very)"]), "(hot [very)", "bracket"),
        (entry({"soup.state": "hot"}, say=["@warm"]), "@warm", "no word class '@warm'"),
        (entry({"soup.state": "hot"}, say=["{heat}"]), "{heat}", "no quantity"),
        (entry({"soup.state": "hot"}, say=["[very] [hot]"]), "[very] [hot]", "fit everywhere"),
        (entry({"soup.state": "hot"}, say=["... hot"]), "... hot", "must stand between"),
        (entry({"soup.state": "hot"}, say="hot", bear=["x"]), "{'soup.state': 'hot'}", "unknown key 'bear'"),
        (entry({}, say=["hot"]), "means", "neither facts nor hint"),
        (entry({"soup.bowls": "{count}"}, say=["{count}"], within=[3]), "within", "no pair of numbers"),
        (entry({"soup.state": "hot"}, say=["is [not] hot"]), "is [not] hot", "turn the phrase round"),
        ({"clas": {}}, "clas", "unknown section"),
        ({"class": []}, "class", "is not a table"),
        ({"means": {}}, "means", "is not a list"),
        ({"means": ["hot"]}, "hot", "is not a table"),
        ({"class": {"warm": ["@warm"]}}, "warm", "made of itself"),
        ({"class": {"warm": ["@hot"], "hot": ["@warm"]}}, "hot", "made of itself"),
        ({"answers": {"maybe": ["maybe"]}}, "maybe", "unknown kind of answer"),
        ({"all_of": ["soup.colour"]}, "soup.colour", "not a declared fact"),
        ({"fine_means": {"soup.salted": "yes"}}, "soup.salted", "neither true nor false"),
        ({"per_minutes": {"soup.bowls": "ten"}}, "soup.bowls", "no number of minutes"),
        ({"states_nothing": {"dream": ["dreamt"]}}, "dream", "unknown kind"),
        ({"aboard": {"masts": ["mizzen"]}}, "masts", "unknown kind of word"),
        ({"together": [{"hints": ["steam"], "facts": {}}]}, "steam", "no entry gives this hint"),
        ({"irregular": {"go": [1]}}, "go", "is not a list of texts"),
        ("soup", "soup.toml", "is not a table"),
    ],
)  # fmt: skip
def test_a_mistake_in_a_word_file_is_told(content: object, phrase: str, wrong: str) -> None:
    found = faults(content)
    assert any(fault.phrase == phrase and wrong in fault.wrong for fault in found), found
    assert all(fault.file == "soup.toml" and fault.do for fault in found)


def test_all_mistakes_are_told_at_once() -> None:
    content = {
        "means": [
            {"facts": {"soup.colour": True}, "say": ["red"]},
            {"facts": {"soup.state": "hot"}, "say": ["(hot"]},
            {"facts": {"soup.state": "tepid"}, "say": ["tepid"]},
        ]
    }
    assert {fault.phrase for fault in faults(content)} >= {"soup.colour", "(hot", "soup.state"}


def test_one_phrase_with_two_values_is_told_and_names_the_first() -> None:
    content = {
        "means": [
            {"facts": {"soup.state": "hot"}, "say": ["just right"]},
            {"facts": {"soup.state": "cold"}, "say": ["just right"]},
        ]
    }
    (fault,) = faults(content)
    assert (fault.phrase, "'soup.state': 'hot'" in fault.wrong) == ("just right", True)
    assert str(fault).startswith("soup.toml: 'just right': also stands in soup.toml")


def test_a_word_class_defined_twice_is_told() -> None:
    with pytest.raises(WordFaults, match="another file has a word class of this name"):
        build_lexicon(
            {"a.toml": {"class": {"warm": ["hot"]}}, "b.toml": {"class": {"warm": ["warm"]}}}, FACTS
        )


def test_a_phrase_of_too_many_brackets_is_refused_not_followed() -> None:
    with pytest.raises(PhraseFault, match="too many brackets"):
        PhraseReader({}, spelling={}, irregular={}).read("(" * 500 + "hot" + ")" * 500)


def test_no_words_at_all_understand_nothing_and_fail_at_nothing() -> None:
    lexicon = build_lexicon({}, FACTS)
    assert dict(read("yes, it is hot", asked=SALTED, lexicon=lexicon, now=NOW).facts) == {}


def plain_phrases() -> list[tuple[str, str | None, dict[str, Any]]]:
    """Every phrase of the shipped files without signs: the phrase, the fact asked, what it says."""
    found: list[tuple[str, str | None, dict[str, Any]]] = []
    for content in load_words().values():
        for table in content.get("means", []):
            facts = table.get("facts", {})
            asked = next(iter(table.get("when", facts)), None)
            if any(isinstance(value, str) and "{" in value for value in facts.values()):
                continue
            for key in ("say", "bare", "asked", "alone"):
                listed = [phrase for phrase in table.get(key, []) if re.fullmatch("[a-z0-9 ']+", phrase)]
                found += [
                    (phrase, asked if key in ("bare", "asked") else None, facts) for phrase in listed if facts
                ]
    return found


def test_every_plain_phrase_of_the_shipped_files_says_what_its_entry_says() -> None:
    phrases = plain_phrases()
    assert len(phrases) > 50
    wrong = {
        phrase: facts
        for phrase, asked, facts in phrases
        if not facts.items() <= reading(phrase, asked).facts.items()
    }
    assert wrong == {}


# English grammar, common practice.
@pytest.mark.parametrize(
    ("word", "forms"),
    [
        ("fade", {"fade", "fades", "faded", "fading"}), ("drop", {"drop", "drops", "dropped", "dropping"}),
        ("carry", {"carry", "carries", "carried", "carrying"}),
        ("vanish", {"vanish", "vanishes", "vanished", "vanishing"}),
        ("thin", {"thin", "thins", "thinned", "thinning"}), ("stay", {"stay", "stays", "stayed", "staying"}),
    ],
)  # fmt: skip
def test_a_bent_word_has_its_regular_forms(word: str, forms: set[str]) -> None:
    assert forms_of(word, {}) == forms


def test_irregular_forms_take_the_place_of_regular_ones() -> None:
    assert forms_of("go", {"go": ["goes", "went", "gone"]}) == {"go", "goes", "went", "gone"}
