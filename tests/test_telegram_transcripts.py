"""The demo nights on the bot are promises: each replays to the letter (regression of the whole bot)."""

import pytest
from bot_transcripts import FOLDER, replay

PATHS = sorted(FOLDER.glob("*.txt"))


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_the_night_replays_to_the_letter(path):
    assert replay(path.read_text(encoding="utf-8")) == path.read_text(encoding="utf-8")


def test_there_is_a_night():
    assert PATHS
