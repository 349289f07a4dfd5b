"""`coach rules`: for who changes the rules. `check` names every fault; `try` shows what fires."""

from __future__ import annotations

from pathlib import Path

from coach import rulebook
from coach.consult import UNUSABLE, Noted, prepared
from coach.conversation import Message, Session
from coach.dialogue import step
from coach.engine import Engine
from coach.front.talk import local_now
from coach.model import Firing, Rulebook, Scalar
from coach.rulebook import default_folder
from coach.rulebook.check import examined, notes
from coach.rulebook.conditions import closest
from coach.rulebook.situations import read_situations
from coach.school.reading import FOLDER as SCHOOL
from coach.school.reading import read_school

CHANGED = 3
"""The exit code where the rules load and examples beside them were written for other numbers."""
OTHERWISE = "The rules load and can be used; {count} things in the examples were written for other numbers:"
ACCEPT = (
    "Did you change a number or a strength? Then read each: what it expected, and what comes out now. If\n"
    "that is right, change the example's fires, silent, names or facts there; if not, take your change back."
)

WORDS: dict[str, bool] = {"yes": True, "true": True, "no": False, "false": False}


def serve(action: str, rules: Path | None = None, facts: list[str] | None = None) -> int:
    """Check the rules, or try them on `facts` ("name=value"); the exit code: 0, 1 if the rules have
    faults, 2 if a fact was not understood, 3 if only examples come out otherwise."""
    return check(rules) if action == "check" else attempt(facts or [], rules)


def check(folder: Path | None) -> int:
    """Print every fault of the rules, one a line, or how many rules are fine; then the notes, which
    are no faults. The situations beside the rules are played, and what the school teaches is read."""
    place = folder or default_folder()
    try:
        book = prepared(place)
        Engine(rulebook.clauses(book)).close()
        situations = read_situations(place, book)
        if (place / SCHOOL).is_dir():
            read_school(book, place)
    except UNUSABLE as unusable:
        print(unusable)
        return 1
    faults, changed = examined(book, situations, folder=place)
    for line in faults or (_fine(book, len(situations)),) if not changed else faults:
        print(line)
    if changed:
        print(OTHERWISE.format(count=len(changed)))
        for line in changed:
            print(" ", line)
        print(ACCEPT)
    for note in notes(book, folder=place):
        print("note:", note)
    return 1 if faults else CHANGED if changed else 0


def _fine(book: Rulebook, situations: int) -> str:
    counts = f"{len(book.rules)} rules, {len(book.facts)} facts, {len(book.causes)} causes"
    return f"rules fine: {counts}, {situations} situations played"


def attempt(facts: list[str], folder: Path | None) -> int:
    """Print each rule that fires on the facts and on what follows from them, with what it stood on."""
    book = prepared(folder)
    given = dict(_fact(fact, book) for fact in facts)
    asked = [fact.name for fact in book.facts.values() if fact.origin == "asked"]
    for name in given:
        if name not in asked:
            print(f"There is no fact '{name[:60]}' that can be told. {closest(name, asked)}")
            return 2
    with Engine(rulebook.clauses(book)) as engine:
        noted = Noted(engine.evaluate)
        message = Message(facts=given)
        _, reply = step(Session(), message, now=local_now(), book=book, infer=noted)
    if reply.error:
        print(reply.error[1])
        return 2
    titles = {rule.id: rule.title for rule in book.rules}
    for firing in noted.firings.values():
        print(_fired(firing, titles[firing.rule]))
    return 0


def _fact(text: str, book: Rulebook) -> tuple[str, Scalar]:
    """NAME=VALUE as a name and a value of the fact's kind; a value that does not fit stays words,
    and the core says what is wrong with it."""
    name, _, value = text.partition("=")
    kind = book.facts[name].type if name in book.facts else None
    if kind == "bool":
        return name, WORDS.get(value.casefold(), value)
    try:
        return name, float(value) if kind == "number" else value
    except ValueError:
        return name, value


def _fired(firing: Firing, title: str) -> str:
    because = ", ".join(f"{name} is {_shown(value)}" for name, value in firing.because)
    return f"{firing.rule}: {title}\n    because {because}"


def _shown(value: Scalar) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else value
