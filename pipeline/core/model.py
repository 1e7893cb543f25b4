"""The data that passes through the pipeline: the blank, recipients, lettering, artwork, measures, plaques.

Everything is frozen and plain (arrays, tuples, numbers, text) so that it can be sent to a worker process. Lengths are
in mm and positions are on the blank (origin lower left, y up) unless a field says font units.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from pipeline.core.findings import Finding, Severity, Way
from pipeline.core.list_row import ListRow, get_row_file, get_row_number
from pipeline.core.measured_values import MeasuredValue, Measurement
from pipeline.geometry.curves import Chain, Outline
from pipeline.geometry.offset import OffsetOutline

# --- the blank ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """The piece before lettering, moved so that its lower left corner is the origin."""

    edge: Chain
    width: float
    height: float
    thickness: float | None
    zones: tuple[tuple[str, Chain], ...]  # by name; at least one
    keep_outs: tuple[Chain, ...] = ()
    pockets: tuple[Chain, ...] = ()  # outlines anticlockwise; clockwise ones are islands that stay standing
    holes: tuple[Chain, ...] = ()  # loops inside the edge on the edge layer, clockwise: cut through
    artwork: tuple[Chain, ...] = ()  # the drawing's artwork layer, as drawn
    source: str = ""  # the drawing's file name, or a description of the shape
    sha256: str = ""  # of the drawing's bytes; empty for a shape

    def get_zone(self, name: str | None) -> Chain:
        """Return the zone of this name, or the only one. KeyError when there is none."""
        if name is None:
            return self.zones[0][1]
        return dict(self.zones)[name]


# --- the list ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipient:
    """One row of the client's list."""

    row: ListRow  # as the spreadsheet shows it
    cell: str  # cell of the name, e.g. "B14"
    values: tuple[tuple[str, str], ...]  # our column key -> text to be cut
    raw: tuple[tuple[str, str], ...]  # our column key -> text as in the cell
    copies: int = 1
    language: str | None = None
    findings: tuple[Finding, ...] = ()
    typed_rows: tuple[tuple[str, tuple[str, ...]], ...] = ()  # key -> lines of its cell, where it has line breaks
    named: str = "name"  # key of the column that holds the recipient's name
    cells: tuple[tuple[str, str], ...] = ()  # keys that name drawing files -> their cells

    def get_value(self, key: str) -> str:
        return dict(self.values).get(key, "")

    @property
    def name(self) -> str:
        """Return the name: as it will be cut, or else as in the cell; empty when the cell is."""
        return self.get_value(self.named).strip() or dict(self.raw).get(self.named, "").strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class RowOutcome:
    """The outcome of one row of the sheet: exactly one of these."""

    row: ListRow
    fate: Literal["plaque", "left-out", "stopped"]
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListSource:
    """One list, with the file it came from."""

    file: str
    sheet: str
    sha256: str
    header_row: int
    rows: int  # rows of the sheet that aren't empty
    columns: tuple[tuple[str, str], ...]  # our key -> the sheet's column letter(s)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipientList(ListSource):
    """The client's list after reading; with further lists, all of them as one."""

    further: tuple[ListSource, ...] = ()  # in the order they are named
    recipients: tuple[Recipient, ...]
    account: tuple[RowOutcome, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def lists(self) -> tuple[ListSource, ...]:
        """Return all lists, the first one first."""
        return (self, *self.further)

    def locate_row(self, row: ListRow) -> tuple[int, int]:
        """Return the position of a row: its list, counted from 0, and its number there."""
        files = ["", *(each.file for each in self.further)]
        return files.index(get_row_file(row)), get_row_number(row)


# --- lettering: font units ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class GlyphUse:
    """One glyph of a shape, for naming it in a finding. Offsets in font units from the shape's origin."""

    glyph: int
    name: str
    text: str  # the characters it came from
    dx: float = 0.0
    dy: float = 0.0
    scale: float = 1.0  # the glyph's font units -> the shape's


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """The united outline of one glyph, or of a cluster of glyphs that touch. Font units, non-zero winding,
    outer contours anticlockwise, holes clockwise. An equal key means equal curves."""

    key: str
    outline: Outline
    glyphs: tuple[GlyphUse, ...]
    units_per_em: int
    cap_units: float  # cap height of its typeface, font units
    single_line: bool = False  # open strokes for an engraving point, not areas
    joins: bool = False  # of a script typeface whose letters join
    depth: float | None = None  # mm; only for lines of a client's artwork, which state their own depth
    parts: tuple[Shape, ...] = ()  # of a cluster: its glyphs one by one; each is measured once and combined


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedShape:
    """A shape in a row, in the row's font units (those of the line's first typeface)."""

    shape: Shape
    x: float
    y: float
    scale: float = 1.0  # the shape's font units -> the row's
    at: tuple[int, ...] = ()  # for each glyph of the shape, the start of its characters in the row's text


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShapedRow:
    """One row of lettering, set in font units: baseline y = 0, pen starts at x = 0."""

    text: str
    face: str  # the typeface's identity
    shapes: tuple[PlacedShape, ...]
    advance: float
    ink: tuple[float, float, float, float] | None  # x0, y0, x1, y1 of the outline; None when nothing is drawn
    cap_units: float
    units_per_em: int
    tracking: int = 0
    missing: tuple[str, ...] = ()  # characters that none of the line's typefaces has


# --- artwork: mm on the blank ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """A shape in its final position: its outline scaled (mm per font unit), turned (radians), shifted (mm)."""

    shape: Shape
    scale: float
    x: float
    y: float
    turn: float = 0.0

    def build_outline(self) -> Outline:
        """Return the Bézier curves in mm on the blank."""
        return tuple(p.transform(self.scale, self.x, self.y, self.turn) for p in self.shape.outline)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetRow:
    """One row of a line in its final position."""

    text: str
    pieces: tuple[Piece, ...]
    x: float  # where its pen starts
    baseline: float
    width: float  # of the ink


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetLine:
    """One line of the design, set for one recipient."""

    line: int  # number of the order's line, from 1
    text: str
    face: str
    cap_height: float
    tracking: int
    rows: tuple[SetRow, ...]
    width: float  # width of the widest row's ink
    slack: float  # remaining distance to zone and keep-outs; negative when it doesn't fit
    side: Literal["front", "back"] = "front"
    letter_width: float | None = None  # width-axis value, percent of normal, where the line had to be set narrower
    grown: tuple[
        OffsetOutline, ...
    ] = ()  # with `compensate`: per piece the outline that replaces its own, font units, same placement


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetFigure(SetLine):
    """A client's drawing in its final position: a crest, a badge, a border. It is handled like a line: `line` is 0,
    `text` the drawing's name, `cap_height` its drawn height."""

    number: int  # which [[artwork]] of the order, from 1; 0: of the blank's own drawing
    cut: Literal["engrave", "line"] = "engrave"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Artwork:
    """Everything that is cut into one side of a plaque."""

    lines: tuple[SetLine, ...]
    figures: tuple[SetFigure, ...] = ()  # client's drawings

    @property
    def parts(self) -> tuple[SetLine, ...]:
        """Lines and figures."""
        return (*self.lines, *self.figures) if self.figures else self.lines

    def list_pieces(self, side: str = "front") -> list[Piece]:
        return [p for line in self.parts if line.side == side for row in line.rows for p in row.pieces]


# --- checks ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class LineMeasure:
    """The measurements of one line."""

    line: int
    measurements: tuple[Measurement, ...] = ()

    def get(self, what: MeasuredValue) -> Measurement | None:
        """Return the measurement of a value; None where it doesn't apply."""
        return next((m for m in self.measurements if m.name == what.key), None)

    def get_figure(self, what: MeasuredValue) -> float | None:
        """Return only its figure."""
        found = self.get(what)
        return None if found is None else found.value


State = Literal["ready", "ask", "stopped"]


def derive_state(findings: tuple[Finding, ...]) -> State:
    """Return the state that follows from the worst finding."""
    if not findings:
        return "ready"
    severities = {f.severity for f in findings}
    if Severity.STOP in severities:
        return "stopped"
    return "ask" if Severity.ASK in severities else "ready"


@dataclass(frozen=True, slots=True)
class PolicySizes:
    """Sizes of one line of a plaque: its cap height (mm) with same_size = "most" and with "each"; see `SizedName`."""

    line: int
    text: str
    most: float | None
    each: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plaque:
    """One recipient's piece, after all stages."""

    recipient: Recipient
    text: tuple[str, ...]  # the lines' texts as they will be cut
    artwork: Artwork | None  # None when nothing could be set
    measures: tuple[LineMeasure, ...] = ()
    figure_measures: tuple[LineMeasure, ...] = ()  # measures of the figures, with `line` as the figure's number from 1
    findings: tuple[Finding, ...] = ()  # the recipient's own findings first
    fingerprint: str = ""  # empty when stopped
    cut_file: str = ""  # relative to the output folder; empty when there is none
    back_file: str = ""
    also_files: tuple[str, ...] = ()  # SVG and PDF of the same curves
    proved: tuple[tuple[str, float], ...] = ()  # results of reading the file back and simulating the cut, by name
    sizes: tuple[PolicySizes, ...] = ()  # sizes under each same-size policy, by line

    @property
    def all_measures(self) -> tuple[LineMeasure, ...]:
        """Return the measurements of lines and figures."""
        return (*self.measures, *self.figure_measures)

    @property
    def state(self) -> State:
        return derive_state(self.findings)

    @property
    def name(self) -> str:
        """Return the name by which a person would call this plaque: the recipient's, or else the first text on it.
        Empty when there is none."""
        known = (self.recipient.name, *self.text, *(text for _, text in self.recipient.raw))
        return next((text.strip() for text in known if text.strip()), "")

    @property
    def beside_name(self) -> tuple[str, ...]:
        """Return the texts of the lines other than the name."""
        name = " ".join(self.name.split()).casefold()
        return tuple(t for t in self.text if t.strip() and " ".join(t.split()).casefold() != name)


def hold_back(plaque: Plaque, stops: tuple[Finding, ...]) -> Plaque:
    """Return the plaque stopped by these findings too, which come first: without fingerprint and files."""
    return replace(
        plaque,
        findings=(*stops, *plaque.findings),
        fingerprint="",
        cut_file="",
        back_file="",
        also_files=(),
        proved=(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedName:
    """One text of a line: its cap height (mm) with same_size = "most", where spacing, letter width and breaks are tried
    before a smaller size, and with "each", where a smaller size is tried first. None: it can't be set."""

    row: ListRow
    text: str
    most: float | None
    each: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSizes:
    """The sizes of one line of the design over the list. With "all" every name has the smallest `most`."""

    line: int
    same_size: str  # the policy the order asks for
    designed: float  # cap height, mm
    names: tuple[SizedName, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultCount:
    """One kind of fault of a line of the design: its code, the affected rows, the finding farthest from its limit."""

    code: str
    rows: tuple[ListRow, ...]
    worst: Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignFault:
    """The faults of one line of the design, on all affected plaques. See `core.design_faults`."""

    line: int
    face: str  # as the order names it
    cap_height: float  # as designed, mm
    faults: tuple[FaultCount, ...]
    rows: tuple[ListRow, ...]  # of the affected plaques
    names: tuple[str, ...]  # their names, in the order of `rows`
    of: int  # number of plaques in the order
    ways: tuple[Way, ...] = ()  # edits that resolve it on all of them; each was tried
    untried: bool = False  # no other design was tried for the line, see `DesignAdvisor.advise_all`


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """A whole run: what every output is made from."""

    title: str
    client: str
    order_sha256: str
    listing: RecipientList
    blank: Blank
    plaques: tuple[Plaque, ...]
    findings: tuple[Finding, ...]  # of the whole order
    cutter: tuple[tuple[str, str | float], ...] = ()  # the resolved cutter and limits, by name, with their sources
    faults: tuple[tuple[ListRow, str], ...] = field(default=())  # internal errors: (row, traceback)
    sizes: tuple[LineSizes, ...] = ()  # the size table, one entry per line of the design
    order_id: str = ""  # the order's code; empty: derived from title and client
    language: str = ""  # of the client's papers (BCP 47); empty: not known
    part: str = ""  # for a run of some rows: these, as `4-20,31`; empty for the whole list
    design: tuple[DesignFault, ...] = ()  # lines of the design that are at fault
    proof_held: bool = False  # no proof is made until the design is corrected
    finished: tuple[tuple[ListRow, int], ...] = ()  # row -> its pieces that are cut or delivered already

    @property
    def finished_rows(self) -> frozenset[ListRow]:
        """Return the rows of plaques with nothing left to make."""
        wanted = {r.row: r.copies for r in self.listing.recipients}
        return frozenset(row for row, pieces in self.finished if 0 < wanted.get(row, 0) <= pieces)

    @property
    def left_to_make(self) -> Outcome:
        """Return the outcome with the unfinished plaques only, in as many pieces as are left."""
        return replace(self, plaques=drop_finished(self.plaques, dict(self.finished))) if self.finished else self

    @property
    def has_stop(self) -> bool:
        """Return whether anything must not be cut: the whole order, its boards or papers, or a plaque."""
        stops = any(f.severity is Severity.STOP for f in self.findings)
        return stops or any(p.state == "stopped" for p in self.plaques)


def drop_finished(plaques: Sequence[Plaque], finished: Mapping[ListRow, int]) -> tuple[Plaque, ...]:
    """Return the unfinished plaques, in as many pieces as are left. finished: pieces made already, by row."""
    left = ((p, p.recipient.copies - finished.get(p.recipient.row, 0)) for p in plaques)
    return tuple(set_copies(p, n) if n != p.recipient.copies else p for p, n in left if n > 0)


def set_copies(plaque: Plaque, copies: int) -> Plaque:
    """Return the plaque with another number of pieces."""
    return replace(plaque, recipient=replace(plaque.recipient, copies=copies))
