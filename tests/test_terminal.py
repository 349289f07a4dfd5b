"""`coach chat`: a translator between a terminal and the core, at any width and in any encoding."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pexpect
import pytest
import small_core

from coach.conversation import Block, Message, Reply
from coach.exchange import Envelope
from coach.front import render, terminal
from coach.store import MEMORY, Store, StoreError

HELLO = "This is the lamp coach"
CHECKOUT = Path(__file__).resolve().parent.parent
COMPLAINT = "was good till nine then it faded"


def chat(*typed: str | type[BaseException], store: Store, width: int = 80) -> list[str]:
    """All that is shown, a line an item, while these lines are typed; then input ends."""
    shown: list[str] = []
    lines: Iterator[str | type[BaseException]] = iter(typed)

    def read() -> str | None:
        line = next(lines, None)
        if isinstance(line, type):
            raise line
        return line

    place = terminal.Terminal(read, shown.append, lambda: width, lambda: small_core.NOW)
    terminal.run(small_core.desk(store), "me", place)
    return "\n".join(shown).split("\n")


@pytest.fixture
def store() -> Iterator[Store]:
    with Store(MEMORY) as kept:
        yield kept


def test_the_first_line_says_who_it_is_and_what_to_type(store: Store) -> None:
    assert chat(store=store) == [
        "This is the lamp coach, for dipping shrimp at night. Type in your own words what",
        "is wrong, or 'help' for what else you can type.",
        terminal.FAREWELL,
    ]


def test_a_whole_chat_reads_like_this(store: Store) -> None:
    assert chat("a shark and no paint", "2", "4.5", "no", "bye", store=store)[2:] == [
        "! A shark is near.",
        "You said a shark and no paint.",
        "Do this:",
        "  1. Open the lid.",
        "  2. Stir.",
        "Which colour?",
        "  1 Red",
        "  2 Dark blue",
        "  0 don't know",
        "You said dark-blue.",
        "Do this:",
        "  1. Open the lid.",
        "  2. Stir.",
        "How many pots?",
        "  ? don't know",
        "You said 4.5.",
        "Do this:",
        "  1. Open the lid.",
        "  2. Stir.",
        "How many pots?",
        "  ? don't know",
        "You said no.",
        "Do this:",
        "  1. Open the lid.",
        "  2. Stir.",
        "How many pots?",
        "  ? don't know",
        terminal.FAREWELL,
    ]


UNKNOWN = Message(pick="unknown", has_pick=True)


@pytest.mark.parametrize(
    ("typed", "ask", "meant"),
    [
        ("1", small_core.COLOUR, Message(pick="red", has_pick=True)),
        ("2", small_core.COLOUR, Message(pick="dark-blue", has_pick=True)),
        ("0", small_core.COLOUR, UNKNOWN),
        ("?", small_core.COLOUR, UNKNOWN),
        ("3", small_core.COLOUR, Message(text="3")),
        ("dark blue", small_core.COLOUR, Message(text="dark blue")),
        ("1", small_core.WET, Message(pick=True, has_pick=True)),
        ("2", small_core.WET, Message(pick=False, has_pick=True)),
        ("0", small_core.WET, UNKNOWN),
        ("yes", small_core.WET, Message(text="yes")),
        ("1", small_core.COUNT, Message(text="1")),
        ("0", small_core.COUNT, Message(text="0")),
        ("?", small_core.COUNT, UNKNOWN),
        ("1", None, Message(text="1")),
        ("?", None, Message(text="?")),
        ("why", small_core.COUNT, Message(command="why")),
        ("Undo!", None, Message(command="undo")),
        ("NEW", small_core.COUNT, Message(command="new")),
        ("summary.", None, Message(command="summary")),
        ("forget", None, Message(command="forget")),
        ("why does it fade", None, Message(text="why does it fade")),
        ("clear the water", small_core.WET, Message(text="clear the water")),
    ],
)
def test_what_is_typed_means(typed: str, ask: object, meant: Message) -> None:
    assert terminal.meant(typed, ask) == meant  # type: ignore[arg-type]


def test_help_and_an_empty_line_are_answered_here_and_repeat_the_open_question(store: Store) -> None:
    shown = chat("hello", "help", "", store=store)
    assert [line for line in shown if line.startswith("undo")] == ["undo     take back your last answer"]
    assert shown.count("Which colour?") == 3
    assert store.look("me").seq == 1


def concluded(store: Store) -> None:
    """Bring the chat to its verdict."""
    facts = {"paint.colour": "red", "paint.pots": 4.0, "paint.wet": False}
    small_core.desk(store).answer(Envelope("me", message=Message(facts=facts)), now=small_core.NOW)


def test_enter_alone_begins_the_questions_and_is_nothing_when_they_are_over(store: Store) -> None:
    shown = chat("", "1", store=store)
    assert shown[3:7] == ["Do this:", "  1. Open the lid.", "  2. Stir.", "Which colour?"]
    assert "You said red." in shown
    concluded(store)
    before = store.look("me").seq
    chat("", store=store)
    assert store.look("me").seq == before


def test_a_store_that_cannot_be_looked_into_for_a_while_is_said_once_and_the_chat_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[str] = []
    lines = iter(["hello", "bells", "1"])
    is_lost, is_typed = iter([True] * 3), iter([False] * 2)

    def looked_into(*_: object) -> list[object]:
        if next(is_lost, False):
            raise StoreError("the store a.db: the disk refused to read or write.")
        return []

    monkeypatch.setattr("coach.post.due.ringing_on", looked_into)
    with Store(tmp_path / "a.db") as store:
        place = terminal.Terminal(
            lambda: next(lines, None), shown.append, lambda: 80, lambda: small_core.NOW,
            lambda: next(is_typed, True),
        )  # fmt: skip
        assert terminal.run(small_core.desk(store), "me", place) == 0
    told = "\n".join(shown)
    assert told.count("the disk refused") == 1
    assert "You said red." in told


def test_help_names_every_word_that_is_a_command() -> None:
    assert all(any(line.startswith(word) for line in terminal.HELP) for word in ("bye", *terminal.COMMANDS))


def test_an_open_chat_is_gone_on_with_and_said_so(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        chat("hello", "1", store=store)
    with Store(tmp_path / "a.db") as store:
        shown = chat("4", store=store)
    assert shown[2] == "We go on where we stood on 11 Feb 2027 at 21:05. Type 'new' to start afresh."
    assert shown[3] == "How many pots?"


def test_a_chat_that_ended_with_advice_begins_with_it_again(tmp_path: Path) -> None:
    with Store(tmp_path / "a.db") as store:
        concluded(store)
    with Store(tmp_path / "a.db") as store:
        shown = chat("?", store=store, width=60)
    assert "My last advice: You said None. ('summary' says all of it.)" in shown
    assert terminal.HELP[0] in shown  # with no question open, '?' asks for help


def test_what_breaks_inside_is_said_and_the_question_stays_open(
    store: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = chat("hello", "fault", "1", store=store)
    assert any("Something is wrong inside the coach" in line for line in shown)
    assert "You said red." in shown
    assert "ZeroDivisionError" in capsys.readouterr().err


def test_too_many_characters_are_not_taken(store: Store) -> None:
    shown = chat("hello", "x" * (terminal.TEXT_LIMIT + 1), store=store)
    assert terminal.TOO_LONG in shown
    assert store.look("me").seq == 1


def test_control_characters_from_stray_keys_are_not_part_of_what_was_said(store: Store) -> None:
    assert "You said hello." in chat("\x1b\x07hel\x00lo\r", store=store)


def test_an_interrupt_leaves_politely_and_what_was_said_is_kept(store: Store) -> None:
    assert chat("hello", KeyboardInterrupt, store=store)[-1] == terminal.FAREWELL
    assert store.look("me").seq == 1


@pytest.mark.parametrize("width", [20, 39, 79])
def test_no_line_is_wider_than_the_terminal(store: Store, width: int) -> None:
    shown = chat("shark " * 30, "help", "1", "why", store=store, width=width)
    assert max(len(line) for line in shown) <= width
    assert any(line.startswith(HELLO[:width].rsplit(" ", 1)[0]) for line in shown)


def test_warnings_are_shown_once_and_first() -> None:
    reply = Reply(blocks=(Block("say", "Well."), Block("warn", "A shark.")), hazards=(("shark", "A shark."),))
    assert render.reply_text(reply, 80) == "! A shark.\nWell."


def test_an_error_is_said_in_its_own_words() -> None:
    assert render.reply_text(Reply(error=("out-of-range", "That is too deep.")), 80) == "That is too deep."


@pytest.mark.parametrize(
    ("encoding", "shown"),
    [
        ("utf-8", "8 ½ ft → “up” 3°"),
        ("ascii", '8  1/2 ft -> "up" 3 deg '),
        ("no-such", '8  1/2 ft -> "up" 3 deg '),
    ],
)
def test_signs_that_the_terminal_lacks_are_written_otherwise(encoding: str, shown: str) -> None:
    assert render.fit("8 ½ ft → “up” 3°", encoding) == shown


def test_a_sign_without_a_look_alike_becomes_a_question_mark() -> None:
    assert render.fit("漁", "ascii") == "?"


def test_reasons_and_lists_are_marked_and_hang_under_their_marks() -> None:
    blocks = (Block("reason", "The tide fell a foot."), Block("list", "Known:", ("a depth of ten", "b")))
    assert render.reply_text(Reply(blocks=blocks), 16) == (
        "- The tide fell\n  a foot.\nKnown:\n  - a depth of\n    ten\n  - b"
    )


# --- the real thing: a process, a terminal, a pipe -------------------------------------------------


def command(store: Path) -> list[str]:
    return [sys.executable, "-m", "coach", "chat", "--store", str(store)]


def opened(store: Path, **environment: str) -> pexpect.spawn:
    """A real chat in a dumb terminal of 40 columns, where Ctrl-C means what it does at one, also if these
    tests run in the background of a script, which lets them ignore it."""
    program, *arguments = command(store)
    env = {**os.environ, "TERM": "dumb", "PYTHONUTF8": "1", **environment}
    env.pop("COLUMNS", None)
    return pexpect.spawn(
        program, arguments, cwd=str(CHECKOUT), env=env, dimensions=(24, 40), encoding="utf-8", timeout=30,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip


def test_a_complaint_in_a_dumb_narrow_terminal_leads_to_a_question_with_digits(tmp_path: Path) -> None:
    chat = opened(tmp_path / "a.db")
    chat.expect_exact("This is the lamp coach")
    chat.expect_exact("> ")
    chat.sendline(COMPLAINT)
    chat.expect_exact("  1 ")
    chat.expect_exact("  0 don't know")
    chat.expect_exact("> ")
    chat.sendline("why")
    chat.expect_exact("> ")
    chat.sendline("bye")
    chat.expect_exact(terminal.FAREWELL)
    chat.expect(pexpect.EOF)
    chat.close()
    assert chat.exitstatus == 0


def test_no_line_in_a_narrow_terminal_is_broken_by_it_and_no_escape_codes_are_sent(tmp_path: Path) -> None:
    chat = opened(tmp_path / "a.db")
    for typed in (COMPLAINT, "1", "help", "summary", "clear the water", "bye"):
        chat.sendline(typed)
    chat.expect(pexpect.EOF)
    chat.close()
    assert "\x1b" not in chat.before
    # what the terminal itself echoes is as long as what was typed
    lines = [line for line in chat.before.splitlines() if COMPLAINT not in line]
    assert max(len(line) for line in lines) <= 40


@pytest.mark.parametrize(("key", "code"), [("\x03", 130), ("\x04", 0)])
def test_ctrl_c_and_ctrl_d_leave_politely(tmp_path: Path, key: str, code: int) -> None:
    chat = opened(tmp_path / "a.db")
    chat.expect_exact("> ")
    chat.send(key)
    chat.expect_exact(terminal.FAREWELL)
    chat.expect(pexpect.EOF)
    chat.close()
    assert chat.exitstatus == code
    assert "Traceback" not in chat.before


def test_a_killed_chat_goes_on_where_it_stood_and_says_so(tmp_path: Path) -> None:
    chat = opened(tmp_path / "a.db")
    chat.expect_exact("> ")
    chat.sendline(COMPLAINT)
    chat.expect(r"\n([^\n]+)\r\n  1 ")
    question = chat.match.group(1)
    chat.kill(signal.SIGKILL)
    chat.close()
    again = opened(tmp_path / "a.db")
    again.expect_exact("We go on where we stood")
    again.expect_exact(question)
    again.close(force=True)


@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "latin-1"])
def test_a_piped_chat_works_in_any_encoding(tmp_path: Path, encoding: str) -> None:
    typed = f"{COMPLAINT}\n1\nwhy\nsummary\n\xe9\nclear the water\nbye\n".encode("latin-1")
    env = {**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    ended = subprocess.run(
        command(tmp_path / "a.db"),
        cwd=CHECKOUT,
        env=env,
        input=typed,
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert (ended.returncode, ended.stderr) == (0, b"")
    shown = ended.stdout.decode(encoding)
    assert shown.startswith(HELLO)
    assert shown.rstrip().endswith(terminal.FAREWELL)


@pytest.mark.parametrize("lines_read", [0, 1, 2])
def test_a_reader_that_goes_away_ends_the_chat_quietly(tmp_path: Path, lines_read: int) -> None:
    chat = subprocess.Popen(
        command(tmp_path / "a.db"),
        cwd=CHECKOUT,
        env={name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert chat.stdout
    for _ in range(lines_read):
        chat.stdout.readline()
    chat.stdout.close()
    _, errors = chat.communicate(f"{COMPLAINT}\n{COMPLAINT}\n".encode(), timeout=60)
    assert (chat.returncode, errors) == (1, b"")
