"""The card as one HTML file: dim on a screen, black on white on paper, nothing fetched from anywhere."""

from __future__ import annotations

from collections.abc import Iterable

from coach.card.content import CAUTION, TITLE, Card
from coach.pictures.svg import escaped
from coach.pictures.themes import DIM, LIGHT

_STYLE = f"""
:root {{ color-scheme: dark; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0 auto; padding: 12px; max-width: 760px; background: {DIM["paper"]}; color: {DIM["ink"]};
  font: 17px/1.4 "DejaVu Sans", Verdana, sans-serif; }}
h1 {{ font-size: 21px; margin: 0 0 2px; }}
h2 {{ font-size: 17px; margin: 14px 0 4px; border-bottom: 1px solid {DIM["soft"]}; }}
p, ol, ul, table {{ margin: 4px 0; }}
ol, ul {{ padding-left: 26px; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ text-align: left; padding: 3px 8px 3px 0; border-bottom: 1px solid {DIM["bed"]}; }}
td.moves {{ font-weight: bold; text-decoration: underline; }}
figure {{ margin: 8px -12px; }}
figcaption {{ padding: 0 12px; }}
summary {{ padding: 6px 0; cursor: pointer; }}
svg {{ width: 100%; max-width: 480px; height: auto; display: block; }}
.hazard {{ border: 2px solid {DIM["strong"]}; padding: 4px 8px; font-weight: bold; }}
.check {{ list-style: "\\2610  "; }}
.paper {{ display: none; }}
@media print {{
  @page {{ margin: 9mm; }}
  :root {{ color-scheme: light; }}
  body {{ background: #fff; color: {LIGHT["ink"]}; font-size: 8.4pt; line-height: 1.2; max-width: none;
    padding: 0; columns: 2; column-gap: 7mm; }}
  header {{ column-span: all; }}
  h1 {{ font-size: 13pt; }} h2 {{ font-size: 9.5pt; margin: 5px 0 2px; border-color: {LIGHT["soft"]};
    break-after: avoid; }}
  p, ol, ul, table {{ margin: 1px 0; }} ol, ul {{ padding-left: 16px; }}
  th, td {{ padding: 0 6px 0 0; border-color: {LIGHT["bed"]}; }}
  section, figure, li {{ break-inside: avoid; }} section.long {{ break-inside: auto; }}
  figure {{ margin: 2px 0; }} figcaption {{ display: none; }}
  .hazard {{ border: 1px solid {LIGHT["strong"]}; margin: 0; padding: 0 4px; }}
  .screen {{ display: none; }} .paper {{ display: block; }}
  .paper svg {{ max-width: 70mm; max-height: 68mm; }}
}}
"""


def html(card: Card) -> str:
    """The page as text; the same card gives the same bytes."""
    where = f", {escaped(card.place)}" if card.place else ""
    parts = [
        '<!doctype html><html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{TITLE}{where}</title><style>{_STYLE}</style></head><body>",
        f"<header><h1>{TITLE}{where}</h1><p>{escaped(card.made)}</p>",
        *(f'<p class="hazard" role="alert">{escaped(hazard)}</p>' for hazard in card.hazards),
        *(f"<p><strong>{escaped(line)}</strong></p>" for line in card.advice),
        "</header><main>",
        _clips(card),
        *(_figure(card, kind) for kind in card.kinds),
        _section("Clear the water", [_list(card.clearing, "ol"), f"<p>{escaped(card.clearing_total)}</p>"]),
        _section("Limits", [_list(card.limits, "ul")], "long"),
        _section(
            "Before the lamps go out", [_list(card.safety, "ul", "check"), f"<p>{escaped(CAUTION)}</p>"]
        ),
        "</main></body></html>\n",
    ]
    return "".join(parts)


def _clips(card: Card) -> str:
    rows = []
    for row in card.clips:
        told = _cell(row.left, "left" in row.moves) + _cell(row.right, "right" in row.moves)
        rows.append(f"<tr><th scope=row>{escaped(row.at)}</th>{told}<td>{escaped(row.fall)}</td></tr>")
    head = "<tr><th scope=col>From</th><th scope=col>Left</th><th scope=col>Right</th>"
    table = f"<table>{head}<th scope=col>Water down</th></tr>{''.join(rows)}</table>" if rows else ""
    notes = [f"<p>{escaped(note)}</p>" for note in card.clip_notes]
    by_clock = _section("Clip heights by the clock", [table, *notes])
    if not card.ladder:
        return by_clock
    ladder = "; ".join(f"{escaped(depth)}: {escaped(clip)}" for depth, clip in card.ladder)
    return by_clock + _section("Depth under the lamp: clip height", [f"<p>{ladder}</p>"])


def _cell(clip: str, moves: bool) -> str:
    look = ' class="moves"' if moves else ""
    return f"<td{look}>{escaped(clip)}</td>"


def _figure(card: Card, kind: str) -> str:
    """The picture for a screen and for paper, and the same in words."""
    dim, light = card.picture(kind, DIM.name), card.picture(kind, LIGHT.name)
    words = "".join(f"<p>{escaped(sentence)}</p>" for sentence in dim.words)
    return (
        f'<figure><div class="screen">{dim.svg}</div><div class="paper" aria-hidden="true">{light.svg}</div>'
        f"<figcaption><details><summary>The same in words</summary>{words}</details></figcaption></figure>"
    )


def _section(head: str, parts: Iterable[str], look: str = "") -> str:
    named = f' class="{look}"' if look else ""
    return f"<section{named}><h2>{escaped(head)}</h2>{''.join(parts)}</section>"


def _list(items: Iterable[str], tag: str, look: str = "") -> str:
    named = f' class="{look}"' if look else ""
    return f"<{tag}{named}>{''.join(f'<li>{escaped(item)}</li>' for item in items)}</{tag}>"
