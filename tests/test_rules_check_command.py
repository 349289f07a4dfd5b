"""`coach rules check` as a command: notes beside the faults, exit codes, examples for other numbers."""

import re
import shutil
from pathlib import Path

import pytest
import rule_folders
from rule_folders import when_rule

from coach import rulebook
from coach.front import rules as front
from coach.model import Rulebook
from coach.rulebook import uses
from coach.rulebook.check import check, notes
from coach.rulebook.situations import read_situations
from coach.rulebook.view import View

# --- notes -------------------------------------------------------------------------------------------


def notes_of(folder: Path) -> str:
    return "\n".join(map(str, notes(rulebook.load(folder), folder=folder)))


def test_a_question_that_nothing_uses_is_a_note_and_one_in_a_rule_is_not(tmp_path: Path) -> None:
    told = notes_of(rule_folders.write(tmp_path / "mine"))
    assert "question 'tool.length_ft': nothing uses the answer. Use it in a rule." in told
    assert "'tool.edge'" not in told


def test_a_number_that_nothing_uses_is_a_note_and_one_in_a_rule_is_not(tmp_path: Path) -> None:
    long = '[{}]\nvalue = 6.5\nsays = "long"\nsource = "x"\nknown = "assumption"\n'
    thresholds = long.format("long_ft") + long.format("short_ft")
    text = when_rule("tool.length_ft at least {long_ft}")
    told = notes_of(rule_folders.write(tmp_path / "mine", rules=text, thresholds=thresholds))
    (line,) = [line for line in told.splitlines() if "thresholds.toml" in line]
    assert line == "mine/thresholds.toml:6: numbers: nothing uses short_ft. Harmless; they may serve later."


def test_what_only_the_program_reads_is_not_called_unused(shipped: Rulebook) -> None:
    """The high in the tide table gives re-clip times, one number is a step of the advice: no rule reads
    either. What the core asks of the rules (does all look right?) no rule needs to read."""
    folder = rulebook.default_folder()
    told = "\n".join(map(str, (*notes(shipped, folder=folder), *uses.conclusions(View(shipped, folder)))))
    read = View(shipped, folder).read_by_rules()
    for name in ("tide.high_ft", "all.looks_right"):
        assert name in shipped.facts
        assert name not in read
        assert name not in told
    assert "raise_step_ft" in shipped.numbers
    assert "raise_step_ft" not in told


# --- the command ---------------------------------------------------------------------------------------


def test_the_command_prints_one_line_a_fault_and_ends_with_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = rule_folders.write(tmp_path / "mine", rules=when_rule("tool.edge is keen; tool.edge is round"))
    assert front.serve("check", folder) == 1
    lines = capsys.readouterr().out.splitlines()
    assert all(re.match(r"(note: )?mine/[\w/.]+:\d+: ", line) for line in lines)
    assert any(re.match(r"mine/topic.toml:\d+: rule 'odd': it can never fire: ", line) for line in lines)


def test_the_shipped_rules_are_free_of_faults(shipped: Rulebook) -> None:
    folder = rulebook.default_folder()
    assert [str(fault) for fault in check(shipped, read_situations(folder, shipped), folder=folder)] == []


def test_the_command_says_how_many_situations_were_played_and_notes_do_not_fail(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert front.serve("check") == 0
    first, *more = capsys.readouterr().out.splitlines()
    assert re.fullmatch(r"rules fine: \d+ rules, \d+ facts, \d+ causes, [1-9]\d* situations played", first)
    assert all(line.startswith("note: ") for line in more)


def changed_copy(tmp_path: Path, file: str, old: str, new: str) -> Path:
    """The shipped rules with one change made by their captain."""
    folder = tmp_path / "mine"
    shutil.copytree(rulebook.default_folder(), folder)
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")
    return folder


def test_examples_written_for_another_number_are_no_faults_of_the_rules(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = changed_copy(tmp_path, "numbers.toml", "value = 8.0", "value = 9.5")
    assert front.serve("check", folder) == front.CHANGED == 3
    said = capsys.readouterr().out
    assert said.startswith("The rules load and can be used; ")
    assert "mine/situations/" in said and "take your change back" in said


def test_a_fault_beside_changed_examples_still_ends_with_1(tmp_path: Path) -> None:
    folder = changed_copy(tmp_path, "numbers.toml", "value = 8.0", "value = 9.5")
    with (folder / "light.toml").open("a", encoding="utf-8") as file:
        file.write(when_rule("sky.fog is yes; sky.fog is no"))
    assert front.serve("check", folder) == 1


def test_a_comma_in_a_number_is_told_to_be_a_point(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = changed_copy(tmp_path, "numbers.toml", "value = 8.0", "value = 8,5")
    assert front.serve("check", folder) == 1
    assert "Write 8.5 with a point" in capsys.readouterr().out


def test_a_fact_misspelt_on_the_command_line_is_told_by_its_nearest_name(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert front.serve("try", None, ["lamp.upright=no"]) == 2
    assert "Did you mean 'lamps.upright'?" in capsys.readouterr().out
