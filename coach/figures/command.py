"""`coach figure KIND [options] [--json]`: the calculators alone, for people and programs."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NoReturn

from coach.figures import show_boat, show_counts, show_lamp, show_nights, show_reclip, show_sky, show_water
from coach.figures.metric import line_with_metres, with_twins
from coach.figures.options import Figure, Given
from coach.figures.rig import Rig

FIGURES: dict[str, Figure] = {
    **show_lamp.FIGURES,
    **show_reclip.FIGURES,
    **show_counts.FIGURES,
    **show_boat.FIGURES,
    **show_water.FIGURES,
    **show_sky.FIGURES,
    **show_nights.FIGURES,
}


class _BadInputError(ValueError):
    """One line for standard error: which value, what was given, what is allowed."""


class _Parser(argparse.ArgumentParser):
    """A parser that raises instead of printing its usage and leaving the process."""

    def error(self, message: str) -> NoReturn:
        message = message.removeprefix("argument ")
        raise _BadInputError(message.replace("expected one argument", "got nothing; needed is a value"))


def numbers_file() -> Path:
    """Where `numbers.toml` lies: inside the installed package, or beside it in a checkout."""
    here = Path(__file__).resolve()
    folders = (here.parents[1] / "rules", here.parents[2] / "rules")
    return next((folder for folder in folders if folder.is_dir()), folders[-1]) / "numbers.toml"


def read_rig(file: Path) -> Rig:
    """The rig of a `numbers.toml`. Raises ValueError if a needed number is missing."""
    import tomllib  # noqa: PLC0415  (not needed where the rig is handed in)

    tables = tomllib.loads(file.read_text(encoding="utf-8"))
    return Rig.from_numbers({name: float(table["value"]) for name, table in tables.items()})


def _parser(kind: str, figure: Figure) -> _Parser:
    parser = _Parser(
        prog=f"coach figure {kind}", description=figure.says.capitalize() + ".", allow_abbrev=False
    )
    for option in figure.options:
        says = option.says + (" (needed)" if option.needed else "")
        action = "append" if option.many else "store"
        parser.add_argument(
            option.flag,
            type=option.read,
            default=option.default,
            help=says,
            action=action,
            metavar=option.name.split("_")[-1].upper(),
        )
    parser.add_argument("--metric", action="store_true", help="metres and metres a second as well")
    parser.add_argument("--json", action="store_true", help="answer with one JSON object")
    return parser


def _joined(argv: list[str], figure: Figure) -> list[str]:
    """Join each option to its value, so that a value may begin with a minus sign."""
    flags = {option.flag for option in figure.options}
    joined: list[str] = []
    for word in argv:
        if joined and joined[-1] in flags and not word.startswith("--"):
            joined[-1] += f"={word}"
        else:
            joined.append(word)
    return joined


def _given(kind: str, figure: Figure, argv: list[str]) -> Given:
    parsed, strange = _parser(kind, figure).parse_known_args(_joined(argv, figure))
    flags = ", ".join(option.flag for option in figure.options)
    if strange:
        raise _BadInputError(
            f"{strange[0].split('=')[0]}: got {strange[0]}; allowed {flags}, --metric, --json"
        )
    given = vars(parsed)
    for option in figure.options:
        if option.needed and given[option.name] is None:
            raise _BadInputError(f"{option.flag}: got nothing; needed is the {option.says}")
    return given


def _kinds() -> str:
    rows = [f"  {kind:<10} {figure.says}" for kind, figure in FIGURES.items()]
    return "\n".join(
        [
            "coach figure KIND [options] [--json]",
            "",
            "Kinds:",
            *rows,
            "",
            "Options of a kind: coach figure KIND --help",
        ]
    )


def _rounded(value: Any) -> Any:
    """Cut the noise of binary arithmetic off the numbers of an answer, to 12 digits."""
    if isinstance(value, float):
        return float(f"{value:.12g}")
    if isinstance(value, Mapping):
        return {key: _rounded(part) for key, part in value.items()}
    return [_rounded(part) for part in value] if isinstance(value, list | tuple) else value


def _answer(argv: list[str], rig: Rig | None) -> str:
    kind = argv[0]
    if kind not in FIGURES:
        raise _BadInputError(f"KIND: got {kind}; allowed {', '.join(FIGURES)}")
    given = _given(kind, FIGURES[kind], argv[1:])
    answer = FIGURES[kind].work(given, rig or read_rig(numbers_file()))
    values, lines = answer.values, answer.lines
    if given["metric"]:
        values, lines = with_twins(values), tuple(map(line_with_metres, lines))
    return json.dumps(_rounded(values), ensure_ascii=False) if given["json"] else "\n".join(lines)


def run(argv: list[str], *, rig: Rig | None = None) -> int:
    """Answer `coach figure` with these words; return the exit code.

    Bad input writes one line to standard error and returns 2. `rig` stands in for the numbers of
    the rules folder.
    """
    if not argv:
        print("coach figure: KIND: got nothing; allowed " + ", ".join(FIGURES), file=sys.stderr)
        return 2
    if argv[0] in ("-h", "--help"):
        print(_kinds())
        return 0
    try:
        print(_answer(argv, rig))
    except SystemExit:  # --help of a kind, already printed
        return 0
    except ValueError as wrong:
        print(f"coach figure {argv[0]}: {wrong}", file=sys.stderr)
        return 2
    return 0
