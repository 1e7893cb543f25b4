"""Drawings of whole boards: every signed plaque in place, by operation, read by a reader that did not write them."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf import path as dxf_path

from pipeline.core.shop_order import BoardPart, BoardSize, EndMill, PocketPart
from pipeline.outputs.boards import write_boards
from pipeline.shopfloor.plan import plan_shop
from tests.builders import folder, outcome

BOARD = BoardPart(size=(BoardSize(length=700.0, width=190.0),), unsigned=True)


def written(target: Path, signed: tuple[str, ...] = (), **tables: Any) -> tuple[tuple[str, ...], Any, Any]:
    order, run = folder(**{"board": BOARD, **tables}), outcome()
    plan, _ = plan_shop(order, run.blank, run.plaques, signed)
    return write_boards(run, order, plan, target), plan, run


def polygons(space: Any, layer: str) -> list[shapely.Polygon]:
    return [
        shapely.Polygon([(p.x, p.y) for p in dxf_path.make_path(e).flattening(0.01)])
        for e in space
        if e.dxf.layer == layer
    ]


def test_every_plaque_lies_in_its_place(tmp_path: Path) -> None:
    names, plan, run = written(tmp_path, pocket=PocketPart(depth=14.0, fine=EndMill(use="endmill-3")))
    assert names == ("boards/board-1.dxf", "boards/board-2.dxf", "boards/board-3.dxf")
    going = [p for p in run.plaques if p.state != "stopped"]
    contours = {p.recipient.row: sum(len(x.shape.outline) for x in p.artwork.pieces("front")) for p in going}
    total = 0
    for name, board in zip(names, plan.boards.boards, strict=True):
        doc = ezdxf.readfile(tmp_path / name)
        assert not doc.audit().errors and doc.header["$INSUNITS"] == 4
        space = doc.modelspace()
        edges, pockets, letters = (polygons(space, n) for n in ("EDGE", "POCKET", "ENGRAVE"))
        assert len(edges) == len(pockets) == len(board.places)
        # section of the slanted blank by hand: (150 + 150 − 180 tan 10°) / 2 × 180
        area = (300 - 180 * math.tan(math.radians(10))) / 2 * 180
        assert [e.area for e in edges] == pytest.approx([area] * len(edges), rel=1e-6)
        field = shapely.box(25, 0, 675, 190)  # between the clamp zones
        assert all(field.covers(e) for e in edges)
        assert all(e.disjoint(f) for i, e in enumerate(edges) for f in edges[:i])
        assert all(sum(e.contains(x) for e in edges) == 1 for x in (*pockets, *letters))
        assert len(letters) == sum(contours[p.piece.row] for p in board.places)
        assert len(polygons(space, "REST")) == len(plan.pocket.rest.rings) * len(board.places)
        total += len(board.places)
        saws = [e for e in space if e.dxf.layer == "SAW"]
        assert len(saws) == sum(c.board == board.number for c in plan.boards.cuts)
    assert total == plan.pieces == sum(p.recipient.copies for p in going)


def test_lettering_is_that_of_the_plaque_turned_and_shifted(tmp_path: Path) -> None:
    """Distances do not change: the plaque's own outlines have the same areas, and the same place within the edge."""
    _, plan, run = written(tmp_path)
    space = ezdxf.readfile(tmp_path / "boards/board-1.dxf").modelspace()
    place = plan.boards.boards[0].places[0]
    own = next(p for p in run.plaques if p.recipient.row == place.piece.row)
    edge = polygons(space, "EDGE")[0]
    inside = [x for x in polygons(space, "ENGRAVE") if edge.contains(x)]
    from pipeline.geometry.flatten import path_area

    meant = sorted(abs(path_area(c)) for piece in own.artwork.pieces() for c in piece.outline())
    assert sorted(x.area for x in inside) == pytest.approx(meant, rel=0.02, abs=0.02)
    # turned by 90°: what was y up on the blank runs to the left on the board, its foot on the right
    assert place.slot.turn == 90
    low = min(float(np.min(piece.outline()[0].points[:, 1])) for piece in own.artwork.pieces())
    assert edge.bounds[2] - max(x.bounds[2] for x in inside) == pytest.approx(low, abs=1.0)


def test_only_what_is_signed_unless_asked(tmp_path: Path) -> None:
    part = BoardPart(size=BOARD.size)
    assert written(tmp_path, board=part)[0] == ()
    mark = outcome().plaques[1].fingerprint
    names, plan, _ = written(tmp_path, (mark,), board=part)
    assert len(names) == 1
    first = plan.boards.boards[0].places[0].piece
    assert first.fingerprint == mark and first.signed  # signed pieces lie together, on the first boards
    assert len(polygons(ezdxf.readfile(tmp_path / names[0]).modelspace(), "EDGE")) == 1
    assert written(tmp_path, board=part)[0] == () and not list((tmp_path / "boards").iterdir())


def test_inches_and_bytes(tmp_path: Path) -> None:
    order, run = folder(board=BOARD, units="in"), outcome()
    plan, _ = plan_shop(order, run.blank, run.plaques)
    (name, *_) = write_boards(run, order, plan, tmp_path)
    doc = ezdxf.readfile(tmp_path / name)
    assert doc.header["$INSUNITS"] == 1
    (board,) = polygons(doc.modelspace(), "BOARD")
    assert board.bounds == pytest.approx((0, 0, 700 / 25.4, 190 / 25.4), abs=1e-5)
    before = (tmp_path / name).read_bytes()
    write_boards(replace(run), order, plan, tmp_path)
    assert (tmp_path / name).read_bytes() == before


def test_another_process_writes_the_same_bytes(tmp_path: Path) -> None:
    """Sets of text come in another order in every process unless the seed of their hash is the same."""
    code = (
        "import hashlib, sys; from pathlib import Path; from tests.outputs.test_boards_dxf import written; "
        "t = Path(sys.argv[1]); n = written(t)[0][0]; print(hashlib.sha256((t / n).read_bytes()).hexdigest())"
    )
    seen = set()
    for seed in ("1", "2", "3"):
        made = subprocess.run(
            [sys.executable, "-c", code, str(tmp_path / seed)],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(Path(__file__).parents[2])},
            capture_output=True,
            text=True,
            check=True,
        )
        seen.add(made.stdout)
    assert len(seen) == 1
