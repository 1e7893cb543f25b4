"""The frame of a drawing as ezdxf makes it.

ezdxf alone knows what a valid drawing of each version needs; this is the only module that asks it to write one.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

import ezdxf
from ezdxf.document import Drawing
from ezdxf.filemanagement import new

from pipeline.core.units import UnitName
from pipeline.outputs.cut_files.dxf.template import (
    ACADVER,
    CARRIES_PROPERTIES,
    COLOURS,
    INSUNITS,
    REFERENCE,
    DrawingTemplate,
    join_in_one_line,
)

_BEGINS = "  2\r\nENTITIES\r\n"
_options = ezdxf.options  # type: ignore[attr-defined]
_MARGIN = 1.1  # of the extents shown when the drawing opens
_VIEW_RATIO = 1.34  # width to height of that window, the default of ezdxf and the DXF reference
_FILLED = "PLAQUES-PROPERTY-"


def build_ezdxf_template(
    version: str,
    unit: UnitName,
    size: tuple[float, float],
    layers: Sequence[tuple[str, str]],
    properties: Mapping[str, str | None],
    corner: tuple[float, float],
) -> DrawingTemplate:
    """Build the template with ezdxf, regardless of what `template_cache.py` holds."""
    with _freeze_time():
        drawing = new(version)
        drawing.header["$INSUNITS"] = 0 if version == "R12" else INSUNITS[unit]  # R12 has no such variable
        if version != "R12":
            drawing.header["$MEASUREMENT"] = int(unit == "mm")
        drawing.header["$LUNITS"] = 2
        drawing.header["$LUPREC"] = 4
        space = drawing.modelspace()
        low, high = (*corner, 0.0), (corner[0] + size[0], corner[1] + size[1], 0.0)
        drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = low, high
        space.reset_extents(low, high)  # in R12 too, otherwise ezdxf writes its defaults to the header
        space.reset_limits(low[:2], high[:2])
        height = _MARGIN * max(size[1], size[0] / _VIEW_RATIO)
        drawing.set_modelspace_vport(height=height, center=(corner[0] + size[0] / 2, corner[1] + size[1] / 2))
        for ours, name in layers:
            layer = drawing.layers.add(name, color=COLOURS[ours])
            if ours in REFERENCE and version == "R12":
                layer.off()
            elif ours in REFERENCE:
                layer.dxf.plot = 0
        places = []
        if version in CARRIES_PROPERTIES:
            for number, (name, value) in enumerate(properties.items()):
                places += [] if value is not None else [f"{_FILLED}{number}-"]
                drawing.header.custom_vars.append(
                    name, f"{_FILLED}{number}-" if value is None else join_in_one_line(value)
                )
        stream = io.StringIO()
        sort_objects(drawing)
        drawing.write(stream)
    return _split_template(stream.getvalue().replace("\n", "\r\n"), places, drawing, version)


def sort_objects(drawing: Drawing) -> None:
    """Puts the table of classes in the order of their names: ezdxf takes them from a set, whose order changes from one
    process to the next."""
    table = drawing.classes
    if drawing.dxfversion > ACADVER["R12"]:
        table.add_required_classes(drawing.dxfversion)
        for key in sorted(table.classes):
            table.classes[key] = table.classes.pop(key)


@contextmanager
def _freeze_time() -> Iterator[None]:
    """ezdxf leaves out the times and random numbers that would make equal input unequal."""
    before = _options.write_fixed_meta_data_for_testing
    _options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        _options.write_fixed_meta_data_for_testing = before


def _split_template(text: str, places: Sequence[str], drawing: Drawing, version: str) -> DrawingTemplate:
    seed = re.search(r"(?<=\$HANDSEED\r\n  5\r\n)[0-9A-F]+(?=\r\n)", text)
    if seed is None:
        raise AssertionError("the prepared drawing has no handle seed")
    found = [(text.index(p), text.index(p) + len(p)) for p in places] + [seed.span()]
    if found != sorted(found):
        raise AssertionError("the properties of the prepared drawing do not stand before its handle seed")
    entities = text.index(_BEGINS) + len(_BEGINS)
    parts, at = [], 0
    for start, end in found:
        parts.append(text[at:start])
        at = end
    return DrawingTemplate(
        before_properties=tuple(parts[:-1]),
        before_seed=parts[-1],
        before_entities=text[at:entities],
        after_entities=text[entities:],
        first_handle=int(seed.group(), 16),
        owner="" if version == "R12" else str(drawing.modelspace().layout_key),
        encoding="utf-8" if version in CARRIES_PROPERTIES else "ascii",
    )
