"""The captain's limits sheet: what the law allows here, filled in by hand, with source and date.

The program knows no law. It shows what the sheet says, says how old that is, and defers to the agency.
A sheet is a TOML file:

    place = "Stillwater Lagoon"
    agency = "who makes the rules here, and how to reach them"
    old_after_days = 60          # when an entry counts as old (60 if not written)

    [[limit]]
    what = "Bag limit"
    says = "what it is, in your words"
    source = "where you read it"
    checked = 2027-01-20         # the day you read it
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

OLD_AFTER_DAYS = 60
SIZE_LIMIT = 100_000
TEMPLATE = """# The limits sheet: what the law allows here. Read it up again before each season.
# Take the # away before a line to use it; one [[limit]] for each thing.
place = ""
agency = ""            # who makes the rules here, and how to reach them
old_after_days = 60    # from then on the card warns that an entry is old

# [[limit]]
# what = "Season"
# says = "in your words"
# source = "where you read it"
# checked = 2027-01-20

# [[limit]]
# what = "Bag limit"
# says = "in your words"
# source = "where you read it"
# checked = 2027-01-20

# [[limit]]
# what = "Gear: nets, mesh, frame size"
# says = "in your words"
# source = "where you read it"
# checked = 2027-01-20

# [[limit]]
# what = "Licence"
# says = "in your words"
# source = "where you read it"
# checked = 2027-01-20
"""
DEFERS = "This sheet is the captain's note, not the law. The agency's word counts; ask it when in doubt."
EMPTY = "No limits sheet is filled in. Ask the agency for season, bag limit, gear and licence before you go."


class SheetError(OSError):
    """The limits sheet cannot be used: which file, what is wrong, and what to do, a line a fault."""


class Limit(BaseModel):
    """One entry."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    what: str = Field(min_length=1, max_length=60)
    says: str = Field(min_length=1, max_length=240)
    source: str = Field(min_length=1, max_length=120)
    checked: date

    def age_days(self, today: date) -> int:
        """Days since it was read."""
        return (today - self.checked).days


class Sheet(BaseModel):
    """The whole sheet."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    place: str = Field("", max_length=80)
    agency: str = Field("", max_length=160)
    old_after_days: int = Field(OLD_AFTER_DAYS, ge=1, le=3650)
    limit: tuple[Limit, ...] = Field((), max_length=12)

    def lines(self, today: date) -> Iterator[str]:
        """Each entry with its source and age, then whose word counts."""
        if not self.limit:
            yield EMPTY
        for entry in self.limit:
            yield (
                f"{entry.what}: {entry.says} ({entry.source}, read {entry.checked:%d %b %Y})"
                f"{self._warning(entry, today)}"
            )
        yield f"{DEFERS} {self.agency}".strip()

    def _warning(self, entry: Limit, today: date) -> str:
        age = entry.age_days(today)
        if age < 0:
            return " - WRONG DATE: it lies ahead."
        if age <= self.old_after_days:
            return ""
        return f" - OLD: read {age} days ago. Ask the agency again."


def default_sheet() -> Path | None:
    """Where the captain's own sheet lies, limits.toml in the config folder; None if no home is known."""
    config = Path(os.environ.get("XDG_CONFIG_HOME", ""))
    try:
        return (config if config.is_absolute() else Path.home() / ".config") / "lampcoach" / "limits.toml"
    except RuntimeError:
        return None


def own_sheet() -> Sheet | None:
    """The captain's own sheet, where there is one. Raises SheetError if it is faulty."""
    own = default_sheet()
    return read_sheet(own) if own is not None and own.exists() else None


def read_sheet(file: Path) -> Sheet:
    """The sheet in a file. Raises SheetError for one that is missing, too large or faulty."""
    try:
        if file.stat().st_size > SIZE_LIMIT:
            raise SheetError(f"{file}: larger than {SIZE_LIMIT} bytes. A limits sheet is a page of text.")
        return Sheet.model_validate(tomllib.loads(file.read_text(encoding="utf-8")))
    except ValidationError as error:
        raise SheetError("\n".join(_faults(file, error))) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SheetError(
            f"{file}: this is not TOML: {error}. Start from 'coach card --new-limits'."
        ) from error
    except SheetError:
        raise
    except OSError as error:
        raise SheetError(f"{file}: {error.strerror}. Name a limits sheet by --limits.") from error


def _faults(file: Path, error: ValidationError) -> Iterator[str]:
    for fault in error.errors():
        where = ".".join(str(part + 1) if isinstance(part, int) else part for part in fault["loc"])
        yield f"{file}: {where or 'the sheet'}: {fault['msg']}. See the example in the manual."
