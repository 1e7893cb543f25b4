"""The shop file: what `shop.toml` says, as frozen models. It holds what is the same in every order of one shop: its
name, paper and language, its rates and label sheet, its own cutters and resins. What an order says wins.

Lengths are mm here, whatever unit the file is in.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from pipeline.core.config.order_table import AsTuple, CutterKind, NotNegative, OrderTable, PerPass, Positive
from pipeline.core.config.shop_tables import LabelsConfig, RatesConfig, Share
from pipeline.core.units import UnitName

ChipShare = Annotated[float, Field(gt=0, le=1)]
OwnName = Annotated[str, Field(min_length=1, max_length=60)]
"""What an order calls something of the shop's own."""


class ShopIdentity(OrderTable, drawn="fonts", paper="name contact telephone return_to paper language"):
    """[shop]: who you are, for every paper."""

    name: str = ""
    """Your shop's name."""
    contact: str = ""
    """How a client reaches you."""
    telephone: str = Field(default="", max_length=60)
    """Your telephone number, on every page of a proof."""
    return_to: str = ""
    """Where a client sends the signed proof."""
    paper: Literal["A4", "letter"] | None = None
    """Paper size of proofs, shop sheets and labels."""
    language: str | None = None
    """Language of your proofs."""
    fonts: str = Field(default="", max_length=400)
    """Folder of your own fonts (.ttf, .otf), beside this file or below. Orders call one by its file's name without the
    ending, as they call those of the shelf."""


class OwnCutter(OrderTable, resolved="name kind angle tip diameter kerf reach", paper="source"):
    """[[cutter]]: a cutter of your own, which orders name with `use`. It hides one of the same name on the shelf."""

    name: OwnName
    """What orders call it."""
    kind: CutterKind
    """Kind of cutter."""
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
    source: str = ""
    """Where its sizes come from, for the papers. Left out: shop.toml."""


Bought = Literal["rough board", "sheet", "plate", "slab"]
"""What a material is bought as."""
MaterialStep = Literal["face", "plane", "saw", "mill", "pour", "sand", "oil", "deburr", "mask", "seal"]
"""What may be done to a piece; none of them is done to every material."""
HexColour = Annotated[str, Field(pattern=r"^#[0-9A-Fa-f]{6}$")]


class OwnMaterial(
    OrderTable,
    shop="name like bought operations grain pass_v_bit pass_end_mill pass_point chip_load finish hazard",
    check="floor",
    paper="face letters",
):
    """[[material]]: a material of your own, which orders name under [stock]. It hides one of the shelf's."""

    name: OwnName
    """What orders call it."""
    like: str | None = None
    """A material of the shelf (`plaques materials`) that the other keys change. Left out: nothing else is assumed."""
    bought: Bought | None = None
    """What it is bought as."""
    operations: list[MaterialStep] | None = None
    """What may be done to it."""
    grain: bool | None = None
    """Whether it has a grain."""
    pass_v_bit: PerPass | None = None
    """Depth of one pass of a V-bit."""
    pass_end_mill: float | None = Field(default=None, ge=0.01, le=5)
    """Depth of one pass of an end mill, as a share of its diameter."""
    pass_point: PerPass | None = None
    """Depth of one pass of a point."""
    chip_load: Annotated[tuple[ChipShare, ChipShare], AsTuple] | None = None
    """Least and greatest chip of an end mill, as a share of its diameter."""
    floor: Positive | None = None
    """Least thickness left under a cut."""
    finish: str = ""
    """What is done to its face at the end."""
    hazard: str = ""
    """A caution of your own: its dust, chips or fumes."""
    face: HexColour | None = None
    """Colour of its face on the proof, as "#RRGGBB"; together with `letters`."""
    letters: HexColour | None = None
    """Colour of the lettering on it."""


class OwnResin(
    OrderTable,
    shop="name data_sheet density by_volume by_weight layer working_time largest_mix between_layers demould machine",
):
    """[[resin]]: a resin you use, with the values of its data sheet. Orders name it with `use` under [pour]."""

    name: OwnName
    """What orders call it."""
    data_sheet: str = ""
    """Title and date of the data sheet the values come from. The data sheet rules."""
    density: float | None = Field(default=None, ge=0.1, le=30)
    """Density of the mix, in g/ml."""
    by_volume: Annotated[tuple[Share, Share], AsTuple] | None = None
    """Mixing ratio by volume: resin, hardener."""
    by_weight: Annotated[tuple[Share, Share], AsTuple] | None = None
    """Mixing ratio by weight: resin, hardener."""
    layer: PerPass | None = None
    """Deepest layer poured at once."""
    working_time: float | None = Field(default=None, ge=0.1, le=1e6)
    """Working time of a mix, in minutes."""
    largest_mix: float | None = Field(default=None, ge=0.1, le=1e9)
    """Largest mix in one cup, in ml."""
    between_layers: float | None = Field(default=None, ge=0, le=1e5)
    """Wait between two layers, in hours."""
    demould: float | None = Field(default=None, gt=0, le=1e5)
    """Wait before the piece may be moved, in hours."""
    machine: float | None = Field(default=None, gt=0, le=1e5)
    """Wait before it may be sawn and sanded, in hours."""


def fold_name(name: str) -> str:
    """A name as names are compared: in small letters, single spaces."""
    return " ".join(name.casefold().split())


class MeasuredConfig(OrderTable, check="cutter material stroke land", paper="source"):
    """[[measured]]: what a cutter of yours leaves in a material, from a coupon (`plaques coupon`) or a trial of your
    own. It comes before what the shelf says, for orders with that cutter, unchanged, in that material."""

    cutter: OwnName
    """The cutter, as orders call it."""
    material: OwnName
    """The material, as orders call it."""
    stroke: Positive | None = None
    """Narrowest stroke that came out clean."""
    land: Positive | None = None
    """Narrowest land that came out clean."""
    source: str = "measured by the shop"
    """How and when it was measured, for findings and papers."""


class ShopConfig(OrderTable, making="units"):
    """Values common to every order of a shop."""

    units: UnitName = "mm"
    """Unit of every length in the shop file; an order may have another."""
    shop: ShopIdentity = ShopIdentity()
    """Who you are."""
    rates: RatesConfig = RatesConfig()
    """What time takes and costs. Prices count for orders in the same currency."""
    labels: LabelsConfig = LabelsConfig()
    """The sheet of delivery labels you use."""
    cutter: Annotated[tuple[OwnCutter, ...], AsTuple] = ()
    """A cutter of your own."""
    material: Annotated[tuple[OwnMaterial, ...], AsTuple] = ()
    """A material of your own."""
    resin: Annotated[tuple[OwnResin, ...], AsTuple] = ()
    """A resin you use."""
    measured: Annotated[tuple[MeasuredConfig, ...], AsTuple] = ()
    """Limits you measured, of a cutter in a material."""

    def find_measured(self, cutter: str, material: str) -> MeasuredConfig | None:
        """Find what was measured of this cutter in this material."""
        wanted = (fold_name(cutter), fold_name(material))
        return next((m for m in self.measured if (fold_name(m.cutter), fold_name(m.material)) == wanted), None)


NO_SHOP = ShopConfig()
"""Of an order without a shop file."""
