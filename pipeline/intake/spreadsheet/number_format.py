"""Display of a number or a date by the cell's number format.

Only formats with a certain result are applied (ECMA-376 part 1, 18.8.30 and 18.8.31); otherwise the value is shown
plainly and marked as unsure.
"""

from __future__ import annotations

import datetime as dt
import re
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

Token = tuple[str, str]  # "digits" "date" "literal" "am/pm" "elapsed"

_TOKEN = re.compile(
    r'"(?P<quoted>[^"]*)"'
    r"|\\(?P<escaped>.)"
    r"|_(?P<space>.)"
    r"|\*(?P<fill>.)"
    r"|\[\$(?P<currency>[^\]-]*)(?:-[^\]]*)?\]"
    r"|\[(?P<elapsed>h+|m+|s+)\]"
    r"|\[(?P<bracket>[^\]]*)\]"
    r"|(?P<ampm>AM/PM|A/P)"
    r"|(?P<date>y+|m+|d+|h+|s+(?:\.0+)?)"
    r"|(?P<digits>[0#?][0#?,.]*|\.[0#?]+)"
    r"|(?P<general>General)"
    r"|(?P<plain>[-+$() :/%.,£€¥'!^&~{}<>=]|[^\x00-\x7f])",
    re.I,
)

_MONTHS = (
    "January February March April May June July August September October November December"
).split()  # fmt: skip
_DAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()

_LOCAL = ("mm-dd-yy", "m/d/yy h:mm", "[$-F800]", "[$-F400]")
"""Formats that depend on the computer's locale (built-in 14 and 22, and the system's long forms)."""


def format_value(value: object, number_format: str | None) -> tuple[str, bool]:
    """Return the text that a sheet shows, and whether it is certain."""
    code = number_format or "General"
    if isinstance(value, bool):
        return ("TRUE" if value else "FALSE"), True
    if isinstance(value, int | float):
        return _format_number(value, code)
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return _format_date(value, code)
    if isinstance(value, dt.timedelta):
        seconds = round(value.total_seconds())
        return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}", False
    return str(value), False


def format_general(value: float) -> tuple[str, bool]:
    """Apply the General format: whole numbers as they are, others to eleven characters."""
    if isinstance(value, int) or value == int(value):
        whole = int(value)
        return str(whole), abs(whole) < 10**11
    text = f"{value:.10g}"
    return (text, "e" not in text)


@lru_cache(maxsize=512)
def _tokenise(section: str) -> tuple[Token, ...] | None:
    """Split one section of a format into its parts; None when something in it isn't understood."""
    out: list[Token] = []
    at = 0
    while at < len(section):
        found = _TOKEN.match(section, at)
        if not found:
            return None
        at = found.end()
        kind, text = found.lastgroup or "", found[found.lastgroup or 0] or ""
        if kind in ("quoted", "escaped", "plain", "currency"):
            out.append(("percent" if kind == "plain" and text == "%" else "literal", text))
        elif kind == "space":
            out.append(("literal", " "))
        elif kind == "fill":
            return None
        elif kind == "bracket":
            if not re.fullmatch(r"black|blue|cyan|green|magenta|red|white|yellow|color ?\d+", text, re.I):
                return None  # conditions
        else:
            out.append((kind, text))
    return tuple(out)


def _format_number(value: float, code: str) -> tuple[str, bool]:
    if code == "General":
        return format_general(value)
    if code == "@":
        return format_general(value)
    sections = code.split(";")
    section = sections[0]
    if value < 0 and len(sections) > 1 and sections[1]:
        section, value = sections[1], -value
    elif value == 0 and len(sections) > 2 and sections[2]:
        section = sections[2]
    tokens = _tokenise(section)
    if tokens is None or any(kind in ("date", "elapsed", "ampm") for kind, _ in tokens):
        return format_general(value)[0], False
    digits = [text for kind, text in tokens if kind in ("digits", "general")]
    if len(digits) > 1:
        return _format_groups(value, tokens)
    if any(kind == "percent" for kind, _ in tokens):
        value *= 100
    out = ""
    for kind, text in tokens:
        if kind == "digits":
            out += _format_digits(abs(value), text)
        elif kind == "general":
            out += format_general(abs(value))[0]
        else:
            out += text
    return ("-" if value < 0 else "") + out.strip(), True


def _format_digits(value: float, mask: str) -> str:
    """Format a value by a mask such as `#,##0.00` or `0000`."""
    whole_mask, _, part_mask = mask.partition(".")
    scale = len(whole_mask) - len(whole_mask.rstrip(","))
    number = Decimal(repr(value)) / (1000**scale)
    rounded = number.quantize(Decimal(1).scaleb(-len(part_mask)), ROUND_HALF_UP)
    whole, _, part = f"{rounded:f}".partition(".")
    least = len(re.sub(r"[^0]", "", whole_mask))
    whole = whole.lstrip("0").rjust(least, "0")
    if "," in whole_mask.rstrip(","):
        whole = re.sub(r"(?<=\d)(?=(?:\d{3})+$)", ",", whole)
    keep = len(part_mask.rstrip("#?"))
    while len(part) > keep and part.endswith("0"):
        part = part[:-1]
    return whole + ("." + part if part_mask else "")


def _format_groups(value: float, tokens: tuple[Token, ...]) -> tuple[str, bool]:
    """Format a value by a mask of several groups, such as telephone numbers: digits are filled in from the right."""
    masks = [text for kind, text in tokens if kind == "digits"]
    if value != int(value) or any(set(mask) - {"0"} for mask in masks):
        return format_general(value)[0], False
    digits = str(abs(int(value))).rjust(sum(map(len, masks)), "0")
    if len(digits) > sum(map(len, masks)):
        return format_general(value)[0], False
    out = ""
    for kind, text in tokens:
        if kind == "digits":
            out, digits = out + digits[: len(text)], digits[len(text) :]
        else:
            out += text
    return ("-" if value < 0 else "") + out, True


def _format_date(value: dt.datetime | dt.date | dt.time, code: str) -> tuple[str, bool]:
    section = code.split(";", maxsplit=1)[0]
    if any(mark in code for mark in _LOCAL):
        return format_date(value), False
    tokens = _tokenise(section)
    if tokens is None or any(kind in ("digits", "elapsed", "general", "percent") for kind, _ in tokens):
        return format_date(value), False
    twelve = any(kind == "ampm" for kind, _ in tokens)
    out, before = "", ""
    for i, (kind, text) in enumerate(tokens):
        if kind == "date":
            after = next((t.lower() for k, t in tokens[i + 1 :] if k == "date"), "")
            minutes = text.lower() in ("m", "mm") and (before.startswith("h") or after.startswith("s"))
            piece = _format_date_part(value, text.lower(), minutes, twelve)
            if piece is None:
                return format_date(value), False
            out, before = out + piece, text.lower()
        elif kind == "ampm":
            hour = getattr(value, "hour", 0)
            out += ("PM" if hour >= 12 else "AM") if len(text) > 3 else ("P" if hour >= 12 else "A")
        else:
            out += text
    return out.strip(), True


def _format_date_part(value: dt.datetime | dt.date | dt.time, part: str, minutes: bool, twelve: bool) -> str | None:
    letter, long = part[0], len(part)
    if letter in "hs" or minutes:
        if not isinstance(value, dt.datetime | dt.time) or "." in part:
            return None
        number = {"h": value.hour, "s": value.second, "m": value.minute}[letter]
        if letter == "h" and twelve:
            number = (number - 1) % 12 + 1
        return f"{number:02d}" if long > 1 else str(number)
    if not isinstance(value, dt.date):
        return None
    if letter == "y":
        return f"{value.year % 100:02d}" if long <= 2 else f"{value.year:04d}"
    if letter == "m":
        name = _MONTHS[value.month - 1]
        return (str(value.month), f"{value.month:02d}", name[:3], name, name[0])[min(long, 5) - 1]
    name = _DAYS[value.weekday()]
    return (str(value.day), f"{value.day:02d}", name[:3], name)[min(long, 4) - 1]


def format_date(value: dt.datetime | dt.date | dt.time) -> str:
    """Format a date in words, where the sheet's own format is unknown."""
    if isinstance(value, dt.time):
        return value.isoformat("minutes")
    text = f"{value.day} {_MONTHS[value.month - 1]} {value.year}"
    if isinstance(value, dt.datetime) and (value.hour, value.minute) != (0, 0):
        text += f", {value.hour}:{value.minute:02d}"
    return text
