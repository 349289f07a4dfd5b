"""`coach rules check`: what cannot be right in rules that load is said, at its line, with what to do.

The tests use small invented rule bases. Each fault is put into a folder that does not have it, so that
it is seen to come from what was put in. Whether a rule can fire is compared with trying out every
combination of answers on the oracle.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import rule_folders
from rule_folders import RULES, rule, when_rule

from coach import rulebook
from coach.model import Fault
from coach.rulebook.check import check
from coach.rulebook.situations import read_situations

BENT = '\n["tool.bent"]\nkind = "concluded"\nsays = "the tool is bent"\n'
EXCLUDED = "it can never fire: its conditions and what other rules conclude exclude each other"
FILL = "Use a fact or a number; action and fix also take"
CONCLUDE = "Write a rule that does, or take the condition out."
THREE = {"causes": {"blunt": -10, "loose": -10, "dull": -10}}
ROUND_EDGE = "rule 'round-edge' (topic.toml:24)"
CHAIN = '\n["tool.worn"]\nkind = "concluded"\nsays = "the tool is worn"\n'


def faults_in(folder: Path) -> tuple[Fault, ...]:
    book = rulebook.load(folder)
    return check(book, read_situations(folder, book), folder=folder)


def said_about(folder: Path, wrong: str) -> list[str]:
    """The faults with these words, as a captain reads them."""
    return [str(fault) for fault in faults_in(folder) if wrong in fault.wrong]


@dataclass
class Odd:
    """Something that cannot be right: what brings it into a folder, and the line that it must get."""

    where: str
    wrong: str
    do: str
    at: str  # the first words of the line
    rules: str = RULES
    file: str = "topic.toml"
    parts: Mapping[str, Any] | None = None


ODD_RULE = 'id = "odd"'
FINDINGS = {
    "two answers to one question at once": Odd(
        "rule 'odd'",
        "it can never fire: 'tool.edge is keen' and 'tool.edge is round' cannot hold together",
        "Correct or drop one of them.",
        ODD_RULE,
        when_rule("tool.edge is keen; tool.edge is round"),
    ),
    "an empty stretch of numbers": Odd(
        "rule 'odd'",
        "it can never fire: 'tool.length_ft more than 4' and 'tool.length_ft at most 4' cannot hold together",
        "Correct or drop one of them.",
        ODD_RULE,
        when_rule("tool.length_ft more than 4; tool.length_ft at most 4"),
    ),
    "more than the most that a fact can be": Odd(
        "rule 'odd'",
        "it can never fire: 'tool.length_ft more than 10' can never hold",
        "Correct or drop one of them.",
        ODD_RULE,
        when_rule("tool.length_ft more than 10"),
    ),
    "a conclusion that is to be untrue": Odd(
        "rule 'odd'",
        "it can never fire: 'tool.bent is no' can never hold",
        "Correct or drop one of them.",
        ODD_RULE,
        when_rule("tool.bent is no") + rule("bends", "tool.wobbles is yes", concludes=["tool.bent"]),
        parts={"worked_out": BENT},
    ),
    "an exception that always holds with the conditions": Odd(
        "rule 'odd'",
        "it can never fire: whenever its conditions hold, so does the exception 'tool.length_ft at least 3'",
        "Correct the exception or drop it.",
        ODD_RULE,
        when_rule("tool.length_ft at least 4", unless="tool.length_ft at least 3"),
    ),
    "an exception that never holds with the conditions": Odd(
        "rule 'odd'",
        "the exception 'tool.edge is keen' can never hold while the conditions do",
        "Drop it, or correct the condition.",
        ODD_RULE,
        when_rule("tool.edge is round", unless="tool.edge is keen"),
    ),
    "a condition on what no rule concludes": Odd(
        "rule 'odd'",
        "when: no rule concludes 'tool.bent'",
        CONCLUDE,
        ODD_RULE,
        when_rule("tool.bent is yes"),
        parts={"worked_out": BENT},
    ),
    "an exception on what no rule concludes": Odd(
        "rule 'odd'",
        "unless: no rule concludes 'tool.bent'",
        CONCLUDE,
        ODD_RULE,
        when_rule("tool.edge is round", unless="tool.bent is yes"),
        parts={"worked_out": BENT},
    ),
    "a condition on a figure that nothing works out": Odd(
        "rule 'odd'",
        "when: nothing works out 'tool.sum'",
        "Take the condition out.",
        ODD_RULE,
        when_rule("tool.sum at least 3"),
        parts={"worked_out": '\n["tool.sum"]\nkind = "computed"\ntype = "number"\nsays = "the sum"\n'},
    ),
    "a conclusion that comes only on the opposite condition": Odd(
        "rule 'odd'",
        EXCLUDED,
        "Look at the rules that conclude tool.bent.",
        ODD_RULE,
        when_rule("tool.bent is yes; tool.wobbles is no")
        + rule("bends", "tool.wobbles is yes", concludes=["tool.bent"]),
        parts={"worked_out": BENT},
    ),
    "a denied conclusion that always comes with the conditions": Odd(
        "rule 'odd'",
        EXCLUDED,
        "Look at the rules that conclude tool.bent.",
        ODD_RULE,
        when_rule("tool.wobbles is yes; tool.edge is round", unless="tool.bent is yes")
        + rule("bends", "tool.wobbles is yes", concludes=["tool.bent"]),
        parts={"worked_out": BENT},
    ),
    "conclusions that wait for each other": Odd(
        "rule 'odd'",
        EXCLUDED,
        "Look at the rules that conclude tool.bent.",
        ODD_RULE,
        when_rule("tool.bent is yes", None)
        + rule("bends", "tool.worn is yes", concludes=["tool.bent"])
        + rule("wears", "tool.bent is yes", concludes=["tool.worn"]),
        parts={"worked_out": BENT + CHAIN},
    ),
    "a cause that nothing speaks for": Odd(
        "cause 'dull'",
        "no rule speaks for it",
        "Write one.",
        "[cause.dull]",
        RULES,
        "causes.toml",
        THREE,
    ),
    "a cause that nothing speaks against": Odd(
        "cause 'dull'",
        "no rule speaks against it",
        "Write one.",
        "[cause.dull]",
        when_rule("tool.edge is keen", {"dull": 7}),
        "causes.toml",
        THREE,
    ),
    "a cause that one answer decides": Odd(
        "cause 'dull'",
        "1 group(s) of evidence speak about it",
        "Let at least 3 different signs bear on it.",
        "[cause.dull]",
        when_rule("tool.edge is keen", {"dull": 7}),
        "causes.toml",
        THREE,
    ),
    "a cause that nothing is done about": Odd(
        "cause 'dull'",
        "no rule says what to do about it",
        "Write one with fix_for.",
        "[cause.dull]",
        RULES,
        "causes.toml",
        THREE,
    ),
    "a hazard that no rule raises": Odd(
        "hazard 'fire'", "no rule raises it", "Write one, or take it out.", "fire =", RULES, "causes.toml"
    ),
    "a set-up that no rule advises": Odd(
        "set-up 'plain-bench'",
        "no rule advises it",
        "Write one, or take it out.",
        "plain-bench =",
        RULES,
        "causes.toml",
    ),
    "the same rule twice": Odd(
        "rule 'odd'",
        f"it says the same on the same conditions as {ROUND_EDGE}",
        "Drop one of the two.",
        ODD_RULE,
        when_rule("tool.edge is not keen", {"blunt": 20}),
    ),
    "two rules of one group on the same conditions": Odd(
        "rule 'odd'",
        f"on the same conditions in the same group only the stronger of it and {ROUND_EDGE}"
        " counts for 'blunt'",
        "Keep one of the two.",
        ODD_RULE,
        when_rule("tool.edge is round", {"blunt": 7}, group="look"),
    ),
    "the same conditions counted twice": Odd(
        "rule 'odd'",
        f"it counts the same conditions as {ROUND_EDGE} a second time for 'blunt'",
        "Keep one of the two.",
        ODD_RULE,
        when_rule("tool.edge is round", {"blunt": 7}),
    ),
    "a rule that contradicts another": Odd(
        "rule 'odd'",
        f"{ROUND_EDGE} speaks for, and this on the same conditions against 'blunt'",
        "Keep one of the two.",
        ODD_RULE,
        when_rule("tool.edge is round", {"blunt": -7}),
    ),
    "a conclusion that no rule reads": Odd(
        "fact 'tool.bent'",
        "no rule reads this conclusion",
        "Use it in a condition, or drop it.",
        '["tool.bent"]',
        RULES + rule("bends", "tool.wobbles is yes", concludes=["tool.bent"]),
        "worked_out.toml",
        {"worked_out": BENT},
    ),
    "a conclusion that nothing has to do with": Odd(
        "fact 'tool.bent'",
        "no rule concludes it and none reads it",
        "Use it in a condition, or drop it.",
        '["tool.bent"]',
        RULES,
        "worked_out.toml",
        {"worked_out": BENT},
    ),
    "a blank in a reason that nothing fills": Odd(
        "rule 'odd'",
        "because: nothing fills the blank '{tool.lenght_ft}'",
        FILL,
        ODD_RULE,
        when_rule("tool.edge is keen", because="It is {tool.lenght_ft} long."),
    ),
    "a phrase of the verdict in a reason": Odd(
        "rule 'odd'",
        "because: nothing fills the blank '{clip_left}'",
        FILL,
        ODD_RULE,
        when_rule("tool.edge is keen", because="It is {clip_left} long."),
    ),
    "a blank in what is said of a hazard that nothing fills": Odd(
        "rule 'odd'",
        "say: nothing fills the blank '{edge}'",
        FILL,
        ODD_RULE,
        when_rule("tool.edge is keen", hazard="fire", say="The edge is {edge}."),
    ),
    "a blank in an action that nothing fills": Odd(
        "rule 'odd'",
        "action: nothing fills the blank '{clip_middle}'",
        FILL,
        ODD_RULE,
        when_rule(
            "named.blunt is yes", fix_for="blunt", action=["To {clip_middle}.", "Whet it."], look_again_min=5
        ),
    ),
    "a blank in a fix that nothing fills": Odd(
        "rule 'odd'",
        "fix: nothing fills the blank '{}'",
        FILL,
        ODD_RULE,
        when_rule(
            "named.blunt is yes",
            fix_for="blunt",
            action=["Whet it."],
            fix=["For {} minutes."],
            look_again_min=5,
        ),
    ),
    "an action that may come out empty": Odd(
        "rule 'odd'",
        "action: every line has a blank that may stay open",
        "Add a last line without blanks, for when the figures are not known.",
        ODD_RULE,
        when_rule(
            "named.blunt is yes", fix_for="blunt", action=["Clip it to {clip_left}."], look_again_min=5
        ),
    ),
    "no situations at all": Odd(
        "the folder", "there are no situations", "Say in situations/ when", "", RULES, "situations"
    ),
}


@pytest.mark.parametrize("name", FINDINGS)
def test_what_cannot_be_right_is_told_at_its_line_with_what_to_do(name: str, tmp_path: Path) -> None:
    odd = FINDINGS[name]
    folder = rule_folders.write(tmp_path / "mine", rules=odd.rules, **(odd.parts or {}))
    told = [fault for fault in faults_in(folder) if (fault.where, fault.wrong) == (odd.where, odd.wrong)]
    assert len(told) == 1
    assert told[0].do.startswith(odd.do)
    assert told[0].file == f"mine/{odd.file}"
    lines = (folder / odd.file).read_text().splitlines() if (folder / odd.file).is_file() else [""]
    at = next(number for number, line in enumerate(lines, 1) if line.startswith(odd.at))
    assert told[0].line == (at - 1 if odd.at == ODD_RULE else at)  # a rule is told at its [[rule]]


MENDED = {
    "two answers to one question at once": when_rule("tool.edge is keen; tool.edge is not round"),
    "an empty stretch of numbers": when_rule("tool.length_ft at least 4; tool.length_ft at most 4"),
    "more than the most that a fact can be": when_rule("tool.length_ft at least 10"),
    "an exception that always holds with the conditions": when_rule(
        "tool.length_ft at least 4", unless="tool.length_ft at least 5"
    ),
    "a conclusion that comes only on the opposite condition": when_rule(
        "tool.bent is yes; tool.wobbles is no"
    )
    + rule("bends", "tool.wobbles is yes", concludes=["tool.bent"])
    + rule("bends-too", "tool.edge is keen", concludes=["tool.bent"]),
    "a denied conclusion that always comes with the conditions": when_rule(
        "tool.wobbles is yes; tool.edge is round", unless="tool.bent is yes"
    )
    + rule("bends", "tool.wobbles is yes", concludes=["tool.bent"], unless="tool.length_ft is known"),
    "conclusions that wait for each other": when_rule("tool.bent is yes")
    + rule("bends", "tool.worn is yes", concludes=["tool.bent"])
    + rule("wears", "tool.bent is yes", concludes=["tool.worn"])
    + rule("wears-too", "tool.edge is keen", concludes=["tool.worn"]),
    "the same rule twice": when_rule("tool.edge is not keen; tool.wobbles is yes", {"blunt": 20}),
    "a rule that contradicts another": when_rule("tool.edge is round", {"loose": -7}),
    "a blank in a fix that nothing fills": when_rule(
        "named.blunt is yes",
        fix_for="blunt",
        action=["Whet it."],
        fix=["For {look_again_min} minutes, to {clip_left}."],
        look_again_min=5,
    ),
    "an action that may come out empty": when_rule(
        "named.blunt is yes",
        fix_for="blunt",
        action=["Clip it to {clip_left}.", "Clip it."],
        look_again_min=5,
    ),
}


@pytest.mark.parametrize("name", MENDED)
def test_what_only_just_can_be_right_is_not_told(name: str, tmp_path: Path) -> None:
    odd = FINDINGS[name]
    folder = rule_folders.write(tmp_path / "mine", rules=MENDED[name], **(odd.parts or {}))
    faults = [f for f in faults_in(folder) if f.where == "rule 'odd'"]
    assert [str(fault) for fault in faults] == []


def test_a_rule_read_for_each_lamp_is_told_once(tmp_path: Path) -> None:
    text = when_rule("lamp.too_high_ft at least 2; lamp.too_high_ft less than 1", lamps="each")
    assert len(said_about(rule_folders.write(tmp_path / "mine", rules=text), "cannot hold together")) == 1


def test_twins_are_found_across_files(tmp_path: Path) -> None:
    other = rule("odd", "tool.edge is round", {"blunt": 20})
    folder = rule_folders.write(tmp_path / "mine", {"second.toml": other})
    (said,) = said_about(folder, "it says the same")
    assert "second.toml" in said
    assert "topic.toml" in said


def test_evidence_that_only_follows_advice_is_not_counted_among_a_causes_signs(tmp_path: Path) -> None:
    text = rule("a", "tool.edge is keen", {"loose": 7}) + rule("b", "tried.loose is yes", {"loose": -7})
    text += rule("c", "tool.edge is round", {"blunt": 7}) + rule("d", "tool.edge is keen", {"blunt": -7})
    (line,) = said_about(rule_folders.write(tmp_path / "mine", rules=text), "no rule speaks against it")
    assert "cause 'loose'" in line
