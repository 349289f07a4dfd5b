"""Clock times as people say them, and which moment is meant.

Common practice of speech, evening work: of the moments a time may mean the one nearest to now is
taken; where morning or afternoon may be meant the one gone by counts a quarter farther. "Half nine"
is half past nine. Where another reading was possible, `is_chosen` says so and the time can be said back.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal

from coach.language.numbers import number_at
from coach.language.quantities import quantity_at
from coach.language.tokens import Text
from coach.language.units import unit_at

Lean = Literal["nearest", "past", "future"]

_PAST_WORDS = frozenset({"past", "after", "gone"})
_TO_WORDS = frozenset({"to", "before", "of", "til", "till"})
_HEDGES = (
    ("just", "after"), ("just", "before"), ("shortly", "after"), ("shortly", "before"), ("right", "at"),
    ("bang", "on"), ("at",), ("about",), ("around",), ("round",), ("roughly",), ("maybe",), ("say",),
    ("like",),
    ("approximately",), ("approx",), ("circa",), ("nearly",), ("almost",), ("exactly",), ("probably",),
    ("close", "to"),
    ("some", "time", "around"), ("sometime", "around"), ("about", "at"), ("just",), ("~",), ("a",
    "little", "after"),
    ("a", "bit", "after"), ("a", "bit", "before"), ("by",), ("towards",), ("toward",), ("perhaps",),
    ("not", "quite"),
)  # fmt: skip
_DAY_PARTS: dict[tuple[str, ...], str] = {
    ("in", "the", "morning"): "am", ("this", "morning"): "am", ("in", "the", "early", "morning"): "am",
    ("in", "the", "evening"): "pm", ("this", "evening"): "pm", ("in", "the", "afternoon"): "pm",
    ("this", "afternoon"): "pm", ("at", "night"): "night", ("tonight",): "night", ("in", "the",
    "night"): "night",
    ("at", "midday"): "pm", ("am",): "am", ("pm",): "pm",
}  # fmt: skip
_TRAIL = (
    ("oclock",), ("sharp",), ("or", "so"), ("ish",), ("hours",), ("hrs",), ("on", "the", "dot"), ("exactly",),
    ("or", "thereabouts"), ("local",), ("local", "time"), ("give", "or", "take"), ("i", "think"), ("i",
    "guess"),
)  # fmt: skip
_PAST_COUNTS = 1.25
_CLOCK_UNITS = frozenset({"am", "pm", "oclock", "hours", "hrs"})
MOMENT_WORDS = frozenset(
    {"oclock", "midnight", "noon", "midday", "tonight", "tomorrow", "yesterday", "ago", "am", "pm"}
)


@dataclass(frozen=True, slots=True)
class Clock:
    """A time that ends before word `end`: an hour and minute by the clock, or minutes from now.

    `is_open`: either half of the day may be meant. `shift_min`: set instead of a clock time.
    """

    hour: int
    minute: int
    end: int
    is_open: bool
    shift_min: float | None = None
    part: str = ""
    days: int = 0
    is_strange: bool = False
    is_bare: bool = False


_BEFORE_A_TIME = frozenset({"since", "at", "around", "about", "till", "until", "by", "before", "after"})
"""Words before "730" that make it a time of day."""


def clock_at(text: Text, start: int) -> Clock | None:
    """The time that starts at word `start`, hedges and part of the day included; None if none does."""
    after = _skip(text.words, start, phrases=_HEDGES)
    shifted = _shifted_at(text, start) or _shifted_at(text, after)
    if shifted is not None:
        return shifted
    found = _range_at(text, after) or _clock_at(text, after) or _clock_at(text, start)
    return None if found is None else _with_day(text.words, found)


def _range_at(text: Text, start: int) -> Clock | None:
    """ "between nine and ten", "nine or ten": the middle of the two, at most three hours apart."""
    words = text.words
    is_between = _word(words, start) == "between"
    low = _clock_at(text, start + is_between)
    if low is None or _word(words, low.end) not in (("and", "to", "-") if is_between else ("or", "-")):
        return None
    high = _clock_at(text, low.end + 1)
    if high is None or high.is_open != low.is_open:
        return None
    first, last = low.hour * 60 + low.minute, high.hour * 60 + high.minute
    if not 0 < last - first <= 180:
        return None
    middle = (first + last) // 2
    return Clock(middle // 60, middle % 60, high.end, low.is_open, is_strange=True)


def moment(said: Clock, now: datetime, *, lean: Lean = "nearest") -> datetime:
    """The moment meant, in the time zone of `now`, whole minutes.

    `lean` "past" or "future" keeps to that side of now (five minutes' grace).
    """
    now = now if now.tzinfo is not None else now.replace(tzinfo=UTC)
    if said.shift_min is not None:
        there = now.astimezone(UTC) + timedelta(minutes=round(said.shift_min))
        return there.astimezone(now.tzinfo).replace(second=0, microsecond=0)
    options = [_on(now, day, hour=hour, minute=said.minute) for day in _days(said) for hour in _hours(said)]
    grace = timedelta(minutes=5)
    sided = [
        option for option in options
        if lean == "nearest" or (option <= now + grace if lean == "past" else option >= now - grace)
    ]  # fmt: skip
    past_counts = _PAST_COUNTS if said.is_open else 1.0
    return min(
        sided or options, key=lambda option: (_distance(option, now, past_counts=past_counts), option < now)
    )


def _distance(option: datetime, now: datetime, *, past_counts: float) -> float:
    """Minutes to a moment; one that has gone by counts for more."""
    minutes = (option - now).total_seconds() / 60
    return minutes if minutes >= 0 else -minutes * past_counts


def _days(said: Clock) -> tuple[int, ...]:
    return (said.days,) if said.days else (-1, 0, 1)


def _hours(said: Clock) -> tuple[int, ...]:
    if not said.is_open:
        return (said.hour % 24,)
    first = said.hour % 12
    if said.part == "am":
        return (first,)
    if said.part == "pm":
        return (first + 12,)
    if said.part == "night":
        return (first + 12,) if first >= 6 else (first,)
    return first, first + 12


def _on(now: datetime, days: int, *, hour: int, minute: int) -> datetime:
    day: date = now.date() + timedelta(days=days) if abs(days) < 3 else now.date()
    return datetime.combine(day, time(hour, minute), tzinfo=now.tzinfo)


def _skip(words: tuple[str, ...], start: int, *, phrases: tuple[tuple[str, ...], ...]) -> int:
    at = start
    for _ in range(3):
        step = next((p for p in phrases if words[at : at + len(p)] == p), None)
        if step is None:
            break
        at += len(step)
    return at


def _word(words: tuple[str, ...], index: int) -> str:
    return words[index] if 0 <= index < len(words) else ""


def _with_day(words: tuple[str, ...], said: Clock) -> Clock:
    """Add "o'clock", "pm", "tonight", "in the morning", "tomorrow"."""
    at, part, days, is_bare = said.end, said.part, said.days, said.is_bare
    for _ in range(4):
        trail = _skip(words, at, phrases=_TRAIL)
        found = next(((p, m) for p, m in _DAY_PARTS.items() if words[trail : trail + len(p)] == p), None)
        if found is not None:
            trail, part = trail + len(found[0]), part or found[1]
        elif _word(words, trail) in ("tomorrow", "yesterday"):
            days = 1 if words[trail] == "tomorrow" else -1
            trail += 1
        if trail == at:
            break
        at, is_bare = trail, False
    is_open = said.is_open and said.hour <= 12
    return Clock(said.hour, said.minute, at, is_open, None, part, days, said.is_strange, is_bare)


def _shifted_at(text: Text, start: int) -> Clock | None:
    words = text.words
    if words[start : start + 2] == ("just", "now") or _word(words, start) == "now":
        return Clock(0, 0, start + 1 + (words[start] == "just"), False, 0.0)
    is_ahead = _word(words, start) in ("in", "within")
    span = quantity_at(text, start + is_ahead, kind="minutes")
    if span is None or not span.has_unit:
        return None
    if not is_ahead and _word(words, span.end) in ("ago", "back"):
        return Clock(0, 0, span.end + 1, False, -span.value)
    if is_ahead or words[span.end : span.end + 2] == ("from", "now"):
        return Clock(0, 0, span.end + (0 if is_ahead else 2), False, span.value)
    return None


def _clock_at(text: Text, start: int) -> Clock | None:
    words = text.words
    word = _word(words, start)
    if word in ("midnight", "noon", "midday"):
        return Clock(0 if word == "midnight" else 12, 0, start + 1, False)
    return _past_or_to_at(text, start) or _digital_at(text, start) or _spoken_at(text, start)


def _hour_at(words: tuple[str, ...], start: int) -> Clock | None:
    """A whole hour 0 to 24, or noon or midnight."""
    if _word(words, start) in ("midnight", "noon", "midday"):
        return Clock(0 if words[start] == "midnight" else 12, 0, start + 1, False)
    number = number_at(words, start)
    if number is None or number.is_part or number.value != int(number.value) or not 0 <= number.value <= 24:
        return None
    hour = int(number.value)
    return Clock(hour, 0, number.end, 1 <= hour <= 12)


def _past_or_to_at(text: Text, start: int) -> Clock | None:
    """ "half past nine", "half nine", "quarter to eleven", "ten to ten", "twenty minutes past one"."""
    words = text.words
    at = start + (_word(words, start) == "a" and _word(words, start + 1) in ("quarter", "half"))
    minutes = {"half": 30, "quarter": 15}.get(_word(words, at))
    end = at + 1
    if minutes is None:
        number = number_at(words, at)
        if number is None or number.is_part or not 1 <= number.value <= 29 or number.value % 1:
            return None
        minutes, end = int(number.value), number.end
        end += _word(words, end) in ("minutes", "min", "mins")
    link = _word(words, end)
    if link in _PAST_WORDS or link in _TO_WORDS:
        hour = _hour_at(words, end + 1)
        return None if hour is None else _moved(hour, minutes if link in _PAST_WORDS else -minutes)
    hour = _hour_at(words, end) if _word(words, at) == "half" else None
    if hour is None or not 1 <= hour.hour <= 12:
        return None
    moved = _moved(hour, 30)
    return Clock(moved.hour, moved.minute, moved.end, moved.is_open, is_strange=True)


def _moved(hour: Clock, minutes: int) -> Clock:
    """The hour moved by minutes; "quarter to one" stays open to either half of the day."""
    total = hour.hour * 60 + minutes
    if hour.is_open:
        total = total % 720
        return Clock(total // 60 or 12, total % 60, hour.end, True)
    total %= 1440
    return Clock(total // 60, total % 60, hour.end, False)


def _digital_at(text: Text, start: int) -> Clock | None:
    """ "21:30", "9.30", "21h30", "2130", "9:30 pm"."""
    words = text.words
    word = _word(words, start)
    if not word[:1].isdigit():
        return None
    if _word(words, start + 1) in (":", "h") and text.is_glued(start + 1) and text.is_glued(start + 2):
        return _checked(word, _word(words, start + 2), end=start + 3)
    if "." in word and len(word.split(".")[1]) == 2:
        hour, minute = word.split(".", 1)
        return _checked(hour, minute, end=start + 1)
    is_time = _word(words, start - 1) in _BEFORE_A_TIME and not _word(words, start + 1).isalpha()
    if len(word) == 3 and word.isdigit() and is_time:
        return _checked(word[:1], word[1:], end=start + 1)
    if len(word) == 4 and word.isdigit():
        return _checked(word[:2], word[2:], end=start + 1)
    return None


def _checked(hour: str, minute: str, *, end: int) -> Clock | None:
    if not (hour.isdigit() and minute.isdigit() and len(hour) <= 2 and len(minute) == 2):
        return None
    if int(hour) > 24 or int(minute) > 59:
        return None
    is_open = 1 <= int(hour) <= 12 and not (len(hour) == 2 and hour[0] == "0")
    return Clock(int(hour) % 24, int(minute), end, is_open)


def _spoken_at(text: Text, start: int) -> Clock | None:
    """ "nine", "nine thirty", "twenty one fifteen", "nine oh five", "twenty two hundred"."""
    words = text.words
    hour = _hour_at(words, start)
    if hour is None:
        hundreds = number_at(words, start)
        is_hours = hundreds is not None and hundreds.value % 100 == 0 and 100 <= hundreds.value <= 2400
        return (
            Clock(int(hundreds.value) // 100 % 24, 0, hundreds.end, False) if hundreds and is_hours else None
        )
    if _word(words, hour.end) not in _CLOCK_UNITS and unit_at(text, hour.end, kind="minutes") is not None:
        return None
    if _word(words, start)[:1].isdigit():
        return Clock(hour.hour % 24, 0, hour.end, hour.is_open, is_bare=True)
    at = hour.end + (_word(words, hour.end) in ("oh", "o", "zero"))
    minutes = number_at(words, at)
    is_minutes = minutes is not None and not minutes.is_part and not minutes.value % 1
    if (
        minutes is not None
        and is_minutes
        and (10 <= minutes.value <= 59 or at > hour.end)
        and not words[at].isdigit()
    ):
        return Clock(hour.hour % 24, int(minutes.value), minutes.end, hour.is_open)
    return Clock(hour.hour % 24, 0, hour.end, hour.is_open, is_bare=True)
