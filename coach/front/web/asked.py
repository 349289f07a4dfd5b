"""The open question as the page shows it: its answers, the likeliest first, and what tells it from others."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

from coach.conversation import Choice, Question
from coach.front import render
from coach.model import Fact, Rulebook, Scalar


def token(ask: Question | None) -> str:
    """What tells one open question from another; "" where none is open."""
    return hashlib.sha256(ask.fact.encode()).hexdigest()[:8] if ask is not None else ""


def likeliest(ask: Question, facts: Mapping[str, Fact]) -> list[tuple[Scalar, str]]:
    """The answers of a question with their labels, the likeliest first."""
    fact = facts.get(ask.fact)
    weight: dict[Any, float] = dict(fact.expect) if fact else {}
    listed: list[tuple[Any, str]] = list(render.answers(ask))
    return sorted(listed, key=lambda each: -weight.get(each[0], 0.0))


def follow_question(book: Rulebook) -> Question:
    """The question whether advice helped."""
    fact = book.facts[book.follow_up.ask]
    options = tuple(Choice(option.id, option.label) for option in fact.options)
    return Question(fact.name, fact.ask, fact.why, fact.type, fact.unit, options)


def shown(ask: Question | None, facts: Mapping[str, Fact]) -> dict[str, Any] | None:
    """The question for the page."""
    if ask is None:
        return None
    return {
        "token": token(ask),
        "text": ask.text,
        "type": ask.type,
        "answers": [label for _, label in likeliest(ask, facts)],
    }
