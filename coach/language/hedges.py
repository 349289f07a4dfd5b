"""Hedges round a number: "about", "no more than", "or so"; stepped over, a bound is noted."""

from __future__ import annotations

from coach.language.tokens import Text

_LEAD = tuple(
    tuple(phrase.split())
    for phrase in (
        "just a bit over", "just a bit under", "a bit over", "a bit under", "a little over", "a little under",
        "a little more than", "a little less than", "a bit more than", "a bit less than", "no more than",
        "not more than", "no less than", "not less than", "more than", "less than", "at least", "at most",
        "at the most", "up to", "just under", "just over", "just above", "just below", "just shy of",
        "shy of",
        "not quite", "not even", "not over", "close to", "close on", "getting on for", "pushing",
        "knocking on", "nigh on", "hard on", "nearer to", "nearer", "closer to", "something like",
        "somewhere around", "somewhere about", "somewhere near", "right around", "right at", "right about",
        "just about", "good", "well over", "well under", "roughly", "around", "about", "approximately",
        "approx",
        "circa", "ca", "maybe", "perhaps", "probably", "say", "like", "some", "nearly", "almost", "exactly",
        "precisely", "bang on", "dead on", "spot on", "only", "just", "barely", "under", "over", "above",
        "below",
        "~", "+", "=", "an estimated", "in the region of", "in the order of", "upwards of", "a solid",
        "a good",
        "a full", "a whole", "another", "round", "round about", "somewhere round",
        "in the neighborhood of", "max", "maximum", "minimum", "somewhere", "easily", "all of", "near",
        "easy", "anywhere", "a bare", "a short", "a mere",
    )
)  # fmt: skip
_BOUNDS = frozenset({
    "more", "less", "most", "least", "up", "under", "over", "quite", "shy", "above", "below", "upwards",
    "even",
})  # fmt: skip
_TRAIL = tuple(
    tuple(phrase.split())
    for phrase in (
        "or so", "ish", "or thereabouts", "or there about", "give or take", "more or less", "at most",
        "at the most",
        "at least", "tops", "max", "maximum", "odd", "roughly", "and a bit", "and change", "and something",
        "or more", "or less", "exactly", "plus", "+", "about", "i think", "i guess", "i reckon",
        "i would say",
        "at a guess", "minimum", "sharp", "on the dot",
        "on the nose", "on the button",
    )
)  # fmt: skip
_TRAIL_BOUNDS = frozenset({"most", "least", "tops", "max", "maximum", "minimum", "more", "less"})
_LEAD_BY_FIRST: dict[str, list[tuple[str, ...]]] = {}
for _phrase in sorted(_LEAD, key=len, reverse=True):
    _LEAD_BY_FIRST.setdefault(_phrase[0], []).append(_phrase)
_TRAIL_BY_FIRST: dict[str, list[tuple[str, ...]]] = {}
for _phrase in sorted(_TRAIL, key=len, reverse=True):
    _TRAIL_BY_FIRST.setdefault(_phrase[0], []).append(_phrase)

_DOUBT = frozenset({
    "roughly", "around", "about", "approximately", "approx", "circa", "ca", "maybe", "perhaps", "probably",
    "like", "~", "ish", "thereabouts", "somewhere", "nearly", "almost", "estimated", "guess", "reckon",
    "think", "so", "take", "region", "order", "something", "nearer", "closer", "close", "near",
})  # fmt: skip
"""Words of a hedge after which a number is only about right."""

HEDGE_WORDS = frozenset(word for phrase in (*_LEAD, *_TRAIL) for word in phrase)


def skip_lead(text: Text, start: int) -> tuple[int, bool]:
    """Where a number starts after hedges, and whether one of them sets a bound ("no more than")."""
    return _skip(text, start, phrases=_LEAD_BY_FIRST, bounds=_BOUNDS)


def skip_trail(text: Text, start: int) -> tuple[int, bool]:
    """Where hedges after a number end, and whether one of them sets a bound ("at most")."""
    return _skip(text, start, phrases=_TRAIL_BY_FIRST, bounds=_TRAIL_BOUNDS)


_JUST_BEFORE = frozenset({
    "about", "around", "roughly", "approximately", "approx", "circa", "ca", "maybe", "nearly", "almost", "~",
})  # fmt: skip
"""Those that a phrase may have taken for itself: "water is about {length}"."""


def stands_after_doubt(words: tuple[str, ...], start: int) -> bool:
    """Whether the word before a number says that it is only about right."""
    return start > 0 and words[start - 1] in _JUST_BEFORE


def is_doubt(words: tuple[str, ...]) -> bool:
    """Whether these hedges say that the number is only about right."""
    return not _DOUBT.isdisjoint(words)


def _skip(
    text: Text, start: int, *, phrases: dict[str, list[tuple[str, ...]]], bounds: frozenset[str]
) -> tuple[int, bool]:
    """Step over hedges; also says whether one of them sets a bound ("no more than")."""
    at, is_bound = start, False
    for _ in range(4):
        step = next(
            (
                p
                for p in phrases.get((text.words[at] if at < len(text.words) else ""), ())
                if text.words[at : at + len(p)] == p
            ),
            None,
        )
        if step is None:
            break
        is_bound = is_bound or not bounds.isdisjoint(step)
        at += len(step)
    return at, is_bound
