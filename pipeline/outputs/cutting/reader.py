"""A small reader of our own cut files, independent of what writes them: tags in pairs, entities in their order.

It takes the drawing apart by the published DXF reference alone, refuses what it does not understand, and does not mend
anything. It is not a reader for drawings made by others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.core.units import UnitName
from pipeline.geometry.curves import Array

_UNITS: dict[str, UnitName] = {"1": "in", "4": "mm"}


class Unreadable(ValueError):
    """The data is not a drawing as this tool writes them. The message says where and why."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadCurve:
    """One entity. points: (n, 2), for 3-D lines (n, 3), in the file's unit; for splines the control points."""

    kind: str  # "polyline" "polyline-3d" "spline"
    layer: str
    handle: str
    closed: bool
    points: Array
    bulges: Array  # (n,) of polylines; zeros otherwise
    degree: int = 1
    knots: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class ReadDrawing:
    """A cut file as it lies on the disk."""

    version: str  # $ACADVER
    unit: UnitName | None  # of $INSUNITS, None where the version has none
    comments: tuple[str, ...]
    properties: dict[str, str]
    layers: frozenset[str]  # names of the layer table
    curves: tuple[ReadCurve, ...]


def read_drawing(data: bytes) -> ReadDrawing:
    """The drawing in these bytes. Unreadable when it is cut short or holds anything a cut file does not."""
    lines = data.decode("utf-8", "surrogateescape").replace("\r\n", "\n").split("\n")
    if lines and not lines[-1]:
        lines.pop()
    if len(lines) % 2 or lines[-1:] != ["EOF"]:
        raise Unreadable("the file is cut short")
    try:
        codes = list(map(int, lines[0::2]))
    except ValueError as error:
        raise Unreadable(f"a group code is not a number ({error})") from None
    values = lines[1::2]
    sections = _sections(codes, values)
    version, unit, properties = _header(values, *sections.get("HEADER", (0, 0)))
    return ReadDrawing(
        version=version,
        unit=unit,
        comments=tuple(v for c, v in zip(codes[: sections["HEADER"][0]], values, strict=False) if c == 999),
        properties=properties,
        layers=_layers(codes, values, *sections.get("TABLES", (0, 0))),
        curves=_curves(codes, values, *sections["ENTITIES"]),
    )


def _sections(codes: Sequence[int], values: Sequence[str]) -> dict[str, tuple[int, int]]:
    """Where each section begins, after its name, and ends."""
    found: dict[str, tuple[int, int]] = {}
    at = 0
    while True:
        try:
            at = values.index("SECTION", at)
            end = values.index("ENDSEC", at)
        except ValueError:
            break
        if codes[at] == 0 and codes[at + 1] == 2:
            while codes[end] != 0:
                end = values.index("ENDSEC", end + 1)
            found[values[at + 1]] = (at + 2, end)
            at = end
        else:
            at += 1
    for name in ("HEADER", "ENTITIES"):
        if name not in found:
            raise Unreadable(f"the file has no section {name}")
    return found


def _header(values: Sequence[str], start: int, end: int) -> tuple[str, UnitName | None, dict[str, str]]:
    part = values[start:end]

    def after(name: str) -> str:
        return part[part.index(name) + 1].strip() if name in part else ""

    properties: dict[str, str] = {}
    at = -1
    while "$CUSTOMPROPERTYTAG" in part[at + 1 :]:
        at = part.index("$CUSTOMPROPERTYTAG", at + 1)
        properties[part[at + 1]] = part[at + 3]
    unit = after("$INSUNITS")
    if unit and unit not in _UNITS:
        raise Unreadable(f"$INSUNITS is {unit}, neither inches (1) nor millimetres (4)")
    return after("$ACADVER"), _UNITS.get(unit), properties


def _layers(codes: Sequence[int], values: Sequence[str], start: int, end: int) -> frozenset[str]:
    names = []
    for k in range(start, end):
        if codes[k] == 0 and values[k] == "LAYER":
            for i in range(k + 1, end):
                if codes[i] == 2:
                    names.append(values[i])
                    break
                if codes[i] == 0:
                    break
    return frozenset(names)


def _curves(codes: list[int], values: list[str], start: int, end: int) -> tuple[ReadCurve, ...]:
    starts = [k for k in range(start, end) if codes[k] == 0] + [end]
    out: list[ReadCurve] = []
    n = 0
    while n < len(starts) - 1:
        a, b = starts[n], starts[n + 1]
        kind = values[a]
        try:
            if kind == "LWPOLYLINE":
                out.append(_light(codes[a:b], values[a:b]))
            elif kind == "SPLINE":
                out.append(_spline(codes[a:b], values[a:b]))
            elif kind == "POLYLINE":
                last = n + 1
                while last < len(starts) - 1 and values[starts[last]] == "VERTEX":
                    last += 1
                if last == len(starts) - 1 or values[starts[last]] != "SEQEND":
                    raise Unreadable("a POLYLINE does not end")
                vertices = [(starts[k], starts[k + 1]) for k in range(n + 1, last)]
                out.append(_heavy(codes, values, a, b, vertices))
                n = last
            else:
                raise Unreadable(f"an entity of kind {kind}, which no cut file holds")
        except (KeyError, ValueError) as error:
            if isinstance(error, Unreadable):
                raise
            raise Unreadable(f"entity {kind} number {len(out) + 1}: {error}") from None
        n += 1
    return tuple(out)


def _light(codes: list[int], values: list[str]) -> ReadCurve:
    first = codes.index(10)
    head = dict(zip(codes[:first], values[:first], strict=True))
    x, y, bulges = [], [], []
    for code, value in zip(codes[first:], values[first:], strict=True):
        if code == 10:
            x.append(float(value))
            bulges.append(0.0)
        elif code == 20:
            y.append(float(value))
        elif code == 42:
            bulges[-1] = float(value)
        else:
            raise Unreadable(f"group {code} in an LWPOLYLINE")
    if not len(x) == len(y) == int(head[90]):
        raise Unreadable(f"an LWPOLYLINE of {head[90].strip()} vertices has {len(x)} x and {len(y)} y")
    points = np.array((x, y)).T
    return ReadCurve("polyline", head[8], head[5], int(head[70]) & 1 == 1, points, np.array(bulges))


def _heavy(codes: list[int], values: list[str], a: int, b: int, vertices: Sequence[tuple[int, int]]) -> ReadCurve:
    head = dict(zip(codes[a:b], values[a:b], strict=True))
    points, bulges = [], []
    for i, j in vertices:
        vertex = dict(zip(codes[i:j], values[i:j], strict=True))
        points.append((float(vertex[10]), float(vertex[20]), float(vertex[30])))
        bulges.append(float(vertex.get(42, "0")))
    flags = int(head[70])
    spatial = bool(flags & 8)
    placed = np.array(points).reshape(-1, 3)
    if not spatial and placed[:, 2].any():
        raise Unreadable("a flat POLYLINE leaves its plane")
    kind = "polyline-3d" if spatial else "polyline"
    shown = placed if spatial else placed[:, :2]
    return ReadCurve(kind, head[8], head[5], flags & 1 == 1, shown, np.array(bulges))


def _spline(codes: list[int], values: list[str]) -> ReadCurve:
    head = dict(zip(codes, values, strict=True))
    x = [float(v) for c, v in zip(codes, values, strict=True) if c == 10]
    y = [float(v) for c, v in zip(codes, values, strict=True) if c == 20]
    knots = tuple(float(v) for c, v in zip(codes, values, strict=True) if c == 40)
    degree = int(head[71])
    if not len(x) == len(y) == int(head[73]) or len(knots) != int(head[72]) or len(knots) != len(x) + degree + 1:
        raise Unreadable(f"a SPLINE whose {len(knots)} knots do not go with {len(x)} control points of degree {degree}")
    points = np.array((x, y)).T
    return ReadCurve("spline", head[8], head[5], int(head[70]) & 1 == 1, points, np.zeros(len(x)), degree, knots)
