"""Where in a TOML file a table or a key stands: the standard reader does not say."""

from __future__ import annotations

import re
from collections import Counter

_HEADER = re.compile(r"^\s*(\[\[?)\s*(.+?)\s*\]\]?\s*(#.*)?$")
_STRING = re.compile(r""" "(?:[^"\\]|\\.)*" | '[^']*' """, re.VERBOSE)
_KEY = re.compile(r"""^\s*("[^"]+"|[\w.-]+)\s*=""")


class Lines:
    """Line numbers of one file's tables and keys, counted from 1.

    A table is known by its header as written without quotes, and for `[[header]]` by its place
    among those of the same header, counted from 0.
    """

    def __init__(self, text: str) -> None:
        self._tables: dict[tuple[str, int], int] = {}
        self._keys: dict[tuple[str, int, str], int] = {}
        seen: Counter[str] = Counter()
        table, place, inside_text, depth = "", 0, False, 0
        for number, line in enumerate(text.splitlines(), start=1):
            if inside_text:
                inside_text = line.count('"""') % 2 == 0
                continue
            inside_text = line.count('"""') % 2 == 1
            if depth:
                depth += _opened(line)
                continue
            header = _HEADER.match(line)
            if header and not _KEY.match(line):
                table = header[2].replace('"', "").replace("'", "")
                place = seen[table]
                seen[table] += 1
                self._tables[table, place] = number
            elif key := _KEY.match(line):
                self._keys.setdefault((table, place, key[1].strip('"')), number)
                depth = _opened(line[key.end() :])

    def of(self, table: str, place: int = 0, key: str | None = None) -> int:
        """The line of the key, else of its table, else 1."""
        found = self._keys.get((table, place, key)) if key is not None else None
        return found or self._tables.get((table, place), 1)


def _opened(line: str) -> int:
    """How many list brackets a line opens more than it closes, strings and remarks left out."""
    bare = _STRING.sub("", line).partition("#")[0]
    return bare.count("[") - bare.count("]")
