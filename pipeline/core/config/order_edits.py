"""Edits of the order file, made to an order in memory."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Annotated, Any

from pydantic import BaseModel, TypeAdapter

from pipeline.core.config.order import LineConfig, Order
from pipeline.core.findings import Edit


def apply_edits(order: Order, edits: Iterable[Edit]) -> Order:
    """Return the order as it would be read after these edits to its file. ValueError if it would not be accepted."""
    for edit in edits:
        order = _apply_edit(order, edit)
    return order


def build_face_edits(number: int, part: LineConfig | None, name: str) -> tuple[Edit, ...]:
    """The edits that set a [[line]] in another face of the shelf; what was said of the old one goes."""
    gone = [key for key in ("features", "axes", "least_width") if part is not None and getattr(part, key)]
    edits = [Edit(table="line", number=number, key=key, value=None) for key in gone]
    return (Edit(table="line", number=number, key="face", value=name), *edits)


def _apply_edit(order: Order, edit: Edit) -> Order:
    path = edit.key.split(".")
    changed: Order
    if not edit.table:
        changed = _set_value(order, path, edit, order.unit.mm)
        return changed
    if edit.table == "line":
        if edit.number is None or not 1 <= edit.number <= len(order.line):
            raise ValueError(f"there is no [[line]] no. {edit.number}")
        part = _set_value(order.line[edit.number - 1], path, edit, order.unit.mm)
        lines = tuple(part if n == edit.number else line for n, line in enumerate(order.line, 1))
        return order.model_copy(update={"line": lines})
    if edit.table == "artwork":
        if edit.number is None or not 1 <= edit.number <= len(order.artwork):
            raise ValueError(f"there is no [[artwork]] no. {edit.number}")
        figure = _set_value(order.artwork[edit.number - 1], path, edit, order.unit.mm)
        figures = tuple(figure if n == edit.number else other for n, other in enumerate(order.artwork, 1))
        return order.model_copy(update={"artwork": figures})
    changed = _set_value(order, [edit.table, *path], edit, order.unit.mm)
    return changed


def _set_value(part: Any, path: list[str], edit: Edit, mm: float) -> Any:
    """Return a table with one of its keys, or a key of an inner table, changed."""
    key, deeper = path[0], path[1:]
    model: type[BaseModel] = type(part)
    if key not in model.model_fields:
        raise ValueError(f"there is no key “{key}” in {edit.table or 'the order'}")
    if deeper:
        inner = getattr(part, key)
        if inner is None:
            raise ValueError(f"there is no table “{key}”")
        value = _set_value(inner, deeper, edit, mm)
    elif edit.value is None:
        field = model.model_fields[key]
        if field.is_required():
            raise ValueError(f"“{key}” cannot be left out")
        value = field.get_default(call_default_factory=True)
    else:
        typed = list(edit.value) if isinstance(edit.value, tuple) else edit.value
        value = _get_reader(model, key).validate_python(typed, strict=True, context={"mm": mm})
    return part.model_copy(update={key: value})


@lru_cache(maxsize=256)
def _get_reader(model: type[BaseModel], key: str) -> TypeAdapter[Any]:
    """Return what reads the values of a key: lengths become mm, as when the file is read."""
    field = model.model_fields[key]
    kind: Any = field.annotation
    for mark in field.metadata:
        kind = Annotated[kind, mark]
    return TypeAdapter(kind)
