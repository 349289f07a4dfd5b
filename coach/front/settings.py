"""The settings: a small TOML file, environment variables over it, options over both.

    chat      which chat to go on with                       COACH_CHAT      --chat
    store     the SQLite file                                COACH_STORE     --store
    rules     a folder of rules                              COACH_RULES     --rules
    units     "us" (feet, °F) or "metric"                    COACH_UNITS     --units
    colour    "auto", "always" or "never"                    COACH_COLOUR    --colour   (NO_COLOR)
    theme     "dim" (spares night vision) or "light"         COACH_THEME     --theme
    history   whether the arrow keys bring typed lines back  COACH_HISTORY   --history, --no-history
    plain     lines only: no editing, no colour, no frames   COACH_PLAIN     --plain

The file is coach.toml in the user's config folder, or COACH_CONFIG. All that is wrong is named at
once, with file and line. Imports nothing heavy: it is read before every command.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coach.front.guide import NAME_LIMIT

Value = str | bool | Path | None
FILE_NAME = "coach.toml"
FILE_VARIABLE = "COACH_CONFIG"
_SIZE_LIMIT = 100_000
_SWITCH = dict.fromkeys(("yes", "true", "on", "1"), True) | dict.fromkeys(("no", "false", "off", "0"), False)
_AT_LINE = re.compile(r"\s*\(at line (\d+), column \d+\)$")
_KEY = re.compile(r"""\s*(?:"([^"]*)"|'([^']*)'|([\w.-]+))\s*=""")
_HEADER = re.compile(r"\s*\[\[?\s*([^\]]+?)\s*\]")


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: its default, the values it may have (none listed: any text), what it is for."""

    name: str
    default: Value
    says: str
    choices: tuple[str, ...] = ()
    is_path: bool = False

    @property
    def variable(self) -> str:
        """The environment variable that sets it."""
        return f"COACH_{self.name.upper()}"

    @property
    def allowed(self) -> str:
        """What it may be, in words."""
        if isinstance(self.default, bool):
            return "true, false"
        return ", ".join(self.choices) or ("a path" if self.is_path else f"1 to {NAME_LIMIT} characters")


SETTINGS = (
    Setting("chat", "me", "which chat to go on with"),
    Setting("store", None, "the SQLite file; ':memory:' keeps nothing", is_path=True),
    Setting("rules", None, "a folder of rules instead of the shipped ones", is_path=True),
    Setting("units", "us", "of a new chat; in a chat type 'metric' or 'us units'", ("us", "metric")),
    Setting("colour", "auto", "in the terminal", ("auto", "always", "never")),
    Setting("theme", "dim", "of terminal and pictures; dim spares night vision", ("dim", "light")),
    Setting("history", True, "whether the arrow keys bring back what was typed"),
    Setting("plain", False, "lines only: for screen readers and slow links"),
)


@dataclass(frozen=True, slots=True)
class Held:
    """What holds for a setting, and where it comes from."""

    setting: Setting
    value: Value
    origin: str = "default"


class SettingsFault(OSError):  # noqa: N818  (a list of faults, not one error)
    """Settings that cannot be used: each fault a line, with where it stands and what is allowed."""


def file_of(environment: Mapping[str, str]) -> Path | None:
    """The settings file: the one named, else the one in the user's config folder (there or not)."""
    if named := environment.get(FILE_VARIABLE):
        return Path(named).expanduser()
    from coach import folders  # noqa: PLC0415  (a broken installation must be able to say so)

    try:
        return folders.config() / FILE_NAME
    except folders.NoHome:
        return None


def read(environment: Mapping[str, str], options: Mapping[str, Any] | None = None) -> dict[str, Held]:
    """What holds, by name: an option over the environment over the file. Raises SettingsFault."""
    faults: list[str] = []
    found = {setting.name: Held(setting, setting.default) for setting in SETTINGS}
    found |= dict(_from_file(environment, faults))
    if environment.get("NO_COLOR") and found["colour"].origin == "default":
        found["colour"] = Held(found["colour"].setting, "never", "environment NO_COLOR")
    found |= dict(_from_environment(environment, faults))
    if faults:
        raise SettingsFault("\n".join(faults))
    given = {name: value for name, value in (options or {}).items() if name in found and value is not None}
    return found | {
        name: Held(found[name].setting, value, f"option --{name}") for name, value in given.items()
    }


def filled(options: Mapping[str, Any], held: Mapping[str, Held]) -> dict[str, Any]:
    """A command's options, with those not given taken from the settings. The store stays a text."""
    settled = {
        name: held[name].value if value is None and name in held else value for name, value in options.items()
    }
    if isinstance(settled.get("store"), Path):
        settled["store"] = str(settled["store"])
    return settled


def _from_file(environment: Mapping[str, str], faults: list[str]) -> Iterator[tuple[str, Held]]:
    file = file_of(environment)
    text = None if file is None else _text(file, environment, faults)
    if file is None or text is None:
        return
    try:
        given = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line = _AT_LINE.search(str(error))
        at = line[1] if line else len(text.splitlines())
        faults.append(f"{file}:{at}: this is not TOML: {_AT_LINE.sub('', str(error))}. {_EXAMPLE}")
        return
    by_name = {setting.name: setting for setting in SETTINGS}
    for name, value in given.items():
        at = f"{file}:{_line_of(text, name)}"
        if name not in by_name:
            faults.append(f"{at}: '{name}' is no setting. {_nearest(name, by_name)}")
            continue
        kept = _checked(by_name[name], value)
        if isinstance(kept, _Wrong):
            faults.append(f"{at}: {name}: got {kept.shown}; allowed {by_name[name].allowed}.")
        else:
            yield name, Held(by_name[name], _placed(kept, file.parent), f"file, line {_line_of(text, name)}")


_EXAMPLE = 'A line is such as: units = "metric"'


def _text(file: Path, environment: Mapping[str, str], faults: list[str]) -> str | None:
    try:
        if file.stat().st_size > _SIZE_LIMIT:
            faults.append(f"{file}:1: larger than {_SIZE_LIMIT} bytes. Settings are a few lines of text.")
            return None
        return file.read_text(encoding="utf-8")
    except FileNotFoundError:
        if environment.get(FILE_VARIABLE):
            faults.append(f"{file}: there is no such file. Mend {FILE_VARIABLE}, or: coach config --new")
    except UnicodeDecodeError:
        faults.append(f"{file}:1: this is not text in UTF-8. {_EXAMPLE}")
    except OSError as error:
        faults.append(f"{file}: {error.strerror}. Let it be read, or name another by {FILE_VARIABLE}.")
    return None


def _from_environment(environment: Mapping[str, str], faults: list[str]) -> Iterator[tuple[str, Held]]:
    for setting in SETTINGS:
        given = environment.get(setting.variable)
        if not given:
            continue
        value = _SWITCH.get(given.casefold(), given) if isinstance(setting.default, bool) else given
        kept = _checked(setting, value)
        if isinstance(kept, _Wrong):
            faults.append(f"{setting.variable}: got {kept.shown}; allowed {setting.allowed}.")
        else:
            yield setting.name, Held(setting, kept, f"environment {setting.variable}")


@dataclass(frozen=True, slots=True)
class _Wrong:
    shown: str


def _checked(setting: Setting, value: Any) -> Value | _Wrong:
    shown = ascii(value)
    wrong = _Wrong(shown if len(shown) <= 60 else f"{shown[:57]}...")
    if isinstance(setting.default, bool):
        return value if isinstance(value, bool) else wrong
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        return wrong
    if setting.choices:
        return value if value in setting.choices else wrong
    if not setting.is_path:
        return value if len(value) <= NAME_LIMIT else wrong
    try:
        return value if value == ":memory:" else Path(value).expanduser()
    except RuntimeError:  # "~" where no home folder is known
        return wrong


def _placed(value: Value, folder: Path) -> Value:
    """A path in the file is meant from the file's folder."""
    return folder / value if isinstance(value, Path) else value


def _line_of(text: str, name: str) -> int:
    """Where a key or a table of that name first stands."""
    for number, line in enumerate(text.splitlines(), 1):
        if (key := _KEY.match(line)) and next(part for part in key.groups() if part is not None) == name:
            return number
        found = key or _HEADER.match(line)
        if found and (found[found.lastindex or 1] or "").split(".")[0].strip("\"' ") == name:
            return number
    return 1


def _nearest(name: str, known: Mapping[str, Setting]) -> str:
    near = difflib.get_close_matches(name, known, 1, 0.7)
    return f"Did you mean '{near[0]}'?" if near else f"There are {', '.join(known)}."
