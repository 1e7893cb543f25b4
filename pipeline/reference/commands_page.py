"""commands.md: every command with its arguments, from the command line's own parsers."""

from __future__ import annotations

import argparse

from pipeline.cli import EXITS, CommandParser, build_parsers
from pipeline.reference.markdown import format_table


def build_page() -> str:
    """Return the page."""
    parts = [f"# Commands\n\n{EXITS[:1].upper()}{EXITS[1:]}.\n"]
    for name, parser in build_parsers()[1].items():
        named = [a for a in parser.arguments if a.option_strings and "--help" not in a.option_strings]
        said = f"## plaques {name}\n\n`{_format_usage(name, parser)}`: {(parser.description or '').rstrip('.')}.\n"
        rows = [(f"`{_describe_action(a)}`", a.help or "") for a in [*_list_positionals(parser), *named]]
        parts.append(f"{said}\n{format_table(('argument', 'does'), rows)}")
    return "\n".join(parts)


def _list_positionals(parser: CommandParser) -> list[argparse.Action]:
    return [action for action in parser.arguments if not action.option_strings]


def _format_usage(name: str, parser: CommandParser) -> str:
    words = []
    for action in _list_positionals(parser):
        shown = str(action.metavar)
        words.append({"*": f"[{shown} …]", "+": f"{shown} …", "?": f"[{shown}]"}.get(str(action.nargs), shown))
    return " ".join(["plaques", name, *words])


def _describe_action(action: argparse.Action) -> str:
    if not action.option_strings:
        return str(action.metavar)
    shown = ", ".join(action.option_strings)
    return f"{shown} {action.metavar}" if action.metavar else shown
