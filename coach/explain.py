"""Why: the firings behind a conclusion, as a chain, and a sum that adds up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from coach.diagnosis import Scales, Weighed
from coach.model import Firing, Inference
from coach.wording import Filler


class Chains:
    """Follows conclusions back to the facts they stand on."""

    def __init__(self, inference: Inference, scales: Scales) -> None:
        self._scales = scales
        self._fired: Mapping[str, Firing] = {firing.rule: firing for firing in inference.firings}
        self._concluded_by: dict[str, list[str]] = {}
        for firing in inference.firings:
            for fact in scales.rules[firing.rule].concludes:
                self._concluded_by.setdefault(fact, []).append(firing.rule)

    def behind(self, rule: str) -> list[str]:
        """The rule and all rules whose conclusions it stands on, causes before effects."""
        found: dict[str, None] = {}
        self._collect(rule, found, set())
        return list(found)

    def _collect(self, rule: str, found: dict[str, None], under_way: set[str]) -> None:
        if rule in found or rule in under_way:
            return
        under_way.add(rule)
        for fact, _ in self._fired[rule].because:
            for earlier in self._concluded_by.get(fact, [])[:2]:
                self._collect(earlier, found, under_way)
        found[rule] = None

    def for_cause(self, weighed: Weighed) -> list[str]:
        """The rules that speak for a cause with what is behind them, the strongest voice first."""
        voices = sorted((e for e in weighed.evidence if e.db > 0), key=lambda e: (-e.db, not e.counted))
        found: dict[str, None] = {}
        for voice in voices:
            for rule in self.behind(voice.rule):
                found.setdefault(rule)
        return list(found)


def sentences(rules: Iterable[str], scales: Scales, filler: Filler) -> list[str]:
    """What the rules say, filled in; each sentence once."""
    said: dict[str, None] = {}
    for rule in rules:
        if filled := filler.fill(scales.rules[rule].because):
            said.setdefault(filled)
    return list(said)


def sum_lines(weighed: Weighed, scales: Scales) -> list[str]:
    """The sum behind a probability, line by line: prior, each counted voice, total, in decibans."""
    lines = [f"{weighed.prior_db:+d} dB before anything is known"]
    for evidence in weighed.evidence:
        if evidence.counted:
            rule = scales.rules[evidence.rule]
            lines.append(f"{evidence.db:+d} dB {rule.title} ({rule.source})")
    lines.append(f"{weighed.db:+d} dB in all: {100 * weighed.probability:.0f} in 100")
    return lines
