"""Blanks read from drawings, kept between runs by the drawing's bytes and by what the order says about reading it."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import numpy as np

from pipeline.core.findings import Finding, Severity
from pipeline.core.form import SCALAR, Maybe, of_form
from pipeline.core.kept import Keeper
from pipeline.core.model import Blank
from pipeline.core.order import BlankPart
from pipeline.geometry.curves import Chain

Found = tuple[Blank, tuple[Finding, ...]]

CURVE_TOLERANCE = 0.001
"""mm. How far the arcs that stand for a drawing's splines and ellipses may lie from them."""

_SPACE = "blank"


class BlankStore:
    """What is kept of one drawing."""

    def __init__(self, keeper: Keeper, data: bytes) -> None:
        self._sha256 = hashlib.sha256(data).hexdigest()
        self._kept = keeper.open(f"blank-{self._sha256[:24]}")

    def get(self, name: str, part: BlankPart) -> Found | None:
        """The blank kept for this file name and this way of reading, or None."""
        return self._kept.get(_SPACE, self._key(name, part), _found)

    def put(self, name: str, part: BlankPart, found: Found) -> None:
        """Keep a blank; it reaches the disk when the keeper saves."""
        self._kept.put(_SPACE, self._key(name, part), _plain(found))

    def _key(self, name: str, part: BlankPart) -> str:
        """The whole hash, and everything of the order that the reading looks at."""
        layers = part.layers.model_dump()
        said = [self._sha256, name, layers, sorted(part.layers.model_fields_set), part.gap, part.drawing_units]
        return json.dumps(said, sort_keys=True)


def _plain(found: Found) -> dict[str, Any]:
    blank, findings = found
    return {
        "edge": _rows(blank.edge),
        "size": [blank.width, blank.height],
        "zones": [[name, _rows(zone)] for name, zone in blank.zones],
        "keep_outs": [_rows(c) for c in blank.keep_outs],
        "pockets": [_rows(c) for c in blank.pockets],
        "holes": [_rows(c) for c in blank.holes],
        "source": blank.source,
        "sha256": blank.sha256,
        "findings": [
            {
                "code": f.code,
                "severity": f.severity.value,
                "at": f.at,
                "measured": f.measured,
                "limit": f.limit,
                "unit": f.unit,
                "facts": f.facts,
            }
            for f in findings
        ],
    }


_CHAIN = [(float, float, float)]
_FINDING = {
    "code": str,
    "severity": str,
    "at": Maybe((float, float)),
    "measured": Maybe(float),
    "limit": Maybe(float),
    "unit": str,
    "facts": [(str, SCALAR)],
}
_FORM = {
    "edge": _CHAIN,
    "size": (float, float),
    "zones": [(str, _CHAIN)],
    "keep_outs": [_CHAIN],
    "pockets": [_CHAIN],
    "holes": [_CHAIN],
    "source": str,
    "sha256": str,
    "findings": [_FINDING],
}


def _found(value: Any) -> Found:
    of_form(value, _FORM)
    width, height = value["size"]
    blank = Blank(
        edge=_chain(value["edge"]),
        width=width,
        height=height,
        thickness=None,
        zones=tuple((name, _chain(rows)) for name, rows in value["zones"]),
        keep_outs=tuple(map(_chain, value["keep_outs"])),
        pockets=tuple(map(_chain, value["pockets"])),
        holes=tuple(map(_chain, value["holes"])),
        source=value["source"],
        sha256=value["sha256"],
    )
    findings = tuple(
        Finding(
            code=f["code"],
            severity=Severity(f["severity"]),
            at=None if f["at"] is None else (f["at"][0], f["at"][1]),
            measured=f["measured"],
            limit=f["limit"],
            unit=f["unit"],
            facts=tuple((name, fact) for name, fact in f["facts"]),
        )
        for f in value["findings"]
    )
    return blank, findings


def _rows(chain: Chain) -> list[list[float]]:
    rows: list[list[float]] = chain.vertices.tolist()
    return rows


def _chain(rows: list[list[float]]) -> Chain:
    if not rows:
        raise ValueError("a contour without vertices")
    return Chain(np.array(rows, dtype=float))
