"""What is shown beside the talk: a picture of the set, tonight's card, the trip in words.

Pictures and files are made when they are sent, away from the way of an answer: a letter holds only
what they are made from.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from coach.card.content import Card
from coach.card.limits import own_sheet
from coach.card.page import html
from coach.card.paper import pdf
from coach.consult import Made
from coach.front.apart import apart
from coach.front.lessons import Lessons
from coach.front.telegram import words
from coach.front.telegram.case import Case
from coach.front.telegram.screens import Row, units
from coach.front.telegram.secrecy import kind_of, log
from coach.model import Rulebook
from coach.pages import Known, Pages
from coach.pictures import CAPTION_LIMIT, Picture, facts_of, picture_for, telling
from coach.pictures.parts import MissingPartError
from coach.pictures.png import png
from coach.pictures.themes import LIGHT
from coach.post import crew, privacy
from coach.post.outbox import Letter
from coach.store import Rows, Store
from coach.tabled import with_table
from coach.trips.trip import Trip
from coach.trips.words import across, summary, title

_TRIPS = 20
OF_THE_SET = ("side", "plan")
"""The kinds of pictures that stand beside a verdict."""


@dataclass(frozen=True, slots=True)
class File:
    """A file to send with its caption."""

    content: bytes
    name: str
    caption: str


def caption_of(lines: Iterable[str]) -> str:
    """As many whole lines from the start as a caption holds."""
    kept: list[str] = []
    for line in lines:
        if units("\n".join([*kept, line])) > CAPTION_LIMIT:
            break
        kept.append(line)
    return "\n".join(kept)


# --- when it is asked for ------------------------------------------------------------------------


def beside(rows: Rows, case: Case, made: Made, chats: Iterable[str]) -> list[Letter]:
    """The picture of a verdict for these chats, unless it would be the one that was sent last."""
    verdict = made.reply.verdict or {}
    known = facts_of(with_table(made.after, case.book, now=case.now))
    shown = {"facts": known, "numbers": verdict.get("numbers", {})}
    causes = [cause["id"] for cause in verdict.get("causes", ())]
    told = json.dumps([causes, shown["numbers"].get("now"), shown["numbers"]], sort_keys=True)
    digest = hashlib.sha256(told.encode()).hexdigest()[:16]
    if crew.aboard(rows, case.boat).get("pictured") == digest:
        return []
    crew.put_aboard(rows, case.boat, {"pictured": digest})
    body = {**shown, "metric": made.after.metric, "at": case.now.isoformat()}
    return [Letter(chat, "picture", body) for chat in chats]


def picture(case: Case, known: Known, said: str) -> list[Letter]:
    """The picture that was asked for, or what there is to be drawn."""
    kind = words.PICTURES.get(said.strip().casefold())
    found = telling(known.facts, known.numbers, book=case.book, now=case.now, looks=known.looks)
    if said.strip() and kind is None:
        return case.text(words.PICTURE_HOW)
    if not found or (kind is not None and kind not in found):
        return case.text(words.PICTURE_NONE)
    drawn = picture_for(
        known.facts,
        known.numbers,
        book=case.book,
        now=case.now,
        kind=kind,
        theme=case.theme,
        metric=known.metric,
        looks=known.looks,
        marks=known.marks,
    )
    caption = caption_of(drawn.words)
    before = [] if caption == "\n".join(drawn.words) else case.text("\n".join(drawn.words))
    others = [word for word in words.PICTURE_MORE if words.PICTURES[word] in {*found} - {drawn.kind}]
    rows = [[[words.PICTURE_MORE[word], f"p:{word}"]] for word in others]
    body = {"svg": drawn.svg, "text": caption, "rows": rows}
    return [*before, Letter(case.event.chat, "picture", body)]


def card(case: Case) -> list[Letter]:
    """Tonight's card as a document."""
    return [Letter(case.event.chat, "card", {"boat": case.boat, "at": case.now.isoformat()})]


def trip(case: Case, known: Known) -> list[Letter]:
    """This trip so far, ending in one thing to do differently."""
    all_of_them: list[Row] = [[[words.TRIPS_ALL, "t:all"]]]
    if known.trip is None:
        return case.text(words.TRIP_NONE, all_of_them)
    return case.text("\n".join(summary(known.trip, case.book, metric=known.metric)), all_of_them)


def trips(case: Case, found: Sequence[Trip]) -> list[Letter]:
    """All trips, a line each, and the catch per lamp-hour by what the night was like."""
    if not found:
        return case.text(words.TRIP_NONE)
    return case.text("\n".join([*map(title, found[-_TRIPS:]), "", *across(found, case.rig)]))


# --- when it is sent -----------------------------------------------------------------------------


class Painter:
    """Makes the files of letters; blocking, for a thread of its own. What takes a library to draw is drawn
    in a process of its own."""

    def __init__(self, store: Store, pages: Pages, book: Rulebook, theme: str, *, lessons: Lessons) -> None:
        self._store, self._pages, self._book, self._theme = store, pages, book, theme
        self._lessons = lessons

    def drawn(self, body: Mapping[str, Any]) -> tuple[str, str] | None:
        """The picture of a letter as SVG with its caption; None where there is nothing to show."""
        if "svg" in body:
            return str(body["svg"]), str(body["text"])
        found = self._beside(body)
        return None if found is None else (found.svg, caption_of(found.words))

    def _beside(self, body: Mapping[str, Any]) -> Picture | None:
        facts, numbers, now = body["facts"], body["numbers"], datetime.fromisoformat(body["at"])
        kinds = telling(facts, numbers, book=self._book, now=now)
        kind = next((each for each in kinds if each in OF_THE_SET), None)
        if kind is None:
            return None
        return picture_for(
            facts,
            numbers,
            book=self._book,
            now=now,
            kind=kind,
            theme=self._theme,
            metric=bool(body["metric"]),
        )

    def photo(self, svg: str) -> bytes | None:
        """The picture as PNG; None where the library for it is not installed: words have to do."""
        try:
            return apart(png, svg)
        except MissingPartError as missing:
            log.warning("%s", missing)
            return None

    def card(self, body: Mapping[str, Any]) -> File:
        """The card as a page for paper, or for the screen where no library for paper is installed."""
        now = datetime.fromisoformat(body["at"])
        made = self._pages.card(body["boat"], now=now, sheet=_sheet())
        caption = caption_of(made.words())
        try:
            return File(apart(pdf, _drawn(made)), "card.pdf", caption)
        except MissingPartError as missing:
            log.warning("%s", missing)
            return File(html(made).encode(), "card.html", caption)

    def export(self, body: Mapping[str, Any]) -> File:
        """What is kept of a boat and of a person's words on her, or of a learner, in one of its parts."""
        if "learner" in body:
            return self._learned(body)
        with self._store.reading() as rows:
            found = privacy.export(rows, body["boat"], body["person"])
        if body["part"] == "csv":
            return File(privacy.counts_csv(found).encode(), "counts.csv", words.EXPORT_ABOUT)
        whole = json.dumps(found, indent=1, ensure_ascii=False)
        return File(whole.encode(), "night.json", words.EXPORT_ABOUT)

    def _learned(self, body: Mapping[str, Any]) -> File:
        papers = self._lessons.papers(body["learner"], now=datetime.fromisoformat(body["at"]))
        return File(papers[body["part"]].encode(), body["part"], words.LEARNED_ABOUT)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """The pictures of a card for paper, drawn already, so that another process can take them."""

    found: Mapping[str, Picture]

    def __call__(self, kind: str, theme: str) -> Picture:
        del theme
        return self.found[kind]


def _drawn(made: Card) -> Card:
    return replace(made, picture=_Drawn({kind: made.picture(kind, LIGHT.name) for kind in made.kinds}))


def _sheet() -> Any:
    """The captain's limits sheet; a broken one must not keep the card back."""
    try:
        return own_sheet()
    except (ValueError, OSError) as error:
        log.warning("the limits sheet cannot be read: %s", kind_of(error))
        return None
