"""What `coach web` lets in and what not: strangers, other pages, forged names, too much, too strange.

The page's addresses are asked in-process; a few requests that no library would send go to a real one.
"""

import json
import logging
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import httpx
import pytest
from browsers import CONSULTATION, ORIGIN, TOKEN, Browser, Ship
from hypothesis import given, settings
from hypothesis import strategies as some
from pages import PageProcess

from coach.__main__ import main
from coach.front.web.address import Address, AddressError, address
from coach.front.web.guard import HEADERS
from coach.front.web.posted import BODY_LIMIT
from coach.model import Rulebook

HOSTILE = (
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "javascript:alert(1)", "{{7*7}}",
    "</svg><script>alert(1)</script>", "=cmd|' /C calc'!A0", "'; DROP TABLE turns; --", "%00../../etc/passwd",
    "\u202eevil\u2028line", "<style>*{display:none}</style>", "&lt;b&gt;",
)  # fmt: skip
SECRET = "Quillfeather-lost-her-oar"


@pytest.fixture
def ship(tmp_path: Path, shipped: Rulebook, plain: Any) -> Iterator[Ship]:
    made = Ship(tmp_path / "a.db", shipped, plain)
    yield made
    made.store.close()


@pytest.fixture
def browser(ship: Ship) -> Browser:
    return ship.browser()


def message(**more: Any) -> str:
    return json.dumps({"id": "a-message-of-ours", "do": "say", "what": "it faded", **more})


# --- who is let in -------------------------------------------------------------------------------------


PRIVATE = ("/state", "/events", "/card", "/picture/plan", "/trips", "/trips/trips.json")


@pytest.mark.parametrize("path", PRIVATE)
def test_without_the_link_nothing_is_shown(ship: Ship, path: str) -> None:
    assert ship.browser(enters=False).get(path).status_code == 401


def test_without_the_link_nothing_is_done(ship: Ship) -> None:
    assert ship.browser(enters=False).post(message(), key="x").status_code == 401


@pytest.mark.parametrize("token", ["", "x", TOKEN[:-1], TOKEN + "x", TOKEN.upper(), "../" + TOKEN, "ü"])
def test_a_wrong_token_lets_nobody_in(ship: Ship, token: str) -> None:
    stranger = ship.browser(enters=False)
    assert stranger.get(f"/in/{token}").status_code in (403, 404)
    assert not stranger.cookies


def test_a_made_up_cookie_lets_nobody_in(ship: Ship) -> None:
    stranger = ship.browser(enters=False)
    stranger.cookies.set("coach-8321", "a" * 43)
    assert stranger.get("/state").status_code == 401


def test_the_cookie_is_for_this_page_alone(ship: Ship) -> None:
    cookie = ship.browser(enters=False).get(f"/in/{TOKEN}").headers["set-cookie"].casefold()
    assert cookie.startswith("coach-8321=")
    assert {"httponly", "samesite=strict", "path=/"} <= {part.strip() for part in cookie.split(";")}
    assert "secure" not in cookie  # plain http on this machine: the browser would never send it


def test_behind_a_proxy_with_tls_the_cookie_never_goes_in_the_clear(shipped: Rulebook, plain: Any) -> None:
    ship = Ship(":memory:", shipped, plain, address=address("127.0.0.1", 8321, "https://coach.example.net"))
    entered = Browser(ship).ask("GET", f"/in/{TOKEN}", origin="https://coach.example.net")
    assert "secure" in entered.headers["set-cookie"].casefold()
    ship.store.close()


def test_the_file_holds_nothing_that_would_let_somebody_in(browser: Browser) -> None:
    (shown,) = browser.cookies.jar
    folder = Path(browser.ship.path).parent
    assert not [file for file in folder.iterdir() if str(shown.value).encode() in file.read_bytes()]


# --- names and other pages -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8321", "127.0.0.1:9999", "127.0.0.1", "10.0.0.7:8321", "",
     "localhost.:8321", "127.0.0.1:8321@evil.example", "127.0.0.1:8321.evil.example", "[::1", "a b:8321",
     "127.0.0.1:99999", "127.1:8321", "0x7f000001:8321", "127.0.0.1:8321, evil.example"],
)  # fmt: skip
def test_another_name_for_this_machine_is_refused(browser: Browser, host: str) -> None:
    assert browser.ask("GET", "/state", headers={"host": host}).status_code == 421
    assert browser.post(message(), host=host or " ").status_code == 421


@pytest.mark.parametrize("host", ["127.0.0.1:8321", "localhost:8321", "LOCALHOST:8321", "[::1]:8321"])
def test_every_name_of_this_machine_itself_is_answered(browser: Browser, host: str) -> None:
    assert browser.ask("GET", "/", headers={"host": host}).status_code == 200


def test_listening_to_a_network_answers_numbers_but_no_foreign_names() -> None:
    found = Address("0.0.0.0", 8321)
    assert found.origin_of("192.168.1.7:8321") == "http://192.168.1.7:8321"
    assert found.origin_of("evil.example:8321") is None
    assert Address().origin_of("192.168.1.7:8321") is None


def test_an_origin_of_the_captains_is_answered_and_others_are_not() -> None:
    found = address("127.0.0.1", 8321, "https://Coach.example.net/")
    assert found.origin_of("coach.example.net") == "https://coach.example.net"
    assert found.origin_of("coach.example.net.evil.example") is None


@pytest.mark.parametrize(
    "origin", ["coach", "ftp://coach", "https://", "https://coach/path", "https://coach?a=1"]
)
def test_an_origin_that_is_none_is_refused_with_how_to_write_it(origin: str) -> None:
    with pytest.raises(AddressError, match="https://coach"):
        address("127.0.0.1", 8321, origin)


@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", "null", "", "http://127.0.0.1:9999", "https://127.0.0.1:8321",
     "http://localhost:8321", "http://127.0.0.1:8321.evil.example", "HTTP://127.0.0.1:8321/"],
)  # fmt: skip
def test_a_message_from_another_page_is_refused(browser: Browser, origin: str) -> None:
    assert browser.post(message(), origin=origin).status_code == 403
    assert browser.state()["log"] == []


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none"])
def test_a_message_that_the_browser_says_is_anothers_is_refused(browser: Browser, site: str) -> None:
    assert browser.post(message(), sec_fetch_site=site).status_code == 403


@pytest.mark.parametrize("path", PRIVATE)
@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_page_cannot_load_what_was_told(browser: Browser, path: str, site: str) -> None:
    assert browser.get(path, sec_fetch_site=site, sec_fetch_mode="no-cors").status_code == 403


def test_a_link_followed_from_elsewhere_still_opens_the_page(browser: Browser) -> None:
    assert browser.get("/", sec_fetch_site="cross-site", sec_fetch_mode="navigate").status_code == 200


@pytest.mark.parametrize("key", ["", "x", "0" * 40])
def test_without_the_pages_own_key_nothing_is_done(browser: Browser, key: str) -> None:
    assert browser.post(message(), key=key).status_code == 403
    assert browser.state()["log"] == []


def test_the_key_of_another_browser_does_not_fit(ship: Ship) -> None:
    one, other = ship.browser(), ship.browser()
    assert one.post(message(), key=other.state()["key"]).status_code == 403


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""]
)
def test_what_a_form_of_another_page_could_send_is_refused(browser: Browser, kind: str) -> None:
    assert browser.post(message(), content_type=kind).status_code == 415


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"])
def test_other_methods_are_refused(browser: Browser, method: str) -> None:
    assert browser.ask(method, "/do").status_code == 405


# --- what every answer carries -------------------------------------------------------------------------


@pytest.mark.parametrize("path", ["/", "/app.js", "/sw.js", "/state", "/card", "/trips/trips.csv", "/nothing",
                                  "/picture/plan", f"/in/{TOKEN}", "/in/x"])  # fmt: skip
def test_every_answer_tells_the_browser_to_trust_nothing_else(browser: Browser, path: str) -> None:
    headers = browser.get(path).headers
    assert {name for name in HEADERS if name not in headers} == set()
    policy = dict(part.strip().partition(" ")[::2] for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"


class Inline(HTMLParser):
    """Whatever in a page would need a policy that lets inline things through."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = {name for name, _ in attrs}
        is_inline = tag == "script" and "src" not in names
        if is_inline or "style" in names or any(name.startswith("on") for name in names):
            self.found.append(self.get_starttag_text() or tag)


@pytest.mark.parametrize("path", ["/", "/card", f"/in/{TOKEN}", "/in/x"])
def test_no_page_holds_a_script_or_a_style_within_its_text(browser: Browser, path: str) -> None:
    browser.consult()
    assert Inline(browser.get(path).text).found == []


def test_the_one_style_sheet_within_the_card_is_named_by_its_hash(browser: Browser) -> None:
    answer = browser.get("/card")
    assert answer.text.count("<style>") == 1
    assert re.search(r"style-src 'sha256-[A-Za-z0-9+/]{43}='", answer.headers["content-security-policy"])


def test_what_was_told_is_kept_by_no_cache(browser: Browser) -> None:
    for path in ("/state", "/card", "/trips", "/trips/trips.json", f"/in/{TOKEN}"):
        assert browser.get(path).headers["cache-control"] == "no-store", path


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


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageProcess]:
    with PageProcess(tmp_path_factory.mktemp("page")) as page:
        yield page


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
    running: PageProcess, sent: bytes
) -> None:
    assert running.raw(sent) in (0, 400, 421, 431)
    host = f"127.0.0.1:{running.port}".encode()
    assert running.raw(b"GET / HTTP/1.1\r\nHost: " + host + b"\r\nConnection: close\r\n\r\n") == 200


@pytest.mark.parametrize(
    "path", ["/../coach.db", "//app.js", "/static/../app.py", "/in/../app.js", "http://x/app.js"]
)
def test_no_path_written_raw_leads_to_a_file(running: PageProcess, path: str) -> None:
    sent = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{running.port}\r\nConnection: close\r\n\r\n"
    assert running.raw(sent.encode()) in (403, 404)


def test_messages_that_come_at_once_are_each_done_once(running: PageProcess) -> None:
    jar = httpx.get(running.link).cookies

    def post(message: dict[str, str]) -> int:
        with httpx.Client(base_url=running.origin, cookies=jar, timeout=30) as client:
            key = client.get("/state").json()["key"]
            headers = {"origin": running.origin, "x-coach-key": key}
            return client.post("/do", json=message, headers=headers).status_code

    taps = [{"id": f"tap-number-{number}", "do": "count", "what": "bow"} for number in range(6)]
    told = [f"it is {number} ft deep here" for number in (10, 11, 12, 13)]
    words = [{"id": text.replace(" ", "-"), "do": "say", "what": text} for text in told]
    with ThreadPoolExecutor(8) as hands:
        assert set(hands.map(post, [*taps, *words] * 2)) == {200}
    with httpx.Client(base_url=running.origin, cookies=jar) as client:
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


def test_a_second_page_on_the_same_port_says_what_to_do(running: PageProcess) -> None:
    from coach.front.web.run import _listening

    with pytest.raises(AddressError, match=rf"port {running.port}: .*--port"):
        _listening(Address("127.0.0.1", running.port))


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
