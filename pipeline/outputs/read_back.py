"""A lean reader of our own cut files, to prove that each holds what it should. Shares no code with the writer."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from pipeline.geometry.curves import Array


class Unreadable(ValueError):
    """The bytes are not a drawing of ours."""


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """One polyline or spline as the file has it, in the file's unit: (n, 3) x, y, bulge, or (n, 2) control points."""

    kind: str  # "LWPOLYLINE" "POLYLINE" "SPLINE"
    layer: str
    points: Array
    closed: bool


@dataclass(frozen=True, slots=True, eq=False)
class ReadBack:
    """What a cut file holds."""

    contours: tuple[Contour, ...]
    insunits: int | None


def read_back(path: Path) -> ReadBack:
    """Read a cut file from disk. Unreadable when it is not whole."""
    return read_text(path.read_bytes().decode("utf-8", "replace"))


def read_text(text: str) -> ReadBack:
    """The same from text."""
    lines = text.replace("\r\n", "\n").split("\n")
    if lines[-1] == "":
        lines.pop()
    if len(lines) % 2 or lines[-1].strip() != "EOF":
        raise Unreadable("the file does not end as a drawing ends")
    codes, values = lines[0::2], lines[1::2]
    insunits = None
    if "$INSUNITS" in values:
        insunits = int(values[values.index("$INSUNITS") + 1])
    try:
        start = values.index("ENTITIES") + 1
        end = values.index("ENDSEC", start)
    except ValueError:
        raise Unreadable("the file has no entities") from None
    marks = [i for i in range(start, end) if codes[i] == "  0"] + [end]
    out: list[Contour] = []
    old: list[tuple[float, float, float]] = []
    for a, b in pairwise(marks):
        kind = values[a]
        pairs = list(zip(codes[a + 1 : b], values[a + 1 : b], strict=True))
        if kind == "LWPOLYLINE":
            out.append(_light(pairs))
        elif kind == "SPLINE":
            out.append(_spline(pairs))
        elif kind == "POLYLINE":
            old = []
            said = dict(pairs)
        elif kind == "VERTEX":
            one = dict(pairs)
            old.append((float(one[" 10"]), float(one[" 20"]), float(one.get(" 42", 0.0))))
        elif kind == "SEQEND":
            out.append(Contour("POLYLINE", said["  8"], np.array(old), bool(int(said.get(" 70", "0")) & 1)))
        else:
            raise Unreadable(f"a {kind} stands among the contours")
    return ReadBack(tuple(out), insunits)


def _light(pairs: list[tuple[str, str]]) -> Contour:
    xs, ys, bulges = [], [], []
    layer, flags = "", 0
    for code, value in pairs:
        if code == " 10":
            xs.append(float(value))
            bulges.append(0.0)
        elif code == " 20":
            ys.append(float(value))
        elif code == " 42":
            bulges[-1] = float(value)
        elif code == "  8":
            layer = value
        elif code == " 70":
            flags = int(value)
    return Contour("LWPOLYLINE", layer, np.array([xs, ys, bulges]).T, bool(flags & 1))


def _spline(pairs: list[tuple[str, str]]) -> Contour:
    xs = [float(v) for c, v in pairs if c == " 10"]
    ys = [float(v) for c, v in pairs if c == " 20"]
    said = dict(pairs)
    return Contour("SPLINE", said["  8"], np.array([xs, ys]).T, bool(int(said[" 70"]) & 1))
