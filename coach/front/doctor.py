"""`coach doctor`: does everything that the coach stands on work here, and if not, what to do.

Runs on a broken installation too: whatever may be missing is imported within its own check.
"""
# ruff: noqa: PLC0415  (see above)

from __future__ import annotations

import contextlib
import importlib
import importlib.metadata
import os
import shutil
import sqlite3
import sys
import sysconfig
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PYTHONS = ((3, 11), (3, 12))
SQLITE_WITH_STRICT = (3, 37)
PACKAGES = {
    "pydantic": "pydantic",
    "sqlite-utils": "sqlite_utils",
    "rapidfuzz": "rapidfuzz",
    "prompt_toolkit": "prompt_toolkit",
    "rich": "rich",
    "platformdirs": "platformdirs",
}
ENGINE = ("durable_rules", "durable_rules_engine")
REINSTALL = "Run: python3 -m pip install . (in the project's folder)."
BUILD_TOOLS = "Run as root: apt-get install -y gcc python3-dev, then install the coach again."


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check found: a line to read, and what to do if it is not ok."""

    is_ok: bool
    line: str
    do: str = ""

    def __str__(self) -> str:
        return f"ok      {self.line}" if self.is_ok else f"not ok  {self.line}. {self.do}"


def serve(store: str | None = None, rules: Path | None = None) -> int:
    """Print a line for each check; the exit code: 0, or 1 if anything is not ok."""
    findings = []
    for finding in examine(store, rules):
        print(finding, flush=True)
        findings.append(finding)
    return 0 if all(finding.is_ok for finding in findings) else 1


def examine(store: str | None, rules: Path | None) -> Iterator[Finding]:
    """All findings, in an order in which the first that is not ok is the one to mend first."""
    yield python(sys.version_info[:2])
    for package, module in PACKAGES.items():
        yield package_found(package, module)
    yield from engine_found()
    yield checked("inference: one rule fires", _one_rule_fires, REINSTALL)
    yield checked("database: SQLite with STRICT and WAL", _sqlite, "Use a newer Python (SQLite 3.37 on).")
    held: dict[str, Any] = {}
    yield checked("settings", lambda: _settings(held), "Run 'coach config' and mend what it names.")
    mend = "Run 'coach rules check' and mend what it names."
    yield checked("rules", lambda: _rules(rules or held.get("rules")), mend)
    yield checked("store", lambda: _store(store or held.get("store")), "")
    yield terminal(getattr(sys.stdout, "encoding", None))


def python(version: tuple[int, ...]) -> Finding:
    """Whether this Python is one that the coach runs on."""
    found = f"Python {version[0]}.{version[1]}"
    return Finding(version in PYTHONS, found, "Use Python 3.11 or 3.12.")


def package_found(package: str, module: str) -> Finding:
    """Whether a package can be imported, and its version."""
    try:
        importlib.import_module(module)
        return Finding(True, f"package {package} {importlib.metadata.version(package)}")
    except ImportError as missing:
        return Finding(False, f"package {package}: {missing}", REINSTALL)


def engine_found() -> Iterator[Finding]:
    """The inference library; if it is missing, what it takes to build it on this machine."""
    found = package_found(*ENGINE)
    yield found
    if not found.is_ok:
        yield build_tool("C compiler", shutil.which("gcc") or shutil.which("cc"))
        header = Path(sysconfig.get_paths()["include"]) / "Python.h"
        yield build_tool("Python headers", str(header) if header.exists() else None)


def build_tool(name: str, place: str | None) -> Finding:
    """Whether something that building the inference library takes is there."""
    return Finding(place is not None, f"{name}: {place or 'not found'}", BUILD_TOOLS)


def terminal(encoding: str | None) -> Finding:
    """Whether the terminal's encoding is known; signs it lacks are replaced by look-alikes."""
    try:
        whole = "½ → °".encode(encoding or "")
    except UnicodeEncodeError:
        return Finding(True, f"terminal: {encoding}; signs that it lacks are written otherwise")
    except LookupError:
        return Finding(False, f"terminal: unknown encoding {encoding!r}", "Set LC_ALL=C.UTF-8.")
    return Finding(bool(whole), f"terminal: {encoding}")


def checked(what: str, check: Callable[[], str], do: str) -> Finding:
    """The finding of a check that returns a detail to show, or raises with the reason."""
    try:
        return Finding(True, f"{what}: {check()}")
    except Exception as error:  # whatever it is, it is what the user came to hear
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        return Finding(False, f"{what}: {reason.removesuffix('.')}", do)


def _one_rule_fires() -> str:
    from coach.engine import Engine
    from coach.model import Clause, Pattern

    with contextlib.closing(Engine((Clause("a-rule", (Pattern("seen"),), concludes=("so",)),))) as engine:
        fired = [firing.rule for firing in engine.evaluate({"seen": True}).firings]
    if fired != ["a-rule"]:
        raise RuntimeError(f"fired {fired} instead")
    return "yes"


def _sqlite() -> str:
    if sqlite3.sqlite_version_info < SQLITE_WITH_STRICT:
        raise RuntimeError(f"this is SQLite {sqlite3.sqlite_version}")
    with (
        tempfile.TemporaryDirectory() as folder,
        contextlib.closing(sqlite3.connect(Path(folder) / "try.db")) as database,
    ):
        mode = database.execute("PRAGMA journal_mode = WAL").fetchone()[0]
        database.execute("CREATE TABLE try (seen TEXT) STRICT")
    if mode != "wal":
        raise RuntimeError(f"the temporary folder allows only the mode {mode!r}")
    return sqlite3.sqlite_version


def _settings(held: dict[str, Any]) -> str:
    """Read the settings into `held`; their file."""
    from coach.front.settings import file_of, read

    held |= {name: each.value for name, each in read(os.environ).items()}
    file = file_of(os.environ)
    return f"{file}{'' if file is not None and file.exists() else ' (not there)'}"


def _rules(folder: Path | None) -> str:
    from coach.consult import prepared

    return str(len(prepared(folder).rules))


def _store(path: str | Path | None) -> str:
    from coach.store import Store, default_path

    with Store(path or default_path()) as store:
        return store.path
