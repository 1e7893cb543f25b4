"""A small reader of our own cut files, independent of what writes them: tags in pairs, entities in their order.

It takes the drawing apart by the published DXF reference alone, refuses what it does not understand, and does not mend
anything. It is not a reader for drawings made by others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.core.storage.lru_cache import LruCache
from pipeline.core.units import UnitName
from pipeline.geometry.curves import Array

_UNITS: dict[str, UnitName] = {"1": "in", "4": "mm"}


_LIGHT = "LWPOLYLINE\r\n"
_FIRST = "\r\n 10\r\n"
_BEGINS, _NEXT, _ENDS, _LAST = "\r\n  0\r\nSECTION\r\n", "\r\n  0\r\n", "\r\n  0\r\nENDSEC", "\r\n  0\r\nEOF"
_VERTEX = frozenset((" 10", " 20", " 42"))
_X, _Y, _BEND = b"124"


class _GroupCodes(dict[str, int]):
    """Group codes by how they are written."""

    def __missing__(self, text: str) -> int:
        code = self[text] = int(text)
        return code


_codes = _GroupCodes()


class UnreadableDrawing(ValueError):
    """The data is not a drawing as this tool writes them. The message says where and why."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadCurve:
    """One entity. points: (n, 2), for 3-D lines (n, 3), in the file's unit; for splines the control points."""

    kind: str  # "polyline" "polyline-3d" "spline"
    layer: str
    handle: str
    closed: bool
    points: Array
    bulges: Array  # (n,) for polylines; zeros otherwise
    degree: int = 1
    knots: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class ReadDrawing:
    """A cut file as it lies on the disk."""

    version: str  # $ACADVER
    unit: UnitName | None  # from $INSUNITS; None where the version has none
    comments: tuple[str, ...]
    properties: dict[str, str]
    layers: frozenset[str]  # names in the layer table
    curves: tuple[ReadCurve, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Record:
    """Everything from one group 0 to the next: its value, and the groups after it."""

    kind: str
    codes: list[int]
    values: list[str]


class DrawingReader:
    """Reads drawings. What it has taken apart lately it knows again by its very text: a line of lettering that is the
    same in every file is compared, character for character, with what was read of it before."""

    def __init__(self) -> None:
        self._sections: LruCache[frozenset[str]] = LruCache(64)
        self._light: LruCache[ReadCurve] = LruCache(4096)
        self._others: LruCache[ReadCurve] = LruCache(4096)

    def read(self, data: bytes) -> ReadDrawing:
        """The drawing in these bytes. Unreadable when it is cut short or holds anything a cut file does not."""
        text = _split_lines(data)
        # Group codes take three places (published DXF reference). A value of that look would leave an odd number of
        # lines before or after it, and be refused.
        *parts, last = ("\r\n" + text).split(_ENDS)
        if not parts or last != _LAST:
            raise UnreadableDrawing("the file is cut short")
        before, layers = _record(parts[0].partition(_BEGINS)[0]), frozenset[str]()
        records: dict[str, list[str]] = {}
        for number, part in enumerate(parts):
            outside, found, inside = part.partition(_BEGINS)
            if not found or (outside and number):
                raise UnreadableDrawing("something stands outside the sections")
            name = inside.split("\r\n", 2)[1:2]
            if name in (["HEADER"], ["ENTITIES"]):
                if name[0] in records:
                    raise UnreadableDrawing(f"the file has two sections {name[0]}")
                records[name[0]] = inside.split(_NEXT)
            else:
                layers |= self._sections.get_or_compute(inside, lambda: _read_layers(inside))  # noqa: B023
        for wanted in ("HEADER", "ENTITIES"):
            if wanted not in records:
                raise UnreadableDrawing(f"the file has no section {wanted}")
        if len(records["HEADER"]) > 1:
            raise UnreadableDrawing("the header holds more than its variables")
        version, unit, properties = _read_header(_split_groups("SECTION\r\n" + records["HEADER"][0])[2])
        return ReadDrawing(
            version=version,
            unit=unit,
            comments=tuple(v for c, v in zip(before.codes, before.values, strict=True) if c == 999),
            properties=properties,
            layers=layers,
            curves=self._read_entities(records["ENTITIES"][1:]),
        )

    def _read_entities(self, records: Sequence[str]) -> tuple[ReadCurve, ...]:
        """The curves of the records in their order. Light polylines that are new are taken apart together."""
        light = [text for text in records if text.startswith(_LIGHT)]
        known = self._light.get_or_compute_many(light, _read_lwpolylines)
        if len(light) == len(records):
            return tuple(known)
        curves = iter(known)
        out: list[ReadCurve] = []
        n = 0
        while n < len(records):
            text = records[n]
            kind = text.partition("\r\n")[0]
            try:
                if text.startswith(_LIGHT):
                    out.append(next(curves))
                elif kind == "SPLINE":
                    out.append(self._others.get_or_compute(text, lambda: _read_spline(_record(text))))  # noqa: B023
                elif kind == "POLYLINE":
                    last = n + 1
                    while last < len(records) and records[last].startswith("VERTEX\r\n"):
                        last += 1
                    if last == len(records) or not records[last].startswith("SEQEND"):
                        raise UnreadableDrawing("a POLYLINE does not end")
                    parts = records[n : last + 1]
                    out.append(
                        self._others.get_or_compute(tuple(parts), lambda: _read_polyline([_record(p) for p in parts]))  # noqa: B023
                    )
                    n = last
                else:
                    raise UnreadableDrawing(f"an entity of kind {kind}, which no cut file holds")
            except (KeyError, ValueError) as error:
                raise _report_faulty(kind, len(out) + 1, error) from None
            n += 1
        return tuple(out)


def _split_lines(data: bytes) -> str:
    """The text with CR LF between its lines, as it is written, and none after the last; other programs may have put LF
    there instead."""
    text = data.decode("utf-8", "surrogateescape")
    if "\r\n" not in text[:200]:
        text = text.replace("\n", "\r\n")
    return text.removesuffix("\r\n")


def _report_faulty(kind: str, number: int, error: Exception) -> UnreadableDrawing:
    return (
        error if isinstance(error, UnreadableDrawing) else UnreadableDrawing(f"entity {kind} number {number}: {error}")
    )


def read_drawing(data: bytes) -> ReadDrawing:
    """One drawing, as `DrawingReader` reads many."""
    return DrawingReader().read(data)


def _split_groups(text: str) -> tuple[str, list[str], list[str]]:
    """Return what stands before the first group, the codes as they are written, the values."""
    lines = text.replace("\r\n", "\n").split("\n")
    if not len(lines) % 2:
        raise UnreadableDrawing("the file is cut short")
    codes = lines[1::2]
    try:
        for code in set(codes):
            _codes[code]
    except ValueError as error:
        raise UnreadableDrawing(f"a group code is not a number ({error})") from None
    return lines[0], codes, lines[2::2]


def _record(text: str) -> _Record:
    kind, codes, values = _split_groups(text)
    return _Record(kind, [_codes[code] for code in codes], values)


def _read_layers(section: str) -> frozenset[str]:
    """The layers a section's records speak of; everything in it has to be groups."""
    first, *others = section.split(_NEXT)
    records = [_record("SECTION\r\n" + first), *map(_record, others)]
    return frozenset(r.values[r.codes.index(2)] for r in records if r.kind == "LAYER" and 2 in r.codes)


def _read_header(values: list[str]) -> tuple[str, UnitName | None, dict[str, str]]:
    """Version, unit and properties from the values of the header's groups."""
    properties: dict[str, str] = {}
    at = -1
    for _ in range(values.count("$CUSTOMPROPERTYTAG")):
        at = values.index("$CUSTOMPROPERTYTAG", at + 1)
        properties[values[at + 1]] = values[at + 3]
    unit = _get_after(values, "$INSUNITS")
    if unit and unit not in _UNITS:
        raise UnreadableDrawing(f"$INSUNITS is {unit}, neither inches (1) nor millimetres (4)")
    return _get_after(values, "$ACADVER"), _UNITS.get(unit), properties


def _get_after(values: list[str], name: str) -> str:
    """The value after the one that is this name; empty when there is none."""
    return values[values.index(name) + 1].strip() if name in values else ""


def _read_lwpolylines(texts: Sequence[str]) -> list[ReadCurve]:
    """Light polylines, all their numbers at once where each is written as usual, or else one by one: that says, too,
    what is wrong with which."""
    found = _read_alike_together(texts)
    if found is not None:
        return found
    out: list[ReadCurve] = []
    for text in texts:
        try:
            out.append(_read_lwpolyline(_record(text)))
        except (KeyError, ValueError) as error:
            raise _report_faulty("LWPOLYLINE", len(out) + 1, error) from None
    return out


def _read_alike_together(texts: Sequence[str]) -> list[ReadCurve] | None:
    """Return what `_read_lwpolyline` makes of each record, for records of three-place codes in the usual order; None
    for others."""
    parts = [text.partition(_FIRST) for text in texts]
    lines = "".join([first + tail for _, first, tail in parts]).replace("\r\n", "\n").split("\n")
    codes, values = lines[1::2], lines[2::2]
    if len(codes) != len(values) or not _VERTEX.issuperset(codes):
        return None
    kinds = np.frombuffer("".join(codes).encode("ascii"), np.uint8)[1::3]
    x, y, bent = (np.flatnonzero(kinds == kind) for kind in (_X, _Y, _BEND))
    if not np.array_equal(x + 1, y):
        return None
    heads = [head.split("\r\n") for head, _, _ in parts]
    wanted = [dict(zip(head[1::2], head[2::2], strict=False)) for head in heads]
    ends = np.cumsum([tail.count("\r\n") // 2 + 1 for _, _, tail in parts])
    counts = np.diff(np.searchsorted(x, ends), prepend=0).tolist()
    try:
        numbers = np.array(list(map(float, values)))
        if counts != [int(head[" 90"]) for head in wanted] or ends[-1] != len(codes):
            return None
        said = [(head["  8"], head["  5"], int(head[" 70"]) & 1 == 1) for head in wanted]
    except (KeyError, ValueError):
        return None
    points = np.array((numbers[x], numbers[y])).T
    bulges = np.zeros(len(x))
    bulges[np.searchsorted(x, bent) - 1] = numbers[bent]
    out, at = [], 0
    for (layer, handle, closed), count in zip(said, counts, strict=True):
        end = at + count
        out.append(ReadCurve("polyline", layer, handle, closed, points[at:end], bulges[at:end]))
        at = end
    return out


def _read_lwpolyline(record: _Record) -> ReadCurve:
    codes, values = record.codes, record.values
    first = codes.index(10)
    head = dict(zip(codes[:first], values[:first], strict=True))
    tail, numbers = np.array(codes[first:]), np.array(list(map(float, values[first:])))
    at_x, bent = tail == 10, tail == 42
    x, y = numbers[at_x], numbers[tail == 20]
    if len(x) + len(y) + bent.sum() != len(tail):
        odd = next(code for code in codes[first:] if code not in (10, 20, 42))
        raise UnreadableDrawing(f"group {odd} in an LWPOLYLINE")
    if not len(x) == len(y) == int(head[90]):
        raise UnreadableDrawing(f"an LWPOLYLINE of {head[90].strip()} vertices has {len(x)} x and {len(y)} y")
    bulges = np.zeros(len(x))
    bulges[np.cumsum(at_x)[bent] - 1] = numbers[bent]
    points = np.array((x, y)).T
    return ReadCurve("polyline", head[8], head[5], int(head[70]) & 1 == 1, points, bulges)


def _read_polyline(records: Sequence[_Record]) -> ReadCurve:
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
        raise UnreadableDrawing("a flat POLYLINE leaves its plane")
    kind = "polyline-3d" if spatial else "polyline"
    shown = placed if spatial else placed[:, :2]
    return ReadCurve(kind, head[8], head[5], flags & 1 == 1, shown, np.array(bulges))


def _read_spline(record: _Record) -> ReadCurve:
    codes, values = record.codes, record.values
    head = dict(zip(codes, values, strict=True))
    x = [float(v) for c, v in zip(codes, values, strict=True) if c == 10]
    y = [float(v) for c, v in zip(codes, values, strict=True) if c == 20]
    knots = tuple(float(v) for c, v in zip(codes, values, strict=True) if c == 40)
    degree = int(head[71])
    if not len(x) == len(y) == int(head[73]) or len(knots) != int(head[72]) or len(knots) != len(x) + degree + 1:
        raise UnreadableDrawing(
            f"a SPLINE whose {len(knots)} knots do not go with {len(x)} control points of degree {degree}"
        )
    points = np.array((x, y)).T
    return ReadCurve("spline", head[8], head[5], int(head[70]) & 1 == 1, points, np.zeros(len(x)), degree, knots)
