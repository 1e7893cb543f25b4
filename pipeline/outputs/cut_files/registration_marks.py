"""Registration marks: places in the waste round the blank, cut on the front and again on the back, where they coincide
when the piece lies as it should after it was turned over."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import shapely

from pipeline.core.config.order import OrderFolder, RegistrationConfig
from pipeline.core.errors import CannotRun, Fault
from pipeline.core.model import Blank
from pipeline.geometry.curves import Chain
from pipeline.geometry.flatten import chain_box, flatten_chain

_FINE = 0.005  # mm, flattening of the edge while the room beside it is measured


def place_marks(folder: OrderFolder, blank: Blank) -> tuple[Chain, ...]:
    """The marks of an order as seen from the front, mm on the blank; none when it asks for none.

    Crosses are two open strokes each, holes circles. CannotRun when there is nothing to turn over for, or a mark is on
    the piece, beyond the sheet, or on another mark.
    """
    part = folder.order.files.registration
    if part is None:
        return ()
    where = f"{folder.file}: [files] registration"
    if not any(line.side == "back" for line in folder.order.line):
        raise CannotRun(
            Fault(
                where=where,
                found="marks for turning the board over, but no line is on the back",
                expected='a [[line]] with side = "back", or no registration',
            )
        )
    faults = _list_faults(part, blank, where, folder)
    if faults:
        raise CannotRun(faults)
    return tuple(chain for at in part.at for chain in draw_mark(part, at))


def _list_faults(part: RegistrationConfig, blank: Blank, where: str, folder: OrderFolder) -> list[Fault]:
    said = folder.order.unit.show
    piece = shapely.Polygon(flatten_chain(blank.edge, _FINE))
    radius = part.size / 2
    faults = []
    for number, (x, y) in enumerate(part.at, 1):
        here = f"{where}.at no. {number}"
        off = float(piece.distance(shapely.Point(x, y)))
        if off <= radius:
            found = "it lies on the piece" if off == 0 else f"its middle is {said(off)} from the edge"
            faults.append(
                Fault(where=here, found=found, expected=f"a mark outside the edge, more than {said(radius)} from it")
            )
        beyond = radius - part.sheet - min(0.0, x, y, blank.width - x, blank.height - y)
        if beyond > 1e-9:
            faults.append(
                Fault(
                    where=here,
                    found=f"it reaches {said(beyond)} beyond the sheet",
                    expected=f"a place inside the sheet, which goes {said(part.sheet)} beyond the blank on every side",
                )
            )
    for (i, a), (k, b) in combinations(enumerate(part.at, 1), 2):
        if math.dist(a, b) <= part.size:
            faults.append(
                Fault(
                    where=f"{where}.at",
                    found=f"marks no. {i} and {k} touch",
                    expected="places well apart from each other",
                )
            )
    return faults


def draw_mark(part: RegistrationConfig, at: tuple[float, float]) -> list[Chain]:
    """One mark with its middle at this place, mm."""
    (x, y), r = at, part.size / 2
    if part.mark == "hole":
        return [Chain(np.array([[x - r, y, 1.0], [x + r, y, 1.0]]), True)]
    level, upright = [[x - r, y, 0.0], [x + r, y, 0.0]], [[x, y - r, 0.0], [x, y + r, 0.0]]
    return [Chain(np.array(level), False), Chain(np.array(upright), False)]


def measure_extent(marks: tuple[Chain, ...], blank: Blank) -> tuple[float, float, float, float]:
    """x0, y0, x1, y1 of everything drawn, mm: the blank and the marks round it."""
    boxes = np.array([box for box in map(chain_box, marks) if box] + [(0.0, 0.0, blank.width, blank.height)])
    x0, y0 = boxes[:, :2].min(axis=0).tolist()
    x1, y1 = boxes[:, 2:].max(axis=0).tolist()
    return x0, y0, x1, y1
