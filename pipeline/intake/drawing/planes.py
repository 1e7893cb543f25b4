"""Drawings that are not in the ground plane: level ones are looked at from above, tilted ones are turned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from ezdxf import path as outlines
from ezdxf.math import Matrix44

from pipeline.core.errors import CannotRun, Fault
from pipeline.geometry.curves import Array

FLAT = 0.01
"""mm. A drawing whose points lie within this distance of one plane is flat."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tilt:
    """How a drawing is laid into the ground plane. `side` is empty when it lies level already."""

    low: float = 0.0  # heights of a level drawing, mm
    high: float = 0.0
    side: str = ""
    matrix: Matrix44 | None = None

    def turn_entity(self, entity: Any) -> Any:
        """Return the entity, turned into the ground plane."""
        if self.matrix is None:
            return entity
        turned = entity.copy()
        turned.transform(self.matrix)
        return turned


def level_entities(entities: Sequence[Any], mm: float, file: Path) -> Tilt:
    """Find how to turn these entities flat. CannotRun when they share no plane and aren't each level."""
    heights = [h for e in entities if (h := _find_level_height(e)) is not None]
    if len(heights) == len(entities):
        if not heights:
            return Tilt()
        return Tilt(low=min(heights) * mm, high=max(heights) * mm)
    cloud = np.vstack([p for e in entities if len(p := _list_places(e))])
    spread = np.array([_measure_spread(_list_places(e)[:, 2]) for e in entities if len(_list_places(e))])
    if spread.max() * mm <= FLAT:
        return Tilt(low=float(cloud[:, 2].min()) * mm, high=float(cloud[:, 2].max()) * mm)
    middle = cloud.mean(axis=0)
    _, _, axes = np.linalg.svd(cloud - middle, full_matrices=False)
    normal = axes[2]
    off = float(np.abs((cloud - middle) @ normal).max()) * mm
    if off > FLAT:
        raise CannotRun(
            Fault(
                where=str(file),
                found=f"the drawing is not flat: its contours leave their best plane by up to {off:.3g} mm",
                expected=f"contours within {FLAT:g} mm of one plane",
                remedy="save the outline of the piece alone, seen from above",
            )
        )
    normal, across, side = _find_view(normal)
    up = np.cross(normal, across)
    matrix = Matrix44.ucs(tuple(across), tuple(up), tuple(normal), tuple(middle))
    matrix.inverse()
    return Tilt(side=side, matrix=matrix)


def _find_view(normal: Array) -> tuple[Array, Array, str]:
    """Return the normal towards the viewer, the direction that becomes x, and the viewer's position."""
    x, y, z = normal
    if abs(z) > 1e-6:
        normal = normal if z > 0 else -normal
        across = np.cross([0.0, 1.0, 0.0], normal)
        across = across if np.linalg.norm(across) > 1e-6 else np.array([1.0, 0.0, 0.0])
        return normal, across / np.linalg.norm(across), "above"
    if abs(y) >= abs(x):
        normal = normal if y < 0 else -normal
        side = "the front"
    else:
        normal = normal if x > 0 else -normal
        side = "the right"
    across = np.cross([0.0, 0.0, 1.0], normal)
    return normal, across / np.linalg.norm(across), side


def _measure_spread(values: Array) -> float:
    return float(values.max() - values.min())


def _find_level_height(entity: Any) -> float | None:
    """Return the height of an entity that is obviously level; None when that needs closer examination."""
    kind, dxf = entity.dxftype(), entity.dxf
    normal = dxf.get("extrusion", (0, 0, 1))
    upright = abs(normal[0]) < 1e-9 and abs(normal[1]) < 1e-9
    if kind == "LINE":
        return float(dxf.start.z) if abs(dxf.start.z - dxf.end.z) < 1e-9 else None
    if not upright:
        return None
    sign = 1.0 if normal[2] > 0 else -1.0
    if kind in ("ARC", "CIRCLE"):
        return float(dxf.center.z) * sign
    if kind == "LWPOLYLINE":
        return float(dxf.get("elevation", 0.0)) * sign
    if kind == "HATCH":
        return float(dxf.elevation.z) * sign
    if kind == "ELLIPSE":
        return float(dxf.center.z) if abs(dxf.major_axis.z) < 1e-9 else None
    return None


def _list_places(entity: Any) -> Array:
    """List points in an entity's plane, in the drawing's own units; none for an entity without a path."""
    try:
        paths = list(outlines.from_hatch(entity)) if entity.dxftype() == "HATCH" else [outlines.make_path(entity)]
        points = [tuple(v) for p in paths if len(p) for v in p.control_vertices()]
    except (TypeError, ValueError, ZeroDivisionError):
        return np.zeros((0, 3))
    return np.array(points) if points else np.zeros((0, 3))
