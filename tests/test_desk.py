"""Any order of messages, repeats, restarts and forgetting, against a model of a few dictionaries."""

import tempfile
from pathlib import Path

import small_core
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from coach.conversation import Message
from coach.exchange import Envelope
from coach.store import Store

CHATS = st.sampled_from(["boat-7", "boat-8"])
IDS = st.none() | st.sampled_from(["a", "b", "c"])
MESSAGES = st.sampled_from(
    [
        Message(text="hello"),
        Message(text="fault"),
        Message(facts={"paint.colour": "red"}),
        Message(facts={"paint.pots": 4}),
        Message(facts={"paint.pots": -3}),
        Message(command="new"),
    ]
)
REFUSED = ("bad-value", "No.")


class Desks(RuleBasedStateMachine):
    """The promise: an id seen is answered alike, a refusal changes nothing, chats are apart."""

    @initialize()
    def open(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name) / "a.db"
        self.store = Store(self.path)
        self.answers: dict[tuple[str, str], str] = {}
        self.facts: dict[str, dict[str, object]] = {}
        self.forgotten: set[tuple[str, str]] = set()

    def send(self, chat: str, message: Message | None, message_id: str | None) -> str:
        refusal = None if message else REFUSED
        envelope = Envelope(chat, message_id, message, refusal=refusal)
        return small_core.desk(self.store).answer(envelope, now=small_core.NOW).line

    @rule(chat=CHATS, message=st.none() | MESSAGES, message_id=IDS)
    def say(self, chat: str, message: Message | None, message_id: str | None) -> None:
        line = self.send(chat, message, message_id)
        if message_id and (chat, message_id) in self.answers:
            assert line == self.answers[chat, message_id]
            return
        if message_id and "internal" not in line:
            self.answers[chat, message_id] = line
        if message and '"error": null' in line:
            before = {} if message.command else self.facts.get(chat, {})
            self.facts[chat] = before | (message.facts or {})

    @rule(chat=CHATS, message_id=IDS)
    def forget(self, chat: str, message_id: str | None) -> None:
        line = self.send(chat, Message(command="forget"), message_id)
        if message_id and (chat, message_id) in self.answers:
            assert line == self.answers[chat, message_id]
            return
        self.facts.pop(chat, None)
        self.answers = {
            key: answer for key, answer in self.answers.items() if key[0] != chat or key in self.forgotten
        }
        if message_id:
            self.answers[chat, message_id] = line
            self.forgotten.add((chat, message_id))

    @rule()
    def restart(self) -> None:
        self.store.close()
        self.store = Store(self.path)

    @invariant()
    def every_chat_knows_what_it_was_told(self) -> None:
        for chat in ("boat-7", "boat-8"):
            kept = small_core.Session.model_validate_json(self.store.look(chat).session or "{}")
            assert {name: heard.value for name, heard in kept.facts.items()} == self.facts.get(chat, {})

    def teardown(self) -> None:
        self.store.close()
        self.folder.cleanup()


TestDesks = Desks.TestCase
TestDesks.settings = settings(max_examples=20, stateful_step_count=20, deadline=None)
