"""Cut files as independent readers see them: ezdxf, GDAL and two npm packages, converted to a common form.

*ezdxf* (MIT) with its audit and its own flattening; *GDAL* (MIT) through pyogrio (MIT), its chords; *dxf-parser* and
*dxf* (both MIT), their vertices, bulges, control points and knots, sampled here by published definitions.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio.raw
import shapely
from ezdxf.path import make_path
from scipy.interpolate import BSpline

PACKAGES = ("dxf-parser@1.1.2", "dxf@5.3.1")
UNITS = {1: "in", 4: "mm", 0: None, None: None}
"""$INSUNITS (published DXF reference)."""

SCRIPT = """
const fs = require("fs"), path = require("path");
const Parser = require("dxf-parser"), dxf = require("dxf");
const quiet = () => {};
const log = console.log;
console.log = console.warn = console.error = quiet;
const out = {};
for (const name of process.argv.slice(2)) {
  const text = fs.readFileSync(name, "utf8");
  const one = new (Parser.DxfParser || Parser.default || Parser)().parseSync(text);
  const two = dxf.parseString(text);
  out[name] = {
    "dxf-parser": {
      unit: one.header["$INSUNITS"],
      curves: one.entities.map((e) => ({ layer: e.layer, kind: e.type, closed: !!(e.shape || e.closed),
        points: (e.vertices || e.controlPoints).map((v) => [v.x, v.y, v.bulge || 0]),
        degree: e.degreeOfSplineCurve, knots: e.knotValues })),
    },
    dxf: {
      unit: two.header.insUnits,
      curves: two.entities.map((e) => ({ layer: e.layer, kind: e.type, closed: !!e.closed,
        points: (e.vertices || e.controlPoints).map((v) => [v.x, v.y, v.bulge || 0]),
        degree: e.degree, knots: e.knots })),
    },
  };
}
log(JSON.stringify(out));
"""


@dataclass(frozen=True)
class Seen:
    """One contour. points: (n, 2), dense, in mm."""

    layer: str
    closed: bool
    points: np.ndarray


@dataclass(frozen=True)
class Reading:
    """The result of a reader. unit: None where the file has none, "?" where the reader doesn't report it."""

    unit: str | None
    contours: tuple[Seen, ...]
    faults: int = 0

    def on(self, layer: str) -> list[Seen]:
        return [c for c in self.contours if c.layer == layer]

    def area(self, layer: str) -> float:
        """Return the area inside the layer's closed contours, mm²; holes are recognised by their direction."""
        return abs(sum(_area(c.points) for c in self.on(layer) if c.closed))

    def box(self) -> tuple[float, ...]:
        points = np.concatenate([c.points for c in self.contours])
        return (*points.min(axis=0).tolist(), *points.max(axis=0).tolist())


def _area(ring: np.ndarray) -> float:
    x, y = (ring - ring[0]).T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2)


def by_ezdxf(file: Path, one: float) -> Reading:
    """one: mm in a unit of the file."""
    drawing = ezdxf.readfile(file)
    audit = drawing.audit()
    seen = []
    for entity in drawing.modelspace():
        # its paths are cubics fitted to a spline, up to 0.05 mm off; its flattening uses the spline itself
        spline = entity.dxftype() == "SPLINE"
        path = None if spline else make_path(entity)
        run = entity.flattening(0.0005 / one) if spline else path.flattening(0.0005 / one, segments=4)
        points = np.array([tuple(p)[:2] for p in run]) * one
        seen.append(Seen(entity.dxf.layer, entity.closed if spline else path.is_closed, points))
    unit = None if drawing.dxfversion == "AC1009" else UNITS[drawing.header["$INSUNITS"]]
    return Reading(unit, tuple(seen), len(audit.errors) + len(audit.fixes))


def by_gdal(file: Path, one: float) -> Reading:
    os.environ["OGR_ARC_STEPSIZE"] = "0.5"
    about, _, geometry, fields = pyogrio.raw.read(file)
    layers = fields[about["fields"].tolist().index("Layer")]
    seen = []
    for layer, shape in zip(layers, shapely.from_wkb(geometry), strict=True):
        points = shapely.get_coordinates(shape) * one
        seen.append(Seen(layer, bool(np.hypot(*(points[0] - points[-1])) < 1e-5), points))
    return Reading("?", tuple(seen))


def npm_packages(folder: Path) -> str:
    """Install the packages into a folder; return why that failed, or nothing."""
    if not (shutil.which("node") and shutil.which("npm")):
        return "node and npm are not here"
    quiet = ["--no-audit", "--no-fund", "--silent", "--ignore-scripts"]
    command = ["npm", "install", *quiet, "--fetch-retries=0", "--fetch-timeout=20000", *PACKAGES]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode:
        return f"npm cannot install {' and '.join(PACKAGES)}: {done.stderr.strip()[:200]}"
    (folder / "read.js").write_text(SCRIPT)
    return ""


def by_npm(folder: Path, files: Sequence[Path], ones: Sequence[float]) -> dict[Path, dict[str, Reading]]:
    """Read every file with both packages, in one process."""
    command = ["node", "read.js", *map(str, files)]
    said = json.loads(subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True).stdout)
    return {
        file: {reader: _reading(found, one) for reader, found in said[str(file)].items()}
        for file, one in zip(files, ones, strict=True)
    }


def _reading(found: dict, one: float) -> Reading:
    seen = tuple(Seen(c["layer"], c["closed"], _dense(c) * one) for c in found["curves"])
    return Reading(UNITS[found.get("unit")], seen)


def _dense(curve: dict) -> np.ndarray:
    points = np.array(curve["points"], float)
    if curve["kind"] == "SPLINE":
        degree, knots = curve["degree"], np.array(curve["knots"])
        t = np.unique(np.concatenate([np.linspace(a, b, 60) for a, b in pairwise(knots)]))
        return BSpline(knots, points[:, :2], degree)(t)
    z = points[:, 0] + 1j * points[:, 1]
    ends = np.roll(z, -1) if curve["closed"] else z[1:]
    parts = [z[:1]]
    for p, q, b in zip(z, ends, points[:, 2], strict=False):
        f = np.arange(1, 33) / 32 if b else np.ones(1)
        turn = 4j * atan(b)  # published DXF reference: b = tan(included angle / 4)
        parts.append(p + (q - p) * ((np.exp(turn * f) - 1) / (np.exp(turn) - 1) if b else f))
    line = np.concatenate(parts)
    return np.column_stack((line.real, line.imag))
