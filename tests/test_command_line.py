"""The command line: what it imports, what it says, and with which code it ends."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from coach.__main__ import FRONTS, main

CHECKOUT = Path(__file__).resolve().parent.parent
HEAVY = ("pydantic", "sqlite_utils", "rapidfuzz", "sqlite3", "coach.model")


def run(*arguments: str, typed: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "coach", *arguments]
    return subprocess.run(command, cwd=CHECKOUT, input=typed, capture_output=True, timeout=60, check=False)


def test_help_names_every_command_and_imports_nothing_heavy() -> None:
    code = (
        "import sys; from coach.__main__ import main; main([]); print([m for m in sys.modules if m in HEAVY])"
    )
    code = f"HEAVY = {HEAVY}; {code}"
    shown = subprocess.run(
        [sys.executable, "-c", code], cwd=CHECKOUT, capture_output=True, text=True, check=True
    )
    assert all(f"    {command} " in shown.stdout for command in (*FRONTS, "figure"))
    assert shown.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    "arguments",
    [
        ["chatt"],
        ["talk", "--sto", "x"],
        ["rules"],
        ["talk", "extra"],
        ["chat", "--chat", ""],
        ["chat", "--chat", "a\x07b"],
        ["log", "--chat", "x" * 129],
        ["chat", "--units", "feet"],
    ],
)
def test_what_is_not_understood_ends_with_2_and_says_what_is_known(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert "usage: coach" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["talk", "chat"])
def test_a_store_that_cannot_be_used_is_one_clear_line_and_exit_1(command: str, tmp_path: Path) -> None:
    (tmp_path / "a.db").write_bytes(b"a shopping list " * 100)
    ended = run(command, "--store", str(tmp_path / "a.db"))
    assert (ended.returncode, ended.stdout) == (1, b"")
    assert ended.stderr.decode().splitlines() == [
        f"the store {tmp_path}/a.db: it is not a store. Move the file away or choose another by --store."
    ]


@pytest.mark.parametrize("command", ["talk", "chat", "read"])
def test_rules_with_faults_are_named_and_exit_1(command: str, tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text("[[rule\n")
    ended = run(command, "--rules", str(tmp_path))
    assert (ended.returncode, ended.stdout) == (1, b"")
    assert b"bad.toml:" in ended.stderr
    assert b"Traceback" not in ended.stderr


def test_rules_check_counts_what_is_fine_and_names_each_fault_on_its_line(tmp_path: Path) -> None:
    fine = run("rules", "check")
    assert fine.returncode == 0
    assert fine.stdout.startswith(b"rules fine: ")
    for file in (CHECKOUT / "rules").glob("*.toml"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    safety = tmp_path / "safety.toml"
    safety.write_text(safety.read_text() + '\n[[rule]]\nid = "odd"\nwen = ["sky.fogg is yes"]\n')
    faulty = run("rules", "check", str(tmp_path))
    assert faulty.returncode == 1
    lines = faulty.stdout.decode().splitlines()
    assert lines
    assert all(line.startswith(f"{tmp_path.name}/") or ".toml:" in line for line in lines)


def test_rules_try_shows_what_fires_and_on_which_facts() -> None:
    """Lightning in sight is a hazard: common practice."""
    tried = run("rules", "try", "--facts", "sky.lightning=yes", "water.depth_ft=11")
    assert tried.returncode == 0
    assert "because sky.lightning is yes" in tried.stdout.decode()


@pytest.mark.parametrize(
    "fact", ["sky.lightnin=yes", "water.depth_ft=-3", "water.depth_ft=deep", "sky.fog=maybe"]
)
def test_rules_try_says_which_fact_it_does_not_take(fact: str) -> None:
    tried = run("rules", "try", "--facts", fact)
    assert tried.returncode == 2
    assert fact.partition("=")[0] in tried.stdout.decode()


def test_talk_writes_only_its_lines_and_ends_with_0_at_the_end_of_input() -> None:
    sent = b'{"chat": "boat-7", "text": "hello"}\nnonsense\n'
    ended = run("talk", "--store", ":memory:", typed=sent)
    assert ended.returncode == 0
    assert [json.loads(line)["v"] for line in ended.stdout.splitlines()] == [1, 1]
    assert run("talk", "--store", ":memory:").stdout == b""


def test_read_understands_words_without_any_state() -> None:
    """The interface's own example: seven and three quarters is 7.75."""
    sent = [
        {"asked": "water.depth_ft", "text": "seven and three quarters"},
        {"asked": "water.depth_ft", "text": "don't know"},
        {"asked": "no.such", "text": "x"},
        {"text": "x", "chat": "boat-7"},
        {"asked": None},
    ]
    ended = run("read", typed="".join(json.dumps(line) + "\n" for line in sent).encode())
    found = [json.loads(line) for line in ended.stdout.splitlines()]
    assert ended.returncode == 0
    assert found[:2] == [{"v": 1, "understood": {"water.depth_ft": value}} for value in (7.75, "unknown")]
    assert [line["error"]["code"] for line in found[2:]] == ["unknown-fact", "unknown-key", "bad-message"]


@pytest.mark.parametrize("command", [*FRONTS, "rules check", "rules try"])
def test_every_command_has_its_own_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([*command.split(), "--help"])
    assert ended.value.code == 0
    assert f"usage: coach {command}" in capsys.readouterr().out


def test_ctrl_c_before_anything_is_shown_is_quiet_and_130(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(*_: object, **__: object) -> int:
        raise KeyboardInterrupt

    for command in ("chat", "doctor", "rules"):
        monkeypatch.setattr(f"coach.front.{FRONTS[command]}.serve", interrupted)
        assert main([command, "check"] if command == "rules" else [command]) == 130
    assert capsys.readouterr() == ("", "")


def test_the_version_is_told() -> None:
    assert run("--version").stdout.startswith(b"coach ")
