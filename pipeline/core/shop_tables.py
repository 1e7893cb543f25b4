"""The order's tables for the shop floor: [stock] [pocket] [pour] [board] [rates] [labels].

A default that is a judgement carries its source in `description`; `source_of` reads it, so that papers can say it.
Lengths are mm here, as in `pipeline.core.order`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from pipeline.core.order_table import AsTuple, Feed, Length, NotNegative, OrderTable, PerPass, Positive

PRACTICE = "common practice, no source"
Share = Annotated[float, Field(ge=0.001, le=100_000)]
Price = Annotated[float, Field(ge=0, le=1e9)]
Minutes = Annotated[float, Field(ge=0, le=100_000)]


def source_of(model: BaseModel, key: str) -> str:
    """Where the value of a key comes from: the order, or its default's own source."""
    if key in model.model_fields_set:
        return "order.toml"
    return type(model).model_fields[key].description or PRACTICE


class EndMillConfig(OrderTable, resolved="use diameter", shop="reach"):
    """A cutter for pockets: of the shelf by name, or the shelf's with changes, or one written out."""

    use: str | None = None
    diameter: Positive | None = None
    reach: Positive | None = None


class StockConfig(
    OrderTable,
    piece="material",
    resolved="sawn_off sanded_back",
    shop="rough faced movement moisture moisture_in_use",
    check="least_skin finished finished_within",
):
    """[stock]: from the rough board to the finished thickness. [blank] thickness is what goes under the cutter."""

    material: str = ""
    rough: Positive | None = None  # as bought
    faced: NotNegative = Field(
        default=1.5, description=f"taken off the face of sawn hardwood to make it flat: {PRACTICE}"
    )
    least_skin: Positive = Field(
        default=3.0, description=f"floor under a pocket that does not break or leak while it is filled: {PRACTICE}"
    )
    sawn_off: NotNegative = Field(default=0.0, description="off the back after the pour; 0: the back stays on")
    sanded_back: NotNegative = Field(
        default=0.4, description=f"saw marks sanded out of the back, P80 to P180: {PRACTICE}"
    )
    finished: Positive | None = None  # what the client was promised; left out, it is only told
    finished_within: Positive = Field(default=0.5, description=f"how far off the finished thickness may be: {PRACTICE}")
    movement: float | None = Field(default=None, gt=0, lt=0.02)  # change of width per 1 % moisture, of the width
    moisture: float | None = Field(default=None, ge=0, le=30)  # of the wood in the shop, %
    moisture_in_use: float | None = Field(default=None, ge=0, le=30)  # where it will hang, %


class PocketConfig(OrderTable, piece="depth", shop="depth_per_pass stepover", check="corner"):
    """[pocket]: how the drawing's pockets are milled."""

    depth: Positive
    rough: EndMillConfig = EndMillConfig(use="endmill-6")
    fine: EndMillConfig | None = None  # left out, the rough cutter is the only one
    depth_per_pass: PerPass | None = Field(
        default=None, description=f"half the cutter's diameter in hardwood: {PRACTICE}"
    )
    stepover: float = Field(default=0.4, ge=0.01, le=1, description=f"of the cutter's diameter: {PRACTICE}")
    corner: Positive = Field(
        default=0.25, description=f"a corner left rounder than drawn by less than this is not seen: {PRACTICE}"
    )


class PourConfig(
    OrderTable,
    piece="fills",
    shop="data_sheet overfill waste density by_volume by_weight layer working_time stirring rate largest_mix "
    "between_layers demould machine dam",
):
    """[pour]: resin. The values belong to one product: they stand on its data sheet, and the data sheet rules."""

    data_sheet: str = ""  # title and date of the sheet the values were taken from
    fills: Literal["pocket", "lettering", "both"] = "pocket"
    overfill: NotNegative = Field(default=0.5, description=f"above the face, for shrinking and sanding: {PRACTICE}")
    waste: float = Field(
        default=0.15, ge=0, le=1, description=f"share left in cups, spilled and soaked up, 15 to 20 %: {PRACTICE}"
    )
    density: float = Field(
        default=1.1,
        ge=0.1,
        le=30,
        description=f"of the mix, g/ml, about this for clear epoxy: {PRACTICE}; see the data sheet",
    )
    by_volume: Annotated[tuple[Share, Share], AsTuple] = Field(
        default=(2.0, 1.0), description=f"resin to hardener by volume, of one system: {PRACTICE}; see the data sheet"
    )
    by_weight: Annotated[tuple[Share, Share], AsTuple] = Field(
        default=(100.0, 47.0), description=f"resin to hardener by weight, of one system: {PRACTICE}; see the data sheet"
    )
    layer: PerPass = Field(
        default=25.0, description=f"deepest layer poured at once, the lower end of 25 to 50 mm: {PRACTICE}"
    )
    working_time: float = Field(
        default=300.0,
        ge=0.1,
        le=1e6,
        description=f"minutes, of a deep-casting clear epoxy: {PRACTICE}; see the data sheet",
    )
    stirring: float = Field(
        default=15.0,
        ge=0,
        le=1e6,
        description=f"minutes of a mix's working time that go into stirring and settling: {PRACTICE}",
    )
    rate: float = Field(
        default=25.0, ge=0.001, le=1e6, description=f"ml poured in a minute, into many small pockets: {PRACTICE}"
    )
    largest_mix: float = Field(
        default=1000.0, ge=0.1, le=1e9, description=f"ml in one cup; a larger one heats up and sets early: {PRACTICE}"
    )
    between_layers: float = Field(default=12.0, ge=0, le=1e5, description=f"hours: {PRACTICE}; see the data sheet")
    demould: float = Field(
        default=48.0, gt=0, le=1e5, description=f"hours before it may be moved: {PRACTICE}; see the data sheet"
    )
    machine: float = Field(
        default=96.0,
        gt=0,
        le=1e5,
        description=f"hours before it may be sawn and sanded: {PRACTICE}; see the data sheet",
    )
    dam: Positive = Field(default=6.0, description=f"wood round the pocket that holds the resin back: {PRACTICE}")


class BoardDefect(OrderTable, shop="at diameter"):
    """A knot, a check, a screw: a disc of a board that is kept free. From the board's left end and its datum edge."""

    at: Annotated[tuple[Length, Length], AsTuple]
    diameter: Positive


class BoardSize(OrderTable, shop="length width name count"):
    """[[board.size]]: boards of one size. A board with defects of its own is a size of its own."""

    length: Positive
    width: Positive
    name: str = ""
    count: int | None = Field(default=None, ge=1, le=1_000_000)  # left out: as many as it takes
    defects: Annotated[tuple[BoardDefect, ...], AsTuple] = ()


class BoardConfig(OrderTable, piece="grain", shop="kerf trim clamp turn outline unsigned"):
    """[board]: the boards several blanks are sawn from, and the saw."""

    size: Annotated[tuple[BoardSize, ...], AsTuple, Field(min_length=1)]
    kerf: Positive = Field(default=3.2, description=f"of a table saw's blade: {PRACTICE}; measure a trial cut")
    trim: NotNegative = Field(
        default=1.5, description=f"left on each side of a blank beside the kerf, trimmed off later: {PRACTICE}"
    )
    clamp: NotNegative = Field(default=25.0, description=f"kept free at both ends for clamps: {PRACTICE}")
    screws: Annotated[tuple[BoardDefect, ...], AsTuple] = ()  # on every board
    grain: Literal["upright", "across", "none"] = "upright"  # on the plaque; it runs along the board's length
    turn: bool = True  # a blank with a slanted side may be turned end for end to save wood
    outline: NotNegative = Field(
        default=1.0, description=f"depth of the outline, a line for the saw to follow, not cut through: {PRACTICE}"
    )
    unsigned: bool = False  # boards also carry plaques that are not signed off yet


class RatesConfig(
    OrderTable,
    shop="currency hour machine_hour stock_price resin_price rpm flutes chip_load fastest feed plunge lift change "
    "setup fixing saw_cut fence mixing sanding finishing packing",
):
    """[rates]: what time takes and costs. Everything made from it is an estimate."""

    currency: str = ""
    hour: Price | None = None  # price of an hour of hand work
    machine_hour: Price | None = None  # price of an hour of the machine
    stock_price: Price | None = None  # of the board, for each m² of its face
    resin_price: Price | None = None  # for each litre of mix
    rpm: float = Field(default=18000.0, ge=1, le=1e6, description=f"of a small router: {PRACTICE}")
    flutes: int = Field(default=2, ge=1, le=100, description=f"of the pocket cutters: {PRACTICE}")
    chip_load: Positive | None = Field(
        default=None,
        description="0.016 of the cutter's diameter, the low end for hardwood at a depth of one diameter "
        f"(1/8 in: .002 in): {PRACTICE}",
    )
    fastest: Feed = Field(default=3000.0, description=f"feed of a small router, mm/min: {PRACTICE}")
    feed: Feed = Field(default=900.0, description=f"feed while lettering, mm/min: {PRACTICE}")
    plunge: Feed = Field(default=300.0, description=f"feed straight down, mm/min: {PRACTICE}")
    lift: float = Field(
        default=1.5, ge=0, le=3600, description=f"seconds for lifting and moving on to the next place: {PRACTICE}"
    )
    change: Minutes = Field(default=3.0, description=f"minutes for changing a cutter and zeroing it: {PRACTICE}")
    setup: Minutes = Field(default=20.0, description=f"minutes for the first set-up of the job: {PRACTICE}")
    fixing: Minutes = Field(default=8.0, description=f"minutes to fix and zero one board or blank: {PRACTICE}")
    saw_cut: Minutes = Field(default=0.75, description=f"minutes a saw cut: {PRACTICE}")
    fence: Minutes = Field(default=3.0, description=f"minutes to set a fence or stop and try it: {PRACTICE}")
    mixing: Minutes = Field(default=10.0, description=f"minutes to weigh and stir one mix: {PRACTICE}")
    sanding: Minutes = Field(default=12.0, description=f"minutes a plaque, all grits: {PRACTICE}")
    finishing: Minutes = Field(default=6.0, description=f"minutes a plaque, oil or lacquer: {PRACTICE}")
    packing: Minutes = Field(default=3.0, description=f"minutes a plaque, with checking against the proof: {PRACTICE}")


class LabelsConfig(OrderTable, paper="paper columns rows width height left top across down"):
    """[labels]: the sheet of labels for delivery."""

    paper: Literal["A4", "letter"] = "A4"
    columns: int = Field(default=3, ge=1, le=100, description=f"a common sheet of 3 × 7 labels: {PRACTICE}")
    rows: int = Field(default=7, ge=1, le=100, description=f"a common sheet of 3 × 7 labels: {PRACTICE}")
    width: Positive = Field(default=63.5, description=f"a common sheet of 3 × 7 labels: {PRACTICE}")
    height: Positive = Field(default=38.1, description=f"a common sheet of 3 × 7 labels: {PRACTICE}")
    left: NotNegative = Field(default=7.25, description="margin left of the first label: a 3 × 7 sheet centred on A4")
    top: NotNegative = Field(default=15.15, description="margin above the first label: a 3 × 7 sheet centred on A4")
    across: Positive = Field(default=66.0, description=f"from label to label: {PRACTICE}")
    down: Positive = Field(default=38.1, description=f"from label to label: {PRACTICE}")
