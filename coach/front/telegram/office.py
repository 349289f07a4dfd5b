"""Handles one event: what it means, the answer, and everything that follows, in one transaction.

Blocking, and to be called from a worker thread; several threads may, with events of different chats.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from coach.commands import is_undo
from coach.consult import OLD_STATE, Desk, Made
from coach.conversation import Message, Question
from coach.exchange import Envelope, open_question
from coach.figures.rig import Rig
from coach.front import tally
from coach.front.lessons import Lessons
from coach.front.telegram import deck, forgetting, harbour, pages, words
from coach.front.telegram.beside import closed, follow_question, is_urgent, noted, urgent, with_bells
from coach.front.telegram.case import Case, session_of
from coach.front.telegram.config import Config
from coach.front.telegram.event import Event
from coach.front.telegram.lessons import TAUGHT, Tutor
from coach.front.telegram.meant import Deed, meaning
from coach.front.telegram.pace import Pace
from coach.front.telegram.screens import Screen, likeliest, reply_screens
from coach.front.telegram.secrecy import log
from coach.model import Rulebook
from coach.pages import Pages
from coach.places import ground_at, ground_named, where_facts
from coach.post import crew, inbox, outbox, privacy, ringing
from coach.post import deck as counts
from coach.post.crew import Phone
from coach.post.outbox import Letter
from coach.store import Beside, Rows, Standing, Store, StoreError
from coach.watching import facts_of

_UNDO_S = 600.0
Writes = Callable[[Rows], list[Letter]]
"""What a deed writes, and the letters that it sends."""


class Office:
    """Turns events into answers. Raises StoreError if nothing could be kept (try again), and
    `inbox.HandledBefore` for an event that was handled."""

    def __init__(
        self,
        store: Store,
        desk: Desk,
        book: Rulebook,
        config: Config,
        shown: Pages,
        *,
        lessons: Lessons,
    ) -> None:
        self._store, self._desk, self._book, self._pages = store, desk, book, shown
        self._tutor = Tutor(store, lessons, self._kept)
        self._theme = config.theme
        self._rig = Rig.from_numbers(dict(book.numbers))
        self._zone = ZoneInfo(config.zone) if config.zone else None
        self._pace, self._pacing = Pace(config), threading.Lock()

    def handle(self, event: Event) -> list[Letter]:
        """Handle an event; the letters that were put into the outbox."""
        with self._pacing:
            verdict = self._pace.judge(event)
        case = self._case(event)
        if verdict:
            return self._turned_away(case, verdict)
        if event.kind == "moved":
            return self._kept(case, lambda rows: _moved(rows, event))
        standing = self._store.look(case.boat)
        ask = open_question(standing.reply)
        meant, behind = self._tutor.heard(case, meaning(case, ask, self._names(case)))
        if isinstance(meant, Message) and self._takes_back_a_count(case, meant, standing):
            meant = Deed("uncount")
        if isinstance(meant, Deed):
            return self._deed(case, meant, ask, standing)
        return self._turn(case, meant, behind=behind)

    def apologise(self, event: Event) -> list[Letter]:
        """Mark an event that breaks the bot as handled, and say so."""
        case = self._case(event)
        return self._kept(case, case.text(words.BROKEN))

    def _takes_back_a_count(self, case: Case, message: Message, standing: Standing) -> bool:
        """Whether "undo" means a count: it does where that was the last thing that this person did."""
        if case.event.kind == "tap" or not is_undo(message):
            return False
        with self._store.reading() as rows:
            counted_at = counts.latest_at(rows, case.boat, case.event.person)
        if counted_at is None or case.event.at - counted_at > _UNDO_S:
            return False
        return standing.at is None or datetime.fromisoformat(standing.at).timestamp() < counted_at

    # -- what an answer is made from

    def _case(self, event: Event) -> Case:
        with self._store.reading() as rows:
            phone = crew.phone(rows, event.chat)
            told = crew.aboard(rows, phone.boat) if phone else {}
        is_new = phone is None
        phone = phone or Phone(event.chat, harbour.new_boat(), 0, event.is_group)
        zone = ZoneInfo(told["zone"]) if "zone" in told else self._zone
        now = datetime.fromtimestamp(event.at, UTC).astimezone(zone)
        return Case(event, phone, is_new, now, told, self._book, self._rig, self._theme)

    def _names(self, case: Case) -> tuple[str, ...]:
        with self._store.reading() as rows:
            return tuple(dipper.name for dipper in crew.dippers(rows, case.boat))

    def _kept(self, case: Case, writes: Writes | list[Letter]) -> list[Letter]:
        """One transaction that marks the event as handled, and sends these letters or what is written."""
        with self._store.writing() as rows:
            return self._post(rows, case, writes)

    def _post(self, rows: Rows, case: Case, writes: Writes | list[Letter]) -> list[Letter]:
        event = case.event
        inbox.handled(rows, event.update_id)
        if case.is_new and writes != []:  # who says nothing to us is not kept
            crew.put_phone(rows, case.phone)
        letters = writes if isinstance(writes, list) else writes(rows)
        if event.kind != "tap":
            crew.saw(rows, event.chat, event.message_id)
        is_greeted = any("board" in letter.body for letter in letters)
        greeting = case.greeting() if case.is_new and letters and not is_greeted else []
        return outbox.put(rows, [*greeting, *letters])

    def _turned_away(self, case: Case, why: str) -> list[Letter]:
        event = case.event
        with self._store.writing() as rows:
            inbox.handled(rows, event.update_id)
            if why == "silent":
                return []
            said = words.PRIVATE.format(number=event.person) if why == "stranger" else words.TOO_FAST
            return outbox.put(rows, case.text(said))

    # -- the core

    def _turn(
        self, case: Case, message: Message, *, first: Writes | None = None, behind: Writes | None = None
    ) -> list[Letter]:
        """A turn of the core with everything that follows from it; `first` comes before its answer, `behind`
        after it."""
        posted: list[Letter] = []

        def also(made: Made) -> Beside:
            def write(rows: Rows) -> None:
                posted[:] = self._post(rows, case, lambda rows: follow(rows, case, made, first))

            return write

        def follow(rows: Rows, case: Case, made: Made, first: Writes | None) -> list[Letter]:
            letters = self._follow(rows, case, made, first) + (behind(rows) if behind is not None else [])
            return [urgent(each) for each in letters] if is_urgent(message, made) else letters

        envelope = Envelope(case.boat, case.turn_id, message)
        taken = self._desk.answer(envelope, now=case.now, also=also)
        if taken.reply is None:
            raise inbox.HandledBefore(case.event.update_id)
        if taken.reply.error and taken.reply.error[0] == "store":
            raise StoreError(taken.reply.error[1])
        if taken.reply.error and not posted:  # nothing of the turn was kept: say so all the same
            answer = reply_screens(taken.reply, self._book.facts)
            return self._kept(case, case.letters(answer))
        return posted

    def _follow(self, rows: Rows, case: Case, made: Made, first: Writes | None) -> list[Letter]:
        reply = made.reply
        before = first(rows) if first is not None else []
        if reply.forget:
            forgetting.boat(rows, case)
            return case.edit(Screen(words.FORGOTTEN))
        privacy.author(rows, case.boat, case.turn_id, case.event.person)
        rings = ringing.follow_turn(rows, case.boat, made, book=case.book, rig=case.rig, now=case.now)
        screens = reply_screens(reply, case.book.facts, noted=noted(case, made))
        if reply.verdict is None:
            return before + (case.letters(screens) if before else case.in_place(screens, rows))
        if reply.verdict["causes"]:
            tally.new_stretch(rows, case.boat, case.event.at)
        others = [chat for chat in crew.phones_of(rows, case.boat) if chat != case.event.chat]
        told = with_bells(screens, [bell for found in rings.values() for bell in found])
        letters = [Letter(chat, "send", Screen(each.text).body()) for chat in others for each in told]
        drawn = pages.beside(rows, case, made, (case.event.chat, *others))
        return [*before, *case.letters(told), *letters, *drawn]

    # -- what the bot does itself

    def _deed(self, case: Case, deed: Deed, ask: Question | None, standing: Standing) -> list[Letter]:
        if deed.name == "ignore":
            return self._kept(case, [])
        own: dict[str, Callable[[Case, Deed], list[Letter]]] = {
            **dict.fromkeys(("ground", "place"), self._place),
            **dict.fromkeys(("picture", "card", "trip"), self._page),
            "found": self._found,
            "helped": self._helped,
            "forget for good": self._forget,
        }
        if deed.name in own:
            return own[deed.name](case, deed)
        if deed.name in TAUGHT:
            in_danger = set(session_of(standing).hazards_told) & set(self._book.emergencies)
            return self._tutor.handle(case, deed, ask, is_emergency=bool(in_danger))
        return self._kept(case, lambda rows: self._simple(rows, case, deed, ask, standing))

    def _simple(
        self, rows: Rows, case: Case, deed: Deed, ask: Question | None, standing: Standing
    ) -> list[Letter]:
        if deed.name in harbour.PLAIN:
            return harbour.PLAIN[deed.name](rows, case)
        if deed.name in harbour.SAID:
            return harbour.SAID[deed.name](rows, case, deed.said)
        if deed.name in ("counts", "tap count", "count", "uncount"):
            session = session_of(standing)
            return deck.on_deck(rows, case, deed, session)
        return harbour.said(rows, case, deed, ask)

    def _place(self, case: Case, deed: Deed) -> list[Letter]:
        try:
            found = ground_at(*case.event.place) if case.event.place else ground_named(deed.said)
        except ValueError:
            return self._kept(case, harbour.which(case, deed.said))
        facts = where_facts(found, self._book.facts)

        def note(rows: Rows) -> list[Letter]:
            return case.text(harbour.ground(rows, case, found))

        return self._turn(case, Message(facts=facts), first=note) if facts else self._kept(case, note)

    def _page(self, case: Case, deed: Deed) -> list[Letter]:
        """Something to be shown beside the talk."""
        if deed.name == "card":
            return self._kept(case, pages.card(case))
        if deed.name == "trip" and deed.said.strip().casefold() == "all":
            return self._kept(case, pages.trips(case, self._pages.trips(case.boat)))
        try:
            known = self._pages.known(case.boat, now=case.now)
        except ValidationError:
            return self._kept(case, case.text(OLD_STATE))
        letters = pages.picture(case, known, deed.said) if deed.name == "picture" else pages.trip(case, known)
        return self._kept(case, letters)

    def _found(self, case: Case, deed: Deed) -> list[Letter]:
        if deed.said == "off":
            return self._kept(case, case.edit(Screen(words.ALL_RIGHT)))
        with self._store.reading() as rows:
            finding = tally.found(rows, case.boat, deed.said)
        facts = facts_of(finding) if finding else {}
        known = {name: value for name, value in facts.items() if name in self._book.facts}
        if not known:
            return self._kept(case, closed(case, None))
        return self._turn(case, Message(facts=known))

    def _helped(self, case: Case, deed: Deed) -> list[Letter]:
        """The answer to "did it help?", asked by a bell."""
        ask = follow_question(self._book)
        answers, digit = likeliest(ask, self._book.facts), deed.said
        is_over = session_of(self._store.look(case.boat)).look_again_at is None  # on another phone of hers
        if is_over or not (digit.isdecimal() and 1 <= int(digit[:2]) <= len(answers)):
            return self._kept(case, closed(case, None))
        return self._turn(case, Message(facts={ask.fact: answers[int(digit[:2]) - 1][0]}))

    def _forget(self, case: Case, deed: Deed) -> list[Letter]:
        what, _, asked_by = deed.said.partition(":")
        if what not in ("boat", "me") or asked_by != case.event.person:
            return self._kept(case, case.edit(Screen(words.KEPT)))
        if what == "boat":
            return self._turn(case, Message(command="forget"))

        def erase(rows: Rows) -> list[Letter]:
            forgetting.person(rows, case)
            return case.edit(Screen(words.FORGOTTEN))

        posted = self._kept(case, erase)
        try:
            self._store.sweep()
        except StoreError as error:
            log.warning("%s", error)  # made up for at the next start
        return posted


def _moved(rows: Rows, event: Event) -> list[Letter]:
    """A group that was given a new number."""
    move_chat(rows, event.chat, event.sent_to)
    return []


def move_chat(rows: Rows, chat: str, to: str) -> None:
    """Keep a chat under its new number, with what waits to be sent to it."""
    crew.move(rows, chat, to)
    rows.execute("UPDATE outbox SET chat = ? WHERE chat = ?", (to, chat))
