"""Settings: a TOML file, the environment over it, options over both; every fault is named at once."""

import subprocess
import sys
from pathlib import Path

import pytest
import small_core
from screens import CHECKOUT, Seat

from coach.consult import Desk
from coach.conversation import Message, Session
from coach.exchange import Envelope
from coach.front import config, settings
from coach.front.settings import SETTINGS, SettingsFault, filled, read
from coach.store import MEMORY, Store


def written(folder: Path, text: str | bytes) -> dict[str, str]:
    """An environment in which this is the settings file."""
    file = folder / "coach.toml"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return {"COACH_CONFIG": str(file)}


def faults(environment: dict[str, str]) -> list[str]:
    with pytest.raises(SettingsFault) as raised:
        read(environment)
    return str(raised.value).splitlines()


def run(seat: Seat, *arguments: str, typed: bytes = b"") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "coach", *arguments],
        cwd=CHECKOUT, env=seat.environ(), input=typed.decode(), capture_output=True, text=True, timeout=60,
        check=False,
    )  # fmt: skip


@pytest.fixture
def seat(tmp_path: Path) -> Seat:
    return Seat(tmp_path)


def test_an_option_goes_over_the_environment_over_the_file_over_the_default(tmp_path: Path) -> None:
    environment = written(tmp_path, 'units = "metric"\nchat = "boat"\ntheme = "light"\n')
    environment |= {"COACH_CHAT": "dinghy", "COACH_THEME": "dim"}
    held = read(environment, {"theme": "light", "chat": None})
    assert {name: (each.value, each.origin) for name, each in held.items()} == {
        "units": ("metric", "file, line 1"),
        "chat": ("dinghy", "environment COACH_CHAT"),
        "theme": ("light", "option --theme"),
        "store": (None, "default"),
        "rules": (None, "default"),
        "colour": ("auto", "default"),
        "history": (True, "default"),
        "plain": (False, "default"),
    }


def test_every_fault_of_file_and_environment_is_named_at_once_with_its_line(tmp_path: Path) -> None:
    text = '# mine\nunit = "metric"\ntheme = "green"\n\nhistory = "no"\nchat = ""\n'
    text += "[colour]\nx = 1\n[quiet]\nz = 1\n"
    environment = written(tmp_path, text) | {"COACH_UNITS": "feet", "COACH_HISTORY": "off"}
    file = environment["COACH_CONFIG"]
    assert faults(environment) == [
        f"{file}:2: 'unit' is no setting. Did you mean 'units'?",
        f"{file}:3: theme: got 'green'; allowed dim, light.",
        f"{file}:5: history: got 'no'; allowed true, false.",
        f"{file}:6: chat: got ''; allowed 1 to 128 characters.",
        f"{file}:7: colour: got {{'x': 1}}; allowed auto, always, never.",
        f"{file}:9: 'quiet' is no setting. There are {', '.join(each.name for each in SETTINGS)}.",
        "COACH_UNITS: got 'feet'; allowed us, metric.",
    ]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('units = "us"\nunits = metric\n', ":2: this is not TOML"),
        ('units = "us"\nunits = "us"\n', ":2: this is not TOML"),
        (b"units = '\xff'", ":1: this is not text in UTF-8"),
        ("#" * 100_001, ":1: larger than 100000 bytes"),
        ("[" * 3000, ":1: this is not TOML"),
    ],
)
def test_what_cannot_be_read_is_named_by_file_and_line(tmp_path: Path, text: str | bytes, says: str) -> None:
    environment = written(tmp_path, text)
    (fault,) = faults(environment)
    assert fault.startswith(f"{environment['COACH_CONFIG']}{says}")


def test_a_file_that_was_named_and_is_not_there_is_a_fault_and_an_unnamed_one_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (fault,) = faults({"COACH_CONFIG": str(tmp_path / "no.toml")})
    assert "there is no such file" in fault
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert {each.origin for each in read({}).values()} == {"default"}


def test_no_color_is_heeded_unless_colour_was_set_on_purpose(tmp_path: Path) -> None:
    """no-color.org (MEMORY): set and not empty; the user's own settings and options go over it."""
    assert read({"NO_COLOR": "1"})["colour"].value == "never"
    assert read({"NO_COLOR": ""})["colour"].value == "auto"
    assert read({"NO_COLOR": "1"}, {"colour": "auto"})["colour"].value == "auto"
    assert read({"NO_COLOR": "1", **written(tmp_path, 'colour = "always"')})["colour"].value == "always"


def test_a_path_in_the_file_is_meant_from_the_files_folder_and_a_tilde_is_home(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", "/home/ada")
    held = read(written(tmp_path, 'store = "boat.db"\nrules = "~/rules"'))
    assert filled({"store": None, "rules": None}, held) == {
        "store": str(tmp_path / "boat.db"),
        "rules": Path("/home/ada/rules"),
    }
    assert read(written(tmp_path, 'store = ":memory:"'))["store"].value == ":memory:"


def test_the_template_names_every_setting_and_is_a_file_that_holds_with_each_line_set(tmp_path: Path) -> None:
    text = config.template()
    assert {each.origin for each in read(written(tmp_path, text)).values()} == {"default"}
    unveiled = "".join(
        line.removeprefix("# ") if " = " in line else line for line in text.splitlines(keepends=True)
    )
    assert all("file, line" in each.origin for each in read(written(tmp_path, unveiled)).values())


def test_the_docstring_of_the_settings_and_the_readme_name_each() -> None:
    readme = (CHECKOUT / "README.md").read_text(encoding="utf-8")
    for each in SETTINGS:
        assert each.variable in str(settings.__doc__)
        assert f"`{each.name}`" in readme


# --- as commands -----------------------------------------------------------------------------------


def test_config_shows_what_holds_and_where_from_and_new_writes_a_file_once(seat: Seat) -> None:
    assert run(seat, "config", "--new").returncode == 0
    file = seat.home / "config" / "lampcoach" / "coach.toml"
    assert file.read_text() == config.template()
    again = run(seat, "config", "--new")
    assert (again.returncode, again.stdout) == (2, "")
    file.write_text('units = "metric"\n')
    shown = run(seat, "config", "--theme", "light")
    rows = {line.split()[0]: line.split()[1:] for line in shown.stdout.splitlines() if line}
    assert rows["units"] == ["metric", "file,", "line", "1"]
    assert rows["theme"] == ["light", "option", "--theme"]
    assert rows["store"] == [str(seat.store), "default"]
    assert f"settings: {file}\n" in shown.stdout


@pytest.mark.parametrize(
    "command", [("chat",), ("talk",), ("read",), ("rules", "check"), ("log",), ("config",)]
)
def test_faulty_settings_are_lines_on_standard_error_and_exit_1(seat: Seat, command: tuple[str, ...]) -> None:
    file = seat.home / "config" / "lampcoach" / "coach.toml"
    file.parent.mkdir(parents=True)
    file.write_text("colours = 1\nplain = 7\n")
    ended = run(seat, *command)
    assert (ended.returncode, ended.stdout) == (1, "")
    assert ended.stderr.splitlines() == [
        f"{file}:1: 'colours' is no setting. Did you mean 'colour'?",
        f"{file}:2: plain: got 7; allowed true, false.",
    ]


def test_the_doctor_names_faulty_settings_and_looks_at_the_store_that_is_set(seat: Seat) -> None:
    file = seat.home / "config" / "lampcoach" / "coach.toml"
    file.parent.mkdir(parents=True)
    file.write_text("colours = 1\n")
    ill = run(seat, "doctor")
    assert ill.returncode == 1
    assert f"not ok  settings: {file}:1: 'colours' is no setting" in ill.stdout
    file.write_text('store = "boat.db"\n')
    well = run(seat, "doctor")
    assert well.returncode == 0
    assert f"ok      store: {file.parent / 'boat.db'}\n" in well.stdout


def test_the_chat_and_store_that_are_set_are_those_that_are_used(seat: Seat) -> None:
    seat.environment |= {"COACH_CHAT": "dinghy", "COACH_STORE": str(seat.home / "b.db")}
    assert run(seat, "chat", typed=b"sharks\nbye\n").returncode == 0
    with Store(seat.home / "b.db") as store:
        assert (store.look("dinghy").seq, store.look("me").seq) == (1, 0)


# --- units -----------------------------------------------------------------------------------------


def test_a_new_chat_speaks_the_units_that_are_set_and_a_chat_keeps_those_it_was_told(seat: Seat) -> None:
    seat.environment["COACH_UNITS"] = "metric"
    told = b"was good till nine then it faded\n1\n1\n2\n"
    assert "in metres?" in run(seat, "chat", typed=told).stdout
    assert "in feet?" in run(seat, "chat", typed=b"us units\n").stdout
    gone_on = run(seat, "chat", typed=b"bye\n").stdout
    assert "in feet?" in gone_on
    assert "in metres?" not in gone_on
    afresh = run(seat, "chat", "--units", "metric", typed=b"bye\n").stdout
    assert "in metres?" in afresh  # what is asked for on the command line goes over what was said before


def test_after_forget_a_chat_begins_again_in_the_units_that_are_set() -> None:
    seen: list[bool] = []

    def step(session: Session, message: Message, **rest: object) -> object:
        seen.append(session.metric)
        return small_core.step(session, message, **rest)  # type: ignore[arg-type]

    with Store(MEMORY) as store:
        desk = Desk(store, small_core.BOOK, infer=small_core.infer, step=step, metric=True)  # type: ignore[arg-type]
        for message in (Message(text="hello"), Message(command="forget"), Message(text="hello")):
            desk.answer(Envelope("me", message=message), now=small_core.NOW)
    assert seen == [True, True, True]


@pytest.mark.parametrize("command", [("picture", "side"), ("card",)])
def test_pages_of_a_chat_that_has_not_begun_are_in_the_units_that_are_set(
    seat: Seat, command: tuple[str, ...]
) -> None:
    told = ("--facts", "water.depth_ft=11", "water.depth_left_ft=11", "lamps.clip_left_ft=3")
    assert "11 ft" in run(seat, *command, *told).stdout
    seat.environment["COACH_UNITS"] = "metric"
    shown = run(seat, *command, *told).stdout
    assert "11 ft" not in shown
    assert "3.4 m" in shown  # 11 ft are 3.3528 m (NIST SP 811, MEMORY)


def test_the_programs_interface_does_not_depend_on_the_units_that_are_set(seat: Seat) -> None:
    sent = b'{"chat": "a", "text": "was good till nine then it faded"}\n'
    sent += b'{"chat": "a", "facts": {"safety.all_clear": true, "run.seen_where": "under-boat"}}\n'
    plain = run(seat, "talk", "--store", ":memory:", typed=sent).stdout
    seat.environment["COACH_UNITS"] = "metric"
    assert run(seat, "talk", "--store", ":memory:", typed=sent).stdout == plain


# --- folders ---------------------------------------------------------------------------------------


def test_the_typed_lines_and_the_settings_lie_where_the_specification_wants_them(seat: Seat) -> None:
    """XDG Base Directory Specification (MEMORY): ~/.config, ~/.local/state, ~/.local/share."""
    bare = {name: value for name, value in seat.environ().items() if not name.startswith("XDG_")}
    shown = subprocess.run(
        [sys.executable, "-m", "coach", "config"],
        cwd=CHECKOUT, env=bare, capture_output=True, text=True, timeout=60, check=True,
    ).stdout  # fmt: skip
    assert f"settings: {seat.home}/.config/lampcoach/coach.toml (not there)" in shown
    assert f"typed lines: {seat.home}/.local/state/lampcoach/typed (not there)" in shown
    assert f"{seat.home}/.local/share/lampcoach/coach.db" in shown


def test_nothing_is_written_where_settings_are_only_read(seat: Seat) -> None:
    before = sorted(seat.home.rglob("*"))
    run(seat, "config")
    assert sorted(seat.home.rglob("*")) == before
