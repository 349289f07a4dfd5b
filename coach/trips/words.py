"""A trip in words: what a person would want to keep, ending in one thing to do differently."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from coach.figures.counts import bow_share
from coach.figures.rig import Rig
from coach.model import Rulebook, Scalar
from coach.trips.catches import NOT_TOLD, Catch, Group, by_ways, catches, overall, place_word
from coach.trips.looks import Look, chosen
from coach.trips.trip import Advice, Trip
from coach.wording import clock, in_words

_SURE = 0.05
ACROSS_NOTE = (
    "Left and right are taken for two lamps where no number was told. Nights differ: no cause is shown."
)


def title(trip: Trip) -> str:
    """One line that tells a trip from others: number, day, hours, place, count."""
    looks = chosen(trip.looks)
    count = f", {sum(look.total for look in looks):g} lifted" if looks else ""
    where = place_name(trip)
    return (
        f"{trip.number}  {trip.start_at:%d %b %Y} {clock(trip.start_at)}-{clock(trip.end_at)}"
        f"{f', {where}' if where else ''}{count}"
    )


def place_name(trip: Trip) -> str:
    """The trip's place as it is told; "" where it is not known."""
    word = place_word(Catch(trip.number, 0.0, 0.0, Look(trip.start_at, None), trip.place))
    return "" if word == NOT_TOLD else word


def summary(trip: Trip, book: Rulebook, *, metric: bool = False) -> tuple[str, ...]:
    """The trip in lines; the last is the one thing to do differently."""
    lines = [
        _when(trip),
        *set_up_lines(trip, book, metric=metric),
        *count_lines(trip),
        *advice_lines(trip, book),
        *(f"{clock(at)} Safety: {say}" for at, _, say in trip.hazards),
    ]
    return (*lines, f"One thing to do differently: {one_thing(trip, book)}")


def _when(trip: Trip) -> str:
    where = place_name(trip)
    length = f"{trip.hours:.1f} h".replace(".0 h", " h")
    return (
        f"Trip {trip.number}, {trip.start_at:%A %d %B %Y}, {clock(trip.start_at)} to {clock(trip.end_at)}"
        f" ({length}), {where or 'place not told'}."
    )


def set_up_lines(trip: Trip, book: Rulebook, *, metric: bool) -> Iterator[str]:
    """The set-up as it first became known, then each change."""
    for i, set_up in enumerate(trip.set_ups):
        names = tuple(set_up.facts) if i == 0 else set_up.changed
        said = "; ".join(_fact_words(name, set_up.facts[name], book, metric) for name in names)
        yield f"{clock(set_up.at)} {'Set-up' if i == 0 else 'Changed'}: {said}."


def _fact_words(name: str, value: Scalar, book: Rulebook, metric: bool) -> str:
    fact = book.facts.get(name)
    return f"{name}: {value}" if fact is None else f"{fact.says}: {in_words(value, fact, metric=metric)}"


def count_lines(trip: Trip) -> Iterator[str]:
    """What was lifted, by whom, how fast, and how sure that is."""
    looks = chosen(trip.looks)
    if not looks:
        yield "No counts were told."
        return
    total = sum(look.total for look in looks)
    said = ", ".join(f"{clock(look.at)} {look.total:g}" for look in looks[:12])
    more = f", and {len(looks) - 12} more" if len(looks) > 12 else ""
    yield f"Lifted: {total:g} in {_looks(len(looks))} ({said}{more})."
    yield from _shares(looks)
    yield rate_line(overall(catches([trip])))


def _looks(count: int) -> str:
    return "1 look" if count == 1 else f"{count} looks"


def _shares(looks: Sequence[Look]) -> Iterator[str]:
    """How the count parts between bow and stern, and whether that is more than luck."""
    both = [look for look in looks if look.bow is not None and look.stern is not None]
    bow, stern = (sum(getattr(look, side) for look in both) for side in ("bow", "stern"))
    if not both or not (float(bow).is_integer() and float(stern).is_integer()) or bow + stern == 0:
        return
    share = bow_share(bow, stern)
    luck = "more than luck" if share.p_value < _SURE else "within luck"
    yield (
        f"Bow {bow:g}, stern {stern:g}: the bow's share is {share.bow_share:.0%}"
        f" ({share.bow_share_low:.0%} to {share.bow_share_high:.0%}), {luck}."
    )


def rate_line(group: Group) -> str:
    """Catch per lamp-hour with its range, and that it is little where it is."""
    if group.rate is None or group.high is None:
        return "Catch per lamp-hour: not known, for nobody said over how long the counts ran."
    few = f" {group.few.capitalize()}." if group.few else ""
    return (
        f"Catch per lamp-hour: {_rate(group.rate)} ({_rate(group.low)} to {_rate(group.high)}),"
        f" from {group.count:g} in {group.lamp_hours:.1f} lamp-hours.{few}"
    )


def _rate(value: float) -> str:
    return f"{value:.0f}" if value >= 10 else f"{value:.1f}"


def advice_lines(trip: Trip, book: Rulebook) -> Iterator[str]:
    """Each piece of advice with what came of it."""
    for advice in trip.advice:
        yield f"{clock(advice.at)} Advice: {advice.action} {came_of_it(trip, advice, book)}"


def came_of_it(trip: Trip, advice: Advice, book: Rulebook) -> str:
    """What came of a piece of advice, with the catch before and after where both were counted."""
    before, after = around(trip, advice)
    catch = ""
    if before is not None and after is not None:
        catch = f" Catch in ten minutes: {before:.0f} before, {after:.0f} after."
    if not advice.causes:
        return f"(Nothing was wrong with the set.){catch}"
    cause = book.causes[advice.causes[0]].says if advice.causes[0] in book.causes else advice.causes[0]
    helped = {True: "It helped.", False: "It did not help.", None: "Nobody said whether it helped."}
    return f"({cause.capitalize()}.) {helped[advice.helped]}{catch}"


def around(trip: Trip, advice: Advice) -> tuple[float | None, float | None]:
    """Catch in ten minutes of the last look before a piece of advice and the first one after."""
    looks = [look for look in chosen(trip.looks) if look.per_10min is not None]
    before = [look.per_10min for look in looks if look.at <= advice.at]
    following = [other.at for other in trip.advice if other.at > advice.at and other.causes]
    until = following[0] if following else None
    after = [look.per_10min for look in looks if look.at > advice.at and (until is None or look.at <= until)]
    return (before[-1] if before else None), (after[0] if after else None)


def one_thing(trip: Trip, book: Rulebook) -> str:
    """The one thing to do differently: the gravest that the trip shows, or to count, or nothing."""
    return _of_hazards(trip, book) or _of_advice(trip, book) or _of_counts(trip)


def _of_hazards(trip: Trip, book: Rulebook) -> str:
    order = list(book.hazards)
    known = [hazard for hazard in trip.hazards if hazard[1] in book.hazards]
    if not known:
        return ""
    at, _, say = min(known, key=lambda found: order.index(found[1]))
    return f"see to this before anything else; it came up at {clock(at)}. {say}"


def _of_advice(trip: Trip, book: Rulebook) -> str:
    meant = [advice for advice in trip.advice if advice.causes]
    helped = [advice for advice in meant if advice.helped]
    if helped:
        return _sooner(trip, helped[0], book)
    if meant and all(advice.helped is None for advice in meant):
        return "count ten minutes before and after each change, and say whether it helped."
    tried = "what was tried did not help; sound under each lamp and look where they pass before any change."
    return tried if meant else ""


def _of_counts(trip: Trip) -> str:
    looks = chosen(trip.looks)
    if not looks:
        return "count, bow and stern apart, at every look; without counts nobody can tell luck from a fault."
    if not any(look.minutes for look in looks):
        return "note when you set the lamps, so that a count tells how much in how long."
    return "nothing in the set; write down where and at which tide this was, and do it again."


def _sooner(trip: Trip, advice: Advice, book: Rulebook) -> str:
    cause = advice.causes[0]
    says = book.causes[cause].says if cause in book.causes else cause
    waited = _waited(trip, advice)
    return (
        f"look for this first: {says}. It was found at {clock(advice.at)}{waited}, and seeing to it helped."
    )


def _waited(trip: Trip, advice: Advice) -> str:
    minutes = (advice.at - trip.start_at).total_seconds() / 60
    return f", {minutes:.0f} minutes into the trip" if minutes >= 10 else ""


def by_words(found: Mapping[str, Sequence[Group]]) -> Iterator[str]:
    """Groups in words, a heading each, then a line a group."""
    for heading, groups in found.items():
        yield f"{heading}:"
        for group in groups:
            if group.rate is None or group.high is None:
                continue
            trips = "1 trip" if group.trips == 1 else f"{group.trips} trips"
            few = f"; {group.few}" if group.few else ""
            between = f"{_rate(group.low)} to {_rate(group.high)}"
            yield (
                f"  {group.word}: {_rate(group.rate)} per lamp-hour ({between}),"
                f" {group.count:g} in {group.lamp_hours:.1f} lamp-hours on {trips}{few}"
            )


def across(trips: Sequence[Trip], rig: Rig, *, only: str | None = None) -> tuple[str, ...]:
    """Catch per lamp-hour over all trips, by what the night was like (`only`: by this)."""
    found = catches(trips)
    groups = by_words(by_ways(found, rig, only=only))
    return (rate_line(overall(found)), *groups, *((ACROSS_NOTE,) if found else ()))
