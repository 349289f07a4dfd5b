"""The verdict: causes named, what to do about each, the numbers, the reasons, in order.

What to do comes from rules: the named causes go back into the engine, and fix and set-up rules fire.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from coach.advice import Advice, advise
from coach.apparatus import Apparatus
from coach.consultation import LOOKS_RIGHT, WELL, Assessment, Infer
from coach.conversation import Block
from coach.diagnosis import WRONG, Weighed
from coach.doubts import doubt_line
from coach.explain import Chains, sentences
from coach.model import Firing, Rule, Rulebook
from coach.wording import SLOT, Filler

_SAID_REASONS = 4


@dataclass(frozen=True, slots=True)
class Verdict:
    """A conclusion for programs (`record`) and for people (`blocks`)."""

    record: Mapping[str, Any]
    blocks: tuple[Block, ...]
    look_again_min: float | None


def conclude(found: Assessment, tools: Apparatus, *, infer: Infer) -> Verdict:
    """Name the causes, and let the rules say what to do about them."""
    book = tools.book
    with_names = {**found.known, **{f"named.{cause}": True for cause in found.named}}
    inference = infer(with_names) if found.named else found.inference
    fixes = _fixes(inference.firings, tools)
    notes = _noting(inference.firings, book)
    advised_set = _advised_set(inference.firings, book)
    advice = advise(
        found.known,
        tools.figures.rig,
        clip=_clip(found.named, fixes),
        raise_step_ft=book.numbers["raise_step_ft"],
        now=found.now,
        metric=found.metric,
        wanted={slot for rule in notes for slot in SLOT.findall(rule.note)},
    )
    filler = Filler(book, found.inference.facts, advice.phrases, metric=found.metric)
    chains = Chains(found.inference, tools.scales)
    causes = [
        _cause(found.weighed[cause], fixes.get(cause, ()), tools, filler, chains) for cause in found.named
    ]
    record = {
        "causes": [cause.record for cause in causes],
        "numbers": dict(advice.numbers) if found.inference.firings else {},
        "set": advised_set,
    }
    looks = [cause.look_again_min for cause in causes if cause.look_again_min]
    look = min(looks, default=None)
    more = [Block("say", line) for line in (*_noted(notes, filler, book), *_doubted(found, tools, infer))]
    if not causes:
        return Verdict(record, (*_nothing_named(found, tools), *more), look)
    return Verdict(record, (*_blocks(causes, tools, advice), *more, *_look_again(look, tools)), look)


def _noting(firings: Iterable[Firing], book: Rulebook) -> tuple[Rule, ...]:
    """The rules that fired with a remark, in the order of the rule base."""
    fired = {firing.rule for firing in firings}
    return tuple(rule for rule in book.rules if rule.note and rule.id in fired)


def _noted(notes: Iterable[Rule], filler: Filler, book: Rulebook) -> list[str]:
    """The remarks that can be filled, each once, no more than are read."""
    said = dict.fromkeys(filler.all(tuple(rule.note for rule in notes)))
    return list(said)[: int(book.numbers["most_notes"])]


def _doubted(found: Assessment, tools: Apparatus, infer: Infer) -> Iterable[str]:
    line = doubt_line(found, tools, infer=infer)
    return () if line is None else (line,)


@dataclass(frozen=True, slots=True)
class _Cause:
    record: Mapping[str, Any]
    action: str
    sure: str
    reasons: tuple[str, ...]
    fix: tuple[str, ...]
    look_again_min: float | None


def _fixes(firings: Iterable[Firing], tools: Apparatus) -> dict[str, tuple[Rule, ...]]:
    fixes: dict[str, tuple[Rule, ...]] = {}
    for firing in firings:
        rule = tools.scales.rules[firing.rule]
        if rule.fix_for is not None:
            fixes[rule.fix_for] = (*fixes.get(rule.fix_for, ()), rule)
    return fixes


def _clip(named_causes: tuple[str, ...], fixes: Mapping[str, tuple[Rule, ...]]) -> str:
    """How clip heights are advised: as the likeliest cause's fix says that says anything special."""
    wanted = [rule.clip for cause in named_causes for rule in fixes.get(cause, ())]
    return next((clip for clip in wanted if clip != "sum"), "sum")


def _advised_set(firings: Iterable[Firing], book: Rulebook) -> str | None:
    """The set-up of the rule that stands first in the rule base among those that fired."""
    fired = {firing.rule for firing in firings}
    return next((rule.advises_set for rule in book.rules if rule.advises_set and rule.id in fired), None)


def _cause(
    weighed: Weighed, fixes: tuple[Rule, ...], tools: Apparatus, filler: Filler, chains: Chains
) -> _Cause:
    book = tools.book
    rules = chains.for_cause(weighed)
    because = sentences(rules, tools.scales, filler)
    voices = sorted((e for e in weighed.evidence if e.counted and e.db > 0), key=lambda e: -e.db)
    counted = [e.rule for e in voices]
    actions = tuple(action for rule in fixes for action in rule.action)
    fix = tuple(line for rule in fixes for line in filler.all(rule.fix))
    action = filler.first(actions) or ""
    look = next((rule.look_again_min for rule in fixes if rule.look_again_min), None)
    record = {
        "id": weighed.cause,
        "probability": round(weighed.probability, 4),
        "because": because,
        "rules": rules,
        "fix": [line for line in (action, *fix) if line],
        "look_again_min": look,
    }
    sure = next(says for least, says in book.sureness if weighed.probability >= least)
    said = sentences((*_with_figures(counted, tools, chains), *counted), tools.scales, filler)[:_SAID_REASONS]
    sentence = f"{sure}: {book.causes[weighed.cause].says}."
    return _Cause(record, action, sentence, tuple(said), fix, look)


def _with_figures(counted: list[str], tools: Apparatus, chains: Chains) -> list[str]:
    """The links behind the strongest voice that say a figure: what a person wants to hear first."""
    links = chains.behind(counted[0]) if counted else []
    return [rule for rule in links if "{" in tools.scales.rules[rule].because]


def _blocks(causes: list[_Cause], tools: Apparatus, advice: Advice) -> Iterable[Block]:
    text = tools.book.texts
    first = causes[0]
    yield Block("action", first.action)
    yield Block("say", first.sure)
    yield from (Block("reason", reason) for reason in first.reasons)
    yield from (Block("say", line) for line in first.fix)
    if any(slot in line for line in (first.action, *first.fix) for slot in ("clip",)):
        yield from (Block("say", note) for note in _stood_in(advice, tools.book))
    for other in causes[1:]:
        yield Block("say", text["also"].replace("{action}", other.action))
        yield Block("say", other.sure)
        yield from (Block("reason", reason) for reason in other.reasons[:1])


def _look_again(look: float | None, tools: Apparatus) -> Iterable[Block]:
    if look is not None:
        yield Block("say", tools.book.texts["look_again"].replace("{minutes}", f"{look:g}"))


def _nothing_named(found: Assessment, tools: Apparatus) -> Iterable[Block]:
    text = tools.book.texts
    facts = found.inference.facts
    if WRONG in facts or not {WELL, LOOKS_RIGHT} & facts.keys():
        yield Block("action", text["cannot_tell"])
        yield Block("say", text["cannot_tell_more"])
        return
    yield Block("action", text["healthy"])
    look = f"{tools.book.numbers['look_again_min']:g}"
    yield Block("say", text["healthy_more"].replace("{look}", look))


def _stood_in(advice: Advice, book: Rulebook) -> Iterable[str]:
    """What was taken for the depth under a lamp that was not sounded."""
    if not advice.stood_in:
        return
    words = book.texts["both_lamps"] if len(advice.stood_in) > 1 else book.texts[f"{advice.stood_in[0]}_lamp"]
    yield book.texts["stood_in"].replace("{lamps}", words).replace("{depth}", advice.phrases["depth"])
