"""What doubtful facts change about a verdict, and which measurement would settle it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from coach.apparatus import Apparatus
from coach.consultation import Assessment, Infer, assess
from coach.model import Scalar
from coach.sums.doubts import Doubtful, doubtful
from coach.wording import Filler, quantity


def doubt_line(found: Assessment, tools: Apparatus, *, infer: Infer) -> str | None:
    """The gravest doubt in a sentence: another cause at one end of a range, else other clip heights.

    None where everything that is only about right comes to the same.
    """
    each = list(doubtful(found.given, found.about, tools.figures.rig))
    for doubt in each:
        if line := _other_verdict(doubt, found, tools, infer):
            return line
    return next((line for doubt in each if (line := _other_clip(doubt, found, tools))), None)


def _other_verdict(doubt: Doubtful, found: Assessment, tools: Apparatus, infer: Infer) -> str | None:
    text = tools.book.texts
    for value, changes in ((doubt.low, doubt.lowest), (doubt.high, doubt.highest)):
        other = _assessed(found, changes, tools, infer)
        if other.named[:1] == found.named[:1]:
            continue
        says = "doubt_cause" if other.named else "doubt_none"
        cause = tools.book.causes[other.named[0]].says if other.named else ""
        told = _told(value, changes, found, tools)
        return _settled(text[says].replace("{value}", told).replace("{cause}", cause), doubt, tools)
    return None


def _assessed(found: Assessment, changes: Mapping[str, Scalar], tools: Apparatus, infer: Infer) -> Assessment:
    return assess({**found.given, **changes}, tools, infer=infer, now=found.now, metric=found.metric)


def _told(value: float, changes: Mapping[str, Scalar], found: Assessment, tools: Apparatus) -> str:
    """The value at that end, in words: "the depth under the left lamp is 9.9 ft"."""
    (name,) = changes
    filler = Filler(tools.book, {name: value}, metric=found.metric)
    return f"{tools.book.facts[name].says} is {filler.fill('{' + name + '}')}"


def _other_clip(doubt: Doubtful, found: Assessment, tools: Apparatus) -> str | None:
    if doubt.clip is None or doubt.clip.low is None or doubt.clip.high is None:
        return None
    figures: Iterable[tuple[str, float]] = (
        ("low", doubt.low),
        ("high", doubt.high),
        ("clip_low", doubt.clip.low),
        ("clip_high", doubt.clip.high),
    )
    said = tools.book.texts["doubt_clip"]
    for slot, feet in figures:
        said = said.replace("{" + slot + "}", quantity(feet, "ft", metric=found.metric))
    return _settled(said, doubt, tools)


def _settled(said: str, doubt: Doubtful, tools: Apparatus) -> str:
    return said.replace("{settle}", tools.book.facts[doubt.fact].settle).strip()
