"""Contours as DXF entities, formatted straight to text (published DXF reference, group codes of each entity).

Checked entity for entity against ezdxf's own writer by the tests. Numbers are in the file's unit.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from pipeline.geometry.curves import Array, Chain, Path

DECIMALS = 6
"""Places of a coordinate: a millionth of a millimetre (or of an inch) is far below any machine."""

FIRST_HANDLE = 0x10000
"""Handles of a plaque's entities start here, above all of the prepared document's."""


class Entities:
    """Text of entities, with handles counted up."""

    def __init__(self, version: str, owner: str) -> None:
        """version: R12 has POLYLINE only, the others LWPOLYLINE and SPLINE. owner: the model space's handle."""
        self.old, self.owner = version == "R12", owner
        self.handle = FIRST_HANDLE
        self.text: list[str] = []

    def polyline(self, vertices: Array, layer: str, closed: bool) -> None:
        """vertices: (n, 3) of x, y, bulge in the file's unit."""
        if self.old:
            self._old_polyline(vertices, layer, closed)
            return
        head = f"  0\nLWPOLYLINE\n{self._common(layer)}100\nAcDbPolyline\n 90\n{len(vertices)}\n 70\n{int(closed)}\n"
        self.text.append(head + "".join(_vertex(x, y, b) for x, y, b in vertices.tolist()))

    def _old_polyline(self, vertices: Array, layer: str, closed: bool) -> None:
        out = [f"  0\nPOLYLINE\n  8\n{layer}\n 66\n1\n 10\n0.0\n 20\n0.0\n 30\n0.0\n 70\n{int(closed)}\n"]
        out += [
            f"  0\nVERTEX\n  8\n{layer}\n{_vertex(x, y, 0.0)} 30\n0.0\n" + (f" 42\n{_number(b, 9)}\n" if b else "")
            for x, y, b in vertices.tolist()
        ]
        self.text.append("".join(out) + f"  0\nSEQEND\n  8\n{layer}\n")

    def spline(self, points: Array, layer: str, closed: bool) -> None:
        """points: (3n + 1, 2), the Bézier points of n cubics: a B-spline of degree 3 with triple inner knots is exactly
        these curves."""
        count = (len(points) - 1) // 3
        knots = [0.0] * 4 + [float(k) for k in range(1, count) for _ in range(3)] + [float(count)] * 4
        head = (
            f"  0\nSPLINE\n{self._common(layer)}100\nAcDbSpline\n 70\n{8 | int(closed)}\n"
            f" 71\n3\n 72\n{len(knots)}\n 73\n{len(points)}\n 74\n0\n"
        )
        body = "".join(f" 40\n{k:.1f}\n" for k in knots)
        body += "".join(f" 10\n{_number(x)}\n 20\n{_number(y)}\n 30\n0.0\n" for x, y in points.tolist())
        self.text.append(head + body)

    def _common(self, layer: str) -> str:
        self.handle += 1
        return f"  5\n{self.handle:X}\n330\n{self.owner}\n100\nAcDbEntity\n  8\n{layer}\n"


def _number(value: float, decimals: int = DECIMALS) -> str:
    text = f"{value:.{decimals}f}".rstrip("0")
    return f"{text}0" if text.endswith(".") else ("0.0" if text == "-0.0" else text)


def _vertex(x: float, y: float, bulge: float) -> str:
    text = f" 10\n{_number(x)}\n 20\n{_number(y)}\n"
    return text + f" 42\n{_number(bulge, 9)}\n" if bulge else text


def cubics_of(path: Path) -> Array:
    """All segments of a path as cubics, (3n + 1, 2). Raising the degree changes no curve."""
    out = [path.points[0]]
    for segment in path.segments():
        p, q = segment[0], segment[-1]
        if len(segment) == 2:
            out += [p + (q - p) / 3, p + (q - p) * 2 / 3, q]
        elif len(segment) == 3:
            out += [p + (segment[1] - p) * 2 / 3, q + (segment[1] - q) * 2 / 3, q]
        else:
            out += list(segment[1:])
    return np.asarray(out)


def mirrored(chains: Iterable[Chain], width: float) -> tuple[Chain, ...]:
    """Chains as seen from the back of a blank of this width, mm."""
    out = []
    for chain in chains:
        vertices = chain.vertices.copy()
        vertices[:, 0] = width - vertices[:, 0]
        vertices[:, 2] = -vertices[:, 2]
        out.append(Chain(vertices, chain.closed))
    return tuple(out)
