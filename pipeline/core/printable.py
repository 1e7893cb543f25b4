"""Makes text from files safe to show on a terminal, on paper or in a table.

A terminal obeys control characters, paper and tables hide them, and a direction override makes a text read differently
from how it is written. Each becomes a visible mark. Letters of every alphabet stay as they are.
"""

from __future__ import annotations

import json
import re
from typing import Any

_SAFE_ASCII = re.compile(r"[\n\t -~]*")
_HARMFUL = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f"  # C0 and C1 controls: terminals obey them
    "\u00ad\u200b\u200e\u200f\u061c\u2028\u2029\u202a-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb"  # invisible, bidi
    "\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff\U000e0000-\U000e007f]"  # surrogates, noncharacters, tag characters
)
"""General categories Cc, Cs, noncharacters, and of Cf what no spelling needs: U+200C and U+200D stay, which Persian,
Indic and other scripts are written with (Unicode core specification, 23.2), as do U+0600 to U+0605 and their like,
which have ink."""
_LINES = {"\t": "\u2409", "\n": "\u240a"}

_RIGHT_TO_LEFT = "\u0590-\u05ff\u0600-\u08ff\ufb1d-\ufdfb\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff"
_RUN = re.compile(f"[{_RIGHT_TO_LEFT}](?:[^\n]*[{_RIGHT_TO_LEFT}])?[\u0300-\u036f]*")
_PARTS = re.compile(r"[^\n“”‘’«»()\[\]{}<>|:;/\\]+")
FSI, PDI = "\u2068", "\u2069"
"""First strong isolate, pop directional isolate (UAX #9): what stands between them is laid out by itself."""


def _choose_stand_in(found: re.Match[str]) -> str:
    """A control picture of Unicode's block for C0 controls and delete, the replacement character for the others."""
    code = ord(found[0])
    if code < 0x20:
        return chr(0x2400 + code)
    return "\u2421" if code == 0x7F else "\ufffd"


def make_printable(text: str) -> str:
    """The text with a visible mark in place of each character that a terminal obeys or that turns a text round.

    Line ends and tabs stay: they are ours as often as a file's. CR LF is a line end.
    """
    if _SAFE_ASCII.fullmatch(text):
        return text
    return _HARMFUL.sub(_choose_stand_in, text.replace("\r\n", "\n"))


def put_in_one_line(text: str) -> str:
    """Make it printable with marks for line ends and tabs too: for a file's own text inside one of our sentences."""
    return make_printable(text).translate({ord(c): mark for c, mark in _LINES.items()})


def format_for_terminal(text: str) -> str:
    """Make a text printable, and isolate every run of right-to-left letters, so that it doesn't reorder the figures and
    marks beside it."""
    text = make_printable(text)
    return text if text.isascii() else _PARTS.sub(lambda part: _RUN.sub(_isolate_direction, part[0]), text)


def _isolate_direction(found: re.Match[str]) -> str:
    return f"{FSI}{found[0]}{PDI}"


class JsonText(str):
    """A JSON document: for programs, and harmless as it is."""

    __slots__ = ()


def write_json_text(value: Any, **how: Any) -> JsonText:
    """The JSON of a value, letters as they are; what would do harm to a terminal is spelled \\uXXXX, which every reader
    of JSON turns back. how: as `json.dumps` takes it."""
    return JsonText(escape_json(json.dumps(value, ensure_ascii=False, **how)))


def escape_json(document: str) -> str:
    """A JSON document with what would do harm to a terminal spelled \\uXXXX."""
    return document if document.isascii() and "\x7f" not in document else _HARMFUL.sub(_escape_text, document)


def _escape_text(found: re.Match[str]) -> str:
    return json.dumps(found[0])[1:-1]
