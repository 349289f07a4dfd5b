"""The chat at a real terminal: editing, typed lines, the Tab key, narrow screens, colours, signals."""

import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from screens import CHECKOUT, CTRL_C, CTRL_D, CTRL_Z, ENTER, LEFT, TAB, UP, Seat, Terminal

from coach.front import terminal as chat
from coach.post import due
from coach.store import Store

COMPLAINT = "was good till nine then it faded"
SAFETY = "0 don't know"


@pytest.fixture
def seat(tmp_path: Path) -> Seat:
    return Seat(tmp_path)


def words(text: str) -> str:
    return " ".join(text.split())


# --- seen at any width -----------------------------------------------------------------------------


@pytest.mark.parametrize("columns", [30, 80])
def test_a_whole_consultation_stands_on_a_screen_of_any_width_and_nothing_is_cut(
    seat: Seat, columns: int
) -> None:
    place = seat.sit(columns=columns, rows=24 if columns == 30 else 60)
    place.say(COMPLAINT, "1", "why", "about two feet", "12.5", "6'4\"", "12.5")
    seen = words(place.shown())
    assert "1 Yes 2 No 0 don't know" in seen
    assert "Safety first: jackets on, anchor light lit, out of the channel, no storm, no traffic?" in seen
    assert "Re-clip now: left 4.5 ft, right 4.5 ft above the weight." in seen
    assert "Look again in 10 minutes." in seen
    said_last = "So: Re-clip now: left 4.5 ft, right 4.5 ft above the weight. >"
    assert seen.endswith(said_last) == (columns == 30)  # on a small screen, where its first line is gone


def test_a_line_that_is_being_typed_survives_a_window_made_narrower(seat: Seat) -> None:
    place = seat.sit(columns=80)
    place.until_prompt()
    place.type("there is lightning")
    place.until("> there is lightning")
    place.resize(40)
    place.type(" near", ENTER)
    shown = place.until("0 don't know")
    after = shown[shown.rindex("! SAFETY FIRST") :]
    assert "! Lightning: nets and lamps in, poles" in after
    assert max(map(len, after.splitlines())) <= 40


# --- keys ------------------------------------------------------------------------------------------


def test_a_line_can_be_mended_before_it_is_sent(seat: Seat) -> None:
    place = seat.sit()
    place.until_prompt()
    place.type("xsharks eat lmps", *[LEFT] * 3, "a", "\x01", "\x04", ENTER)
    place.until("I did not understand: sharks eat lamps")


def test_the_up_key_brings_lines_back_in_the_next_chat_of_that_name_and_in_no_other(seat: Seat) -> None:
    place = seat.sit("--chat", "maren")
    place.say(COMPLAINT, "1")
    place.type("bye", ENTER)
    assert place.ended() == 0
    again = seat.sit("--chat", "maren")
    again.until_prompt()
    again.type(UP, UP)
    again.until(f"> {COMPLAINT}")  # a digit is not worth keeping
    other = seat.sit("--chat", "ben")
    other.until_prompt()
    other.type(UP, "hm")
    assert other.until("> hm").endswith("> hm")


def test_typed_lines_are_for_their_owners_eyes_only_and_their_file_betrays_no_name(seat: Seat) -> None:
    place = seat.sit("--chat", "maren")
    place.say(COMPLAINT)
    (file,) = (seat.home / "state" / "lampcoach" / "typed").iterdir()
    assert file.read_text() == f"{COMPLAINT}\n"
    assert (file.stat().st_mode & 0o777, file.parent.stat().st_mode & 0o777) == (0o600, 0o700)
    assert "maren" not in str(file.relative_to(seat.home))


@pytest.mark.parametrize("front", ["chat", "talk"])
def test_forget_leaves_no_byte_of_what_was_typed_wherever_it_is_said(seat: Seat, front: str) -> None:
    place = seat.sit()
    place.say("my secret spot is behind gull point", COMPLAINT)
    assert b"gull point" in seat.bytes_kept()
    if front == "chat":
        place.say("forget")
        place.type(UP, UP, "hm")
        assert place.until("> hm").endswith("\n> hm")
        place.type(CTRL_C)
        assert place.ended() == 130
    else:
        place.type(CTRL_C)
        place.ended()
        sent = b'{"chat": "me", "command": "forget"}\n'
        command = [sys.executable, "-m", "coach", "talk"]
        answer = subprocess.run(
            command, cwd=CHECKOUT, env=seat.environ(), input=sent, capture_output=True, timeout=60, check=True
        )
        assert b'"error": null' in answer.stdout
    left = seat.bytes_kept()
    assert not [word for word in (b"gull point", b"faded", b"secret") if word in left]


def test_no_history_keeps_no_line_and_erases_what_was_kept(seat: Seat) -> None:
    place = seat.sit()
    place.say("sharks eat lamps")
    place.type(CTRL_D)
    assert place.ended() == 0
    folder = seat.home / "state" / "lampcoach" / "typed"
    assert list(folder.iterdir())
    without = seat.sit("--no-history")
    without.say("sharks eat lamps")
    without.type(UP)
    without.until("\n> sharks eat lamps")  # within this sitting the key still works
    assert list(folder.iterdir()) == []


def test_a_store_in_memory_keeps_no_typed_lines(seat: Seat) -> None:
    seat.sit("--store", ":memory:").say("sharks eat lamps")
    assert b"sharks" not in seat.bytes_kept()


def test_the_tab_key_completes_answers_and_words_and_lists_where_several_fit(seat: Seat) -> None:
    place = seat.sit()
    place.say("we never got going", "1")
    place.type("dee", TAB)
    place.until("> deep, under the boat")
    place.type("\x15", TAB)  # an empty line: the open answers with their digits
    place.until("8 Nothing at all")
    place.type("cl", TAB)
    place.until("> clear the water")
    place.type(ENTER)
    place.until("1. Frame net in")


def test_one_letter_is_enough(seat: Seat) -> None:
    place = seat.sit()
    place.say(COMPLAINT, "1")
    asked = place.shown().splitlines()[-3]
    place.say("d")
    assert "I did not understand" not in place.shown()
    assert place.shown().splitlines()[-3] != asked
    for letter, seen in (("w", "Why I ask"), ("u", "Taken back"), ("h", "One letter is enough")):
        place.say(letter)
        assert seen in place.shown()
    place.type("q", ENTER)
    assert place.ended() == 0


def test_pasted_lines_become_one_line_and_wait_for_enter(seat: Seat) -> None:
    place = seat.sit()
    place.until_prompt()
    place.type("\x1b[200~sharks eat\nlamps\x1b[201~")
    place.until("lamps")
    place.type(ENTER)
    place.until("I did not understand: sharks eat lamps")


def test_bytes_that_are_no_text_end_nothing(seat: Seat) -> None:
    place = seat.sit()
    place.until_prompt()
    place.send(b"\xff\xfe sharks \xc3\r")
    place.until("I did not understand")
    place.say("help")


# --- leaving ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("key", "code"), [(CTRL_C, 130), (CTRL_D, 0)])
def test_ctrl_c_and_ctrl_d_leave_politely_and_the_chat_is_kept(seat: Seat, key: str, code: int) -> None:
    place = seat.sit()
    place.until_prompt()
    place.type(COMPLAINT, ENTER)
    place.until(SAFETY)
    place.until_prompt()
    place.type(key)
    assert place.ended() == code
    assert place.shown().endswith(chat.FAREWELL)
    assert "Traceback" not in place.shown()
    seat.sit().until("We go on where we stood")


def test_a_program_that_ends_the_chat_finds_the_terminal_as_it_was(seat: Seat) -> None:
    place = seat.sit()
    place.until_prompt()
    place.type("half a line")
    place.until("half a line")
    assert not place.echoes()
    place.kill(signal.SIGTERM)
    place.until(lambda _: place.echoes())
    assert place.ended() == 128 + signal.SIGTERM


def test_ctrl_z_gives_the_shell_back_and_fg_the_line_that_was_being_typed(seat: Seat) -> None:
    environment = {**seat.environ(), "PS1": "shell$ "}
    shell = Terminal(["/bin/bash", "--norc", "--noprofile", "-i"], environment, columns=80, rows=40)
    shell.until("shell$")
    shell.type(f"{sys.executable} -m coach chat", ENTER)
    shell.until(chat.GREETING[:40])
    shell.until_prompt()
    shell.type("sharks eat")
    shell.until("> sharks eat")
    shell.type(CTRL_Z)
    shell.until("Stopped")
    shell.type("echo still $((40 + 2)) here", ENTER)
    shell.until("still 42 here")
    shell.type("fg", ENTER)
    shell.until(lambda text: text.endswith("> sharks eat"))
    shell.type(" lamps", ENTER)
    shell.until("I did not understand: sharks eat lamps")
    shell.type(CTRL_C)
    shell.until(lambda text: text.endswith("shell$"))
    shell.type("echo code $?", ENTER)
    shell.until("code 130")


# --- what stands out -------------------------------------------------------------------------------


def test_a_hazard_stands_out_by_words_sign_and_weight_and_what_to_do_by_a_frame(seat: Seat) -> None:
    place = seat.sit(rows=60)
    place.say("there is lightning")
    assert "! SAFETY FIRST\n! Lightning: nets and lamps in" in place.shown()
    assert place.looks("! Lightning: nets") == {("red", True)}
    assert COLOUR.search(place.sent)
    place.say("new", COMPLAINT, "1", "2", "12.5", "6'4\"", "12.5")
    above, action, below = place.shown().partition("Re-clip now: left 4.5 ft, right 4.5 ft above the weight.")
    assert above.endswith(f"\n{'━' * len(action)}\n")
    assert below.startswith(f"\n{'━' * len(action)}\n")
    assert {is_bold for _, is_bold in place.looks("Re-clip now: ")} == {True}


COLOUR = re.compile(rb"\x1b\[[0-9;]*?(?:1|[349][0-7]|[34]8)(?:;[0-9;]*)?m")
"""An escape code that sets a weight or a colour (ECMA-48, 8.3.117, select graphic rendition: MEMORY)."""


@pytest.mark.parametrize(
    ("environment", "options"),
    [({"NO_COLOR": "1"}, ()), ({}, ("--colour", "never"))],
)
def test_without_colour_the_words_are_those_of_the_plain_lines(
    tmp_path: Path, environment: dict[str, str], options: tuple[str, ...]
) -> None:
    place = Seat(tmp_path, **environment).sit(*options)
    place.say("there is lightning", "1")
    assert not COLOUR.search(place.sent)
    assert "\n! Lightning: nets and lamps in" in place.shown()
    assert "SAFETY FIRST" not in place.shown()


@pytest.mark.parametrize(("environment", "options"), [({"TERM": "dumb"}, ()), ({}, ("--plain",))])
def test_plain_lines_hold_no_escape_code_at_all(
    tmp_path: Path, environment: dict[str, str], options: tuple[str, ...]
) -> None:
    place = Seat(tmp_path, **environment).sit(*options, columns=40)
    place.until_prompt()
    place.type("there is lightning", ENTER)
    place.until(SAFETY)
    assert b"\x1b" not in place.sent


# --- reminders -------------------------------------------------------------------------------------


def test_a_reminder_rings_above_the_line_that_is_being_typed_and_leaves_it_whole(seat: Seat) -> None:
    place = seat.sit()
    place.until_prompt()
    place.type("sharks e")
    place.until("> sharks e")
    with Store(seat.store) as store, store.writing() as rows:
        due.set_at(rows, "me", "look", time.time() - 1, "Time to look again.")
    shown = place.until(lambda text: text.endswith("* Time to look again.\n> sharks e"))
    assert shown.count("sharks") == 1
    place.until(lambda _: b"\x07" in place.sent)
    place.type("at lamps", ENTER)
    place.until("I did not understand: sharks eat lamps")
