"""The coupon: strokes and lands of known widths, cut once with a cutter in a material to learn what both can do.

Three blocks, one above the other, each with all strokes and all lands, numbered from the narrowest. Anything narrower
than the cutter's line is left out. Lengths mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.core.errors import CannotRun, Fault
from pipeline.cutting.cutters import Cutter
from pipeline.cutting.materials import Material, SourcedValue

WIDTHS = (0.05, 0.075, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)
"""Of strokes and of lands."""
BLOCKS = 3
PLAIN_DEPTH = 0.3
"""Depth of the middle block where no material says how deep a pass is (common practice, no source)."""
SHARES = (0.5, 1.0, 1.5)
"""Of a pass: the depths of the blocks."""

BESIDE = (0.5, 1.0, 1.5)
"""Width of the grooves of a V-bit beside a land in each block, which makes their depth; of other cutters the first."""

Kind = str
"""`stroke` or `land`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CouponPlan:
    """Plan of a coupon. depths: of the blocks, 0 for a cutter without one. beside: width of the cuts on both sides of a
    land in each block."""

    cutter: Cutter
    material: Material
    strokes: tuple[float, ...]
    lands: tuple[float, ...]
    depths: tuple[float, ...]
    beside: tuple[float, ...]
    most: SourcedValue | None = None  # greatest depth of one pass; None: not known

    def describe_pass(self) -> str:
        """Describe how deep one pass may be; empty for a cutter without a depth."""
        if not self.cutter.has_depth:
            return ""
        if self.most is None:
            return "Nothing says how deep a pass may be in this material: begin shallow, in several passes."
        rough = "; of grooves, layer ROUGH first" if self.cutter.cuts_grooves else ""
        most = f"{self.most.value:.3g} mm ({self.most.source})"
        return f"No pass deeper than {most}: cut what is deeper in several{rough}."

    def list_widths(self, kind: Kind) -> tuple[float, ...]:
        """List the widths of strokes or of lands, from the narrowest."""
        return self.strokes if kind == "stroke" else self.lands

    def describe_block(self, number: int) -> str:
        """Describe how a block, counted from 1, is to be cut."""
        if not self.cutter.has_depth:
            return f"{number} pass{'' if number == 1 else 'es'}"
        if self.cutter.cuts_grooves:
            return f"strokes as deep as their width needs; lands between grooves {self.depths[number - 1]:.3g} mm deep"
        return f"{self.depths[number - 1]:.3g} mm deep"


def plan_coupon(cutter: Cutter, material: Material) -> CouponPlan:
    """The coupon of a cutter in a material. CannotRun when the cutter leaves nothing narrow enough to be tried, or does
    not cut the material."""
    if material.may_be_cut_by(cutter.kind) is False:
        raise CannotRun(
            Fault(
                where=f"cutter “{cutter.name}”",
                found=f"a {cutter.kind} does not cut {material.name} ({material.describe_source('passes')})",
                expected=f"one of {', '.join(material.passes)}",
                remedy="`plaques materials` lists what cuts what",
            )
        )
    least = cutter.line_width
    strokes = tuple(w for w in WIDTHS if (w > least + 1e-9 if cutter.cuts_grooves else w >= least - 1e-9))
    if len(strokes) < 2:
        raise CannotRun(
            Fault(
                where=f"cutter “{cutter.name}”",
                found=f"its line is {least:g} mm wide",
                expected=f"a lettering cutter: the coupon has strokes up to {WIDTHS[-1]:g} mm",
            )
        )
    found = material.find_pass_depth(cutter.kind, cutter.diameter)
    base = PLAIN_DEPTH if found is None else found.value
    ends = [depth for depth, _ in cutter.list_depth_limits()]
    wide, depths = (max(least, BESIDE[0]),) * BLOCKS, (0.0,) * BLOCKS
    if cutter.cuts_grooves:
        wide = tuple(min([max(w, least + BESIDE[0]), *([cutter.widest] if cutter.widest else [])]) for w in BESIDE)
        depths = tuple(cutter.compute_depth(w) for w in wide)
    elif cutter.has_depth:
        depths = tuple(min([base * share, *ends]) for share in SHARES)
    return CouponPlan(
        cutter=cutter, material=material, strokes=strokes, lands=WIDTHS, depths=depths, beside=wide, most=found
    )


Marks = Mapping[tuple[Kind, int, int], bool]
"""(kind, block, number), both from 1 -> whether it came out clean."""


def find_limit(plan: CouponPlan, kind: Kind, marks: Marks) -> float | None:
    """Return the narrowest width that came out clean in every block, together with all wider ones; None where none is
    marked. CannotRun when a narrower one is marked and a wider one is not."""
    widths = plan.list_widths(kind)
    clean = [
        all(marks.get((kind, block, n), False) for block in range(1, BLOCKS + 1)) for n in range(1, len(widths) + 1)
    ]
    for block in range(1, BLOCKS + 1):
        seen = [marks.get((kind, block, n), False) for n in range(1, len(widths) + 1)]
        first = seen.index(True) if True in seen else len(seen)
        gaps = [n for n in range(first, len(seen)) if not seen[n]]
        if gaps:
            raise CannotRun(
                Fault(
                    where=f"{kind}s of block {block}",
                    found=f"no. {first + 1} ({widths[first]:g} mm) is marked clean, and the wider no. {gaps[0] + 1} "
                    f"({widths[gaps[0]]:g} mm) is not",
                    expected="everything marked from the narrowest clean one on",
                    remedy=f"look again, or give the limit yourself: --{kind}s {widths[gaps[0]]:g}",
                )
            )
    return widths[clean.index(True)] if True in clean else None
