"""Small rule bases, written as a captain writes them: for tests of the machinery, not of the trade.

`write` puts a complete folder down; everything that a test does not say is plain and harmless. Facts
and figures of the calculators are all declared (the names stand in vocabulary.toml and in the shipped
worked_out.toml), but only what a test adds has expected answers and can therefore be asked.
"""

import json
import re
import shutil
import tomllib
from collections.abc import Mapping
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from coach.rulebook import default_folder

SHIPPED = default_folder()
NOW = datetime(2027, 2, 11, 21, 5, tzinfo=timezone(timedelta(hours=-5)))
VOCABULARY: Mapping[str, Any] = tomllib.loads(
    Path(__file__).with_name("vocabulary.toml").read_text(encoding="utf-8")
)
STRENGTHS = {f"w{db}": db for db in range(1, 61)}
"""Strength words for every weight: "w7" is 7 dB."""

ASKING: Mapping[str, float] = {
    "name_from": 0.5,
    "name_alone_from": 0.3,
    "most_questions": 25,
    "least_bits": 1e-9,
    "least_bits_per_trouble": 1e-9,
    "singles_after_unknown": 3,
    "found_from": 0.99,
    "found_factor": 1,
}
CAUSES: Mapping[str, int] = {"blunt": -10, "loose": -10}
PRICKED = """
["tool.wobbles"]
type = "bool"
says = "the tool wobbles"
ask = "Does the tool wobble?"
why = "A loose handle wobbles."
expect = { yes = 1, no = 1 }

["tool.edge"]
type = "choice"
says = "the edge"
ask = "How is the edge?"
why = "A blunt edge is round."
options = { keen = "Keen", round = "Round" }
expect = { keen = 1, round = 1 }

["tool.length_ft"]
type = "number"
unit = "ft"
range = [1, 10]
says = "the length of the tool"
ask = "How long is the tool, in feet?"
why = "A long tool bends."
"""
"""Three facts of a trade nobody here knows anything about: a yes-or-no, a choice and a number."""

RULES = """
[defaults]
source = "invented"
status = "draft"

[[rule]]
id = "wobbly"
title = "A wobbling tool is loose"
when = ["tool.wobbles is yes"]
for = { loose = "w20" }
group = "feel"
because = "It wobbles."
doubt = "The bench may wobble."

[[rule]]
id = "steady"
title = "A steady tool is not loose"
when = ["tool.wobbles is no"]
against = { loose = "w10" }
group = "feel"
because = "It does not wobble."
doubt = "It may have been tightened."

[[rule]]
id = "round-edge"
title = "A round edge is blunt"
when = ["tool.edge is round"]
for = { blunt = "w20" }
group = "look"
because = "The edge is round."
doubt = "It may be ground so."
"""


def text_of(values: Mapping[str, Any]) -> str:
    """A table's lines in TOML."""
    return "\n".join(f"{_key(key)} = {_value(value)}" for key, value in values.items()) + "\n"


def _key(name: str) -> str:
    return name if re.fullmatch(r"[\w-]+", name) else json.dumps(name)


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(each) for each in value) + "]"
    return json.dumps(value, ensure_ascii=False)


def _plain_facts() -> str:
    """The vocabulary's facts, declared plainly and never worth asking."""
    made = []
    for name, is_like in VOCABULARY["facts"].items():
        unit = next((u for end, u in (("_ft", "ft"), ("_kn", "kn"), ("_f", "F")) if name.endswith(end)), None)
        table = {"type": is_like["type"], "says": name, "ask": f"{name}?", "why": f"For {name}."}
        table |= {"unit": unit} if unit else {}
        table |= {"range": is_like["range"]} if "range" in is_like else {}
        table |= {"options": {each: each for each in is_like["of"]}} if "of" in is_like else {}
        made.append(f"[{json.dumps(name)}]\n{text_of(table)}")
    return "\n".join(made)


def _computed() -> str:
    """The figures of the shipped worked_out.toml, and the one conclusion that the core looks for."""
    shipped = tomllib.loads((SHIPPED / "worked_out.toml").read_text(encoding="utf-8"))
    shipped.pop("outlook", None)
    kept = {name: table for name, table in shipped.items() if table["kind"] == "computed"}
    kept["something.is_wrong"] = {"kind": "concluded", "says": "something is wrong"}
    return "\n".join(f"[{json.dumps(name)}]\n{text_of(table)}" for name, table in kept.items())


def causes_text(
    causes: Mapping[str, int] = CAUSES, *, asking: Mapping[str, float] | None = None, more: str = ""
) -> str:
    """A causes.toml with these causes and priors [dB]; `more` is added at its end.

    What a small rule base does not care about is as in the shipped file.
    """
    shipped = tomllib.loads((SHIPPED / "causes.toml").read_text(encoding="utf-8"))
    shipped.pop("confirm", None)
    tables = shipped | {
        "strength": STRENGTHS,
        "cause": {id: {"says": f"it is {id}", "prior_db": db} for id, db in causes.items()},
        "hazard": {"fire": "Fire", "flood": "Flood"},
        "set": {"plain-bench": "a plain bench"},
        "sureness": [{"from": 0.9, "says": "Surely"}, {"from": 0.0, "says": "Maybe"}],
        "asking": {**shipped["asking"], **ASKING, **(asking or {})},
        "safety": {"check": shipped["safety"]["check"], "singles": ["sky.lightning", "crew.jackets"]},
    }
    return "\n".join([*(_table(name, table) for name, table in tables.items()), more])


def _table(name: str, table: Any) -> str:
    if isinstance(table, list):
        return "\n".join(f"[[{name}]]\n{text_of(each)}" for each in table)
    if all(isinstance(value, Mapping) for value in table.values()):
        return "\n".join(f"[{name}.{key}]\n{text_of(value)}" for key, value in table.items())
    return f"[{name}]\n{text_of(table)}"


def files(
    *, facts: str = PRICKED, worked_out: str = "", thresholds: str = "", rules: str = RULES,
    causes: Mapping[str, int] = CAUSES, asking: Mapping[str, float] | None = None, more_causes: str = "",
) -> dict[str, str]:  # fmt: skip
    """The texts of a complete folder by file name, but for the two that are copied."""
    return {
        "facts.toml": _plain_facts() + facts,
        "worked_out.toml": _computed() + worked_out,
        "thresholds.toml": thresholds,
        "causes.toml": causes_text(causes, asking=asking, more=more_causes),
        "topics.toml": "[topic]\n",
        "topic.toml": rules,
    }


def write(folder: Path, texts: Mapping[str, str | bytes] | None = None, **parts: Any) -> Path:
    """Write a complete folder of rules and return it.

    `parts` are those of `files`; `texts` replaces or adds whole files, such as "words/light.toml".
    """
    (folder / "words").mkdir(parents=True, exist_ok=True)
    for name in ("numbers.toml", "texts.toml"):
        shutil.copyfile(SHIPPED / name, folder / name)
    for name, text in {**files(**parts), **(texts or {})}.items():
        (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def rule(id: str, when: str, weighs: Mapping[str, int] | None = None, **more: Any) -> str:
    """One [[rule]] table; `weighs` gives decibans for (+) or against (-) each cause, `when` and
    `unless` several conditions parted by ";"."""
    table: dict[str, Any] = {
        "id": id, "title": f"Rule {id}", "when": when.split("; "), "because": f"Because of {id}.",
        "source": "invented", "status": "draft",
    }  # fmt: skip
    if weighs:
        table |= {"group": f"group of {id}", "doubt": "Always."}
    for key, sign in (("for", 1), ("against", -1)):
        said = {cause: f"w{abs(db)}" for cause, db in (weighs or {}).items() if db * sign > 0}
        table |= {key: said} if said else {}
    if "unless" in more:
        more["unless"] = more["unless"].split("; ")
    return f"\n[[rule]]\n{text_of({**table, **more})}"


def when_rule(when: str, weighs: Mapping[str, int] | None = None, **more: Any) -> str:
    """The usual rules and one called "odd" with these conditions."""
    return RULES + rule("odd", when, weighs or {"blunt": 7}, **more)


def yes_or_no(name: str, *, yes: float = 1, no: float = 1, trouble: int = 1) -> str:
    """A yes-or-no fact with the weights of its expected answers."""
    return f'\n["{name}"]\n' + text_of(
        {"type": "bool", "says": name, "ask": f"Is it so: {name}?", "why": f"It tells about {name}.",
         "trouble": trouble, "expect": {"yes": yes, "no": no}}
    )  # fmt: skip
