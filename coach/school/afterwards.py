"""After a trip: what you thought it was, and what it was. The trip's own finding becomes an item.

Clinicians whom a diagnostic program told what it had been rose from 73 to 84 right of 100 in five months,
and fell back when that stopped (BMJ 1975, abstract READ).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from coach.model import Scalar
from coach.school.blame import slips_of, why_not
from coach.school.kitchen import Kitchen
from coach.school.parts import Item, Slip
from coach.school.told import filled, large
from coach.trips.trip import Advice, Trip
from coach.trips.words import around

TRIP = "trip/"
"""How the id of a trip's question begins."""
_MOST = 3
_MOST_TOLD = 10
_HARD = 0.6


def finding(trip: Trip) -> Advice | None:
    """The advice that tells what it was: the latest that helped, else the latest that named something."""
    named = [advice for advice in trip.advice if advice.causes]
    helped = [advice for advice in named if advice.helped]
    return next(reversed(helped or named), None)


def item_of(trip: Trip, kitchen: Kitchen) -> Item | None:
    """The question about a trip; None where nothing was found on it, or by other rules than these."""
    advice = finding(trip)
    if advice is None or advice.causes[0] not in kitchen.book.causes:
        return None
    right = advice.causes[0]
    facts = _facts(trip, kitchen)
    found = kitchen.bench.assessed(facts)
    says = kitchen.book.causes
    slips = slips_of(facts, found, kitchen)
    if found.named and found.named[0] not in advice.causes:  # what the last facts of the night look like
        slips = {found.named[0]: Slip("other"), **slips}
    wrong = {
        cause: (large(says[cause].says), _why(slip, cause, kitchen, facts), slip)
        for cause, slip in slips.items()
        if cause in says and cause not in advice.causes
    }
    because = (outcome(trip, advice, kitchen), f"{advice.action}")
    told = kitchen.told(facts)
    return kitchen.item(
        f"{TRIP}{trip.start_at:%Y%m%dT%H%M}",
        large(says[right].says),
        dict(list(wrong.items())[:_MOST]),
        looks=told[:1],
        think=(),
        topic=kitchen.topic_of_cause(right) or "",
        ask=filled(kitchen.text["ask_trip"], day=f"{trip.start_at:%d %b %Y}"),
        told=told,
        right=right,
        because=because,
        rules=(),
        judge="trip",
        about=right,
        facts=facts,
        hardness=_HARD,
    )


def _facts(trip: Trip, kitchen: Kitchen) -> dict[str, Scalar]:
    """What was told on the trip, without the safety check and counts of no weight; not too much to read."""
    book = kitchen.book
    aside = {book.safety_check, *book.safety_singles, book.follow_up.ask, book.follow_up.catch}
    told = {name: value for name, value in trip.facts.items() if name in book.facts and name not in aside}
    named = kitchen.bench.assessed(told).named
    kept = dict(told)
    for name in list(told):
        if len(kept) <= _MOST_TOLD:
            break
        less = {other: value for other, value in kept.items() if other != name}
        if kitchen.bench.assessed(less).named == named:
            kept = less
    return kept


def _why(slip: Slip, cause: str, kitchen: Kitchen, facts: dict[str, Scalar]) -> str:
    if slip.kind == "other":
        return filled(kitchen.text["slip_trip_later"], cause=kitchen.book.causes[cause].says)
    return why_not(slip, cause, kitchen.bench.assessed(facts), kitchen)


def outcome(trip: Trip, advice: Advice, kitchen: Kitchen) -> str:
    """What it was, and whether seeing to it helped."""
    name = {True: "trip_helped", False: "trip_not_helped", None: "trip_not_told"}[advice.helped]
    before, after = around(trip, advice)
    counts = ""
    if before is not None and after is not None:
        counts = filled(kitchen.text["trip_counts"], before=f"{before:.0f}", after=f"{after:.0f}")
    return filled(kitchen.text[name], cause=kitchen.book.causes[advice.causes[0]].says, counts=counts)


def items_of(trips: Iterable[Trip], kitchen: Kitchen) -> Iterator[Item]:
    """The questions about trips, the latest first."""
    for trip in sorted(trips, key=lambda trip: trip.start_at, reverse=True):
        if (item := item_of(trip, kitchen)) is not None:
            yield item
