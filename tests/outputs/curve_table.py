"""The sample orders' cut files with lines, arcs and splines: vertices, bytes, distances, and what other readers
report.

As a program: `python -m tests.outputs.curve_table [ORDER…] [--keep FOLDER]`. Every plaque is written and verified;
the readers read every file of the first twelve plaques.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pipeline.core.config.order import OrderFolder
from pipeline.core.model import Plaque
from pipeline.geometry.flatten import chain_area, chain_box, outline_area, outline_box
from pipeline.order_inputs import OrderInputs, read_inputs
from pipeline.order_state import check_plaques
from pipeline.outputs.cut_files.cut_files import CutFiles
from tests.outputs.readers import Reading, by_ezdxf, by_gdal, by_npm, npm_packages

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"
CURVES = ("lines", "arcs", "splines")
READ = 12
READERS = ("ezdxf", "GDAL", "dxf-parser", "dxf")


@dataclass(frozen=True)
class Row:
    """One order with one kind of curve."""

    order: str
    curves: str
    plaques: int
    vertices: int  # of the engraved contours
    size: int  # bytes of all files
    deviation: float  # mm, the largest
    said: dict[str, str]  # by reader


def with_curves(folder: OrderFolder, curves: str) -> OrderFolder:
    files = folder.order.files.model_copy(update={"curves": curves, "also": []})
    return folder.model_copy(update={"order": folder.order.model_copy(update={"files": files})})


def rows(order: Path, node: Path | None, place: Path) -> list[Row]:
    """node: a folder with the npm packages."""
    read = read_inputs(order)
    plaques = check_plaques(read).plaques
    ready = [p for p in plaques if p.fingerprint]
    return [_row(read, ready, curves, node, place / curves) for curves in CURVES]


def _row(read: OrderInputs, plaques: list[Plaque], curves: str, node: Path | None, place: Path) -> Row:
    folder = with_curves(read.folder, curves)
    files = CutFiles(folder, read.blank, place, "0.1.0", read.cache)
    made = [files.make(plaque) for plaque in plaques]
    wrong = [f for p in made for f in p.findings if f.code == "file.read-back-differs"]
    if wrong:
        raise AssertionError(wrong[0])
    figures = [dict(p.proved) for p in made]
    alike = {p.cut_file: p for p in made}
    some = [(place / name, plaque) for name, plaque in list(alike.items())[:READ]]
    one = folder.order.unit.mm
    found: dict[str, list[Reading]] = {
        "ezdxf": [by_ezdxf(file, one) for file, _ in some],
        "GDAL": [by_gdal(file, one) for file, _ in some],
    }
    if node is not None:
        by_node = by_npm(node, [file for file, _ in some], [one] * len(some))
        for reader in ("dxf-parser", "dxf"):
            found[reader] = [by_node[file][reader] for file, _ in some]
    unit = folder.order.units
    return Row(
        order=read.folder.folder.name,
        curves=curves,
        plaques=len(made),
        vertices=int(sum(f["vertices"] for f in figures)),
        size=int(sum(f["bytes"] for f in figures)),
        deviation=max(f["deviation"] for f in figures),
        said={name: _said(readings, [p for _, p in some], unit) for name, readings in found.items()},
    )


def _said(readings: list[Reading], plaques: list[Plaque], unit: str) -> str:
    """Return “good”, or what is wrong: contours missing or open, another unit, a wrong area or bounding box."""
    worst_area, worst_box, wrong = 0.0, 0.0, []
    for reading, plaque in zip(readings, plaques, strict=True):
        engraved = reading.on("ENGRAVE")
        closed, area, box = _artwork(plaque)
        wrong += ["contours"] if len(engraved) != len(closed) else []
        wrong += ["open"] if sum(c.closed for c in engraved) != sum(closed) else []
        wrong += ["unit"] if reading.unit not in ("?", unit) else []
        wrong += ["audit"] if reading.faults else []
        worst_area = max(worst_area, abs(reading.area("ENGRAVE") / area - 1) if area else 0.0)
        points = np.concatenate([c.points for c in engraved])
        there = np.array([*points.min(axis=0), *points.max(axis=0)])
        worst_box = max(worst_box, float(np.abs(there - box).max()))
    told = f"area {worst_area:.3%}, " if any(_artwork(p)[1] for p in plaques) else ""
    return f"{told}box {worst_box:.3f} mm" + (f"; {', '.join(sorted(set(wrong)))} wrong" if wrong else "")


def _artwork(plaque: Plaque) -> tuple[list[bool], float, np.ndarray]:
    """Return which contours of a plaque's front lettering are closed, their area and their common bounding box: of
    its outlines, or of what replaces them. Single lines have no area."""
    closed: list[bool] = []
    area, boxes = 0.0, []
    for line in plaque.artwork.lines:
        if line.side != "front":
            continue
        grown = iter(line.grown)
        for row in line.rows:
            for piece in row.pieces:
                wider = next(grown, None)
                outline = piece.build_outline()
                if wider is not None and wider.chains:
                    chains = [c.transform(piece.scale, piece.x, piece.y, piece.turn) for c in wider.chains]
                    closed += [c.closed for c in chains]
                    area += sum(chain_area(c) for c in chains)
                    boxes += [box for box in map(chain_box, chains) if box]
                    continue
                closed += [path.closed for path in outline]
                area += 0.0 if piece.shape.single_line else outline_area(outline)
                boxes += [box for box in [outline_box(outline)] if box]
    edges = np.array(boxes)
    return closed, abs(area), np.concatenate((edges[:, :2].min(axis=0), edges[:, 2:].max(axis=0)))


def table(found: list[Row]) -> str:
    """Return the table as Markdown."""
    out = ["| order | curves | plaques | vertices | kB | farthest off | " + " | ".join(READERS) + " |"]
    out.append("|---|---|---|---|---|---|" + "---|" * len(READERS))
    for row in found:
        said = " | ".join(row.said.get(reader, "not here") for reader in READERS)
        out.append(
            f"| {row.order} | {row.curves} | {row.plaques} | {row.vertices:,} | {row.size / 1000:,.0f} | "
            f"{row.deviation:.4f} mm | {said} |"
        )
    return "\n".join(out)


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("orders", nargs="*", type=Path, default=sorted(p for p in SAMPLES.iterdir() if p.is_dir()))
    asked.add_argument("--keep", type=Path, help="a folder the cut files are left in")
    args = asked.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        node = Path(temporary) / "node"
        node.mkdir()
        missing = npm_packages(node)
        if missing:
            print(missing)
        found = []
        for order in args.orders:
            found += rows(order, None if missing else node, (args.keep or Path(temporary)) / order.name)
        print(table(found))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
