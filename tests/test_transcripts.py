"""The demo conversations are promises: each replays to the letter (regression of the whole chat)."""

import pytest
from transcripts import FOLDER, replay

PATHS = sorted(FOLDER.glob("*.txt"))


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_the_conversation_replays_to_the_letter(path):
    assert replay(path.read_text()) == path.read_text()


def test_there_are_demo_conversations():
    assert len(PATHS) >= 3
