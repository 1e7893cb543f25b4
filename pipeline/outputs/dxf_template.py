"""The prepared drawing of an order: header, layers and what is the same on every plaque, made once with ezdxf.

A plaque's file is this text with its own contours put in where the model space ends.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ezdxf import zoom
from ezdxf._options import options
from ezdxf.filemanagement import new

from pipeline.core.model import Blank
from pipeline.geometry.curves import Chain
from pipeline.outputs.cutting.frame import in_one_order

LAYERS: dict[str, tuple[int, bool, str]] = {
    "EDGE": (30, True, "outline of the blank and holes through it"),
    "ENGRAVE": (140, True, "outlines of the lettering"),
    "GROOVE": (170, True, "centre lines with depth, when asked for"),
    "POCKET": (94, True, "outline of the pocket"),
    "REST": (214, True, "what the fine cutter has to clean"),
    "ZONE": (252, False, "where lettering may be, for reference"),
    "KEEP_OUT": (22, False, "what has to stay free, for reference"),
    "TURN": (56, False, "marks for turning the blank over, when asked for"),
}
"""Layer -> colour number, whether it plots, what it is for. Names and colours are our own."""

MARK = "@@FINGERPRINT@@"
"""Stands in the prepared text where the fingerprint goes."""

INSUNITS = {"mm": 4, "in": 1}
"""$INSUNITS (published DXF reference)."""

LAST_HANDLE = "FFFFFF"
"""$HANDSEED: above every handle a plaque's contours can take."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """The text before and after a plaque's own contours; `owner` is the handle of the model space's record."""

    before: str
    after: str
    owner: str
    encoding: str


def prepare(
    blank: Blank,
    *,
    version: str,
    unit: str,
    mm: float,
    names: Mapping[str, str],
    comments: Iterable[str],
    tool: str,
    back: bool,
    marks: Iterable[Chain] = (),
    layers: Mapping[str, tuple[int, bool, str]] = LAYERS,
    edge_layer: str = "EDGE",
    also: Iterable[tuple[str, Chain]] = (),
) -> Prepared:
    """names: our layer -> the shop's. mm: millimetres in one unit. back: the blank is given as seen from there.

    also: further contours with their layers, of a file that is not a plaque's; its outline goes on `edge_layer`.
    """
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True  # equal bytes: no time, no random GUID
    try:
        document = new(version, setup=False)
        document.header["$INSUNITS"] = INSUNITS[unit]
        document.header["$MEASUREMENT"] = int(unit == "mm")
        for name, (colour, plots, words) in layers.items():
            layer = document.layers.add(names.get(name, name), color=colour)
            if version != "R12":
                layer.dxf.plot = int(plots)
                layer.description = words
        space = document.modelspace()

        def draw(chain: Chain, layer: str) -> None:
            points = [(x / mm, y / mm, b) for x, y, b in chain.vertices.tolist()]
            attributes = {"layer": names.get(layer, layer)}
            if version == "R12":
                space.add_polyline2d(points, format="xyb", close=chain.closed, dxfattribs=attributes)
            else:
                space.add_lwpolyline(points, format="xyb", close=chain.closed, dxfattribs=attributes)

        for chain in (blank.edge, *blank.holes):
            draw(chain, edge_layer)
        for chain in blank.pockets if not back else ():
            draw(chain, "POCKET")
        for chain in blank.keep_outs if not back else ():
            draw(chain, "KEEP_OUT")
        for _, chain in blank.zones:
            draw(chain, "ZONE")
        for chain in marks:
            draw(chain, "TURN")
        for layer_name, chain in also:
            draw(chain, layer_name)
        document.header["$EXTMIN"] = (0.0, 0.0, 0.0)
        document.header["$EXTMAX"] = (blank.width / mm, blank.height / mm, 0.0)
        space.dxf.extmin, space.dxf.extmax = (0.0, 0.0, 0.0), (blank.width / mm, blank.height / mm, 0.0)
        zoom.window(space, (0.0, 0.0), (blank.width / mm, blank.height / mm))
        if version not in ("R12", "R2000"):
            document.header.custom_vars.append("FINGERPRINT", MARK)
            document.header.custom_vars.append("WRITTEN_BY", tool)
        for name in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(name)  # the writer adds them in the order of a set: another in every process
        stream = io.StringIO()
        in_one_order(document)
        document.write(stream)
        owner = str(space.layout_key)
        encoding = str(document.output_encoding)
    finally:
        options.write_fixed_meta_data_for_testing = before
    text = stream.getvalue()
    text = "".join(f"999\n{line}\n" for line in (f"plaque {MARK}", *comments)) + text
    seed = text.index("$HANDSEED")
    start = text.index("\n", text.index("\n", seed) + 1) + 1
    text = text[:start] + LAST_HANDLE + text[text.index("\n", start) :]
    end = text.index("  0\nENDSEC", text.index("  2\nENTITIES"))
    return Prepared(before=text[:end], after=text[end:], owner=owner, encoding=encoding)
