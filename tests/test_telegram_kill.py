"""Killed at any moment, the bot loses no message, does nothing twice, and keeps each chat's order.

Few kills here; `python tests/bench_telegram.py kill` makes a hundred in each mode.
"""

from pathlib import Path

import pytest
from kill_loops import kill_loop

KILLS = 2


@pytest.mark.parametrize("mode", ["polling", "webhook"])
def test_a_bot_killed_again_and_again_loses_nothing_and_does_nothing_twice(mode: str, tmp_path: Path) -> None:
    found = kill_loop(tmp_path, mode, kills=KILLS, seed=5)
    assert (found.lost, found.twice, found.out_of_order, found.bells_lost) == (0, 0, 0, 0)
    assert found.repeated + found.bells_repeated <= KILLS
    assert not found.wrong
