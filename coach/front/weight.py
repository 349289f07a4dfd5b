"""Weight for what must be seen at a glance: bold, a frame, a colour where the terminal has them.

The words and signs stand in the text itself (`coach.front.render`), so that nothing depends on this.
"""

from __future__ import annotations

from collections.abc import Callable

Mark = Callable[[str, str], str]
"""A kind ("hazard", "action", "ask", "digit", "bell", "heard") and a text; the text as it is shown."""

STYLES = {
    "dim": {"hazard": "bold red", "action": "bold yellow", "bell": "bold yellow"},
    "light": {"hazard": "bold red", "action": "bold blue", "bell": "bold magenta"},
}
"""The colours of each theme; red and yellow spare night vision. All are among the eight oldest."""
_WEIGHT = {"ask": "bold", "digit": "bold"}


def plain(kind: str, text: str) -> str:
    """The text as it is."""
    del kind
    return text


def weighty(theme: str) -> Mark:
    """Bold and colour by kind, each line on its own, so that no line end leaves a colour on."""
    from rich.color import ColorSystem  # noqa: PLC0415  (only where it is shown)
    from rich.style import Style  # noqa: PLC0415

    styles = {kind: Style.parse(said) for kind, said in (_WEIGHT | STYLES[theme]).items()}

    def mark(kind: str, text: str) -> str:
        style = styles.get(kind)
        if style is None:
            return text
        return "\n".join(
            style.render(line, color_system=ColorSystem.STANDARD) if line.strip() else line
            for line in text.split("\n")
        )

    return mark
