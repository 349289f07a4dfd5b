"""The mind of the coach: what the facts mean, what to ask next, and the verdict.

Pure: facts and time in, conclusions out. Causes, hazards, fixes and set-ups come only from firings
of the inference engine that is passed in as `infer`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coach.advice import Advice, advise
from coach.apparatus import Apparatus
from coach.diagnosis import Weighed, named
from coach.explain import Chains, sentences
from coach.model import Block, Firing, Inference, Rule, Rulebook, Scalar, Session
from coach.questions import Case
from coach.wording import Filler

Infer = Callable[[Mapping[str, Scalar]], Inference]

OPEN = "chat.open"
WRONG = "something.is_wrong"
NOTHING = "none"
_SAID_REASONS = 3


@dataclass(frozen=True, slots=True)
class Assessment:
    """What the facts of a chat come to, before anything is named."""

    given: Mapping[str, Scalar]
    known: Mapping[str, Scalar]
    inference: Inference
    weighed: Mapping[str, Weighed]
    named: tuple[str, ...]
    hazards: tuple[tuple[str, str], ...]
    now: datetime


@dataclass(frozen=True, slots=True)
class Verdict:
    """A conclusion for programs (`record`) and for people (`blocks`)."""

    record: Mapping[str, Any]
    blocks: tuple[Block, ...]
    look_again_min: float | None


def assess(given: Mapping[str, Scalar], tools: Apparatus, *, infer: Infer, now: datetime) -> Assessment:
    """Work out, infer and weigh everything that these facts give."""
    known = {**tools.figures.work_out(given, now=now), OPEN: True}
    inference = infer(known)
    weighed = tools.scales.weigh(inference.firings)
    wrong = WRONG in inference.facts
    return Assessment(
        given,
        known,
        inference,
        weighed,
        named(weighed, tools.book, something_is_wrong=wrong),
        tuple(_hazards(inference, tools, known)),
        now,
    )


def _hazards(
    inference: Inference, tools: Apparatus, known: Mapping[str, Scalar]
) -> Iterable[tuple[str, str]]:
    """Each hazard in force with what is said about it, the gravest first."""
    filler = Filler(tools.book, known)
    found: dict[str, str] = {}
    for firing in inference.firings:
        rule = tools.scales.rules[firing.rule]
        if rule.hazard is not None:
            found.setdefault(rule.hazard, filler.fill(rule.say) or tools.book.hazards[rule.hazard])
    return ((hazard, found[hazard]) for hazard in tools.book.hazards if hazard in found)


# --- what to ask ---------------------------------------------------------------------------------


def next_question(session: Session, found: Assessment, tools: Apparatus) -> str | None:
    """The fact to ask next; None when it is time to conclude."""
    closed = {*session.asked, *session.unknown}
    safety = _safety_question(session, found, tools.book, closed)
    if safety is not None:
        return safety
    if _questions_spent(session, tools.book) < tools.book.asking["most_questions"]:
        case = Case(found.given, found.known, closed, found.inference, found.weighed, found.now)
        telling = tools.planner.best(case, **_bar(found, tools.book))
        if telling is not None:
            return telling
    return _confirmation(found, tools.book, closed)


def _safety_question(
    session: Session, found: Assessment, book: Rulebook, closed: Collection[str]
) -> str | None:
    """The one combined check; the single questions behind it only while a "no" is unexplained or
    the answer was "don't know"."""
    check = book.safety_check
    if check not in found.given and check not in closed:
        return check
    if found.hazards or found.given.get(check) is True:
        return None
    left = [name for name in book.safety_singles if name not in found.given and name not in closed]
    if check in found.given:
        return left[0] if left else None
    asked = sum(name in session.asked for name in book.safety_singles)
    if check in session.unknown and asked < book.asking["singles_after_unknown"] and left:
        return left[0]
    return None


def _questions_spent(session: Session, book: Rulebook) -> int:
    aside = {
        book.safety_check,
        book.follow_up.ask,
        *book.safety_singles,
        *(confirm.ask for confirm in book.confirms),
    }
    return len([name for name in session.asked[session.spent :] if name not in aside])


def _bar(found: Assessment, book: Rulebook) -> dict[str, float]:
    """Once a cause is as good as found, only another likely one is worth a question, and a good one."""
    top = max((found.weighed[cause].probability for cause in found.named), default=0.0)
    if top < book.asking["found_from"]:
        return {}
    return {"factor": book.asking["found_factor"], "likely_from": book.asking["found_likely_from"]}


def _confirmation(found: Assessment, book: Rulebook, closed: Collection[str]) -> str | None:
    for confirm in book.confirms:
        if not set(confirm.causes) & set(found.named or (NOTHING,)):
            continue
        if confirm.ask in found.given or confirm.ask in closed:
            continue
        if confirm.differ is not None:
            one, other = (found.given.get(name) for name in confirm.differ)
            if one is None or other is None or one == other:
                continue
        return confirm.ask
    return None


# --- the verdict ---------------------------------------------------------------------------------


def conclude(found: Assessment, tools: Apparatus, *, infer: Infer) -> Verdict:
    """Name the causes, and let the rules say what to do about them."""
    book = tools.book
    with_names = {**found.known, **{f"named.{cause}": True for cause in found.named}}
    inference = infer(with_names) if found.named else found.inference
    fixes = _fixes(inference.firings, tools)
    advised_set = _advised_set(inference.firings, book)
    advice = advise(
        found.known,
        tools.figures.rig,
        clip=_clip(found.named, fixes),
        raise_step_ft=book.numbers["raise_step_ft"],
        now=found.now,
    )
    filler = Filler(book, found.inference.facts, advice.phrases)
    chains = Chains(found.inference, tools.scales)
    causes = [
        _cause(found.weighed[cause], fixes.get(cause, ()), tools, filler, chains) for cause in found.named
    ]
    record = {
        "causes": [cause.record for cause in causes],
        "numbers": dict(advice.numbers) if found.inference.firings else {},
        "set": advised_set,
    }
    looks = [cause.look_again_min for cause in causes if cause.look_again_min]
    look = min(looks, default=None)
    return Verdict(record, tuple(_blocks(causes, found, tools, advice, look)), look)


@dataclass(frozen=True, slots=True)
class _Cause:
    record: Mapping[str, Any]
    action: str
    sure: str
    reasons: tuple[str, ...]
    fix: tuple[str, ...]
    look_again_min: float | None


def _fixes(firings: Iterable[Firing], tools: Apparatus) -> dict[str, tuple[Rule, ...]]:
    fixes: dict[str, tuple[Rule, ...]] = {}
    for firing in firings:
        rule = tools.scales.rules[firing.rule]
        if rule.fix_for is not None:
            fixes[rule.fix_for] = (*fixes.get(rule.fix_for, ()), rule)
    return fixes


def _clip(named_causes: tuple[str, ...], fixes: Mapping[str, tuple[Rule, ...]]) -> str:
    """How clip heights are advised: as the likeliest cause's fix says that says anything special."""
    wanted = [rule.clip for cause in named_causes for rule in fixes.get(cause, ())]
    return next((clip for clip in wanted if clip != "sum"), "sum")


def _advised_set(firings: Iterable[Firing], book: Rulebook) -> str | None:
    """The set-up of the rule that stands first in the rule base among those that fired."""
    fired = {firing.rule for firing in firings}
    return next((rule.advises_set for rule in book.rules if rule.advises_set and rule.id in fired), None)


def _cause(
    weighed: Weighed, fixes: tuple[Rule, ...], tools: Apparatus, filler: Filler, chains: Chains
) -> _Cause:
    book = tools.book
    rules = chains.for_cause(weighed)
    because = sentences(rules, tools.scales, filler)
    counted = [e.rule for e in weighed.evidence if e.counted and e.db > 0]
    actions = tuple(action for rule in fixes for action in rule.action)
    fix = tuple(line for rule in fixes for line in filler.all(rule.fix))
    action = filler.first(actions) or ""
    look = next((rule.look_again_min for rule in fixes if rule.look_again_min), None)
    record = {
        "id": weighed.cause,
        "probability": round(weighed.probability, 4),
        "because": because,
        "rules": rules,
        "fix": [line for line in (action, *fix) if line],
        "look_again_min": look,
    }
    sure = next(says for least, says in book.sureness if weighed.probability >= least)
    said = sentences(counted, tools.scales, filler)[:_SAID_REASONS]
    sentence = f"{sure}: {book.causes[weighed.cause].says}."
    return _Cause(record, action, sentence, tuple(said), fix, look)


def _blocks(
    causes: list[_Cause], found: Assessment, tools: Apparatus, advice: Advice, look: float | None
) -> Iterable[Block]:
    text = tools.book.texts
    if not causes:
        yield from _nothing_named(found, tools)
        return
    first = causes[0]
    yield Block("action", first.action)
    yield Block("say", first.sure)
    yield from (Block("reason", reason) for reason in first.reasons)
    yield from (Block("say", line) for line in first.fix)
    if any(slot in line for line in (first.action, *first.fix) for slot in ("clip",)):
        yield from (Block("say", note) for note in advice.notes)
    for other in causes[1:]:
        yield Block("say", text["also"].replace("{action}", other.action))
        yield Block("say", other.sure)
        yield from (Block("reason", reason) for reason in other.reasons[:1])
    if look is not None:
        yield Block("say", text["look_again"].replace("{minutes}", f"{look:g}"))


def _nothing_named(found: Assessment, tools: Apparatus) -> Iterable[Block]:
    text = tools.book.texts
    if WRONG in found.inference.facts:
        yield Block("action", text["cannot_tell"])
        yield Block("say", text["cannot_tell_more"])
        return
    yield Block("action", text["healthy"])
    look = f"{tools.book.numbers['look_again_min']:g}"
    yield Block("say", text["healthy_more"].replace("{look}", look))
