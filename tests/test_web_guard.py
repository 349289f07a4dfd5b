"""What `coach web` lets in and what not: strangers, other pages, forged names; what every answer carries."""

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from browsers import TOKEN, Browser, Ship

from coach.front.web.address import Address, AddressError, address
from coach.front.web.guard import HEADERS
from coach.model import Rulebook


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
