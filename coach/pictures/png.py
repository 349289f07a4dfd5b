"""An SVG as PNG, by resvg with the bundled font; loaded only when a PNG is asked for."""

from __future__ import annotations

import io
import re
from pathlib import Path

from coach.pictures.parts import part

FONTS = Path(__file__).parent / "fonts"
FONT_FILES = (FONTS / "DejaVuSans.ttf", FONTS / "DejaVuSans-Bold.ttf")
PIXELS, PIXELS_OF_TALL = 600, 540
"""More than half again the width for which pictures are made: sharp on a phone, and small enough to send."""
TALL = 420.0
SMALL_BYTES = 39_000

_HEIGHT = re.compile(r'viewBox="0 0 [\d.]+ ([\d.]+)"')
_COLOURS = 32


def png(svg: str, *, pixels: int | None = None) -> bytes:
    """The picture as PNG, `pixels` wide; the same text gives the same bytes.

    Raises FileNotFoundError if a bundled font is missing (text would vanish without a word),
    MissingPartError if resvg is, and ValueError for text that is no SVG.
    """
    for file in FONT_FILES:
        if not file.is_file():
            raise FileNotFoundError(f"{file} is missing. Install the coach again.")
    resvg = part("resvg_py", needed_for="A picture as PNG")
    made = bytes(
        resvg.svg_to_bytes(
            svg_string=svg,
            width=pixels or _pixels(svg),
            skip_system_fonts=True,
            font_files=[str(file) for file in FONT_FILES],
            sans_serif_family="DejaVu Sans",
        )
    )
    return made if len(made) <= SMALL_BYTES else _in_few_colours(made)


def _pixels(svg: str) -> int:
    found = _HEIGHT.search(svg)
    return PIXELS_OF_TALL if found and float(found[1]) > TALL else PIXELS


def _in_few_colours(made: bytes) -> bytes:
    """The same picture with a palette: half the bytes, and no eye sees a difference."""
    image = part("PIL.Image", needed_for="A picture as PNG")
    picture = image.open(io.BytesIO(made)).convert("RGB")
    picture = picture.quantize(_COLOURS, method=image.Quantize.FASTOCTREE, dither=image.Dither.NONE)
    out = io.BytesIO()
    picture.save(out, "PNG", compress_level=6)
    return out.getvalue()
