"""Cutters and what they can cut.

Words: *tip*, the flat at the end of a V-bit, or the width of an engraving point's line; *kerf*, the width a laser burns
away; *reach*, how deep a cutter can go before more than its cutting part touches. Lengths are mm, angles degrees.

A kind of cutter is a class: what it can do is declared there and queried everywhere else. A new kind is its class, one
entry in `CUTTER_KINDS` and one in the order table's `CutterKind`.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from importlib.resources import files
from typing import Any, ClassVar, Literal

from pipeline.core.config.order import CutterConfig, Order
from pipeline.core.config.shop_config import NO_SHOP, MeasuredConfig, OwnCutter, ShopConfig
from pipeline.core.config.shop_tables import ClearingConfig, EndMillConfig
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.units import MM, Units

SHALLOWEST = 0.1
"""A groove shallower than this does not show (common practice, no source)."""
LEAST_LAND = 0.2
"""Material narrower than this breaks out between two cuts (common practice, no source)."""

SIZES = ("angle", "tip", "diameter", "kerf", "reach")
"""Sizes a cutter may have."""
SHOP = "shop.toml"

Surface = Literal["timber", "metal"]
"""What a piece looks like on papers."""

KeyPlace = Callable[..., str]
"""Spells the place of a key of the order, given as table and key."""


def _format_size(length: float, units: Units) -> str:
    """Format a cutter's size in the order's unit, to a ten-thousandth, without trailing zeros."""
    return f"{units.format_number(length, 4).rstrip('0').rstrip('.')} {units.name}"


def describe_key(table: str, key: str = "") -> str:
    """`[cutter] use`: for those who do not know the order's file."""
    return f"[{table}] {key}".rstrip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit and where it comes from. None: there is no limit."""

    value: float | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """One cutter, resolved: of the shelf, of the order, or the shelf's with the order's changes.

    A kind of cutter is a subclass without fields of its own: it holds every size that an order may state, used or not,
    so that equal cutters agree in all of them. Two kinds of the same sizes are not equal.
    """

    kind: ClassVar[str]
    """What an order calls it."""
    needs: ClassVar[str]
    """The size it requires."""
    cuts_grooves: ClassVar[bool] = False
    """A groove's depth follows from its width: straight flanks, see `slope`."""
    clears_areas: ClassVar[bool] = False
    """It clears an area, as far as it gets in, in loops."""
    mills_pockets: ClassVar[bool] = False
    """Leaves a flat floor and upright walls."""
    has_depth: ClassVar[bool] = True
    """It goes into the material to a depth that can be set."""
    turns: ClassVar[bool] = False
    """Turns in a collet, out of which it has to stick far enough."""
    burns: ClassVar[bool] = False
    """A beam, with a focus and a beam's dangers, not an edge."""
    surface: ClassVar[Surface] = "timber"
    """What it letters, as papers show it."""
    travel: ClassVar[str]
    """How it moves over the lettering, in words for the estimate of time."""

    name: str
    angle: float | None = None
    tip: float = 0.0
    diameter: float | None = None
    kerf: float | None = None
    reach: float | None = None
    source: str = ""

    @property
    def follows_lines(self) -> bool:
        """Return whether it follows the outline of an area once, half its line's width inside."""
        return not (self.cuts_grooves or self.clears_areas)

    @property
    def takes_depth(self) -> bool:
        """Return whether it cuts to the depth the order states, the same everywhere."""
        return self.has_depth and not self.cuts_grooves

    @property
    def slope(self) -> float:
        """tan(A/2): how much half a groove's width grows per depth; 0 for a cutter with upright sides."""
        return 0.0

    @property
    def line_width(self) -> float:
        """Width of what the cutter leaves when it is drawn along a line at no depth."""
        return self.tip

    @property
    def tip_width(self) -> float:
        """Width of its tip; 0 for a cutter without one."""
        return 0.0

    def compute_depth(self, width: float) -> float:
        """Depth of a groove as wide as `width` at the surface. ValueError for a cutter that cuts no grooves."""
        raise ValueError(f"{self.name} is no V-bit: its depth does not follow from a width")

    def compute_width(self, depth: float) -> float:
        """Width at the surface of a cut this deep."""
        return self.line_width + 2 * depth * self.slope

    def compute_section(self, depth: float) -> float:
        """Area of the cross-section of a cut this deep, mm²."""
        return depth * (self.compute_width(depth) + self.line_width) / 2

    @property
    def widest(self) -> float | None:
        """The widest groove one pass leaves. None: no such end."""
        return None

    def compute_thinning(self, sanded_off: float) -> float:
        """Return how much narrower every stroke gets when this much is taken off the face afterwards: 2 s tan(A/2)."""
        return 2 * sanded_off * self.slope

    def is_finer(self, than: Cutter) -> bool:
        """Return whether it can cut thinner strokes than another of its kind."""
        return self.line_width < than.line_width

    def find_least_stroke(self, shallowest: float, units: Units = MM) -> Limit:
        """Return the narrowest stroke it can cut. shallowest: the least depth of a groove. units: those of the order,
        for the words."""
        least = self.line_width
        return Limit(value=least, source=f"{self.name}: it leaves nothing narrower than {_format_size(least, units)}")

    def list_depth_limits(self) -> Iterator[tuple[float, str]]:
        """Yield the limits of its depth, each with its source in words."""
        if self.widest is not None:
            yield self.compute_depth(self.widest), f"{self.name}: at this depth its groove is as wide as the bit"
        if self.reach is not None:
            yield self.reach, f"{self.name}: its reach"

    def list_faults(self, where: KeyPlace = describe_key, units: Units = MM) -> Iterator[Fault]:
        """Return the sizes it lacks, or that are impossible. where: spells the place of a key. units: those of the
        order, for the words."""
        if not getattr(self, self.needs):
            expected = f'a number: kind = "{self.kind}" needs it'
            yield Fault(where=where("cutter", self.needs), found="missing", expected=expected)

    def list_values(self) -> tuple[tuple[str, str | float], ...]:
        """For reports: name, kind and sizes that are set. For a cutter of grooves the tip is listed even when it is
        sharp, and no line width, because there isn't a single one."""
        sizes = [(n, getattr(self, n)) for n in ("angle", "tip", "diameter", "kerf", "reach")]
        told = [(n, v) for n, v in sizes if v or (n == "tip" and self.cuts_grooves)]
        lines = [("line_width", self.line_width)] if not self.cuts_grooves else []
        return (("cutter", self.name), ("kind", self.kind), *told, *lines, ("cutter_source", self.source))


@dataclass(frozen=True, slots=True, kw_only=True)
class VBit(Cutter):
    """A conical bit with a flat tip: the wider a stroke, the deeper it cuts."""

    kind = "v-bit"
    needs = "angle"
    cuts_grooves = True
    turns = True
    travel = "along the grooves"

    @property
    def slope(self) -> float:
        """tan(A/2), A the included angle."""
        return math.tan(math.radians(self.angle) / 2) if self.angle else 0.0

    @property
    def tip_width(self) -> float:
        """The flat."""
        return self.tip

    def compute_depth(self, width: float) -> float:
        """Depth of a V-groove as wide as `width` at the surface: (w − t) / (2 tan(A/2)), t the flat tip; not below 0.

        Trapezium of a truncated cone: with t = 0 and 60° it is ISO 68-1's thread height, .866025 of the width.
        """
        return max(0.0, width - self.tip) / (2 * self.slope)

    @property
    def widest(self) -> float | None:
        """Its diameter, or what its reach allows."""
        ends = [d for d in (self.diameter, self.compute_width(self.reach) if self.reach else None) if d]
        return min(ends, default=None)

    def is_finer(self, than: Cutter) -> bool:
        """The more pointed of two: a stroke takes a deeper groove and loses less by sanding."""
        return self.slope < than.slope

    def find_least_stroke(self, shallowest: float, units: Units = MM) -> Limit:
        """tip + 2 · shallowest · tan(A/2)."""
        return Limit(
            value=self.compute_width(shallowest),
            source=f"{self.name}: tip {_format_size(self.tip, units)} + 2 × shallowest groove "
            f"{_format_size(shallowest, units)} × "
            "tan(A/2)",
        )

    def list_faults(self, where: KeyPlace = describe_key, units: Units = MM) -> Iterator[Fault]:
        """Also a flat that leaves no flanks."""
        yield from Cutter.list_faults(self, where, units)
        if self.diameter is not None and self.diameter <= self.tip:
            yield Fault(
                where=where("cutter", "tip"),
                found=f"a flat tip of {_format_size(self.tip, units)} on a bit of {_format_size(self.diameter, units)}",
                expected="a tip narrower than the bit",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class EndMill(Cutter):
    """A cylindrical cutter with a flat end."""

    kind = "end-mill"
    needs = "diameter"
    clears_areas = True
    mills_pockets = True
    turns = True
    travel = "everywhere the cutter fits, in loops"

    @property
    def line_width(self) -> float:
        """Its diameter."""
        return self.diameter or 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class EngravingPoint(Cutter):
    """A point that is drawn over the face and does not turn; its line is as wide as its tip."""

    kind = "point"
    needs = "tip"
    surface = "metal"
    travel = "outlines or single lines, once"

    @property
    def tip_width(self) -> float:
        """The width of its line."""
        return self.tip


@dataclass(frozen=True, slots=True, kw_only=True)
class Laser(Cutter):
    """A beam that burns a kerf and goes down to no depth that could be set."""

    kind = "laser"
    needs = "kerf"
    has_depth = False
    burns = True
    surface = "metal"
    travel = "outlines or single lines, once"

    @property
    def line_width(self) -> float:
        """The kerf."""
        return self.kerf or 0.0


CUTTER_KINDS: dict[str, type[Cutter]] = {made.kind: made for made in (VBit, EndMill, EngravingPoint, Laser)}
"""Every kind of cutter by what an order calls it."""


def resolve_end_mill(
    part: EndMillConfig | ClearingConfig, where: str, shop: ShopConfig = NO_SHOP, units: Units = MM
) -> Cutter:
    """The end mill a key of [pocket] or [clearing] asks for. units: those its diameter is named in, which are the
    order's. CannotRun names the key."""
    base: Cutter = EndMill(name="end mill")
    if part.use is not None:
        shelf = build_shelf(shop)
        mills = [n for n, c in shelf.items() if c.mills_pockets]
        if part.use not in mills:
            raise CannotRun(
                Fault(
                    where=where,
                    found=f"no end mill “{part.use}” on the shelf",
                    expected=f"one of {', '.join(mills)}",
                    remedy="`plaques cutters` lists them; { diameter = …, reach = … } describes one of your own",
                )
            )
        base = shelf[part.use]
    diameter, reach = part.diameter or base.diameter, part.reach or base.reach
    if diameter is None:
        raise CannotRun(
            Fault(
                where=where, found="names no cutter", expected='{ use = "endmill-6" }, or { diameter = …, reach = … }'
            )
        )
    name = part.use or f"end mill {units.format_typed(diameter)}"
    own = " and ".join(key for key in ("diameter", "reach") if getattr(part, key))
    source = f"{base.source}; {own} from {where} in order.toml" if base.source and own else base.source or "order.toml"
    return EndMill(name=name, diameter=diameter, reach=reach, source=source)


def get_clearing_mill(order: Order) -> Cutter | None:
    """The flat cutter of [clearing]; None where the order names none. CannotRun as `resolve_end_mill`."""
    part = order.clearing
    if part.use is None and part.diameter is None:
        return None
    return resolve_end_mill(part, "[clearing]", order.shop, order.unit)


def compute_lowering(order: Order, cutter: Cutter) -> float:
    """Return how much deeper every groove is cut than its stroke asks, mm: with `compensate` and `grooves` what the
    sanding takes off, so that the sanded face shows the letter as designed. Outlines are then not grown: growing fills
    crotches, and the axis of a grown outline is deeper there by more than what is sanded off."""
    finish = order.finish
    return finish.sanded_off if finish.compensate and order.files.grooves and cutter.cuts_grooves else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLimits:
    """Limits of what can be cut: each limit with its source in words."""

    stroke: Limit
    land: Limit
    deepest: Limit
    shallowest: Limit

    def list_values(self) -> tuple[tuple[str, str | float], ...]:
        """For reports: every limit, then where it comes from."""
        out: list[tuple[str, str | float]] = []
        for name in ("stroke", "land", "deepest", "shallowest"):
            limit: Limit = getattr(self, name)
            if limit.value is not None:
                out += [(name, limit.value), (f"{name}_source", limit.source)]
        return tuple(out)


@lru_cache(maxsize=1)
def load_cutter_shelf() -> dict[str, Cutter]:
    """The cutters that come with the project, by name, in the file's order."""
    text = files("pipeline.cutting").joinpath("cutters.toml").read_text(encoding="utf-8")
    return {name: _build_cutter(name=name, **values) for name, values in tomllib.loads(text).items()}


def _build_cutter(kind: str, **values: Any) -> Cutter:
    return CUTTER_KINDS[kind](**values)


def build_shelf(shop: ShopConfig) -> dict[str, Cutter]:
    """The shelf with a shop's own cutters on it, which come first, also where one has the name of another."""
    return {own.name: build_own_cutter(own) for own in shop.cutter} | {
        name: cutter for name, cutter in load_cutter_shelf().items() if all(own.name != name for own in shop.cutter)
    }


def build_own_cutter(part: OwnCutter) -> Cutter:
    """A cutter of the shop file."""
    sizes = {key: value for key in SIZES if (value := getattr(part, key)) is not None}
    return _build_cutter(
        kind=part.kind, name=part.name, source=part.source or f"[[cutter]] “{part.name}” in {SHOP}", **sizes
    )


def choose_cutter(
    part: CutterConfig, shop: ShopConfig = NO_SHOP, where: KeyPlace = describe_key, units: Units = MM
) -> Cutter:
    """The cutter an order asks for. CannotRun when the shelf has no such name, or a needed size is missing. where:
    spells the place of a key of the order. units: those of the order, for the words."""
    shelf = build_shelf(shop)
    own: dict[str, Any] = {k: v for k, v in part.model_dump(exclude={"use", "depth_per_pass"}).items() if v is not None}
    if part.use is None:
        if part.kind is None:
            *kinds, last = (f'"{kind}"' for kind in CUTTER_KINDS)
            raise CannotRun(
                Fault(
                    where=where("cutter"),
                    found="names no cutter",
                    expected=f'use = "…" from the shelf (`plaques cutters`), or kind = {", ".join(kinds)} or {last}',
                )
            )
        made = _build_cutter(name=part.kind, source="[cutter] in order.toml", **own)
    else:
        if part.use not in shelf:
            near = get_close_matches(part.use, shelf, 1, 0.3)
            raise CannotRun(
                Fault(
                    where=where("cutter", "use"),
                    found=f"no cutter “{part.use}” on the shelf",
                    expected="" if near else f"one of {', '.join(shelf)}",
                    remedy=f"did you mean “{near[0]}”? `plaques cutters` lists them"
                    if near
                    else "`plaques cutters` lists them; kind = … describes one of your own",
                )
            )
        base = shelf[part.use]
        if own.get("kind", base.kind) != base.kind:
            raise CannotRun(
                Fault(
                    where=where("cutter", "kind"),
                    found=f"“{own['kind']}”, but {part.use} is a {base.kind}",
                    expected="either use = … from the shelf or a cutter of your own",
                    remedy="leave out use or kind",
                )
            )
        sizes = {key: value for key, value in own.items() if key != "kind"}
        changed = ", ".join(sorted(sizes))
        source = f"{base.source}; {changed} from [cutter] in order.toml" if changed else base.source
        made = replace(base, source=source, **sizes)
    if faults := list(made.list_faults(where, units)):
        raise CannotRun(faults)
    return made


def find_measured_limits(order: Order, cutter: Cutter) -> MeasuredConfig | None:
    """Find what the shop measured of a cutter in the order's material; None where it did not, or the order changes the
    cutter's sizes."""
    if order.stock is None or not order.stock.material:
        return None
    part = order.cutter
    if cutter.name == part.use and any(
        getattr(part, key) is not None for key in ("angle", "tip", "diameter", "kerf", "reach")
    ):
        return None
    return order.shop.find_measured(cutter.name, order.stock.material)


def compute_limits(order: Order, cutter: Cutter, thickness: float | None) -> CutLimits:
    """The limits that follow from the cutter, the order and the stock; what the order writes comes first.

    Smallest stroke: `Cutter.find_least_stroke`. Deepest: the least of what the cutter, `deepest` and the thickness of
    the stock allow.
    """
    own, measured = order.limits, find_measured_limits(order, cutter)
    shallowest = (
        Limit(value=own.shallowest, source="[limits] shallowest in order.toml")
        if own.shallowest is not None
        else Limit(value=SHALLOWEST, source="a shallower cut does not show: common practice, no source")
    )
    if own.stroke is not None:
        stroke = Limit(value=own.stroke, source="[limits] stroke in order.toml")
    elif measured is not None and measured.stroke is not None:
        stroke = Limit(value=measured.stroke, source=measured.source)
    else:
        stroke = cutter.find_least_stroke(SHALLOWEST if shallowest.value is None else shallowest.value, order.unit)
    if own.land is not None:
        land = Limit(value=own.land, source="[limits] land in order.toml")
    elif measured is not None and measured.land is not None:
        land = Limit(value=measured.land, source=measured.source)
    else:
        tip = cutter.tip_width
        sizes = f"{_format_size(tip, order.unit)}) and {_format_size(LEAST_LAND, order.unit)}: "
        source = f"{f'the larger of the tip ({sizes}' if tip else ''}common practice, no source"
        land = Limit(value=max(tip, LEAST_LAND), source=source)
    ends: list[tuple[float, str]] = []
    if own.deepest is not None:
        ends.append((own.deepest, "[limits] deepest in order.toml"))
    ends += cutter.list_depth_limits()
    if thickness is not None:
        ends.append((thickness, "the thickness of the stock"))
    deepest = min(ends, default=(None, "nothing limits it"), key=lambda e: e[0])
    return CutLimits(
        stroke=stroke, land=land, deepest=Limit(value=deepest[0], source=deepest[1]), shallowest=shallowest
    )


def resolve_cutter(order: Order, thickness: float | None) -> tuple[Cutter, CutLimits]:
    """The order's cutter and limits. thickness: of the blank in mm, None when not stated. CannotRun as cutter_of."""
    cutter = choose_cutter(order.cutter, order.shop, units=order.unit)
    return cutter, compute_limits(order, cutter, thickness)


def list_pocket_values(order: Order) -> tuple[tuple[str, float], ...]:
    """("pocket_cutter", diameter in mm) of the cutter that mills the pocket's walls and leaves its corners; none when
    the order mills no pocket, or names no cutter that is known."""
    if order.pocket is None:
        return ()
    part = order.pocket.fine or order.pocket.rough
    base = build_shelf(order.shop).get(part.use) if part.use is not None else None
    diameter = part.diameter or (base.diameter if base else None)
    return (("pocket_cutter", diameter),) if diameter else ()


def list_resolved_values(order: Order, cutter: Cutter, limits: CutLimits) -> tuple[tuple[str, str | float], ...]:
    """Cutter and limits by name, and what else of them the finished piece depends on: `list_pocket_values`; "lowered",
    how much deeper its grooves are cut, mm, where they are; "clearing_cutter", the diameter in mm of what clears flat
    floors, where there is one."""
    lowered = compute_lowering(order, cutter)
    deeper = (("lowered", lowered),) if lowered else ()
    mill = get_clearing_mill(order)
    flat = (("clearing_cutter", mill.diameter),) if mill is not None and mill.diameter else ()
    return (*cutter.list_values(), *limits.list_values(), *list_pocket_values(order), *deeper, *flat)
