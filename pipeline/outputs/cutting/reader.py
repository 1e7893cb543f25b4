"""A small reader of our own cut files, independent of what writes them: tags in pairs, entities in their order.

It takes the drawing apart by the published DXF reference alone, refuses what it does not understand, and does not mend
anything. It is not a reader for drawings made by others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.core.recent import Recent
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


@dataclass(frozen=True, slots=True, eq=False)
class _Record:
    """What stands from one group 0 to the next: its value, and the groups after it."""

    kind: str
    codes: list[int]
    values: list[str]

    def after(self, name: str) -> str:
        """The value of the group after the one whose value is this name; empty when there is none."""
        return self.values[self.values.index(name) + 1].strip() if name in self.values else ""


class Reader:
    """Reads drawings. What it has taken apart lately it knows again by its very text: a line of lettering that is the
    same in every file is compared, character for character, with what was read of it before."""

    def __init__(self) -> None:
        self._records: Recent[_Record] = Recent(4096)
        self._curves: Recent[ReadCurve] = Recent(4096)

    def read(self, data: bytes) -> ReadDrawing:
        """The drawing in these bytes. Unreadable when it is cut short or holds anything a cut file does not."""
        text = data.decode("utf-8", "surrogateescape").replace("\r\n", "\n").removesuffix("\n")
        # Group codes take three places (published DXF reference). A value of that look would leave an odd number of
        # lines before or after it, and be refused.
        before, *records = ("\n" + text).split("\n  0\n")
        if not records or records[-1] != "EOF":
            raise Unreadable("the file is cut short")
        head = self._records.of(before, lambda: _record(before)) if before else _Record("", [], [])
        sections = self._sections(records[:-1])
        for name in ("HEADER", "ENTITIES"):
            if name not in sections:
                raise Unreadable(f"the file has no section {name}")
        version, unit, properties = _header(_record(sections["HEADER"][0]))
        return ReadDrawing(
            version=version,
            unit=unit,
            comments=tuple(v for c, v in zip(head.codes, head.values, strict=True) if c == 999),
            properties=properties,
            layers=self._layers(sections.get("TABLES", [])),
            curves=self._entities(sections["ENTITIES"][1:]),
        )

    def _of(self, text: str) -> _Record:
        return self._records.of(text, lambda: _record(text))

    def _sections(self, records: Sequence[str]) -> dict[str, list[str]]:
        """The records of each section, that with its name first. Everything but the entities is looked through here."""
        found: dict[str, list[str]] = {}
        name = ""
        for text in records:
            if text.startswith("SECTION\n"):
                values = _record(text).values
                name = values[0] if values else ""
                found[name] = [text]
            elif not name:
                raise Unreadable("something stands outside the sections")
            elif text == "ENDSEC":
                name = ""
            else:
                found[name].append(text)
                if name != "ENTITIES":
                    self._of(text)
        if name:
            raise Unreadable(f"the section {name} does not end")
        return found

    def _layers(self, tables: Sequence[str]) -> frozenset[str]:
        layers = (self._of(text) for text in tables if text.startswith("LAYER\n"))
        return frozenset(layer.values[layer.codes.index(2)] for layer in layers if 2 in layer.codes)

    def _entities(self, records: Sequence[str]) -> tuple[ReadCurve, ...]:
        out: list[ReadCurve] = []
        n = 0
        while n < len(records):
            text = records[n]
            kind = text.partition("\n")[0]
            try:
                if kind == "LWPOLYLINE":
                    out.append(self._curves.of(text, lambda: _light(_record(text))))  # noqa: B023
                elif kind == "SPLINE":
                    out.append(self._curves.of(text, lambda: _spline(_record(text))))  # noqa: B023
                elif kind == "POLYLINE":
                    last = n + 1
                    while last < len(records) and records[last].startswith("VERTEX\n"):
                        last += 1
                    if last == len(records) or not records[last].startswith("SEQEND"):
                        raise Unreadable("a POLYLINE does not end")
                    parts = records[n : last + 1]
                    out.append(self._curves.of(tuple(parts), lambda: _heavy([_record(p) for p in parts])))  # noqa: B023
                    n = last
                else:
                    raise Unreadable(f"an entity of kind {kind}, which no cut file holds")
            except (KeyError, ValueError) as error:
                if isinstance(error, Unreadable):
                    raise
                raise Unreadable(f"entity {kind} number {len(out) + 1}: {error}") from None
            n += 1
        return tuple(out)


def read_drawing(data: bytes) -> ReadDrawing:
    """One drawing, as `Reader` reads many."""
    return Reader().read(data)


def _record(text: str) -> _Record:
    lines = text.split("\n")
    if not len(lines) % 2:
        raise Unreadable("the file is cut short")
    try:
        return _Record(lines[0], list(map(int, lines[1::2])), lines[2::2])
    except ValueError as error:
        raise Unreadable(f"a group code is not a number ({error})") from None


def _header(record: _Record) -> tuple[str, UnitName | None, dict[str, str]]:
    part = record.values
    properties: dict[str, str] = {}
    for at in (k for k, value in enumerate(part) if value == "$CUSTOMPROPERTYTAG"):
        properties[part[at + 1]] = part[at + 3]
    unit = record.after("$INSUNITS")
    if unit and unit not in _UNITS:
        raise Unreadable(f"$INSUNITS is {unit}, neither inches (1) nor millimetres (4)")
    return record.after("$ACADVER"), _UNITS.get(unit), properties


def _light(record: _Record) -> ReadCurve:
    codes, values = record.codes, record.values
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


def _heavy(records: Sequence[_Record]) -> ReadCurve:
    """A POLYLINE, its vertices, its end."""
    head = dict(zip(records[0].codes, records[0].values, strict=True))
    points, bulges = [], []
    for record in records[1:-1]:
        vertex = dict(zip(record.codes, record.values, strict=True))
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


def _spline(record: _Record) -> ReadCurve:
    codes, values = record.codes, record.values
    head = dict(zip(codes, values, strict=True))
    x = [float(v) for c, v in zip(codes, values, strict=True) if c == 10]
    y = [float(v) for c, v in zip(codes, values, strict=True) if c == 20]
    knots = tuple(float(v) for c, v in zip(codes, values, strict=True) if c == 40)
    degree = int(head[71])
    if not len(x) == len(y) == int(head[73]) or len(knots) != int(head[72]) or len(knots) != len(x) + degree + 1:
        raise Unreadable(f"a SPLINE whose {len(knots)} knots do not go with {len(x)} control points of degree {degree}")
    points = np.array((x, y)).T
    return ReadCurve("spline", head[8], head[5], int(head[70]) & 1 == 1, points, np.zeros(len(x)), degree, knots)
