"""`coach completion`: what the Tab key offers, in a real bash; and what it offers in the chat."""

import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
import small_core
from screens import CHECKOUT, ENTER, TAB, Seat, Terminal

from coach import rulebook
from coach.__main__ import FRONTS, _parser
from coach.conversation import Choice, Question
from coach.figures.command import FIGURES
from coach.front import guide, offers, terminal
from coach.front.completion import script
from coach.language import read

SHELLS = ("bash", "zsh", "fish")


@pytest.fixture(scope="module")
def scripts() -> dict[str, str]:
    return {shell: script(_parser(), shell) for shell in SHELLS}


@pytest.fixture(scope="module")
def bash_script(scripts: dict[str, str], tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("bash") / "coach"
    file.write_text(scripts["bash"])
    return file


def completed(file: Path, line: str, folder: Path) -> list[str]:
    """What bash offers for the last word of a line."""
    ask = f"""
        source {file}
        set -- {line}
        COMP_WORDS=("$@"); [[ "$LAST" == "" ]] && COMP_WORDS+=("")
        COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); COMP_LINE="$LINE"; COMP_POINT=${{#LINE}}
        _shtab_coach
        printf '%s\\n' "${{COMPREPLY[@]}}"
    """
    last = "" if line.endswith(" ") else line.rsplit(maxsplit=1)[-1]
    ended = subprocess.run(
        ["/bin/bash", "--norc", "--noprofile", "-c", ask],
        cwd=folder, env={"LAST": last, "LINE": line, "PATH": "/usr/bin:/bin"}, capture_output=True, text=True,
        timeout=30, check=False,
    )  # fmt: skip
    assert ended.stderr == ""
    return sorted(word.strip() for word in ended.stdout.split("\n") if word.strip())


@pytest.mark.parametrize(
    ("line", "offered"),
    [
        ("coach ch", ["chat"]),
        ("coach co", ["completion", "config"]),
        ("coach rules ", ["check", "try"]),
        ("coach chat --un", ["--units"]),
        ("coach chat --units ", ["metric", "us"]),
        ("coach config --theme ", ["dim", "light"]),
        ("coach log export --format ", ["csv", "ics", "json"]),
        ("coach completion ", ["bash", "fish", "zsh"]),
        ("coach figure cl", ["clear", "clip"]),
        ("coach figure clip --de", ["--depth-ft"]),
        ("coach chat --store bo", ["boat.db", "bower"]),
        ("coach chat --rules bo", ["bower"]),
    ],
)
def test_bash_offers_commands_options_values_and_files(
    bash_script: Path, tmp_path: Path, line: str, offered: list[str]
) -> None:
    (tmp_path / "boat.db").touch()
    (tmp_path / "bower").mkdir()
    assert completed(bash_script, line, tmp_path) == offered


def test_bash_offers_every_command_and_every_calculator(bash_script: Path, tmp_path: Path) -> None:
    assert completed(bash_script, "coach ", tmp_path) == sorted({*FRONTS, "figure"})
    assert completed(bash_script, "coach figure ", tmp_path) == sorted(FIGURES)


def test_the_tab_key_completes_in_a_bash_that_somebody_types_into(bash_script: Path, tmp_path: Path) -> None:
    environment = {**Seat(tmp_path).environ(), "PS1": "shell$ "}
    shell = Terminal(["/bin/bash", "--norc", "--noprofile", "-i"], environment, columns=80, rows=24)
    shell.until("shell$")
    shell.type(f"source {bash_script}", ENTER, "coach cha", TAB, "--uni", TAB, "met", TAB)
    shell.until("shell$ coach chat --units metric")


@pytest.mark.parametrize("shell", SHELLS)
def test_every_shells_script_names_every_command_and_option(scripts: dict[str, str], shell: str) -> None:
    told = scripts[shell]
    for word in (*FRONTS, *FIGURES, "units", "no-history", "depth-ft", "new-limits"):
        assert word in told


def test_the_command_prints_the_script(scripts: dict[str, str]) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "coach", "completion", "bash"],
        cwd=CHECKOUT, capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    assert ended.stdout == scripts["bash"] + "\n"
    for place in ("~/.local/share/bash-completion/completions/coach", "~/.zfunc/_coach"):
        assert f"> {place}" in guide.COMPLETING


# --- the Tab key in the chat -----------------------------------------------------------------------


def lines(typed: str, ask: Question | None) -> list[str]:
    return [line for line, _ in offers.offers(typed, ask)]


def test_an_empty_line_offers_the_open_answers_with_their_digits() -> None:
    assert list(offers.offers("", small_core.COLOUR)) == [
        ("1", "1 Red"),
        ("2", "2 Dark blue"),
        ("0", "0 don't know"),
    ]
    assert lines("", small_core.COUNT) == ["?"]
    assert lines("", None) == list(offers.STANDING)


def test_letters_offer_every_answer_in_which_a_word_begins_so_and_every_standing_word_that_does() -> None:
    assert lines("b", small_core.COLOUR) == ["dark blue", "bells", "bye"]
    assert lines("BL", small_core.COLOUR) == ["dark blue"]
    assert lines("2", small_core.COLOUR) == ["dark blue"]
    assert lines("don", small_core.COUNT) == ["?", "done"]
    assert lines("cl", None) == ["clear the water"]
    assert lines("shark", small_core.COLOUR) == []


def test_what_the_tab_key_offers_is_understood() -> None:
    """Every answer that is completed to its words is read as just that answer."""
    book = rulebook.load()
    now = datetime(2027, 2, 11, 21, tzinfo=UTC)
    for fact in book.facts.values():
        if fact.origin != "asked" or fact.type != "choice":
            continue
        options = tuple(Choice(option.id, option.label) for option in fact.options)
        ask = Question(fact.name, fact.ask, fact.why, "choice", None, options)
        for digit, option in enumerate(fact.options, 1):
            line, *_ = lines(str(digit), ask)
            assert read(line, asked=fact, lexicon=book.lexicon, now=now).facts[fact.name] == option.id


def test_every_standing_word_is_one_that_help_tells_of() -> None:
    told = " ".join(terminal.HELP)
    for word in offers.STANDING:
        assert word.split()[0] in told or word in told


def test_no_letter_that_stands_for_a_word_is_an_answer_to_any_question() -> None:
    book = rulebook.load()
    now = datetime(2027, 2, 11, 21, tzinfo=UTC)
    heard = {
        (letter, fact.name)
        for letter in terminal.SHORT
        for fact in book.facts.values()
        if fact.origin == "asked"
        for reading in [read(letter, asked=fact, lexicon=book.lexicon, now=now)]
        if reading.facts or reading.unknown
    }
    assert not heard


# --- help ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("columns", [30, 80, 120])
def test_help_teaches_what_to_type_first_at_any_width(columns: int) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "coach", "--help"],
        cwd=CHECKOUT, env={"COLUMNS": str(columns), "PATH": "/usr/bin:/bin"}, capture_output=True, text=True,
        timeout=60, check=True,
    )  # fmt: skip
    told = " ".join(ended.stdout.split())
    assert "Type this first: coach chat and then what you see, in your own words" in told
    assert "130 left by Ctrl-C; the chat is kept" in told
    assert max(map(len, ended.stdout.splitlines())) <= columns


@pytest.mark.parametrize(
    ("width", "shown"),
    [
        (60, "why      why I ask this"),
        (20, "why\n  why I ask this"),
        (10, "why\n  why I\n  ask this"),
    ],
)
def test_a_line_of_help_hangs_under_its_word_where_it_does_not_fit(width: int, shown: str) -> None:
    assert guide.helped("why      why I ask this", width) == shown
