"""Frames of drawings, made once an order and kept between runs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.core.environment import drawing_library
from pipeline.core.storage.cache import Cache
from pipeline.core.units import UnitName
from pipeline.outputs.cut_files.dxf.template import DrawingTemplate


def get_drawing_template(
    version: str,
    unit: UnitName,
    size: tuple[float, float],
    layers: Sequence[tuple[str, str]],
    properties: Mapping[str, str | None],
    corner: tuple[float, float] = (0.0, 0.0),
    *,
    cache: Cache,
) -> DrawingTemplate:
    """A prepared drawing. size: width and height of what is drawn in the file's unit, from its lower left `corner`.
    layers: (ours, name in the file). properties: header properties; those of value None are filled in file by file.
    cache: where it is kept: the library of drawings takes longer to load than all else that a small order needs."""
    given = (version, unit, size, tuple(layers), tuple(properties.items()), corner)

    def prepare() -> DrawingTemplate:
        drawing_library.load()
        from pipeline.outputs.cut_files.dxf.ezdxf_template import build_ezdxf_template

        return build_ezdxf_template(version, unit, size, layers, properties, corner)

    return cache.get_or_compute("frame", given, DrawingTemplate, prepare)
