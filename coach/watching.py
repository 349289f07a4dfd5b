"""Watching the counts of a night: what the tests allow to be said, and when.

People count by the piece, the net, the bucket or the weight. A net or a bucket holds many animals,
so whole ones come more evenly than single animals do: a test made for single ones then cries wolf
less often than it promises, never more often. Nothing here reads a clock.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from coach.counting import NIGHT_OVER_H, Entry
from coach.figures.binomial import two_sided_p
from coach.figures.looks import deep_lamp_decision, drop_watch, level_for_look
from coach.figures.rig import Rig
from coach.model import Scalar

_PARTS = 4
"""The share of false alarms is parted evenly: share, drop, silence, deep lamp."""


@dataclass(frozen=True, slots=True)
class Watch:
    """Where the watching stands: when this stretch began, windows seen in it, looks of the night, told."""

    since: float
    seen: int = 0
    looks: int = 0
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """What a test allows to be said: "share", "drop" or "keep" (the deep lamp), with its figures.

    `side` has the larger share; `share` is that share, 0 to 1; rates are per 10 minutes.
    """

    kind: str
    side: str = ""
    share: float = 0.0
    before_per_10min: float = 0.0
    now_per_10min: float = 0.0
    bow: int = 0
    stern: int = 0


def watch_after(watch: Watch | None, at: float, last_at: float | None) -> Watch:
    """The watch when a count comes at `at`, the latest before it at `last_at`: a night is opened by
    its first count, which itself is part of no test (it came by being there)."""
    if watch is None or last_at is None or at - last_at > NIGHT_OVER_H * 3600:
        return Watch(at)
    return watch


def begun_again(watch: Watch, at: float) -> Watch:
    """The watch after the set was changed: a new stretch; the looks of the night go on counting, so
    that the promise of few false alarms holds for the night as a whole."""
    return Watch(at, looks=watch.looks)


@dataclass(frozen=True, slots=True)
class Window:
    """Counts between two entries at least the window's minutes apart, in whole units."""

    bow: int
    stern: int
    crew: int
    minutes: float


def windows(entries: Sequence[Entry], since: float, window_min: float) -> list[Window]:
    """The stretch cut at entries: each window ends with the first entry `window_min` [min] after its
    start, and is as long as it was. So it does not matter how often people write down; what is written
    down at once stays together."""
    found: list[Window] = []
    start, bow, stern, crew = since, 0.0, 0.0, 0.0
    crews = (entry for entry in entries if entry.at > since and entry.side != "deep")
    for at, together in groupby(crews, key=lambda entry: entry.at):
        for entry in together:
            bow += entry.amount * (entry.side == "bow")
            stern += entry.amount * (entry.side == "stern")
            crew += entry.amount
        if (at - start) / 60 >= window_min:
            found.append(Window(int(bow), int(stern), int(crew), (at - start) / 60))
            start, bow, stern, crew = at, 0.0, 0.0, 0.0
    return found


def look(
    watch: Watch, entries: Sequence[Entry], rig: Rig, *, window_min: float, deep_since: float | None = None
) -> tuple[Watch, tuple[Finding, ...]]:
    """Look at the counts after an entry: the watch from now on, and what may be said.

    A look is due when a window has closed. The n-th look of a night gets share/(n·(n + 1)) of the
    false alarms it may make (Boole's inequality), so a night that never changes raises one with a
    chance of `false_alarm_share` at most, over all that is watched. Counts of unlike units are not
    compared.
    """
    findings = [*_deep(watch, entries, rig, deep_since)]
    may_have_closed = bool(entries) and entries[-1].at - watch.since >= 60 * window_min * (watch.seen + 1)
    row = windows(entries, watch.since, window_min) if may_have_closed else []
    if len(row) > watch.seen and _is_one_unit(entries, watch.since):
        watch = replace(watch, seen=len(row), looks=min(watch.looks + 1, 1000))
        level = level_for_look(watch.looks, false_alarm_share=rig.false_alarm_share / _PARTS)
        findings += [*_share(row, level), *_drop(row, level, rig)]
    new = tuple(finding for finding in findings if finding.kind not in watch.told)
    return replace(watch, told=(*watch.told, *(finding.kind for finding in new))), new


def silent_from(watch: Watch, entries: Sequence[Entry], rig: Rig) -> float | None:
    """When a pause without any entry becomes longer than luck allows [s since 1970]; None: too early to
    tell, or told already.

    What is written down at once counts as one entry. For n entries in a time T that come by chance,
    the next is later than s with the chance
    (T/(T + s))^n. Source: gaps of a steady rate are exponential, so their ratio follows Fisher's F
    with 2 and 2n degrees of freedom (MEMORY).
    """
    times = sorted({entry.at for entry in entries if entry.at > watch.since and entry.side != "deep"})
    n = len(times)
    if n < 3 or "silence" in watch.told:
        return None
    level = rig.false_alarm_share / _PARTS / (n * (n + 1))
    return times[-1] + (times[-1] - watch.since) * (math.exp(-math.log(level) / n) - 1)


def _is_one_unit(entries: Sequence[Entry], since: float) -> bool:
    return len({entry.unit for entry in entries if entry.at > since and entry.side != "deep"}) == 1


def _share(row: Sequence[Window], level: float) -> Iterable[Finding]:
    bow, stern = sum(window.bow for window in row), sum(window.stern for window in row)
    if bow + stern and bow != stern and two_sided_p(bow, bow + stern, 0.5) <= level:
        side = "bow" if bow > stern else "stern"
        yield Finding("share", side, max(bow, stern) / (bow + stern), bow=bow, stern=stern)


def _drop(row: Sequence[Window], level: float, rig: Rig) -> Iterable[Finding]:
    if len(row) < 2:
        return
    counts, minutes = [window.crew for window in row], [window.minutes for window in row]
    found = drop_watch(counts, minutes, false_alarm_share=rig.false_alarm_share)
    if found.p_value <= level and found.ratio is not None and found.ratio < 1:
        k = found.window
        before = 10 * sum(counts[:-k]) / sum(minutes[:-k])
        now = 10 * sum(counts[-k:]) / sum(minutes[-k:])
        yield Finding("drop", before_per_10min=before, now_per_10min=now)


def _deep(watch: Watch, entries: Sequence[Entry], rig: Rig, deep_since: float | None) -> Iterable[Finding]:
    if deep_since is None or "keep" in watch.told:
        return
    jumps = [entry for entry in entries if entry.side == "deep" and entry.at > deep_since]
    if not jumps:
        return
    strict = replace(rig, deep_false_keep_share=rig.false_alarm_share / _PARTS)
    minutes = min(1440.0, (jumps[-1].at - deep_since) / 60)
    if deep_lamp_decision(minutes, int(sum(jump.amount for jump in jumps)), strict) == "keep":
        yield Finding("keep")


# --- what the core is told -----------------------------------------------------------------------


def facts_of(finding: Finding) -> dict[str, Scalar]:
    """A finding as facts for the consultation."""
    if finding.kind == "share":
        counted: dict[str, Scalar] = {
            "crew.bow_count": float(finding.bow),
            "crew.stern_count": float(finding.stern),
        }
        return {**counted, "crew.one_sided": finding.side}
    if finding.kind == "drop":
        rates = {
            "catch.before_per_10min": float(round(finding.before_per_10min)),
            "catch.now_per_10min": float(round(finding.now_per_10min)),
        }
        return {"catch.course": "faded", **rates}
    return {"catch.course": "stopped"} if finding.kind == "silence" else {}
