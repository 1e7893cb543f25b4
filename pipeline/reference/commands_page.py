"""commands.md: every command with its arguments, from the command line's own parsers."""

from __future__ import annotations

import argparse

from pipeline.cli import EXITS, CommandParser, build_parsers
from pipeline.reference.markdown import table


def page() -> str:
    """Return the page."""
    parts = [f"# Commands\n\n{EXITS[:1].upper()}{EXITS[1:]}.\n"]
    for name, parser in build_parsers()[1].items():
        named = [a for a in parser.arguments if a.option_strings and "--help" not in a.option_strings]
        said = f"## plaques {name}\n\n`{_usage(name, parser)}`: {(parser.description or '').rstrip('.')}.\n"
        rows = [(f"`{_words(a)}`", a.help or "") for a in [*_placed(parser), *named]]
        parts.append(f"{said}\n{table(('argument', 'does'), rows)}")
    return "\n".join(parts)


def _placed(parser: CommandParser) -> list[argparse.Action]:
    return [action for action in parser.arguments if not action.option_strings]


def _usage(name: str, parser: CommandParser) -> str:
    words = []
    for action in _placed(parser):
        shown = str(action.metavar)
        words.append({"*": f"[{shown} …]", "+": f"{shown} …", "?": f"[{shown}]"}.get(str(action.nargs), shown))
    return " ".join(["plaques", name, *words])


def _words(action: argparse.Action) -> str:
    if not action.option_strings:
        return str(action.metavar)
    shown = ", ".join(action.option_strings)
    return f"{shown} {action.metavar}" if action.metavar else shown
