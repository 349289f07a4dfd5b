"""A turn: what it has at hand, and how it ends: a hazard, the next question, or the verdict."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from coach import followup
from coach.apparatus import Apparatus
from coach.consultation import Assessment, Infer, assess, next_question, safety_question
from coach.conversation import Block, Choice, Question, Reply, Session
from coach.doubting import at_worst, believed_lines, doubted_about, sentence
from coach.model import Rulebook, Scalar
from coach.rulebook.topics import fact_name
from coach.sums.row import row_fact
from coach.verdict import conclude
from coach.wording import unit_in_words


@dataclass(frozen=True, slots=True)
class Turn:
    """What a turn has at hand."""

    session: Session
    tools: Apparatus
    infer: Infer
    now: datetime

    @property
    def book(self) -> Rulebook:
        """The rule base."""
        return self.tools.book

    @property
    def text(self) -> Mapping[str, str]:
        """What is said when no rule speaks."""
        return self.tools.book.texts

    def assess(self, session: Session | None = None) -> Assessment:
        """What the chat's facts come to, or those of the session given."""
        session = session or self.session
        given = {name: heard.value for name, heard in session.facts.items()}
        given |= _told_along(given, self.book)
        given |= followup.tried_facts(session)
        given |= {fact_name(topic): True for topic in session.spoken_of}
        given |= row_fact(session.counts)
        about = tuple(name for name, heard in session.facts.items() if heard.about)
        found = assess(given, self.tools, infer=self.infer, now=self.now, metric=session.metric)
        return replace(found, about=about)


def _told_along(given: Mapping[str, Scalar], book: Rulebook) -> Mapping[str, Scalar]:
    """What nobody said in so many words, but what was said is only told where it is so."""
    along = (fact for fact in book.facts.values() if fact.told_by and fact.name not in given)
    return {fact.name: True for fact in along if any(name in given for name in fact.told_by)}


def respond(turn: Turn, session: Session) -> tuple[Session, Reply]:
    """Hazards first, then the next question, or the verdict."""
    found = turn.assess(session)
    worst = at_worst(session, turn.book)
    session, hazards = hear_hazards(session, found if worst is session else turn.assess(worst))
    warnings = tuple(Block("warn", say) for _, say in hazards)
    if any(hazard in turn.book.emergencies for hazard, _ in found.hazards):
        told = warnings or (Block("say", turn.text["emergency_goes_on"]),)
        return session.model_copy(update={"asking": None}), Reply(told, hazards=hazards)
    due = followup.is_due(session, turn.book.follow_up, now=turn.now)
    ask = _to_ask(turn, session, found, due=due)
    if ask is not None:
        asked = tuple(dict.fromkeys((*_asked(session, ask), ask)))
        session = session.model_copy(update={"asking": ask, "asked": asked, "concluded": due})
        before = (*warnings, *_doubts(turn, session, ask), *_before(turn, session, ask))
        return session, Reply(before, hazards=hazards, ask=question(turn, ask))
    verdict = conclude(found, turn.tools, infer=turn.infer)
    session = followup.advised(
        session, found.named, verdict.look_again_min, follow=turn.book.follow_up, now=turn.now
    )
    soft = (Block("say", line) for line in believed_lines(session, turn.book))
    return session, Reply((*warnings, *verdict.blocks, *soft), hazards=hazards, verdict=verdict.record)


def _to_ask(turn: Turn, session: Session, found: Assessment, *, due: bool) -> str | None:
    """Safety first, then a number that is in doubt, then what is open, then what tells most."""
    is_open = session.asking if _still_useful(session, found, turn.book) else None
    if session.doubted:
        book, closed = turn.book, {*session.asked, *session.unknown}
        if is_open in (book.safety_check, *book.safety_singles):
            return is_open
        return safety_question(session, found, book, closed) or session.doubted[0].fact
    if is_open is not None:
        return is_open
    return turn.book.follow_up.ask if due else next_question(session, found, turn.tools)


def _asked(session: Session, ask: str) -> tuple[str, ...]:
    """What was asked, without a question that a doubt goes before: it may be put again."""
    left = session.asking if session.asking != ask and doubted_about(session, ask) else None
    is_answered = left in session.facts or left in session.unknown
    return tuple(name for name in session.asked if name != left or is_answered)


def _doubts(turn: Turn, session: Session, ask: str) -> Iterator[Block]:
    """A doubt goes with its question; where another goes first it is said at once as well."""
    doubted = doubted_about(session, ask)
    new = [one for one in session.doubted if one not in turn.session.doubted]
    if doubted is not None:
        yield Block("heard", sentence(doubted, session, turn.book))
    elif new:
        yield Block("heard", sentence(new[0], session, turn.book, is_asked=False))


def _before(turn: Turn, session: Session, ask: str) -> tuple[Block, ...]:
    """After a bare "no" to the safety check one word saves going through all of it."""
    check = turn.book.safety_check
    is_first = session.latest == check and ask in turn.book.safety_singles
    said_no = check in session.facts and session.facts[check].value is False
    return (Block("say", turn.text["which_hazard"]),) if is_first and said_no else ()


def hear_hazards(session: Session, found: Assessment) -> tuple[Session, tuple[tuple[str, str], ...]]:
    """The hazards in force that are new, and the session that knows them as told."""
    new = tuple((hazard, say) for hazard, say in found.hazards if hazard not in session.hazards_told)
    return session.model_copy(update={"hazards_told": tuple(h for h, _ in found.hazards)}), new


def _still_useful(session: Session, found: Assessment, book: Rulebook) -> bool:
    """A question stays open when a message told other things than its answer; but going through the
    hazards is over once one was named."""
    if session.asking is None or session.asking in found.given:
        return False
    return not (found.hazards and session.asking in book.safety_singles)


def question(turn: Turn, name: str, *, metric: bool | None = None) -> Question:
    """The question about a fact, in the person's units."""
    fact = turn.book.facts[name]
    metric = turn.session.metric if metric is None else metric
    options = tuple(Choice(option.id, option.label) for option in fact.options)
    if fact.type == "bool":
        options = (Choice(True, "Yes"), Choice(False, "No"))
    text = fact.ask.replace("{unit}", unit_in_words(fact.unit, metric=metric))
    return Question(name, text, fact.why, fact.type, fact.unit, options)


def refused(turn: Turn, code: str, say: str) -> tuple[Session, Reply]:
    """An answer to what cannot be taken: the state stays, the question stays open."""
    ask = question(turn, turn.session.asking) if turn.session.asking is not None else None
    return turn.session, Reply(error=(code, say), ask=ask)
