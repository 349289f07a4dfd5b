"""The command line: `coach chat | web | telegram | talk | picture | card | log | drill | read | figure
| rules | doctor | config | completion`.

Only argparse is imported before it is known what to do, so that help and errors come at once.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from coach.front.guide import ABOUT, COMPLETING, ENDING, NAME_LIMIT, Helped

FRONTS = {
    "chat": "terminal",
    "web": "web",
    "telegram": "telegram",
    "talk": "talk",
    "read": "reading",
    "rules": "rules",
    "doctor": "doctor",
    "picture": "picture",
    "card": "card",
    "log": "log",
    "config": "config",
    "completion": "completion",
    "drill": "drill",
}
"""The module of `coach.front` behind each command; its `serve` takes the command's options."""

RULES_HELP = "a folder of rules to use instead of the shipped ones"
STORE_HELP = "the SQLite file (default: in the user's data folder; ':memory:' keeps nothing)"


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code: 0, 1 if it could not be done, 2 if it was not understood."""
    given = list(sys.argv[1:] if argv is None else argv)
    if given[:1] == ["figure"]:  # the calculators have a command line of their own
        return int(importlib.import_module("coach.figures.command").run(given[1:]))
    parser = _parser()
    options = vars(parser.parse_args(given))
    command = options.pop("command")
    if options.pop("version"):
        print("coach", _version())
    elif command is None:
        parser.print_help()
    else:
        return _served(command, options)
    return 0


def _served(command: str, options: dict[str, Any]) -> int:
    """Run a command; whatever cannot be used for it is a line, or a line for each fault."""
    try:
        front = importlib.import_module(f"coach.front.{FRONTS[command]}")
        if command == "doctor":  # must run where the next import fails
            return int(front.serve(**options))
        if command == "completion":
            return int(front.serve(_parser(), **options))
        return int(front.serve(**_settled(command, options)))
    except KeyboardInterrupt:
        return 130
    except OSError as reason:  # the settings, the store or a file cannot be used
        print(reason, file=sys.stderr)
    except ValueError as reason:
        from coach.consult import UNUSABLE  # noqa: PLC0415  (heavy)

        if not isinstance(reason, UNUSABLE):
            raise
        print(reason, file=sys.stderr)
    return 1


def _settled(command: str, options: dict[str, Any]) -> dict[str, Any]:
    """The options, with what was not given taken from the settings. Raises SettingsFault."""
    from coach.front.settings import filled, read  # noqa: PLC0415  (not for help)

    if command == "config":
        return options
    if command == "chat":
        options["insists"] = options["units"] is not None
    if command in ("picture", "card", "log"):
        options["units"] = None
    return filled(options, read(os.environ))


def _version() -> str:
    from importlib import metadata  # noqa: PLC0415  (slow)

    try:
        return metadata.version("lampcoach")
    except metadata.PackageNotFoundError:
        return "(not installed: run from its folder)"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="coach", description=ABOUT, epilog=ENDING, formatter_class=Helped, allow_abbrev=False
    )
    parser.add_argument("--version", action="store_true", help="print the version and leave")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    _add_chats(commands)
    _add_pages(commands)
    _add_tools(commands)
    return parser


def _add_chats(commands: Any) -> None:
    chat = _command(commands, "chat", "talk with the coach in this terminal")
    _add_settings(chat)
    folder = "draw each verdict into this folder, as PNG"
    chat.add_argument("--picture", type=Path, metavar="FOLDER", help=folder)
    web = _command(commands, "web", "the same in a browser, on this machine")
    web.add_argument("--host", default="127.0.0.1", help="where to listen (default: this machine only)")
    web.add_argument("--port", type=int, default=8321, help="where to listen (default: 8321)")
    web.add_argument("--origin", metavar="URL", help="how browsers call it, if a proxy stands before it")
    talk = _command(commands, "talk", "the same for programs: JSON lines in, JSON lines out")
    bot = _command(commands, "telegram", "run the coach as a Telegram bot")
    bot.add_argument("--config", type=Path, metavar="FILE", help="the bot's settings, as TOML")
    for command in (chat, web, talk, bot):
        _add_store(command)
        _add_rules(command)


def _add_settings(command: argparse.ArgumentParser) -> None:
    """What of the settings concerns the terminal. No defaults here: they come from coach.front.settings."""
    add = command.add_argument
    add("--chat", type=_name, metavar="NAME", help="which chat to go on with (default: me)")
    add("--units", choices=("us", "metric"), help="feet and °F (default), or metres and °C")
    add("--colour", "--color", choices=("auto", "always", "never"), help="default: auto; NO_COLOR is heeded")
    add("--theme", choices=("dim", "light"), help="dim spares night vision (default)")
    keep = "whether the arrow keys bring back what was typed (default: they do)"
    add("--history", action=argparse.BooleanOptionalAction, help=keep)
    lines = "lines only, for screen readers and slow links"
    add("--plain", action="store_true", default=None, help=lines)


def _add_pages(commands: Any) -> None:
    picture = _command(commands, "picture", "the set as a picture, with the same in words")
    picture.add_argument(
        "kind", nargs="?", choices=("plan", "side", "tide", "counts"), help="which (default: the best)"
    )
    _add_picture(picture)
    card = _command(commands, "card", "tonight's card: one page that needs no signal")
    card.add_argument("--out", action="append", type=Path, metavar="FILE", help=".html, .pdf, .txt or .ics")
    card.add_argument("--paper", choices=("a4", "letter"), help="of the PDF (default: a4)")
    card.add_argument("--place", metavar="NAME", help="what stands on the card")
    card.add_argument("--limits", type=Path, metavar="FILE", help="your limits sheet, as TOML")
    card.add_argument("--new-limits", type=Path, metavar="FILE", help="write an empty limits sheet and leave")
    for command in (picture, card):
        _add_chat(command)
        command.add_argument("--facts", nargs="+", metavar="NAME=VALUE", help="what else is known")
        command.add_argument("--fresh", action="store_true", help="leave out what the chat knows")
        command.add_argument("--at", metavar="TIME", help="the time to draw for (default: now)")
        command.add_argument("--metric", action="store_true", help="metres instead of feet")
    _add_log(commands)
    _add_drill(commands)


def _add_drill(commands: Any) -> None:
    drill = _command(commands, "drill", "learn the trade: a few questions a day, role play, progress")
    _add_learner(drill, "me", None)
    actions = drill.add_subparsers(dest="action", metavar="ACTION")
    for name, says in {
        "lesson": "today's questions (the same as without an action)",
        "play": "you coach a boater, then see where the coach would have asked otherwise",
        "trips": "your own trips: what you thought it was, what it was",
        "progress": "what is mastered and what is shaky",
        "sheet": "the sheet for the rail, with what the captain signs",
        "sign": "a captain signs what a learner can do",
        "group": "a line a learner, for the captain",
        "export": "every answer as CSV",
        "forget": "erase a learner",
    }.items():
        action = _command(actions, name, says)
        _add_learner(action, argparse.SUPPRESS, argparse.SUPPRESS)
        _add_drill_options(name, action)


def _add_learner(command: argparse.ArgumentParser, name: Any, kept: Any) -> None:
    command.add_argument("--learner", default=name, metavar="NAME", help="who learns (default: me)")
    command.add_argument("--store", default=kept, metavar="PATH", help=STORE_HELP)
    command.add_argument("--rules", type=Path, default=kept, metavar="FOLDER", help=RULES_HELP)
    command.add_argument("--at", default=kept, metavar="TIME", help="the time to use (default: now)")
    command.add_argument("--json", action="store_true", default=kept or False, help="for programs")
    command.add_argument("--picture", type=Path, default=kept, metavar="PATH", help="write pictures there")


def _add_drill_options(name: str, action: argparse.ArgumentParser) -> None:
    if name == "progress":
        action.add_argument("--theme", choices=("dim", "light"), help="dim spares night vision (default)")
    elif name == "sheet":
        action.add_argument("--out", action="append", type=Path, metavar="FILE", help=".html, .pdf or .txt")
        action.add_argument("--paper", choices=("a4", "letter"), help="of the PDF (default: a4)")
    elif name == "sign":
        action.add_argument("topics", nargs="+", metavar="TOPIC", help="topics by id or title")
        action.add_argument("--by", default="", metavar="CAPTAIN", help="who signs")
        action.add_argument("--back", action="store_true", help="take the signature back")
    elif name == "export":
        action.add_argument("--all", action="store_true", help="of all learners")
        action.add_argument(
            "--out", dest="file", type=Path, metavar="FILE", help="instead of standard output"
        )


def _add_log(commands: Any) -> None:
    log = _command(commands, "log", "your trips: list, show, plot, compare, export")
    _add_chat(log)
    actions = log.add_subparsers(dest="action", metavar="ACTION")
    for name, says in {
        "list": "one line a trip",
        "show": "a trip in words, ending in one thing to do differently",
        "plot": "the counts of a trip",
        "across": "catch per lamp-hour over all trips",
        "advice": "which advice worked",
        "place": "name the place of a trip; degrees are rounded",
        "export": "all trips as CSV, JSON or a calendar",
        "import": "bring a JSON export back; what was forgotten stays so",
    }.items():
        action = _command(actions, name, says)
        _add_chat(action, default=argparse.SUPPRESS)
        if name in ("show", "plot"):
            action.add_argument(
                "trip", nargs="?", type=int, metavar="N", help="its number (default: the latest)"
            )
        if name in ("list", "show", "across", "advice"):
            action.add_argument("--json", action="store_true", help="for programs")
        if name in ("show", "plot", "export"):
            action.add_argument("--metric", action="store_true", help="metres instead of feet")
        _add_log_options(name, action)


def _add_log_options(name: str, action: argparse.ArgumentParser) -> None:
    if name == "plot":
        _add_picture(action)
    elif name == "across":
        action.add_argument("--by", choices=("tide", "moon", "set", "place"), help="only by this")
    elif name == "advice":
        action.add_argument("--every-chat", action="store_true", help="of all chats in the store together")
    elif name == "place":
        action.add_argument("name", nargs="*", metavar="NAME", help="how you call it")
        action.add_argument("--lat", type=float, metavar="DEGREES", help="north")
        action.add_argument("--lon", type=float, metavar="DEGREES", help="east; west is negative")
        action.add_argument("--at", metavar="TIME", help="from when on (default: now)")
        action.add_argument("--trip", type=int, metavar="N", help="the place of that trip")
    elif name == "import":
        action.add_argument("file", type=Path, metavar="FILE", help="a log exported as JSON")
    elif name == "export":
        action.add_argument("--format", required=True, choices=("csv", "json", "ics"))
        action.add_argument("--out", type=Path, metavar="FILE", help="instead of standard output")


def _add_picture(command: argparse.ArgumentParser) -> None:
    command.add_argument("--picture", type=Path, metavar="FILE", help="write it there, .svg or .png")
    command.add_argument("--theme", choices=("dim", "light"), help="dim spares night vision (default)")


def _add_chat(command: argparse.ArgumentParser, *, default: Any = None) -> None:
    command.add_argument(
        "--chat", type=_name, default=default, metavar="NAME", help="which chat (default: me)"
    )
    command.add_argument("--store", default=default, metavar="PATH", help=STORE_HELP)
    command.add_argument("--rules", type=Path, default=default, metavar="FOLDER", help=RULES_HELP)


def _add_tools(commands: Any) -> None:
    _command(commands, "figure", "the calculators alone: coach figure --help")
    _add_rules(_command(commands, "read", "what is understood of words: JSON lines in and out"))
    rules = _command(commands, "rules", "check a folder of rules, or try them on some facts")
    actions = rules.add_subparsers(dest="action", required=True, metavar="ACTION")
    check = _command(actions, "check", "name every fault in the rules")
    check.add_argument("rules", nargs="?", type=Path, metavar="FOLDER", help=RULES_HELP)
    trial = _command(actions, "try", "show which rules fire on the facts given, and why")
    trial.add_argument("--facts", nargs="+", required=True, metavar="NAME=VALUE", help="what is known")
    _add_rules(trial)
    config = _command(commands, "config", "what holds of the settings, and where each comes from")
    config.add_argument("--new", action="store_true", help="write a settings file to fill in")
    _add_settings(config)
    completion = _command(commands, "completion", "a script that lets the Tab key complete commands")
    completion.epilog = COMPLETING
    completion.add_argument(
        "shell", choices=("bash", "zsh", "fish"), metavar="SHELL", help="bash, zsh or fish"
    )
    doctor = _command(commands, "doctor", "check this installation and say what to do")
    for command in (config, doctor):
        _add_store(command)
        _add_rules(command)


def _command(commands: Any, name: str, says: str) -> argparse.ArgumentParser:
    """A command with its help; options must be written out, so that a new one breaks no script."""
    parser: argparse.ArgumentParser = commands.add_parser(
        name, help=says, description=_sentence(says), formatter_class=Helped, allow_abbrev=False
    )
    return parser


def _name(text: str) -> str:
    """A chat's name. Raises ArgumentTypeError."""
    if not text.strip() or len(text) > NAME_LIMIT or not text.isprintable():
        raise argparse.ArgumentTypeError(f"got {ascii(text)[:60]}; allowed 1 to {NAME_LIMIT} characters")
    return text


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _add_store(command: argparse.ArgumentParser) -> None:
    command.add_argument("--store", metavar="PATH", help=STORE_HELP)


def _add_rules(command: argparse.ArgumentParser) -> None:
    command.add_argument("--rules", type=Path, metavar="FOLDER", help=RULES_HELP)


if __name__ == "__main__":
    sys.exit(main())
