"""`coach card`: what a chat knows, with facts typed along, as a page for the screen or for paper."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from coach import rulebook
from coach.card.content import Card
from coach.card.limits import TEMPLATE, default_sheet, own_sheet, read_sheet
from coach.card.page import html
from coach.card.paper import pdf
from coach.consult import prepared
from coach.engine import Engine
from coach.front.given import clock, read_facts, write
from coach.pages import Pages
from coach.store import Store, default_path
from coach.trips.export import reminders

ENDINGS = (".html", ".pdf", ".txt", ".ics")


def serve(chat: str = "me", store: str | None = None, **options: Any) -> int:
    """Make the card; its words on standard output unless files are named. The exit code: 0, or 2 if
    something was not understood."""
    if options.get("new_limits"):
        return _new_limits(options["new_limits"])
    book = prepared(options.get("rules"))
    try:
        now = clock(options.get("at"))
        facts = read_facts(options.get("facts") or (), book)
        files = [_checked(file) for file in options.get("out") or ()]
        with Store(store or default_path()) as kept_in, Engine(rulebook.clauses(book)) as engine:
            is_metric = options.get("units") == "metric"
            card = Pages(kept_in, book, infer=engine.evaluate, metric=is_metric).card(
                None if options.get("fresh") else chat,
                now=now,
                facts=facts,
                place=options.get("place") or "",
                sheet=read_sheet(options["limits"]) if options.get("limits") else own_sheet(),
                metric=bool(options.get("metric")),
            )
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return 2
    for line in card.words() if not files else _written(card, files, options.get("paper") or "a4", now):
        print(line)
    return 0


def _new_limits(file: Path) -> int:
    """Write an empty limits sheet to fill in; a file that is there is never overwritten."""
    try:
        with file.open("x", encoding="utf-8") as sheet:
            sheet.write(TEMPLATE)
    except FileExistsError:
        print(f"{file}: is there already. Change it, or name another file.", file=sys.stderr)
        return 2
    print(f"Fill in {file} and name it by --limits, or keep it as {default_sheet()}.")
    return 0


def _checked(file: Path) -> Path:
    if file.suffix.casefold() not in ENDINGS:
        raise ValueError(f"{file}: got the ending '{file.suffix}'; allowed {', '.join(ENDINGS)}")
    return file


def _written(card: Card, files: Iterable[Path], paper: str, now: datetime) -> Iterator[str]:
    for file in files:
        ending = file.suffix.casefold()
        if ending == ".html":
            write(file, html(card))
        elif ending == ".pdf":
            write(file, pdf(card, paper=paper))
        elif ending == ".ics":
            write(file, reminders(card.alarms, made_at=now))
        else:
            write(file, "\n".join(card.words()) + "\n")
        yield f"Card: {file}"
