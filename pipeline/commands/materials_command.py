"""`plaques materials`: the shelf of materials, how each can be worked, and the sources of its figures."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

from pipeline.core.config.shop_config import NO_SHOP
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.printable import write_json_text
from pipeline.cutting.materials import (
    Material,
    build_own_material,
    find_material,
    list_other_names,
    load_material_shelf,
)
from pipeline.intake.order.error_messages import find_nearest_name
from pipeline.intake.order.shop_file import find_shop_file, find_user_home, read_shop


def list_materials(name: str | None, *, here: Path, as_json: bool, say: Callable[[str], object]) -> int:
    """List the shelf and the shop's own materials, or describe one in full.

    Lengths are mm. here: where the search for a shop file starts. CannotRun when there is no material of that name.
    """
    file = find_shop_file(here, find_user_home())
    shop = NO_SHOP if file is None else read_shop(file).config
    own = [build_own_material(part) for part in shop.material]
    every = [*own, *(m for key, m in load_material_shelf().items() if all(key != mine.name for mine in own))]
    if name is not None:
        found = find_material(name, shop)
        if not found.known:
            known = [*(m.name for m in every), *list_other_names()]
            raise CannotRun(
                Fault(
                    where=f"material “{name}”",
                    found="neither on the shelf nor in a shop file",
                    expected="a name from `plaques materials`, or a [[material]] of your own in shop.toml",
                    remedy=find_nearest_name(name, known),
                )
            )
        say(write_json_text(_build_document(found), indent=1) if as_json else _describe_material(found))
        return 0
    if as_json:
        say(write_json_text([_build_document(m) for m in every], indent=1))
        return 0
    rows = [["material", "bought as", "grain", "V-bit", "end mill", "point", "chip load", "floor"]]
    rows += [_list_cells(material) for material in every]
    widths = [max(len(row[n]) for row in rows) for n in range(len(rows[0]))]
    for row in rows:
        cells = [c.ljust(w) if n < 3 else c.rjust(w) for n, (c, w) in enumerate(zip(row, widths, strict=True))]
        say("  ".join(cells).rstrip())
    say(
        "\nV-bit, point: depth of a pass in mm; end mill: as a share of its diameter d; –: not cut with it.\n"
        "chip load: of an end mill. floor: least thickness left under a cut, mm. They are where a trial on an\n"
        "offcut starts. `plaques materials NAME` tells the rest, and where each figure comes from."
    )
    return 0


def _list_cells(material: Material) -> list[str]:
    passes = [_format_passes(material, kind) for kind in ("v-bit", "end-mill", "point")]
    chip = material.chip_load
    return [
        material.name,
        material.bought or "?",
        {True: "yes", False: "no", None: "?"}[material.grain],
        *passes,
        f"{chip[0]:g}–{chip[1]:g} d" if chip else "–",
        f"{material.floor:g}" if material.floor is not None else "?",
    ]


def _format_passes(material: Material, kind: str) -> str:
    value = material.passes.get(kind)
    if value is None:
        return "–" if material.passes else "?"
    return f"{value:g} d" if kind == "end-mill" else f"{value:g}"


def _build_document(material: Material) -> dict[str, Any]:
    """Return a material as plain values."""
    out: dict[str, Any] = {}
    for f in fields(material):
        value = getattr(material, f.name)
        if f.name == "look":
            value = None if value is None else {part.name: getattr(value, part.name) for part in fields(value)}
        elif f.name == "operations":
            value = sorted(value)
        elif f.name in ("passes", "movement", "sources"):
            value = dict(value)
        out[f.name] = value
    return out


def _describe_movement(material: Material) -> str:
    """Describe how much wood moves across the grain, by species."""
    if not material.movement:
        return ""
    return f"{', '.join(f'{s} {t:g}' for s, (_, t) in material.movement.items())} of the width per 1 % of moisture"


def _describe_material(material: Material) -> str:
    """Describe one material, one value with its source per line."""
    also = [word for word, name in list_other_names().items() if name == material.family and word != material.name]
    lines = [f"{material.name}" + (f" ({material.family})" if material.family not in ("", material.name) else "")]
    told = [
        ("bought", "bought as", material.bought or ""),
        ("operations", "work it takes", ", ".join(sorted(material.operations))),
        ("grain", "grain", {True: "yes", False: "none", None: ""}[material.grain]),
        ("passes", "depth of a pass", ", ".join(_describe_passes(material))),
        (
            "chip_load",
            "chip load",
            "{:g}–{:g} of the diameter".format(*material.chip_load) if material.chip_load else "",
        ),
        ("floor", "floor under a cut", f"{material.floor:g} mm" if material.floor is not None else ""),
        ("finish", "finish", material.finish),
        ("hazards", "hazards", ", ".join(material.hazards)),
        ("hazard", "caution", material.hazard),
        ("look", "on the proof", "light letters on a dark face" if material.look and material.look.is_dark else ""),
        ("movement", "movement", _describe_movement(material)),
        ("also", "also called", ", ".join(also)),
    ]
    for key, words, value in told:
        if value:
            lines += [_wrap(f"{words + ':':18} {value}"), _wrap(f"{'':18} ({material.describe_source(key)})")]
    return "\n".join(lines)


def _wrap(text: str) -> str:
    gap = " " * 21
    return textwrap.fill(text, 100, initial_indent="  ", subsequent_indent=gap, break_on_hyphens=False)


_PASS_WORDS = {"v-bit": "V-bit {:g} mm", "end-mill": "end mill {:g} of its diameter", "point": "point {:g} mm"}
"""How the depth of a pass is said for each kind of cutter."""


def _describe_passes(material: Material) -> list[str]:
    return [_PASS_WORDS[kind].format(value) for kind, value in material.passes.items() if value]
