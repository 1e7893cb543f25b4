"""Converts an SVG drawing to curves: what it paints, as united areas, or its lines as drawn.

picosvg takes the document apart (shapes, transforms, `use`, nested drawings); what is painted over what is worked out
here with skia-pathops, at a scale at which its single precision and its stroker are finer than any cutter.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pathops
import shapely
import tinycss2.color3
from picosvg.svg import SVG, from_element
from picosvg.svg_pathops import skia_path
from picosvg.svg_transform import Affine2D

from pipeline.artwork.drawn_artwork import DrawnArtwork, Remark, limit_remarks
from pipeline.artwork.painted_areas import (
    SPAN,
    PaintedShape,
    build_page_path,
    build_painted_region,
    compose_painted,
    reaches_beyond,
)
from pipeline.artwork.svg_guard import MOST_ELEMENTS, require_harmless
from pipeline.artwork.svg_tidying import (
    NEVER_SHOWN,
    SHAPES,
    Box,
    apply_styles,
    count_with_uses,
    drop_hidden,
    get_local_name,
    number_lengths,
    parse_svg,
    read_length,
    read_millimetres,
    read_view_box,
    simplify_structure,
)
from pipeline.core.errors import CannotRun, Fault
from pipeline.geometry.curves import Outline, Path

_CONIC = 0.02
"""Units a round cap may be off."""
_WHITE = 0.95
"""Least red, green and blue of a colour that counts as the paper's."""

_CAPS = {"round": pathops.LineCap.ROUND_CAP, "square": pathops.LineCap.SQUARE_CAP}
_JOINS = {"round": pathops.LineJoin.ROUND_JOIN, "bevel": pathops.LineJoin.BEVEL_JOIN}
_NO_CURVES = {
    "text": "text: convert it to outlines in the drawing, or set it as a [[line]]",
    "image": "a picture: only curves can be cut; have it traced, or leave it out",
    "flowRoot": "text: convert it to outlines in the drawing, or set it as a [[line]]",
}


def read_svg_artwork(path: FilePath, data: bytes, as_lines: bool) -> DrawnArtwork:
    """The curves of an SVG file whose bytes are `data`. as_lines: its lines as drawn, not what they enclose.

    CannotRun when the file is refused, is no SVG or holds nothing that is painted.
    """
    require_harmless(path, data)
    root = parse_svg(data)
    apply_styles(root)
    hidden = drop_hidden(root)
    shown, mm = _read_frame(path, root)
    number_lengths(root, shown)
    _require_few(path, root)
    simplify_structure(root)
    drawing = _Drawing(shown, as_lines)
    drawing.read(root)
    if hidden:
        drawing.changed.append((f"{hidden} hidden shape{'s' if hidden > 1 else ''} left out", ""))
    found = drawing.collect_lines() if as_lines else drawing.collect_areas()
    if not found.outline and not any(r.reason == "cannot" for r in found.remarks):
        raise CannotRun(
            Fault(where=str(path), found="nothing in it is painted", expected="shapes with a fill or a stroke")
        )
    return DrawnArtwork(outline=found.outline, mm=mm, remarks=found.remarks, deviation=found.deviation)


def _require_few(path: FilePath, root: Any) -> None:
    """CannotRun when uses of uses make more of the drawing than any crest has, or lead back to themselves."""
    try:
        count = count_with_uses(root)
    except ValueError as error:
        raise CannotRun(Fault(where=str(path), found=str(error), expected="a drawing of curves")) from None
    if count > MOST_ELEMENTS:
        found = f"its uses make {count:,} elements of it, more than {MOST_ELEMENTS:,}"
        raise CannotRun(Fault(where=str(path), found=found, expected="a drawing of curves", remedy="simplify it"))


def _read_frame(path: FilePath, root: Any) -> tuple[Box, float | None]:
    """The part that is shown, in user units, and millimetres in one of them; None where only px are given."""
    try:
        shown = read_view_box(root)
    except ValueError:
        shown = None
    width, height = read_millimetres(root.get("width", "")), read_millimetres(root.get("height", ""))
    if shown is None:
        # Without a stated page size the whole drawing counts, one px per unit.
        return (0.0, 0.0, 0.0, 0.0), None
    if not all(map(math.isfinite, shown)) or max(shown[2:]) > 1e7 or min(shown[2:]) < 1e-6:
        raise CannotRun(Fault(where=str(path), found="its viewBox is no size of a drawing", expected="a plain viewBox"))
    scales = [size / own for size, own in ((width, shown[2]), (height, shown[3])) if size]
    return shown, min(scales, default=None)


@dataclass(slots=True)
class _Drawing:
    """One drawing being read. Paths are in units of the comparison (see `SPAN`), y up."""

    shown: Box
    as_lines: bool
    painted: list[PaintedShape] = field(default_factory=list)
    drawn: list[Path] = field(default_factory=list)
    cannot: list[tuple[str, str]] = field(default_factory=list)
    changed: list[tuple[str, str]] = field(default_factory=list)
    colours: list[tuple[str, str]] = field(default_factory=list)
    scale: float = 1.0
    base: Affine2D = field(default_factory=Affine2D.identity)
    _clips: dict[Any, tuple[pathops.Path, ...]] = field(default_factory=dict)

    def read(self, root: Any) -> None:
        """Walk through the document."""
        svg = SVG(root)
        svg.resolve_use(inplace=True)
        if any(get_local_name(e) == "svg" for e in root.iter() if e is not root):
            x, y, w, h = self.shown
            root.set("viewBox", f"{x} {y} {w or 100} {h or 100}")
            svg.resolve_nested_svgs(inplace=True)
        root = svg.svg_root
        x, y, w, h = self.shown if self.shown[2] else _measure_extent(svg)
        self.scale = SPAN / max(w, h)
        self.base = Affine2D(self.scale, 0, 0, -self.scale, -x * self.scale, (y + h) * self.scale)
        named = {e.get("id"): e for e in root.iter() if e.get("id")}
        apart: set[Any] = set()
        for context in svg.depth_first(resolve_clip_paths=False):
            element, tag = context.element, get_local_name(context.element)
            if tag in NEVER_SHOWN or element.getparent() in apart:
                apart.add(element)
                continue
            whole = Affine2D.compose_ltr((context.transform, self.base))
            self._clips[element] = self._clips.get(element.getparent(), ())
            self._note_odd(element, tag, whole)
            clip = element.get("clip-path", "none")
            if clip != "none":
                self._clips[element] += self._clip(clip, element, whole, named)
            if tag in SHAPES:
                try:
                    self._add_shape(context.shape(), element, whole, named)
                except (ValueError, TypeError, IndexError, KeyError, ZeroDivisionError, pathops.PathOpsError) as error:
                    said = " ".join(str(error).split())[:80]
                    self.cannot.append((f"a <{tag}> that cannot be understood ({said})", _describe_where(element)))

    # --- stops and remarks ---

    def _note_odd(self, element: Any, tag: str, whole: Affine2D) -> None:
        if tag in _NO_CURVES:
            words = " ".join("".join(element.itertext()).split())[:30]
            what = _NO_CURVES[tag].replace("text", f"text “{words}”", 1) if words else _NO_CURVES[tag]
            self.cannot.append((what, self._describe_place(element, whole)))
        if element.get("mask", "none") != "none":
            self.cannot.append(("a mask: cut the shapes to what shows", self._describe_place(element, whole)))
        if any(element.get(f"marker{end}", "none") != "none" for end in ("", "-start", "-mid", "-end")):
            self.cannot.append(("markers on a line: convert them to outlines", self._describe_place(element, whole)))
        if element.get("filter", "none") != "none":
            self.changed.append(("a filter left out", self._describe_place(element, whole)))

    def _describe_place(self, element: Any, whole: Affine2D) -> str:
        x, y = (read_length(element.get(key, "0").split()[0] if element.get(key) else "0") or 0.0 for key in ("x", "y"))
        return self._describe_element(whole.map_point((x, y)))

    def _describe_element(self, at: Any) -> str:
        """A place of the comparison in the drawing's own coordinates."""
        x, y = self.base.inverse().map_point(at)
        return f"x {x:.4g}, y {y:.4g} of the drawing"

    # --- shapes ---

    def _add_shape(self, shape: Any, element: Any, whole: Affine2D, named: dict[str, Any]) -> None:
        commands = list(shape.as_cmd_seq())
        if not any(command.upper() != "M" for command, _ in commands):
            return
        if not all(math.isfinite(v) and abs(v) < 1e9 for _, values in commands for v in values):
            raise ValueError("places that are not numbers")
        filled = _is_painting(shape.fill, shape.fill_opacity * shape.opacity)
        stroked = _is_painting(shape.stroke, shape.stroke_opacity * shape.opacity) and shape.stroke_width > 0
        if not filled and not stroked:
            return
        area = skia_path(commands, shape.fill_rule if shape.fill_rule in ("nonzero", "evenodd") else "nonzero")
        if self.as_lines:
            if self._clips[element]:
                self.cannot.append(("a clip path, which lines are not cut by", _describe_where(element)))
            self.drawn += _list_lines(area.transform(*whole))
            return
        box = area.bounds
        place = whole.map_point(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2))
        if filled:
            self._add(area.transform(*whole), shape.fill, element, place, named)
        if stroked:
            self._add(self._add_stroke(area, shape, element, whole), shape.stroke, element, place, named)

    def _add_stroke(self, area: pathops.Path, shape: Any, element: Any, whole: Affine2D) -> pathops.Path:
        """The area of a stroke, worked out where the drawing is `SPAN` large."""
        width, dashes, offset = shape.stroke_width, _read_dashes(shape.stroke_dasharray), shape.stroke_dashoffset
        a, b, c, d = whole[:4]
        larger = math.sqrt(abs(a * d - b * c))
        if larger < 1e-9:
            return pathops.Path()
        if element.get("vector-effect") == "non-scaling-stroke":
            path, back, larger = area.transform(*whole), None, self.scale
        else:
            path = area.transform(larger, 0, 0, larger, 0, 0)
            back = Affine2D.compose_ltr((Affine2D(1 / larger, 0, 0, 1 / larger, 0, 0), whole))
        cap = _CAPS.get(shape.stroke_linecap, pathops.LineCap.BUTT_CAP)
        join = _JOINS.get(shape.stroke_linejoin, pathops.LineJoin.MITER_JOIN)
        path.stroke(width * larger, cap, join, shape.stroke_miterlimit, [d * larger for d in dashes], offset * larger)
        path.convertConicsToQuads(_CONIC)
        path.fillType = pathops.FillType.WINDING
        return path if back is None else path.transform(*back)

    def _add(self, path: pathops.Path, paint: str, element: Any, place: Any, named: dict[str, Any]) -> None:
        colour, paper = _read_colour(paint, element)
        if paint.startswith("url("):
            target = named.get(_find_target(paint))
            if target is None:
                return
            kind = "gradient" if "Gradient" in get_local_name(target) else "pattern"
            self.changed.append((f"a {kind}, cut as a plain area", self._describe_element(place)))
        for clip in self._clips[element]:
            path = pathops.op(path, clip, pathops.PathOp.INTERSECTION, fix_winding=True)
        if list(path.segments):
            self.painted.append(PaintedShape(path, colour, paper, place))

    # --- clip paths ---

    def _clip(
        self, url: str, element: Any, whole: Affine2D, named: dict[str, Any], depth: int = 0
    ) -> tuple[pathops.Path, ...]:
        """The areas an element is cut to (SVG 1.1, 14.3.5); nothing where it refers to nothing."""
        target = named.get(_find_target(url))
        if target is None or get_local_name(target) != "clipPath" or depth > 8:
            if not url.startswith("url("):
                self.cannot.append((f"a clip path “{url[:30]}”: convert it to a shape", _describe_where(element)))
            return ()
        if target.get("clipPathUnits") == "objectBoundingBox":
            self.cannot.append(("a clip path in parts of a box: convert it to a shape", _describe_where(element)))
            return ()
        out = pathops.OpBuilder(fix_winding=True)
        for child in target.iter():
            if get_local_name(child) not in SHAPES:
                if get_local_name(child) in _NO_CURVES:
                    self.cannot.append(("text or a picture as a clip path", _describe_where(element)))
                continue
            own, chain = whole, [*([a for a in child.iterancestors() if _is_within(a, target)][::-1]), child]
            for link in chain:
                if link.get("transform"):
                    own = Affine2D.compose_ltr((Affine2D.fromstring(link.get("transform")), own))
            rule = next((v for e in reversed(chain) if (v := e.get("clip-rule"))), "nonzero")
            path = skia_path(list(from_element(child).as_cmd_seq()), rule if rule == "evenodd" else "nonzero")
            path = path.transform(*own)
            for further in (v for e in chain if e is not target and (v := e.get("clip-path", "none")) != "none"):
                for other in self._clip(further, element, own, named, depth + 1):
                    path = pathops.op(path, other, pathops.PathOp.INTERSECTION, fix_winding=True)
            out.add(path, pathops.PathOp.UNION)
        above: tuple[pathops.Path, ...] = ()
        if target.get("clip-path", "none") != "none":
            above = self._clip(target.get("clip-path"), element, whole, named, depth + 1)
        return (out.resolve(), *above)

    # --- results ---

    def collect_lines(self) -> DrawnArtwork:
        """Every line as it is drawn, once."""
        seen: dict[bytes, Path] = {}
        for path in self.drawn:
            seen.setdefault(np.round(path.points, 2).tobytes(), path)
        return self._build_result(tuple(seen.values()), 0.0)

    def collect_areas(self) -> DrawnArtwork:
        """Everything that is painted, united; what is painted in the paper's colour is left standing."""
        painted = self.painted
        if painted and all(p.paper for p in painted):
            painted = [PaintedShape(p.path, p.colour, False, p.place) for p in painted]
            self.changed.append(("drawn in white alone: its areas are cut", ""))
        left = [p for k, p in enumerate(painted) if p.paper and any(not q.paper for q in painted[:k])]
        if left:
            self.changed.append(("white areas on others, left standing", self._describe_element(left[0].place)))
        if not painted:
            return self._build_result((), 0.0)
        self._tell_covered(painted)
        frame = build_page_path(self.shown, self.scale)
        outline, deviation = compose_painted(painted, frame)
        if frame is not None and outline and reaches_beyond(painted, self.scale, self.shown):
            self.changed.append(("what lies outside the page is left out", ""))
        return self._build_result(outline, deviation)

    def _tell_covered(self, painted: Sequence[PaintedShape]) -> None:
        """Shapes in another colour that lie wholly on areas that are cut: one cut does not show them."""
        if len({p.colour for p in painted if not p.paper}) < 2:
            return
        regions = [(build_painted_region(p.path), p) for p in painted]
        lost = []
        for k, (region, p) in enumerate(regions):
            below = [r for r, q in regions[:k] if not q.paper and q.colour != p.colour and r.intersects(region)]
            if p.paper or region.is_empty or not below:
                continue
            if region.difference(shapely.union_all(below)).area < 0.01 * region.area:
                lost.append(p)
        if lost:
            shapes = "a shape" if len(lost) == 1 else f"{len(lost)} shapes"
            self.colours.append(
                (f"{shapes} in another colour ({lost[0].colour})", self._describe_element(lost[0].place))
            )

    def _build_result(self, outline: Outline, deviation: float) -> DrawnArtwork:
        remarks = []
        for reason, told in (("cannot", self.cannot), ("changed", self.changed), ("colours", self.colours)):
            counted: dict[str, list[str]] = {}
            for words, place in told:
                counted.setdefault(words, []).append(place)
            for words, places in counted.items():
                more = f" ({len(places)} times)" if len(places) > 1 else ""
                remarks.append(Remark(reason=reason, words=words + more, place=places[0]))  # type: ignore[arg-type]
        moved = tuple(Path(p.points / self.scale, p.degrees, p.closed) for p in outline)
        return DrawnArtwork(outline=moved, mm=None, remarks=limit_remarks(remarks), deviation=deviation / self.scale)


# --- helpers -----------------------------------------------------------------------------------------------------


def _measure_extent(svg: SVG) -> Box:
    """A box round all shapes of a drawing that does not say its page, with room for strokes."""
    boxes = []
    for context in svg.depth_first(resolve_clip_paths=False):
        if get_local_name(context.element) in SHAPES:
            try:
                path = skia_path(list(context.shape().as_cmd_seq()), "nonzero").transform(*context.transform)
            except (ValueError, TypeError, IndexError, KeyError, pathops.PathOpsError):
                continue
            boxes.append(path.bounds)
    if not boxes:
        return 0.0, 0.0, 100.0, 100.0
    found = np.array(boxes)
    x0, y0 = found[:, :2].min(axis=0).tolist()
    x1, y1 = found[:, 2:].max(axis=0).tolist()
    more = 0.1 * max(x1 - x0, y1 - y0, 1e-3)
    return x0 - more, y0 - more, x1 - x0 + 2 * more, y1 - y0 + 2 * more


def _describe_where(element: Any) -> str:
    return f"line {element.sourceline} of the file" if element.sourceline else ""


def _is_within(element: Any, of: Any) -> bool:
    return element is of or any(a is of for a in element.iterancestors())


def _find_target(url: str) -> str:
    found = re.match(r"""url\(\s*['"]?#([^'")]+)['"]?\s*\)""", url)
    return found[1].strip() if found else ""


def _is_painting(paint: str, opacity: float) -> bool:
    return paint.strip() not in ("none", "transparent", "") and opacity > 0


def _read_colour(paint: str, element: Any) -> tuple[str, bool]:
    """A colour's name, and whether it is the paper's."""
    if paint.strip().lower() == "currentcolor":
        paint = next((v for e in (element, *element.iterancestors()) if (v := e.get("color"))), "black")
    known = tinycss2.color3.parse_color(paint) if not paint.startswith("url(") else None
    if known is None or isinstance(known, str):
        return paint, False
    return paint, min(known.red, known.green, known.blue) >= _WHITE


def _read_dashes(text: str) -> list[float]:
    if text == "none":
        return []
    values = [float(v) for v in re.split(r"[\s,]+", text) if v]
    return values * 2 if len(values) % 2 else values


def _list_lines(path: pathops.Path) -> Iterator[Path]:
    """The contours of a path as they are drawn, each open unless it is closed or ends where it began."""
    points: list[tuple[float, float]] = []
    degrees: list[int] = []

    def finish_path(closed: bool) -> Iterator[Path]:
        if degrees:
            if closed and points[0] != points[-1]:
                points.append(points[0])
                degrees.append(1)
            yield Path(np.array(points, dtype=np.float64), tuple(degrees), closed or points[0] == points[-1])
        start = points[0] if points else None
        points.clear()
        degrees.clear()
        if start is not None and closed:
            points.append(start)

    path.convertConicsToQuads(_CONIC)
    for verb, coordinates in path:
        if verb == pathops.PathVerb.MOVE:
            yield from finish_path(False)
            points[:] = [coordinates[0]]
        elif verb == pathops.PathVerb.CLOSE:
            yield from finish_path(True)
        elif any(c != points[-1] for c in coordinates):
            points.extend(coordinates)
            degrees.append(len(coordinates))
    yield from finish_path(False)
