"""The parts of the bot, each alone: screens, settings, secrets, paces, limits, what is kept of an update.

Limits of messages, buttons and rates are those of the Bot API's documentation (READ, in the machine-readable
copy of it); everything else is a promise of ours.
"""

import hmac
import itertools
import logging
import operator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from telegram import Update, User

from coach.conversation import Block, Choice, Question, Reply
from coach.front.telegram import secrecy, words
from coach.front.telegram.config import Config, ConfigError, Webhook, load, require_secret
from coach.front.telegram.event import Event, event_of
from coach.front.telegram.limits import GAP_S, PER_SECOND, Limits
from coach.front.telegram.pace import Pace
from coach.front.telegram.screens import (
    ANSWERS,
    BUTTON_UNITS,
    label,
    likeliest,
    pieces,
    question,
    reply_screens,
    units,
)
from coach.front.telegram.secrecy import Discreet, Secret, Taken, only_one, redacted
from coach.model import Fact, Rulebook

TOKEN = "424242:AAfake-token-for-tests-on-loopback-only0"
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=300)


# --- screens ---------------------------------------------------------------------------------------------


@given(TEXTS, st.integers(4, 50))
def test_pieces_of_a_text_fit_and_nothing_but_blanks_is_lost(text: str, limit: int) -> None:
    found = pieces(text, limit)
    # Telegram counts UTF-16 units: what Python's own codec writes, two bytes each
    assert all(1 <= len(piece.encode("utf-16-le")) // 2 <= limit for piece in found)
    assert "".join("".join(found).split()) == "".join(text.split())


def test_a_sign_outside_the_first_plane_counts_twice() -> None:
    assert (units("é"), units("🔔")) == (1, 2)


def ask(kind: str, count: int) -> Question:
    options = tuple(Choice(f"o{number}", f"Answer {number} {'w' * 90}") for number in range(count))
    return Question("some.fact" * 9, "Which?", "why", kind, None, options)  # type: ignore[arg-type]


@pytest.mark.parametrize("count", [1, 4, 5, 9, 30])
def test_every_answer_is_on_some_page_and_no_page_has_more_than_four(count: int) -> None:
    seen: list[str] = []
    for page in range(-(-count // 4)):
        _, rows = question(ask("choice", count), {}, page=page)
        *answers, standing = rows
        assert all(len(row) == 1 for row in answers)
        assert [text for text, _ in standing] == ["Don't know", "Why?", "Back"]
        taps = [row[0][1] for row in answers if row[0][1].startswith("a:")]
        assert len(taps) <= ANSWERS
        assert [row[0][0] for row in answers if row[0][1].startswith("m:")] == (
            ["More answers"] if count > 4 else []
        )
        seen += taps
    assert len(set(seen)) == len(seen) == count


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=90), st.integers(1, 40))
def test_buttons_keep_the_limits(text: str, count: int) -> None:
    options = tuple(Choice(f"o{number}", text) for number in range(count))
    _, rows = question(Question(text, text, "", "choice", None, options), {})
    for row in rows:
        assert len(row) <= 8
        for shown, data in row:
            assert len(shown.encode("utf-16-le")) // 2 <= BUTTON_UNITS
            assert 1 <= len(data.encode()) <= 64


def test_a_long_label_ends_in_dots() -> None:
    assert label("x" * 100) == "x" * (BUTTON_UNITS - 1) + "…"


def test_the_likeliest_answer_stands_first() -> None:
    fact = Fact("f", "choice", "asked", "f", expect=(("o2", 5.0), ("o0", 1.0)))
    found = likeliest(ask("choice", 4), {"some.fact" * 9: fact})
    assert [answer for answer, _ in found] == ["o2", "o0", "o1", "o3"]


def test_yes_and_no_come_in_the_order_of_what_is_expected(shipped: Rulebook) -> None:
    fact = next(fact for fact in shipped.facts.values() if fact.type == "bool" and len(fact.expect) == 2)
    wet = Question(fact.name, "", "", "bool", None, (Choice(True, "Yes"), Choice(False, "No")))
    first = max(fact.expect, key=lambda each: each[1])[0]
    assert likeliest(wet, shipped.facts)[0][0] is first


@pytest.mark.parametrize("kind", ["number", "time"])
def test_a_number_or_a_time_is_typed_and_the_screen_says_so(kind: str) -> None:
    text, rows = question(ask(kind, 0), {})
    assert "Type the" in text
    assert len(rows) == 1


def test_hazards_come_first_and_buttons_stand_under_the_last_piece() -> None:
    blocks = (Block("warn", "w"), Block("say", "x " * 3000), Block("steps", "Do:", ("a", "b")))
    found = reply_screens(Reply(blocks, hazards=(("h", "Beware."),), ask=ask("choice", 2)), {})
    assert found[0].text.startswith("⚠ Beware.")
    assert [bool(screen.rows) for screen in found] == [*([False] * (len(found) - 1)), True]
    assert len(found) > 1
    assert "Do:\n1. a\n2. b" in found[-1].text


def test_an_answer_without_any_text_is_still_a_message() -> None:
    assert reply_screens(Reply(), {})[0].text


def test_the_menu_keeps_its_limits() -> None:
    for name, says in words.COMMANDS.items():
        assert name.isascii() and name.islower() and 1 <= len(name) <= 32
        assert 1 <= len(says) <= 256


# --- settings --------------------------------------------------------------------------------------------


def settings(tmp_path: Path, text: str = "", **environment: str) -> Config:
    path = tmp_path / "telegram.toml"
    path.write_text(text)
    return load(path, {"COACH_TELEGRAM_TOKEN": TOKEN} | environment)


def test_settings_come_from_file_and_environment(tmp_path: Path) -> None:
    found = settings(
        tmp_path, 'allow = [7]\nzone = "America/New_York"', COACH_TELEGRAM_API="http://127.0.0.1:1"
    )
    assert (found.allow, found.zone, found.api) == (frozenset({7}), "America/New_York", "http://127.0.0.1:1")
    assert found.token.get_secret_value() == TOKEN
    assert TOKEN not in repr(found)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("alow = [7]", "alow: Extra inputs"),
        ('zone = "Moon/Sea"', "zone"),
        ("per_minute = 0", "per_minute"),
        (f'token = "{TOKEN}"', "does not belong"),
        ("allow = [", "cannot be read as TOML"),
        ("[webhook]\nport = 0", "webhook.port"),
    ],
)
def test_a_bad_setting_is_named_in_one_line(tmp_path: Path, text: str, what: str) -> None:
    with pytest.raises(ConfigError, match=what) as caught:
        settings(tmp_path, text)
    assert "\n" not in str(caught.value).strip()
    assert TOKEN not in str(caught.value)


def test_a_missing_file_that_was_named_is_an_error_and_the_default_one_may_be_missing(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="no such file"):
        load(tmp_path / "none.toml", {"COACH_TELEGRAM_TOKEN": TOKEN})
    assert load(None, {"COACH_TELEGRAM_TOKEN": TOKEN, "XDG_CONFIG_HOME": str(tmp_path)}).allow == frozenset()


def test_a_token_file_must_be_for_its_owner_alone(tmp_path: Path) -> None:
    (tmp_path / "token").write_text(TOKEN + "\n")
    (tmp_path / "token").chmod(0o644)
    text = f'token_file = "{tmp_path / "token"}"'
    with pytest.raises(ConfigError, match="chmod 600"):
        settings(tmp_path, text, COACH_TELEGRAM_TOKEN="")
    (tmp_path / "token").chmod(0o600)
    assert settings(tmp_path, text, COACH_TELEGRAM_TOKEN="").token.get_secret_value() == TOKEN


@pytest.mark.parametrize("token", ["", "a word", "12:short"])
def test_without_a_token_the_bot_says_where_to_put_it(tmp_path: Path, token: str) -> None:
    with pytest.raises(ConfigError, match="COACH_TELEGRAM_TOKEN or a token_file"):
        settings(tmp_path, COACH_TELEGRAM_TOKEN=token)


@pytest.mark.parametrize("secret", ["", "short", "with blanks in it, many", "x" * 257])
def test_a_weak_secret_of_the_webhook_is_refused(secret: str) -> None:
    with pytest.raises(ConfigError, match=r"webhook\.secret"):
        require_secret(Webhook(url="https://example.org/x", secret=secret))  # type: ignore[arg-type]


# --- secrets ---------------------------------------------------------------------------------------------


@given(st.text(max_size=30), st.from_regex(r"[0-9]{4,12}:[A-Za-z0-9_-]{30,40}", fullmatch=True))
def test_no_token_survives_redaction(around: str, token: str) -> None:
    assert token not in redacted(f"{around} https://api.example/bot{token}/getMe {around}")


def test_a_log_line_has_no_token_and_nothing_that_an_error_quotes() -> None:
    try:
        raise ValueError(f"somebody said hello with {TOKEN}")
    except ValueError as error:
        info = (type(error), error, error.__traceback__)
    record = logging.LogRecord("x", logging.ERROR, __file__, 1, "call of %s", (TOKEN,), info)
    line = Discreet().format(record)
    assert "ValueError at test_telegram_parts.py" in line
    assert TOKEN not in line
    assert "hello" not in line
    plain = logging.LogRecord("x", logging.ERROR, __file__, 1, "call of %s", (TOKEN,), None)
    assert "call of (token)" in Discreet().format(plain)


def test_the_secret_is_compared_in_constant_time_whichever_side_it_stands_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    compared: list[tuple[bytes, bytes]] = []

    def noted(one: bytes, other: bytes) -> bool:
        compared.append((one, other))
        return one == other

    monkeypatch.setattr(hmac, "compare_digest", noted)
    # the library compares `given != secret`; a subclass on the right answers first
    assert operator.ne("other", Secret("given"))
    assert not operator.ne("given", Secret("given"))
    assert operator.ne(Secret("given"), "other")
    assert len(compared) == 3


def test_only_one_program_a_token(tmp_path: Path) -> None:
    with only_one(TOKEN, tmp_path), pytest.raises(Taken), only_one(TOKEN, tmp_path):
        pass
    with only_one(TOKEN, tmp_path), only_one(TOKEN[::-1], tmp_path):
        pass
    assert all(TOKEN not in file.name and not file.read_bytes() for file in tmp_path.iterdir())


def test_the_libraries_say_nothing_below_a_warning(monkeypatch: pytest.MonkeyPatch) -> None:
    # references: httpx writes the address of each call, token and all, at INFO (MEASURED)
    root = logging.getLogger()
    monkeypatch.setattr(root, "handlers", list(root.handlers))
    levels = {name: logging.getLogger(name).level for name in ("", "httpx", "httpcore", "telegram")}
    try:
        secrecy.set_up_logs()
        assert not any(logging.getLogger(name).isEnabledFor(logging.INFO) for name in ("httpx", "httpcore"))
    finally:
        for name, level in levels.items():
            logging.getLogger(name).setLevel(level)


# --- what is kept of an update ---------------------------------------------------------------------------


def update(**message: Any) -> Update:
    person = {"id": 7, "is_bot": False, "first_name": "Quillfeather", "username": "quill"}
    whole = {"message_id": 3, "date": 1_800_000_000, "chat": {"id": 7, "type": "private"}, "from": person}
    return Update.de_json({"update_id": 1, "message": whole | message}, None)  # type: ignore[return-value]


def test_a_place_is_rounded_before_it_is_kept() -> None:
    found = event_of(update(location={"latitude": 30.123456, "longitude": -85.987654}), now=0.0)
    assert found is not None
    assert found.place == (30.12, -85.99)
    assert "123456" not in found.model_dump_json()


def test_names_and_numbers_of_people_are_not_kept() -> None:
    found = event_of(update(text="hello"), now=0.0)
    assert found is not None
    assert "uill" not in found.model_dump_json()
    assert (found.text, found.at, found.kind) == ("hello", 1_800_000_000, "text")


@pytest.mark.parametrize("message", [{"photo": []}, {"sticker": None}, {}])
def test_what_is_no_text_is_received_all_the_same(message: dict[str, Any]) -> None:
    found = event_of(update(**message), now=0.0)
    assert found is not None
    assert found.kind == "other"


ME = User(id=42, is_bot=True, first_name="Coach", username="our_bot")


@pytest.mark.parametrize(
    ("text", "is_ours"), [("/count@our_bot", True), ("/Count@OUR_BOT x", True), ("/count", True),
                          ("/count@other_bot", False), ("/x@", True), ("mail@home.example", True)],
)  # fmt: skip
def test_a_command_for_another_bot_is_let_pass(text: str, is_ours: bool) -> None:
    assert (event_of(update(text=text), now=0.0, me=ME) is not None) == is_ours


def test_what_others_said_elsewhere_edits_and_words_under_a_photo_are_told_apart() -> None:
    origin = {"type": "hidden_user", "date": 1, "sender_user_name": "X"}
    assert kind(update(text="x", forward_origin=origin)) == "forwarded"
    assert kind(update(caption="12 ft", photo=[])) == "text"
    person, chat = {"id": 7, "is_bot": False, "first_name": "Q"}, {"id": 7, "type": "private"}
    edited = {"message_id": 3, "date": 1_800_000_000, "chat": chat, "from": person}
    place = {"location": {"latitude": 1.0, "longitude": 2.0}}
    assert kind(Update.de_json({"update_id": 1, "edited_message": {**edited, "text": "x"}}, None)) == "edited"
    assert kind(Update.de_json({"update_id": 1, "edited_message": edited | place}, None)) is None
    others = [{"id": 9, "is_bot": False, "first_name": "Q"}, ME.to_dict()]
    assert kind(update(new_chat_members=others)) == "joined"
    assert kind(update(new_chat_members=others[:1])) == "other"


def kind(found: Update | None) -> str | None:
    assert found is not None
    event = event_of(found, now=0.0, me=ME)
    return event.kind if event else None


def test_an_event_comes_back_from_its_stored_form() -> None:
    found = event_of(update(text="½ 🔔"), now=0.0)
    assert found is not None
    assert Event.model_validate_json(found.model_dump_json(exclude_defaults=True)) == found


# --- paces and limits ------------------------------------------------------------------------------------


def said(at: float, person: str = "7", chat: str = "7") -> Event:
    return Event(update_id=1, chat=chat, is_group=False, person=person, kind="text", at=at)


def test_a_person_is_slowed_down_told_once_and_let_in_again() -> None:
    pace = Pace(Config(per_minute=60, burst=5))
    verdicts = [pace.judge(said(0.0)) for _ in range(8)]
    assert verdicts == ["", "", "", "", "", "too fast", "silent", "silent"]
    assert pace.judge(said(0.0, person="8")) == ""
    assert pace.judge(said(10.0)) == ""


def test_what_piled_up_while_the_bot_was_away_counts_as_it_was_sent() -> None:
    pace = Pace(Config(per_minute=60, burst=2))
    assert [pace.judge(said(float(second))) for second in range(100)] == [""] * 100


def test_only_those_on_the_list_get_in() -> None:
    pace = Pace(Config(allow=frozenset({7, -5})))
    assert pace.judge(said(0.0)) == ""
    assert pace.judge(said(0.0, person="9", chat="9")) == "stranger"
    assert pace.judge(said(0.0, person="9", chat="-5")) == ""


def test_strangers_are_told_so_seldom_and_a_crowd_of_them_gets_few_answers() -> None:
    pace = Pace(Config(allow=frozenset({7})))
    assert [pace.judge(said(at, person="9", chat="9")) for at in (0.0, 1.0, 3599.0, 3601.0)] == [
        "stranger", "silent", "silent", "stranger",
    ]  # fmt: skip
    crowd = [pace.judge(said(5000.0, person=str(100 + n), chat=str(100 + n))) for n in range(500)]
    assert crowd.count("stranger") == 20
    assert pace.judge(said(5001.0)) == ""


@given(st.lists(st.sampled_from(["1", "2", "3", "-4"]), min_size=1, max_size=200))
def test_the_sender_keeps_telegrams_limits_whatever_waits(chats: list[str]) -> None:
    limits, now, went = Limits(), 0.0, []
    for chat in chats:
        now = max(now, limits.free_at(chat), limits.all_free_at())
        limits.leaves(now)
        limits.arrived(chat, now + 0.01)
        went.append((now, chat))
    for chat in set(chats):
        times = [at for at, to in went if to == chat]
        assert all(later - earlier >= GAP_S for earlier, later in itertools.pairwise(times))
        a_minute = max(sum(start <= at < start + 60 for at in times) for start in times)
        assert not chat.startswith("-") or a_minute <= 20


def test_no_more_than_thirty_messages_go_in_any_second() -> None:
    limits, now, times = Limits(), 0.0, []
    for _ in range(200):
        now = max(now + 0.001, limits.all_free_at())
        limits.leaves(now)
        times.append(now)
    most = max(sum(start <= at < start + 1 for at in times) for start in times)
    assert most == PER_SECOND < 30


def test_when_two_chats_are_told_to_wait_all_wait() -> None:
    limits = Limits()
    limits.pause("1", 0.0, 5.0)
    assert (limits.free_at("1"), limits.free_at("2"), limits.all_free_at()) == (5.0, 0.0, 0.0)
    limits.pause("2", 1.0, 6.0)
    assert limits.all_free_at() == 6.0
