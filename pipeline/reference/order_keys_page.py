"""order-keys.md: every key of the order file, from the models and the docstrings below their keys."""

from __future__ import annotations

import ast
import inspect
import itertools
import sys
import types
import typing
from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from pipeline.core.catalogue.name_kinds import MOST_CHARACTERS, MOST_MARKS
from pipeline.core.config.order import Order
from pipeline.core.config.order_table import LONGEST, LONGEST_TEXT, LengthRange, OrderTable, find_table_in
from pipeline.reference.markdown import format_table

HEAD = f"""# Keys of the order file

`order.toml` is TOML 1.0. Unknown keys are refused by name, with the nearest known one, and all faults of the file are
reported at once. Every length is in the order's unit (`units`); defaults and limits below are in mm. A length is at
most 10 m, a text at most {LONGEST_TEXT:,} characters unless its limit says otherwise, and the file at most 1 MB with
tables 16 deep. A dash means no default: a required key is marked so, any other may be left out.

A cell of the list that is lettered may hold {MOST_CHARACTERS} characters, and {MOST_MARKS} marks on one letter; more
stops its row, not the list.

*Signed*: whether a change makes a new sign-off necessary. *design*: yes, if it changes the finished piece · *file*: no,
but the cut file is made differently, which you accept with `plaques release --accept-files` · –: no.

Where a default is “common practice, no source”, try it on an offcut first. The cutter's own data, the resin's data
sheet and your local rules come before it.
"""
COLUMNS = ("key", "value", "default", "signed", "for")
LIMITS = ("gt", "ge", "lt", "le", "min_length", "max_length")
SIGNED = {"piece": "design", "drawn": "design", "resolved": "design", "making": "file"}


def build_page() -> str:
    """Return the page."""
    return "\n".join([HEAD, *map(build_section, list_tables())])


def build_section(headed: tuple[str, type[OrderTable]], columns: Sequence[str] = COLUMNS) -> str:
    """Return the section of a table: what it is for, and its keys. columns: those of `COLUMNS` that are wanted."""
    heading, model = headed
    intro = " ".join((model.__doc__ or "").split())
    intro = intro.partition("]: ")[2] or intro
    intro = intro[:1].upper() + intro[1:]
    kept = [COLUMNS.index(name) for name in columns]
    rows = [tuple(row[k] for k in kept) for row in _list_rows(model)]
    return f"## {heading}\n\n{intro}\n\n{format_table(tuple(columns), rows)}"


def list_tables(model: type[OrderTable] = Order) -> list[tuple[str, type[OrderTable]]]:
    """Return every table of the order file, or of another, with its heading, in the order of the models."""
    return [("Top of the file", model), *_list_inner_tables(model, "")]


def _list_inner_tables(model: type[OrderTable], above: str) -> list[tuple[str, type[OrderTable]]]:
    out = []
    for key, field in model.model_fields.items():
        if (inner := find_table_in(field.annotation)) is not None:
            path = f"{above}{key}"
            several = _is_several(field.annotation)
            heading = f"`[[{path}]]`" if several else f"`[{path}]`"
            out += [(heading, inner), *_list_inner_tables(inner, f"{path}.")]
    return out


def _is_several(annotation: Any) -> bool:
    if typing.get_origin(annotation) is tuple:
        return True
    return any(_is_several(inner) for inner in typing.get_args(annotation))


def _list_rows(model: type[OrderTable]) -> list[tuple[str, str, str, str, str]]:
    said = read_descriptions(model)
    rows = []
    for key, field in model.model_fields.items():
        inner = find_table_in(field.annotation) is not None
        purpose = model.purposes.get(key, "")
        text = said[key]
        if field.description:
            text += f" The default: {field.description}."
        signed = "" if inner else SIGNED.get(purpose, "–")
        rows.append((f"`{key}`", describe_value(field), _format_default(field), signed, text))
    return rows


@lru_cache
def read_descriptions(model: type[BaseModel]) -> dict[str, str]:
    """Return the docstring below each key of a model. KeyError names the keys that have none."""
    module = ast.parse(inspect.getsource(sys.modules[model.__module__]))
    body = next(node.body for node in module.body if isinstance(node, ast.ClassDef) and node.name == model.__name__)
    said = {}
    for key, below in itertools.pairwise(body):
        match key, below:
            case ast.AnnAssign(target=ast.Name(id=name)), ast.Expr(value=ast.Constant(value=str(text))):
                said[name] = " ".join(text.split())
    if missing := [key for key in model.model_fields if key not in said]:
        raise KeyError(f"{model.__name__}: no docstring below {', '.join(missing)}")
    return said


def describe_value(field: FieldInfo) -> str:
    """Return what a key may hold, in words, with its limits."""
    if (inner := find_table_in(field.annotation)) is not None:
        return f"{'tables' if _is_several(field.annotation) else 'table'}, see below" if inner else ""
    return _describe_type(field.annotation, tuple(field.metadata))


def _describe_type(annotation: Any, limits: tuple[Any, ...] = ()) -> str:
    origin, args = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is Annotated:
        own: list[Any] = []
        for extra in args[1:]:
            own += extra.metadata if isinstance(extra, FieldInfo) else [extra]
        return _describe_type(args[0], (*own, *limits))
    if origin in (types.UnionType, typing.Union):
        return " or ".join(_describe_type(a, limits) for a in args if a is not type(None))
    if origin is Literal:
        return " · ".join(f'`"{a}"`' for a in args)
    if origin is list:
        return f"list of {_describe_type(args[0])}"
    if origin is dict:
        return f"table: name = {_describe_type(args[1])}"
    if origin is tuple:
        if args[-1] is Ellipsis:
            return f"list of {_describe_type(args[0])}"
        return f"[{', '.join(_describe_type(a) for a in args)}]"
    name = {str: "text", int: "whole number", float: "number", bool: "`true` · `false`", date: "date"}[annotation]
    length = next((x for x in limits if isinstance(x, LengthRange)), None)
    return _describe_limits(length.what if length else name, limits, length)


def _describe_limits(name: str, limits: tuple[Any, ...], length: LengthRange | None) -> str:
    """Describe the limits. They are found by name: pydantic stores each as an object with one of these attributes."""
    found = {key: getattr(limit, key) for limit in limits for key in LIMITS if hasattr(limit, key)}
    low = high = ""
    if "gt" in found or "ge" in found:
        low = f"over {_format_number(found['gt'])}" if "gt" in found else f"from {_format_number(found['ge'])}"
    if "lt" in found or "le" in found:
        high = f"under {_format_number(found['lt'])}" if "lt" in found else f"to {_format_number(found['le'])}"
    if found.get("min_length") == found.get("max_length") == 1:
        low = "1 character"
    elif name == "text" and "max_length" in found:
        high = f"to {found['max_length']} characters"
    if length is not None and length.least > 0:
        low = f"from {_format_number(length.least)} mm"
    if length is not None and length.most != LONGEST:
        high = f"to {_format_number(length.most)} mm"
    told = " ".join(x for x in (low, high) if x)
    return f"{name}, {told}" if told else name


def _format_number(value: Any) -> str:
    return f"{value:,}".removesuffix(".0")


def _format_default(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    if find_table_in(field.annotation) is not None:
        return "–"
    return _format_toml(field.get_default(call_default_factory=True))


def _format_toml(value: Any) -> str:
    if value is None or value in ("", [], {}, ()):
        return "–"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, str):
        return f'`"{value}"`'
    if isinstance(value, tuple | list):
        return f"`[{', '.join(f'{v:g}' if isinstance(v, float) else str(v) for v in value)}]`"
    return f"`{value:g}`" if isinstance(value, float) else f"`{value}`"
