"""What the facts mean, and what to ask next.

Pure: facts and time in, conclusions out. Causes, hazards, fixes and set-ups come only from firings
of the inference engine that is passed in as `infer`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from coach.apparatus import Apparatus
from coach.conversation import Session
from coach.diagnosis import WRONG, Weighed, named
from coach.model import Confirm, Inference, Rulebook, Scalar
from coach.questions import Case
from coach.wording import Filler

Infer = Callable[[Mapping[str, Scalar]], Inference]

OPEN = "chat.open"
WELL = "all.seems_well"
LOOKS_RIGHT = "all.looks_right"
NOTHING = "none"
UNEXPLAINED = "unexplained"


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
    metric: bool = False
    about: tuple[str, ...] = ()
    """The facts whose number was said to be only about so much."""


def assess(
    given: Mapping[str, Scalar], tools: Apparatus, *, infer: Infer, now: datetime, metric: bool = False
) -> Assessment:
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
        named(weighed, tools.book, something_is_wrong=wrong, aside=_tried(given, tools.book)),
        tuple(_hazards(inference, tools, known, metric)),
        now,
        metric,
    )


def _tried(given: Mapping[str, Scalar], book: Rulebook) -> tuple[str, ...]:
    return tuple(cause for cause in book.causes if f"tried.{cause}" in given)


def _hazards(
    inference: Inference, tools: Apparatus, known: Mapping[str, Scalar], metric: bool
) -> Iterable[tuple[str, str]]:
    """Each hazard in force with what is said about it, the gravest first."""
    filler = Filler(tools.book, known, metric=metric)
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
    safety = safety_question(session, found, tools.book, closed)
    if safety is not None:
        return safety
    bar = _bar(found, tools.book)
    left = tools.book.asking["most_questions"] - _questions_spent(session, tools.book)
    confirming = _confirmations(found, tools.book, closed) if left > 0 else ()
    if found.named and bar and confirming:
        return confirming[0]
    if left > len(confirming):
        told = found.given.keys() - set(session.asked)
        case = Case(found.given, found.known, closed, found.inference, found.weighed, found.now, told)
        telling = tools.planner.best(case, anyway=confirming, **bar)
        if telling is not None:
            return telling
    if confirming:
        return confirming[0]
    return _needed(found, tools.book, closed) if left > 0 else None


def _needed(found: Assessment, book: Rulebook, closed: Collection[str]) -> str | None:
    """The input of a figure that would change the answer, as the rules say that fired."""
    fired = {firing.rule for firing in found.inference.firings}
    wanted = (rule.asks for rule in book.rules if rule.asks and rule.id in fired)
    return next((name for name in wanted if name not in found.given and name not in closed), None)


def safety_question(
    session: Session, found: Assessment, book: Rulebook, closed: Collection[str]
) -> str | None:
    """The one combined check; the single questions behind it only while a "no" is unexplained or
    the answer was "don't know"."""
    check = book.safety_check
    if check not in found.given and check not in closed:
        return check
    if found.given.get(check) is True:
        return None
    if found.hazards:
        return _beside_hazard(found, book, closed) if check in found.given else None
    left = [name for name in book.safety_singles if name not in found.given and name not in closed]
    if check in found.given:
        return left[0] if left else None
    asked = sum(name in session.asked for name in book.safety_singles)
    if check in session.unknown and asked < book.asking["singles_after_unknown"] and left:
        return left[0]
    return None


def _beside_hazard(found: Assessment, book: Rulebook, closed: Collection[str]) -> str | None:
    """After a "no" that one hazard explains: what makes that very hazard deadlier is asked as well."""
    asks = (name for hazard, _ in found.hazards for name in book.safety_with.get(hazard, ()))
    return next((name for name in asks if name not in found.given and name not in closed), None)


def _questions_spent(session: Session, book: Rulebook) -> int:
    aside = {book.safety_check, book.follow_up.ask, *book.safety_singles}
    return len([name for name in session.asked[session.spent :] if name not in aside])


def _bar(found: Assessment, book: Rulebook) -> dict[str, Any]:
    """Once a cause is as good as found that explains the catch, only another likely one is worth a
    question, and a good one; while all seems well a question has to be a good one too."""
    explaining = [found.weighed[cause] for cause in found.named if not book.causes[cause].is_aside]
    top = max((each.probability for each in explaining), default=0.0)
    if top >= book.asking["found_from"]:
        return {
            "factor": book.asking["found_factor"],
            "likely_from": book.asking["found_likely_from"],
            "found": found.named,
        }
    if WELL in found.inference.facts:
        return {
            "factor": book.asking["content_factor"],
            "spoken_factor": book.asking["content_spoken_factor"],
        }
    return {}


def _confirmations(found: Assessment, book: Rulebook, closed: Collection[str]) -> tuple[str, ...]:
    """What still has to be asked before the causes named may be acted on, or the set called healthy."""
    return tuple(
        dict.fromkeys(confirm.ask for confirm in book.confirms if _asks(confirm, found, book, closed))
    )


def _asks(confirm: Confirm, found: Assessment, book: Rulebook, closed: Collection[str]) -> bool:
    if not set(confirm.causes) & _at_stake(found, book):
        return False
    if confirm.ask in found.given or confirm.ask in closed:
        return False
    if confirm.only_if is not None and found.inference.facts.get(confirm.only_if) is not True:
        return False
    within = book.asking["same_within"]
    return confirm.differ is None or _differ(found.known, confirm.differ, within=within)


def _at_stake(found: Assessment, book: Rulebook) -> set[str]:
    """What the coach would say now: causes, that nothing is wrong, or that something is and it can't tell."""
    said = set(found.named or (NOTHING,))
    sure = any(found.weighed[cause].probability >= book.asking["name_from"] for cause in found.named)
    if WRONG in found.inference.facts and not sure:
        said.add(UNEXPLAINED)
    return said


def _differ(known: Mapping[str, Scalar], names: tuple[str, str], *, within: float) -> bool:
    """Whether two facts are known and are not about the same."""
    one, other = (known.get(name) for name in names)
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) > within
    return one is not None and other is not None and one != other
