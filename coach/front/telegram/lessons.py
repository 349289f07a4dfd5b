"""Lessons on the bot: an item a screen, answered by tap, digit or words; the consultation waits untouched.

A lesson is given in a chat of one person, who is its learner. What is written while a question is open is
for the lesson, but for commands, counts, clearing the water, and dangers: those the coach hears, and the
lesson rests.
"""

from __future__ import annotations

from collections.abc import Callable

from coach.conversation import Message, Question
from coach.front.lessons import MORE, NOT_TAUGHT, PLAY, STOP, TRIPS, Lessons, Moved, Shown, Taught, why_not
from coach.front.school import ATTEMPTS
from coach.front.telegram import words
from coach.front.telegram.case import Case
from coach.front.telegram.meant import Deed
from coach.front.telegram.pages import caption_of
from coach.front.telegram.screens import Row, Screen, label, question, screens
from coach.pictures import Picture
from coach.post import crew
from coach.post.outbox import Letter
from coach.school import kept
from coach.school.state import Learner
from coach.store import Rows, Store, StoreError

Writes = Callable[[Rows], list[Letter]]
Keep = Callable[[Case, Writes | list[Letter]], list[Letter]]
"""One transaction that marks the event as handled, writes, and sends letters."""
TAUGHT = ("lesson", "lesson tap", "lesson said", "progress")
"""The deeds that are for the school."""
_HINT, _SHOW = "hint", "?"
_TAPS = {"h": _HINT, "u": _SHOW, "s": STOP}
_MORE: Row = [[words.LESSON_MORE, "e::m"]]
_BOATER: Row = [[words.ANOTHER_BOATER, "e::p"]]
_BEGINS = {"m": MORE, "p": PLAY, "t": TRIPS}


def learner_of(chat: str) -> str:
    """The name under which the learner of a chat is kept."""
    return f"phone-{chat}"


class Tutor:
    """Gives lessons in chats. Raises StoreError, and `HandledBefore` as `keep` does."""

    def __init__(self, store: Store, lessons: Lessons, keep: Keep) -> None:
        self._store, self._lessons, self._keep = store, lessons, keep
        self._does = {"lesson": self._begun, "lesson tap": self._tapped, "lesson said": self._step}

    # -- whether it is for the lesson

    def heard(self, case: Case, meant: Message | Deed) -> tuple[Message | Deed, Writes | None]:
        """What an event means where a lesson may be open; and what is to be written behind it where the
        lesson rests, because something more urgent was said."""
        event = case.event
        if event.kind != "text" or event.is_group or event.text.startswith("/"):
            return meant, None
        if isinstance(meant, Deed) and meant.name != "help":  # a lesson has its own
            return meant, None
        state = self._lessons.open_for(learner_of(event.chat), now=case.now)
        if state is None:
            return meant, None
        is_clear = isinstance(meant, Message) and meant.command == "clear"
        if is_clear or self._lessons.is_hazard(event.text, state, now=case.now):
            return meant, lambda rows: self._rests(rows, case)
        return Deed("lesson said", event.text), None

    def _rests(self, rows: Rows, case: Case) -> list[Letter]:
        self._lessons.rest(rows, learner_of(case.event.chat), at=case.now)
        return case.text(words.LESSON_RESTS)

    # -- what is sent to it

    def handle(self, case: Case, deed: Deed, ask: Question | None, *, is_emergency: bool) -> list[Letter]:
        """A word, a number or a tap for the lesson; how one stands; the captain's signature."""
        if case.event.is_group:
            return self._keep(case, case.text(words.LESSON_ALONE))
        try:
            if deed.name == "progress":
                return self._progress(case, deed.said.strip())
            if is_emergency:
                return self._keep(case, case.text(words.LESSON_NOT_NOW))
            return self._does[deed.name](case, deed.said, ask)
        except NOT_TAUGHT as error:
            return self._keep(case, case.text(why_not(error)))

    def _begun(self, case: Case, said: str, ask: Question | None) -> list[Letter]:
        """A lesson begins, or goes on where it stood."""
        word = said.strip().casefold()
        state = self._lessons.learner(learner_of(case.event.chat))
        shown = self._lessons.shown(state)
        if shown is not None and word != STOP:
            return self._goes_on(case, self._put(case, state, shown))
        return self._step(case, word if word in (STOP, MORE, PLAY, TRIPS) else "", ask)

    def _goes_on(self, case: Case, letters: list[Letter]) -> list[Letter]:
        taken_up = self._lessons.goes_on(learner_of(case.event.chat))

        def write(rows: Rows) -> list[Letter]:
            taken_up.keep(rows, at=case.now)
            return letters

        try:
            return self._keep(case, write)
        except Moved:
            raise StoreError("another program changes this learner. Try again.") from None

    def _tapped(self, case: Case, data: str, ask: Question | None) -> list[Letter]:
        token, _, what = data.partition(":")
        state = self._lessons.learner(learner_of(case.event.chat))
        shown = self._lessons.shown(state)
        if what in _BEGINS and shown is None:
            return self._step(case, _BEGINS[what], ask)
        if shown is None or token != shown.token:
            again = self._put(case, state, shown) if shown is not None else []
            return self._keep(case, [*case.edit(Screen(words.CLOSED)), *again])
        is_answer = what.isdecimal() and 1 <= int(what[:2]) <= len(shown.choices)
        text = what[:2] if is_answer else _TAPS.get(what)
        return self._step(case, text, ask) if text else self._keep(case, [])

    def _step(self, case: Case, text: str, ask: Question | None) -> list[Letter]:
        """A step of the lesson, kept together with the event that brought it."""
        called = self._called(case)
        for _ in range(ATTEMPTS):
            name = learner_of(case.event.chat)
            taught = self._lessons.step(name, text, now=case.now, called=called, boat=case.boat)
            letters = self._letters(case, text, taught, ask)

            def write(rows: Rows, taught: Taught = taught, letters: list[Letter] = letters) -> list[Letter]:
                taught.keep(rows, at=case.now)
                return letters

            try:
                return self._keep(case, write)
            except Moved:
                continue
        raise StoreError("other programs keep changing this learner. Try again.")

    def _called(self, case: Case) -> str:
        """The name that the person gave for counting; "" where none."""
        with self._store.reading() as rows:
            aboard = crew.dippers(rows, case.boat)
        return next((each.name for each in aboard if each.person == case.event.person), "")

    # -- what is shown

    def _letters(self, case: Case, text: str, taught: Taught, ask: Question | None) -> list[Letter]:
        """The answer to a step: what was answered is marked in its place, then the next question comes."""
        shown, was = self._lessons.shown(taught.after), self._lessons.shown(taught.before)
        is_same = shown is not None and not taught.marked and not taught.told and was is not None
        if shown is not None and is_same:
            return self._answer(case, screens_of(shown, taught.note))
        is_play = was is not None and was.kind == "boater"
        more = () if shown is not None else (_BOATER if is_play else _MORE,)
        letters = []
        if taught.marked:
            is_put = was is not None and not is_play and case.event.kind == "tap"
            answered = _answered(was, text) if was is not None and is_put else ""
            head = "\n\n".join(part for part in (answered, "\n".join(taught.marked)) if part)
            rows = more if not taught.told else ()
            letters += self._answer(case, screens(head, rows))
        if taught.told:
            letters += case.letters(screens(_in_parts(taught.told), more))
        if shown is not None:
            return letters + self._put(case, taught.after, shown)
        return letters + (case.letters([Screen(*question(ask, case.book.facts))]) if ask is not None else [])

    def _answer(self, case: Case, found: list[Screen]) -> list[Letter]:
        """The tapped message turned into the first of these screens; what was typed is answered below."""
        if case.event.kind != "tap":
            return case.letters(found)
        return [*case.edit(found[0]), *case.letters(found[1:])]

    def _put(self, case: Case, state: Learner, shown: Shown) -> list[Letter]:
        """The open question, its picture before it."""
        drawn = None
        if shown.has_picture:
            drawn = self._lessons.picture(state, now=case.now, theme=case.theme)
        before = [] if drawn is None else _drawn(case, drawn)
        return [*before, *case.letters(screens_of(shown, ()))]

    # -- how one stands

    def _progress(self, case: Case, said: str) -> list[Letter]:
        name = learner_of(case.event.chat)
        word, _, by = said.partition(" ")
        if word.casefold() == "sheet":
            body = {"learner": name, "part": "sheet.html", "at": case.now.isoformat()}
            return self._keep(case, [Letter(case.event.chat, "export", body)])
        if word.casefold() == "sign":
            return self._signed(case, name, by)
        lines = self._lessons.standing(name)
        rows: list[Row] = [[[words.SHEET, "g:sheet"]]]
        ready = (words.SIGN_HOW,) if self._lessons.ready(name) else ()
        return self._keep(case, case.text(_in_parts((*lines, *ready)), rows))

    def _signed(self, case: Case, name: str, by: str) -> list[Letter]:
        """The captain's signature under all that is ready."""
        try:
            signer = kept.checked_name(by)
        except ValueError:
            return self._keep(case, case.text(words.SIGN_HOW))
        topics = self._lessons.ready(name)
        if not topics:
            return self._keep(case, case.text(words.SIGN_NOTHING))

        def write(rows: Rows) -> list[Letter]:
            kept.sign(rows, name, topics, by=signer, at=case.now)
            return case.text(words.SIGNED.format(count=len(topics), by=signer))

        return self._keep(case, write)


def screens_of(shown: Shown, note: tuple[str, ...]) -> list[Screen]:
    """The open question with its buttons: the answers one a row, then what always helps."""
    answers = [f"{place}  {each.label}" for place, each in enumerate(shown.choices, 1)]
    rows: list[Row] = [
        [[label(each.label), f"e:{shown.token}:{place}"]] for place, each in enumerate(shown.choices, 1)
    ]
    stop = [words.LESSON_STOP, f"e:{shown.token}:s"]
    if shown.kind == "boater":
        show = [words.SHOW_IT, f"e:{shown.token}:u"]
        return screens("\n".join(note or shown.lines), ([show, stop],))
    if shown.is_sure:
        text = [shown.ask, words.ANSWERED.format(answer=shown.answered.rstrip(".")), "", *shown.lines]
        return screens("\n".join([*text, *note]), (*rows, [stop]))
    type_it = [words.TYPE_NUMBER.format(unit=shown.unit)] if shown.unit else []
    aside = [*shown.hints, *note]
    text = [*shown.lines, *answers, *type_it, *([""] if aside else []), *aside]
    standing = [[words.LESSON_HINT, f"e:{shown.token}:h"], [words.LESSON_SHOW, f"e:{shown.token}:u"], stop]
    return screens("\n".join(text), (*rows, standing))


def _answered(was: Shown, text: str) -> str:
    """The question and its answer, as they stand above what is said about it."""
    if text in (STOP, _SHOW):
        return was.ask
    picked = was.choices[int(text) - 1].label if text.isdecimal() else ""
    said = f"{was.answered.rstrip('.')} ({picked.casefold()})" if was.is_sure else picked
    return f"{was.ask}\n{words.ANSWERED.format(answer=said.rstrip('.'))}"


def _in_parts(lines: tuple[str, ...]) -> str:
    return "\n".join(lines).strip()


def _drawn(case: Case, drawn: Picture) -> list[Letter]:
    """A picture with its words: as many as a caption holds, all of them before it where that is too few."""
    caption = caption_of(drawn.words)
    before = [] if caption == "\n".join(drawn.words) else case.text("\n".join(drawn.words))
    return [*before, Letter(case.event.chat, "picture", {"svg": drawn.svg, "text": caption, "rows": []})]
