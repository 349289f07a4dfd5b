"""The captain's folder as read: tables, where they stand, and every fault found in them."""

from __future__ import annotations

import hashlib
import re
import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from coach.model import Fault
from coach.rulebook.conditions import closest
from coach.rulebook.entries import Entry, Raw
from coach.rulebook.lines import Lines

_TOO_LARGE_BYTES = 1_000_000
_AT_LINE = re.compile(r"\(at line (\d+)")
_COMMA = re.compile(r"=\s*(-?\d+),(\d+)\s*(?:#.*)?$")
_E = TypeVar("_E", bound=Entry)


class Source:
    """Reads files and checks tables; collects faults instead of stopping at the first."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.faults: list[Fault] = []
        self.digest = hashlib.sha256()
        self.broken: set[str] = set()
        self._lines: dict[str, Lines] = {}
        self._texts: dict[str, str] = {}

    def files(self, under: str = "") -> dict[str, Raw]:
        """Every TOML file of the folder, or of a folder in it, by name. A broken one comes out empty."""
        prefix = f"{under}/" if under else ""
        paths = sorted((self.folder / under).glob("*.toml"))
        return {prefix + path.name: self._table(path, prefix + path.name) for path in paths}

    def _table(self, path: Path, name: str) -> Raw:
        content = b""
        try:
            content = path.read_bytes()
            if len(content) > _TOO_LARGE_BYTES:
                self.broken.add(name)
                self.fault(name, 1, "the file", "it is larger than a megabyte", "Split it.")
                return {}
            text = content.decode("utf-8")
            table = tomllib.loads(text)
        except (OSError, ValueError) as error:
            self.broken.add(name)
            at = _AT_LINE.search(str(error))
            do = _mended(content, int(at[1]) if at else 0)
            self.fault(name, int(at[1]) if at else 1, "the file", f"it cannot be read: {error}", do)
            return {}
        self._lines[name] = Lines(text)
        self._texts[name] = text
        self.digest.update(name.encode() + b"\0" + content)
        return table

    def fault(self, file: str, line: int, where: str, wrong: str, do: str) -> None:
        """Note a fault."""
        self.faults.append(Fault(f"{self.folder.name}/{file}", line, where, wrong, do))

    def line(self, file: str, table: str, place: int = 0, key: str | None = None) -> int:
        """The line of a table or of a key in it; 1 where the file could not be read."""
        lines = self._lines.get(file)
        return 1 if lines is None else lines.of(table, place, key)

    def line_with(self, file: str, words: str) -> int:
        """The first line that holds these words; 1 if none does."""
        lines = self._texts.get(file, "").splitlines()
        return next((number for number, line in enumerate(lines, 1) if words in line), 1)

    def model(
        self, kind: type[_E], raw: Any, *, file: str, table: str = "", place: int = 0, where: str = ""
    ) -> _E | None:
        """The table as a model; None where it is not one, and its faults are noted."""
        try:
            return kind.model_validate(raw)
        except ValidationError as error:
            for item in error.errors():
                path = [str(step) for step in item["loc"]]
                wrong, do = _in_words(item, kind)
                said = f"{'.'.join(path)}: {wrong}" if path else wrong
                self.fault(file, self._line_of(file, table, place, path), where or table or file, said, do)
            return None

    def _line_of(self, file: str, table: str, place: int, path: list[str]) -> int:
        """The line for a place within a whole file's model ([a.b] key) or within one table's."""
        if table or not path:
            return self.line(file, table, place, path[0] if path else None)
        for depth in (2, 1):
            head, key = ".".join(path[:depth]), path[depth] if len(path) > depth else None
            number = path[1] if depth == 1 and len(path) > 1 and path[1].isdigit() else "0"
            found = self.line(file, head, int(number), path[2] if number != "0" and len(path) > 2 else key)
            if found > 1:
                return found
        return 1


def _mended(content: bytes, line: int) -> str:
    """What to do about a line that is no TOML; a comma in a number is the slip of half the world."""
    lines = content.decode("utf-8", "replace").splitlines()
    comma = _COMMA.search(lines[line - 1]) if 0 < line <= len(lines) else None
    if comma:
        return f"Write {comma[1]}.{comma[2]} with a point, not {comma[1]},{comma[2]} with a comma."
    return "Mend it: every text stands in quotes, every table head in brackets."


def _in_words(item: Any, kind: type[Entry]) -> tuple[str, str]:
    """A validation error as a captain would want it said."""
    last = str(item["loc"][-1]) if item["loc"] else ""
    if item["type"] == "extra_forbidden":
        allowed = [field.alias or name for name, field in kind.model_fields.items()]
        return "this key is not known", closest(last, allowed)
    if item["type"] == "missing":
        return "is missing", "Add it."
    return item["msg"].lower(), f"Given: {item.get('input')!r}."[:200]
