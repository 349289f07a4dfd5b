"""Why: the firings behind a conclusion, as a chain, and a sum that adds up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from coach.diagnosis import Scales, Weighed
from coach.model import Fact, Firing, Inference
from coach.wording import SLOT, Filler
from coach.worked_out import STOOD_IN, Figures


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


def workings(
    rules: Iterable[str], inference: Inference, figures: Figures, facts: Mapping[str, Fact], filler: Filler
) -> list[str]:
    """How the figures behind these rules are worked out, with the numbers put in; inputs first."""
    ids = set(rules)
    stood_on = {name for firing in inference.firings if firing.rule in ids for name, _ in firing.because}
    while more := {slot for name in figures.behind(stood_on) for slot in SLOT.findall(facts[name].working)}:
        if more <= stood_on:
            break
        stood_on |= more
    stood_in = str(inference.facts.get(STOOD_IN, "")).split()
    shown = (name for name in figures.behind(stood_on) if facts[name].origin != "asked" or name in stood_in)
    formulas = (facts[name].working for name in shown)
    said = (filler.fill(formula) for formula in formulas if formula)
    return list(dict.fromkeys(line for line in said if line is not None))


def sum_lines(weighed: Weighed, scales: Scales) -> list[str]:
    """The sum behind a probability, line by line: prior, each counted voice, total, in decibans."""
    lines = [f"{weighed.prior_db:+d} dB before anything is known"]
    for evidence in weighed.evidence:
        if evidence.counted:
            rule = scales.rules[evidence.rule]
            lines.append(f"{evidence.db:+d} dB {rule.title} ({rule.source})")
    lines.append(f"{weighed.db:+d} dB in all: {100 * weighed.probability:.0f} in 100")
    return lines
