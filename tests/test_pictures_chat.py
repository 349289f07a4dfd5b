"""In the terminal chat: the set in words at any moment, as files in a folder, the card, the trip so far."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from picture_scenes import NOW

from coach import rulebook
from coach.consult import Desk
from coach.dialogue import step
from coach.front.terminal import Terminal, run
from coach.pages import Pages
from coach.plain import PlainEvaluator
from coach.store import MEMORY, Store

BOOK = rulebook.load()
TOO_HIGH = (
    "11 ft deep, both lamps clipped at 6.5 ft, the water has not fallen since",
    "we see them deep under the boat and the others catch",
)


@pytest.fixture
def desk() -> Iterator[Desk]:
    with Store(MEMORY) as store:
        yield Desk(store, BOOK, infer=PlainEvaluator(rulebook.clauses(BOOK)).evaluate, step=step)


def chat(desk: Desk, *lines: str, pictures: Path | None = None) -> str:
    """What the terminal shows for these lines."""
    shown: list[str] = []
    typed = iter([*lines, "bye"])
    minutes = iter(range(10_000))
    terminal = Terminal(
        lambda: next(typed), shown.append, lambda: 100, lambda: NOW + timedelta(seconds=next(minutes))
    )
    run(desk, "me", terminal, pictures=pictures)
    return "\n".join(shown)


def until_verdict(desk: Desk, *, pictures: Path | None = None) -> str:
    return chat(desk, *TOO_HIGH, *["?"] * 25, pictures=pictures)


def test_picture_tells_the_set_in_words_and_the_question_stays_open(desk: Desk) -> None:
    shown = chat(desk, "11 ft deep, both lamps clipped at 6.5 ft", "picture", "picture from above")
    assert "Now, clipped at 6.5 ft, it hangs 4.5 ft down: 2 ft dark above its light, 4 ft beneath." in shown
    assert "The set from above, you facing the lamps." in shown
    before = desk.standing("me")
    chat(desk, "picture", "card", "log")
    assert desk.standing("me") == before  # nothing was said to the coach


def test_a_verdict_is_drawn_into_the_folder_and_the_lines_say_where(desk: Desk, tmp_path: Path) -> None:
    folder = tmp_path / "pictures"
    shown = until_verdict(desk, pictures=folder)
    files = sorted(folder.iterdir())
    assert [file.name for file in files] == ["20270211-2150-side.png"]  # nothing is known of the circles
    assert all(file.read_bytes().startswith(b"\x89PNG") for file in files)
    assert all(f"File: {file}" in shown for file in files)


def test_without_a_folder_nothing_is_written(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    until_verdict(desk)
    chat(desk, "picture", "card")
    assert not list(tmp_path.iterdir())


def test_the_verdicts_picture_shows_now_and_after(desk: Desk) -> None:
    until_verdict(desk)
    store, book, infer = desk.parts
    picture = Pages(store, book, infer=infer).picture("me", now=NOW + timedelta(minutes=1))
    assert picture.kind == "side"
    assert any("After, clipped at 3 ft, it hangs 8 ft down" in sentence for sentence in picture.words)


def test_card_and_log_are_words_at_any_moment_and_files_with_a_folder(desk: Desk, tmp_path: Path) -> None:
    shown = chat(desk, *TOO_HIGH, "card", "log", pictures=tmp_path)
    assert "Tonight's card" in shown
    assert "One thing to do differently:" in shown
    assert {file.suffix for file in tmp_path.iterdir()} >= {".html", ".pdf"}


def test_a_folder_that_cannot_be_written_is_said_and_the_talk_goes_on(desk: Desk, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    shown = chat(desk, "11 ft deep, both lamps clipped at 6.5 ft", "picture", "summary", pictures=blocked)
    assert "file" in shown
    assert "What I know:" in shown


def test_words_that_only_begin_like_a_page_are_talk(desk: Desk) -> None:
    shown = chat(desk, "picture this, nothing all night")
    assert "The set from above" not in shown


def test_an_empty_log_says_so(desk: Desk) -> None:
    assert "Nothing is in the log of this trip yet." in chat(desk, "log")
