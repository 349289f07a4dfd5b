"""`coach doctor` says what is wrong and what to do, above all where nothing else runs."""

import subprocess
import sys
from pathlib import Path

import pytest

from coach.front import doctor

CHECKOUT = Path(__file__).resolve().parent.parent


def examined(*switches: str, code: str = "") -> tuple[int, list[str]]:
    """The exit code and the lines of a doctor in a Python of its own, after `code` has run."""
    code += "import sys; from coach.__main__ import main; sys.exit(main(['doctor', '--store', ':memory:']))"
    ended = subprocess.run(
        [sys.executable, *switches, "-c", code],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ended.stderr == ""
    return ended.returncode, ended.stdout.splitlines()


def test_every_line_is_ok_where_the_tests_run() -> None:
    code, lines = examined()
    assert [line for line in lines if not line.startswith("ok ")] == []
    assert code == 0
    assert len(lines) >= 10


def test_it_runs_where_no_package_is_installed_and_names_each() -> None:
    code, lines = examined("-S")
    assert code == 1
    for package in ("pydantic", "sqlite-utils", "rapidfuzz", "durable_rules"):
        (line,) = [line for line in lines if line.startswith(f"not ok  package {package}")]
        assert "pip install" in line
    assert any(line.startswith("ok      database") for line in lines)


def test_a_missing_inference_library_brings_what_it_takes_to_build_it() -> None:
    code, lines = examined(code="import sys; sys.modules['durable_rules_engine'] = None; ")
    place = next(
        number for number, line in enumerate(lines) if line.startswith("not ok  package durable_rules")
    )
    assert lines[place + 1].partition(": ")[0].endswith("C compiler")
    assert lines[place + 2].partition(": ")[0].endswith("Python headers")
    assert code == 1


def test_what_is_not_found_comes_with_the_command_that_brings_it() -> None:
    assert str(doctor.build_tool("C compiler", None)).startswith(
        "not ok  C compiler: not found. Run as root: apt-get"
    )
    assert str(doctor.build_tool("C compiler", "/usr/bin/gcc")) == "ok      C compiler: /usr/bin/gcc"


@pytest.mark.parametrize(
    ("version", "is_ok"), [((3, 10), False), ((3, 11), True), ((3, 12), True), ((3, 13), False)]
)
def test_only_the_pythons_that_are_promised_are_ok(version: tuple[int, int], is_ok: bool) -> None:
    assert doctor.python(version).is_ok is is_ok


def test_a_store_and_a_folder_of_rules_that_cannot_be_used_are_not_ok(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "rules").mkdir()
    (tmp_path / "rules" / "bad.toml").write_text("[[rule\n")
    assert doctor.serve(store=str(tmp_path), rules=tmp_path / "rules") == 1
    bad = [line for line in capsys.readouterr().out.splitlines() if line.startswith("not ok")]
    assert [line.split()[2].strip(":") for line in bad] == ["rules", "store"]
    assert "coach rules check" in bad[0]
    assert "--store" in bad[1]


def test_a_terminal_of_any_known_encoding_is_ok() -> None:
    assert doctor.terminal("utf-8").is_ok
    assert "written otherwise" in doctor.terminal("ascii").line
    assert not doctor.terminal("klingon").is_ok
    assert not doctor.terminal(None).is_ok
