"""A core of a few lines with the signature of the real one, to try what stands around it."""

import tomllib
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

from coach.consult import Desk
from coach.conversation import Block, Choice, Heard, Message, Question, Reply, Session
from coach.model import Firing, Inference, Rulebook, Scalar
from coach.store import Store

NOW = datetime(2027, 2, 11, 21, 5, tzinfo=UTC)

COLOUR = Question(
    "paint.colour", "Which colour?", "It tells the pots apart.", "choice", None,
    (Choice("red", "Red"), Choice("dark-blue", "Dark blue")),
)  # fmt: skip
COUNT = Question("paint.pots", "How many pots?", "To know when it ends.", "number", "pots")
WET = Question("paint.wet", "Is it wet?", "Wet paint runs.", "bool", None)
QUESTIONS = (COLOUR, COUNT, WET)
NUMBERS = tomllib.loads((Path(__file__).parent.parent / "rules" / "numbers.toml").read_text(encoding="utf-8"))
BOOK = cast(
    Rulebook,
    SimpleNamespace(
        digest="a-digest",
        numbers={name: entry["value"] for name, entry in NUMBERS.items()},
        texts={},
        clearing=(),
    ),
)
"""All that the shell itself needs of a rulebook."""


def infer(facts: Mapping[str, Scalar]) -> Inference:
    fired = [Firing(f"rule-of-{name}", ((name, value),)) for name, value in facts.items()]
    return Inference(tuple(fired), facts)


def step(
    session: Session, message: Message, *, now: datetime, book: Rulebook,
    infer: Callable[[Mapping[str, Scalar]], Inference],
) -> tuple[Session, Reply]:  # fmt: skip
    """Ask three questions in turn, then conclude; "fault" breaks, "shark" warns, -3 is refused."""
    if message.command == "forget":
        return Session(), Reply(blocks=(Block("say", "Forgotten."),), forget=True)
    if message.command == "new":
        session = Session()
    if message.text == "fault":
        raise ZeroDivisionError("the person said fault")
    heard = _heard(session, message)
    if -3 in heard.values():
        # a careless core: the state that comes with an error must not be kept
        return Session(concluded=True), Reply(error=("out-of-range", "-3 is out of range."))
    facts = session.facts | {name: Heard(value=value, at=now.isoformat()) for name, value in heard.items()}
    infer({name: said.value for name, said in facts.items()})
    asking = next((question for question in QUESTIONS if question.fact not in facts), None)
    after = session.model_copy(update={"facts": facts, "asking": asking and asking.fact})
    return after, _reply(message, heard, asking)


def _heard(session: Session, message: Message) -> dict[str, Any]:
    if message.has_pick and session.asking:
        return {session.asking: message.pick}
    return dict(message.facts or {})


def _reply(message: Message, heard: Mapping[str, Any], asking: Question | None) -> Reply:
    done: dict[str, Any] = {"causes": [], "numbers": {}, "set": "brush"}
    return Reply(
        blocks=(Block("say", f"You said {message.text or message.command or message.pick}."),
                Block("steps", "Do this:", ("Open the lid.", "Stir."))),
        understood=heard,
        hazards=(("shark", "A shark is near."),) if message.text and "shark" in message.text else (),
        ask=asking,
        verdict=None if asking else done,
    )  # fmt: skip


def desk(store: Store) -> Desk:
    return Desk(store, BOOK, infer=infer, step=step)
