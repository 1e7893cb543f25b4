"""The order's tables for the shop floor: [stock] [pocket] [pour] [board] [jig] [spare] [rates]
[labels].

A default that is a judgement carries its source in `description`; `get_source` reads it, so that papers can say it.
Lengths are mm here, as in `pipeline.core.config.order`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from pipeline.core.config.order_table import AsTuple, Feed, Length, NotNegative, OrderTable, PerPass, Positive

PRACTICE = "common practice, no source"
Share = Annotated[float, Field(ge=0.001, le=100_000)]
Price = Annotated[float, Field(ge=0, le=1e9)]
Minutes = Annotated[float, Field(ge=0, le=100_000)]


def get_source(model: BaseModel, key: str) -> str:
    """Return where the value of a key comes from: the shop file, the order, or its default's own source."""
    if isinstance(model, OrderTable) and key in model.taken:
        return model.taken[key]
    if key in model.model_fields_set:
        return "order.toml"
    return type(model).model_fields[key].description or PRACTICE


class EndMillConfig(OrderTable, resolved="use diameter", shop="reach"):
    """A cutter for pockets: of the shelf by name, or the shelf's with changes, or one written out."""

    use: str | None = None
    """An end mill from the shelf. Other keys of the table change it."""
    diameter: Positive | None = None
    """Diameter of the cutter."""
    reach: Positive | None = None
    """Deepest cut before the shank or collet touches the work."""


class ClearingConfig(OrderTable, resolved="use diameter", shop="reach stepover"):
    """[clearing]: the flat cutter for strokes deeper than `deepest` of [limits], which then get a flat floor: the V-bit
    runs along their walls, this cutter clears between them. Needs `grooves` of [files]."""

    use: str | None = None
    """An end mill from the shelf. Other keys of the table change it."""
    diameter: Positive | None = None
    """Diameter of the cutter."""
    reach: Positive | None = None
    """Deepest cut before the shank or collet touches the work."""
    stepover: float = Field(default=0.4, ge=0.01, le=1, description=f"of the cutter's diameter: {PRACTICE}")
    """Distance between neighbouring passes, as a share of the cutter's diameter."""


class StockConfig(
    OrderTable,
    piece="material",
    resolved="sawn_off sanded_back",
    shop="rough faced movement moisture moisture_in_use",
    check="least_floor least_skin finished finished_within",
):
    """[stock]: from the rough board to the finished thickness. [blank] thickness is what goes under the cutter."""

    material: str = ""
    """Material: a name of the shelf (`plaques materials`), or of your shop file. Of any other nothing is assumed."""
    rough: Positive | None = None
    """Thickness of the board as bought."""
    faced: NotNegative | None = None
    """Thickness taken off the face of a sawn board to make it flat. Left out: as the material has it on the shelf."""
    least_skin: Positive = Field(
        default=3.0, description=f"floor under a pocket that does not break or leak while it is filled: {PRACTICE}"
    )
    """Thinnest floor allowed under a pocket."""
    least_floor: Positive | None = None
    """Least thickness left under the lettering. Left out: what the material needs; not checked if nothing
    is known of it."""
    sawn_off: NotNegative = Field(default=0.0, description="off the back after the pour; 0: the back stays on")
    """Thickness sawn off the back after the pour."""
    sanded_back: NotNegative = Field(
        default=0.4, description=f"saw marks sanded out of the back, P80 to P180: {PRACTICE}"
    )
    """Thickness sanded off a back that is sawn off, to remove saw marks. A planed back is not sanded."""
    finished: Positive | None = None
    """Finished thickness promised to the client. Left out: only reported."""
    finished_within: Positive = Field(default=0.5, description=f"how far off the finished thickness may be: {PRACTICE}")
    """How far the finished thickness may be off."""
    movement: float | None = Field(default=None, gt=0, lt=0.02)
    """Change of width for each 1 % of moisture, as a share of the width."""
    moisture: float | None = Field(default=None, ge=0, le=30)
    """Moisture content of the wood in the shop, in %."""
    moisture_in_use: float | None = Field(default=None, ge=0, le=30)
    """Moisture content where the piece will hang, in %."""


class PocketConfig(OrderTable, piece="depth", shop="depth_per_pass stepover", check="corner"):
    """[pocket]: how the drawing's pockets are milled."""

    depth: Positive
    """Depth of the pocket."""
    rough: EndMillConfig = EndMillConfig(use="endmill-6")
    """Cutter that clears the pocket."""
    fine: EndMillConfig | None = None
    """Cutter for what `rough` leaves. Left out: none."""
    depth_per_pass: PerPass | None = Field(
        default=None, description=f"the material's share of the cutter's diameter; without one half of it: {PRACTICE}"
    )
    """Depth of one pass. Left out: what [stock] `material` says, a share of the cutter's diameter; where nothing does,
    half of it."""
    stepover: float = Field(default=0.4, ge=0.01, le=1, description=f"of the cutter's diameter: {PRACTICE}")
    """Distance between neighbouring passes, as a share of the cutter's diameter."""
    corner: Positive = Field(
        default=0.25, description=f"a corner left rounder than drawn by less than this is not seen: {PRACTICE}"
    )
    """Corners may stay rounder than drawn by this much without a note."""


class PourConfig(
    OrderTable,
    piece="fills levelled_off",
    shop="use data_sheet overfill waste density by_volume by_weight layer working_time stirring rate largest_mix "
    "between_layers demould machine dam",
):
    """[pour]: resin. The values belong to one product: copy them from its data sheet, which rules. None has a default:
    what is not entered is not printed, and the pour card says what to read off the sheet."""

    use: str | None = None
    """A resin of the shop file by name. Other keys of the table change its values."""
    data_sheet: str = ""
    """Title and date of the data sheet the values come from. The data sheet rules."""
    fills: Literal["pocket", "lettering", "both"] = "pocket"
    """What the resin fills."""
    overfill: NotNegative | None = None
    """Height of resin above the face, for shrinkage and sanding. Left out: none."""
    levelled_off: NotNegative | None = None
    """Thickness that levelling the resin takes off the face. Left out: none."""
    waste: float | None = Field(default=None, ge=0, le=1)
    """Share of the mix left in cups, spilled or soaked up. Left out: nothing is added."""
    density: float | None = Field(default=None, ge=0.1, le=30)
    """Density of the mix, in g/ml."""
    by_volume: Annotated[tuple[Share, Share], AsTuple] | None = None
    """Mixing ratio by volume: resin, hardener."""
    by_weight: Annotated[tuple[Share, Share], AsTuple] | None = None
    """Mixing ratio by weight: resin, hardener. It also needs the density."""
    layer: PerPass | None = None
    """Deepest layer poured at once."""
    working_time: float | None = Field(default=None, ge=0.1, le=1e6)
    """Working time of a mix, in minutes."""
    stirring: float | None = Field(default=None, ge=0, le=1e6)
    """Minutes of the working time spent stirring and letting bubbles rise. Left out: none."""
    rate: float | None = Field(default=None, ge=0.001, le=1e6)
    """Pouring rate, in ml per minute. With the working time it limits a mix."""
    largest_mix: float | None = Field(default=None, ge=0.1, le=1e9)
    """Largest mix in one cup, in ml: a larger one heats up and sets early."""
    between_layers: float | None = Field(default=None, ge=0, le=1e5)
    """Wait between two layers, in hours."""
    demould: float | None = Field(default=None, gt=0, le=1e5)
    """Wait before the piece may be moved, in hours."""
    machine: float | None = Field(default=None, gt=0, le=1e5)
    """Wait before it may be sawn and sanded, in hours."""
    dam: Positive = Field(default=6.0, description=f"wood round the pocket that holds the resin back: {PRACTICE}")
    """Thinnest wall allowed round the pocket."""


WorkStep = Literal[
    "face",
    "test",
    "mask",
    "letter",
    "pocket",
    "outline",
    "back",
    "pour",
    "level",
    "saw",
    "resaw",
    "sand",
    "finish",
    "pack",
]
"""Steps of the work on a piece."""


class WorkConfig(OrderTable, resolved="steps"):
    """[work]: the order of the work, where yours is another than the usual one."""

    steps: Annotated[tuple[WorkStep, ...], AsTuple] = ()
    """Steps in your order, such as ["letter", "pocket", "pour", "level"]; those you don't name stay where they are."""


class BoardDefect(OrderTable, shop="at diameter"):
    """A knot, a check, a screw: a disc of a board that is kept free. From the board's left end and its datum edge."""

    at: Annotated[tuple[Length, Length], AsTuple]
    """Centre, from the board's left end and its datum edge."""
    diameter: Positive
    """Diameter of the disc kept free."""


class BoardSize(OrderTable, shop="length width name count"):
    """[[board.size]]: boards of one size. A board with defects of its own is a size of its own."""

    length: Positive
    """Length of the board."""
    width: Positive
    """Width of the board."""
    name: str = ""
    """Name of the size, for papers and file names."""
    count: int | None = Field(default=None, ge=1, le=1_000_000)
    """How many there are. Left out: as many as it takes."""
    defects: Annotated[tuple[BoardDefect, ...], AsTuple] = ()
    """Knots and checks to keep free; a board with its own defects is a size of its own."""


class BoardConfig(OrderTable, piece="grain", shop="kerf trim allowance clamp turn outline unsigned"):
    """[board]: the boards several blanks are sawn from, and the saw."""

    size: Annotated[tuple[BoardSize, ...], AsTuple, Field(min_length=1)]
    """Boards you have."""
    kerf: Positive = Field(default=3.2, description=f"of a table saw's blade: {PRACTICE}; measure a trial cut")
    """Width of the saw cut."""
    trim: NotNegative = Field(
        default=1.5, description=f"left on each side of a blank beside the kerf, trimmed off later: {PRACTICE}"
    )
    """Width left on each side of a blank beside the kerf, trimmed off later."""
    allowance: NotNegative | None = Field(
        default=None, description="what the material asks for: saw marks are sanded out of what can be sanded"
    )
    """Width left on every sawn side of a piece when it is sawn to its line, for planing, sanding or filing out the saw
    marks. At most `trim`. Left out: 0.4 mm where the material is sanded, otherwise nothing."""
    clamp: NotNegative = Field(default=25.0, description=f"kept free at both ends for clamps: {PRACTICE}")
    """Length kept free at both ends for clamps."""
    screws: Annotated[tuple[BoardDefect, ...], AsTuple] = ()
    """Screws that hold every board down; kept free."""
    grain: Literal["upright", "across", "none"] | None = None
    """Direction of the grain on the plaque; on the board it runs along the length. The saw card depends on it. Left
    out: pieces are laid upright, and the card says that it depends on the grain."""
    turn: bool = True
    """A blank with a slanted side may be turned end for end to save wood."""
    outline: NotNegative | None = Field(
        default=None,
        description="one pass of the lettering cutter in the material, at most a line that a saw can follow",
    )
    """Depth of the outline cut as a line for the saw to follow; 0: none is cut. Left out: 1 mm, but no more than one
    pass of the lettering cutter in the material, than a stated depth of lettering, or than leaves the least floor."""
    unsigned: bool = False
    """Boards may also carry plaques that are not signed off yet."""


class JigConfig(OrderTable, shop="columns rows across up first turn size bed loading unsigned"):
    """[jig]: a fixture that holds several blanks for lettering, in columns and rows."""

    columns: int = Field(ge=1, le=1_000)
    """Places side by side, along x."""
    rows: int = Field(default=1, ge=1, le=1_000, description="one row, as no others are entered")
    """Places one above the other, along y."""
    across: Positive | None = None
    """Pitch of the columns: from a point of one blank to the same point of the next. Needed for several columns."""
    up: Positive | None = None
    """Pitch of the rows, likewise. Needed for several rows."""
    first: Annotated[tuple[Length, Length], AsTuple] = Field(default=(0.0, 0.0), description="the jig's zero point")
    """Lower left corner of the first blank, as it lies, from the jig's zero point. Left out: the zero point."""
    turn: Literal[0, 90, 180, 270] = 0
    """How far the blanks lie turned in the jig, in degrees anticlockwise."""
    size: Annotated[tuple[Positive, Positive], AsTuple] | None = None
    """Width and height of the jig from its zero point, drawn for reference. Left out: not drawn."""
    bed: Annotated[tuple[Positive, Positive], AsTuple] | None = None
    """How far the machine travels from the zero point along x and y. Left out: not checked."""
    loading: Minutes | None = None
    """Time to take out one load and put in the next, in minutes. Left out: `fixing` of [rates]."""
    unsigned: bool = False
    """Loads may also carry plaques that are not signed off yet."""


class SpareConfig(OrderTable, shop="blanks test_piece"):
    """[spare]: what is got ready and cut beside the pieces of the order."""

    blanks: int = Field(default=0, ge=0, le=100_000)
    """Blanks to have ready for pieces that are spoilt."""
    test_piece: bool = False
    """Letter one piece on an offcut of the same material first."""


class RatesConfig(
    OrderTable,
    shop="currency hour machine_hour stock_price resin_price surface_speed rpm flutes chip_load fastest feed plunge "
    "lift change setup fixing saw_cut fence mixing sanding finishing packing",
):
    """[rates]: what time takes and costs. Everything made from it is an estimate."""

    currency: str = ""
    """Currency of all prices."""
    hour: Price | None = None
    """Price of an hour of hand work."""
    machine_hour: Price | None = None
    """Price of an hour on the machine."""
    stock_price: Price | None = None
    """Price of a square metre of board."""
    resin_price: Price | None = None
    """Price of a litre of mix."""
    surface_speed: float | None = Field(default=None, ge=0.1, le=10_000)
    """Cutting speed, in m/min, from the cutter's own data; the spindle speed follows from it and the diameter, up to
    `rpm`. Left out: every cutter turns at `rpm`."""
    rpm: float = Field(default=18000.0, ge=1, le=1e6, description=f"of a small router: {PRACTICE}")
    """Spindle speed, in revolutions per minute."""
    flutes: int = Field(default=2, ge=1, le=100, description=f"of the pocket cutters: {PRACTICE}")
    """Cutting edges of the pocket cutters."""
    chip_load: Positive | None = Field(default=None, description="the least of the material's range")
    """Chip thickness per tooth of every end mill, at most the greatest of the material's range for its diameter. Left
    out: the least of that range."""
    fastest: Feed = Field(default=3000.0, description=f"feed of a small router: {PRACTICE}")
    """Fastest feed of the machine."""
    feed: Feed = Field(default=900.0, description=f"feed while lettering wood: {PRACTICE}")
    """Feed while lettering, of cutters other than end mills. Left out: in other materials than wood the shop sheet
    says “not known”, and only the estimate of time reckons with the default."""
    plunge: Feed = Field(default=300.0, description=f"feed straight down in wood: {PRACTICE}")
    """Feed straight down. Left out: as `feed`."""
    lift: float = Field(
        default=1.5, ge=0, le=3600, description=f"seconds for lifting and moving on to the next place: {PRACTICE}"
    )
    """Seconds to lift and move to the next place."""
    change: Minutes = Field(default=3.0, description=f"minutes for changing a cutter and zeroing it: {PRACTICE}")
    """Time to change a cutter and zero it, in minutes."""
    setup: Minutes = Field(default=20.0, description=f"minutes for the first set-up of the job: {PRACTICE}")
    """Time for the first set-up of the job, in minutes."""
    fixing: Minutes = Field(default=8.0, description=f"minutes to fix and zero one board or blank: {PRACTICE}")
    """Time to fix and zero one board or blank, in minutes."""
    saw_cut: Minutes = Field(default=0.75, description=f"minutes a saw cut: {PRACTICE}")
    """Time for one saw cut, in minutes."""
    fence: Minutes = Field(default=3.0, description=f"minutes to set a fence or stop and try it: {PRACTICE}")
    """Time to set a fence or stop and test it, in minutes."""
    mixing: Minutes = Field(default=10.0, description=f"minutes to weigh and stir one mix: {PRACTICE}")
    """Time to weigh and stir one mix, in minutes."""
    sanding: Minutes = Field(default=12.0, description=f"minutes a plaque, all grits: {PRACTICE}")
    """Time to sand one plaque through all grits, in minutes."""
    finishing: Minutes = Field(default=6.0, description=f"minutes a plaque, oil or lacquer: {PRACTICE}")
    """Time to oil or lacquer one plaque, in minutes."""
    packing: Minutes = Field(default=3.0, description=f"minutes a plaque, with checking against the proof: {PRACTICE}")
    """Time to check one plaque against the proof and pack it, in minutes."""


class LabelsConfig(OrderTable, paper="paper columns rows width height left top across down"):
    """[labels]: the sheet of labels for delivery."""

    paper: Literal["A4", "letter"] = "A4"
    """Paper size."""
    columns: int = Field(default=3, ge=1, le=100, description=f"a common sheet of 3 × 7 labels: {PRACTICE}")
    """Labels across the sheet."""
    rows: int = Field(default=7, ge=1, le=100, description=f"a common sheet of 3 × 7 labels: {PRACTICE}")
    """Labels down the sheet."""
    width: Positive = Field(default=63.5, description=f"a common sheet of 3 × 7 labels: {PRACTICE}")
    """Width of a label."""
    height: Positive = Field(default=38.1, description=f"a common sheet of 3 × 7 labels: {PRACTICE}")
    """Height of a label."""
    left: NotNegative = Field(default=7.25, description="margin left of the first label: a 3 × 7 sheet centred on A4")
    """Margin left of the first label."""
    top: NotNegative = Field(default=15.15, description="margin above the first label: a 3 × 7 sheet centred on A4")
    """Margin above the first label."""
    across: Positive = Field(default=66.0, description=f"from label to label: {PRACTICE}")
    """Distance from label to label across."""
    down: Positive = Field(default=38.1, description=f"from label to label: {PRACTICE}")
    """Distance from label to label down."""
