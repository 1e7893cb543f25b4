"""The order: everything `order.toml` says, as frozen models. All lengths here are mm, whatever unit the file is in.

`Length` fields are converted from the order's unit while the file is read; defaults are written in mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from pipeline.core.order_table import AsTuple, Deviation, Far, Length, LetterHeight, NotNegative, OrderTable, Positive
from pipeline.core.placeholders import placeholders_in
from pipeline.core.shop_tables import BoardConfig, LabelsConfig, PocketConfig, PourConfig, RatesConfig, StockConfig
from pipeline.core.short_codes import order_id
from pipeline.core.units import UnitName, Units

__all__ = ["AsTuple", "Length", "NotNegative", "OrderTable", "Positive"]


class ListLimits(OrderTable, check="file_mb unpacked_mb times parts rows columns cells text"):
    """[list] limits: how much of a file is taken in before it is refused. For 100,000 names all are ample."""

    file_mb: int = Field(default=200, gt=0, le=100_000)  # MB (2**20 bytes) of the file
    unpacked_mb: int = Field(default=400, gt=0, le=100_000)  # MB of a workbook once unpacked
    times: int = Field(default=400, gt=0, le=1_000_000)  # unpacked to packed; ordinary: under 30, deflate: under 1033
    parts: int = Field(default=5_000, gt=0, le=10_000_000)  # files inside a workbook
    rows: int = Field(default=200_000, gt=0, le=100_000_000)  # rows of the sheet that hold anything
    columns: int = Field(default=1_000, gt=0, le=1_000_000)  # columns that hold anything
    cells: int = Field(default=2_000_000, gt=0, le=1_000_000_000)  # cells that hold anything
    text: int = Field(default=32_767, gt=0, le=10_000_000)  # characters in a cell; published limit of spreadsheets


class ListConfig(
    OrderTable,
    drawn="file sheet header area columns language encoding separator hidden struck",
    paper="settled",
    check="guessed",
):
    """[list]: where the recipients are."""

    file: str
    sheet: str | None = None  # default: the first visible sheet
    header: int | None = Field(default=None, ge=0, le=100_000_000)  # its row as shown; 0: none; default: found
    area: str | list[str] | None = None  # "A3:C40": of several lists on a sheet this one; areas below one another
    guessed: bool = False  # header, area, columns: by `start`, and nobody has looked at them yet
    columns: dict[str, str | list[str]] = Field(default_factory=dict)  # our key -> the sheet's column heading(s)
    language: str | None = None  # BCP 47, for every row that has no language column
    encoding: str | None = None  # of a text file (.csv, .tsv, .txt); default: found
    separator: str | None = Field(default=None, min_length=1, max_length=1)  # between its columns; default: found
    hidden: Literal["ask", "use", "leave-out"] = "ask"  # rows hidden in the sheet; "ask" takes them, with a question
    struck: Literal["ask", "use", "leave-out"] = "ask"  # rows whose name is struck through
    limits: ListLimits = ListLimits()
    settled: dict[str, str] = Field(default_factory=dict)  # questions not to ask: code, or code and rows -> reason


class LayersConfig(OrderTable, drawn="edge pocket", making="zone keep_out"):
    """Layer names of the client's or the shop's blank drawing."""

    edge: str = "EDGE"
    zone: str | list[str] = "LETTERING"
    keep_out: str | None = "KEEP_OUT"
    pocket: str | None = "POCKET"


class BlankConfig(
    OrderTable, drawn="drawing shape width height corner_radius diameter thickness margin gap drawing_units"
):
    """[blank]: the piece before lettering."""

    drawing: str | None = None
    shape: Literal["rectangle", "disc"] | None = None
    width: Positive | None = None
    height: Positive | None = None
    corner_radius: NotNegative = 0.0
    diameter: Positive | None = None
    layers: LayersConfig = LayersConfig()
    thickness: Positive | None = None
    margin: NotNegative = 2.0
    gap: NotNegative = 0.05  # ends of a drawing's curves this close are joined
    drawing_units: UnitName | None = None  # only for a drawing that does not say its unit


CutterKind = Literal["v-bit", "end-mill", "point", "laser"]
"""Kinds of cutters an order can write out; what each can do is said by its class."""
TOLD_WITH_THE_FILE: Mapping[str, str] = {"v-bit": "angle", "end-mill": "diameter"}
"""Sizes a kind cannot do without that are asked for while the file is read, with the place where they are missing; what
is not here is asked for when the cutter is made."""


class CutterConfig(OrderTable, resolved="use kind angle tip diameter kerf reach"):
    """[cutter]: a cutter of the shelf by name (`use`), or one written out here, or the shelf's with changes."""

    use: str | None = None
    kind: CutterKind | None = None
    angle: float | None = Field(default=None, ge=1, le=179)  # included angle, degrees
    tip: NotNegative | None = None
    diameter: Positive | None = None
    kerf: Positive | None = None
    reach: Positive | None = None


class LimitsConfig(OrderTable, resolved="deepest", check="stroke land shallowest"):
    """[limits]: what is left out follows from the cutter."""

    stroke: Positive | None = None
    land: Positive | None = None
    deepest: Positive | None = None
    shallowest: NotNegative | None = None


class ArcConfig(OrderTable, drawn="radius centre at start sweep"):
    """A line set on a circular arc, for medals and round plaques."""

    radius: Positive  # of the baseline
    centre: Annotated[tuple[Length, Length], AsTuple] | None = None  # default: the middle of the blank
    at: Literal["top", "bottom"] = "top"  # top: read from outside clockwise; bottom: read upright along the bottom
    start: float | None = Field(default=None, ge=-720, le=720)  # degrees anticlockwise from the right; or centred
    sweep: float = Field(default=180.0, ge=1, lt=360)  # degrees the text may take up


AxisValue = Annotated[float, Field(ge=-32_768, le=32_767)]
"""What a font can hold: 16.16 fixed point (OpenType specification, `fvar`)."""


class LineConfig(
    OrderTable,
    drawn="text face cap_height smallest zone align tracking tightest least_width breaks same_size side leading "
    "space_before language features axes also case tidy_quotes",
):
    """One [[line]]: one line of lettering of the design."""

    text: str = Field(max_length=500)
    face: str
    cap_height: LetterHeight
    smallest: LetterHeight | None = None  # default: cap_height
    zone: str | None = None  # default: the drawing's only zone
    align: Literal["left", "centre", "right"] = "centre"
    tracking: int = Field(default=0, ge=-500, le=5_000)  # thousandths of an em, as designed
    tightest: int = Field(default=0, ge=-500, le=5_000)  # tracking may go down to this
    least_width: float | None = Field(default=None, ge=1, le=1_000)  # letters of a face with a width axis (`wdth`,
    # percent of normal) may be drawn this narrow before the line is broken or set smaller; else they keep their width
    breaks: int = Field(default=1, ge=1, le=6)
    same_size: Literal["all", "most", "each"] = "most"
    side: Literal["front", "back"] = "front"
    leading: Positive | None = None  # baseline to baseline; default: ISO 3098 pitch for the cap height
    space_before: NotNegative | None = None  # from the line above, ink to ink... default: follows the leading
    language: str | None = None
    features: dict[str, bool] = Field(default_factory=dict)  # OpenType features, e.g. { smcp = true }
    axes: dict[str, AxisValue] = Field(default_factory=dict)  # axes of a variable font, e.g. { wght = 560.0 }
    also: list[str] = Field(default_factory=list)  # further faces for characters the first has not
    case: Literal["as-typed", "capitals"] = "as-typed"
    tidy_quotes: bool = False
    arc: ArcConfig | None = None


class FinishConfig(OrderTable, resolved="sanded_off compensate"):
    """[finish]: what happens to the face after engraving."""

    sanded_off: NotNegative = 0.0
    compensate: bool = False


class ReadingConfig(OrderTable, check="distance height"):
    """[reading]: from where the lettering has to be read. Left out, legibility is not checked."""

    distance: Far | None = None  # of the reader
    height: Far | None = None  # of the baseline above the floor; default: the table's lowest row


class ProofConfig(OrderTable, paper="paper revision date shop contact return_to message language volume"):
    """[proof]: the paper the client signs."""

    paper: Literal["A4", "letter"] = "A4"
    revision: str | None = None  # of the first proof, default A; later ones count on as the ledger says
    date: str | None = None  # as it should be printed; no clock is read
    shop: str = ""
    contact: str = ""
    return_to: str = ""
    message: str = ""
    language: str = "en"
    volume: Annotated[int, Field(ge=1, le=10_000)] = 250  # designs in one file; a longer proof comes in several


class RegistrationConfig(OrderTable, resolved="at mark size", making="sheet"):
    """[files] registration: marks in the waste round the blank, for turning it over."""

    at: Annotated[tuple[Annotated[tuple[Length, Length], AsTuple], ...], AsTuple, Field(min_length=2, max_length=4)]
    """Middles of the marks, from the blank's lower left, seen from the front."""
    sheet: Positive  # how far the sheet goes beyond the blank on every side
    mark: Literal["cross", "hole"] = "cross"
    size: Positive = 4.0  # length of a cross's strokes, diameter of a hole

    def word(self) -> str:
        """All of it as one word, lengths in whole µm."""
        places = " ".join(f"{x * 1000:.0f},{y * 1000:.0f}" for x, y in self.at)
        return f"{self.mark} {self.size * 1000:.0f} at {places}"


class FilesConfig(OrderTable, resolved="grooves", making="version curves tolerance layers also"):
    """[files]: how the cut files are written."""

    version: Literal["R12", "R2000", "R2007", "R2010", "R2018"] = "R2010"
    curves: Literal["arcs", "lines", "splines"] = "arcs"
    tolerance: Deviation = 0.01  # farthest a written curve may lie from the artwork
    layers: dict[str, str] = Field(default_factory=dict)  # our layer -> the shop's name
    grooves: bool = False  # centre lines with depth on layer GROOVE
    also: list[Literal["svg", "pdf"]] = Field(default_factory=list)
    registration: RegistrationConfig | None = None


class Order(OrderTable, paper="title client", making="units"):
    """One client's job."""

    title: str = Field(max_length=300)
    client: str = Field(default="", max_length=300)
    units: UnitName = "mm"
    list: ListConfig
    blank: BlankConfig
    cutter: CutterConfig = CutterConfig(use="vbit-60")
    limits: LimitsConfig = LimitsConfig()
    line: Annotated[tuple[LineConfig, ...], AsTuple, Field(min_length=1)]
    finish: FinishConfig = FinishConfig()
    reading: ReadingConfig = ReadingConfig()
    proof: ProofConfig = ProofConfig()
    files: FilesConfig = FilesConfig()
    stock: StockConfig | None = None
    pocket: PocketConfig | None = None  # a blank with a pocket and no such table is not milled by us
    pour: PourConfig | None = None
    board: BoardConfig | None = None
    rates: RatesConfig = RatesConfig()
    labels: LabelsConfig = LabelsConfig()

    @property
    def unit(self) -> Units:
        """For showing lengths as the order writes them."""
        return Units(self.units)

    @property
    def fixed_lines(self) -> frozenset[int]:
        """Numbers of the lines that say the same on every plaque, from 1."""
        return frozenset(n for n, line in enumerate(self.line, 1) if not placeholders_in(line.text))


class OrderFolder(OrderTable, paper="folder file sha256 code"):
    """An order with the place it was read from."""

    model_config = ConfigDict(frozen=True, arbitrary_types_allowed=True)

    order: Order
    folder: Path
    file: Path
    sha256: str  # of order.toml's bytes
    code: str = ""  # the order's code as its ledger stores it; empty: as title and client give it

    @property
    def order_id(self) -> str:
        """The order's code, the same for every run: that of its first run where the ledger has it."""
        return self.code or order_id(self.order.title, self.order.client)

    def path(self, name: str) -> Path:
        """A file named in the order, relative to the order folder."""
        return self.folder / name
