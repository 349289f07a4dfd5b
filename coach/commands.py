"""The commands that work at every moment: why, undo, summary, new, forget, clear the water, units."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from coach.clearing import clearing_steps
from coach.consultation import Assessment
from coach.conversation import Block, Heard, Message, Reply, Session
from coach.doubting import doubted_about, sentence
from coach.explain import Chains, sentences, sum_lines, workings
from coach.model import Fact, Scalar
from coach.turn import Turn, question, refused
from coach.undo import take_back
from coach.verdict import conclude
from coach.wording import Filler, in_words

_SUSPECTS = 2
_SUSPECT_FROM = 0.15


def _why(turn: Turn) -> tuple[Session, Reply]:
    found = turn.assess()
    blocks = _why_asked(turn, found) if turn.session.asking is not None else _why_concluded(turn, found)
    ask = question(turn, turn.session.asking) if turn.session.asking is not None else None
    return turn.session, Reply(tuple(blocks), ask=ask)


def _why_asked(turn: Turn, found: Assessment) -> list[Block]:
    fact = turn.book.facts[str(turn.session.asking)]
    ranked = sorted(found.weighed.values(), key=lambda w: -w.db)
    suspects = [w for w in ranked if w.probability >= _SUSPECT_FROM][:_SUSPECTS]
    names = "; ".join(turn.book.causes[w.cause].says for w in suspects)
    thinks = turn.text["suspects"].replace("{causes}", names) if names else turn.text["suspects_none"]
    doubted = doubted_about(turn.session, fact.name)
    doubt = [Block("say", sentence(doubted, turn.session, turn.book))] if doubted is not None else []
    return [
        *doubt,
        Block("say", turn.text["asking_because"].replace("{why}", fact.why)),
        Block("say", thinks),
    ]


def _why_concluded(turn: Turn, found: Assessment) -> list[Block]:
    if not turn.session.concluded:
        return [Block("say", turn.text["no_verdict_yet"])]
    scales = turn.tools.scales
    filler = Filler(turn.book, found.inference.facts, metric=found.metric)
    chains = Chains(found.inference, scales)
    blocks = []
    for cause in found.named:
        weighed = found.weighed[cause]
        reasons = sentences(chains.for_cause(weighed), scales, filler)
        blocks.append(Block("steps", f"{turn.book.causes[cause].says}:".capitalize(), tuple(reasons)))
        blocks += _workings(turn, found, chains.for_cause(weighed))
        blocks += [Block("say", line) for line in sum_lines(weighed, scales)]
    if not blocks:
        reasons = sentences((f.rule for f in found.inference.firings), scales, filler)
        blocks.append(Block("steps", turn.text["summary_head"], tuple(reasons)))
    return blocks


def _workings(turn: Turn, found: Assessment, rules: list[str]) -> list[Block]:
    """The sums behind these rules, with the numbers put in."""
    filler = Filler(turn.book, found.inference.facts, metric=found.metric, finer=True)
    lines = workings(rules, found.inference, turn.tools.figures, turn.book.facts, filler)
    return [Block("list", turn.text["working_head"], tuple(lines))] if lines else []


def _summary(turn: Turn) -> tuple[Session, Reply]:
    session = turn.session
    items = [
        _summed_up(turn.book.facts[name], heard.value, metric=session.metric)
        for name, heard in session.facts.items()
    ]
    head = turn.text["summary_head"] if items else turn.text["summary_empty"]
    blocks = [Block("list", head, tuple(items))]
    if session.concluded:
        blocks += conclude(turn.assess(), turn.tools, infer=turn.infer).blocks
    ask = question(turn, session.asking) if session.asking is not None else None
    return session, Reply(tuple(blocks), ask=ask)


def _summed_up(fact: Fact, value: Scalar, *, metric: bool) -> str:
    """A fact as a person knows it again: "the other boats: yes" says nothing without its question."""
    said = in_words(value, fact, metric=metric)
    if fact.type == "bool" or (fact.type == "choice" and {"yes", "no"} & {one.id for one in fact.options}):
        return f"{fact.ask} {said.capitalize()}"
    return f"{fact.says}: {said}"


def _undo(turn: Turn) -> tuple[Session, Reply]:
    earlier = take_back(turn.session)
    if earlier is None:
        ask = question(turn, turn.session.asking) if turn.session.asking is not None else None
        return turn.session, Reply((Block("say", turn.text["nothing_to_undo"]),), ask=ask)
    undone = Block("say", turn.text["undone"])
    if earlier.asking is not None:
        return earlier, Reply((undone,), ask=question(turn, earlier.asking, metric=earlier.metric))
    if not earlier.concluded:
        return earlier, Reply((undone, Block("say", turn.text["nothing_open"])))
    verdict = conclude(turn.assess(earlier), turn.tools, infer=turn.infer)
    return earlier, Reply((*verdict.blocks, undone), verdict=verdict.record)


def _new(turn: Turn) -> tuple[Session, Reply]:
    """A fresh consultation; what was said about safety on this trip still holds."""
    heard = turn.session.facts
    safety = (turn.book.safety_check, *turn.book.safety_singles)
    kept = {name: heard[name] for name in safety if name in heard and _is_of_this_trip(heard[name], turn)}
    return Session(metric=turn.session.metric, facts=kept), Reply((Block("say", turn.text["fresh"]),))


def _is_of_this_trip(heard: Heard, turn: Turn) -> bool:
    return turn.now - datetime.fromisoformat(heard.at) < timedelta(hours=turn.book.asking["same_trip_h"])


def _forget(turn: Turn) -> tuple[Session, Reply]:
    return Session(), Reply((Block("say", turn.text["forgotten"]),), forget=True)


def _clear(turn: Turn) -> tuple[Session, Reply]:
    """The ordered list with minutes, at any moment; nothing else changes."""
    given = {name: heard.value for name, heard in turn.session.facts.items()}
    head, items, total = clearing_steps(turn.book, given)
    blocks = (Block("steps", head, tuple(items)), Block("say", total))
    ask = question(turn, turn.session.asking) if turn.session.asking is not None else None
    return turn.session, Reply(blocks, ask=ask)


def _metric(turn: Turn) -> tuple[Session, Reply]:
    return _speak(turn, metric=True)


def _us_units(turn: Turn) -> tuple[Session, Reply]:
    return _speak(turn, metric=False)


def _speak(turn: Turn, *, metric: bool) -> tuple[Session, Reply]:
    session = turn.session.model_copy(update={"metric": metric})
    asking = session.asking
    ask = question(turn, asking, metric=metric) if asking is not None else None
    return session, Reply((Block("say", turn.text["metric" if metric else "us_units"]),), ask=ask)


def unknown_command(turn: Turn) -> tuple[Session, Reply]:
    """Say which commands there are."""
    return refused(turn, "bad-command", f"Known commands: {', '.join(COMMANDS)}.")


COMMANDS: Mapping[str, Callable[[Turn], tuple[Session, Reply]]] = {
    "new": _new,
    "why": _why,
    "undo": _undo,
    "summary": _summary,
    "forget": _forget,
    "clear": _clear,
    "metric": _metric,
    "us units": _us_units,
}

SPOKEN: Mapping[str, tuple[str, ...]] = {
    "why": (
        "why", "why do you ask", "how come", "what do you mean", "i don't know what you mean", "huh",
        "i dont know what you mean", "i don't understand", "i dont understand", "i do not understand",
    ),
    "undo": ("undo", "back", "take that back", "go back"),
    "summary": ("summary", "sum up"),
    "new": ("new", "start over", "start again"),
    "metric": ("metric", "metres", "meters"),
    "us units": ("us units", "feet", "feet please"),
    "clear": ("clear the water", "clear water", "clear the water now", "ship coming clear the water"),
}


def spoken_command(text: str) -> str | None:
    """The command that a text is, in the words people use for it; None if it is something else."""
    spoken = " ".join(text.casefold().strip(" .!?").split())
    return next((command for command, ways in SPOKEN.items() if spoken in ways), None)


def is_undo(message: Message) -> bool:
    """Whether the message takes back the one before it."""
    return message.command == "undo" or (message.text is not None and spoken_command(message.text) == "undo")
