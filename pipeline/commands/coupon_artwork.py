"""The artwork of a coupon, its cut file, and the strokes and lands measured in the file as it was written."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path as FilePath

import numpy as np
import shapely

from pipeline import VERSION
from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.core.config.order import Order, OrderFolder
from pipeline.core.config.shop_config import ShopConfig
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.model import Artwork, Blank, Piece, Plaque, Recipient, SetLine, SetRow, Shape
from pipeline.core.required import require_value
from pipeline.core.short_codes import build_short_code, hash_values
from pipeline.core.storage.files import read_plain
from pipeline.cutting.coupon import BLOCKS, CouponPlan
from pipeline.geometry.basic_shapes import build_rectangle
from pipeline.geometry.curves import Array, Chain, Path
from pipeline.geometry.flatten import flatten_chain
from pipeline.lettering.font_face import open_face
from pipeline.lettering.shaping import shape_row
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.dxf.dxf_reader import read_drawing
from pipeline.outputs.cut_files.file_contents import ENGRAVE

BAR = 6.0  # length of a stroke, and of the cuts beside a land
STEP = 5.0  # between two numbers
CLEAR = 6.0  # margin round everything
ROW = 12.0  # between the strokes and the lands of a block
BLOCK = 42.0  # between two blocks
NUMBER = 2.2  # cap height of the numbers
SAMPLE = "Reach 1289 & Skua"
SAMPLE_FACES = ("noto-sans", "eb-garamond")
SAMPLE_SIZES = (3.0, 5.0)
SAME = 0.002
"""Tolerance, mm, between a stroke or land measured in the file and its nominal width."""
FINE = 0.0005
MICRON = 0.001  # mm per unit of the bars' shapes


@dataclass(frozen=True, slots=True, kw_only=True)
class CouponPlace:
    """One stroke or land on the coupon: its middle, mm from the lower left corner."""

    kind: str
    block: int  # from 1
    number: int  # from 1
    width: float
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Coupon:
    """A coupon, drawn."""

    plan: CouponPlan
    artwork: Artwork
    blank: Blank
    places: tuple[CouponPlace, ...]


def draw_coupon(plan: CouponPlan) -> Coupon:
    """Lay out the strokes, lands and numbers of a coupon."""
    lines: list[SetLine] = []
    places: list[CouponPlace] = []
    count = max(len(plan.strokes), len(plan.lands))
    wide = 2 * CLEAR + count * STEP + 2 * max(plan.beside)
    for block in range(1, BLOCKS + 1):
        y = CLEAR + (block - 1) * BLOCK
        pieces: list[Piece] = []
        for kind, level in (("stroke", y + NUMBER + 1.5), ("land", y + NUMBER + 1.5 + ROW)):
            for number, width in enumerate(plan.list_widths(kind), 1):
                x = CLEAR + (number - 0.5) * STEP + max(plan.beside)
                pieces += _draw_bars(kind, width, plan.beside[block - 1], x, level)
                places.append(CouponPlace(kind=kind, block=block, number=number, width=width, x=x, y=level + BAR / 2))
                lines.append(_draw_label(plan, str(number), x, level - NUMBER - 1.2))
        lines.append(_build_line("bars", pieces))
        top = y + NUMBER + 3.0 + 2 * ROW - 2.0
        for k, face in enumerate(SAMPLE_FACES):
            x = CLEAR
            for size in SAMPLE_SIZES:
                line, advance = _set_text(SAMPLE, face, size, x, top + k * 6.5)
                lines.append(line)
                x += advance + 4.0
                wide = max(wide, x + CLEAR)
    high = CLEAR + BLOCKS * BLOCK
    edge = build_rectangle(wide, high, 2.0)
    blank = Blank(edge=edge, width=wide, height=high, thickness=None, zones=(("LETTERING", edge),), source="coupon")
    numbered = tuple(
        SetLine(
            line=n, text=line.text, face=line.face, cap_height=line.cap_height, tracking=0, rows=line.rows,
            width=line.width, slack=1.0,
        )
        for n, line in enumerate(lines, 1)
    )  # fmt: skip
    return Coupon(plan=plan, artwork=Artwork(lines=numbered), blank=blank, places=tuple(places))


def _draw_bars(kind: str, width: float, beside: float, x: float, y: float) -> Iterator[Piece]:
    """Draw a stroke, or the two cuts on either side of a land."""
    if kind == "stroke":
        yield _draw_bar(width, x - width / 2, y)
        return
    yield _draw_bar(beside, x - width / 2 - beside, y)
    yield _draw_bar(beside, x + width / 2, y)


def _draw_bar(width: float, x: float, y: float) -> Piece:
    w, h = width / MICRON, BAR / MICRON
    points = np.array([(0, 0), (w, 0), (w, h), (0, h), (0, 0)], float)
    key = hashlib.sha256(points.tobytes()).hexdigest()[:16]
    shape = Shape(
        key=f"coupon {key}", outline=(Path(points, (1, 1, 1, 1)),), glyphs=(), units_per_em=int(h), cap_units=h
    )
    return Piece(shape=shape, scale=MICRON, x=x, y=y)


def _draw_label(plan: CouponPlan, text: str, x: float, y: float) -> SetLine:
    """Draw a number centred on x: in single lines for a cutter that follows lines or is too wide for letters."""
    face = "noto-sans" if plan.cutter.cuts_grooves else "hershey-futural"
    line, advance = _set_text(text, face, NUMBER, 0.0, y)
    by = x - advance / 2
    moved = tuple(
        Piece(shape=p.shape, scale=p.scale, x=p.x + by, y=p.y, turn=p.turn) for row in line.rows for p in row.pieces
    )
    return _build_line(text, list(moved), face, NUMBER)


def _set_text(text: str, name: str, cap: float, x: float, y: float) -> tuple[SetLine, float]:
    """Set a line of text; return it with its width."""
    row = shape_row([open_face(name)], text)
    scale = cap / row.cap_units
    pieces = [
        Piece(shape=s.shape, scale=scale * s.scale, x=x + s.x * scale, y=y + s.y * scale)
        for s in row.shapes
        if s.shape.outline
    ]
    return _build_line(text, pieces, name, cap), row.advance * scale


def _build_line(text: str, pieces: list[Piece], face: str = "", cap: float = BAR) -> SetLine:
    row = SetRow(text=text, pieces=tuple(pieces), x=0.0, baseline=0.0, width=0.0)
    return SetLine(line=1, text=text, face=face, cap_height=cap, tracking=0, rows=(row,), width=0.0, slack=1.0)


def build_coupon_order(coupon: Coupon, shop: ShopConfig, target: FilePath) -> OrderFolder:
    """Build the order that the coupon's cut file is written for."""
    plan = coupon.plan
    raw = {
        "title": f"Coupon: {plan.cutter.name} in {plan.material.name}",
        "list": {"file": "none.csv"},
        "blank": {"shape": "rectangle", "width": coupon.blank.width, "height": coupon.blank.height},
        "cutter": {"use": plan.cutter.name},
        "stock": {"material": plan.material.name},
        "line": [{"text": "coupon", "face": "noto-sans", "cap_height": NUMBER}],
        "files": {"grooves": plan.cutter.cuts_grooves},
    }
    order = Order.model_validate(raw, context={"mm": 1.0}).apply_shop(shop)
    return OrderFolder(order=order, folder=target, file=target / "order.toml", sha256="")


def write_coupon(coupon: Coupon, shop: ShopConfig, target: FilePath) -> str:
    """Write the cut file, read it back and measure every stroke and land in it. Return its name below `target`.
    CannotRun when it can't be written, or a measurement is off."""
    folder = build_coupon_order(coupon, shop, target)
    name = folder.order.title
    pieces = [(p.shape.key, p.scale, round(p.x, 6), round(p.y, 6)) for p in coupon.artwork.list_pieces("front")]
    plaque = Plaque(
        recipient=Recipient(row=1, cell="A1", values=(("name", name),), raw=()),
        text=(name,),
        artwork=coupon.artwork,
        fingerprint=build_short_code(hash_values([name, repr(pieces)]), 10),
    )
    files = CutFiles(folder, coupon.blank, target, VERSION)
    made = files.make(plaque)
    files.finish()
    if not made.cut_file:
        found = "; ".join(str(dict(f.facts).get("difference", f.code)) for f in made.findings)
        raise CannotRun(Fault(where=str(target), found=f"read back, the cut file is not what it should be: {found}"))
    off = measure_off(coupon, target / made.cut_file, files.get_layer_name(ENGRAVE))
    if off > SAME:
        raise CannotRun(
            Fault(where=str(target / made.cut_file), found=f"a stroke or land in it is {off:.4f} mm from its width")
        )
    return made.cut_file


def measure_off(coupon: Coupon, file: FilePath, layer: str) -> float:
    """Return the largest error, mm, of the strokes and lands of a written file: strokes measured as the checks measure
    letters, lands as the distance between the two cuts. inf where one is missing."""
    drawing = read_drawing(read_plain(file))
    rings = [
        flatten_chain(Chain(np.column_stack((c.points, c.bulges)), c.closed), FINE)
        for c in drawing.curves
        if c.layer == layer and c.closed and c.kind == "polyline"
    ]
    bars = [ring for ring in rings if _is_bar(ring)]
    tree = shapely.STRtree([shapely.polygons(ring) for ring in bars])
    measures, worst = GlyphMetrics(), 0.0
    for place in coupon.places:
        if place.kind == "stroke":
            hit = tree.query(shapely.points(place.x, place.y), predicate="intersects")
            widths = [_measure_stroke(bars[int(k)], measures) for k in hit]
        else:
            beside = place.width / 2 + coupon.plan.beside[place.block - 1] / 2
            sides = [tree.query(shapely.points(place.x + s * beside, place.y), predicate="intersects") for s in (-1, 1)]
            left, right = (shapely.polygons(bars[int(hit[0])]) if len(hit) else shapely.Polygon() for hit in sides)
            widths = [float(shapely.distance(left, right))] if not left.is_empty and not right.is_empty else []
        worst = max(worst, *(abs(w - place.width) for w in widths)) if widths else float("inf")
        if worst == float("inf"):
            break
    return worst


def _is_bar(ring: Array) -> bool:
    """Return whether a contour is an upright rectangle as long as a bar."""
    wide, high = (float(v) for v in np.ptp(ring, axis=0))
    return abs(high - BAR) < SAME and abs(float(shapely.polygons(ring).area) - wide * high) < SAME * BAR


def _measure_stroke(ring: Array, measures: GlyphMetrics) -> float:
    """Measure the stroke of a contour, mm, as the checks do."""
    points = np.vstack([ring, ring[:1]]) / MICRON
    key = hashlib.sha256(points.tobytes()).hexdigest()[:16]
    shape = Shape(
        key=f"read {key}",
        outline=(Path(points, (1,) * len(ring)),),
        glyphs=(),
        units_per_em=int(BAR / MICRON),
        cap_units=BAR / MICRON,
    )
    return require_value(measures.measure(shape).stroke, "a stroke").width * MICRON
