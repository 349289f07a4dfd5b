"""Conversations held in-process, without a store or a front end."""

import random
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import Any

import legal_facts
from rule_folders import NOW, RULES, VOCABULARY, rule

from coach.apparatus import apparatus
from coach.conversation import Message, Reply, Session
from coach.dialogue import step
from coach.model import UNKNOWN, Inference, Rulebook, Scalar

Infer = Callable[[Mapping[str, Scalar]], Inference]
BENCH = (
    RULES
    + rule("keen-edge", "tool.edge is keen", {"blunt": -10}, group="look")
    + rule("storm", "sky.lightning is yes", hazard="fire", say="Lightning: leave.")
    + rule("bare", "crew.jackets is no", hazard="flood", say="Jackets on.")
    + rule("bench", "chat.open is yes", set="plain-bench")
    + rule(
        "whet",
        "named.blunt is yes",
        fix_for="blunt",
        action=["Whet it."],
        fix=["On the stone."],
        look_again_min=20,
    )
    + rule("tighten", "named.loose is yes", fix_for="loose", action=["Tighten it."], look_again_min=10)
)
"""Rules about a tool on a bench, with hazards, a set-up and what to do: enough for a consultation."""


class Talk:
    """A conversation held in-process: the session so far, the latest reply, and all of them."""

    def __init__(self, book: Rulebook, infer: Infer, *, now: datetime = NOW) -> None:
        self.book, self.infer, self.now = book, infer, now
        self.session = Session()
        self.reply = Reply()
        self.replies: list[Reply] = []

    def send(self, message: Message) -> Reply:
        self.session, self.reply = step(self.session, message, now=self.now, book=self.book, infer=self.infer)
        self.replies.append(self.reply)
        return self.reply

    def say(self, text: str) -> Reply:
        return self.send(Message(text=text))

    def tell(self, facts: Mapping[str, Any]) -> Reply:
        return self.send(Message(facts=dict(facts)))

    def pick(self, value: Any) -> Reply:
        return self.send(Message(pick=value, has_pick=True))

    def command(self, name: str) -> Reply:
        return self.send(Message(command=name))

    def play(self, opening: str, truth: Mapping[str, Any], *, most: int = 25) -> list[str]:
        """Say the opening and answer from `truth` ("unknown" where it is silent); the facts asked."""
        asked: list[str] = []
        self.say(opening)
        while self.reply.ask is not None and len(asked) < most:
            asked.append(self.reply.ask.fact)
            self.pick(truth.get(asked[-1], "unknown"))
        return asked


def fact_asked(reply: Reply) -> str | None:
    """The fact that the reply asks about."""
    return None if reply.ask is None else reply.ask.fact


def kinds(reply: Reply, kind: str) -> list[str]:
    """The texts of its blocks of one kind."""
    return [block.text for block in reply.blocks if block.kind == kind]


def without_past(session: Session) -> dict[str, Any]:
    """The state but for what undo goes back to."""
    return session.model_dump(exclude={"past"})


def openings(dice: random.Random, book: Rulebook) -> dict[str, Scalar]:
    """A few facts that somebody may begin with."""
    names = dice.sample(sorted(VOCABULARY["facts"]), k=dice.randint(0, 4))
    return {name: legal_facts.drawn(book.facts[name], dice) for name in names if name != "advice.helped"}


def answers(dice: random.Random, talk: Talk, *, unknown: float = 0.3) -> Iterator[Any]:
    """Random legal answers until nothing is asked, or too much."""
    for _ in range(40):
        if talk.reply.ask is None:
            return
        yield (
            UNKNOWN
            if dice.random() < unknown
            else legal_facts.drawn(talk.book.facts[talk.reply.ask.fact], dice)
        )


def hazards_in_force(one: Talk) -> set[str]:
    """What the rules say is dangerous, worked out anew from the facts that were told."""
    given = {name: heard.value for name, heard in one.session.facts.items()}
    known = apparatus(one.book).figures.work_out(given, now=one.now)
    fired = {firing.rule for firing in one.infer(known).firings}
    return {rule.hazard for rule in one.book.rules if rule.hazard is not None and rule.id in fired}
