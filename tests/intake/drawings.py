"""Drawings for tests: a 100 × 60 plate with a zone, drawn however a test wants."""

from __future__ import annotations

import itertools
from pathlib import Path

import ezdxf

from pipeline.core.catalogue import format_message
from pipeline.core.config.order import BlankConfig, LayersConfig
from pipeline.intake.drawing.blank_drawing import parse_blank

EDGE = [(0, 0), (100, 0), (100, 60), (0, 60)]
ZONE = [(10, 10), (90, 10), (90, 50), (10, 50)]


def new(version="R2010", units=4):
    doc = ezdxf.new(version)
    if version != "R12":
        doc.header["$INSUNITS"] = units
    for name in ("EDGE", "LETTERING", "KEEP_OUT", "POCKET"):
        doc.layers.add(name)
    return doc, doc.modelspace()


def lines(space, points, layer, closed=True):
    ends = [*points, points[0]] if closed else points
    for p, q in itertools.pairwise(ends):
        space.add_line(p, q, dxfattribs={"layer": layer})


def plate(version="R2010", units=4, edge=True, zone=True):
    """Return a document with the plate's edge and zone, and its model space."""
    doc, space = new(version, units)
    if edge:
        lines(space, EDGE, "EDGE")
    if zone:
        lines(space, ZONE, "LETTERING")
    return doc, space


def read(doc, folder: Path, **blank):
    """Write the drawing and read it as a blank: (blank, findings)."""
    path = folder / "plate.dxf"
    doc.saveas(path)
    return read_file(path, **blank)


def read_file(path: Path, **blank):
    if "layers" in blank:
        blank["layers"] = LayersConfig(**blank["layers"])
    part = BlankConfig(drawing=path.name, **blank)
    return parse_blank(path, path.read_bytes(), part, key="order.toml, [blank]")


def words(findings):
    return [f"{f.code}: {format_message(f)}" for f in findings]
