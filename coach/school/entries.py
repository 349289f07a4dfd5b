"""What may stand in the files of rules/school: one model a kind of table, unknown keys refused."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import Field, field_validator, model_validator

from coach.rulebook.entries import Entry, RuleId, Sentence


def flat(raw: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """What stands under full names, whether written "tide.state" or tide.state."""
    for name, value in raw.items():
        if isinstance(value, Mapping):
            yield from flat(value, f"{before}{name}.")
        else:
            yield f"{before}{name}", value


class TopicEntry(Entry):
    """Something to learn."""

    id: RuleId
    title: Sentence
    ability: Sentence
    files: list[str] = Field(default_factory=list)
    rules: list[str] = Field(default_factory=list)
    causes: list[str] = Field(default_factory=list)
    after: list[str] = Field(default_factory=list)
    words: dict[str, Sentence] = Field(default_factory=dict)
    numbers: list[str] = Field(default_factory=list)
    reasons: list[str] = Field(default_factory=list)


class CaseEntry(Entry):
    """A night to learn from."""

    id: RuleId
    opening: Sentence
    topic: str | None = None
    hears: list[str] = Field(default_factory=list)
    facts: dict[str, Any] = Field(min_length=1)
    vague: list[str] = Field(default_factory=list)


class DefaultsEntry(Entry):
    """The night from which cases differ."""

    facts: dict[str, Any] = Field(default_factory=dict)


class SlipEntry(Entry):
    """One number misread."""

    take: tuple[str, str] | None = None
    number: tuple[str, str] | None = None
    gave: str | None = None
    part: float | None = Field(default=None, gt=0)
    as_no: str | None = None

    @model_validator(mode="after")
    def _is_one(self) -> SlipEntry:
        if len(self.model_fields_set) != 1:
            raise ValueError("a slip is one of take, number, gave, part, as_no")
        return self


class InputEntry(Entry):
    """A number of a drill that is no fact."""

    says: Sentence
    unit: str


class DrillEntry(Entry):
    """A sum to be done in the head."""

    id: RuleId
    topic: str
    gives: str
    unit: str
    within: float = Field(default=0, ge=0)
    share: float = Field(default=0, ge=0, lt=1)
    ask: Sentence
    work: Sentence
    hint: Sentence
    rules: list[str] = Field(min_length=1)
    vary: dict[str, tuple[float, float, float]] = Field(min_length=1)
    yes: list[str] = Field(default_factory=list)
    inputs: dict[str, InputEntry] = Field(default_factory=dict)
    bands: list[float] = Field(default_factory=list)
    band_says: list[Sentence] = Field(default_factory=list)
    slip: list[SlipEntry] = Field(min_length=1)

    @field_validator("vary", mode="before")
    @classmethod
    def _by_full_name(cls, vary: Any) -> Any:
        return dict(flat(vary)) if isinstance(vary, dict) else vary

    @model_validator(mode="after")
    def _fits(self) -> DrillEntry:
        if len(self.bands) != len(self.band_says):
            raise ValueError("bands and band_says must be equally many")
        if not self.bands and not self.within:
            raise ValueError("a sum without bands needs within")
        return self


class SceneEntry(Entry):
    """A question about a picture."""

    id: RuleId
    topic: str
    kind: Literal["plan", "side"]
    ask: Literal["fault", "lamp"]
    facts: dict[str, Any] = Field(min_length=1)


class DayEntry(Entry):
    """How much a day, and when nothing."""

    items: int = Field(ge=1, le=50)
    new: int = Field(ge=0, le=50)
    quiet_from: str = Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")
    quiet_until: str = Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")
    again_after: int = Field(ge=1, le=10)


class MasteryEntry(Entry):
    """When a topic counts as mastered."""

    answers: int = Field(ge=4, le=50)
    level: float = Field(gt=0.5, lt=1)
    share: float = Field(gt=0, lt=1)


class StagesEntry(Entry):
    """How much of a case is shown."""

    faded_from: int = Field(ge=0, le=20)
    alone_from: int = Field(ge=0, le=20)


class DifficultyEntry(Entry):
    """When answers tell how hard a question is."""

    answers: int = Field(ge=1, le=200)
    wanted: float = Field(gt=0.5, lt=1)


class SureEntry(Entry):
    """A way to say how sure one is."""

    id: RuleId
    says: Sentence
    promises: float = Field(ge=0, le=1)


class PlanFile(Entry):
    """The whole of plan.toml."""

    day: DayEntry
    mastery: MasteryEntry
    stages: StagesEntry
    difficulty: DifficultyEntry
    sure: list[SureEntry] = Field(min_length=2, max_length=4)
