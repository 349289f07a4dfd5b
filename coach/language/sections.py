"""The sections of the word files: what may stand in a file, and what has the wrong shape."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from coach.language.entries import Report

LISTS = (
    "filler", "ordinary", "all_of", "any_of", "not_theirs", "carry", "grave", "both",
    "before_a_place",
)  # fmt: skip
TABLES = (
    "class", "spelling", "irregular", "subject", "answers", "states_nothing", "fine_means", "per_minutes",
    "opens", "pairs", "halves", "named", "spoiled_by", "aboard",
)  # fmt: skip
ARRAYS = ("means", "together")
_SHAPES: dict[str, type] = dict.fromkeys(LISTS + ARRAYS, list) | dict.fromkeys(TABLES, dict)


class Sections:
    """All word files together; what has the wrong shape is reported and left out."""

    def __init__(self, words: Mapping[str, Any], report: Report) -> None:
        self._report = report
        self._files = {file: self._checked(file, content) for file, content in words.items()}

    def _checked(self, file: str, content: object) -> Mapping[str, Any]:
        if not isinstance(content, Mapping):
            self._report(file, file, "is not a table", "start it with [class], [subject] or [[means]]")
            return {}
        good: dict[str, Any] = {}
        for key, value in content.items():
            shape = _SHAPES.get(key)
            if shape is None:
                self._report(file, key, "unknown section", f"use one of {', '.join(sorted(_SHAPES))}")
            elif not isinstance(value, shape):
                wanted = "list" if shape is list else "table"
                self._report(file, key, f"is not a {wanted}", "see the head of grammar.toml")
            else:
                good[key] = value
        return good

    def table(self, key: str) -> Iterator[tuple[str, str, Any]]:
        """File, name and value of every line of the tables named `key`."""
        for file, content in self._files.items():
            for name, value in content.get(key, {}).items():
                yield file, name, value

    def lists(self, key: str) -> Iterator[tuple[str, str, list[str]]]:
        """The same for tables whose values are lists of phrases; a single phrase counts as a list."""
        for file, name, value in self.table(key):
            yield file, name, self.texts(file, name, value=value)

    def items(self, key: str) -> Iterator[tuple[str, str]]:
        """File and text of every item of the lists named `key`."""
        for file, content in self._files.items():
            for text in self.texts(file, key, value=content.get(key, [])):
                yield file, text

    def entries(self, key: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
        """File and table of every [[key]]."""
        for file, content in self._files.items():
            for table in content.get(key, []):
                if isinstance(table, Mapping):
                    yield file, table
                else:
                    self._report(file, str(table), "is not a table", f"write [[{key}]] and its keys below")

    def texts(self, file: str, name: str, *, value: object) -> list[str]:
        """The value as a list of texts; what is none is reported."""
        listed = value if isinstance(value, list) else [value]
        good = [text for text in listed if isinstance(text, str) and text.strip()]
        if len(good) < len(listed):
            self._report(file, name, "is not a list of texts", f'write {name} = ["...", "..."]')
        return good
