"""Sets the lines of a plaque into their zones: the artwork is decided here, once.

One `Typesetter` serves a whole order: areas, hulls and fixed lines are prepared once; each plaque is then shaped,
placed and compared.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from graphlib import TopologicalSorter
from typing import NamedTuple

import shapely
from shapely.geometry import Polygon

from pipeline.core.config.order import LineConfig, Order
from pipeline.core.model import Artwork, Blank, SetFigure, SetLine, SetRow, ShapedRow
from pipeline.core.required import require_value
from pipeline.core.storage.cache import Cache
from pipeline.core.storage.lru_cache import LruCache
from pipeline.core.units import SAME
from pipeline.geometry.curves import Chain
from pipeline.geometry.offset import OffsetOutline
from pipeline.geometry.regions import build_chain_polygon
from pipeline.layout.arc_text import place_on_arc, unite_arc_letters
from pipeline.layout.available_area import TOUCHING, AvailableArea, compute_available_area
from pipeline.layout.block import (
    BlockRow,
    LineSetting,
    PlacedRow,
    compute_baselines,
    measure_row_slack,
    place_row,
    row_fits,
)
from pipeline.layout.copy_fitting import CopyFitting, get_size_step, list_width_steps
from pipeline.layout.opposite_text import join_opposite
from pipeline.layout.shape_hulls import ShapeHulls
from pipeline.lettering.coverage import Coverage
from pipeline.lettering.font_face import Typeface
from pipeline.lettering.shaping import shape_row

LINES_WIDE = 0.001
"""mm. Lines of a figure take up this much on either side of them, so that they have an area."""

EDGE_TOLERANCE = 0.001
"""mm. How closely curved zones and keep-outs are followed when ink is tested against them."""

PASSES = 4
"""A line that gives way moves the others of its block, which are then tried again; further rounds change nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineText:
    """Text of one line for one recipient."""

    line: int  # number of the order's line, from 1
    text: str
    language: str | None = None
    opposite: str = ""  # text at the other end of the line, on the same baseline
    typed: tuple[str, ...] = ()  # the text in its typed rows, where they are to be kept

    @property
    def words(self) -> str:
        """The whole text, as read along the line."""
        return f"{self.text} {self.opposite}".strip() if self.opposite else self.text

    def reword(self, text: str) -> LineText:
        """The same with another text; rows as they were typed hold for the text they were typed in."""
        return replace(self, text=text, typed=self.typed if text == self.text else ())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineResult:
    """The result for one line. `setting` is None when nothing allowed fits; `placed` then holds the last try."""

    text: LineText
    setting: LineSetting | None
    placed: tuple[PlacedRow, ...]
    slack: float
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ZoneBlock:
    """The lines that share a zone and are placed as one block."""

    zone: str | None
    side: str
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Block:
    """The lines of one zone as one plaque has them. tied: baselines (mm) of lines that share one with another zone."""

    texts: Sequence[LineText]
    room: AvailableArea
    tied: Mapping[int, float]


class RowWords(NamedTuple):
    """Text of one row: its text, and what stands opposite."""

    text: str
    opposite: str = ""


def find_tied_lines(lines: Sequence[LineConfig]) -> dict[int, int]:
    """Number of a line -> number of the line it shares its first baseline with."""
    named = {line.name: number for number, line in enumerate(lines, 1) if line.name}
    return {n: named[line.baseline_with] for n, line in enumerate(lines, 1) if line.baseline_with in named}


def sort_by_ties(blocks: Sequence[ZoneBlock], ties: Mapping[int, int]) -> list[ZoneBlock]:
    """The blocks so that each comes after those its lines are tied to. `graphlib.CycleError` where that goes round."""
    home = {line: n for n, block in enumerate(blocks) for line in block.lines}
    needs = {n: {home[ties[line]] for line in block.lines if line in ties} - {n} for n, block in enumerate(blocks)}
    return [blocks[n] for n in TopologicalSorter(needs).static_order()]


def _are_shaped_alike(one: LineConfig, other: LineConfig) -> bool:
    return one is other or (one.language, one.features) == (other.language, other.features)


def _are_placed_alike(one: LineConfig, other: LineConfig) -> bool:
    def place(line: LineConfig) -> tuple[object, ...]:
        return line.arc, line.alignment, line.zone, line.side, line.leader

    return one is other or place(one) == place(other)


class Typesetter:
    """Sets plaques of one order."""

    def __init__(
        self,
        order: Order,
        blank: Blank,
        faces: Sequence[Sequence[Typeface]],
        coverage: Coverage | None = None,
        grow: float = 0.0,
        cache: Cache | None = None,
    ) -> None:
        """faces: for each line of the order its face and the further faces it may use. coverage: the shelf, for advice
        about other faces; opened when first needed. grow: what is cut is wider than designed by this on all sides, mm
        ([finish] compensate); fit counts it, and outlines are moved outwards by it, unless grooves are written, which
        are cut deeper instead. cache: where grown outlines are kept between runs."""
        self.order, self.blank, self.faces, self.grow = order, blank, faces, grow
        self.coverage = coverage or Coverage()
        self.hulls = ShapeHulls(cache)
        self.step = get_size_step(order.unit)
        self.tops = [line.cap_height for line in order.line]  # lowered by same_size = "all"
        self._rows: LruCache[ShapedRow] = LruCache(1024)
        self._placed: LruCache[PlacedRow] = LruCache()
        self._fits: LruCache[bool] = LruCache()
        self._slack: LruCache[float] = LruCache()
        self._lines: LruCache[SetLine] = LruCache()
        self.figures: tuple[SetFigure, ...] = ()  # figures on the plaque being set: lettering keeps clear of them
        self._rooms: dict[tuple[str | None, str, tuple[SetFigure, ...]], AvailableArea] = {}
        self._covers: dict[SetFigure, tuple[Polygon, ...]] = {}
        groups: dict[tuple[str | None, str, int], list[int]] = {}
        for number, line in enumerate(order.line, 1):  # a line on an arc is a block by itself
            groups.setdefault((line.zone, line.side, number if line.arc else 0), []).append(number)
        blocks = [ZoneBlock(zone, side, tuple(lines)) for (zone, side, _), lines in groups.items()]
        self.ties = find_tied_lines(order.line)
        self.groups = sort_by_ties(blocks, self.ties)

    def replace_line(self, number: int, part: LineConfig, face: Typeface | None = None) -> Typesetter:
        """The same with one line of the design changed, or set in another face; what is prepared is shared."""
        lines = tuple(part if n == number else line for n, line in enumerate(self.order.line, 1))
        faces = [[face] if face and n == number else used for n, used in enumerate(self.faces, 1)]
        return self.change_order(self.order.model_copy(update={"line": lines}), faces, self.grow)

    def change_order(self, order: Order, faces: Sequence[Sequence[Typeface]], grow: float) -> Typesetter:
        """The same for another order for the same blank; what still holds is shared. A line that is changed begins at
        its own size, whatever held it down before."""
        other = Typesetter(order, self.blank, faces, self.coverage, grow)
        other.hulls = self.hulls
        own = list(zip(self.order.line, order.line, strict=True))
        other.figures = self.figures
        if grow == self.grow and order.blank == self.order.blank:
            other._rooms, other._covers = self._rooms, self._covers
        if all(mine is theirs for mine, theirs in zip(self.faces, faces, strict=True)) and all(
            _are_shaped_alike(old, new) for old, new in own
        ):
            other._rows = self._rows
            if grow == self.grow and order.files == self.order.files and all(_are_placed_alike(*pair) for pair in own):
                other._placed, other._fits, other._slack = self._placed, self._fits, self._slack
                other._lines = self._lines
        other.tops = [top if old is new else new.cap_height for (old, new), top in zip(own, self.tops, strict=True)]
        return other

    # --- rooms ---

    def get_room(self, zone: str | None, side: str) -> AvailableArea:
        """The room of a zone. The back is seen from the back: mirrored left to right; pockets and marks of the front do
        not reach it, holes do."""
        figures = tuple(f for f in self.figures if f.side == side)
        key = (zone, side, figures)
        if key not in self._rooms:
            forbidden = [*self.blank.holes]
            if side == "front":
                forbidden += [*self.blank.keep_outs, *self.blank.pockets]
            polygons = [self._build_polygon(chain, side) for chain in forbidden]
            polygons += [part for figure in figures for part in self._get_cover(figure)]
            self._rooms[key] = compute_available_area(
                self._build_polygon(self.blank.get_zone(zone), side), polygons, self.order.blank.margin + self.grow
            )
        return self._rooms[key]

    def get_room_alone(self, zone: str | None, side: str) -> AvailableArea:
        """Return the area of a zone, ignoring figures."""
        figures, self.figures = self.figures, ()
        try:
            return self.get_room(zone, side)
        finally:
            self.figures = figures

    def list_figure_covers(self, side: str) -> list[tuple[SetFigure, tuple[Polygon, ...]]]:
        """The figures on a side, each with what it takes up."""
        return [(figure, self._get_cover(figure)) for figure in self.figures if figure.side == side]

    def _get_cover(self, figure: SetFigure) -> tuple[Polygon, ...]:
        """Return the area a figure covers. Gaps narrower than twice the margin are closed: no ink can enter them, and
        the area round them stays the same."""
        if figure not in self._covers:
            margin = self.order.blank.margin + self.grow
            areas = shapely.union_all([self.hulls.area(p) for row in figure.rows for p in row.pieces])
            closed = shapely.buffer(shapely.buffer(areas, margin + LINES_WIDE), -margin)
            parts = shapely.get_parts(shapely.simplify(closed, EDGE_TOLERANCE))
            self._covers[figure] = tuple(p for p in parts if isinstance(p, Polygon) and not p.is_empty)
        return self._covers[figure]

    def _build_polygon(self, chain: Chain, side: str) -> Polygon:
        if side == "back":
            flipped = chain.vertices.copy()
            flipped[:, 0] = self.blank.width - flipped[:, 0]
            flipped[:, 2] = -flipped[:, 2]
            chain = Chain(flipped, chain.closed)
        return build_chain_polygon(chain, EDGE_TOLERANCE)

    # --- rows ---

    def get_faces_at(self, line: int, width: float | None) -> Sequence[Typeface]:
        """The faces of a line, its own drawn at a narrower width where one is given."""
        first, *others = self.faces[line - 1]
        return self.faces[line - 1] if width is None else [first.with_width(width), *others]

    def shape_row(
        self, line: int, text: str, tracking: int, language: str | None, width: float | None = None
    ) -> ShapedRow:
        """A row in font units. width: see `LineSetting`."""
        part = self.order.line[line - 1]
        return self._rows.get_or_compute(
            (line, text, tracking, language, width),
            lambda: shape_row(
                self.get_faces_at(line, width),
                text,
                tracking=tracking,
                language=language or part.language or self.order.list.language,
                features=part.features,
            ),
        )

    def fits(self, row: PlacedRow, room: AvailableArea) -> bool:
        """Return whether a row of this room is inside it."""
        if not len(room.boxes):  # only the zone's own edge can be too close: one measurement serves both
            return self._measure_slack(row, room) >= -TOUCHING
        return self._fits.get_or_compute((row, room), lambda: row_fits(row, room, self.hulls))

    # --- plaques ---

    def set_lines(self, texts: Sequence[LineText], tops: Mapping[int, float] | None = None) -> tuple[LineResult, ...]:
        """Every line of one plaque, in the order's sequence. Lines without text are to be left out by the caller."""
        found: dict[int, LineResult] = {}
        for group in self.groups:
            mine = [text for text in texts if text.line in group.lines]
            tied = {
                line: found[other].placed[0].set_row.baseline
                for line, other in self.ties.items()
                if line in group.lines and other in found and found[other].placed
            }
            if mine:
                found |= self._set_block(_Block(mine, self.get_room(group.zone, group.side), tied), tops or {})
        return tuple(found[text.line] for text in texts)

    def list_needed_with(self, line: int) -> frozenset[int]:
        """The lines to be set for this one to stand where it does: its block, and the blocks it is tied to."""
        needed: set[int] = set()
        for group in reversed(self.groups):  # blocks come before those tied to them
            if line in group.lines or any(self.ties.get(n) in group.lines for n in needed):
                needed.update(group.lines)
        return frozenset(needed)

    def _set_block(self, block: _Block, tops: Mapping[int, float]) -> dict[int, LineResult]:
        texts, room = block.texts, block.room
        measures: dict[int, CopyFitting] = {}
        current: dict[int, LineSetting] = {}
        given_up: set[int] = set()
        for text in texts:
            part = self.order.line[text.line - 1]
            measures[text.line] = self._prepare_copy_fitting(text, part)
            current[text.line] = measures[text.line].get_designed(tops.get(text.line, self.tops[text.line - 1]))
        for _ in range(PASSES):
            placed = self._place_block(block, current)
            failing = [
                t for t in texts if t.line not in given_up and not all(self.fits(row, room) for row in placed[t.line])
            ]
            if not failing:
                break
            for text in failing:
                fitting = self._give_way(text, block, current, measures[text.line], tops)
                if fitting is None:
                    given_up.add(text.line)
                    current[text.line] = self._choose_last_try(measures[text.line])
                else:
                    current[text.line] = fitting
        placed = self._place_block(block, current)
        out = {}
        for text in texts:
            rows = placed[text.line]
            slack = min((self._measure_slack(row, room) for row in rows), default=0.0)
            fits = all(self.fits(row, room) for row in rows)
            missing = tuple(dict.fromkeys(c for row in rows for c in row.row.missing))
            setting = current[text.line] if fits else None
            out[text.line] = LineResult(text=text, setting=setting, placed=rows, slack=slack, missing=missing)
        return out

    def _measure_slack(self, row: PlacedRow, room: AvailableArea) -> float:
        return self._slack.get_or_compute((row, room), lambda: measure_row_slack(row, room, self.hulls))

    def _prepare_copy_fitting(self, text: LineText, part: LineConfig) -> CopyFitting:
        def measure_ink_width(row: str, tracking: int) -> float:
            ink = self.shape_row(text.line, row, tracking, text.language).ink
            return ink[2] - ink[0] if ink else 0.0

        joins = any(face.joins for face in self.faces[text.line - 1])
        known = self.faces[text.line - 1][0].widths
        narrower = list_width_steps(known[1], max(part.least_width, known[0])) if known and part.least_width else ()
        return CopyFitting(part, text.text, joins, measure_ink_width, self.step, narrower, text.typed)

    def _choose_last_try(self, measures: CopyFitting) -> LineSetting:
        """Return how a line that doesn't fit is drawn: one row, smallest size, as tight and as narrow as allowed."""
        line = measures.line
        return LineSetting(
            cap_height=line.smallest or line.cap_height,
            tracking=measures.tightest,
            rows=measures.fewest,
            width=measures.narrowest,
        )

    def _give_way(
        self,
        text: LineText,
        block: _Block,
        current: Mapping[int, LineSetting],
        measures: CopyFitting,
        tops: Mapping[int, float],
    ) -> LineSetting | None:
        part = self.order.line[text.line - 1]
        top = tops.get(text.line, self.tops[text.line - 1])
        return measures.find_first_fit(self._build_tester(text, block, current), top, part.smallest or part.cap_height)

    def _build_tester(
        self, text: LineText, block: _Block, current: Mapping[int, LineSetting]
    ) -> Callable[[LineSetting], bool]:
        left, _, right, _ = block.room.zone.bounds
        widest = right - left - 2 * (block.room.margin - TOUCHING) + SAME
        straight = self.order.line[text.line - 1].arc is None

        def fits(setting: LineSetting) -> bool:
            if straight and self.measure_widest_row(text, setting) > widest:
                return False  # too wide at any position
            placed = self._place_block(block, {**current, text.line: setting}, only=text.line)
            return all(self.fits(row, block.room) for row in placed[text.line])

        return fits

    def _place_block(
        self, block: _Block, settings: Mapping[int, LineSetting], only: int | None = None
    ) -> dict[int, tuple[PlacedRow, ...]]:
        """All rows of a block in their places (or only those of one line)."""
        texts, room = block.texts, block.room
        rows = [
            (text, self.order.line[text.line - 1], settings[text.line], n, row)
            for text in texts
            for n, row in enumerate(settings[text.line].rows)
        ]
        _, low, _, high = room.box
        levels = compute_baselines(
            [BlockRow(part, s.cap_height, n == 0, block.tied.get(text.line)) for text, part, s, n, _ in rows], low, high
        )
        out: dict[int, list[PlacedRow]] = {text.line: [] for text in texts}
        limits: dict[str, tuple[float, float]] = {}
        for (text, part, setting, n, row), level in zip(rows, levels, strict=True):
            if only is not None and text.line != only:
                continue
            align = part.alignment
            if not part.arc and align not in limits:
                limits[align] = self._find_limits(align, room, levels, [s.cap_height for _, _, s, _, _ in rows])
            last = n == len(setting.rows) - 1
            words = RowWords(row, text.opposite if last and not part.arc else "")
            out[text.line].append(self._place_row(text, part, setting, words, level, limits.get(align)))
        return {line: tuple(placed) for line, placed in out.items()}

    def _place_row(
        self,
        text: LineText,
        part: LineConfig,
        setting: LineSetting,
        row: RowWords,
        level: float,
        limits: tuple[float, float] | None,
    ) -> PlacedRow:
        """A row in its place. The same words at the same place are the same object. limits: of straight rows."""

        def make() -> PlacedRow:
            size = setting.cap_height
            shaped = self.shape_row(text.line, row.text, setting.tracking, text.language, setting.width)
            if part.arc:
                middle = (self.blank.width / 2, self.blank.height / 2)
                return place_on_arc(shaped, size, part.arc, middle, part.align, self.hulls)
            room = require_value(limits, "the room of a straight row")
            if not row.opposite:
                return place_row(shaped, size, level, part.alignment, room, self.hulls)
            shaped = self._add_opposite(text, part, setting, shaped, (room[1] - room[0]) * shaped.cap_units / size)
            return place_row(shaped, size, level, "left", room, self.hulls)

        key = (text.line, row, setting.tracking, setting.width, text.language, setting.cap_height, level, limits)
        return self._placed.get_or_compute(key, make)

    def _add_opposite(
        self, text: LineText, part: LineConfig, setting: LineSetting, own: ShapedRow, width: float
    ) -> ShapedRow:
        """A row joined with the line's opposite text, as wide as `width` (font units) where it can be."""

        def shape(words: str) -> ShapedRow:
            return self.shape_row(text.line, words, setting.tracking, text.language, setting.width)

        other, leader = shape(text.opposite), shape(part.leader) if part.leader else None
        left, right = (other, own) if part.align == "right" else (own, other)
        return join_opposite(left, right, width, leader)

    def measure_widest_row(self, text: LineText, setting: LineSetting) -> float:
        """Least ink width of the widest row of a setting, mm."""
        part = self.order.line[text.line - 1]
        widths = []
        for n, words in enumerate(setting.rows):
            row = self.shape_row(text.line, words, setting.tracking, text.language, setting.width)
            if text.opposite and n == len(setting.rows) - 1 and not part.arc:
                row = self._add_opposite(text, part, setting, row, 0.0)
            widths.append((row.ink[2] - row.ink[0]) * setting.cap_height / row.cap_units if row.ink else 0.0)
        return max(widths)

    def _find_limits(
        self, align: str, room: AvailableArea, levels: Sequence[float], caps: Sequence[float]
    ) -> tuple[float, float]:
        """Return where rows begin and end. Centred rows share the middle of the zone, so that a batch has one axis;
        rows to the left or right share the line that is free over the whole height of the block."""
        x0, _, x1, _ = room.box
        if align == "centre":
            return x0, x1
        low, high = levels[-1], levels[0] + caps[0]
        return room.find_span(low, high)

    def grow_outlines(self, rows: Sequence[SetRow]) -> tuple[OffsetOutline, ...]:
        """For every piece what is cut in place of its outline."""
        tolerance = self.order.files.tolerance
        pieces = [piece for row in rows for piece in row.pieces]
        return tuple(self.hulls.grow_shape(p.shape, self.grow / p.scale, tolerance / p.scale) for p in pieces)

    # --- one size for all ---

    def find_common_sizes(
        self, everybody: Sequence[Sequence[LineText]], figures: Sequence[tuple[SetFigure, ...]] = ()
    ) -> dict[int, tuple[float, int]]:
        """For each line with same_size = "all": the size of its longest, and which of `everybody` (index) sets it.
        figures: those on each one's plaque.

        A text that does not fit at the smallest size is stopped and does not count."""
        sizes: dict[int, tuple[float, int]] = {}
        for number, line in enumerate(self.order.line, 1):
            if line.same_size != "all":
                continue
            size, by = line.cap_height, -1
            for index, texts in enumerate(everybody):
                self.figures = figures[index] if figures else ()
                tried = {t.text.line: t for t in self.set_lines(texts, {number: size})}.get(number)
                if tried and tried.setting and tried.setting.cap_height < size - 1e-9:
                    size, by = tried.setting.cap_height, index
            sizes[number] = (size, by)
        return sizes

    def build_artwork(self, tried: Sequence[LineResult]) -> Artwork:
        """The artwork of a plaque; a line that does not fit is drawn as its last try, for the proof."""
        return Artwork(lines=tuple(self._build_line(t) for t in tried))

    def _build_line(self, t: LineResult) -> SetLine:
        """One line as it is set. Equal lines of two plaques are the same object."""
        part = self.order.line[t.text.line - 1]
        size = t.setting.cap_height if t.setting else (part.smallest or part.cap_height)

        def make() -> SetLine:
            rows = tuple(unite_arc_letters(p.set_row, self.hulls) if part.arc else p.set_row for p in t.placed)
            return SetLine(
                line=t.text.line,
                text=t.text.words,
                face=t.placed[0].row.face if t.placed else "",
                cap_height=size,
                tracking=t.placed[0].row.tracking if t.placed else 0,
                rows=rows,
                width=max((row.width for row in rows), default=0.0),
                slack=t.slack,
                side=part.side,
                letter_width=t.setting.width if t.setting else None,
                grown=self.grow_outlines(rows) if self.grow and not self.order.files.grooves else (),
            )

        return self._lines.get_or_compute((t.text.line, t.text.words, size, t.placed), make)
