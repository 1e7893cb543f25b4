"""Frames of drawings, made once an order and kept between runs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.core.codes import sha256_of
from pipeline.core.form import of_form
from pipeline.core.kept import Keeper
from pipeline.core.units import UnitName
from pipeline.outputs.cutting.frame import CARRIES_PROPERTIES, Frame


def frame(
    version: str,
    unit: UnitName,
    size: tuple[float, float],
    layers: Sequence[tuple[str, str]],
    properties: Mapping[str, str | None],
    corner: tuple[float, float] = (0.0, 0.0),
    *,
    keeper: Keeper,
) -> Frame:
    """A prepared drawing. size: width and height of what is drawn in the file's unit, from its lower left `corner`.
    layers: (ours, name in the file). properties: header properties; those of value None are filled in file by file.
    keeper: where it is kept: the library of drawings takes longer to load than all else that a small order needs."""
    given = [version, unit, [*size], [[*layer] for layer in layers], [*properties.items()], [*corner]]
    kept = keeper.open(f"frame-{sha256_of(given)[:24]}")
    filled = sum(value is None for value in properties.values()) if version in CARRIES_PROPERTIES else 0
    found = kept.get("frame", "whole", lambda plain: _read(plain, filled))
    if found is None:
        from pipeline.outputs.cutting.prepared import prepared

        found = prepared(version, unit, size, layers, properties, corner)
        kept.put("frame", "whole", [getattr(found, name) for name in Frame.__slots__])
    return found


def _read(plain: Any, filled: int) -> Frame:
    properties, *rest = of_form(plain, ((str,) * filled, str, str, str, int, str, str))
    return Frame(tuple(properties), *rest)
