"""Readers of our own SVG and PDF files, independent of what writes them: which contours they hold, and where those go.

Each takes a file apart by the published standard alone, refuses what it does not understand, and mends nothing.
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import Any
from xml.etree import ElementTree

from pipeline.outputs.cut_files.dxf.dxf_reader import UnreadableDrawing

_SVG = "{http://www.w3.org/2000/svg}"
_IDENTIFIER = "{http://purl.org/dc/elements/1.1/}identifier"
_STEP = re.compile(r"([MLACZ])([^MLACZ]*)")
_POINT = 25.4 / 72  # mm, ISO 32000-1, 8.3.2.3


@dataclass(frozen=True, slots=True, eq=False)
class ReadPath:
    """One contour: its first point, then half-way along and the end of every stretch. mm, x + iy, y up."""

    layer: str
    closed: bool
    through: tuple[complex, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ReadVectorFile:
    """A flat drawing as it lies on the disk. size: width and height in mm. names: ours -> the shop's."""

    size: tuple[float, float]
    fingerprint: str
    names: dict[str, str]
    paths: tuple[ReadPath, ...]


def read_svg(data: bytes) -> ReadVectorFile:
    """The drawing in these bytes. Unreadable when it is cut short or holds anything our files do not."""
    try:
        root = ElementTree.fromstring(data)
        if not (root.get("width", "").endswith("mm") and root.get("height", "").endswith("mm")):
            raise UnreadableDrawing("its size is not in mm")
        size = (float(root.get("width", "")[:-2]), float(root.get("height", "")[:-2]))
        if [float(v) for v in root.get("viewBox", "").split()] != [0.0, 0.0, *size]:
            raise UnreadableDrawing("its units are not mm")
        names: dict[str, str] = {}
        paths: list[ReadPath] = []
        for group in root.iter(f"{_SVG}g"):
            layer = group.get("id", "")
            names[layer] = group.findtext(f"{_SVG}title", "")
            paths += (_read_svg_path(layer, path.get("d", ""), size[1]) for path in group.iter(f"{_SVG}path"))
        if len(paths) != sum(1 for _ in root.iter(f"{_SVG}path")):
            raise UnreadableDrawing("a path stands outside the groups")
        return ReadVectorFile(size, root.findtext(f".//{_IDENTIFIER}", ""), names, tuple(paths))
    except (ElementTree.ParseError, ValueError) as error:
        raise UnreadableDrawing(str(error)) from None


def _read_svg_path(layer: str, text: str, height: float) -> ReadPath:
    through: list[complex] = []  # y down until the end of the function
    closed, end = False, 0
    for found in _STEP.finditer(text):
        letter, values = found[1], [float(v) for v in found[2].split()]
        if found.start() != end or closed or (letter == "M") != (not through):
            raise UnreadableDrawing(f"a path that is none of ours: {text[:40]}")
        end = found.end()
        points = [complex(x, y) for x, y in zip(values[::2], values[1::2], strict=True)] if letter != "A" else []
        if letter == "M":
            through += points
        elif letter == "L":
            through += _build_line(through[-1], *points)
        elif letter == "C":
            through += _build_cubic(through[-1], *points)
        elif letter == "A":
            through += _build_arc(through[-1], *values)
        else:
            closed = True
    if end != len(text) or not through:
        raise UnreadableDrawing(f"a path that is none of ours: {text[:40]}")
    return ReadPath(layer, closed, tuple(complex(z.real, height - z.imag) for z in _end_path(through, closed)))


def _end_path(through: list[complex], closed: bool) -> list[complex]:
    return through + _build_line(through[-1], through[0]) if closed and through[-1] != through[0] else through


def _build_line(start: complex, end: complex) -> list[complex]:
    return [(start + end) / 2, end]


def _build_cubic(start: complex, one: complex, two: complex, end: complex) -> list[complex]:
    return [(start + 3 * one + 3 * two + end) / 8, end]


def _build_arc(
    start: complex, rx: float, ry: float, turn: float, large: float, sweep: float, x: float, y: float
) -> list[complex]:
    """By SVG 1.1, appendix F.6.5 (centre) and F.6.6 (a radius that is too small)."""
    if rx != ry or turn:
        raise UnreadableDrawing("an arc that is no part of a circle")
    end = complex(x, y)
    half = (start - end) / 2
    radius = max(rx, abs(half))
    far = math.sqrt(max(radius**2 / abs(half) ** 2 - 1, 0.0)) * (1 if large != sweep else -1)
    centre = far * complex(half.imag, -half.real) + (start + end) / 2
    first, last = cmath.phase(start - centre), cmath.phase(end - centre)
    if sweep and last < first:
        last += 2 * math.pi
    elif not sweep and last > first:
        last -= 2 * math.pi
    return [centre + cmath.rect(radius, (first + last) / 2), end]


def read_pdf(data: bytes) -> ReadVectorFile:
    """The same of a PDF file of one page."""
    import pikepdf

    try:
        with pikepdf.open(BytesIO(data)) as pdf:
            if len(pdf.pages) != 1:
                raise UnreadableDrawing(f"it has {len(pdf.pages)} pages")
            sheet = pdf.pages[0].obj
            left, bottom, width, height = (float(v) * _POINT for v in sheet.MediaBox)
            if left or bottom or "/UserUnit" in sheet:
                raise UnreadableDrawing("its page is not measured from the lower left corner in points")
            layers = {str(key)[1:]: str(group.Name) for key, group in sheet.Resources.Properties.items()}
            paths = tuple(_read_pdf_paths(pikepdf.parse_content_stream(pdf.pages[0])))
            return ReadVectorFile((width, height), str(pdf.docinfo.get("/Fingerprint", "")), layers, paths)
    except (pikepdf.PdfError, AttributeError, KeyError, TypeError, ValueError) as error:
        raise UnreadableDrawing(str(error)) from None


def _read_pdf_paths(content: Iterable[Any]) -> Iterator[ReadPath]:
    """The contours of a content stream: only the operators our files use."""
    scale, layer, closed = _POINT, "", False
    through: list[complex] = []
    for words, name in content:
        operator = str(name)
        if operator == "BDC":
            layer = str(words[1])[1:]
        elif operator == "EMC":
            layer = ""
        elif operator in ("w", "RG") or (operator == "n" and not through):
            continue
        elif operator == "cm":
            a, b, c, d, e, f = map(float, words)
            if a != d or (b, c, e, f) != (0, 0, 0, 0):
                raise UnreadableDrawing("it is turned, stretched or shifted")
            scale *= a
        elif operator == "h" and through and not closed:
            closed = True
        elif operator == "S":
            if not layer or not through:
                raise UnreadableDrawing("a path stands outside the layers")
            yield ReadPath(layer, closed, tuple(z * scale for z in _end_path(through, closed)))
            through, closed = [], False
        else:
            values = [float(v) for v in words]
            points = [complex(x, y) for x, y in zip(values[::2], values[1::2], strict=True)]
            if operator == "m" and not through:
                through = points
            elif operator == "l" and through and not closed:
                through += _build_line(through[-1], *points)
            elif operator == "c" and through and not closed:
                through += _build_cubic(through[-1], *points)
            else:
                raise UnreadableDrawing(f"an operator {operator} that no file of ours has there")
    if through:
        raise UnreadableDrawing("a path does not end")
