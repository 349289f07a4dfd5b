"""Numbers that are hardly ever so, or do not fit together: asked once more before they are believed.

Pure. A number in doubt stands among the facts, so that a hazard is told as if it were true; but no
verdict is given before it was asked about. Whoever says it again is believed. A number that the fact
cannot have at all is kept beside the facts, and after a second such answer the coach goes on without.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from coach.conversation import Doubted, Heard, Session
from coach.model import Fact, Fit, Rulebook, Scalar
from coach.wording import Filler, in_words

YES, NO = "yes", "no"


@dataclass(frozen=True, slots=True)
class Doubt:
    """One reason to doubt: its id, and the facts that it concerns, the one to ask about first."""

    id: str
    concerns: tuple[str, ...]


def doubts(facts: Mapping[str, Scalar], book: Rulebook) -> tuple[Doubt, ...]:
    """What is doubtful about these facts: what does not fit together first, then what is unusual."""
    return (*_misfits(facts, book), *_unusual(facts, book))


def weighed(
    session: Session, told: Mapping[str, Scalar], beyond: Mapping[str, float], book: Rulebook
) -> tuple[Session, tuple[str, ...]]:
    """The session with what is to be asked once more, and sentences about what was given up.

    `session` holds what was `told` already; `beyond` are numbers that their facts cannot have.
    """
    standing = doubts(_facts(session), book)
    is_closed = {one.fact for one in session.doubted if one.fact in told or one.fact in session.unknown}
    given_up = {one.fact for one in session.doubted if one.beyond is not None and one.fact in beyond}
    believed = {doubt.id for doubt in standing if not is_closed.isdisjoint(doubt.concerns)}
    believed |= {doubt.id for doubt in standing if doubt.id in session.believed}
    wanted = [doubt for doubt in standing if doubt.id not in believed]
    still = tuple(
        one
        for one in session.doubted
        if one.fact not in is_closed | given_up and (one.beyond is not None or _is_among(one, wanted))
    )
    new = (*_new(wanted, told, still), *_new_beyond(beyond, given_up))
    update = {
        "doubted": (*still, *new),
        "believed": tuple(sorted(believed)),
        "unknown": tuple(dict.fromkeys((*session.unknown, *sorted(given_up)))),
        "asking": None if session.asking in given_up else session.asking,
    }
    said = tuple(
        _filled(book.doubts.texts["gone_without"], _told(book.facts[name], beyond[name], session.metric))
        for name in sorted(given_up)
    )
    return session.model_copy(update=update), said


def at_worst(session: Session, book: Rulebook) -> Session:
    """The session with numbers beyond all limits taken as the nearest possible: to hear hazards by."""
    facts = {
        one.fact: Heard(value=_nearest(book.facts[one.fact], one.beyond), at="")
        for one in session.doubted
        if one.beyond is not None
    }
    return session.model_copy(update={"facts": {**session.facts, **facts}}) if facts else session


def doubted_about(session: Session, name: str | None) -> Doubted | None:
    """What is in doubt about a fact."""
    return next((one for one in session.doubted if one.fact == name), None)


def sentence(one: Doubted, session: Session, book: Rulebook, *, is_asked: bool = True) -> str:
    """What is doubtful, how it was understood, and how to insist; or that it is asked about later."""
    then = (
        "" if is_asked and one.beyond is not None else book.doubts.texts["once_more" if is_asked else "later"]
    )
    return f"{_reason(one, session, book)} {then}".strip()


def _reason(one: Doubted, session: Session, book: Rulebook) -> str:
    fact, texts, facts = book.facts[one.fact], book.doubts.texts, _facts(session)
    if one.beyond is not None:
        slots = _told(fact, one.beyond, session.metric) | _ends(fact, fact.range, session.metric)
        return _filled(texts["beyond"], slots)
    slots = _told(fact, facts[one.fact], session.metric)
    fit = next((fit for fit in book.doubts.fits if fit.id == one.doubt), None)
    if fit is None:
        return _filled(texts["unusual"], slots | _ends(fact, book.doubts.usual[one.fact], session.metric))
    return _filled(texts["misfit"], slots | {"misfit": _in_words(fit, facts, book, session.metric)})


def believed_lines(session: Session, book: Rulebook) -> tuple[str, ...]:
    """For a verdict: what was believed against a doubt, softly, once for each number asked about."""
    facts = _facts(session)
    asked = (doubt.concerns for doubt in doubts(facts, book) if doubt.id in session.believed)
    names = dict.fromkeys(next((n for n in names if n in session.asked), names[0]) for names in asked)
    return tuple(
        _filled(book.doubts.texts["believed"], _told(book.facts[name], facts[name], session.metric))
        for name in names
    )


def stands_by(text: str, book: Rulebook) -> str | None:
    """YES if the words say "it is so" and no more, NO if they say "it is not"; None otherwise."""
    spoken = " ".join(text.casefold().strip(" .!?,").replace(",", " ").split())
    if spoken in book.doubts.said_again:
        return YES
    return NO if spoken in book.doubts.taken_back else None


# --- finding -------------------------------------------------------------------------------------


def _facts(session: Session) -> dict[str, Scalar]:
    return {name: heard.value for name, heard in session.facts.items()}


def _misfits(facts: Mapping[str, Scalar], book: Rulebook) -> Iterator[Doubt]:
    for fit in book.doubts.fits:
        beside, value = _beside(fit, facts), facts.get(fit.doubt)
        if beside is not None and isinstance(value, float) and not _fits(fit, value, facts[beside]):
            yield Doubt(fit.id, (fit.doubt, beside))


def _beside(fit: Fit, facts: Mapping[str, Scalar]) -> str | None:
    return next((name for name in fit.beside if name in facts), None)


def _fits(fit: Fit, value: float, limit: Scalar) -> bool:
    limit = float(limit) + fit.plus
    if fit.how == "near":
        return abs(value - limit) <= fit.within
    return value <= limit if fit.how == "at_most" else value >= limit


def _unusual(facts: Mapping[str, Scalar], book: Rulebook) -> Iterator[Doubt]:
    for name, (low, high) in book.doubts.usual.items():
        value = facts.get(name)
        if isinstance(value, float) and not low <= value <= high:
            yield Doubt(name, (name,))


def _is_among(one: Doubted, wanted: list[Doubt]) -> bool:
    return any(one.doubt == doubt.id for doubt in wanted)


def _new(wanted: list[Doubt], told: Mapping[str, Scalar], still: tuple[Doubted, ...]) -> tuple[Doubted, ...]:
    """What was just told and is doubtful: one doubt a number, the first."""
    asked = {one.fact for one in still} | {one.doubt for one in still}
    found: dict[str, Doubted] = {}
    for doubt in wanted:
        name = next((name for name in doubt.concerns if name in told), None)
        if name is not None and name not in asked and doubt.id not in asked:
            found.setdefault(name, Doubted(doubt=doubt.id, fact=name))
    return tuple(found.values())


def _new_beyond(beyond: Mapping[str, float], given_up: set[str]) -> tuple[Doubted, ...]:
    return tuple(
        Doubted(doubt=name, fact=name, beyond=value) for name, value in beyond.items() if name not in given_up
    )


def _nearest(fact: Fact, value: float | None) -> float:
    low, high = fact.range or (0.0, 0.0)
    return min(max(value or 0.0, low), high)


# --- words ---------------------------------------------------------------------------------------


def _told(fact: Fact, value: Scalar, metric: bool) -> dict[str, str]:
    return {"fact": fact.says, "value": in_words(value, fact, metric=metric)}


def _ends(fact: Fact, limits: tuple[float, float] | None, metric: bool) -> dict[str, str]:
    low, high = (in_words(end, fact, metric=metric) for end in limits or (0.0, 0.0))
    unit = high.lstrip("-0123456789.")
    return {"low": low.removesuffix(unit), "high": high}


def _in_words(fit: Fit, facts: Mapping[str, Scalar], book: Rulebook, metric: bool) -> str:
    beside = _beside(fit, facts)
    phrases = {} if beside is None else {"limit": in_words(facts[beside], book.facts[beside], metric=metric)}
    return Filler(book, facts, phrases, metric=metric).fill(fit.says) or ""


def _filled(text: str, slots: Mapping[str, str]) -> str:
    for name, words in slots.items():
        text = text.replace("{" + name + "}", words)
    return text
