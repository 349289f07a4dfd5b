"""The dialogue core: one message in, the next state and a reply out.

Pure: no clock, network, store or randomness. Front ends only translate. A message is understood or
it is said what was not; nothing that a person sends raises.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from coach import followup
from coach.answering import answer_to
from coach.apparatus import apparatus
from coach.commands import COMMANDS, is_undo, spoken_command, unknown_command
from coach.consultation import Infer
from coach.conversation import Block, Doubted, Heard, Message, Reply, Session
from coach.doubting import YES, doubted_about, stands_by, weighed
from coach.language.read import Reading, is_correction, plainly, read
from coach.language.tokens import LIMIT
from coach.legal import NotLegal, legal_value
from coach.model import UNKNOWN, Answer, Fact, Rulebook, Scalar
from coach.places import ground_in, where_facts
from coach.topics import spoken_of
from coach.turn import Turn, hear_hazards, question, refused, respond
from coach.undo import remember
from coach.wording import Filler, shortened

_COUNTS_KEPT = 36
_BARE_UNITS = {"ft": "m", "F": "C"}
_LAST_WORDS = 12
_BARE_NUMBER = re.compile(r"[^a-zA-Z'\"°\d]*\d[^a-zA-Z'\"°]*")


def step(
    session: Session, message: Message, *, now: datetime, book: Rulebook, infer: Infer
) -> tuple[Session, Reply]:
    """Answer one message. A reply with an error leaves the session as it was."""
    after, reply = _answer(Turn(session, apparatus(book), infer, now), message)
    if after is session or reply.forget or is_undo(message):
        return after, reply
    return remember(session, after), reply


def _answer(turn: Turn, message: Message) -> tuple[Session, Reply]:
    if message.command is not None:
        return COMMANDS.get(message.command, unknown_command)(turn)
    if message.facts is not None:
        return _facts_given(turn, message.facts)
    if message.has_pick:
        return _picked(turn, message.pick)
    return _said(turn, message.text or "")


# --- the four kinds of message -------------------------------------------------------------------


def _facts_given(turn: Turn, given: Mapping[str, Any]) -> tuple[Session, Reply]:
    facts: dict[str, Scalar] = {}
    unknown: list[str] = []
    for name, value in given.items():
        fact = turn.book.facts.get(name)
        if fact is None or fact.origin != "asked":
            return refused(turn, "unknown-fact", f"There is no fact '{name[:60]}' that can be told.")
        if value == UNKNOWN:
            unknown.append(name)
            continue
        try:
            facts[name] = legal_value(fact, value)
        except NotLegal as error:
            return refused(turn, "bad-value", str(error))
    return _learned(turn, Reading(facts, tuple(unknown)))


def _picked(turn: Turn, value: Any) -> tuple[Session, Reply]:
    if turn.session.asking is None:
        return refused(turn, "no-question", turn.text["nothing_open"])
    fact = turn.book.facts[turn.session.asking]
    if value == UNKNOWN:
        return _learned(turn, Reading(unknown=(fact.name,)))
    try:
        return _learned(turn, Reading({fact.name: legal_value(fact, value)}))
    except NotLegal as error:
        return refused(turn, "bad-value", str(error))


def _said(turn: Turn, text: str) -> tuple[Session, Reply]:
    command = spoken_command(text)
    if command is not None:
        return COMMANDS[command](turn)
    doubted = doubted_about(turn.session, turn.session.asking)
    if doubted is not None and (answer := stands_by(text, turn.book)) is not None:
        return _stood_by(turn, doubted, answer)
    put = answer_to(text, turn.book.answers)
    if put is not None and not put.goes_on:
        return _answered(turn, put)
    turn = _noting_topics(turn, text)
    reading = _with_place(_read_as_answer(turn, text), turn, text)
    notes = [Block("heard", sentence) for sentence in reading.read_back]
    if put is not None:
        return _told_and_asked(turn, text, put, reading, tuple(notes))
    if not (reading.facts or reading.unknown or reading.retracted or reading.beyond):
        return _nothing_understood(turn, reading.not_understood or text)
    if reading.missed:
        notes.append(Block("heard", turn.text["not_understood"].replace("{what}", reading.missed)))
    return _learned(turn, reading, tuple(notes))


def _stood_by(turn: Turn, doubted: Doubted, answer: str) -> tuple[Session, Reply]:
    """ "Yes, really", or "no", to a number that was asked once more."""
    name = doubted.fact
    if answer == YES and doubted.beyond is not None:
        return _learned(turn, Reading(beyond={name: doubted.beyond}))
    if answer == YES:
        return _learned(turn, Reading({name: turn.session.facts[name].value}))
    left = tuple(one for one in turn.session.doubted if one is not doubted)
    session = turn.session.model_copy(update={"doubted": left})
    return _learned(replace(turn, session=session), Reading(retracted=(name,)))


def _with_place(reading: Reading, turn: Turn, text: str) -> Reading:
    """The reading with the place that the text names, said back since its tables will be used."""
    ground = ground_in(text, turn.tools.lexicon.known, before=turn.tools.lexicon.before_a_place)
    if ground is None:
        return reading
    took = turn.text["took_place"].replace("{place}", ground.station.spot.name)
    facts = {**reading.facts, **where_facts(ground, turn.book.facts)}
    return replace(reading, facts=facts, read_back=(*reading.read_back, took))


def _answered(turn: Turn, put: Answer) -> tuple[Session, Reply]:
    """An answer that leaves everything else as it is."""
    ask = question(turn, turn.session.asking) if turn.session.asking is not None else None
    return turn.session, Reply(_says(turn, turn.session, put, {}), ask=ask)


def _told_and_asked(
    turn: Turn, text: str, put: Answer, reading: Reading, notes: tuple[Block, ...]
) -> tuple[Session, Reply]:
    """The consultation goes on with what was told; what was asked is answered before."""
    session, reply = _learned(turn, reading, notes)
    told = sum(block.kind == "warn" for block in reply.blocks)
    said = _says(turn, session, put, _asked_about_in(turn, text, put.reads) if put.reads else {})
    return session, replace(reply, blocks=(*reply.blocks[:told], *said, *reply.blocks[told:]))


def _asked_about_in(turn: Turn, text: str, name: str) -> Mapping[str, Scalar]:
    """What a question is about, "in 13 ft": its end, read as an answer. It is not told, only asked about."""
    words = text.replace("?", " ").split()[-_LAST_WORDS:]
    ends = (" ".join(words[at:]) for at in range(len(words)))
    read_so = (_read(turn, end, turn.book.facts[name]).facts for end in ends)
    return next(({name: facts[name]} for facts in read_so if name in facts), {})


def _says(turn: Turn, session: Session, put: Answer, also: Mapping[str, Scalar]) -> tuple[Block, ...]:
    heard = {name: Heard(value=value, at=turn.now.isoformat()) for name, value in also.items()}
    asked_about = session.model_copy(update={"facts": {**session.facts, **heard}})
    filler = Filler(turn.book, turn.assess(asked_about).known, metric=session.metric)
    said = filler.first(put.says)
    return (Block("say", said),) if said is not None else ()


def _noting_topics(turn: Turn, text: str) -> Turn:
    """The turn with what the text speaks of noted. Answers to a question speak of what was asked."""
    if turn.session.asking is not None:
        return turn
    said = f"{text[:LIMIT]} . {plainly(text, turn.tools.lexicon)}"
    topics = dict.fromkeys((*turn.session.spoken_of, *spoken_of(said, turn.book.topics)))
    return replace(turn, session=turn.session.model_copy(update={"spoken_of": tuple(topics)}))


def _read(turn: Turn, text: str, asked: Fact | None) -> Reading:
    """Read a text; a bare number of somebody who speaks metric is one of metres or of °C."""
    if turn.session.metric and asked is not None and asked.unit in _BARE_UNITS:
        bare = read(
            f"{text} {_BARE_UNITS[asked.unit]}", asked=asked, lexicon=turn.tools.lexicon, now=turn.now
        )
        if _BARE_NUMBER.fullmatch(text.strip()) and asked.name in bare.facts:
            return bare
    return read(text, asked=asked, lexicon=turn.tools.lexicon, now=turn.now)


def _read_as_answer(turn: Turn, text: str) -> Reading:
    """The text read as an answer; what corrects nothing that was just answered may answer the question:
    "sorry, 5"."""
    asked, asking = _asked_about(turn, text), turn.book.facts.get(turn.session.asking or "")
    reading = _read(turn, text, asked)
    is_taken = reading.facts or reading.unknown or reading.retracted
    return reading if is_taken or asking in (None, asked) else _read(turn, text, asking)


def _asked_about(turn: Turn, text: str) -> Fact | None:
    """The fact that an answer without a subject is about: the open question, or the one just
    answered where the words are a correction."""
    session = turn.session
    name = (
        session.latest
        if session.latest is not None and is_correction(text, turn.tools.lexicon)
        else session.asking
    )
    return turn.book.facts[name] if name is not None else None


def _nothing_understood(turn: Turn, what: str) -> tuple[Session, Reply]:
    """Nothing was learned. With a question open the state stays as it is; without one the coach
    starts asking, for somebody who wants help has said so."""
    said = turn.text["not_understood"].replace("{what}", shortened(what))
    blocks = (Block("heard", said), Block("heard", turn.text["not_understood_help"]))
    if turn.session.asking is not None:
        return turn.session, Reply(blocks, ask=question(turn, turn.session.asking))
    if turn.session.concluded and not followup.is_due(turn.session, turn.book.follow_up, now=turn.now):
        return turn.session, Reply((blocks[0], Block("heard", turn.text["nothing_open"])))
    session, reply = respond(turn, turn.session)
    return session, replace(reply, blocks=(blocks[0], *reply.blocks))


def _learned(turn: Turn, reading: Reading, notes: tuple[Block, ...] = ()) -> tuple[Session, Reply]:
    before, facts, unknown = turn.session, reading.facts, reading.unknown
    at = turn.now.isoformat()
    heard = {n: Heard(value=value, at=at, about=n in reading.about) for n, value in facts.items()}
    answered = before.asking in facts or before.asking in unknown
    session = before.model_copy(
        update={
            "facts": {
                **{n: h for n, h in before.facts.items() if n not in (*reading.retracted, *unknown)},
                **heard,
            },
            "unknown": tuple(n for n in dict.fromkeys((*before.unknown, *unknown)) if n not in facts),
            "asking": None if answered else before.asking,
            "latest": before.asking if answered else (list(facts)[-1] if facts else before.latest),
            "counts": _counted(turn, facts),
        }
    )
    session, without = weighed(session, facts, reading.beyond, turn.book)
    notes = (*notes, *(Block("heard", said) for said in without))
    session, reply = _after_learning(turn, session, facts)
    at_end = notes if reply.verdict is not None else ()
    at_start = () if reply.verdict is not None else notes
    understood = {**facts, **dict.fromkeys(unknown, UNKNOWN)}
    return session, replace(reply, blocks=(*at_start, *reply.blocks, *at_end), understood=understood)


def _counted(turn: Turn, facts: Mapping[str, Scalar]) -> tuple[tuple[str, float], ...]:
    """The counts of ten minutes told so far, with this one if it tells one."""
    told = facts.get(turn.book.follow_up.catch)
    if not isinstance(told, float):
        return turn.session.counts
    return (*turn.session.counts, (turn.now.isoformat(), told))[-_COUNTS_KEPT:]


def _after_learning(turn: Turn, session: Session, facts: Mapping[str, Scalar]) -> tuple[Session, Reply]:
    """Go on with the consultation, or with what "did it help?" brought."""
    follow = turn.book.follow_up
    if follow.ask not in facts:
        return respond(turn, session)
    if not session.named:  # there was no advice that could have helped
        return respond(turn, followup.unasked(session, follow))
    answer = facts[follow.ask]
    session = followup.answered(session, answer, follow, now=turn.now)
    if answer == follow.no:
        session, reply = respond(turn, session)
        at = 0 if reply.verdict is None else len(reply.blocks)
        said = Block("say", turn.text["did_not_help"])
        return session, replace(reply, blocks=(*reply.blocks[:at], said, *reply.blocks[at:]))
    words = turn.text["helped"]
    if answer != follow.yes:
        pause = turn.book.numbers["look_again_min"]
        session, until = followup.wait_until(session, now=turn.now, pause_min=pause)
        words = turn.text["too_early"].replace("{time}", until)
    session, hazards = hear_hazards(session, turn.assess(session))
    warnings = (Block("warn", say) for _, say in hazards)
    return session, Reply((*warnings, Block("say", words)), hazards=hazards)
