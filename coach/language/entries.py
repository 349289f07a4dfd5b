"""The entries of the word files: what each phrase says, checked against the declared facts."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from coach.language.lexicon import Meaning, Take, Together
from coach.model import Fact, Scalar

_SLOT_TEXT = re.compile(
    r"(?P<since>since )?(?P<minus>-)?\{(?P<slot>[a-z_0-9]+(?: [a-z]+)?)\}"
    r"(?: (?P<sign>[-+]) \{(?P<more>[a-z_0-9]+(?: [a-z]+)?)\})?"
)
_UNIT_KINDS = {
    "ft": {"length"}, "kn": {"speed"}, "F": {"temp", "degrees"}, "V": {"volts"}, "min": {"minutes", "time"},
    "count": {"count", "number", "per"}, None: {"number", "count", "per"},
}  # fmt: skip
MEANING_KEYS = frozenset({
    "facts", "hint", "say", "bare", "asked", "alone", "clause", "when", "denied", "past", "beats",
    "unless", "within", "even_asked", "beside", "nothing", "of_one",
})  # fmt: skip
TOGETHER_KEYS = frozenset({"hints", "without", "facts"})

Report = Callable[[str, str, str, str], None]
"""Takes note of a fault: file, phrase or key, what is wrong, what to do."""


class Entries:
    """Turns tables of a word file into meanings, reporting what does not fit the declared facts."""

    def __init__(self, facts: Mapping[str, Fact], report: Report) -> None:
        self._facts = facts
        self._report = report
        self._allowed = {
            name: frozenset(option.id for option in fact.options) for name, fact in facts.items()
        }

    def meaning(self, file: str, table: Mapping[str, Any]) -> Meaning:
        """One [[means]] table, without its phrases."""
        where = str(table.get("facts") or table.get("hint") or "means")
        for key in sorted(set(table) - MEANING_KEYS):
            self._report(file, where, f"unknown key '{key}'", f"use {', '.join(sorted(MEANING_KEYS))}")
        hint = table.get("hint", "")
        if not isinstance(hint, str):
            self._report(file, where, "hint is not a word", 'write hint = "name"')
            hint = ""
        if not (table.get("facts") or hint or table.get("nothing")):
            self._report(
                file, where, "says neither facts nor hint", "add facts, or nothing = true for a false friend"
            )
        return Meaning(
            facts=self.takes(file, table.get("facts", {})),
            denied=self.takes(file, table.get("denied", {})),
            hint=hint,
            may_be_past=table.get("past") is True,
            beats=table.get("beats") is True,
            unless=frozenset(self.names(file, table, key="unless")),
            within=self._within(file, table),
            even_asked=table.get("even_asked") is True,
            is_beside=table.get("beside") is True,
            of_one=table.get("of_one") is True,
            file=file,
        )

    def together(self, file: str, table: Mapping[str, Any], *, hints: Iterable[str]) -> Together:
        """One [[together]] table; its hints must be given by some entry."""
        for key in sorted(set(table) - TOGETHER_KEYS):
            self._report(file, "together", f"unknown key '{key}'", f"use {', '.join(sorted(TOGETHER_KEYS))}")
        named = [*self._strings(file, table, key="hints"), *self._strings(file, table, key="without")]
        for hint in sorted(set(named) - set(hints)):
            self._report(
                file, hint, "no entry gives this hint", "correct its name or add a [[means]] with it"
            )
        return Together(
            frozenset(self._strings(file, table, key="hints")),
            frozenset(self._strings(file, table, key="without")),
            self.takes(file, table.get("facts", {})),
            file,
        )

    def _within(self, file: str, table: Mapping[str, Any]) -> tuple[float, float] | None:
        value = table.get("within")
        if value is None:
            return None
        is_pair = isinstance(value, list) and len(value) == 2
        if is_pair and all(isinstance(end, int | float) and not isinstance(end, bool) for end in value):
            return float(value[0]), float(value[1])
        self._report(file, "within", "is no pair of numbers", "write within = [low, high]")
        return None

    def names(self, file: str, table: Mapping[str, Any], *, key: str) -> list[str]:
        """A list of declared facts."""
        named = self._strings(file, table, key=key)
        for name in named:
            if name not in self._facts:
                self._report(
                    file, name, "is not a declared fact", "correct the name or declare it in facts.toml"
                )
        return named

    def _strings(self, file: str, table: Mapping[str, Any], *, key: str) -> list[str]:
        value = table.get(key, [])
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return value
        self._report(file, key, "is not a list of words in quotes", f'write {key} = ["...", "..."]')
        return []

    def takes(self, file: str, table: object) -> tuple[tuple[str, Take], ...]:
        """A table of facts and values."""
        if not isinstance(table, Mapping):
            self._report(file, str(table), "is not a table of facts", 'write { "fact" = value }')
            return ()
        found = []
        for name, value in table.items():
            take = self._take(file, name, value=value)
            if take is not None:
                found.append((name, take))
        return tuple(found)

    def _take(self, file: str, name: str, *, value: object) -> Take | None:
        fact = self._facts.get(name)
        if fact is None:
            self._report(file, name, "is not a declared fact", "correct the name or declare it in facts.toml")
            return None
        slot = _SLOT_TEXT.fullmatch(value) if isinstance(value, str) else None
        if slot is not None:
            return self._slot_take(file, fact, slot=slot)
        wrong = self._wrong_value(fact, value)
        if wrong:
            self._report(file, name, f"{value!r} is not allowed", wrong)
            return None
        return Take(_scalar(value))

    def _slot_take(self, file: str, fact: Fact, *, slot: re.Match[str]) -> Take | None:
        kind = slot["slot"].split(" ", maxsplit=1)[0]
        wanted = {"time"} if fact.type == "time" else _UNIT_KINDS.get(fact.unit, set())
        if fact.type not in ("number", "time") or kind.split("_")[0] not in wanted:
            kinds = ", ".join(sorted(wanted)) or "a fixed value"
            self._report(file, fact.name, f"a {kind} does not fit this fact", f"use {kinds}")
            return None
        return Take(
            slot=slot["slot"],
            sign=-1.0 if slot["minus"] else 1.0,
            second=slot["more"] or "",
            second_sign=-1.0 if slot["sign"] == "-" else 1.0,
            is_since=bool(slot["since"]),
        )

    def _wrong_value(self, fact: Fact, value: object) -> str:
        """What would be allowed, if the value is not; empty if it is."""
        if fact.type == "choice":
            allowed = self._allowed[fact.name]
            return (
                ""
                if isinstance(value, str) and value in allowed
                else f"use one of {', '.join(sorted(allowed))}"
            )
        if fact.type == "bool":
            return "" if isinstance(value, bool) else "use true or false"
        if fact.type == "time":
            return 'use "{time}"'
        low, high = fact.range or (float("-inf"), float("inf"))
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        return (
            "" if is_number and low <= float(str(value)) <= high else f"use a number from {low:g} to {high:g}"
        )


def _scalar(value: object) -> Scalar:
    if isinstance(value, bool | str):
        return value
    return float(str(value))
