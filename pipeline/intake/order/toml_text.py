"""Reading a TOML file that somebody wrote: an order, a shop file. Faults of other or endless files name the file. Texts
are written as TOML here too."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.files import read_plain, require_plain_file
from pipeline.intake.order.error_messages import build_toml_fault

MOST_BYTES = 2**20
"""Most bytes of an order file; one that settles thousands of questions has a tenth of this."""
DEEPEST = 16
"""Most nested tables and lists; the deepest key of an order has six."""


def encode_toml(file: Path, what: str, found: str) -> bytes:
    """The bytes of a plain file of bounded size. CannotRun when it is none. what: it in words, `an order file`; found:
    what is expected where it lies, `an order folder, or its order.toml`."""
    require_plain_file(file, found)
    try:
        if (size := file.stat().st_size) > MOST_BYTES:
            raise CannotRun(
                Fault(
                    where=str(file),
                    found=f"the file has {size / MOST_BYTES:.1f} MB",
                    expected=f"{what} of at most {MOST_BYTES // 2**20} MB",
                )
            )
        return read_plain(file)
    except OSError as error:
        raise CannotRun(
            Fault(where=str(file), found=f"cannot be read ({error.strerror or error})", remedy="check its permissions")
        ) from None


def decode_toml(file: Path, data: bytes) -> str:
    """Decode TOML, which is UTF-8; a byte order mark is tolerated."""
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        raise CannotRun(
            Fault(
                where=f"{file} line {row}",
                found=f"a byte {data[error.start]:#04x} that is not UTF-8",
                expected="a text file in UTF-8",
                remedy="open it in a text editor and save it with the encoding UTF-8",
            )
        ) from None


def parse_toml(file: Path, text: str, what: str) -> dict[str, Any]:
    """Parse the file's tables. CannotRun when it isn't TOML, or when its nesting or its numbers are without end."""
    too_deep = Fault(
        where=str(file),
        found=f"tables or lists are nested more than {DEEPEST} deep",
        expected=what,
        remedy="look for brackets that are opened again and again",
    )
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CannotRun(build_toml_fault(file, text, error)) from None
    except RecursionError:
        raise CannotRun(too_deep) from None
    except ValueError:  # Python refuses whole numbers of more than 4,300 digits
        raise CannotRun(
            Fault(where=str(file), found="a number has thousands of digits, or a date is invalid", expected="a number")
        ) from None
    level: list[Any] = [raw]
    for _ in range(DEEPEST):
        level = [
            inner
            for value in level
            for inner in (value.values() if isinstance(value, dict) else value)
            if isinstance(inner, dict | list)
        ]
    if level:
        raise CannotRun(too_deep)
    return raw


def format_toml(value: str | Sequence[str]) -> str:
    """Return a text, or a list of texts, in TOML; a list of one is written as its text."""
    if not isinstance(value, str):
        return format_toml(value[0]) if len(value) == 1 else "[" + ", ".join(map(format_toml, value)) + "]"
    out = ""
    for c in value:
        if c in '"\\':
            out += "\\" + c
        elif c < " " or c == "\x7f":
            out += f"\\u{ord(c):04X}"
        elif "\ud800" <= c <= "\udfff":
            out += "\\uFFFD"
        else:
            out += c
    return f'"{out}"'


def format_key(key: str) -> str:
    """Return a key in TOML: bare where allowed, else quoted."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else format_toml(key)


def format_value(value: str | Mapping[str, str]) -> str:
    """Return a text, or texts by key, in TOML."""
    if isinstance(value, str):
        return format_toml(value)
    return "{ " + ", ".join(f"{format_key(key)} = {format_toml(text)}" for key, text in value.items()) + " }"
