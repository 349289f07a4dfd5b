"""The captain's folder of the school: every fault is named at once, with file and line and what to do."""

import shutil
from pathlib import Path

import pytest
from school_bank import bank, school

from coach import rulebook
from coach.front.rules import check
from coach.model import RuleFaults
from coach.rulebook import default_folder
from coach.school.reading import read_school


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(default_folder(), tmp_path / "rules"))


def change(folder: Path, file: str, old: str, new: str) -> None:
    path = folder / "school" / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def faults(folder: Path) -> list[str]:
    with pytest.raises(RuleFaults) as caught:
        read_school(rulebook.load(folder), folder)
    return [str(fault) for fault in caught.value.faults]


def test_the_shipped_school_has_no_fault() -> None:
    assert len(school().topics) >= 10
    assert len(school().cases) >= 2 * 20


def test_all_faults_are_named_at_once_each_with_file_and_line(folder: Path) -> None:
    change(folder, "topics.toml", 'causes = ["run-over"]', 'causes = ["run-ovr"]')
    change(folder, "cases.toml", 'run.species = "white", catch', 'run.species = "green", catch')
    change(folder, "drills.toml", 'gives = "left.clip_advised_ft"', 'gives = "left.clip_wrong_ft"')
    change(folder, "scenes.toml", 'kind = "plan"', 'kind = "top"')
    change(folder, "plan.toml", "items = 8", "items = 0")
    change(folder, "texts.toml", "hello =", "hallo =")
    found = faults(folder)
    for file, says in {
        "topics.toml": "run-ovr",
        "cases.toml": "green",
        "drills.toml": "left.clip_wrong_ft",
        "scenes.toml": "kind",
        "plan.toml": "items",
        "texts.toml": "hello",
    }.items():
        mine = [fault for fault in found if f"school/{file}:" in fault and says in fault]
        assert mine, (file, found)
        assert int(mine[0].split(":")[1]) > 1


def test_the_captains_spell_checker_reads_the_school_too(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change(folder, "cases.toml", 'lamps.fouled = "yes"', 'lamps.fouled = "perhaps"')
    assert check(folder) == 1
    assert "school/cases.toml:" in capsys.readouterr().out


def test_a_file_that_is_missing_is_named(folder: Path) -> None:
    (folder / "school" / "cases.toml").unlink()
    assert any("school/cases.toml" in fault and "missing" in fault for fault in faults(folder))


def test_a_captain_who_changes_the_sum_changes_question_key_and_explanation(folder: Path) -> None:
    from coach.rulebook.situations import read_situations
    from coach.school.bank import bank_of

    numbers = folder / "numbers.toml"
    text = numbers.read_text(encoding="utf-8")
    numbers.write_text(text.replace("value = 8.0", "value = 7.0", 1), encoding="utf-8")
    book = rulebook.load(folder)
    changed = bank_of(read_school(book, folder), book, read_situations(folder, book))
    before, after = bank().item("number/clip-height"), changed.item("number/clip-height")
    assert before is not None and after is not None
    assert before.wanted is not None and after.wanted is not None
    assert after.wanted.value == before.wanted.value + 1
    assert "less 7 ft" in after.because[0]
