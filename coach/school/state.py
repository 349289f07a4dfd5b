"""Where a learner stands: what the school keeps of one person, as plain JSON."""

from __future__ import annotations

from typing import Literal

from pydantic import AwareDatetime, Field

from coach.conversation import Frozen
from coach.school.cards import CardState


class Answer(Frozen):
    """One answer as it is logged. `first`: the first try of the day at this item; `sure` is None where
    it was not asked; `hints` is how many were given, `shown` whether the answer was shown."""

    item: str
    topic: str
    picked: str
    right: bool
    first: bool
    sure: str | None = None
    hints: int = 0
    shown: bool = False
    at: AwareDatetime


class Open(Frozen):
    """The question that is open. `picked` waits for how sure the person is; `turn` varies numbers;
    `retry` is how often it was missed in this sitting; `asked` what a boater in a role play was asked."""

    item: str
    turn: int = 0
    phase: Literal["answer", "sure"] = "answer"
    picked: str = ""
    hints: int = 0
    retry: int = 0
    asked: tuple[str, ...] = ()


class Coming(Frozen):
    """A question that was missed and comes back after so many others."""

    item: str
    after: int
    times: int = 1


class Sitting(Frozen):
    """One lesson: what is still to come, and how it went so far."""

    queue: tuple[str, ...] = ()
    back: tuple[Coming, ...] = ()
    right: int = 0
    count: int = 0
    sure: dict[str, tuple[int, int]] = Field(default_factory=dict)
    last: str = ""
    is_over: bool = False


class Learner(Frozen):
    """Everything kept of one learner.

    `tries` are the latest first tries of each topic, "1" right and "0" not, the newest last; `sure` counts
    (answers, right) for each way to say how sure one is; `ability` is in the units of Rasch, by topic;
    `cases` how many cases of a topic were seen, `met` the topics that were introduced. `fresh` are the
    answers of the latest step, for the log. `called` is what one is called where `name` is a mere number
    ("": nothing), `said` what was said before the open question, so that it can be shown again, `rests` that
    the lesson waits because something more urgent was said. `recalled` are the latest (chance foretold,
    was it known?) of items asked again after days: what tells how long this memory lasts. `boat` is whose
    trips are looked back on, `last_boater` the case of the role play that was last.
    """

    name: str
    called: str | None = None
    said: tuple[str, ...] = ()
    rests: bool = False
    recalled: tuple[tuple[float, bool], ...] = ()
    boat: str = ""
    last_boater: str = ""
    cards: dict[str, CardState] = Field(default_factory=dict)
    asked: dict[str, int] = Field(default_factory=dict)
    tries: dict[str, str] = Field(default_factory=dict)
    sure: dict[str, tuple[int, int]] = Field(default_factory=dict)
    ability: dict[str, float] = Field(default_factory=dict)
    cases: dict[str, int] = Field(default_factory=dict)
    met: tuple[str, ...] = ()
    open: Open | None = None
    sitting: Sitting = Sitting()
    began: bool = False
    fresh: tuple[Answer, ...] = ()

    @property
    def shown_name(self) -> str:
        """The name to call the learner by; "" where none was told."""
        return self.name if self.called is None else self.called
