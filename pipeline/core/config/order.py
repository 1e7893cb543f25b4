"""The order: everything `order.toml` says, as frozen models. All lengths here are mm, whatever unit the file is in.

`Length` fields are converted from the order's unit while the file is read; defaults are written in mm.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path, PurePosixPath
from typing import Annotated, Literal, Self

from pydantic import ConfigDict, Field, PrivateAttr

from pipeline.core.config.order_table import (
    AsTuple,
    CutterKind,
    Deviation,
    Far,
    Length,
    LetterHeight,
    NotNegative,
    OrderTable,
    PerPass,
    Positive,
)
from pipeline.core.config.placeholders import list_placeholders
from pipeline.core.config.shop_config import NO_SHOP, ShopConfig
from pipeline.core.config.shop_tables import (
    BoardConfig,
    ClearingConfig,
    JigConfig,
    LabelsConfig,
    PocketConfig,
    PourConfig,
    RatesConfig,
    SpareConfig,
    StockConfig,
    WorkConfig,
)
from pipeline.core.environment.own_fonts import OwnFonts, list_own_fonts
from pipeline.core.short_codes import build_order_id
from pipeline.core.units import SpokenUnits, UnitName, Units

__all__ = ["AsTuple", "CutterKind", "Length", "NotNegative", "OrderTable", "Positive"]


class ListLimits(OrderTable, check="file_mb unpacked_mb times parts rows columns cells text"):
    """[list] limits: how much of a file is taken in before it is refused. For 100,000 names all are ample."""

    file_mb: int = Field(default=200, gt=0, le=100_000)
    """Largest file, in MB (2**20 bytes)."""
    unpacked_mb: int = Field(default=400, gt=0, le=100_000)
    """Largest workbook once unpacked, in MB."""
    times: int = Field(default=400, gt=0, le=1_000_000)
    """Greatest ratio of unpacked to packed size. Ordinary workbooks stay under 30; DEFLATE (RFC 1951) can't exceed
    1032."""
    parts: int = Field(default=5_000, gt=0, le=10_000_000)
    """Most files inside a workbook."""
    rows: int = Field(default=200_000, gt=0, le=100_000_000)
    """Most rows of the sheet that hold anything."""
    columns: int = Field(default=1_000, gt=0, le=1_000_000)
    """Most columns that hold anything."""
    cells: int = Field(default=2_000_000, gt=0, le=1_000_000_000)
    """Most cells that hold anything."""
    text: int = Field(default=32_767, gt=0, le=10_000_000)
    """Most characters in one cell; the default is the published limit of spreadsheets."""


class ListConfig(
    OrderTable,
    drawn="file more sheet header area columns language dates encoding separator hidden struck",
    paper="settled",
    check="guessed",
):
    """[list]: where the recipients are."""

    file: str
    """The client's list, in the order folder: .xlsx .xlsm .xlsb .xls .ods .csv .tsv or .txt."""
    more: list[str] = Field(default_factory=list, max_length=100)
    """Further lists of the same order, such as names that came late: `["late-names.xlsx"]`. `columns` and the other
    keys hold for them too, but not `sheet`, `area`, `encoding`, `separator` and the row in `header`: in each the
    headings are found anew. Their rows are named with the file: `late-names.xlsx!12`."""
    sheet: str | None = None
    """Sheet of the workbook. Left out: the first visible one."""
    header: int | None = Field(default=None, ge=0, le=100_000_000)
    """Row of the headings, numbered as in the sheet; 0: the list has none. Left out: found."""
    area: str | list[str] | None = None
    """Part of the sheet to read, such as "A3:C40", or several areas one below the other. Left out: all of it."""
    guessed: bool = False
    """Written by `plaques start`: header, area and columns are a guess. Take it out once you have checked them."""
    columns: dict[str, str | list[str]] = Field(default_factory=dict)
    """Your names for the list's columns. Each is a heading, or several that are joined with spaces. If you call one
    `address` or `group`, the packing list has a part for each of its values."""
    language: str | None = None
    """Language of every row without a language column, as a BCP 47 tag."""
    dates: str | dict[str, str] | None = None
    """How dates are set, as a pattern of Unicode's (UTS #35) in the row's language: "d MMMM y" for 2 May 2026; or
    short, medium, long or full, which each language writes differently; by column if needed: { born = "y" }. Left
    out: as the sheet shows them, which is asked about."""
    encoding: str | None = None
    """Encoding of a text file (.csv, .tsv, .txt). Left out: found."""
    separator: str | None = Field(default=None, min_length=1, max_length=1)
    """Character between the columns of a text file. Left out: found."""
    hidden: Literal["ask", "use", "leave-out"] = "ask"
    """Rows hidden by hand or by a filter. "ask" keeps them and asks."""
    struck: Literal["ask", "use", "leave-out"] = "ask"
    """Rows whose name is struck through. "ask" keeps them and asks."""
    limits: ListLimits = ListLimits()
    """How large a list may be before it is refused."""
    settled: dict[str, str] = Field(default_factory=dict)
    """Questions already answered, with the reason: a code, or a code and its rows, "list.look-alike 12"; of a further
    list "list.look-alike late-names.xlsx!12"."""

    @property
    def further(self) -> tuple[str, ...]:
        """The further lists, as their rows are named."""
        return tuple(PurePosixPath(name).as_posix() for name in self.more)

    def get_further(self, name: str) -> Self:
        """Return the table that applies to a further list. name: one of `more`."""
        own: dict[str, object] = dict.fromkeys(("sheet", "area", "encoding", "separator"))
        own |= {"file": name, "more": [], "header": 0 if self.header == 0 else None, "guessed": False, "settled": {}}
        return self.model_copy(update=own)


class LayersConfig(OrderTable, drawn="edge pocket artwork", making="zone keep_out"):
    """Layer names of the client's or the shop's blank drawing."""

    edge: str = "EDGE"
    """Outline of the blank and holes through it."""
    zone: str | list[str] = "LETTERING"
    """Where lettering may go; one layer, or several zones. The layer of the edge: anywhere inside it."""
    keep_out: str | None = "KEEP_OUT"
    """Areas that lettering stays away from."""
    pocket: str | None = "POCKET"
    """Outline of the pocket."""
    artwork: str | None = None
    """A crest or border that is drawn with the blank, where it stands; engraved like lettering. Left out: none."""


class BlankConfig(
    OrderTable, drawn="drawing shape width height corner_radius diameter thickness margin gap drawing_units"
):
    """[blank]: the piece before lettering."""

    drawing: str | None = None
    """Drawing of the blank (.dxf) in the order folder."""
    shape: Literal["rectangle", "disc"] | None = None
    """Shape of a blank without a drawing."""
    width: Positive | None = None
    """Width of a rectangle."""
    height: Positive | None = None
    """Height of a rectangle."""
    corner_radius: NotNegative = 0.0
    """Radius of a rectangle's corners."""
    diameter: Positive | None = None
    """Diameter of a disc."""
    layers: LayersConfig = LayersConfig()
    """Layer names of the drawing."""
    thickness: Positive | None = None
    """Thickness when the blank goes under the cutter."""
    margin: NotNegative = 2.0
    """Distance lettering keeps from the edge of its zone, keep-outs and pockets."""
    gap: NotNegative = 0.05
    """Ends of lines in the drawing that are this close are joined."""
    drawing_units: UnitName | None = None
    """Unit of a drawing that doesn't state its own."""


class CutterConfig(OrderTable, resolved="use kind angle tip diameter kerf reach", making="depth_per_pass"):
    """[cutter]: a cutter of the shelf by name (`use`), or one written out here, or the shelf's with changes."""

    use: str | None = None
    """A cutter from the shelf; `plaques cutters` lists them. Other keys of the table change it."""
    kind: CutterKind | None = None
    """Kind of cutter, for one that is not on the shelf."""
    angle: float | None = Field(default=None, ge=1, le=179)
    """Included angle of a V-bit, in degrees."""
    tip: NotNegative | None = None
    """Width of a V-bit's flat tip, or of the line a point leaves."""
    diameter: Positive | None = None
    """Diameter of the bit."""
    kerf: Positive | None = None
    """Width a laser burns away."""
    reach: Positive | None = None
    """Deepest cut before the shank or collet touches the work."""
    depth_per_pass: PerPass | None = None
    """Depth of one pass while lettering. Left out: what [stock] `material` says; where nothing does, half the
    diameter of an end mill, and one pass of other cutters."""


class LimitsConfig(OrderTable, resolved="deepest", check="stroke land shallowest"):
    """[limits]: what is left out follows from the cutter."""

    stroke: Positive | None = None
    """Narrowest stroke allowed. Left out: what the cutter can make."""
    land: Positive | None = None
    """Narrowest land allowed between two cuts. Left out: the wider of the tip and 0.2 mm."""
    deepest: Positive | None = None
    """Deepest groove allowed. Left out: what the bit and the stock allow."""
    shallowest: NotNegative | None = None
    """Shallowest groove allowed. Left out: 0.1 mm."""


class ArcConfig(OrderTable, drawn="radius centre at start sweep"):
    """A line set on a circular arc, for medals and round plaques."""

    radius: Positive
    """Radius of the baseline."""
    centre: Annotated[tuple[Length, Length], AsTuple] | None = None
    """Centre of the circle, from the blank's lower left. Left out: the middle of the blank."""
    at: Literal["top", "bottom"] = "top"
    """"top" reads clockwise along the outside; "bottom" reads upright along the bottom."""
    start: float | None = Field(default=None, ge=-720, le=720)
    """Where the text begins, in degrees anticlockwise from the right. Left out: centred."""
    sweep: float = Field(default=180.0, ge=1, lt=360)
    """Degrees of the circle the text may take up."""


AxisValue = Annotated[float, Field(ge=-32_768, le=32_767)]
"""What a font can hold: 16.16 fixed point (OpenType specification, `fvar`)."""


LOOSEST_BY_DEFAULT = 40
"""Thousandths of an em by which a line may be opened without being asked: more is seen (common practice, no source)."""


class LineConfig(
    OrderTable,
    drawn="text opposite leader face cap_height smallest zone align vertical tracking tightest loosest least_width "
    "breaks break_at same_size side leading space_before name baseline_with language features axes also case "
    "tidy_quotes",
):
    """One [[line]]: one line of lettering of the design."""

    text: str = Field(max_length=500)
    """Text of the line, with columns in braces: "{name}". Braces themselves are written twice."""
    opposite: str | None = Field(default=None, max_length=500)
    """A second text at the opposite edge of the zone, on the same baseline and of the same size: "{year}"."""
    leader: str | None = Field(default=None, min_length=1, max_length=3)
    """What is repeated between the text and its opposite, such as ".". Left out: nothing."""
    face: str
    """Typeface: a name from the shelf or of your own fonts (`plaques faces`), or a font file in the order folder."""
    cap_height: LetterHeight
    """Height of the capitals as designed."""
    smallest: LetterHeight | None = None
    """Smallest capital height allowed for a long text. Left out: cap_height."""
    zone: str | None = None
    """Zone of the drawing the line goes into. Left out: its only one."""
    align: Literal["left", "centre", "right"] = "centre"
    """Alignment within the zone. A line with an opposite text is "left" by default."""
    vertical: Literal["top", "middle", "bottom"] = "middle"
    """Where the lines of the zone stand in it. At the top and the bottom there is room for accents and descenders."""
    tracking: int = Field(default=0, ge=-500, le=5_000)
    """Extra space between letters as designed, in thousandths of an em. Ligatures are then off; joining letters stay
    joined."""
    tightest: int = Field(default=0, ge=-500, le=5_000)
    """Tracking may go down to this before the line is broken or set smaller, in thousandths of an em."""
    loosest: int | None = Field(default=None, ge=-500, le=5_000)
    """Tracking may go up to this where neighbours stand too close for the land, in thousandths of an em. Left out: 40
    more than tracking; 0, or tracking itself, keeps the designed spacing. Letters that join are never spaced."""
    least_width: float | None = Field(default=None, ge=1, le=1_000)
    """A typeface with a width axis may be narrowed to this percentage of its normal width. Left out: never."""
    breaks: int = Field(default=1, ge=1, le=6)
    """Most lines one text may be broken into. A line break typed in the cell is kept where this allows it."""
    break_at: Literal["names", "anywhere"] = "names"
    """"names": broken where a name may be, never after an initial or a title, nor before letters after a name ·
    "anywhere": at any space, and after a hyphen."""
    same_size: Literal["all", "most", "each"] = "most"
    """"all": one size for the whole order · "most": only long texts are smaller · "each": size gives way first."""
    side: Literal["front", "back"] = "front"
    """Side of the blank; "back" for a maker's mark."""
    leading: Positive | None = None
    """Baseline to baseline. Left out: 19/10 of the capital height (ISO 3098-1)."""
    space_before: NotNegative | None = None
    """Extra space above the line, on top of the leading. Left out: none."""
    name: str | None = Field(default=None, min_length=1, max_length=100)
    """A name of your own, for `baseline_with`."""
    baseline_with: str | None = None
    """The `name` of a line in another zone whose first baseline this line shares."""
    language: str | None = None
    """Language of the line, as a BCP 47 tag. A `language` column of the list comes first."""
    features: dict[str, bool] = Field(default_factory=dict)
    """OpenType features to switch on or off, such as { smcp = true }."""
    axes: dict[str, AxisValue] = Field(default_factory=dict)
    """Axes of a variable font, such as { wght = 560 }."""
    also: list[str] = Field(default_factory=list)
    """Further typefaces for letters missing from the first. None is ever used without being named here."""
    case: Literal["as-typed", "capitals"] = "as-typed"
    """"capitals" sets the text in capitals by the rules of its language."""
    tidy_quotes: bool = False
    """Replace keyboard apostrophes, quotation marks and dashes by drawn ones."""
    arc: ArcConfig | None = None
    """Set the line on a circular arc."""

    @property
    def alignment(self) -> str:
        """Return how its rows are aligned: a line with an opposite text begins at an edge, for every recipient."""
        return "left" if self.opposite is not None and self.align == "centre" else self.align

    @property
    def loosest_tracking(self) -> int:
        """Return how far its tracking may be increased, in thousandths of an em; its own tracking where it stays as
        designed."""
        loosest = self.tracking + LOOSEST_BY_DEFAULT if self.loosest is None else self.loosest
        return self.tracking if loosest == 0 else max(loosest, self.tracking)

    @property
    def columns(self) -> tuple[str, ...]:
        """The columns its texts name, each once."""
        return tuple(dict.fromkeys(list_placeholders(self.text) + list_placeholders(self.opposite or "")))


class ArtworkConfig(OrderTable, drawn="file layers zone at width height turn cut side", piece="depth"):
    """One [[artwork]]: a client's drawing, such as a crest, a badge or a border."""

    file: str = Field(max_length=300)
    """Drawing (.svg or .dxf) in the order folder, or one for each row: "{badge}.svg"."""
    layers: list[str] | None = None
    """Layers of a .dxf. Left out: all of them, of which what is closed is taken."""
    zone: str | None = None
    """Zone of the blank in which it is centred; without a size of its own it is fitted there."""
    at: Annotated[tuple[Length, Length], AsTuple] | None = None
    """Where its middle goes instead, from the blank's lower left."""
    width: Positive | None = None
    """Width of what is drawn, before it is turned. Left out: as drawn, smaller where the zone has less room."""
    height: Positive | None = None
    """Height likewise. With both, it is as large as fits into the two."""
    turn: float = Field(default=0.0, ge=-360, le=360)
    """Degrees it is turned, anticlockwise."""
    cut: Literal["engrave", "line"] = "engrave"
    """"engrave": its areas, like lettering · "line": its lines, followed once."""
    depth: Positive | None = None
    """Depth of the lines with cut = "line". A V-bit needs it; for other cutters it is `deepest` of [limits]."""
    side: Literal["front", "back"] = "front"
    """Side of the blank."""


class FinishConfig(OrderTable, resolved="sanded_off compensate"):
    """[finish]: what happens to the face after engraving."""

    sanded_off: NotNegative = 0.0
    """Thickness sanded off the face after engraving."""
    compensate: bool = False
    """Cut wider, or grooves deeper, by what the sanding takes off."""


class ReadingConfig(OrderTable, check="distance height"):
    """[reading]: from where the lettering has to be read. Left out, legibility is not checked."""

    distance: Far | None = None
    """Distance from the reader to the piece."""
    height: Far | None = None
    """Height of the baseline above the floor. Left out: the lowest of the table's rows."""


class NounConfig(OrderTable, paper="one many"):
    """[proof] noun: what the proof calls the pieces, in its language."""

    one: str = Field(min_length=1, max_length=40)
    """The noun for one piece, such as "medal"."""
    many: str = Field(min_length=1, max_length=40)
    """The noun for several, such as "medals"."""


class ProofConfig(
    OrderTable,
    paper="paper layout revision date shop contact telephone return_to reply_by price logo message language volume "
    "unfinished",
):
    """[proof]: the paper the client signs."""

    paper: Literal["A4", "letter"] = "A4"
    """Paper size."""
    layout: Literal["page", "compact"] = "compact"
    """"compact": as many pieces a page as stay readable · "page": each at true size, or as large as the page allows."""
    noun: NounConfig | None = None
    """What the proof calls the pieces: { one = "medal", many = "medals" }. Left out: plaques."""
    revision: str | None = None
    """Letter of the first proof; later ones count on from it. Left out: A."""
    date: str | None = None
    """Date printed on the proof, as you write it. The tool reads no clock."""
    shop: str = ""
    """Your shop's name."""
    contact: str = ""
    """How the client reaches you."""
    telephone: str = Field(default="", max_length=60)
    """Your telephone number, on every page."""
    return_to: str = ""
    """Where the client sends the signed proof."""
    reply_by: dt.date | None = None
    """Day by which you need the answer, such as 2026-12-15."""
    price: str = Field(default="", max_length=200)
    """Price as you write it, on the cover. Left out: none is shown."""
    logo: str | None = None
    """The client's logo on the cover: a PNG or JPEG picture in the order folder."""
    message: str = ""
    """A message to the client on the cover."""
    language: str = "en"
    """Language of the proof, its questions and the check sheet: cy, de, en, es, fr, it, nl or pl."""
    volume: Annotated[int, Field(ge=1, le=10_000)] = 250
    """Most designs in one file; a longer proof comes in volumes."""
    unfinished: Literal["hold", "leave-out", "show"] = "hold"
    """While a fault of the design (strokes, land, depth, size, layout) stops plaques: "hold" makes no proof as long as
    it is more than 3 and more than 5 % of them · "leave-out" makes it and names them as still to come · "show" shows
    the places too. None of them can be agreed to."""


class RegistrationConfig(OrderTable, resolved="at mark size", making="sheet"):
    """[files] registration: marks in the waste round the blank, for turning it over."""

    at: Annotated[tuple[Annotated[tuple[Length, Length], AsTuple], ...], AsTuple, Field(min_length=2, max_length=4)]
    """Centres of the marks, from the blank's lower left, seen from the front; two to four."""
    sheet: Positive
    """How far the sheet reaches beyond the blank on every side."""
    mark: Literal["cross", "hole"] = "cross"
    """Kind of mark."""
    size: Positive = 4.0
    """Length of a cross's strokes, or diameter of a hole."""

    def format_word(self) -> str:
        """Format all of it as one word, lengths in whole µm."""
        places = " ".join(f"{x * 1000:.0f},{y * 1000:.0f}" for x, y in self.at)
        return f"{self.mark} {self.size * 1000:.0f} at {places}"


class FilesConfig(OrderTable, resolved="grooves", making="version curves tolerance layers also"):
    """[files]: how the cut files are written."""

    version: Literal["R12", "R2000", "R2007", "R2010", "R2018"] = "R2010"
    """Version of the DXF files. R12 has no place for the unit; the file name and first lines state it."""
    curves: Literal["arcs", "lines", "splines"] = "arcs"
    """How curves are written."""
    tolerance: Deviation = 0.01
    """Farthest a written curve may lie from the artwork."""
    layers: dict[str, str] = Field(default_factory=dict)
    """Your shop's names for the layers: ours on the left, yours on the right."""
    grooves: bool = False
    """Also write the V-bit's path as 3-D lines on layer GROOVE."""
    also: list[Literal["svg", "pdf"]] = Field(default_factory=list)
    """Further formats written beside each DXF."""
    registration: RegistrationConfig | None = None
    """Marks in the waste for turning the sheet over."""


class Order(OrderTable, paper="title client", making="units"):
    """One client's job."""

    title: str = Field(max_length=300)
    """Title of the job, on every paper. Approvals hold for this title and client."""
    client: str = Field(default="", max_length=300)
    """Who the job is for."""
    units: UnitName = "mm"
    """Unit of every length in the order file."""
    list: ListConfig
    """Where the recipients are."""
    blank: BlankConfig
    """The piece before lettering."""
    cutter: CutterConfig = CutterConfig(use="vbit-60")
    """The lettering cutter."""
    limits: LimitsConfig = LimitsConfig()
    """Limits of the lettering. What is left out follows from the cutter."""
    line: Annotated[tuple[LineConfig, ...], AsTuple, Field(min_length=1)]
    """One line of lettering of the design."""
    artwork: Annotated[tuple[ArtworkConfig, ...], AsTuple] = ()
    """A client's drawing: crest, badge, border."""
    clearing: ClearingConfig = ClearingConfig()
    """Flat cutter for strokes that are too deep or too wide for a plain groove. Left out: they are stopped."""
    finish: FinishConfig = FinishConfig()
    """What happens to the face after engraving."""
    reading: ReadingConfig = ReadingConfig()
    """Where the lettering is read from. Left out: legibility is not checked."""
    proof: ProofConfig = ProofConfig()
    """The paper the client signs."""
    files: FilesConfig = FilesConfig()
    """How the cut files are written."""
    stock: StockConfig | None = None
    """From the rough board to the finished thickness."""
    pocket: PocketConfig | None = None
    """How the drawing's pockets are milled. Left out: we don't mill them."""
    pour: PourConfig | None = None
    """The resin. Its values belong to one product: copy them from its data sheet."""
    work: WorkConfig = WorkConfig()
    """The order of the work. Left out: what suits the job."""
    board: BoardConfig | None = None
    """Boards that several blanks are sawn from, and the saw."""
    jig: JigConfig | None = None
    """A fixture that holds several blanks. Left out: every blank is fixed by itself, or they are on boards."""
    spare: SpareConfig = SpareConfig()
    """Spare blanks and a test piece. Left out: none."""
    rates: RatesConfig = RatesConfig()
    """What time takes and costs. Everything computed from it is an estimate."""
    labels: LabelsConfig = LabelsConfig()
    """The sheet of delivery labels."""
    _shop: ShopConfig = PrivateAttr(default=NO_SHOP)
    _sanding: float | None = PrivateAttr(default=None)

    @property
    def shop(self) -> ShopConfig:
        """What the shop file says; nothing where there is none."""
        return self._shop

    @property
    def sanding(self) -> float:
        """Return what sanding takes off the face, mm, as written in `[finish] sanded_off`. `finish.sanded_off` itself
        is what comes off after lettering, which differs where `[work]` puts the steps in another order."""
        return self.finish.sanded_off if self._sanding is None else self._sanding

    def take_off_face(self, off: float) -> Order:
        """Return the order with so much, mm, taken off its face after lettering, for its checks and its
        compensation."""
        if off == self.finish.sanded_off:
            return self
        words = "what [work], [pour] and [finish] take off the face after lettering"
        made = self.model_copy(update={"finish": self.finish.take_values({"sanded_off": off}, words)})
        made._sanding = self.sanding
        return made

    def apply_shop(self, shop: ShopConfig) -> Order:
        """Return the order with a shop file; its own values stay as they are."""
        made = self.model_copy()
        made._shop = shop
        return made

    def list_taken_values(self) -> dict[str, str]:
        """List the keys whose values come from the shop file, such as `rates.hour`, each with its origin in words."""
        out: dict[str, str] = {}
        for name in type(self).model_fields:
            part = getattr(self, name)
            if isinstance(part, OrderTable):
                out |= {f"{name}.{key}": origin for key, origin in part.taken.items()}
        return out

    @property
    def unit(self) -> Units:
        """For showing lengths as the order writes them."""
        return Units(self.units)

    @property
    def spoken(self) -> SpokenUnits:
        """For saying lengths as a person does, on papers."""
        return SpokenUnits(self.units)

    @property
    def fixed_lines(self) -> frozenset[int]:
        """Numbers of the lines that say the same on every plaque, from 1."""
        return frozenset(n for n, line in enumerate(self.line, 1) if not line.columns)


def locate_file(file: Path, folder: Path) -> str:
    """A file of a folder or of one above it, seen from the folder: `../../shop.toml`."""
    here = folder.resolve()
    return "../" * (here, *here.parents).index(file.parent.resolve()) + file.name


class OrderFolder(OrderTable, paper="folder file sha256 code shop_file shop_sha256"):
    """An order with the place it was read from."""

    model_config = ConfigDict(frozen=True, arbitrary_types_allowed=True)

    order: Order
    folder: Path
    file: Path
    sha256: str  # of order.toml's bytes
    code: str = ""  # the order's code as its ledger stores it; empty: derived from title and client
    shop_file: Path | None = None  # the shop file that was found
    shop_sha256: str = ""  # of the shop file's bytes

    @property
    def order_id(self) -> str:
        """The order's code, the same for every run: that of its first run where the ledger has it."""
        return self.code or build_order_id(self.order.title, self.order.client)

    @property
    def shop_place(self) -> str:
        """Where the shop file lies, seen from the order folder: `../shop.toml`; empty when there is none. The same
        wherever both are moved together."""
        return "" if self.shop_file is None else locate_file(self.shop_file, self.folder)

    def list_own_fonts(self) -> OwnFonts:
        """The shop's own fonts, as they lie in their folder now."""
        return list_own_fonts(self.shop_file, self.order.shop.shop.fonts)

    def resolve_path(self, name: str) -> Path:
        """Resolve a file named in the order, relative to the order folder."""
        return self.folder / name
