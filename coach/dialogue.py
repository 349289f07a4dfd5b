"""The dialogue core: one message in, the next state and a reply out.

Pure: no clock, network, store or randomness. Front ends only translate. A message is understood or
it is said what was not; nothing that a person sends raises.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from coach import followup
from coach.apparatus import Apparatus, apparatus
from coach.clearing import clearing_steps
from coach.consultation import Assessment, Infer, assess, conclude, next_question
from coach.explain import Chains, sentences, sum_lines
from coach.language.read import is_correction, read
from coach.legal import NotLegal, legal_value
from coach.model import (
    UNKNOWN,
    Block,
    Choice,
    Fact,
    Heard,
    Message,
    Question,
    Reply,
    Rulebook,
    Scalar,
    Session,
)
from coach.wording import Filler, in_words

_STEPS_BACK = 12
_SUSPECTS = 2
_SUSPECT_FROM = 0.15


@dataclass(frozen=True, slots=True)
class _Turn:
    """What a turn has at hand."""

    session: Session
    tools: Apparatus
    infer: Infer
    now: datetime

    @property
    def book(self) -> Rulebook:
        return self.tools.book

    @property
    def text(self) -> Mapping[str, str]:
        return self.tools.book.texts

    def assess(self, session: Session | None = None) -> Assessment:
        session = session or self.session
        given = {name: heard.value for name, heard in session.facts.items()}
        given |= followup.tried_facts(session)
        return assess(given, self.tools, infer=self.infer, now=self.now)


def step(
    session: Session, message: Message, *, now: datetime, book: Rulebook, infer: Infer
) -> tuple[Session, Reply]:
    """Answer one message. A reply with an error leaves the session as it was."""
    turn = _Turn(session, apparatus(book), infer, now)
    if message.command is not None:
        return _COMMANDS.get(message.command, _unknown_command)(turn)
    if message.facts is not None:
        return _facts_given(turn, message.facts)
    if message.has_pick:
        return _picked(turn, message.pick)
    return _said(turn, message.text or "")


# --- the four kinds of message -------------------------------------------------------------------


def _facts_given(turn: _Turn, given: Mapping[str, Any]) -> tuple[Session, Reply]:
    facts: dict[str, Scalar] = {}
    unknown: list[str] = []
    for name, value in given.items():
        fact = turn.book.facts.get(name)
        if fact is None or fact.origin != "asked":
            return _refused(turn, "unknown-fact", f"There is no fact '{name[:60]}' that can be told.")
        if value == UNKNOWN:
            unknown.append(name)
            continue
        try:
            facts[name] = legal_value(fact, value)
        except NotLegal as error:
            return _refused(turn, "bad-value", str(error))
    return _learned(turn, facts, tuple(unknown))


def _picked(turn: _Turn, value: Any) -> tuple[Session, Reply]:
    if turn.session.asking is None:
        return _refused(turn, "no-question", turn.text["nothing_open"])
    fact = turn.book.facts[turn.session.asking]
    if value == UNKNOWN:
        return _learned(turn, {}, (fact.name,))
    try:
        return _learned(turn, {fact.name: legal_value(fact, value)}, ())
    except NotLegal as error:
        return _refused(turn, "bad-value", str(error))


def _said(turn: _Turn, text: str) -> tuple[Session, Reply]:
    spoken = " ".join(text.casefold().strip(" .!?").split())
    for command, ways in _SPOKEN.items():
        if spoken in ways:
            return _COMMANDS[command](turn)
    asked = _asked_about(turn, text)
    reading = read(text, asked=asked, lexicon=turn.tools.lexicon, now=turn.now)
    notes = [Block("heard", sentence) for sentence in reading.read_back]
    if not reading.facts and not reading.unknown and not reading.retracted:
        return _nothing_understood(turn, reading.not_understood or text)
    if reading.not_understood:
        notes.append(Block("heard", turn.text["not_understood"].replace("{what}", reading.not_understood)))
    return _learned(turn, reading.facts, reading.unknown, tuple(notes), retracted=reading.retracted)


def _asked_about(turn: _Turn, text: str) -> Fact | None:
    """The fact that an answer without a subject is about: the open question, or the one just
    answered where the words are a correction."""
    session = turn.session
    name = (
        session.latest
        if session.latest is not None and is_correction(text, turn.tools.lexicon)
        else session.asking
    )
    return turn.book.facts[name] if name is not None else None


def _nothing_understood(turn: _Turn, what: str) -> tuple[Session, Reply]:
    """Nothing was learned. With a question open the state stays as it is; without one the coach
    starts asking, for somebody who wants help has said so."""
    said = turn.text["not_understood"].replace("{what}", _shortened(what))
    blocks = (Block("heard", said), Block("heard", turn.text["not_understood_help"]))
    if turn.session.asking is not None:
        return turn.session, Reply(blocks, ask=_question(turn, turn.session.asking))
    if turn.session.concluded and not followup.is_due(turn.session, turn.book.follow_up, now=turn.now):
        return turn.session, Reply((blocks[0], Block("heard", turn.text["nothing_open"])))
    session, reply = _respond(turn, _with_past(turn.session))
    return session, replace(reply, blocks=(blocks[0], *reply.blocks))


def _learned(
    turn: _Turn,
    facts: Mapping[str, Scalar],
    unknown: tuple[str, ...],
    notes: tuple[Block, ...] = (),
    *,
    retracted: tuple[str, ...] = (),
) -> tuple[Session, Reply]:
    before = _with_past(turn.session)
    at = turn.now.isoformat()
    heard = {name: Heard(value=value, at=at) for name, value in facts.items()}
    answered = before.asking in facts or before.asking in unknown
    session = before.model_copy(
        update={
            "facts": {**{n: h for n, h in before.facts.items() if n not in retracted}, **heard},
            "unknown": tuple(n for n in dict.fromkeys((*before.unknown, *unknown)) if n not in facts),
            "asking": None if answered else before.asking,
            "latest": before.asking if answered else (list(facts)[-1] if facts else before.latest),
        }
    )
    session, reply = _after_learning(turn, session, facts)
    at_end = notes if reply.verdict is not None else ()
    at_start = () if reply.verdict is not None else notes
    understood = {**facts, **dict.fromkeys(unknown, UNKNOWN)}
    return session, replace(reply, blocks=(*at_start, *reply.blocks, *at_end), understood=understood)


# --- what comes next -----------------------------------------------------------------------------


def _after_learning(turn: _Turn, session: Session, facts: Mapping[str, Scalar]) -> tuple[Session, Reply]:
    """Go on with the consultation, or with what "did it help?" brought."""
    follow = turn.book.follow_up
    if follow.ask not in facts:
        return _respond(turn, session)
    answer = facts[follow.ask]
    session = followup.answered(session, answer, follow, now=turn.now)
    if answer == follow.no:
        session, reply = _respond(turn, session)
        at = 0 if reply.verdict is None else len(reply.blocks)
        said = Block("say", turn.text["did_not_help"])
        return session, replace(reply, blocks=(*reply.blocks[:at], said, *reply.blocks[at:]))
    if answer == follow.yes:
        return session, Reply((Block("say", turn.text["helped"]),))
    session, until = followup.wait_until(session, now=turn.now, pause_min=turn.book.numbers["look_again_min"])
    return session, Reply((Block("say", turn.text["too_early"].replace("{time}", until)),))


def _respond(turn: _Turn, session: Session) -> tuple[Session, Reply]:
    """Hazards first, then the next question, or the verdict."""
    found = turn.assess(session)
    hazards = tuple((h, say) for h, say in found.hazards if h not in session.hazards_told)
    warnings = tuple(Block("warn", say) for _, say in hazards)
    session = session.model_copy(update={"hazards_told": tuple(h for h, _ in found.hazards)})
    due = followup.is_due(session, turn.book.follow_up, now=turn.now)
    ask = session.asking if _still_useful(session) else None
    if ask is None:
        ask = turn.book.follow_up.ask if due else next_question(session, found, turn.tools)
    if ask is not None:
        asked = session.asked if ask in session.asked else (*session.asked, ask)
        session = session.model_copy(update={"asking": ask, "asked": asked, "concluded": due})
        return session, Reply(warnings, hazards=hazards, ask=_question(turn, ask))
    verdict = conclude(found, turn.tools, infer=turn.infer)
    session = followup.advised(
        session, found.named, verdict.look_again_min, follow=turn.book.follow_up, now=turn.now
    )
    return session, Reply((*warnings, *verdict.blocks), hazards=hazards, verdict=verdict.record)


def _still_useful(session: Session) -> bool:
    """A question stays open when a message told other things than its answer."""
    return session.asking is not None and session.asking not in session.facts


def _question(turn: _Turn, name: str) -> Question:
    fact = turn.book.facts[name]
    options = tuple(Choice(option.id, option.label) for option in fact.options)
    if fact.type == "bool":
        options = (Choice(True, "Yes"), Choice(False, "No"))
    return Question(name, fact.ask, fact.why, fact.type, fact.unit, options)


# --- commands ------------------------------------------------------------------------------------


def _why(turn: _Turn) -> tuple[Session, Reply]:
    found = turn.assess()
    blocks = _why_asked(turn, found) if turn.session.asking is not None else _why_concluded(turn, found)
    ask = _question(turn, turn.session.asking) if turn.session.asking is not None else None
    return turn.session, Reply(tuple(blocks), ask=ask)


def _why_asked(turn: _Turn, found: Assessment) -> list[Block]:
    fact = turn.book.facts[str(turn.session.asking)]
    ranked = sorted(found.weighed.values(), key=lambda w: -w.db)
    suspects = [w for w in ranked if w.probability >= _SUSPECT_FROM][:_SUSPECTS]
    names = "; ".join(turn.book.causes[w.cause].says for w in suspects)
    thinks = turn.text["suspects"].replace("{causes}", names) if names else turn.text["suspects_none"]
    return [Block("say", turn.text["asking_because"].replace("{why}", fact.why)), Block("say", thinks)]


def _why_concluded(turn: _Turn, found: Assessment) -> list[Block]:
    if not turn.session.concluded:
        return [Block("say", turn.text["no_verdict_yet"])]
    scales = turn.tools.scales
    filler = Filler(turn.book, found.inference.facts)
    chains = Chains(found.inference, scales)
    blocks = []
    for cause in found.named:
        weighed = found.weighed[cause]
        reasons = sentences(chains.for_cause(weighed), scales, filler)
        blocks.append(Block("steps", f"{turn.book.causes[cause].says}:".capitalize(), tuple(reasons)))
        blocks += [Block("say", line) for line in sum_lines(weighed, scales)]
    if not blocks:
        reasons = sentences((f.rule for f in found.inference.firings), scales, filler)
        blocks.append(Block("steps", turn.text["summary_head"], tuple(reasons)))
    return blocks


def _summary(turn: _Turn) -> tuple[Session, Reply]:
    session = turn.session
    items = [
        f"{turn.book.facts[name].says}: {in_words(heard.value, turn.book.facts[name])}"
        for name, heard in session.facts.items()
    ]
    head = turn.text["summary_head"] if items else turn.text["summary_empty"]
    blocks = [Block("list", head, tuple(items))]
    if session.concluded:
        blocks += conclude(turn.assess(), turn.tools, infer=turn.infer).blocks
    ask = _question(turn, session.asking) if session.asking is not None else None
    return session, Reply(tuple(blocks), ask=ask)


def _undo(turn: _Turn) -> tuple[Session, Reply]:
    session = turn.session
    if not session.past:
        ask = _question(turn, session.asking) if session.asking is not None else None
        return session, Reply((Block("say", turn.text["nothing_to_undo"]),), ask=ask)
    earlier = Session(**{**session.past[-1], "past": session.past[:-1]})
    undone = Block("say", turn.text["undone"])
    if earlier.asking is not None:
        return earlier, Reply((undone,), ask=_question(turn, earlier.asking))
    if not earlier.concluded:
        return earlier, Reply((undone, Block("say", turn.text["nothing_open"])))
    after, reply = _respond(turn, earlier)
    return after, replace(reply, blocks=(*reply.blocks, undone))


def _new(turn: _Turn) -> tuple[Session, Reply]:
    past = _with_past(turn.session).past
    return Session(past=past), Reply((Block("say", turn.text["fresh"]),))


def _forget(turn: _Turn) -> tuple[Session, Reply]:
    return Session(), Reply((Block("say", turn.text["forgotten"]),), forget=True)


def _clear(turn: _Turn) -> tuple[Session, Reply]:
    """The ordered list with minutes, at any moment; nothing else changes."""
    given = {name: heard.value for name, heard in turn.session.facts.items()}
    head, items, total = clearing_steps(turn.book, given)
    blocks = (Block("steps", head, tuple(items)), Block("say", total))
    ask = _question(turn, turn.session.asking) if turn.session.asking is not None else None
    return turn.session, Reply(blocks, ask=ask)


def _unknown_command(turn: _Turn) -> tuple[Session, Reply]:
    return _refused(turn, "bad-command", f"Known commands: {', '.join(_COMMANDS)}.")


_COMMANDS: Mapping[str, Callable[[_Turn], tuple[Session, Reply]]] = {
    "new": _new,
    "why": _why,
    "undo": _undo,
    "summary": _summary,
    "forget": _forget,
    "clear": _clear,
}

_SPOKEN: Mapping[str, tuple[str, ...]] = {
    "why": ("why", "why do you ask", "how come"),
    "undo": ("undo", "back", "take that back", "go back"),
    "summary": ("summary", "sum up"),
    "new": ("new", "start over", "start again"),
    "clear": ("clear the water", "clear water", "clear the water now", "ship coming clear the water"),
}


# --- small things --------------------------------------------------------------------------------


def _with_past(session: Session) -> Session:
    """The session with itself added to what undo can go back to."""
    snapshot = session.model_dump(exclude={"past"}, exclude_defaults=True)
    return session.model_copy(update={"past": (*session.past, snapshot)[-_STEPS_BACK:]})


def _refused(turn: _Turn, code: str, say: str) -> tuple[Session, Reply]:
    ask = _question(turn, turn.session.asking) if turn.session.asking is not None else None
    return turn.session, Reply(error=(code, say), ask=ask)


def _shortened(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 60 else text[:57] + "..."
