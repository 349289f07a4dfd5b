"""The wheel that is built from this checkout works where the checkout is not."""

import json
import os
import subprocess
import sys
import sysconfig
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parent.parent


def run(*command: str | Path, folder: Path, typed: str = "") -> str:
    """What a command prints, run in `folder` without anything that points to the checkout."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    ended = subprocess.run(
        [str(word) for word in command], cwd=folder, env=clean | {"HOME": str(folder)}, input=typed,
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert ended.returncode == 0, ended.stderr
    return ended.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder, folder=CHECKOUT)
    (built,) = folder.glob("lampcoach-*.whl")
    return built


@pytest.fixture(scope="module")
def coach(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The `coach` command of an environment that holds the wheel, and the libraries of this one."""
    folder = tmp_path_factory.mktemp("elsewhere")
    run(sys.executable, "-m", "venv", "--without-pip", folder / "env", folder=folder)
    python = folder / "env" / "bin" / "python"
    packages = Path(
        run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", folder=folder).strip()
    )
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--python", python]
    run(*pip, "install", "--quiet", "--no-index", "--no-deps", wheel, folder=folder)
    shared = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    # added behind the wheel's own packages; a path alone does not follow .pth files to the checkout
    (packages / "libraries.pth").write_text("\n".join(shared))
    yield folder / "env" / "bin" / "coach"


def test_the_wheel_carries_every_file_of_the_rules(wheel: Path) -> None:
    inside = set(zipfile.ZipFile(wheel).namelist())
    rules = {file.relative_to(CHECKOUT).as_posix() for file in (CHECKOUT / "rules").rglob("*.toml")}
    assert len(rules) > 3
    assert {f"coach/{name}" for name in rules} <= inside
    assert any(name.startswith("rules/words/") for name in rules)


def test_the_wheel_carries_every_file_of_the_page(wheel: Path) -> None:
    page = {file.relative_to(CHECKOUT).as_posix() for file in (CHECKOUT / "coach/front/web/static").iterdir()}
    assert "coach/front/web/static/index.html" in page
    assert page <= set(zipfile.ZipFile(wheel).namelist())


def test_the_wheel_carries_no_tests_and_says_that_it_is_typed(wheel: Path) -> None:
    inside = zipfile.ZipFile(wheel).namelist()
    assert "coach/py.typed" in inside
    assert not [name for name in inside if name.startswith("tests")]


def test_the_installed_coach_is_the_wheels_and_not_the_checkouts(coach: Path, tmp_path: Path) -> None:
    code = "import coach, coach.rulebook; print(coach.__file__); print(coach.rulebook.default_folder())"
    module, rules = run(coach.with_name("python"), "-c", code, folder=tmp_path).split()
    assert Path(module).is_relative_to(coach.parent.parent)
    assert Path(rules).is_relative_to(coach.parent.parent)


def test_the_installed_coach_talks_and_chats_from_another_folder(coach: Path, tmp_path: Path) -> None:
    line = json.dumps({"chat": "boat-7", "text": "was good till nine then it faded"})
    answer = json.loads(run(coach, "talk", "--store", "a.db", folder=tmp_path, typed=line + "\n"))
    assert answer["error"] is None
    assert answer["ask"] or answer["verdict"]
    shown = run(coach, "chat", folder=tmp_path, typed="was good till nine then it faded\nbye\n")
    assert "lamp coach" in shown
    assert (tmp_path / ".local" / "share" / "lampcoach" / "coach.db").exists()


def test_the_installed_coach_finds_its_rules_and_itself_in_order(coach: Path, tmp_path: Path) -> None:
    assert run(coach, "rules", "check", folder=tmp_path).startswith("rules fine: ")
    assert "not ok" not in run(coach, "doctor", folder=tmp_path)
    assert run(coach, "--version", folder=tmp_path).startswith("coach ")
