"""A DXF file to the lines, arcs and curves on the wanted layers.

The only module here that uses the drawing library. Blocks are exploded, anything that isn't a contour is counted and
ignored, and the drawing's unit is converted to mm.
"""

from __future__ import annotations

import contextlib
import logging
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ezdxf import recover
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError

from pipeline.core.catalogue import drawing_kinds as kinds
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding, build_finding
from pipeline.core.units import MM_PER_INCH, UnitName, Units
from pipeline.geometry.curves import Chain
from pipeline.intake.drawing.entity_curves import CONTOURS, EntityNotRead, convert_entity
from pipeline.intake.drawing.planes import Tilt, level_entities

logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # keep its warnings off the terminal

MOST_ENTITIES = 200_000
"""A blank with more pieces than this is a map or a fault: blocks within blocks can grow without end."""

MOST_UNUSED = 5_000
"""Most pieces on other layers that are examined."""

_UNITS: dict[int, tuple[str, float]] = {
    1: ("inches", MM_PER_INCH),
    2: ("feet", 12 * MM_PER_INCH),
    4: ("millimetres", 1.0),
    5: ("centimetres", 10.0),
    6: ("metres", 1000.0),
    8: ("microinches", MM_PER_INCH * 1e-6),
    9: ("thousandths of an inch", MM_PER_INCH * 1e-3),
    10: ("yards", 36 * MM_PER_INCH),
    13: ("micrometres", 1e-3),
    14: ("decimetres", 100.0),
}
"""Published DXF reference, header variable $INSUNITS; units longer than a metre are no use for a plaque."""


@dataclass(slots=True, kw_only=True)
class DrawnLayers:
    """The content of the wanted layers, in mm, in the drawing's own coordinates."""

    chains: dict[str, list[Chain]] = field(default_factory=lambda: defaultdict(list))  # by layer as the order spells it
    hatched: dict[str, list[Chain]] = field(default_factory=lambda: defaultdict(list))  # boundaries of hatches
    others: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))  # unused, on wanted layers
    places: dict[tuple[str, str], tuple[float, float]] = field(default_factory=dict)  # where the first of these is, mm
    unused: dict[str, list[Chain]] = field(default_factory=lambda: defaultdict(list))  # closed contours on other layers
    widths: Counter[str] = field(default_factory=Counter)  # by layer: polylines drawn with a width
    layers: dict[str, int] = field(default_factory=dict)  # by layer of the drawing: number of shapes
    unit_name: str = ""
    mm: float = 1.0  # millimetres in one unit of the drawing
    findings: list[Finding] = field(default_factory=list)


def read_drawing(
    path: Path,
    data: bytes,
    wanted: Sequence[str] | None,
    unit: UnitName | None,
    tolerance: float,
    *,
    unit_key: str,
    any_unit: bool = False,
) -> DrawnLayers:
    """Read the drawing.

    `wanted` are layer names (case does not count, as in DXF), None for all of them; `unit` is the order's unit for a
    drawing that states none; curves that aren't arcs become arcs within `tolerance` mm; `unit_key` is the order's key
    for the unit. any_unit: accept a drawing without a unit as it is, with an empty `unit_name`. Raises CannotRun when
    the file isn't a drawing, isn't flat, or its unit is unknown.
    """
    document, findings = _open_document(path, data)
    drawn = DrawnLayers(findings=findings)
    names = None if wanted is None else {name.casefold(): name for name in wanted}
    drawn_elsewhere: list[tuple[str, Any]] = []
    entities, skipped = _collect_entities(document, path, names, drawn, drawn_elsewhere)
    # The library reports metres for a drawing without a header, so the file itself is searched.
    code = int(document.header.get("$INSUNITS", 0)) if b"$INSUNITS" in data else 0
    if code == 0 and unit is None and not any_unit:
        raise CannotRun(_report_no_unit(path, entities))
    if code or unit is not None:
        drawn.unit_name, drawn.mm = _find_unit(code, path, unit, unit_key)
    tilt = level_entities([e for _, e in entities if e.dxftype() in CONTOURS], drawn.mm, path)
    _report_tilt(tilt, drawn)
    for layer, entity in entities:
        kind = entity.dxftype()
        if kind not in CONTOURS:
            drawn.others[layer][kind] += 1
            drawn.places.setdefault((layer, kind), _locate_entity(entity, drawn.mm))
            continue
        try:
            shape = convert_entity(tilt.turn_entity(entity), drawn.mm, tolerance)
        except EntityNotRead as reason:
            drawn.others[layer][f"{kind} ({reason})"] += 1
            continue
        (drawn.hatched if kind == "HATCH" else drawn.chains)[layer] += shape.chains
        drawn.widths[layer] += shape.width
    for layer, entity in drawn_elsewhere[:MOST_UNUSED]:
        with contextlib.suppress(EntityNotRead):
            found = convert_entity(tilt.turn_entity(entity), drawn.mm, tolerance)
            drawn.unused[layer] += [chain for chain in found.chains if chain.closed]
    _tell_ignored(drawn, skipped)
    return drawn


def _locate_entity(entity: Any, mm: float) -> tuple[float, float]:
    """Return the place, mm, of an entity that makes no contour; the origin where it states none."""
    at = entity.dxf.insert if entity.dxf.hasattr("insert") else (0.0, 0.0)
    return float(at[0]) * mm, float(at[1]) * mm


# --- opening ---------------------------------------------------------------------------------------------------

_OTHER_FILES = (
    (b"AC10", "a DWG drawing"),
    (b"%PDF", "a PDF"),
    (b"PK\x03\x04", "a zipped file"),
    (b"<?xml", "an XML or SVG file"),
    (b"<svg", "an SVG"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
)


def _open_document(path: Path, data: bytes) -> tuple[Any, list[Finding]]:
    expected = "a DXF drawing"
    if not data.strip():
        raise CannotRun(Fault(where=str(path), found="the file is empty", expected=expected))
    for start, words in _OTHER_FILES:
        if data.lstrip()[:8].startswith(start):
            raise CannotRun(
                Fault(where=str(path), found=f"this is {words}", expected=expected, remedy="save the drawing as DXF")
            )
    with tempfile.TemporaryDirectory() as folder:  # the bytes that were hashed: the file may have changed since
        copy = Path(folder, "drawing.dxf")
        copy.write_bytes(data)
        return _read_copy(copy, path)


def _read_copy(copy: Path, path: Path) -> tuple[Any, list[Finding]]:
    expected = "a DXF drawing"
    with contextlib.suppress(Exception):  # a damaged drawing is left to the tolerant reader
        return readfile(copy), []
    try:
        document, auditor = recover.readfile(copy)
    except Exception as error:  # the library promises DXFError, but damaged files raise many others
        reason = str(error) if isinstance(error, DXFError) else f"{type(error).__name__}: {error}"
        raise CannotRun(
            Fault(
                where=str(path),
                found=f"the file cannot be read as a drawing ({reason.strip().rstrip('.')})",
                expected=expected,
                remedy="open it in the program that drew it and save it again as DXF",
            )
        ) from None
    told = [*auditor.errors, *auditor.fixes]
    count = f"{len(told)} repair{'s' if len(told) != 1 else ''}"
    first = told[0].message.strip().rstrip(".") if told else "its structure is not as the standard has it"
    return document, [build_finding(kinds.REPAIRED, facts={"count": count, "first": first})]


def _report_no_unit(path: Path, entities: Sequence[tuple[str, Any]]) -> Fault:
    return Fault(
        where=str(path),
        found=f"the drawing does not say its unit{_describe_extent(entities)}",
        expected="$INSUNITS in its header",
        remedy='write drawing_units = "mm" (or "in") under [blank] in order.toml, or save it with its unit',
    )


def _find_unit(code: int, path: Path, said: UnitName | None, key: str) -> tuple[str, float]:
    """Return name and millimetres of the drawing's unit: its own, or the order's where it has none."""
    if code == 0 and said is not None:
        return ("inches" if said == "in" else "millimetres"), Units(said).mm
    if code not in _UNITS:
        known = ", ".join(name for name, _ in _UNITS.values())
        raise CannotRun(
            Fault(
                where=str(path), found=f"the drawing's unit is number {code} of $INSUNITS", expected=f"one of {known}"
            )
        )
    name, mm = _UNITS[code]
    if said is not None and Units(said).mm != mm:
        raise CannotRun(
            Fault(
                where=key,
                found=f'drawing_units is "{said}" but the drawing says {name}',
                expected="one unit",
                remedy="take drawing_units out; if the drawing is wrong, save it with the right unit",
            )
        )
    return name, mm


def _describe_extent(entities: Sequence[tuple[str, Any]]) -> str:
    """Describe the drawing's size in its own units, from which a reader can usually tell the unit."""
    from ezdxf import bbox

    try:
        box = bbox.extents([e for _, e in entities if e.dxftype() in CONTOURS], fast=True)
        size = box.size if box.has_data else None
    except Exception:  # it only adds a hint to a message that is shown anyway
        return ""
    return f"; it is {size.x:g} × {size.y:g} in whatever unit" if size is not None else ""


# --- entities --------------------------------------------------------------------------------------------------


def _collect_entities(
    document: Any, path: Path, names: dict[str, str] | None, drawn: DrawnLayers, elsewhere: list[tuple[str, Any]]
) -> tuple[list[tuple[str, Any]], Counter[str]]:
    """Collect entities on the wanted layers, blocks exploded, and count the rest. elsewhere: collects contours on other
    layers."""
    drawn.layers = {layer.dxf.name: 0 for layer in document.layers}
    too_many = Fault(
        where=str(path),
        found=f"the drawing has more than {MOST_ENTITIES} pieces",
        expected="the outline of a blank",
    )
    if _count_pieces(document.modelspace(), {}, ()) > MOST_ENTITIES:
        raise CannotRun(too_many)
    kept: list[tuple[str, Any]] = []
    skipped: Counter[str] = Counter()
    spelled = {name.casefold(): name for name in drawn.layers}
    for n, (layer, entity) in enumerate(_flatten_entities(document.modelspace(), None, (), skipped)):
        if n >= MOST_ENTITIES:
            raise CannotRun(too_many)
        shown = spelled.setdefault(layer.casefold(), layer)
        if entity.dxftype() in CONTOURS:
            drawn.layers[shown] = drawn.layers.get(shown, 0) + 1
        if entity.dxf.get("invisible", 0):
            skipped["invisible " + entity.dxftype()] += 1
        elif names is None:
            kept.append((shown, entity))
        elif layer.casefold() in names:
            kept.append((names[layer.casefold()], entity))
        else:
            skipped[f"on layer {shown}"] += 1
            if entity.dxftype() in CONTOURS and layer.casefold() != "defpoints":  # that layer never plots
                elsewhere.append((shown, entity))
    paper = sum(len(layout) for layout in document.layouts if layout.name != "Model")
    if paper:
        skipped["on paper sheets"] += paper
    for name in dict.fromkeys(layer for layer, _ in kept):
        entry = document.layers.get(name) if document.layers.has_entry(name) else None
        if entry is not None and (entry.is_off() or entry.is_frozen()):
            drawn.findings.append(build_finding(kinds.LAYER_HIDDEN, facts={"layer": name}))
    return kept, skipped


def _count_pieces(entities: Any, known: dict[str, int], inside: tuple[str, ...]) -> int:
    """Count what exploding all blocks would give, without doing it. known: by block, as far as counted."""
    count = 0
    for entity in entities:
        if entity.dxftype() != "INSERT":
            count += 1
            continue
        name, block = entity.dxf.get("name", "").casefold(), entity.block()
        if block is None or name in inside:
            continue
        if name not in known:
            known[name] = _count_pieces(block, known, (*inside, name))
        places = 1
        if entity.mcount > 1:  # the library expands every copy, even with a spacing of 0
            places = max(1, entity.dxf.get("row_count", 1)) * max(1, entity.dxf.get("column_count", 1))
        count += places * max(1, known[name])
    return count


def _flatten_entities(
    entities: Any, layer: str | None, inside: tuple[str, ...], skipped: Counter[str]
) -> Iterator[tuple[str, Any]]:
    """Yield every entity with its effective layer. Layer 0 inside a block is the layer of the block's reference."""
    for entity in entities:
        own = entity.dxf.get("layer", "0")
        if layer is not None and own == "0":
            own = layer
        kind = entity.dxftype()
        if kind == "INSERT":
            yield from _expand_insert(entity, own, inside, skipped)
        elif kind == "MLINE":
            try:
                parts = list(entity.virtual_entities())
            except Exception:  # the library raises no specific exception for a damaged multi-line
                skipped["MLINE that cannot be taken apart"] += 1
                continue
            for part in parts:
                yield own, part
        else:
            yield own, entity


def _expand_insert(
    entity: Any, layer: str, inside: tuple[str, ...], skipped: Counter[str]
) -> Iterator[tuple[str, Any]]:
    name = entity.dxf.get("name", "").casefold()
    block = entity.block()
    if block is None or name in inside:
        skipped["block references without a block" if block is None else "blocks that contain themselves"] += 1
        return
    if block.block.is_xref or block.block.is_xref_overlay:
        skipped["references to other files"] += 1
        return
    many = entity.multi_insert() if entity.mcount > 1 else (entity,)
    for one in many:
        missed: list[str] = []
        try:
            parts = list(one.virtual_entities(skipped_entity_callback=lambda e, _, m=missed: m.append(e.dxftype())))
        except Exception:  # a reference scaled to zero, or a block with broken parts
            skipped["block references that cannot be taken apart"] += 1
            continue
        for kind in missed:
            skipped[f"{kind} inside a block"] += 1
        yield from _flatten_entities(parts, layer, (*inside, name), skipped)


# --- what is told ----------------------------------------------------------------------------------------------


def _report_tilt(tilt: Tilt, drawn: DrawnLayers) -> None:
    if tilt.side:
        drawn.findings.append(build_finding(kinds.TILTED, facts={"side": tilt.side}))
    elif tilt.high - tilt.low > 1e-6 or abs(tilt.low) > 1e-6:
        drawn.findings.append(build_finding(kinds.FLATTENED, facts={"low": tilt.low, "high": tilt.high}))


def _tell_ignored(drawn: DrawnLayers, skipped: Counter[str]) -> None:
    told = []
    for layer, counter in sorted(drawn.others.items()):
        told += [f"{n} {kind} on layer {layer}" for kind, n in sorted(counter.items())]
    told += [f"{n} {what}" for what, n in sorted(skipped.items())]
    if told:
        drawn.findings.append(build_finding(kinds.IGNORED, facts={"what": ", ".join(told)}))
    for layer, n in sorted(drawn.widths.items()):
        if n:
            count = f"{n} polyline{'s' if n != 1 else ''}"
            drawn.findings.append(build_finding(kinds.WIDTH_IGNORED, facts={"count": count, "layer": layer}))
