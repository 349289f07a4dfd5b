"""`coach completion SHELL`: the script that lets the Tab key complete commands, options and files.

    bash    coach completion bash > ~/.local/share/bash-completion/completions/coach
    zsh     coach completion zsh > ~/.zfunc/_coach   (with ~/.zfunc in fpath, before compinit)
    fish    coach completion fish > ~/.config/fish/completions/coach.fish

Made from the command line's own description, so that it never lags behind it.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import shtab


def serve(parser: argparse.ArgumentParser, shell: str) -> int:
    """Print the script; the exit code 0."""
    print(script(parser, shell))
    return 0


def script(parser: argparse.ArgumentParser, shell: str) -> str:
    """The script for a shell. The parser is told the calculators' options and which values are files."""
    for each in _all(parser):
        if each.prog == "coach figure":
            _add_figures(each)
        for action in each._actions:
            if action.type is Path or action.dest == "store":
                is_folder = action.metavar == "FOLDER"
                action.complete = shtab.DIRECTORY if is_folder else shtab.FILE  # type: ignore[attr-defined]
    return str(shtab.complete(parser, shell))


def _all(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for each in action.choices.values():
                yield from _all(each)


def _add_figures(parser: argparse.ArgumentParser) -> None:
    """The calculators have a command line of their own; here only what the Tab key has to know of it."""
    from coach.figures.command import FIGURES  # noqa: PLC0415  (heavy)

    kinds = parser.add_subparsers(metavar="KIND")
    for name, figure in FIGURES.items():
        kind = kinds.add_parser(name, help=figure.says)
        for option in figure.options:
            kind.add_argument(option.flag, help=option.says)
        kind.add_argument("--metric", action="store_true", help="metres as well")
        kind.add_argument("--json", action="store_true", help="answer with one JSON object")
