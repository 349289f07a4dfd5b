"""What the commands that draw have in common: facts typed, a chat's facts and verdict, files written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, tzinfo
from pathlib import Path

from coach.front.talk import local_now
from coach.legal import NotLegal, legal_value
from coach.model import Rulebook, Scalar
from coach.pages import Known, Pages
from coach.pictures.png import png
from coach.plain import PlainEvaluator
from coach.rulebook import clauses
from coach.store import Store, default_path

WORDS: Mapping[str, bool] = {"yes": True, "true": True, "no": False, "false": False}


def known_of(
    chat: str, store: str | None, book: Rulebook, *, now: datetime, fresh: bool, metric: bool
) -> Known:
    """What a chat knows; nothing of it if a fresh start is wanted. `metric` where it has not begun."""
    if fresh:
        return Known({}, {}, metric, None)
    with Store(store or default_path()) as kept_in:
        pages = Pages(kept_in, book, infer=PlainEvaluator(clauses(book)).evaluate, metric=metric)
        return pages.known(chat, now=now)


def clock(at: str | None) -> datetime:
    """The time typed, or the time now. Raises ValueError for what is no time."""
    return local_now() if at is None else datetime.fromisoformat(at).astimezone(_zone_of(at))


def _zone_of(at: str) -> tzinfo | None:
    """The zone that a time was typed with; without one this machine's."""
    return datetime.fromisoformat(at).tzinfo


def read_facts(texts: Iterable[str], book: Rulebook) -> dict[str, Scalar]:
    """Facts typed as NAME=VALUE. Raises ValueError saying which one is wrong and what is allowed."""
    found: dict[str, Scalar] = {}
    for text in texts:
        name, _, value = text.partition("=")
        fact = book.facts.get(name)
        if fact is None or fact.origin != "asked":
            raise ValueError(f"There is no fact '{name[:60]}' that can be told.")
        try:
            found[name] = legal_value(fact, _typed(fact.type, value))
        except NotLegal as wrong:
            raise ValueError(str(wrong)) from wrong
    return found


def _typed(kind: str, value: str) -> bool | float | str:
    if kind == "bool":
        return WORDS.get(value.casefold(), value)
    try:
        return float(value) if kind == "number" else value
    except ValueError:
        return value


def write(file: Path, content: str | bytes) -> None:
    """Write a file as asked. Raises OSError with its name, and what to do if its folder is missing."""
    if not file.parent.is_dir():
        raise FileNotFoundError(f"{file}: there is no folder {file.parent}. Make it, or correct the path.")
    file.write_bytes(content.encode() if isinstance(content, str) else content)


def write_picture(file: Path, svg: str) -> None:
    """Write a picture as SVG or PNG, by the file's ending. Raises ValueError for another ending."""
    ending = file.suffix.casefold()
    if ending not in (".svg", ".png"):
        raise ValueError(f"{file}: got the ending '{file.suffix}'; allowed .svg, .png")
    write(file, png(svg) if ending == ".png" else svg)
