"""Cutters and what they can cut.

Words: *tip*, the flat at the end of a V-bit, or the width of an engraving point's line; *kerf*, the width a laser burns
away; *reach*, how deep a cutter can go before more than its cutting part touches. Lengths are mm, angles degrees.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.order import CutterConfig, Order

CutterKind = Literal["v-bit", "end-mill", "point", "laser"]

SHALLOWEST = 0.1
"""A groove shallower than this does not show (common practice, no source)."""
LEAST_LAND = 0.2
"""Material narrower than this breaks out between two cuts (common practice, no source)."""
NEEDED: dict[str, str] = {"v-bit": "angle", "end-mill": "diameter", "point": "tip", "laser": "kerf"}
"""What a cutter of each kind cannot do without."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """One cutter, resolved: of the shelf, of the order, or the shelf's with the order's changes."""

    name: str
    kind: CutterKind
    angle: float | None = None
    tip: float = 0.0
    diameter: float | None = None
    kerf: float | None = None
    reach: float | None = None
    source: str = ""

    @property
    def slope(self) -> float:
        """tan(A/2): how much half a groove's width grows per depth; 0 for a cutter with upright sides."""
        return math.tan(math.radians(self.angle) / 2) if self.kind == "v-bit" and self.angle else 0.0

    @property
    def line_width(self) -> float:
        """Width of what the cutter leaves when it is drawn along a line at no depth."""
        if self.kind == "end-mill":
            return self.diameter or 0.0
        return (self.kerf if self.kind == "laser" else self.tip) or 0.0

    def depth(self, width: float) -> float:
        """Depth of a V-groove as wide as `width` at the surface: (w − t) / (2 tan(A/2)), t the flat tip; not below 0.

        Trapezium of a truncated cone: with t = 0 and 60° it is ISO 68-1's thread height, .866025 of the width.
        ValueError for a cutter that cuts no grooves.
        """
        if not self.slope:
            raise ValueError(f"{self.name} is no V-bit: its depth does not follow from a width")
        return max(0.0, width - self.tip) / (2 * self.slope)

    def width(self, depth: float) -> float:
        """Width at the surface of a cut this deep."""
        return self.line_width + 2 * depth * self.slope

    @property
    def widest(self) -> float | None:
        """The widest groove one pass of a V-bit leaves: its diameter, or what its reach allows. None: no such end."""
        if self.kind != "v-bit":
            return None
        ends = [d for d in (self.diameter, self.width(self.reach) if self.reach else None) if d]
        return min(ends, default=None)

    def thinned(self, sanded_off: float) -> float:
        """How much narrower every stroke gets when this much is taken off the face afterwards: 2 s tan(A/2)."""
        return 2 * sanded_off * self.slope

    def words(self) -> tuple[tuple[str, str | float], ...]:
        """For reports: name, kind and sizes that are set."""
        sizes = [(n, getattr(self, n)) for n in ("angle", "tip", "diameter", "kerf", "reach")]
        told = [(n, v) for n, v in sizes if v or (n == "tip" and self.kind == "v-bit")]
        lines = [("line_width", self.line_width)] if self.kind != "v-bit" else []
        return (("cutter", self.name), ("kind", self.kind), *told, *lines, ("cutter_source", self.source))


def lowered_by(order: Order, cutter: Cutter) -> float:
    """How much deeper every groove is cut than its stroke asks, mm: with `compensate` and `grooves` what the sanding
    takes off, so that the sanded face shows the letter as designed. Outlines are then not grown: growing fills
    crotches, and the axis of a grown outline is deeper there by more than what is sanded off."""
    finish = order.finish
    return finish.sanded_off if finish.compensate and order.files.grooves and cutter.slope else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit and where it comes from. None: there is no limit."""

    value: float | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLimits:
    """What is to be cut at all: each limit with its source in words."""

    stroke: Limit
    land: Limit
    deepest: Limit
    shallowest: Limit

    def words(self) -> tuple[tuple[str, str | float], ...]:
        """For reports: every limit, then where it comes from."""
        out: list[tuple[str, str | float]] = []
        for name in ("stroke", "land", "deepest", "shallowest"):
            limit: Limit = getattr(self, name)
            if limit.value is not None:
                out += [(name, limit.value), (f"{name}_source", limit.source)]
        return tuple(out)


@lru_cache(maxsize=1)
def cutter_shelf() -> dict[str, Cutter]:
    """The cutters that come with the project, by name, in the file's order."""
    text = files("pipeline.cutting").joinpath("cutters.toml").read_text(encoding="utf-8")
    return {name: Cutter(name=name, **values) for name, values in tomllib.loads(text).items()}


def cutter_of(part: CutterConfig) -> Cutter:
    """The cutter an order asks for. CannotRun when the shelf has no such name, or a needed size is missing."""
    own: dict[str, Any] = {k: v for k, v in part.model_dump(exclude={"use"}).items() if v is not None}
    if part.use is None:
        if part.kind is None:
            raise CannotRun(
                Fault(
                    where="[cutter]",
                    found="names no cutter",
                    expected=f"use = one of {', '.join(cutter_shelf())}, or kind = one of {', '.join(NEEDED)}",
                )
            )
        made = Cutter(name=part.kind, source="[cutter] in order.toml", **own)
    else:
        if part.use not in cutter_shelf():
            near = get_close_matches(part.use, cutter_shelf(), 1, 0.3)
            hint = f"did you mean “{near[0]}”? " if near else ""
            raise CannotRun(
                Fault(
                    where="[cutter] use",
                    found=f"no cutter “{part.use}” on the shelf",
                    expected=f"one of {', '.join(cutter_shelf())}",
                    remedy=f"{hint}`plaques cutters` lists them; kind = … describes one of your own",
                )
            )
        base = cutter_shelf()[part.use]
        if own.get("kind", base.kind) != base.kind:
            raise CannotRun(
                Fault(
                    where="[cutter] kind",
                    found=f"“{own['kind']}”, but {part.use} is a {base.kind}",
                    expected="either use = … from the shelf or a cutter of your own",
                    remedy="leave out use or kind",
                )
            )
        values = {n: getattr(base, n) for n in ("angle", "tip", "diameter", "kerf", "reach")}
        changed = ", ".join(sorted(set(own) - {"kind"}))
        source = f"{base.source}; {changed} from [cutter] in order.toml" if changed else base.source
        values.update({k: v for k, v in own.items() if k != "kind"})
        made = Cutter(name=part.use, kind=base.kind, source=source, **values)
    need = NEEDED[made.kind]
    if not getattr(made, need):
        raise CannotRun(Fault(where=f"[cutter] {need}", found="missing", expected=f"a {made.kind} needs its {need}"))
    if made.kind == "v-bit" and made.diameter is not None and made.diameter <= made.tip:
        raise CannotRun(
            Fault(
                where="[cutter]",
                found=f"a flat tip of {made.tip:g} mm on a bit of {made.diameter:g} mm",
                expected="a tip narrower than the bit",
            )
        )
    return made


def limits_of(order: Order, cutter: Cutter, thickness: float | None) -> CutLimits:
    """The limits that follow from the cutter, the order and the stock; what the order writes comes first.

    Smallest stroke of a V-bit: tip + 2 · shallowest · tan(A/2); of any other cutter: the width it leaves anyway.
    Deepest: the least of what the bit, `deepest` and the thickness of the stock allow.
    """
    own = order.limits
    shallowest = (
        Limit(value=own.shallowest, source="[limits] shallowest in order.toml")
        if own.shallowest is not None
        else Limit(value=SHALLOWEST, source="a shallower cut does not show: common practice, no source")
    )
    if own.stroke is not None:
        stroke = Limit(value=own.stroke, source="[limits] stroke in order.toml")
    elif cutter.kind == "v-bit":
        least = SHALLOWEST if shallowest.value is None else shallowest.value
        stroke = Limit(
            value=cutter.width(least),
            source=f"{cutter.name}: tip {cutter.tip:g} mm + 2 × shallowest groove {least:g} mm × tan(A/2)",
        )
    else:
        stroke = Limit(
            value=cutter.line_width, source=f"{cutter.name}: it leaves nothing narrower than {cutter.line_width:g} mm"
        )
    if own.land is not None:
        land = Limit(value=own.land, source="[limits] land in order.toml")
    else:
        tip = cutter.tip if cutter.kind in ("v-bit", "point") else 0.0
        land = Limit(
            value=max(tip, LEAST_LAND),
            source=f"the larger of the tip ({tip:g} mm) and {LEAST_LAND:g} mm: common practice, no source",
        )
    ends: list[tuple[float, str]] = []
    if own.deepest is not None:
        ends.append((own.deepest, "[limits] deepest in order.toml"))
    if cutter.widest is not None:
        ends.append((cutter.depth(cutter.widest), f"{cutter.name}: at this depth its groove is as wide as the bit"))
    if cutter.reach is not None:
        ends.append((cutter.reach, f"{cutter.name}: its reach"))
    if thickness is not None:
        ends.append((thickness, "the thickness of the stock"))
    deepest = min(ends, default=(None, "nothing limits it"), key=lambda e: e[0])
    return CutLimits(
        stroke=stroke, land=land, deepest=Limit(value=deepest[0], source=deepest[1]), shallowest=shallowest
    )


def resolve_cutter(order: Order, thickness: float | None) -> tuple[Cutter, CutLimits]:
    """The order's cutter and limits. thickness: of the blank in mm, None when not stated. CannotRun as cutter_of."""
    cutter = cutter_of(order.cutter)
    return cutter, limits_of(order, cutter, thickness)


def pocket_words(order: Order) -> tuple[tuple[str, float], ...]:
    """("pocket_cutter", diameter in mm) of the cutter that mills the pocket's walls and leaves its corners; none when
    the order mills no pocket, or names no cutter that is known."""
    if order.pocket is None:
        return ()
    part = order.pocket.fine or order.pocket.rough
    base = cutter_shelf().get(part.use) if part.use is not None else None
    diameter = part.diameter or (base.diameter if base else None)
    return (("pocket_cutter", diameter),) if diameter else ()
