"""`coach talk`: one line of JSON out for every line in, whatever the line; nothing lost by a kill.

The interface's own text is the authority for keys, commands and idempotency.
"""

import io
import json
import math
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import small_core
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlite_utils import Database

from coach import exchange
from coach.consult import Desk
from coach.front import talk
from coach.store import MEMORY, Store

CHECKOUT = Path(__file__).resolve().parent.parent
KEYS = ["v", "chat", "say", "understood", "hazards", "ask", "verdict", "error"]
DEPTH = b'{"chat": "boat-7", "facts": {"paint.pots": 4}}'


def talked(*lines: bytes | dict[str, Any], path: Path | str = MEMORY, desk: Desk | None = None) -> list[str]:
    """The lines that come back for the lines sent."""
    sent = b"".join(
        (line if isinstance(line, bytes) else json.dumps(line).encode()) + b"\n" for line in lines
    )
    out = io.BytesIO()
    with Store(path) as store:
        talk.run(desk or small_core.desk(store), io.BytesIO(sent), out, clock=lambda: small_core.NOW)
    assert out.getvalue().count(b"\n") == len(lines)
    return out.getvalue().decode().splitlines()


def answers(*lines: bytes | dict[str, Any], path: Path | str = MEMORY) -> list[dict[str, Any]]:
    found = [json.loads(line) for line in talked(*lines, path=path)]
    assert all(list(answer) == KEYS and answer["v"] == 1 for answer in found)
    return found


def message(text: str = "hello", **over: Any) -> dict[str, Any]:
    return {"chat": "boat-7", "text": text} | over


# --- what comes back ---------------------------------------------------------------------------


def test_a_line_in_is_answered_by_a_line_with_every_key() -> None:
    (answer,) = answers(message())
    assert answer == {
        "v": 1, "chat": "boat-7",
        "say": ["You said hello.", "Do this:", "1. Open the lid.", "2. Stir."],
        "understood": {}, "hazards": [],
        "ask": {
            "fact": "paint.colour", "text": "Which colour?", "why": "It tells the pots apart.",
            "type": "choice", "unit": None,
            "options": [{"id": "red", "label": "Red"}, {"id": "dark-blue", "label": "Dark blue"}],
        },
        "verdict": None, "error": None,
    }  # fmt: skip


def test_a_pick_answers_the_open_question_and_the_last_one_brings_the_verdict() -> None:
    picks = [{"chat": "boat-7", "pick": pick} for pick in ("red", 4.5, True)]
    *_, last = found = answers(message(), *picks)
    assert [answer["understood"] for answer in found[1:]] == [
        {"paint.colour": "red"}, {"paint.pots": 4.5}, {"paint.wet": True}
    ]  # fmt: skip
    assert (last["ask"], last["verdict"]) == (None, {"causes": [], "numbers": {}, "set": "brush"})


def test_hazards_come_apart_from_what_is_said() -> None:
    (answer,) = answers(message("shark ahead"))
    assert answer["hazards"] == [{"id": "shark", "say": "A shark is near."}]


def test_chats_do_not_hear_each_other() -> None:
    found = answers(
        message(), {"chat": "boat-8", "facts": {"paint.colour": "red"}}, message(pick="x", text="a")
    )
    assert [answer["ask"]["fact"] for answer in found] == ["paint.colour", "paint.pots", "paint.colour"]


def test_the_clock_in_at_is_used_and_else_the_machines(tmp_path: Path) -> None:
    answers(message(at="2027-02-11T21:05:00-05:00"), message(), path=tmp_path / "a.db")
    rows = Database(tmp_path / "a.db").query("SELECT at FROM turns ORDER BY seq")
    assert [row["at"] for row in rows] == ["2027-02-11T21:05:00-05:00", small_core.NOW.isoformat()]


def test_a_row_says_what_was_said_and_which_rules_fired_on_it(tmp_path: Path) -> None:
    answers({"chat": "boat-7", "facts": {"paint.pots": 4}, "id": "m1"}, path=tmp_path / "a.db")
    row = next(Database(tmp_path / "a.db").query("SELECT said, understood, fired, rules FROM turns"))
    assert {key: row[key] if key == "rules" else json.loads(row[key]) for key in row} == {
        "said": {"facts": {"paint.pots": 4}}, "understood": {"paint.pots": 4},
        "fired": ["rule-of-paint.pots"], "rules": "a-digest",
    }  # fmt: skip


# --- message ids ---------------------------------------------------------------------------------


def test_the_same_id_twice_is_answered_with_the_same_line_and_changes_nothing(tmp_path: Path) -> None:
    sent = {"chat": "boat-7", "facts": {"paint.colour": "réd"}, "id": "m1"}
    first, other, repeat, repeat_with_other_words = talked(
        sent, {"chat": "boat-7", "pick": 4}, sent, message("shark", id="m1"), path=tmp_path / "a.db"
    )
    assert repeat == repeat_with_other_words == first != other
    again, after = talked(sent, {"chat": "boat-7", "pick": True}, path=tmp_path / "a.db")
    assert again == first
    assert json.loads(after)["verdict"]


def test_the_same_id_in_another_chat_is_another_message() -> None:
    first, second = answers(message(id="m1"), message(id="m1", chat="boat-8"))
    assert (first["chat"], second["chat"]) == ("boat-7", "boat-8")


def test_a_refused_message_with_an_id_is_answered_with_the_same_line_later(tmp_path: Path) -> None:
    bad = {"chat": "boat-7", "pick": [1], "id": "m1"}
    first, _, repeat = talked(bad, DEPTH, bad, path=tmp_path / "a.db")
    (restarted,) = talked(bad, path=tmp_path / "a.db")
    assert first == repeat == restarted
    assert json.loads(first)["error"]["code"] == "bad-value"


def test_of_a_refused_message_only_the_answer_is_kept(tmp_path: Path) -> None:
    bad = {"chat": "boat-7", "facts": {"paint.pots": -3}, "id": "m1"}
    (first,) = talked(bad, path=tmp_path / "a.db")
    row = next(Database(tmp_path / "a.db").query("SELECT said, understood, fired, reply FROM turns"))
    assert row == {"said": None, "understood": "{}", "fired": "[]", "reply": first}


def test_a_late_repeat_of_forget_does_not_erase_what_was_said_since(tmp_path: Path) -> None:
    forget = {"chat": "boat-7", "command": "forget", "id": "f1"}
    first, _, repeat, last = talked(message(), forget, DEPTH, forget, message(), path=tmp_path / "a.db")[1:]
    assert repeat == first
    assert json.loads(last)["ask"]["fact"] == "paint.colour"
    with Store(tmp_path / "a.db") as store:
        assert store.look("boat-7").seq == 2


def test_forget_erases_what_was_said_from_the_disk(tmp_path: Path) -> None:
    secret = "Zacharias Quillfeather"
    answers(message(secret, id="m1"), message("and on"), path=tmp_path / "a.db")
    assert secret.encode() in b"".join(file.read_bytes() for file in tmp_path.iterdir())
    answers({"chat": "boat-7", "command": "forget", "id": "f1"}, path=tmp_path / "a.db")
    assert secret.encode() not in b"".join(file.read_bytes() for file in tmp_path.iterdir())


# --- bad input -------------------------------------------------------------------------------------

LONG = "x" * 10**6
HOSTILE: dict[str, tuple[bytes, str]] = {
    "nothing": (b"", "bad-json"),
    "spaces": (b"   ", "bad-json"),
    "broken": (b'{"chat": "boat-7", "text": ', "bad-json"),
    "two objects": (b"{} {}", "bad-json"),
    "a number": (b"3", "bad-json"),
    "a list": (b'[{"chat": "boat-7"}]', "bad-json"),
    "null": (b"null", "bad-json"),
    "NaN": (b'{"chat": "boat-7", "pick": NaN}', "bad-value"),
    "Infinity": (b'{"chat": "boat-7", "pick": -Infinity}', "bad-value"),
    "a key twice": (b'{"chat": "boat-7", "text": "a", "text": "b"}', "bad-json"),
    "a key twice inside": (b'{"chat": "boat-7", "facts": {"a": 1, "a": 2}}', "bad-json"),
    "not UTF-8": (b'{"chat": "boat-7", "text": "\xff\xfe"}', "bad-json"),
    "raw control byte": (b'{"chat": "boat-7", "text": "a\x01b"}', "bad-json"),
    "a zero byte": (b'{"chat": "boat-7", "text": "a\x00b"}', "bad-json"),
    "deep list": (b"[" * 10**5, "bad-json"),
    "deep object": (b'{"a":' * 10**5 + b"1" + b"}" * 10**5, "bad-json"),
    "unknown key": (b'{"chat": "boat-7", "txt": "hello"}', "unknown-key"),
    "unknown key beside": (b'{"chat": "boat-7", "text": "a", "v": 1}', "unknown-key"),
    "no content": (b'{"chat": "boat-7"}', "bad-message"),
    "two contents": (b'{"chat": "boat-7", "text": "a", "pick": 3}', "bad-message"),
    "content beside null": (b'{"chat": "boat-7", "text": "a", "pick": null}', "bad-message"),
    "no chat": (b'{"text": "hello"}', "bad-message"),
    "empty chat": (b'{"chat": "", "text": "a"}', "bad-message"),
    "blank chat": (b'{"chat": "  ", "text": "a"}', "bad-message"),
    "chat a number": (b'{"chat": 7, "text": "a"}', "bad-message"),
    "chat too long": (json.dumps(message(chat="c" * 129)).encode(), "too-long"),
    "chat with control": (b'{"chat": "a\\u0000", "text": "a"}', "bad-value"),
    "chat half a character": (b'{"chat": "\\ud800", "text": "a"}', "bad-value"),
    "id a number": (b'{"chat": "boat-7", "text": "a", "id": 7}', "bad-message"),
    "id empty": (b'{"chat": "boat-7", "text": "a", "id": ""}', "bad-message"),
    "id too long": (json.dumps(message(id="c" * 129)).encode(), "too-long"),
    "text a number": (b'{"chat": "boat-7", "text": 3}', "bad-message"),
    "text null": (b'{"chat": "boat-7", "text": null}', "bad-message"),
    "text too long": (json.dumps(message(LONG)).encode(), "too-long"),
    "text too long, escaped": (json.dumps(message("\u20ac" * 10**6)).encode(), "too-long"),
    "text with escape": (b'{"chat": "boat-7", "text": "a\\u001b[2J"}', "bad-value"),
    "text half a character": (b'{"chat": "boat-7", "text": "a\\udfff"}', "bad-value"),
    "pick null": (b'{"chat": "boat-7", "pick": null}', "bad-value"),
    "pick a list": (b'{"chat": "boat-7", "pick": [1]}', "bad-value"),
    "pick an object": (b'{"chat": "boat-7", "pick": {}}', "bad-value"),
    "pick huge": (b'{"chat": "boat-7", "pick": 1e999}', "bad-value"),
    "pick of many digits": (b'{"chat": "boat-7", "pick": ' + b"9" * 5000 + b"}", "bad-value"),
    "pick out of range": (b'{"chat": "boat-7", "pick": -3}', "out-of-range"),
    "facts a list": (b'{"chat": "boat-7", "facts": [1]}', "bad-message"),
    "facts empty": (b'{"chat": "boat-7", "facts": {}}', "bad-message"),
    "facts with a list": (b'{"chat": "boat-7", "facts": {"a": [1]}}', "bad-value"),
    "facts with null": (b'{"chat": "boat-7", "facts": {"a": null}}', "bad-value"),
    "too many facts": (json.dumps(message(facts={f"a{n}": 1 for n in range(201)})).encode(), "bad-message"),
    "unknown command": (b'{"chat": "boat-7", "command": "news"}', "bad-command"),
    "command a list": (b'{"chat": "boat-7", "command": ["new"]}', "bad-command"),
    "time without zone": (json.dumps(message(at="2027-02-11T21:05:00")).encode(), "bad-time"),
    "a date": (json.dumps(message(at="2027-02-11")).encode(), "bad-time"),
    "no time": (json.dumps(message(at="nine")).encode(), "bad-time"),
    "time a number": (json.dumps(message(at=1802311500)).encode(), "bad-time"),
    "no such hour": (json.dumps(message(at="2027-02-11T25:05:00Z")).encode(), "bad-time"),
    "time before time": (json.dumps(message(at="0001-01-01T00:00:00+14:00")).encode(), "bad-time"),
    "a fault inside": (b'{"chat": "boat-7", "text": "fault"}', "internal"),
}
HOSTILE["too many facts"] = (
    json.dumps({"chat": "boat-7", "facts": {f"a{n}": 1 for n in range(201)}}).encode(), "bad-message"
)  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_bad_input_is_answered_and_leaves_the_chat_as_it_stood(name: str, tmp_path: Path) -> None:
    line, code = HOSTILE[name]
    with Store(tmp_path / "a.db") as store:
        small_core.desk(store).answer(exchange.read(DEPTH), now=small_core.NOW)
        before = store.look("boat-7")
    bad, good = answers(line, message(), path=tmp_path / "a.db")
    assert bad["error"]["code"] == code
    assert bad["error"]["say"].endswith(".")
    assert len(bad["error"]["say"]) < 300
    assert (bad["say"], bad["understood"], bad["hazards"], bad["verdict"]) == ([], {}, [], None)
    assert good["error"] is None
    assert good["ask"]["fact"] == "paint.colour"
    with Store(tmp_path / "a.db") as store:
        assert store.look("boat-7").seq == before.seq + 1
        assert store.look("boat-7").session == before.session


@pytest.mark.parametrize("name", [name for name, (line, _) in HOSTILE.items() if b'"chat": "boat-7"' in line])
def test_an_error_names_its_chat_and_repeats_the_question_that_is_still_open(name: str) -> None:
    line, code = HOSTILE[name]
    _, bad = answers(DEPTH, line)
    assert bad["chat"] == (None if code == "bad-json" else "boat-7")
    assert (bad["ask"] and bad["ask"]["fact"]) == (None if code == "bad-json" else "paint.colour")


def test_an_error_in_a_chat_never_heard_of_asks_nothing() -> None:
    (bad,) = answers({"chat": "nobody", "pick": []})
    assert (bad["chat"], bad["ask"]) == ("nobody", None)


def test_a_line_longer_than_any_message_is_thrown_away_and_the_next_is_heard(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(exchange, "LINE_LIMIT", 1000)
    for length in (1000, 1001, 1002, 2002, 2003, 9999):
        bad, good = answers(b"x" * length, message())
        assert bad["error"]["code"] == "too-long" if length > 1000 else "bad-json"
        assert good["error"] is None


def test_a_last_line_without_its_end_is_answered_too() -> None:
    out = io.BytesIO()
    with Store(MEMORY) as store:
        talk.run(small_core.desk(store), io.BytesIO(DEPTH), out, clock=lambda: small_core.NOW)
    assert json.loads(out.getvalue())["understood"] == {"paint.pots": 4}


def test_a_fault_inside_is_logged_without_what_the_person_said(capsys: pytest.CaptureFixture[str]) -> None:
    answers(message("fault"))
    logged = capsys.readouterr().err
    assert "ZeroDivisionError" in logged
    assert "small_core.py" in logged
    assert "person said" not in logged


def test_a_store_that_fails_is_an_error_and_the_message_may_be_sent_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Store(tmp_path / "a.db") as store:
        desk = small_core.desk(store)
        envelope = exchange.read(json.dumps(message(id="m1")).encode())
        store._pragma("query_only = ON")
        assert json.loads(desk.answer(envelope, now=small_core.NOW).line)["error"]["code"] == "store"
        store._pragma("query_only = OFF")
        assert json.loads(desk.answer(envelope, now=small_core.NOW).line)["error"] is None
    assert "cannot be written" in capsys.readouterr().err


def test_a_chat_kept_by_another_version_can_be_started_afresh(tmp_path: Path) -> None:
    answers(message(), path=tmp_path / "a.db")
    Database(tmp_path / "a.db").execute("UPDATE chats SET session = '{\"mood\": 3}'")
    old, new, after = answers(
        message(), {"chat": "boat-7", "command": "new"}, message(), path=tmp_path / "a.db"
    )
    assert old["error"]["code"] == "old-state"
    assert (new["error"], after["error"]) == (None, None)


def test_an_answer_is_plain_ascii_on_one_line_whatever_it_says() -> None:
    (line,) = talked(message("tides \u2028 and ½ ✓"))
    assert line.isascii()
    assert "tides \u2028 and ½ ✓" in json.loads(line)["say"][0]


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=200).filter(lambda line: b"\n" not in line))
def test_any_bytes_are_answered_by_one_line_with_an_error(line: bytes) -> None:
    (answer,) = answers(line)
    assert answer["error"]["code"] in {"bad-json", "bad-message", "unknown-key"}


SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
VALUES = st.recursive(SCALARS, lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(), inner))


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(st.sampled_from(exchange.KEYS), VALUES))
def test_any_object_is_answered_by_one_line_with_every_key(sent: dict[str, Any]) -> None:
    line = json.dumps(sent).encode()
    (answer,) = answers(line)
    if answer["error"] is None:
        assert math.isfinite(sent.get("pick") or 0) if isinstance(sent.get("pick"), float) else True
        assert exchange.read(line).refusal is None


NOISY = """
import os
from coach.front.talk import answers_only, send
with answers_only() as out:
    print("noise")
    send(out, "an answer")
    os.write(1, b"noise of a library")
    send(out, "another")
"""


def test_what_libraries_print_does_not_come_between_the_answers() -> None:
    run = subprocess.run(
        [sys.executable, "-c", NOISY], cwd=CHECKOUT, capture_output=True, text=True, check=True
    )
    assert run.stdout == "an answer\nanother\n"
    assert run.stderr.count("noise") == 2


def test_the_clock_has_the_zone_of_this_machine() -> None:
    assert abs((talk.local_now() - datetime.now(UTC)).total_seconds()) < 60
