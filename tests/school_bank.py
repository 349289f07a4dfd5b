"""The shipped school with all its items, made once for all tests that look at them."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cache

from coach import rulebook
from coach.consult import Desk
from coach.conversation import Message
from coach.exchange import Envelope
from coach.model import UNKNOWN
from coach.rulebook import default_folder
from coach.rulebook.situations import read_situations
from coach.school.bank import Bank, bank_of
from coach.school.lesson import Lesson, Step
from coach.school.parts import Item, School
from coach.school.reading import read_school
from coach.school.state import Learner

NOON = datetime.fromisoformat("2027-02-11T12:30:00-05:00")


@cache
def bank() -> Bank:
    """The bank of the shipped rules."""
    book = rulebook.load()
    return bank_of(read_school(book), book, read_situations(default_folder(), book))


def school() -> School:
    """The shipped school."""
    return bank().kitchen.school


@cache
def items() -> tuple[Item, ...]:
    """Every item."""
    return bank().all()


def right_answer(item: Item) -> str:
    """What somebody types who knows."""
    return f"{item.wanted.value:g}" if item.wanted is not None else item.answer


def advised(desk: Desk, chat: str, now: datetime) -> None:
    """Let a chat have a consultation on the falling water, up to its verdict."""
    case = next(each for each in school().cases if each.id == "ebb-took-it")
    told = Message(facts={**case.hidden, "safety.all_clear": True})
    reply = desk.answer(Envelope(chat, message=told), now=now).reply
    while reply is not None and reply.ask is not None:
        unknown = Message(pick=UNKNOWN, has_pick=True)
        reply = desk.answer(Envelope(chat, message=unknown), now=now).reply
    assert reply is not None
    assert reply.verdict is not None


class Pupil:
    """Somebody who takes a lesson: `know` says whether an item is answered rightly."""

    def __init__(self, name: str = "Ada", at: datetime = NOON) -> None:
        self.lesson, self.state, self.now = Lesson(bank()), Learner(name=name), at
        self.said: list[str] = []

    def types(self, text: str) -> Step:
        """Type one line; half a minute goes by."""
        step = self.lesson.step(self.state, text, now=self.now)
        self.state, self.now = step.state, self.now + timedelta(seconds=30)
        self.said += step.lines
        return step

    @property
    def item(self) -> Item | None:
        """The open item."""
        opened = self.state.open
        return None if opened is None else bank().item(opened.item, opened.turn)

    def answers(self, *, rightly: bool, sure: str = "certain") -> Step:
        """Answer the open question, and say how sure if that is asked."""
        item = self.item
        assert item is not None
        wrong = next((choice.text for choice in item.choices if choice.id != item.right), "999")
        step = self.types(right_answer(item) if rightly else wrong)
        return self.types(sure) if self.state.open and self.state.open.phase == "sure" else step

    def takes_a_lesson(self, *, rightly: bool = True, most: int = 60) -> None:
        """Begin, and answer everything until it is over."""
        if self.state.open is None:
            self.types("")
        for _ in range(most):
            if self.state.open is None:
                return
            self.answers(rightly=rightly)
        raise AssertionError("the lesson never ends")
