"""Typed lines: kept in order, cut back, and erased so that no byte of them stays in the file."""

import os
from pathlib import Path

import pytest
import small_core

from coach import folders, typed
from coach.conversation import Message
from coach.exchange import Envelope
from coach.store import MEMORY, Store, StoreError

SECRET = "behind gull point"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path


def kept_for(store: str, chat: str) -> Path:
    file = typed.file_of(store, chat)
    assert file is not None
    return file


def test_lines_come_back_in_order_each_on_one_line(home: Path) -> None:
    file = kept_for(str(home / "a.db"), "me")
    assert typed.lines(file) == []
    for line in ("one", "two\nand a half", "½ a \ud800 sign"):
        typed.add(file, line)
    assert typed.lines(file) == ["one", "two and a half", "½ a ? sign"]


def test_each_chat_of_each_store_has_its_own_file_however_the_store_is_named(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(home)
    assert kept_for("a.db", "me") == kept_for(str(home / "x" / ".." / "a.db"), "me")
    assert len({kept_for(store, chat) for store in ("a.db", "b.db") for chat in ("me", "ben")}) == 4
    assert typed.file_of(MEMORY, "me") is None


def test_a_long_file_is_cut_back_to_its_newest_lines(home: Path) -> None:
    file = kept_for("a.db", "me")
    for number in range(2 * typed.LINES + 1):
        typed.add(file, f"line {number}")
    newest = [f"line {number}" for number in range(typed.LINES + 1, 2 * typed.LINES + 1)]
    assert typed.lines(file) == newest
    assert file.read_text() == "".join(f"{line}\n" for line in newest)


def test_erasing_writes_over_the_bytes_and_not_only_lets_go_of_them(home: Path) -> None:
    file = kept_for("a.db", "me")
    typed.add(file, SECRET)
    os.link(file, home / "second name")
    typed.erase(file)
    assert not file.exists()
    assert (home / "second name").read_bytes() == b""
    typed.erase(file)  # once more does no harm


def test_forgetting_a_chat_through_any_front_end_erases_its_lines_and_those_of_no_other(home: Path) -> None:
    with Store(home / "a.db") as store:
        desk = small_core.desk(store)
        for chat in ("me", "ben"):
            desk.answer(Envelope(chat, message=Message(text="hello")), now=small_core.NOW)
            typed.add(kept_for(store.path, chat), SECRET)
        desk.answer(Envelope("me", message=Message(command="forget")), now=small_core.NOW)
    assert not kept_for(str(home / "a.db"), "me").exists()
    assert kept_for(str(home / "a.db"), "ben").exists()


def test_lines_that_cannot_be_erased_are_said_and_the_chat_is_deleted_all_the_same(home: Path) -> None:
    with Store(home / "a.db") as store:
        desk = small_core.desk(store)
        desk.answer(Envelope("me", message=Message(text=SECRET)), now=small_core.NOW)
        file = kept_for(store.path, "me")
        file.mkdir(parents=True)
        with pytest.raises(StoreError) as raised:
            store.forget("me")
        assert str(raised.value) == (
            f"{file}: the chat is deleted, but not the lines typed for it: Is a directory. Delete that file."
        )
        assert store.look("me").seq == 0
    assert SECRET.encode() not in (home / "a.db").read_bytes()


def test_where_no_home_is_known_nothing_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_home(*_: object) -> Path:
        raise RuntimeError("no home")

    monkeypatch.setenv("XDG_STATE_HOME", "relative/is/ignored")
    monkeypatch.setattr(Path, "home", no_home)
    with pytest.raises(folders.NoHome):
        folders.state()
    assert typed.file_of("a.db", "me") is None
