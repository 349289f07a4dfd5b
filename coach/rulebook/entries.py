"""What may stand in the captain's files: one model a kind of table, unknown keys refused."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, field_validator

Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*(\.[a-z0-9_]+|\.[a-z-]+)?$")]
RuleId = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
Unit = Literal["ft", "kn", "F", "V", "min", "count", "h", "Ah", "A", "W", "deg", "nmi", "lux", "dB"]
Sentence = Annotated[str, StringConstraints(min_length=3, max_length=400)]


class Entry(BaseModel):
    """Base of all tables: immutable, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class AskedEntry(Entry):
    """A fact that people are asked."""

    type: Literal["choice", "bool", "number", "time"]
    says: Sentence
    ask: Sentence
    why: Sentence
    unit: Unit | None = None
    range: tuple[float, float] | None = None
    options: dict[str, str] = Field(default_factory=dict)
    trouble: Literal[1, 2, 3] = 1
    only_if: str | None = None
    difference: bool = False
    settle: Sentence = ""
    working: Sentence = Field(default="", alias="sum")
    expect: dict[str, float] | list[tuple[float, float]] = Field(default_factory=dict)
    near: str | None = None
    differs: list[tuple[float, float]] = Field(default_factory=list)
    told_by: list[str] = Field(default_factory=list)


class WorkedOutEntry(Entry):
    """A fact that a calculator works out or a rule concludes."""

    kind: Literal["computed", "concluded"]
    says: Sentence
    type: Literal["choice", "bool", "number", "time"] = "bool"
    unit: Unit | None = None
    options: dict[str, str] = Field(default_factory=dict)
    working: Sentence = Field(default="", alias="sum")


class OutlookEntry(Entry):
    """What some figures may turn out to be: a row of values and a weight for each possibility."""

    id: str
    shows: list[str] = Field(min_length=1)
    cases: list[list[float]] = Field(min_length=2)
    like: str | None = None


class RuleEntry(Entry):
    """A rule as a captain writes it."""

    id: RuleId
    title: Sentence
    when: list[str] = Field(min_length=1, max_length=8)
    because: Sentence
    source: Sentence
    status: Literal["draft", "tried", "proven"]
    lamps: Literal["each"] | None = None
    causes: Literal["each"] | None = None
    unless: list[str] = Field(default_factory=list, max_length=4)
    concludes: list[str] = Field(default_factory=list)
    speaks_for: dict[str, str] = Field(default_factory=dict, alias="for")
    against: dict[str, str] = Field(default_factory=dict)
    group: str | None = None
    doubt: Sentence | None = None
    hazard: str | None = None
    say: Sentence | None = None
    fix_for: str | None = None
    action: list[str] = Field(default_factory=list)
    fix: list[Sentence] = Field(default_factory=list)
    look_again_min: float | None = Field(default=None, gt=0, le=1440)
    clip: Literal["sum", "raise", "none"] = "sum"
    advises_set: str | None = Field(default=None, alias="set")
    note: Sentence | None = None
    asks: str | None = None


class NumberEntry(Entry):
    """A number of the trade."""

    value: float = Field(allow_inf_nan=False)
    unit: str | None = None
    says: str
    source: str
    known: Literal["read", "memory", "common practice", "assumption"]


class CauseEntry(Entry):
    """A cause: what it is called, and how likely it is before anything is known."""

    says: Sentence
    prior_db: int = Field(ge=-40, le=0)
    aside: bool = False


class SurenessEntry(Entry):
    """A word for a probability."""

    from_: float = Field(alias="from", ge=0, le=1)
    says: str


class AskingEntry(Entry):
    """When the coach asks and when it speaks."""

    name_from: float = Field(gt=0, lt=1)
    name_alone_from: float = Field(gt=0, lt=1)
    second_from: float = Field(gt=0, lt=1)
    second_sign_db: float = Field(ge=0)
    most_questions: int = Field(ge=1, le=25)
    least_bits: float = Field(ge=0)
    least_bits_per_trouble: float = Field(ge=0)
    same_trip_h: float = Field(gt=0, le=48)
    singles_after_unknown: int = Field(ge=0, le=12)
    found_from: float = Field(gt=0, lt=1)
    found_factor: float = Field(ge=1)
    found_likely_from: float = Field(ge=0, lt=1)
    content_factor: float = Field(ge=1)
    content_spoken_factor: float = Field(ge=1)
    anyway_weight: float = Field(ge=1, le=10)
    spoken_weight: float = Field(ge=1)
    same_within: float = Field(ge=0)


class SafetyEntry(Entry):
    """The one combined safety question, the single ones behind it, and those that go with a hazard."""

    check: str
    singles: list[str]
    with_hazard: dict[str, list[str]] = Field(default_factory=dict)
    emergencies: list[str] = Field(default_factory=list)


class FollowUpEntry(Entry):
    """The question whether advice helped, and the answers that mean yes and no; the counts kept."""

    ask: str
    yes: str
    no: str
    catch: str


class ConfirmEntry(Entry):
    """What to ask once more before acting on a cause."""

    causes: list[str] = Field(min_length=1)
    ask: str
    differ: tuple[str, str] | None = None
    only_if: str | None = None


class TopicEntry(Entry):
    """What people may speak of, and which causes that makes a little likelier."""

    says: Sentence
    words: list[str] = Field(min_length=1)
    but_not: list[str] = Field(default_factory=list)
    speaks_for: dict[str, str] = Field(alias="for", min_length=1)


class TopicsFile(Entry):
    """The whole of topics.toml."""

    topic: dict[str, TopicEntry]


class AnswerEntry(Entry):
    """What people ask, and the answer."""

    id: RuleId
    all_of: list[list[str]] = Field(min_length=1)
    none_of: list[str] = Field(default_factory=list)
    says: list[Sentence] = Field(min_length=1)
    reads: str | None = None
    asked_like: list[str] = Field(min_length=1)
    not_like: list[str] = Field(default_factory=list)


class TermEntry(Entry):
    """A word of the trade that a newcomer may ask about."""

    words: list[str] = Field(min_length=1)
    says: Sentence


class CourtesyEntry(Entry):
    """What is said to be polite."""

    words: list[str] = Field(min_length=1)
    says: Sentence


class AnswersFile(Entry):
    """The whole of answers.toml."""

    asks_meaning: list[str] = Field(default_factory=list)
    little_words: list[str] = Field(default_factory=list)
    answer: list[AnswerEntry] = Field(default_factory=list)
    term: dict[str, TermEntry] = Field(default_factory=dict)
    courtesy: dict[str, CourtesyEntry] = Field(default_factory=dict)


class FitEntry(Entry):
    """Two numbers that must fit together."""

    id: RuleId
    doubt: str
    at_most: list[str] = Field(default_factory=list)
    at_least: list[str] = Field(default_factory=list)
    near: list[str] = Field(default_factory=list)
    plus: float = 0
    within: float = Field(default=0, ge=0)
    says: Sentence


class DoubtTexts(Entry):
    """What is said to a number that is doubted."""

    unusual: Sentence = ""
    misfit: Sentence = ""
    beyond: Sentence = ""
    once_more: Sentence = ""
    later: Sentence = ""
    gone_without: Sentence = ""
    believed: Sentence = ""


class DoubtsFile(Entry):
    """The whole of doubts.toml."""

    said_again: list[str] = Field(default_factory=list)
    taken_back: list[str] = Field(default_factory=list)
    text: DoubtTexts = Field(default_factory=DoubtTexts)
    usual: dict[str, tuple[float, float]] = Field(default_factory=dict)
    fit: list[FitEntry] = Field(default_factory=list)


class ClearEntry(Entry):
    """One step of clearing the water."""

    says: Sentence
    minutes: float = Field(gt=0, le=60)
    only_if: str | None = None
    times: str | None = None
    otherwise: float = Field(default=1, ge=0, alias="else")


class TextTable(Entry):
    """What the coach says when no rule speaks; each has to be there."""

    healthy: Sentence
    healthy_more: Sentence
    cannot_tell: Sentence
    cannot_tell_more: Sentence
    not_understood: Sentence
    not_understood_help: Sentence
    which_hazard: Sentence
    emergency_goes_on: Sentence
    nothing_open: Sentence
    fresh: Sentence
    undone: Sentence
    nothing_to_undo: Sentence
    forgotten: Sentence
    no_verdict_yet: Sentence
    asking_because: Sentence
    suspects: Sentence
    suspects_none: Sentence
    look_again: Sentence
    also: Sentence
    metric: Sentence
    us_units: Sentence
    stood_in: Sentence
    both_lamps: Sentence
    left_lamp: Sentence
    right_lamp: Sentence
    helped: Sentence
    did_not_help: Sentence
    too_early: Sentence
    summary_head: Sentence
    summary_empty: Sentence
    doubt_cause: Sentence
    doubt_none: Sentence
    doubt_clip: Sentence
    working_head: Sentence
    took_place: Sentence
    clear_head: Sentence
    clear_total: Sentence
    clear_step: Sentence


class TextsFile(Entry):
    """The whole of texts.toml."""

    text: TextTable
    clear: list[ClearEntry]


class CausesFile(Entry):
    """The whole of causes.toml."""

    strength: dict[str, Annotated[int, Field(ge=1, le=60)]]
    cause: dict[str, CauseEntry]
    hazard: dict[str, str]
    set: dict[str, str]
    sureness: list[SurenessEntry]
    asking: AskingEntry
    safety: SafetyEntry
    confirm: list[ConfirmEntry] = Field(default_factory=list)
    follow_up: FollowUpEntry

    @field_validator("sureness")
    @classmethod
    def _reaches_down(cls, sureness: list[SurenessEntry]) -> list[SurenessEntry]:
        if not sureness or min(entry.from_ for entry in sureness) > 0:
            raise ValueError("one of the words must hold from 0 on")
        return sureness


Raw = dict[str, Any]


def stand_in(raw: Raw) -> CausesFile:
    """The names in a causes.toml that has faults, so that what refers to them can still be checked."""

    def table(key: str) -> Raw:
        found = raw.get(key)
        return found if isinstance(found, dict) else {}

    strength = {name: db for name, db in table("strength").items() if isinstance(db, int)}
    return CausesFile.model_construct(
        strength=strength,
        cause={name: CauseEntry(says="not read", prior_db=0) for name in table("cause")},
        hazard=table("hazard"),
        set=table("set"),
        sureness=[],
        asking=AskingEntry.model_construct(**dict.fromkeys(AskingEntry.model_fields, 1)),  # type: ignore[arg-type]
        safety=SafetyEntry(check="", singles=[]),
        follow_up=FollowUpEntry(ask="", yes="", no="", catch=""),
        confirm=[],
    )
