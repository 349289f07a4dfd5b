"""`coach config`: what holds of the settings and where each comes from; `--new` writes a file to fill in."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from coach import folders
from coach.card.limits import default_sheet
from coach.front.settings import FILE_NAME, SETTINGS, Held, Setting, file_of, read
from coach.rulebook import default_folder
from coach.store import default_path


def serve(new: bool = False, **options: Any) -> int:
    """Print what holds, or write a new file; the exit code: 0, or 2 if the file is there already.
    Raises SettingsFault, with every fault."""
    file = file_of(os.environ)
    if new:
        return _written(file)
    for line in shown(read(os.environ, options), file):
        print(line)
    return 0


def shown(held: Mapping[str, Held], file: Path | None) -> Iterator[str]:
    """Each setting with its value and where it comes from, then the places of the files."""
    values = {name: _value(each) for name, each in held.items()}
    name_width, value_width = max(map(len, values)), max(map(len, values.values()))
    for name, each in held.items():
        yield f"{name:<{name_width}}  {values[name]:<{value_width}}  {each.origin}"
    yield ""
    yield _place("settings", file)
    yield _place("limits sheet", default_sheet())
    yield _place("typed lines", _typed_folder())


def template() -> str:
    """A settings file in which nothing is set yet, and everything stands that can be."""
    return "".join(
        (
            "# Settings of the lamp coach. Take away the '#' before a line to set it.\n",
            "# An environment variable (COACH_UNITS=metric) or an option (--units metric) goes over it.\n",
            *(f"\n# {each.says}: {each.allowed}\n# {_line(each)}\n" for each in SETTINGS),
        )
    )


def _line(setting: Setting) -> str:
    examples = {"store": "~/boat/coach.db", "rules": "~/boat/rules"}
    value = examples.get(setting.name, setting.default)
    return (
        f"{setting.name} = {str(value).lower()}" if isinstance(value, bool) else f'{setting.name} = "{value}"'
    )


def _value(held: Held) -> str:
    if held.value is None:
        return str({"store": default_path, "rules": default_folder}[held.setting.name]())
    return ("yes" if held.value else "no") if isinstance(held.value, bool) else str(held.value)


def _typed_folder() -> Path | None:
    try:
        return folders.state() / "typed"
    except folders.NoHome:
        return None


def _place(what: str, path: Path | None) -> str:
    if path is None:
        return f"{what}: no home folder is known"
    return f"{what}: {path}{'' if path.exists() else ' (not there)'}"


def _written(file: Path | None) -> int:
    if file is None:
        raise OSError(f"no home folder is known. Name a file by COACH_CONFIG, such as /tmp/{FILE_NAME}.")
    file.parent.mkdir(parents=True, exist_ok=True)
    try:
        with file.open("x", encoding="utf-8") as handle:
            handle.write(template())
    except FileExistsError:
        print(f"{file}: is there already. Change it; 'coach config' shows what holds.", file=sys.stderr)
        return 2
    print(f"Fill in {file}; 'coach config' shows what holds.")
    return 0
