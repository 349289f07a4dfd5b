"""What the store promises. The outside authority is SQLite's own documentation where it is named
(pragma.html, wal.html: MEMORY); everything else is a promise of ours, checked from outside."""

import json
import random
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from leftovers import bytes_on_disk
from sqlite_utils import Database

from coach import store as module
from coach.store import MEMORY, Standing, Store, StoreError, Turn, default_path

SECRET = "Zacharias-Quillfeather-lost-his-anchor"


def turn(chat: str = "boat-7", message_id: str | None = None, **over: object) -> Turn:
    row = {
        "chat": chat, "id": message_id, "at": "2027-02-11T21:05:00+00:00", "said": '{"text": "hello"}',
        "understood": "{}", "fired": "[]", "reply": '{"ask": null}', "rules": "digest",
    }  # fmt: skip
    return Turn(**(row | over))  # type: ignore[arg-type]


def say(store: Store, chat: str = "boat-7", message_id: str | None = None, **over: object) -> None:
    before = store.look(chat)
    assert store.keep(turn(chat, message_id, **over), f'{{"seq": {before.seq + 1}}}', after=before)


def test_a_chat_never_heard_of_stands_at_nothing() -> None:
    with Store(MEMORY) as store:
        assert store.look("boat-7", "any-id") == Standing(0, None, None, None, None)


def test_a_turn_is_found_again_after_the_store_was_closed(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        say(store, reply="first")
        say(store, reply="second")
    with Store(tmp_path / "a.db") as store:
        found = Standing(2, '{"seq": 2}', "second", "2027-02-11T21:05:00+00:00", None)
        assert store.look("boat-7") == found


def test_everything_about_a_turn_is_in_its_row(tmp_path: Path) -> None:
    given = turn(message_id="m1", understood='{"a": 1}', fired='["r"]', reply="line", rules="d", changed="{}")
    with Store(tmp_path / "a.db") as store:
        store.keep(given, "state", after=Standing())
    row = next(Database(tmp_path / "a.db").query("SELECT * FROM turns"))
    assert row == {
        "chat": "boat-7", "seq": 1, "id": "m1", "at": given.at, "said": given.said,
        "understood": '{"a": 1}', "fired": '["r"]', "reply": "line", "rules": "d",
        "changed": "{}",
    }  # fmt: skip


def test_a_message_id_finds_the_answer_it_was_given_in_its_own_chat_only(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        say(store, message_id="m1", reply="first")
        say(store, message_id="m2", reply="second")
        assert store.look("boat-7", "m1").repeat == "first"
        assert store.look("boat-7", "m3").repeat is None
        assert store.look("boat-8", "m1").repeat is None


def test_the_file_is_kept_as_promised(tmp_path: Path) -> None:
    # pragma.html (MEMORY): synchronous 2 is FULL; secure_delete 1 is ON; table_list has a column strict
    with Store(tmp_path / "a.db") as store:
        pragma = store._pragma
        assert (pragma("journal_mode"), pragma("synchronous"), pragma("secure_delete")) == ("wal", 2, 1)
        assert pragma("busy_timeout") == module.BUSY_MS
        tables = Database(tmp_path / "a.db").query("PRAGMA table_list")
        ours = {row["name"]: row["strict"] for row in tables if not row["name"].startswith(("sqlite", "_"))}
        assert {"chats", "turns", "forgotten"} <= ours.keys()
        assert set(ours.values()) == {1}
    assert (tmp_path / "a.db").stat().st_mode & 0o777 == 0o600


def test_a_turn_that_cannot_be_written_leaves_the_state_where_it_was(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        say(store)
        before = store.look("boat-7")
        with pytest.raises(StoreError, match="NOT NULL"):
            store.keep(turn(reply=None), "another state", after=before)
        assert store.look("boat-7") == before


def test_a_turn_worked_out_from_an_old_state_is_not_kept(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        old = store.look("boat-7")
        say(store)
        assert not store.keep(turn(reply="late"), "late state", after=old)
        assert store.look("boat-7").session == '{"seq": 1}'


def test_a_turn_that_changed_nothing_also_moves_the_chat_on(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        say(store)
        old = store.look("boat-7")
        assert store.keep(turn(message_id="m1"), old.session, after=old)
        assert not store.keep(turn(message_id="m2"), old.session, after=old)


def test_a_turn_worked_out_before_the_chat_was_forgotten_is_not_kept(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        say(store)
        old = store.look("boat-7")
        store.forget("boat-7")
        store.keep(turn(), "another life", after=store.look("boat-7"))
        assert not store.keep(turn(), "late state", after=old)


def test_forgetting_leaves_no_byte_of_what_was_said(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        for number in range(60):
            say(store, "boat-7", f"m{number}", said=f"{number} {SECRET} " * (1 + 40 * (number % 5)))
            say(store, "boat-8", f"m{number}", said=f"{number} other")
        assert SECRET.encode() in bytes_on_disk(tmp_path)
        store.forget("boat-7", message_id="the-last", reply="forgotten")
        assert SECRET.encode() not in bytes_on_disk(tmp_path)
        assert b"boat-7" not in bytes_on_disk(tmp_path)
        assert store.look("boat-7") == Standing()
        assert store.look("boat-8").seq == 60
    assert SECRET.encode() not in bytes_on_disk(tmp_path)


@pytest.mark.parametrize("seed", [30, 44, 81])
def test_forgetting_also_finds_the_copies_that_moving_rows_left_behind(seed: int, tmp_path: Path) -> None:
    """Seeds for which SQLite's secure_delete alone left copies of what was said (7 of 200 did)."""
    chance = random.Random(seed)
    with Store(tmp_path / "a.db") as store:
        for number in range(chance.randint(20, 300)):
            chat = chance.choice(["boat-7", "boat-8", "boat-9"])
            said = (f"{SECRET} " if chat == "boat-7" else "hello ") * chance.choice([1, 3, 10, 40, 100, 400])
            named = None if chance.random() < 0.3 else f"m{number}"
            row = turn(chat, named, said=said, reply=said[: chance.randint(0, len(said))])
            store.keep(row, said[: chance.randint(1, len(said))], after=store.look(chat))
        store.forget("boat-7")
        assert SECRET[:8].encode() not in bytes_on_disk(tmp_path)


def test_a_late_repeat_of_forget_finds_its_answer_and_need_not_delete_again(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        say(store)
        store.forget("boat-7", message_id="f1", reply="forgotten")
        say(store)
        assert store.look("boat-7", "f1").repeat == "forgotten"
        assert store.look("boat-7").seq == 1


def test_sweeping_that_was_cut_short_is_made_up_for_at_the_next_opening(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut(self: Store) -> None:
        raise sqlite3.OperationalError("cut short")

    with Store(tmp_path / "a.db") as store, monkeypatch.context() as patched:
        for number in range(60):
            say(store, said=f"{number} {SECRET} " * 60)
        patched.setattr(Store, "_sweep", cut)
        with pytest.raises(StoreError, match="deleted, but its traces"):
            store.forget("boat-7")
        assert store.look("boat-7") == Standing()
        shutil.copytree(tmp_path, tmp_path / "as-after-a-kill")
    assert SECRET.encode() in bytes_on_disk(tmp_path / "as-after-a-kill")
    with Store(tmp_path / "as-after-a-kill" / "a.db"):
        assert SECRET.encode() not in bytes_on_disk(tmp_path / "as-after-a-kill")


def test_forgetting_while_another_program_reads_is_reported_and_done_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "BUSY_MS", 50)
    with Store(tmp_path / "a.db") as store:
        say(store, said=SECRET)
        reader = sqlite3.connect(tmp_path / "a.db", isolation_level=None)
        reader.execute("BEGIN")
        reader.execute("SELECT * FROM turns").fetchall()
        with pytest.raises(StoreError, match="not yet swept out"):
            store.forget("boat-7")
        reader.close()
    Store(tmp_path / "a.db").close()
    assert SECRET.encode() not in bytes_on_disk(tmp_path)


def test_a_copy_of_the_files_between_any_two_turns_opens_with_every_turn_before_it(tmp_path: Path) -> None:
    """What a power cut leaves, if the disk honours sync: the files as they were after a commit."""
    copy = tmp_path / "copy"
    copy.mkdir()
    with Store(tmp_path / "a.db") as store:
        for number in range(1, 41):
            say(store, said="x" * 500 * number)
            for name in ("a.db", "a.db-wal"):
                (copy / name).write_bytes((tmp_path / name).read_bytes())
            (copy / "a.db-shm").unlink(missing_ok=True)
            with Store(copy / "a.db") as cut:
                assert cut.look("boat-7").seq == number
                assert cut._pragma("integrity_check") == "ok"


def test_a_store_of_the_oldest_form_is_brought_up_to_date_with_its_turns(tmp_path: Path) -> None:
    old = Database(tmp_path / "a.db")
    module.migrations.apply(old, stop_before="0002-forgotten")
    old.execute(f"PRAGMA application_id = {module.APPLICATION_ID}")
    old.table("chats").insert({"chat": "boat-7", "seq": 1, "session": "{}"})
    row = {"chat": "boat-7", "seq": 1, "id": "m1", "at": "t", "said": "s"}
    old.table("turns").insert(row | {"understood": "", "fired": "", "reply": "old", "rules": ""})
    old.close()
    with Store(tmp_path / "a.db") as store:
        assert store.look("boat-7", "m1") == Standing(1, "{}", "old", "t", "old")
        store.forget("boat-7", message_id="f1", reply="gone")
        assert store.look("boat-7", "f1").repeat == "gone"


# --- files that cannot be used: one line that says which, why and what to do -------------------


def refusal(path: Path | str) -> str:
    with pytest.raises(StoreError) as caught:
        Store(path)
    assert str(path).replace("\0", "") in str(caught.value).replace("\0", "")
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_file_that_is_no_database_is_named_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "a.db").write_bytes(b"a shopping list " * 100)
    assert "not a store" in refusal(tmp_path / "a.db")
    assert (tmp_path / "a.db").read_bytes() == b"a shopping list " * 100


def test_a_damaged_file_is_named(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        say(store)
    whole = (tmp_path / "a.db").read_bytes()
    (tmp_path / "a.db").write_bytes(whole[:100] + b"\xff" * (len(whole) - 100))
    assert "damaged" in refusal(tmp_path / "a.db")


def test_a_database_of_another_program_is_left_alone(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / "a.db") as other:
        other.execute("CREATE TABLE recipes (name TEXT)")
    other.close()
    before = (tmp_path / "a.db").read_bytes()
    assert "belongs to another program" in refusal(tmp_path / "a.db")
    assert (tmp_path / "a.db").read_bytes() == before


def test_a_store_of_a_newer_version_is_left_alone(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        row = {"migration_set": "coach", "name": "9999-later", "applied_at": "later"}
        store._db.table("_sqlite_migrations").insert(row)
    assert "newer version" in refusal(tmp_path / "a.db")


def test_a_folder_or_a_path_through_a_file_or_an_impossible_name_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    assert "directory" in refusal(tmp_path).casefold()
    assert "File exists" in refusal(tmp_path / "file" / "a.db")
    assert "null" in refusal("a\0b")
    assert "No such file" in refusal("/proc/none/a.db")


def test_a_file_held_by_another_program_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "BUSY_MS", 50)
    Store(tmp_path / "a.db").close()
    holder = sqlite3.connect(tmp_path / "a.db", isolation_level=None)
    holder.execute("PRAGMA locking_mode = EXCLUSIVE")
    holder.execute("BEGIN EXCLUSIVE")
    assert "another program holds it" in refusal(tmp_path / "a.db")
    holder.close()
    Store(tmp_path / "a.db").close()


def test_a_store_that_may_not_be_written_says_so_and_still_reads(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        say(store)
        store._pragma("query_only = ON")  # what a read-only file or disk answers, also to root
        with pytest.raises(StoreError, match="cannot be written"):
            store.keep(turn(), "state", after=store.look("boat-7"))
        assert store.look("boat-7").seq == 1


FILL = """
import resource, sys
from coach.store import *
store = Store(sys.argv[1])
size = 800_000
resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
kept = 0
try:
    while True:
        before = store.look("boat-7")
        store.keep(Turn("boat-7", None, "t", "x" * 5000, "{}", "[]", "line", "d"), "s", after=before)
        kept += 1
except StoreError as error:
    assert store.look("boat-7").seq == kept
    print(kept, error)
"""


def test_a_full_disk_is_reported_and_loses_no_turn_that_was_kept(tmp_path: Path) -> None:
    """A limit on the size of files stands in for the full disk."""
    run = [sys.executable, "-c", FILL, str(tmp_path / "a.db")]
    told = subprocess.run(run, capture_output=True, text=True, check=True, timeout=60).stdout
    kept, _, say = told.partition(" ")
    assert int(kept) > 5
    assert "the disk" in say
    with Store(tmp_path / "a.db") as store:
        assert store.look("boat-7").seq == int(kept)
        assert store._pragma("integrity_check") == "ok"


# --- several programs at once -------------------------------------------------------------------

MANY = """
import sys
from coach.store import *
path, who, turns = sys.argv[1], sys.argv[2], int(sys.argv[3])
with Store(path) as store:
    for number in range(turns):
        while True:
            before = store.look("boat-7")
            row = Turn("boat-7", f"{who}-{number}", "t", "s", "{}", "[]", "line", "d")
            if store.keep(row, (before.session or "") + who, after=before):
                break
"""


def test_programs_that_share_a_store_lose_no_turn_of_a_chat(tmp_path: Path) -> None:
    """Four start at once on a store that does not exist yet; the state is built on every turn."""
    path = str(tmp_path / "a.db")
    programs = [subprocess.Popen([sys.executable, "-c", MANY, path, who, "25"]) for who in "abcd"]
    assert [program.wait(60) for program in programs] == [0, 0, 0, 0]
    with Store(path) as store:
        found = store.look("boat-7")
        assert found.seq == 100
        assert sorted(found.session or "") == sorted("abcd" * 25)
        assert all(store.look("boat-7", f"{who}-{number}").repeat for who in "abcd" for number in range(25))


# --- its place --------------------------------------------------------------------------------


def test_the_default_place_follows_the_users_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    # XDG Base Directory Specification (MEMORY): default ~/.local/share, relative paths are ignored
    monkeypatch.setenv("HOME", "/home/ada")
    monkeypatch.setenv("XDG_DATA_HOME", "/data")
    assert default_path() == Path("/data/lampcoach/coach.db")
    for useless in ("", "relative/folder"):
        monkeypatch.setenv("XDG_DATA_HOME", useless)
        assert default_path() == Path("/home/ada/.local/share/lampcoach/coach.db")


def test_the_last_folder_on_the_way_to_the_store_is_made(tmp_path: Path) -> None:
    Store(tmp_path / "one" / "a.db").close()
    assert (tmp_path / "one" / "a.db").exists()


def test_a_store_in_memory_leaves_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with Store(MEMORY) as store:
        say(store)
        store.forget("boat-7")
        say(store, said=json.dumps(SECRET))
        assert store.look("boat-7").seq == 1
    assert list(tmp_path.iterdir()) == []


def test_a_store_in_folders_that_are_not_there_is_refused_and_makes_none(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="there is no folder"):
        Store(tmp_path / "slip" / "of" / "coach.db")
    assert not (tmp_path / "slip").exists()
