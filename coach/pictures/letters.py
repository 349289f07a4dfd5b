"""How wide a text is, and where labels can stand without touching each other."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from coach.pictures.svg import TEXT, WIDTH, Text

# advance widths of the printable ASCII characters in thousandths of the size, read from the fonts
_PLAIN = (
    "318 401 460 838 636 950 780 275 390 390 500 838 318 361 318 337 636 636 636 636 636 636 636 636 636"
    " 636 337 337 838 838 838 531 1000 684 686 698 770 632 575 775 752 295 295 656 557 863 748 787 603"
    " 787 695 635 611 732 684 989 685 611 685 390 337 390 838 500 500 613 635 550 635 615 352 635 634 278"
    " 278 579 278 974 634 612 635 635 411 521 392 634 592 818 592 592 525 636 337 636 838"
)
_BOLD = (
    "348 456 521 838 696 1002 872 306 457 457 523 838 380 415 380 365 696 696 696 696 696 696 696 696 696"
    " 696 400 400 838 838 838 580 1000 774 762 734 830 683 683 821 837 372 372 775 637 995 837 850 733"
    " 850 770 720 682 812 774 1103 771 724 725 457 365 457 838 500 500 675 716 593 716 678 435 716 712"
    " 343 343 665 343 1042 712 687 716 716 493 595 478 712 652 924 645 652 582 712 365 712 838"
)
_WIDTHS = {
    bold: {chr(32 + i): int(width) / 1000 for i, width in enumerate(table.split())}
    for bold, table in ((False, _PLAIN), (True, _BOLD))
}
_OTHER = 1.04
"""Any other character counts as a wide one: better too much room than too little."""
UP, DOWN = 0.78, 0.24
"""How far letters reach above and below the base line, in sizes."""


class Box(NamedTuple):
    """An upright rectangle."""

    left: float
    top: float
    right: float
    bottom: float

    def touches(self, other: Box) -> bool:
        """Whether the two overlap."""
        beside = self.left < other.right and other.left < self.right
        return beside and self.top < other.bottom and other.top < self.bottom


def text_width(text: str, size: float = TEXT, *, bold: bool = False) -> float:
    """Width of a text [px] at a size [px] in the bundled font, kerning left aside."""
    widths = _WIDTHS[bold]
    return size * sum(widths.get(sign, _OTHER) for sign in text)


def text_box(text: Text) -> Box:
    """The room that a text takes."""
    width = text_width(text.text, text.size, bold=text.bold)
    left = text.at[0] - {"start": 0.0, "middle": width / 2, "end": width}[text.anchor]
    return Box(left, text.at[1] - UP * text.size, left + width, text.at[1] + DOWN * text.size)


class Placer:
    """Puts labels one after the other where they touch no earlier one; what finds no room is kept."""

    def __init__(self, room: Box) -> None:
        self._room = room
        self._taken: list[Box] = []
        self.placed: list[Text] = []
        self.left_over: list[str] = []

    def keep_clear(self, box: Box) -> None:
        """Let no label stand here."""
        self._taken.append(box)

    def put(self, candidates: Iterable[Text], *, spelled: str = "") -> None:
        """Place the first candidate that fits; otherwise `spelled` (or its text) is left over."""
        said = spelled
        for text in candidates:
            said = said or text.text
            box = text_box(text)
            if self._is_free(box):
                self._taken.append(Box(box.left - 6, box.top, box.right + 6, box.bottom))
                self.placed.append(text)
                return
        self.left_over.append(said)

    def _is_free(self, box: Box) -> bool:
        room = self._room
        inside = box.left >= room.left and box.right <= room.right
        inside = inside and box.top >= room.top and box.bottom <= room.bottom
        return inside and not any(box.touches(taken) for taken in self._taken)


def spread(wanted: list[float], *, gap: float, low: float, high: float) -> list[float]:
    """Heights as near to the wanted ones as can be, in their order, `gap` apart, from low to high.

    Where they do not all fit between, the last ones go beyond `high`.
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    got = [0.0] * len(wanted)
    floor = low
    for i in order:
        got[i] = floor = max(wanted[i], floor)
        floor += gap
    ceiling = max(high, low + gap * (len(wanted) - 1))
    for i in reversed(order):
        got[i] = ceiling = min(got[i], ceiling)
        ceiling -= gap
    return got


def wrapped(text: str, width: float = WIDTH - 16, *, size: float = TEXT, bold: bool = False) -> list[str]:
    """The text in lines no wider than `width` px; a single longer word is cut with a hyphen."""
    lines: list[str] = []
    for word in text.split():
        for piece in _pieces(word, width, size, bold):
            longer = f"{lines[-1]} {piece}" if lines else piece
            if lines and text_width(longer, size, bold=bold) <= width:
                lines[-1] = longer
            else:
                lines.append(piece)
    return lines


def _pieces(word: str, width: float, size: float, bold: bool) -> Iterable[str]:
    while text_width(word, size, bold=bold) > width and len(word) > 2:
        cut = len(word) - 1
        while cut > 1 and text_width(word[:cut] + "-", size, bold=bold) > width:
            cut -= 1
        yield word[:cut] + "-"
        word = word[cut:]
    yield word
