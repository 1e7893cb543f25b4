"""Commands that the tool prints for the user to type: arguments quoted for the shell they are typed in."""

from __future__ import annotations

import os
import re
import shlex
from pathlib import Path

_PLAIN = re.compile(r"[A-Za-z0-9_./\\:=+%^-]+")
"""What neither PowerShell nor the command prompt reads as more than itself; `@`, `,`, `~`, `!` and the like it does."""
_APOSTROPHES = re.compile("['\u2018\u2019\u201a\u201b]")
"""PowerShell ends a string at each of these (its language specification, 2.3.5.2, single-quote characters)."""


def format_argument(text: str, system: str = os.name) -> str:
    """Write one argument of a printed command, in apostrophes where the shell would read more in it. system: `nt` for
    PowerShell, anything else for a POSIX shell."""
    if system != "nt":
        return shlex.quote(text)
    return text if _PLAIN.fullmatch(text) else f"'{_APOSTROPHES.sub(lambda mark: mark[0] * 2, text)}'"


def format_command(*words: str | Path, system: str = os.name) -> str:
    """Write a command with its arguments. A path that begins with a hyphen is written so that no option is read in
    it."""
    told = (f".{os.sep}{word}" if isinstance(word, Path) and str(word).startswith("-") else str(word) for word in words)
    return " ".join(format_argument(word, system) for word in told)
