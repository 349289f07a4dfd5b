"""The demo lessons are promises: each replays to the letter (regression of the whole school)."""

import pytest
from school_transcripts import FOLDER, replay

PATHS = sorted(FOLDER.glob("*.txt"))


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_the_lesson_replays_to_the_letter(path):
    text = path.read_text(encoding="utf-8")
    assert replay(text) == text


def test_a_first_lesson_and_a_role_play_are_shown():
    assert {path.stem for path in PATHS} >= {"first_lesson", "role_play"}
