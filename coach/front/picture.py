"""`coach picture`: a picture of what a chat knows, in words, and in a file if one is named."""

from __future__ import annotations

import sys
from typing import Any

from coach.consult import prepared
from coach.front.given import clock, known_of, read_facts, write_picture
from coach.pictures import picture_for


def serve(kind: str | None = None, chat: str = "me", store: str | None = None, **options: Any) -> int:
    """Draw a chat's set: the words on standard output, the picture to the file named. The exit code:
    0, or 2 if something was not understood."""
    book = prepared(options.get("rules"))
    try:
        now = clock(options.get("at"))
        is_metric = options.get("units") == "metric"
        night = known_of(chat, store, book, now=now, fresh=bool(options.get("fresh")), metric=is_metric)
        picture = picture_for(
            {**night.facts, **read_facts(options.get("facts") or (), book)},
            night.numbers,
            book=book,
            now=now,
            kind=kind,
            theme=options.get("theme") or "dim",
            metric=options.get("metric") or night.metric,
            looks=night.looks,
            marks=night.marks,
        )
        file = options.get("picture")
        if file is not None:
            write_picture(file, picture.svg)
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return 2
    print("\n".join((*picture.words, *((f"Picture: {file}",) if file else ()))))
    return 0
