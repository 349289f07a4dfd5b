"""Before a question: what a topic is about, a sum worked out, the first steps of a case worked out."""

from __future__ import annotations

from collections.abc import Sequence

from coach.model import Rulebook
from coach.school.bank import Bank
from coach.school.told import filled, large
from coach.wording import Filler

WORKED_TURN = 9_001
"""The turn of a sum's worked example, far from those that are asked."""
_MOST_TRIED = 8


def introduction(topic: str, bank: Bank) -> tuple[str, ...]:
    """What a topic is about: its words, numbers of the trade, reasons of the rules it stands on."""
    school, book = bank.kitchen.school, bank.kitchen.book
    about = school.topics[topic]
    words = [f"{large(word)}: {means}." for word, means in about.words]
    numbers = [f"{large(school.numbers[name])}: {number_words(name, book)}." for name in about.numbers]
    rules = [bank.kitchen.rule(name) for name in about.reasons]
    reasons = [f"{rule.title}. {rule.because}" for rule in rules]
    return (filled(school.texts["topic_head"], topic=about.title), *words, *numbers, *reasons)


def number_words(name: str, book: Rulebook) -> str:
    """A number of the trade with its unit."""
    return Filler(book, {}).fill(f"{{{name}}}") or f"{book.numbers[name]:g}"


def worked_sum(name: str, bank: Bank, *, asked: str) -> tuple[str, ...]:
    """A sum worked out, with other numbers than the one that is `asked` next."""
    tried = (bank.item(name, WORKED_TURN + more) for more in range(_MOST_TRIED))
    item = next((item for item in tried if item is not None and item.ask != asked), None)
    if item is None:
        return ()
    text = bank.kitchen.text
    return ("", filled(text["worked_sum"], ask=item.ask), *item.because, "", text["now_you"])


def worked(steps: Sequence[str], case: str, bank: Bank, *, is_first: bool) -> tuple[str, ...]:
    """Steps of a case worked out, to read along."""
    text, school = bank.kitchen.text, bank.kitchen.school
    opening = next(each.opening for each in school.cases if each.id == case)
    lines = [filled(text["worked_head" if is_first else "faded_head"], opening=opening)]
    for name in steps:
        item = bank.item(name)
        if item is not None:
            facts = item.told[1:] if name.endswith("/wrong") else ()
            lines += ["", *facts, filled(text["worked_step"], ask=item.ask, answer=item.answer)]
            lines += item.because if name.endswith("/wrong") else item.because[:1]
    return (*lines, "", text["now_you"])
