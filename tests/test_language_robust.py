"""Whatever is typed: no exception, and only legal facts."""

from __future__ import annotations

import string
from datetime import datetime
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from language_bench import heard, reading, shipped_lexicon

from coach.language import WordFaults, build_lexicon, is_correction
from coach.language.tokens import LIMIT, MOST_WORDS, read_words
from coach.language.typos import repaired
from coach.model import Fact, Scalar

FACTS = shipped_lexicon().facts
ASKED = st.sampled_from([None, *FACTS])
KNOWN = sorted(shipped_lexicon().known)
ODD = [
    "0/0",
    "1e999",
    "9-",
    "-",
    "half",
    "between",
    "6'4\"",
    "2h10",
    "½",
    "no,",
    "not",
    "if",
    "?",
    "but",
    "…",
    "½½",
    "1" * 99,
]
TALK = st.lists(
    st.one_of(
        st.sampled_from(KNOWN), st.sampled_from(ODD), st.integers(-9, 10**6).map(str), st.text(max_size=3)
    ),
    max_size=20,
).map(" ".join)


def is_legal(fact: Fact, value: Scalar) -> bool:
    """True if the value is of the fact's type and among what it allows."""
    if fact.type == "bool":
        return isinstance(value, bool)
    if fact.type == "choice":
        return value in {option.id for option in fact.options}
    if fact.type == "time":
        return isinstance(value, str) and datetime.fromisoformat(value).tzinfo is not None
    low, high = fact.range or (float("-inf"), float("inf"))
    return type(value) is float and low <= value <= high


def check(text: str, asked: str | None) -> None:
    found = reading(text, asked)
    for name, value in found.facts.items():
        assert is_legal(FACTS[name], value), (name, value)
    assert set(found.unknown) <= {asked}
    assert isinstance(is_correction(text, shipped_lexicon()), bool)


@settings(max_examples=400)
@given(TALK, ASKED)
def test_boaters_words_in_any_order_never_fail_and_give_only_legal_facts(
    text: str, asked: str | None
) -> None:
    check(text, asked)


@settings(max_examples=300)
@given(st.text(max_size=200), ASKED)
def test_any_text_never_fails_and_gives_only_legal_facts(text: str, asked: str | None) -> None:
    check(text, asked)


@given(st.text(max_size=40), st.integers(1, 30_000))
def test_no_text_is_too_long(piece: str, times: int) -> None:
    words = read_words(piece * times, {})
    assert len(words.words) <= MOST_WORDS + 4
    assert len(words.said) <= LIMIT + 8


def test_a_million_characters_are_read_like_the_first_thousand() -> None:
    for text in ("9 " * 500_000, "not " * 250_000, "no, " * 250_000, "x" * 10**6, "a foot and " * 90_000):
        assert reading(text, "water.depth_ft").facts == reading(text[:LIMIT], "water.depth_ft").facts


@given(TALK, ASKED)
def test_the_same_text_is_read_the_same_twice(text: str, asked: str | None) -> None:
    assert reading(text, asked) == reading(text, asked)


@given(st.sampled_from(["tide is {}", "{}"]), st.sampled_from(["falling", "rising", "ebbing", "flooding"]))
def test_capitals_spaces_and_full_stops_change_nothing(form: str, word: str) -> None:
    text = form.format(word)
    plain = heard(text, "tide.state")
    assert plain
    for other in (
        text.upper(),
        text.title(),
        f"  {text} ",
        f"{text}.",
        f"{text}!!",
        text.replace(" ", "   "),
    ):
        assert heard(other, "tide.state") == plain


@given(st.data())
def test_a_known_word_is_never_turned_into_another(data: st.DataObject) -> None:
    words = tuple(data.draw(st.lists(st.sampled_from(KNOWN), max_size=6)))
    assert repaired(words, shipped_lexicon()) == words


LONG_WORDS = [
    "falling",
    "lightning",
    "dragging",
    "anchor",
    "neighbors",
    "overlap",
    "scattering",
    "jackets",
    "channel",
    "murky",
]


def test_nine_of_ten_slips_of_one_letter_in_longer_words_are_repaired() -> None:
    slips = [
        (word, word[:at] + letter + word[at + cut :])
        for word in LONG_WORDS
        for at in range(len(word))
        for letter, cut in ((letter, cut) for letter in ("", *string.ascii_lowercase[::5]) for cut in (0, 1))
        if word[:at] + letter + word[at + cut :] != word
    ]
    right = sum(repaired((slip,), shipped_lexicon()) == (word,) for word, slip in slips)
    assert right / len(slips) >= 0.9


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
SECTIONS = ["class", "subject", "means", "together", "answers", "spelling", "irregular", "filler",
"opens", "all_of", "carry",
            "states_nothing", "fine_means", "per_minutes", "ordinary"]  # fmt: skip


@given(st.dictionaries(st.sampled_from(SECTIONS), JSON, max_size=4))
def test_any_word_file_is_either_built_or_refused_with_faults(content: dict[str, Any]) -> None:
    try:
        build_lexicon({"odd.toml": content}, FACTS)
    except WordFaults as refused:
        assert refused.faults


@given(st.text(alphabet="ab ()[]|@{}~.,!length", max_size=30))
def test_any_phrase_is_either_read_or_refused_with_faults(phrase: str) -> None:
    content = {"means": [{"facts": {"water.snags": True}, "say": [phrase]}], "class": {"a": ["b"]}}
    try:
        build_lexicon({"odd.toml": content}, FACTS)
    except WordFaults as refused:
        assert refused.faults
