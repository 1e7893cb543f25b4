"""Guess the role of each layer of a drawing: edge, zone, keep-out, pocket or artwork.

A layer is judged by its name, or else by its content. Whatever doesn't follow from one of our own names is a guess, and
is shown as one.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import shapely

from pipeline.core.config.order import BlankConfig, LayersConfig
from pipeline.core.environment import drawing_library
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.findings import Finding
from pipeline.core.model import Blank
from pipeline.core.storage.door import Bounds, read_apart
from pipeline.core.units import MM, UnitName, Units
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import flatten_chain
from pipeline.intake.drawing.blank_drawing import CURVE_TOLERANCE, join_layer, nest_loops, parse_blank
from pipeline.intake.drawing.closed_loops import FLAT
from pipeline.intake.drawing.drawing_faults import ROUNDING
from pipeline.intake.order.consistency_rules import list_zones

if TYPE_CHECKING:
    from pipeline.intake.drawing.dxf_file import DrawnLayers

UNIT_OPTION = "--drawing-units"
GAP = BlankConfig().gap
"""Ends of lines this close, mm, are joined: the default of an order."""

ROLES: Mapping[str, str] = {
    "edge": "edge",
    "zone": "zone",
    "keep_out": "keep-out, not cut",
    "pocket": "pocket",
    "artwork": "artwork",
}
"""Keys of [blank] layers, each with a description of such a layer."""

_WORDS: tuple[tuple[str, str], ...] = (
    ("keep_out", """keepout keep_out keepouts nogo screw screws hole holes drill drills drilling fixing fixings mounting
        magnet magnets bohrung bohrungen loch locher schraube schrauben sperrflache trou trous percage vis agujero
        agujeros tornillo tornillos foro fori viti gat gaten schroeven"""),
    ("pocket", "pocket pockets resin pour epoxy tasche taschen harz poche resine resina cajera tasca hars"),
    ("artwork", """artwork crest logo logos badge emblem motif motifs arms ornament ornaments decoration wappen zierrat
        embleme blason escudo stemma wapen"""),
    ("edge", """edge edges outline contour perimeter profile umriss kontur aussenkontur rand contorno contours sagoma
        omtrek kontura"""),
    ("zone", """zone zones lettering text texts words wording name names inscription engrave engraving area schrift
        beschriftung gravur texte gravure texto grabado testo incisione tekst gravering"""),
    ("edge", """blank plate plaque panel board shape body cut cutting cutout schild platte
        decoupe plaat placa targa"""),
)  # fmt: skip
"""Words in names of layers, the most specific first: a “pocket outline” is a pocket. In common use; no source."""

SMALL = 0.02
"""Share of the edge's area up to which circles are taken for screw holes (common practice, no source)."""
ZONE_AT_LEAST, ZONE_FILLS = 0.1, 0.75
"""Least share of the edge's area, and of its own bounding box, of a single outline that may be a zone (common practice,
no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerGuess:
    """One layer: what it was taken for (a key of [blank] layers; empty: nothing) and why; `sure` where its name is
    that of our own key, or the drawing has no other layer."""

    layer: str
    role: str
    why: str
    sure: bool

    @property
    def words(self) -> str:
        """Describe the guess: `PLATE: edge, by its name`."""
        return f"{self.layer}: {ROLES[self.role] if self.role else 'not used'}, {self.why}"


@dataclass(frozen=True, slots=True, kw_only=True)
class GuessedBlank:
    """The blank of a drawing, and the guessed roles of its layers."""

    part: BlankConfig  # [blank] with the keys that the drawing needs
    blank: Blank
    layers: tuple[LayerGuess, ...]
    unit_name: str  # of the drawing, in words
    findings: tuple[Finding, ...]

    @property
    def order_units(self) -> UnitName:
        """Return the unit for an order with this drawing: inches if it is drawn in inches, feet or thousandths of an
        inch."""
        return "in" if any(word in self.unit_name for word in ("inch", "feet", "yards")) else "mm"

    @property
    def unsure(self) -> list[str]:
        """List what a person should check, in words."""
        return [guess.words for guess in self.layers if not guess.sure]

    @property
    def needed_layers(self) -> dict[str, str | list[str]]:
        """Return the necessary content of [blank] layers; empty where the drawing uses our own names, or has one
        layer."""
        return {key: getattr(self.part.layers, key) for key in ROLES if key in self.part.layers.model_fields_set}


@dataclass(frozen=True, slots=True, kw_only=True)
class _LayerShapes:
    """The closed shapes on a layer, mm; `outer`: the loops that aren't inside others."""

    name: str
    outer: tuple[Any, ...]
    inner: tuple[Any, ...]

    @property
    def largest(self) -> Any:
        return max(self.outer, key=lambda shape: shape.area)

    @property
    def area(self) -> float:
        """Return the area of the largest, mm²."""
        return float(self.largest.area) if self.outer else 0.0


def guess_blank(path: Path, data: bytes, name: str, unit: UnitName | None = None, shown: Units = MM) -> GuessedBlank:
    """Read a drawing whose layers have no stated roles.

    name: the file's name in the order folder. unit: used if the drawing states none. shown: the unit of lengths in
    faults. CannotRun where it isn't a drawing, has no closed outline, states no unit, or its layers don't make a blank.
    """
    drawing_library.load()
    from pipeline.intake.drawing.dxf_file import read_drawing  # the drawing library is slow to import

    read = partial(read_drawing, unit_key=UNIT_OPTION, any_unit=True)
    bounds = Bounds(seconds=120, memory_mb=1500, answer_mb=512)
    drawn: DrawnLayers = read_apart(read, path, data, None, unit, CURVE_TOLERANCE, where=path, bounds=bounds)
    there = [layer for layer, count in drawn.layers.items() if count and layer.casefold() != "defpoints"]
    if not there:
        raise CannotRun(_report_no_outline(path, drawn))
    shapes = [_list_shapes(layer, drawn) for layer in there]
    if not drawn.unit_name:
        raise CannotRun(_report_no_unit(path, shapes))
    given: dict[str, Any] = {"drawing": name, "margin": 0.0} | ({"drawing_units": unit} if unit else {})
    guesses = _guess_layers(shapes) if len(there) > 1 or there[0].casefold() in _OURS else []
    layers = _build_layers(guesses)
    part = BlankConfig(**given | ({"layers": layers} if layers else {}))
    blank, findings = parse_blank(path, data, part, key=UNIT_OPTION, unit=shown, ordered=False)
    if not guesses:
        guesses = [LayerGuess(layer=there[0], role="edge", why=f"its largest loop{_describe_holes(blank)}", sure=True)]
    guesses = [
        replace(g, why=g.why + _describe_holes(blank)) if g.role == "edge" and len(there) > 1 else g for g in guesses
    ]
    return GuessedBlank(part=part, blank=blank, layers=tuple(guesses), unit_name=drawn.unit_name, findings=findings)


_OURS = {
    str(zone if key == "zone" else getattr(LayersConfig(), key)).casefold(): key
    for key in ("edge", "zone", "keep_out", "pocket")
    for zone in list_zones(LayersConfig())
}
"""Our own layer names, which an order needn't state, each with its key."""


def _describe_holes(blank: Blank) -> str:
    count = len(blank.holes)
    return f", with {count} hole{'s' if count != 1 else ''}" if count else ""


def _list_shapes(layer: str, drawn: DrawnLayers) -> _LayerShapes:
    loops = join_layer(layer, drawn, GAP).loops
    if not loops:
        return _LayerShapes(name=layer, outer=(), inner=())
    nested = nest_loops(loops)
    outer, inner = (tuple(map(_build_area, nested[key])) for key in ("outer", "inner"))
    return _LayerShapes(name=layer, outer=outer, inner=inner)


def _build_area(loop: Chain) -> Any:
    return shapely.Polygon(flatten_chain(loop, FLAT))


# --- which layer is what -----------------------------------------------------------------------------------------


def _guess_layers(shapes: Sequence[_LayerShapes]) -> list[LayerGuess]:
    """Guess the role of each layer. The edge is found first: whatever lies outside it isn't part of the blank."""
    edge = _guess_edge(shapes)
    out = [edge]
    around = next(shape for shape in shapes if shape.name == edge.layer)
    limit = around.largest.buffer(FLAT + ROUNDING) if around.outer else None
    others = [shape for shape in shapes if shape is not around]
    named = {shape.name: _guess_role(shape.name) for shape in others}
    single = {role: [s for s in others if named[s.name][0] == role] for role in ("keep_out", "pocket", "artwork")}
    first = {role: max(found, key=lambda s: s.area).name for role, found in single.items() if found}
    zoned = any(role == "zone" for role, _ in named.values())
    for shape in others:
        role, sure = named[shape.name]
        out.append(_guess_layer(shape, role, limit, sure=sure, taken=first.get(role, shape.name), zoned=zoned))
        zoned = zoned or out[-1].role == "zone"
        if out[-1].role in single:
            first.setdefault(out[-1].role, shape.name)
    order = {shape.name: n for n, shape in enumerate(shapes)}
    return sorted(out, key=lambda guess: order[guess.layer])


def _guess_layer(shape: _LayerShapes, role: str, limit: Any, *, sure: bool, taken: str, zoned: bool) -> LayerGuess:
    """Guess the role of one layer other than the edge's. limit: the edge's inside. taken: the layer that has the role
    already, or this one. zoned: whether a layer is a zone already."""

    def guess(role: str, why: str, *, sure: bool = False) -> LayerGuess:
        return LayerGuess(layer=shape.name, role=role, why=why, sure=sure)

    if not shape.outer and role != "artwork":  # a crest may be made of crossing lines
        return guess("", "nothing on it is closed", sure=not role)
    inside = limit is None or all(limit.covers(outer) for outer in shape.outer)
    if not inside and role != "pocket":
        return guess("", "it reaches outside the edge", sure=not role and not any(map(limit.covers, shape.outer)))
    if taken != shape.name:
        return guess("", f"“{taken}” is the layer of that kind already ({role})")
    if role == "zone" and len(shape.outer) != 1:
        return guess("", f"a zone by its name, but with {len(shape.outer)} outlines: put each on a layer of its own")
    if role:
        return guess(role, "by its name", sure=sure)
    if limit is not None and all(_is_circle(s) and s.area <= SMALL * limit.area for s in shape.outer):
        count = len(shape.outer)
        return guess(
            "keep_out", f"{count} small circle{'s' if count != 1 else ''}; holes that are cut go on the edge's layer"
        )
    if not zoned and len(shape.outer) == 1 and limit is not None:
        only = shape.outer[0]
        if only.area >= ZONE_AT_LEAST * limit.area and only.area >= ZONE_FILLS * only.envelope.area:
            return guess("zone", "the only outline on it")
    count = len(shape.outer)
    return guess("", f"{count} outline{'s' if count != 1 else ''}: is it a zone, keep_out, pocket or artwork?")


def _guess_edge(shapes: Sequence[_LayerShapes]) -> LayerGuess:
    own = next((s for s in shapes if _OURS.get(s.name.casefold()) == "edge"), None)
    if own is not None:
        return LayerGuess(layer=own.name, role="edge", why="by its name", sure=True)
    named = [s for s in shapes if _guess_role(s.name)[0] == "edge"]
    among = [s for s in named if s.outer] or named or [s for s in shapes if s.outer] or list(shapes)
    best = max(among, key=lambda s: s.area)
    return LayerGuess(layer=best.name, role="edge", why="by its name" if named else "the largest loop", sure=False)


def _guess_role(layer: str) -> tuple[str, bool]:
    """Return the role that a layer's name states, and whether it is our own name for it; empty where it states none."""
    if (ours := _OURS.get(layer.casefold())) is not None:
        return ours, True
    plain = "".join(c for c in unicodedata.normalize("NFKD", layer.casefold()) if not unicodedata.combining(c))
    words = [word for word in re.split(r"[^a-zß]+", plain.replace("ß", "ss")) if word]
    said = {*words, "".join(words)} | ({"keepout"} if "keep" in words and "out" in words else set())
    return next((role for role, known in _WORDS if said & set(known.split())), ""), False


def _build_layers(guesses: Sequence[LayerGuess]) -> LayersConfig | None:
    """Build [blank] layers with the names that differ from our own; None where none does."""
    found: dict[str, Any] = {}
    for role in ROLES:
        names = [guess.layer for guess in guesses if guess.role == role]
        if names and not (len(names) == 1 and _OURS.get(names[0].casefold()) == role):
            found[role] = names if len(names) > 1 else names[0]
    return LayersConfig(**found) if found else None


def _is_circle(shape: Any) -> bool:
    """Return whether its area is that of a circle of its width and height, within 1 %."""
    x0, y0, x1, y1 = shape.bounds
    width, height = x1 - x0, y1 - y0
    round_ = math.pi / 4 * width * height
    return bool(abs(width - height) <= 0.01 * width and abs(shape.area - round_) <= 0.01 * round_)


# --- what is wrong -----------------------------------------------------------------------------------------------


def _report_no_outline(path: Path, drawn: DrawnLayers) -> Fault:
    counts: Counter[str] = Counter()
    for kinds in drawn.others.values():
        counts.update(kinds)
    only = ", ".join(f"{n} {kind}" for kind, n in sorted(counts.items()))
    return Fault(
        where=str(path),
        found="nothing in the drawing is a line, an arc or a curve" + (f", only {only}" if only else ""),
        expected="the outline of the blank, closed",
        remedy="ask for the drawing with the outline itself; text and pictures make no blank",
    )


def _report_no_unit(path: Path, shapes: Sequence[_LayerShapes]) -> Fault:
    boxes = [s.bounds for shape in shapes for s in shape.outer]
    size = ""
    if boxes:
        x0, y0, x1, y1 = (f(each) for f, each in zip((min, min, max, max), zip(*boxes, strict=True), strict=True))
        size = f"; it is {x1 - x0:g} × {y1 - y0:g} in whatever unit"
    return Fault(
        where=str(path),
        found=f"the drawing does not say its unit{size}",
        expected="$INSUNITS in its header",
        remedy=f"say it with `{UNIT_OPTION} mm` (or `in`), or ask for the drawing saved with its unit",
    )
