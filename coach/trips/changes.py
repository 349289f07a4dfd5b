"""What a turn changed, in a form that is kept with it, so that the log of a trip can be made again."""

from __future__ import annotations

from typing import Any

from coach.conversation import Session


def changes(before: Session, after: Session, *, undone: bool) -> dict[str, Any]:
    """`facts`: what became known in a turn, None for what no longer is; `remembered`: whether undo can
    take the turn back; or `undone` alone if the turn was such an undo.

    A fact said again with the same value is named too: a count may repeat.
    """
    if undone and before != after:
        return {"undone": True}
    old, new = before.facts, after.facts
    names = [name for name in (*old, *new) if old.get(name) != new.get(name)]
    told = {name: new[name].value if name in new else None for name in dict.fromkeys(names)}
    return {"facts": told, "remembered": after.past != before.past}
