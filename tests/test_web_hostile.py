"""What people and programs may send to `coach web`: hostile words, too much, too strange, at once.

The page's addresses are asked in-process; a few requests that no library would send go to a real one.
"""

import json
import logging
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
from browsers import CONSULTATION, ORIGIN, Browser, Ship
from hypothesis import given, settings
from hypothesis import strategies as some
from pages import PageProcess

from coach.__main__ import main
from coach.front.web.address import Address, AddressError
from coach.front.web.posted import BODY_LIMIT
from coach.model import Rulebook

HOSTILE = (
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "javascript:alert(1)", "{{7*7}}",
    "</svg><script>alert(1)</script>", "=cmd|' /C calc'!A0", "'; DROP TABLE turns; --", "%00../../etc/passwd",
    "\u202eevil\u2028line", "<style>*{display:none}</style>", "&lt;b&gt;",
)  # fmt: skip
SECRET = "Quillfeather-lost-her-oar"
def message(**more: Any) -> str:
    return json.dumps({"id": "a-message-of-ours", "do": "say", "what": "it faded", **more})


# --- hostile words -------------------------------------------------------------------------------------


@pytest.mark.parametrize("hostile", HOSTILE)
@pytest.mark.parametrize(
    "do", ["say", "place", "draft", "battery", "here", "pick", "count", "command", "found"]
)
def test_hostile_words_come_back_as_words_or_not_at_all(browser: Browser, hostile: str, do: str) -> None:
    about = hostile[:32]
    posted = json.dumps(
        {"id": "a-hostile-message", "do": do, "what": hostile, "about": about if do != "say" else ""}
    )
    answer = browser.post(posted)
    assert answer.status_code in (200, 422)
    assert answer.headers["content-type"] == "application/json"
    for path in ("/card", "/picture/plan"):
        page = browser.get(path).text
        assert "<script" not in page
        assert "onerror" not in page
    if do == "say" and answer.status_code == 200:
        assert browser.state()["log"][-1]["told"] == hostile


def test_a_hostile_place_is_no_markup_on_the_card_and_no_formula_in_the_table(ship: Ship) -> None:
    browser = ship.browser()
    browser.consult()
    with ship.store.reading() as rows:
        (boat,) = [row[0] for row in rows.execute("SELECT boat FROM browsers")]
    for name in ("<b>=1+1</b>", "=HYPERLINK(1)", "@SUM(1)"):
        with ship.store.writing() as rows:
            rows.execute("DELETE FROM places")
            rows.execute(
                "INSERT INTO places VALUES (?, '2020-01-01T00:00:00+00:00', ?, NULL, NULL)", (boat, name)
            )
            rows.execute("UPDATE places SET at = (SELECT min(at) FROM turns)")
        assert "<b>=1" not in browser.get("/card").text
        table = browser.get("/trips/trips.csv").text
        assert name in table
        assert not re.search(r'(^|,)"?[=@]', table, re.MULTILINE)


@pytest.mark.parametrize(
    "path",
    ["/../coach.db", "/..%2f..%2fetc/passwd", "/static/app.js", "/app.js/", "/picture/../../x",
     "/picture/%2e%2e%2fa", "/trips/..%2fcoach.db", "/in/...", "/%00", "/.git/config", "/index.html",
     "/words.py"],
)  # fmt: skip
def test_no_path_leads_to_a_file(browser: Browser, path: str) -> None:
    assert browser.get(path).status_code in (403, 404)


# --- too much, too strange -----------------------------------------------------------------------------


def test_a_message_that_is_too_large_is_refused_and_nothing_is_lost(
    browser: Browser, caplog: pytest.LogCaptureFixture
) -> None:
    browser.say("it faded")
    before = browser.state()["log"]
    assert browser.post(message(what=SECRET * 1000)).status_code == 413
    assert browser.state()["log"] == before
    assert "413 too-long" in caplog.text
    assert SECRET not in caplog.text


def test_a_large_message_that_hides_its_length_is_refused_too(browser: Browser) -> None:
    async def pieces() -> Any:
        for _ in range(BODY_LIMIT // 1000 + 2):
            yield b"a" * 1000

    key = browser.state()["key"]
    headers = {"origin": ORIGIN, "content-type": "application/json", "x-coach-key": key}
    assert browser.ask("POST", "/do", content=pieces(), headers=headers).status_code == 413


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"null", b"[]", b"\xff\xfe", b'"text"', b"[" * 15_000, b'{"id":1}', b"{}",
     b'{"id":"a-good-name","do":"rob"}', b'{"id":"a-good-name","do":"say","what":7}',
     b'{"id":"a-good-name","do":"say","what":"a","extra":1}', b'{"id":"short","do":"say"}',
     b'{"id":"a-good-name","do":"say","what":"a\\u0000b"}',
     b'{"id":"a-good-name","do":"say","what":"\\ud800"}',
     b'{"id":"a-good-name","do":"say","age_s":-1}', b'{"id":"a-good-name","do":"say","age_s":NaN}',
     b'{"id":"a-good-name","id":"a-good-name","do":"say"}', b'{"id":"a-good-name","do":"say","age_s":1e999}'],
)  # fmt: skip
def test_a_message_that_is_none_is_refused_with_what_is_wrong(browser: Browser, body: bytes) -> None:
    answer = browser.post(body)
    assert answer.status_code == 422
    assert answer.json()["error"]["say"]
    assert browser.state()["log"] == []


def test_refusals_are_logged_without_what_was_sent(
    browser: Browser, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG, "coach.web")
    browser.post(json.dumps({"id": SECRET, "do": SECRET, "what": SECRET, SECRET: SECRET}))
    browser.ask("GET", f"/{SECRET}", headers={"host": SECRET})
    browser.ask(SECRET, "/do")
    browser.post(message(what=SECRET), key=SECRET)
    browser.post(message(what=SECRET), origin=f"http://{SECRET}")
    assert len(caplog.records) == 5
    assert SECRET not in caplog.text


def test_a_fault_of_ours_is_answered_and_logged_without_what_was_said(
    browser: Browser, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def breaks(*_: object, **__: object) -> None:
        raise RuntimeError(SECRET)

    monkeypatch.setattr(browser.ship.web._office, "handle", breaks)
    answer = browser.post(message())
    assert (answer.status_code, answer.json()["error"]["code"]) == (500, "internal")
    assert SECRET not in caplog.text + answer.text
    assert "RuntimeError at" in caplog.text


def test_a_store_that_cannot_be_written_keeps_the_message_for_another_try(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    from coach.store import StoreError

    def full(*_: object, **__: object) -> None:
        raise StoreError("the disk is full. Make room and try again.")

    with monkeypatch.context() as patch:
        patch.setattr(browser.ship.store, "keep", full)
        assert browser.post(message()).status_code == 503
    assert browser.post(message()).status_code == 200
    assert [row["told"] for row in browser.state()["log"]] == ["it faded"]


# --- whatever may come ---------------------------------------------------------------------------------

WORDS = some.one_of(
    some.text(max_size=60), some.sampled_from([*HOSTILE, *CONSULTATION, "b3 s5", "1", "?", ""])
)
DOINGS = ("say", "pick", "unknown", "command", "count", "uncount", "bell", "found", "helped", "place", "here",
          "draft", "battery")  # fmt: skip
COMMANDS = ("why", "undo", "clear", "summary", "new", "forget", "metric", "us units")


@pytest.fixture(scope="module")
def afloat(shipped: Rulebook, plain: Any) -> Iterator[Browser]:
    ship = Ship(":memory:", shipped, plain)
    yield ship.browser()
    ship.store.close()


@settings(max_examples=150)
@given(
    do=some.sampled_from(DOINGS),
    what=some.one_of(WORDS, some.sampled_from(COMMANDS), some.integers(-1, 99).map(str)),
    about=some.one_of(some.just("right"), some.text(max_size=34), some.integers(0, 9).map(str)),
    age=some.floats(0, 1e6),
)
def test_no_message_breaks_the_page(afloat: Browser, do: str, what: str, about: str, age: float) -> None:
    state = afloat.state()
    token = state["ask"]["token"] if state["ask"] else ""
    posted = {"id": f"fuzz-{next(Browser.ids):08d}", "do": do, "what": what, "age_s": age,
              "about": token if about == "right" else about}  # fmt: skip
    answer = afloat.post(json.dumps(posted), key=state["key"])
    assert answer.status_code in (200, 422)
    after = afloat.get("/state")
    assert after.status_code == 200
    assert "NaN" not in after.text


@settings(max_examples=80)
@given(body=some.one_of(some.binary(max_size=80), some.recursive(
    some.none() | some.booleans() | some.floats() | some.text(max_size=8),
    lambda inner: some.lists(inner, max_size=3) | some.dictionaries(some.text(max_size=8), inner, max_size=3),
).map(lambda value: json.dumps(value).encode())))  # fmt: skip
def test_no_bytes_break_the_page(afloat: Browser, body: bytes) -> None:
    assert afloat.post(body).status_code in (200, 422)


@settings(max_examples=80)
@given(
    path=some.text(some.characters(codec="utf-8", exclude_characters="?#"), max_size=20),
    query=some.text(some.characters(codec="ascii"), max_size=12),
    headers=some.dictionaries(
        some.sampled_from(["cookie", "origin", "sec-fetch-site", "if-none-match", "range", "content-length"]),
        some.text(some.characters(min_codepoint=32, max_codepoint=126), max_size=12), max_size=2,
    ),
)  # fmt: skip
def test_no_request_breaks_the_page(afloat: Browser, path: str, query: str, headers: dict[str, str]) -> None:
    from urllib.parse import quote

    answer = afloat.ask("GET", f"/{quote(path)}?{quote(query)}&most={quote(query)}", headers=headers)
    assert answer.status_code < 500


# --- a real one ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "sent",
    [b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", b"GET\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n",
     b"\r\n\r\nhello\r\n\r\n",
     b"GET / HTTP/1.1\r\n\r\n", b"GET / HTTP/1.1\r\nHost: a\r\nHost: 127.0.0.1:8321\r\n\r\n",
     b"POST /do HTTP/1.1\r\nHost: h\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
     b"POST /do HTTP/1.1\r\nHost: h\r\nContent-Length: -5\r\n\r\n",
     b"GET /" + b"a" * 20_000 + b" HTTP/1.1\r\nHost: h\r\n\r\n",
     b"GET / HTTP/1.1\r\nHost: h\r\nCookie: " + b"a" * 60_000 + b"\r\n\r\n"],
    ids=["tls", "no version", "version 9", "no method", "no host", "two hosts", "two lengths",
         "negative length", "long path", "long cookie"],
)  # fmt: skip
def test_what_is_no_proper_request_is_turned_away_and_the_page_goes_on(
    page: PageProcess, sent: bytes
) -> None:
    assert page.raw(sent) in (0, 400, 421, 431)
    host = f"127.0.0.1:{page.port}".encode()
    assert page.raw(b"GET / HTTP/1.1\r\nHost: " + host + b"\r\nConnection: close\r\n\r\n") == 200


@pytest.mark.parametrize(
    "path", ["/../coach.db", "//app.js", "/static/../app.py", "/in/../app.js", "http://x/app.js"]
)
def test_no_path_written_raw_leads_to_a_file(page: PageProcess, path: str) -> None:
    sent = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\nConnection: close\r\n\r\n"
    assert page.raw(sent.encode()) in (403, 404)


def test_messages_that_come_at_once_are_each_done_once(page: PageProcess) -> None:
    jar = httpx.get(page.link).cookies

    def post(message: dict[str, str]) -> int:
        with httpx.Client(base_url=page.origin, cookies=jar, timeout=30) as client:
            key = client.get("/state").json()["key"]
            headers = {"origin": page.origin, "x-coach-key": key}
            return client.post("/do", json=message, headers=headers).status_code

    taps = [{"id": f"tap-number-{number}", "do": "count", "what": "bow"} for number in range(6)]
    told = [f"it is {number} ft deep here" for number in (10, 11, 12, 13)]
    words = [{"id": text.replace(" ", "-"), "do": "say", "what": text} for text in told]
    with ThreadPoolExecutor(8) as hands:
        assert set(hands.map(post, [*taps, *words] * 2)) == {200}
    with httpx.Client(base_url=page.origin, cookies=jar) as client:
        state = client.get("/state").json()
    assert state["counts"]["said"] == "bow 6"
    assert sorted(row["told"] for row in state["log"] if row["told"]) == told


def test_a_page_that_listens_does_not_keep_the_coach_from_ending(tmp_path: Path) -> None:
    with PageProcess(tmp_path) as page:
        jar = httpx.get(page.link).cookies
        with httpx.stream("GET", f"{page.origin}/events", cookies=jar) as events:
            assert next(events.iter_lines()) == "retry: 2000"
            assert page.end() == 0
    assert page.logged() == ""


def test_a_second_page_on_the_same_port_says_what_to_do(page: PageProcess) -> None:
    from coach.front.web.run import _listening

    with pytest.raises(AddressError, match=rf"port {page.port}: .*--port"):
        _listening(Address("127.0.0.1", page.port))


def test_it_listens_on_this_machine_only_unless_told_otherwise() -> None:
    found = Address()
    assert (found.host, found.is_open) == ("127.0.0.1", False)
    assert Address("0.0.0.0").is_open
    assert Address("::1").link("x") == "http://[::1]:8321/in/x"
    assert Address("localhost").link("x") == "http://localhost:8321/in/x"
    assert Address("coach.boat").origin_of("coach.boat:8321") == "http://coach.boat:8321"
    assert Address("0.0.0.0").link("x") == "http://127.0.0.1:8321/in/x"


def test_without_its_packages_the_command_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    assert main(["web"]) == 1
    assert "pip install -e '.[web]'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "said"),
    [(["--port", "70000"], "--port: got 70000"), (["--origin", "here"], "--origin: got 'here'"),
     (["--host", "192.0.2.1"], "192.0.2.1, port 8321")],
)  # fmt: skip
def test_an_address_that_cannot_be_used_is_named(
    capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    assert main(["web", "--store", ":memory:", *options]) == 1
    assert said in capsys.readouterr().err
