"""The frame of a drawing: everything round the entities, made by ezdxf once an order and then filled in as text.

ezdxf alone knows what a valid drawing of each version needs; this is the only module that asks it to write one.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import ezdxf
from ezdxf.document import Drawing
from ezdxf.filemanagement import new
from ezdxf.lldxf.encoding import encode

from pipeline.core.units import UnitName

ACADVER = {"R12": "AC1009", "R2000": "AC1015", "R2007": "AC1021", "R2010": "AC1024", "R2018": "AC1032"}
"""Published DXF reference, $ACADVER."""

INSUNITS = {"in": 1, "mm": 4}
"""Published DXF reference, $INSUNITS."""

CARRIES_PROPERTIES = ("R2007", "R2010", "R2018")
"""Versions with custom properties in their header; UTF-8 text came with the same ones."""

COLOURS = {
    "EDGE": 7,
    "ENGRAVE": 5,
    "GROOVE": 4,
    "POCKET": 30,
    "REST": 40,
    "REGISTRATION": 6,
    "ZONE": 9,
    "KEEP_OUT": 8,
    "DATUM": 1,
    "BOARD": 8,
    "SAW": 12,
    "CLAMP": 52,
    "KNOT": 34,
}
"""Colour numbers of the layers, our own choice: cut ones stand out on light and dark grounds. Of those for reference a
blank's are grey; a board's are told apart by colour, since they say where the cutter must not go."""

REFERENCE = ("ZONE", "KEEP_OUT", "DATUM", "BOARD", "SAW", "CLAMP", "KNOT")
"""Layers to look at, not to cut: they do not plot (R12 knows no such mark: there they are switched off)."""

_options = ezdxf.options  # type: ignore[attr-defined]
_MARGIN = 1.1  # of the part shown round it when the drawing opens
_VIEW_RATIO = 1.34  # width to height of the window a drawing opens in, ezdxf's and the reference's default
_SEED, _FILLED = "PLAQUES-HANDLE-SEED", "PLAQUES-PROPERTY-"


@dataclass(frozen=True, slots=True)
class Frame:
    """A prepared drawing without entities, in parts: text to be joined by what differs from file to file."""

    before_properties: tuple[str, ...]  # one part before each property's value, in their order
    before_seed: str
    before_entities: str
    after_entities: str
    first_handle: int
    owner: str  # handle of the model space's block record; empty in R12
    encoding: str

    def filled(self, comments: Sequence[str], properties: Sequence[str], entities: str, next_handle: int) -> bytes:
        """The whole file. next_handle: one more than the last handle of the entities. Line ends are CR LF, which every
        reader of the format takes. Before R2007 all but ASCII is written as \\U+nnnn (published DXF reference)."""
        head = [f"999\n{line}\n" for line in comments]
        if self.before_properties:
            for part, value in zip(self.before_properties, properties, strict=True):
                head += [part, value]
        head += [self.before_seed, f"{next_handle:X}", self.before_entities, entities, self.after_entities]
        text = "".join(head).replace("\n", "\r\n")
        return text.encode("ascii") if text.isascii() else encode(text, self.encoding)


def frame(
    version: str,
    unit: UnitName,
    size: tuple[float, float],
    layers: Sequence[tuple[str, str]],
    properties: Mapping[str, str | None],
    corner: tuple[float, float] = (0.0, 0.0),
) -> Frame:
    """A prepared drawing. size: width and height of what is drawn in the file's unit, from its lower left `corner`.
    layers: (ours, name in the file). properties: header properties; those of value None are filled in file by file."""
    with _without_time():
        drawing = new(version)
        drawing.header["$INSUNITS"] = 0 if version == "R12" else INSUNITS[unit]  # R12 cannot carry it
        if version != "R12":
            drawing.header["$MEASUREMENT"] = int(unit == "mm")
        drawing.header["$LUNITS"] = 2
        drawing.header["$LUPREC"] = 4
        space = drawing.modelspace()
        low, high = (*corner, 0.0), (corner[0] + size[0], corner[1] + size[1], 0.0)
        drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = low, high
        space.reset_extents(low, high)  # in R12 too, or ezdxf puts its own into the header
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
                drawing.header.custom_vars.append(name, f"{_FILLED}{number}-" if value is None else one_line(value))
        stream = io.StringIO()
        in_one_order(drawing)
        drawing.write(stream)
    return _parted(stream.getvalue(), places, drawing, version)


def in_one_order(drawing: Drawing) -> None:
    """Puts the table of classes in the order of their names: ezdxf takes them from a set, whose order changes from one
    process to the next."""
    table = drawing.classes
    if drawing.dxfversion > ACADVER["R12"]:
        table.add_required_classes(drawing.dxfversion)
        for key in sorted(table.classes):
            table.classes[key] = table.classes.pop(key)


@contextmanager
def _without_time() -> Iterator[None]:
    """ezdxf leaves out the times and random numbers that would make equal input unequal."""
    before = _options.write_fixed_meta_data_for_testing
    _options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        _options.write_fixed_meta_data_for_testing = before


def _parted(text: str, places: Sequence[str], drawing: Drawing, version: str) -> Frame:
    seed = re.search(r"(?<=\$HANDSEED\n  5\n)[0-9A-F]+(?=\n)", text)
    if seed is None:
        raise AssertionError("the prepared drawing has no handle seed")
    found = [(text.index(p), text.index(p) + len(p)) for p in places] + [seed.span()]
    if found != sorted(found):
        raise AssertionError("the properties of the prepared drawing do not stand before its handle seed")
    entities = text.index("  2\nENTITIES\n") + len("  2\nENTITIES\n")
    parts, at = [], 0
    for start, end in found:
        parts.append(text[at:start])
        at = end
    return Frame(
        before_properties=tuple(parts[:-1]),
        before_seed=parts[-1],
        before_entities=text[at:entities],
        after_entities=text[entities:],
        first_handle=int(seed.group(), 16),
        owner="" if version == "R12" else str(drawing.modelspace().layout_key),
        encoding="utf-8" if version in CARRIES_PROPERTIES else "ascii",
    )


def one_line(text: str) -> str:
    """Text without control characters or line ends, which would break the format."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
