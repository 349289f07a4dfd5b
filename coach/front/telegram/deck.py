"""Counting on deck by taps and words, and what the watch over the counts has to say."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from coach.conversation import Session
from coach.counting import PIECE, Counted, Entry, of_tonight
from coach.counting import tally as summed
from coach.front import tally
from coach.front.telegram import words
from coach.front.telegram.case import Case
from coach.front.telegram.meant import Deed
from coach.front.telegram.screens import Row, Screen
from coach.post import crew, deck
from coach.post.outbox import Letter
from coach.reminders import deep_lamp_since
from coach.store import Rows
from coach.watching import Finding

_TAPS = {"b": Counted("bow", 1), "s": Counted("stern", 1), "d": Counted("deep", 1), "o": Counted("", 1)}
_SIDE_NAMES = {"bow": "bow", "stern": "stern", "deep": "jumps", "": "others"}


def on_deck(rows: Rows, case: Case, deed: Deed, session: Session) -> list[Letter]:
    """A count typed or tapped, taken back, or the tally asked for."""
    if deed.name == "counts":
        return counted(rows, case, deed.counts, session)
    if deed.name == "tap count":
        return tapped(rows, case, deed.said, session)
    if deed.name == "uncount":
        return taken_back(rows, case, session)
    return case.letters([card(rows, case, session)])


def card(rows: Rows, case: Case, session: Session, note: str = "") -> Screen:
    """The tally of the night with its buttons."""
    entries = of_tonight(deck.of_boat(rows, case.boat), now=case.event.at)
    lines = [note] if note else []
    lines.append(_sums(entries) or words.CARD_EMPTY)
    if by_name := _by_name(entries):
        lines.append(by_name)
    own: list[Row] = [[["+1 for me", "c:o"]]] if case.event.is_group else []
    jumps: list[Row] = [[["Jump +1", "c:d"]]] if deep_lamp_since(session) is not None and not own else []
    sides: list[Row] = [[["Bow +1", "c:b"]], [["Stern +1", "c:s"]]]
    return Screen("\n".join(lines), (*own, *sides, *jumps, [["Take back", "c:u"]]), is_tally=True)


def counted(rows: Rows, case: Case, counts: Sequence[Counted], session: Session) -> list[Letter]:
    """Keep counts, look at them, and answer with the tally and what the tests found."""
    entries = [_entry(rows, case, each) for each in counts]
    if any(entry is None for entry in entries):
        return case.text(words.NO_SIDE)
    findings = tally.kept(
        rows,
        case.boat,
        [entry for entry in entries if entry is not None],
        person=case.event.person,
        batch=case.event.update_id,
        at=case.event.at,
        session=session,
        rig=case.rig,
        window_min=case.book.numbers["look_again_min"],
        silent=words.SILENT,
    )
    screen = card(rows, case, session)
    letters = case.edit(screen) if case.event.kind == "tap" else case.letters([screen])
    return letters + [letter for each in findings for letter in _told(rows, case, each)]


def tapped(rows: Rows, case: Case, which: str, session: Session) -> list[Letter]:
    """One more by a tap, or the last one taken back."""
    if which == "u":
        return taken_back(rows, case, session)
    return counted(rows, case, [_TAPS[which]], session) if which in _TAPS else []


def taken_back(rows: Rows, case: Case, session: Session) -> list[Letter]:
    """Take back what this person counted last."""
    is_done = tally.taken_back(rows, case.boat, case.event.person, now=case.event.at)
    screen = card(rows, case, session, "" if is_done else words.NOTHING_TO_TAKE_BACK)
    return case.edit(screen) if case.event.kind == "tap" else case.letters([screen])


def silence_screen() -> Screen:
    """The question when nothing was counted for longer than chance explains."""
    return Screen(words.SILENT, ([[words.STOPPED, "x:silence"]], [[words.NOT_COUNTING, "x:off"]]))


def _entry(rows: Rows, case: Case, counted: Counted) -> Entry | None:
    """A count as kept; None where it is not known which side it belongs to."""
    dippers = crew.dippers(rows, case.boat)
    if counted.side:
        return Entry(case.event.at, counted.side, "", counted.amount, counted.unit)
    if counted.name:
        dipper = next((each for each in dippers if each.name == counted.name), None)
    else:
        dipper = next((each for each in dippers if each.person == case.event.person), None)
    if dipper is None:
        return None
    return Entry(case.event.at, dipper.side, dipper.name, counted.amount, counted.unit)  # type: ignore[arg-type]


def _told(rows: Rows, case: Case, finding: Finding) -> Iterable[Letter]:
    """A finding, to every phone on the boat."""
    why: tuple[Row, ...] = ([[words.FIND_OUT, f"x:{finding.kind}"]],) if finding.kind != "keep" else ()
    for chat in crew.phones_of(rows, case.boat):
        yield Letter(chat, "send", Screen(_sentence(finding), why).body())


def _sentence(finding: Finding) -> str:
    if finding.kind == "share":
        total = finding.bow + finding.stern
        return words.FOUND_SHARE.format(side=finding.side, share=f"{finding.share:.0%}", total=total)
    if finding.kind == "drop":
        before, now = (f"{rate:.0f}" for rate in (finding.before_per_10min, finding.now_per_10min))
        return words.FOUND_DROP.format(before=before, now=now)
    return words.FOUND_KEEP


def _sums(entries: Sequence[Entry]) -> str:
    sums = summed(entries)
    parts = [
        f"{_SIDE_NAMES[side]} {amount:g}{'' if unit == PIECE else ' ' + unit}"
        for (side, unit), amount in sorted(sums.items(), key=lambda each: list(_SIDE_NAMES).index(each[0][0]))
    ]
    is_unlike = len({unit for _, unit in sums}) > 1
    return ", ".join(parts).capitalize() + (f"\n{words.CARD_UNLIKE}" if is_unlike else "")


def _by_name(entries: Sequence[Entry]) -> str:
    sums: dict[tuple[str, str], float] = {}
    for entry in entries:
        if entry.dipper:
            key = (entry.dipper, "" if entry.unit == PIECE else f" {entry.unit}")
            sums[key] = sums.get(key, 0.0) + entry.amount
    return ", ".join(f"{name} {amount:g}{unit}" for (name, unit), amount in sorted(sums.items()))
