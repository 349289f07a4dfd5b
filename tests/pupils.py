"""Learners on the bot and in the page: what is open for them, and how they answer it."""

from datetime import UTC, datetime

import school_bank
from boats import Harbour, Shown

from coach.front.telegram.lessons import learner_of
from coach.school import kept
from coach.school.parts import Item
from coach.school.state import Learner, Open, Sitting
from coach.store import Store

ANNA, BEN, CREW = 11, 22, -33
SIDE, CASE = "scene/which-high", "case/ebb-took-it/wrong"


def with_bank(harbour: Harbour) -> Harbour:
    """The bot with items that are made once for all tests."""
    harbour.lessons.room.__dict__["bank"] = school_bank.bank()
    return harbour


def learner(harbour: Harbour, chat: int) -> Learner:
    with harbour.store.reading() as rows:
        return kept.learner(rows, learner_of(str(chat)))


def open_item(harbour: Harbour, chat: int) -> Item:
    opened = learner(harbour, chat).open
    assert opened is not None
    item = school_bank.bank().item(opened.item, opened.turn)
    assert item is not None
    return item


def at_question(store: Store, name: str, item: str, *more: str, at: float) -> None:
    """Let a learner stand at this question, with others to come."""
    state = Learner(name=name, open=Open(item=item), began=True, sitting=Sitting(queue=more))
    with store.writing() as rows:
        kept.keep(rows, state, at=datetime.fromtimestamp(at, UTC))


def opens(harbour: Harbour, chat: int, item: str, *more: str) -> list[Shown]:
    """A learner with this question open, and others to come; the lesson goes on with it."""
    at_question(harbour.store, learner_of(str(chat)), item, *more, at=harbour.at)
    return harbour.say(chat, "/lesson")


def answers(harbour: Harbour, chat: int, *, rightly: bool = True) -> list[Shown]:
    """Answer the open question by tap or number, then say that it is certain where that is asked."""
    item = open_item(harbour, chat)
    if item.wanted is not None:
        shown = harbour.say(chat, f"{item.wanted.value:g}" if rightly else "999")
    else:
        chosen = next(each for each in item.choices if (each.id == item.right) == rightly)
        place = next(at for at, row in enumerate(digits(harbour.latest(chat))) if row == chosen.text)
        shown = harbour.tap(chat, harbour.latest(chat).rows[place][0][0])
    opened = learner(harbour, chat).open
    return harbour.tap(chat, "Certain") if opened and opened.phase == "sure" else shown


def digits(shown: Shown) -> list[str]:
    """The answers of a screen as they stand in its words."""
    lines = shown.text.splitlines()
    return [line.split("  ", 1)[1] for line in lines if line[:1].isdecimal() and "  " in line]


def mastered(harbour: Harbour, chat: int, topic: str) -> None:
    state = Learner(name=learner_of(str(chat)), tries={topic: "1" * 12}, began=True)
    with harbour.store.writing() as rows:
        kept.keep(rows, state, at=datetime.fromtimestamp(harbour.at, UTC))
