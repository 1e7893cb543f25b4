"""Faults of an order file, in words a maker understands.

*Place*: a key of the file as a tuple, `("line", 1, "cap_height")`: the second [[line]]'s cap height, counted from 0.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError

from pipeline.core.config.order import Order
from pipeline.core.errors import Fault

Place = tuple[str | int, ...]


def find_nearest_name(word: str, known: Iterable[str]) -> str:
    """Return the most similar known word, as a remedy; the whole list when none is similar and the list is short; or
    ""."""
    words = list(dict.fromkeys(known))
    folded = {w.casefold(): w for w in words}
    near = get_close_matches(word.casefold(), folded, 1, 0.6)
    if near:
        return f"did you mean “{folded[near[0]]}”?"
    return f"known here: {', '.join(words)}" if 0 < len(words) <= 20 else ""


def describe_unknown_column(name: str) -> str:
    """Say that a field in braces names no column of the list."""
    return f"“{{{name}}}” is not one of the columns"


# --- where a key stands ------------------------------------------------------------------------------------------

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]")
_KEY = re.compile(r"""^\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")


class KeyLines:
    """Finds the line of a key. TOML readers don't report it, so the text is scanned."""

    def __init__(self, text: str) -> None:
        self._line: dict[Place, int] = {}
        table: Place = ()
        counts: dict[str, int] = {}
        inside: str | None = None  # the quotes of the multi-line text we are in
        for number, line in enumerate(text.splitlines(), 1):
            if inside is None:
                if header := _HEADER.match(line):
                    table = _split_keys(header[2])
                    if header[1] == "[[":
                        counts[header[2]] = counts.get(header[2], -1) + 1
                        table = (*table, counts[header[2]])
                    self._line.setdefault(table, number)
                elif key := _KEY.match(line):
                    self._line.setdefault((*table, *_split_keys(key[1])), number)
            for quotes in ('"""', "'''"):
                if inside in (None, quotes) and line.count(quotes) % 2:
                    inside = None if inside else quotes

    def find(self, place: Place) -> int | None:
        """Return the line of the key or, if it isn't found, of the innermost table round it."""
        for end in range(len(place), 0, -1):
            if place[:end] in self._line:
                return self._line[place[:end]]
        return None


def _split_keys(dotted: str) -> Place:
    return tuple(part.strip().strip("\"'") for part in re.findall(r"""[\w-]+|"[^"]*"|'[^']*'""", dotted))


def spell_key(place: Place, model: type[BaseModel] = Order) -> str:
    """Spell out a place: `[[line]] no. 2, cap_height` · `[blank], layers.edge` · `title`. model: of the whole file."""
    if not place:
        return ""
    if len(place) > 1 and isinstance(place[1], int):
        table, rest = f"[[{place[0]}]] no. {place[1] + 1}", place[2:]
    elif list_known_keys(place[:1], model):
        table, rest = f"[{place[0]}]", place[1:]
    else:
        return _join_keys(place)
    return f"{table}, {_join_keys(rest)}" if rest else table


def _join_keys(place: Place) -> str:
    out = ""
    for part in place:
        out += f" no. {part + 1}" if isinstance(part, int) else ("." if out else "") + part
    return out


class FaultPlaces:
    """Locates faults: file, line, key."""

    def __init__(self, file: Path, text: str, model: type[BaseModel] = Order) -> None:
        """model: of the whole file, order or shop file."""
        self.file, self.model = file, model
        self._lines = KeyLines(text)
        self._line: dict[str, int] = {}

    def __call__(self, *place: str | int) -> str:
        line = self._lines.find(place)
        where = (
            f"{self.file}" + (f" line {line}" if line else "") + (f", {spell_key(place, self.model)}" if place else "")
        )
        self._line[where] = line or 0
        return where

    def find_line(self, where: str) -> int:
        """Return the line of a place spelled out earlier; 0 for a key missing from the file."""
        return self._line.get(where, 0)


# --- the models, asked for names -------------------------------------------------------------------------------


def _find_field(place: Place, model: type[BaseModel]) -> Any:
    """Find the model class of a table, or the annotation of a value; None when there is no such key."""
    here: Any = model
    for part in place:
        if isinstance(part, int):
            continue
        if not (isinstance(here, type) and issubclass(here, BaseModel)) or part not in here.model_fields:
            return None
        here = here.model_fields[part].annotation
        here = _find_model(here) or here
    return here


def _find_annotation(place: Place, model: type[BaseModel]) -> Any:
    """Find the annotation of a key in its model; None when there is no such key."""
    table = _find_field(place[:-1], model)
    if place and isinstance(table, type) and issubclass(table, BaseModel) and place[-1] in table.model_fields:
        return table.model_fields[str(place[-1])].annotation
    return None


def _find_model(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((m for arg in get_args(annotation) if (m := _find_model(arg))), None)


def list_known_keys(place: Place, model: type[BaseModel] = Order) -> list[str]:
    """List the keys that a table may have."""
    table = _find_field(place, model)
    return list(table.model_fields) if isinstance(table, type) and issubclass(table, BaseModel) else []


def _is_several(annotation: Any) -> bool:
    """Return whether a key holds an array of tables, written with two brackets."""
    return get_origin(annotation) is tuple and _find_model(annotation) is not None


def _list_homes(key: str, model: type[BaseModel]) -> list[str]:
    """List the tables that do have this key."""
    homes = []
    for name, field in model.model_fields.items():
        if key in list_known_keys((name,), model):
            homes.append(f"[[{name}]]" if _is_several(field.annotation) else f"[{name}]")
    return homes


# --- values in words -------------------------------------------------------------------------------------------


def show_value(value: Any) -> str:
    """Show a value of the file as a maker would say it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"the text “{value if len(value) <= 60 else value[:57] + '…'}”"
    if isinstance(value, int | float):
        said = str(value) if isinstance(value, float) or abs(value) < 10**20 else "of so many digits"
        return f"the number {said}"
    if isinstance(value, dt.date | dt.time):
        return f"the date or time {value}"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, Sequence):
        return f"a list of {len(value)}"
    return repr(value)


_EXPECTED = {
    "float_type": "a number, without quotes",
    "int_type": "a whole number, without quotes",
    "string_type": "text in quotes",
    "bool_type": "true or false, without quotes",
    "finite_number": "an ordinary number",
    "int_parsing_size": "a whole number of a few digits",
    "list_type": "a list in square brackets",
    "dict_type": "a table in braces, { key = value }",
    "model_type": "a table",
    "date_type": "a day without quotes, such as 2026-12-15",
}


def _describe_expected(error: Mapping[str, Any], place: Place, model: type[BaseModel]) -> str:
    kind, limits = error["type"], error.get("ctx", {})
    if place == ("list", "separator"):
        return 'one character in quotes, e.g. ";"'
    if kind == "string_too_long":
        return f"at most {limits['max_length']:,} characters"
    if kind in _EXPECTED:
        return _EXPECTED[kind]
    if kind == "literal_error":
        return "one of " + ", ".join(f'"{w}"' for w in re.findall(r"'([^']*)'", limits["expected"]))
    for name, words in (("gt", "above"), ("ge", "at least"), ("lt", "below"), ("le", "at most")):
        if name in limits:
            return f"a number {words} {limits[name]:,.6g}"
    if _is_several(_find_annotation(place, model)):
        return f"at least one table with two brackets, [[{'.'.join(map(str, place))}]]"
    if kind in ("too_long", "too_short", "tuple_type") or (kind == "missing" and isinstance(place[-1], int)):
        return "two numbers in square brackets, e.g. [10.0, 20.0]"
    return str(error["msg"]).lower()


def _describe_missing(place: Place, model: type[BaseModel]) -> str:
    annotation = _find_field(place, model)
    if _is_several(_find_annotation(place, model)):
        return f"at least one table with two brackets, [[{'.'.join(map(str, place))}]]"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return f"a table [{place[-1]}]"
    if annotation is int:
        return "a whole number"
    return "a number" if "float" in str(annotation) else "text in quotes"


def _explain_number(value: Any, unit: str) -> str:
    """Explain the fault of a text where a number belongs."""
    if not isinstance(value, str):
        return ""
    match = re.match(r"^\s*([+-]?\d+)(?:[.,](\d+))?\s*(mm|cm|in|inch|inches|\"|″)?\s*$", value)
    if not match:
        return ""
    number = match[1] + (f".{match[2]}" if match[2] else "")
    said = "inches" if unit == "in" else unit
    note = f"; every length in the file is in {said}, as `units` says" if match[3] else ""
    return f"write {number}{note}"


def list_validation_faults(error: ValidationError, places: FaultPlaces, unit: str) -> list[Fault]:
    """List every fault that pydantic found, each once, in the order of the file's models."""
    faults: dict[Place, Fault] = {}
    errors = error.errors(include_url=False)
    for e in errors:
        loc = tuple(part for part in e["loc"] if not _is_branch(part))
        value = e["input"]
        if e["type"] == "extra_forbidden":
            key = str(loc[-1])
            homes = _list_homes(key, places.model) if len([part for part in loc if isinstance(part, str)]) <= 2 else []
            hint = find_nearest_name(key, list_known_keys(loc[:-1], places.model))
            if homes:
                hint = f"it belongs under {' or '.join(homes)}"
            fault = Fault(where=places(*loc), found="there is no such key", remedy=hint)
        elif e["type"] == "missing" and not isinstance(loc[-1], int):
            fault = Fault(where=places(*loc), found="missing", expected=_describe_missing(loc, places.model))
        else:
            expected = _describe_expected(e, loc, places.model)
            if loc in faults:  # second branch of the union "a text or a list of texts"
                old = faults[loc]
                if expected not in old.expected:
                    faults[loc] = Fault(
                        where=old.where, found=old.found, expected=f"{old.expected}, or {expected}", remedy=old.remedy
                    )
                continue
            hint = _build_hint(e, loc, unit, places)
            fault = Fault(where=places(*loc), found=f"found {show_value(value)}", expected=expected, remedy=hint)
        faults.setdefault(loc, fault)
    return list(faults.values())


def _build_hint(e: Mapping[str, Any], loc: Place, unit: str, places: FaultPlaces) -> str:
    value = e["input"]
    if e["type"] in ("float_type", "int_type"):
        if e["type"] == "int_type" and isinstance(value, float) and value.is_integer():
            return f"write {int(value)}"
        return _explain_number(value, unit)
    if e["type"] == "string_type" and isinstance(value, int | float | dt.date | dt.time):
        return f'write "{value}"'
    if e["type"] == "date_type" and isinstance(value, str):
        day = re.search(r"\b\d{4}-\d{2}-\d{2}\b", value)
        return f"write {day[0]} without quotes" if day else ""
    if e["type"] == "bool_type" and isinstance(value, str) and value.lower() in ("true", "false", "yes", "no"):
        return f"write {'true' if value.lower() in ('true', 'yes') else 'false'}"
    if e["type"] == "literal_error" and isinstance(value, str):
        hint = find_nearest_name(value, re.findall(r"'([^']*)'", e["ctx"]["expected"]))
        return hint if hint.startswith("did you") else ""
    if isinstance(value, Mapping) and _is_several(_find_annotation(loc, places.model)):
        return f"write [[{'.'.join(map(str, loc))}]] with two brackets: there may be several"
    return ""


def _is_branch(part: str | int) -> bool:
    """Return whether a part of a place is the branch of a union, which pydantic adds."""
    return part in ("str", "constrained-str", "list[str]", "list[constrained-str]")


# --- a file that is not TOML -----------------------------------------------------------------------------------


def build_toml_fault(file: Path, text: str, error: Exception) -> Fault:
    """Build the fault for a syntax error: line and column, the line itself and, for common slips, what to write
    instead."""
    words = str(error)
    at = re.search(r"\s*\(at line (\d+), column (\d+)\)$", words)
    if at is None:
        message = re.sub(r"\s*\(at end of document\)$", "", words)
        return Fault(
            where=f"{file}, end of the file",
            found=f"{message[0].lower()}{message[1:]}",
            expected="a finished TOML file",
            remedy="look for a quote or a bracket that is never closed",
        )
    row, column = int(at[1]), int(at[2])
    lines = text.splitlines()
    line = lines[row - 1] if row <= len(lines) else ""
    message = words[: at.start()]
    return Fault(
        where=f"{file} line {row}, column {column}",
        found=f"{message[0].lower()}{message[1:]}, in “{line.strip()}”",
        remedy=_name_slip(line, message) or "this line is not TOML: key = value, with text in quotes",
    )


def _name_slip(line: str, message: str) -> str:
    if re.search(r"[“”„‟«»‘’]", line) and '"' not in line:
        return 'use straight quotes: "'
    if re.search(r"=\s*[+-]?\d+,\d", line):
        return "the decimal mark is a point: 11.5"
    if re.search(r"=\s*[+-]?[\d.]+\s*(mm|cm|in|inch|\"|″|°)", line):
        return "write only the number; the unit is stated once, under `units`"
    if re.search(r"(overwrite|twice|duplicate)", message, re.I):
        return "the same key or table is there twice; keep one"
    if "\\" in line:
        return "a backslash means something special between double quotes; use / in file names"
    if re.search(r"=\s*(?!true|false|inf|nan)[A-Za-z]", line):
        return 'text needs quotes: key = "text"'
    if line.count('"') % 2:
        return "a quote is not closed"
    if re.match(r"^\s*\w[\w -]*:", line):
        return "write = between key and value"
    return ""
