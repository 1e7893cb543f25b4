"""`plaques cutters`: the cutter shelf, what each can cut, its smallest stroke and its depth per width."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict

from pipeline.core.config.order import BlankConfig, CutterConfig, LineConfig, ListConfig, Order
from pipeline.core.printable import write_json_text
from pipeline.cutting.cutters import Cutter, compute_limits, load_cutter_shelf

WIDTHS = (0.5, 1.0, 2.0)
"""Stroke widths, mm, whose groove depth is shown."""


def list_cutters(*, as_json: bool, say: Callable[[str], object]) -> int:
    """Print the shelf of cutters. Lengths are mm."""
    found = load_cutter_shelf()
    if as_json:
        say(write_json_text([{"name": c.name, "kind": c.kind} | asdict(c) for c in found.values()], indent=1))
        return 0
    rows = [["cutter", "kind", "angle", "tip", "cuts", "reach", "stroke", *(f"{w:g} wide" for w in WIDTHS)]]
    rows += [_list_cells(cutter) for cutter in found.values()]
    widths = [max(len(row[n]) for row in rows) for n in range(len(rows[0]))]
    for row in rows:
        cells = [c.ljust(w) if n < 2 else c.rjust(w) for n, (c, w) in enumerate(zip(row, widths, strict=True))]
        say("  ".join(cells).rstrip())
    say(
        "\nLengths in mm. cuts: diameter, or the kerf of a laser. stroke: the narrowest it can be asked for. The last "
        "columns:\nhow deep a V-bit goes for a stroke that wide. Where each value comes from: `plaques cutters --json`."
    )
    return 0


def _list_cells(cutter: Cutter) -> list[str]:
    smallest = compute_limits(_build_order(cutter.name), cutter, None).stroke.value
    deep = cutter.cuts_grooves
    depths = [f"{cutter.compute_depth(w):.2f}" if deep and w <= (cutter.widest or w) else "–" for w in WIDTHS]
    angle = f"{cutter.angle:g}°" if cutter.angle else "–"
    sizes = [_format_length(v) for v in (cutter.tip or None, cutter.diameter or cutter.kerf, cutter.reach)]
    return [cutter.name, cutter.kind, angle, *sizes, f"{smallest:.2f}" if smallest else "–", *depths]


def _format_length(length: float | None) -> str:
    return "–" if length is None else f"{length:g}"


def _build_order(cutter: str) -> Order:
    """Build a minimal order with this cutter, from which the limits follow."""
    return Order(
        title="",
        list=ListConfig(file=""),
        blank=BlankConfig(shape="disc", diameter=1.0),
        cutter=CutterConfig(use=cutter),
        line=(LineConfig(text="", face="", cap_height=1.0),),
    )
