"""What `coach --help` teaches, and how help is broken into lines at any width. Imports nothing heavy."""

from __future__ import annotations

import argparse
import re
import textwrap

NAME_LIMIT = 128
"""So many characters a chat's name may have, as in the programs' interface."""
TWO_COLUMNS = 50
"""From this width on what a word does stands beside it, below that under it."""
_SHORT = 8
_GAP = re.compile(r"(?<=\S)(\s{2,})(?=\S)")

ABOUT = """\
A coach by chat for dipping shrimp at night under lamps from an anchored boat.
It asks a few short questions, then says what is wrong, what to do, and why.

Type this first:
  coach chat
and then what you see, in your own words, such as
  was good till nine then it faded
Answer what it asks with a digit or in words. 'why' says why it asks, 'bye' leaves \
(the chat is kept and goes on next time), 'help' lists all else that you can type.
"""
ENDING = """\
Examples:
  coach chat --units metric          metres and °C
  coach picture plan                 your set, drawn from above and told in words
  coach card --out tonight.pdf       one page that needs no signal
  coach figure clip --depth-ft 11    how high a lamp is clipped in 11 ft of water
  coach config                       what is set, and where; --new to set it
  coach doctor                       when something does not work

Each command has its own help, such as: coach chat --help

Exit codes:
  0    all went well
  1    the store, the rules or the settings cannot be used, or nobody reads on
  2    the command line was not understood
  130  left by Ctrl-C; the chat is kept
"""
COMPLETING = """\
Put the script where your shell looks for it, bash:
  coach completion bash > ~/.local/share/bash-completion/completions/coach
(without the package bash-completion: source <(coach completion bash)), zsh:
  coach completion zsh > ~/.zfunc/_coach
(with fpath+=(~/.zfunc) before compinit in ~/.zshrc), fish:
  coach completion fish > ~/.config/fish/completions/coach.fish
"""


def helped(line: str, width: int) -> str:
    """A line of help: a word and, after two blanks or more, what it does. Further lines stand under that."""
    indent = len(line) - len(line.lstrip())
    gap = _GAP.search(line)
    if len(line) <= width or not line.strip():
        return line
    if gap is None:
        return _filled(line.strip(), width, indent, indent)
    if width >= TWO_COLUMNS or gap.end() <= _SHORT:
        return _filled(line.strip(), width, indent, gap.end())
    word, does = line[: gap.start()].strip(), line[gap.end() :]
    return f"{_filled(word, width, indent, indent)}\n{_filled(does, width, indent + 2, indent + 2)}"


def _filled(text: str, width: int, first: int, later: int) -> str:
    return textwrap.fill(
        text, width, initial_indent=" " * first, subsequent_indent=" " * later, break_on_hyphens=False
    )


class Helped(argparse.HelpFormatter):
    """Help in which lines stay lines; what is too wide for the terminal is broken at its words."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=24)

    def add_argument(self, action: argparse.Action) -> None:
        """Leave room for the names of commands too, which stand further in."""
        super().add_argument(action)
        for each in self._iter_indented_subactions(action):
            length = len(self._format_action_invocation(each)) + self._current_indent
            self._action_max_length = max(self._action_max_length, length)

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        return "\n".join(indent + helped(line, width - len(indent)) for line in text.splitlines())
