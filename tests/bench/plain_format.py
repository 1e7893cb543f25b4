"""The plainest formatter of a plaque's cut file: the yardstick of what writing these bytes has to cost.

It gets everything already decided (contours in mm in place, the drawing's frame) and writes one group after another.
`same_bytes` compares the result with the file of a run.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pipeline.core.model import Plaque
from pipeline.geometry.curves import Chain
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.dxf.entities import ROUND
from pipeline.outputs.cut_files.file_contents import group_blocks


@dataclass(frozen=True)
class Prepared:
    """Everything known before formatting starts."""

    name: str  # of the file, below the output folder
    comments: list[str]
    contours: list[tuple[str, list[tuple[float, float, float]], bool, bool]]
    """Layer in the file, x y bulge in mm, closed, first of a row."""


def prepared(writer: CutFiles, plaque: Plaque) -> Prepared:
    """Return a plaque's front as plain numbers. The order has to use mm, arcs, and a version with lightweight
    polylines."""
    contours = []
    for layer, pieces in writer.plan_file(plaque, "front").layers:
        for row in group_blocks(pieces):
            placed = [(piece, contour) for piece in row for contour in piece.contours]
            for number, (piece, contour) in enumerate(placed):
                assert isinstance(contour, Chain)
                there = np.column_stack((piece.place(contour.vertices[:, :2]), contour.vertices[:, 2]))
                vertices = [(x, y, bulge) for x, y, bulge in there.tolist()]
                name = writer.order.files.layers.get(layer, layer)
                contours.append((name, vertices, contour.closed, number == 0))
    return Prepared(writer.list_names(plaque)[0], writer._list_comments(plaque, "front"), contours)


def formatted(writer: CutFiles, plaque: Plaque, ready: Prepared) -> bytes:
    """Return the bytes of the file."""
    frame = writer._get_template("front")
    handle, owner, out = frame.first_handle, frame.owner, []
    for layer, vertices, closed, opens in ready.contours:
        handle = -(-handle // ROUND) * ROUND if opens else handle
        out.append("  0\nLWPOLYLINE\n")
        out.append(f"  5\n{handle:X}\n")
        out.append(f"330\n{owner}\n")
        out.append("100\nAcDbEntity\n")
        out.append(f"  8\n{layer}\n")
        out.append("100\nAcDbPolyline\n")
        out.append(f" 90\n{len(vertices)}\n")
        out.append(f" 70\n{int(closed)}\n")
        for x, y, bulge in vertices:
            out.append(f" 10\n{x + 0.0:.5f}\n")
            out.append(f" 20\n{y + 0.0:.5f}\n")
            bent = f"{bulge:.9f}".rstrip("0")
            if float(bent) != 0:
                out.append(f" 42\n{bent}\n")
        handle += 1
    return frame.render(ready.comments, [plaque.fingerprint], "".join(out).replace("\n", "\r\n"), handle)


def write(writer: CutFiles, plaque: Plaque, ready: Prepared, target: Path) -> None:
    """Write one file to the target folder."""
    (target / Path(ready.name).name).write_bytes(formatted(writer, plaque, ready))


def same_bytes(writer: CutFiles, plaque: Plaque, out: Path) -> bool:
    """Return whether the file of a run, below its output folder, equals the one formatted here."""
    ready = prepared(writer, plaque)
    return formatted(writer, plaque, ready) == (out / ready.name).read_bytes()
