"""Drawings of whole boards: every signed plaque in place, by operation, read by an independent reader."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf import path as dxf_path

from pipeline.core.config.order import FilesConfig, LineConfig, RegistrationConfig
from pipeline.core.config.shop_tables import (
    BoardConfig,
    BoardDefect,
    BoardSize,
    EndMillConfig,
    PocketConfig,
    StockConfig,
)
from pipeline.core.errors import CannotRun
from pipeline.outputs.cut_files.board_files import BoardFiles
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.dxf.template import COLOURS
from pipeline.outputs.cut_files.file_contents import PlacedContours
from pipeline.outputs.cut_files.joint_drawings import WrittenDrawings, place_groove, place_piece
from pipeline.shopfloor.shop_plan import plan_shop
from tests.builders import KEPT, folder, lettered_behind, outcome, plaque

BOARD = BoardConfig(size=(BoardSize(length=700.0, width=190.0),), unsigned=True)
COARSE = FilesConfig(tolerance=0.05)
"""Where letters lie does not depend on how finely they are drawn; coarse ones are quicker."""


def written(
    target: Path, signed: dict[int, int] | None = None, plaques: Any = None, **tables: Any
) -> tuple[WrittenDrawings, Any, Any]:
    order, run = folder(**{"board": BOARD, "files": COARSE, **tables}), outcome(plaques)
    plan, _ = plan_shop(order, run.blank, run.plaques, signed, cache=KEPT)
    files = CutFiles(order, run.blank, target, "0.1.0", KEPT)
    return BoardFiles(run, plan, target, files).write(), plan, run


def drawings(target: Path) -> list[str]:
    return sorted(f.name for f in (target / "boards").glob("*.dxf"))


def polygons(space: Any, layer: str) -> list[shapely.Polygon]:
    return [
        shapely.Polygon([(p.x, p.y) for p in dxf_path.make_path(e).flattening(0.01)])
        for e in space
        if e.dxf.layer == layer
    ]


def test_every_plaque_lies_in_its_place(tmp_path: Path) -> None:
    done, plan, run = written(tmp_path, pocket=PocketConfig(depth=14.0, fine=EndMillConfig(use="endmill-3")))
    names = done.names
    assert done.said == () and names == ("boards/board-1.dxf", "boards/board-2.dxf", "boards/board-3.dxf")
    going = [p for p in run.plaques if p.state != "stopped"]
    contours = {p.recipient.row: sum(len(x.shape.outline) for x in p.artwork.list_pieces("front")) for p in going}
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
    """Distances don't change: the plaque's own outlines have the same areas, and the same place within the edge."""
    _, plan, run = written(tmp_path, plaques=(plaque(5, "Ada Kittiwake"),), files=FilesConfig())
    space = ezdxf.readfile(tmp_path / "boards/board-1.dxf").modelspace()
    place = plan.boards.boards[0].places[0]
    own = next(p for p in run.plaques if p.recipient.row == place.piece.row)
    edge = polygons(space, "EDGE")[0]
    inside = [x for x in polygons(space, "ENGRAVE") if edge.contains(x)]
    from pipeline.geometry.flatten import path_area

    meant = sorted(abs(path_area(c)) for piece in own.artwork.list_pieces() for c in piece.build_outline())
    assert sorted(x.area for x in inside) == pytest.approx(meant, rel=0.02, abs=0.02)
    # rotated by 90°: y up on the blank points left on the board, the foot is on the right
    assert place.slot.turn == 90
    low = min(float(np.min(piece.build_outline()[0].points[:, 1])) for piece in own.artwork.list_pieces())
    assert edge.bounds[2] - max(x.bounds[2] for x in inside) == pytest.approx(low, abs=1.0)


def test_only_signed_pieces_unless_asked(tmp_path: Path) -> None:
    part = BoardConfig(size=BOARD.size)
    done = written(tmp_path, board=part)[0]
    assert done.names == () and done.said[0].startswith("No board drawings yet")
    done, plan, _ = written(tmp_path, {7: 1}, board=part)
    assert len(done.names) == 1 and done.said[0].startswith("Boards: of 7 pieces, 6 are not signed off")
    first, second = (p.piece for p in plan.boards.boards[0].places[:2])
    assert (first.row, first.copy, first.signed) == (7, 1, True)  # signed pieces are together, on the first boards
    assert not second.signed  # one piece of two is signed, so only that one
    assert len(polygons(ezdxf.readfile(tmp_path / done.names[0]).modelspace(), "EDGE")) == 1
    assert written(tmp_path, board=part)[0].names == () and drawings(tmp_path) == []


def test_inches_and_bytes(tmp_path: Path) -> None:
    one = (plaque(5, "Ada"),)
    done, *_ = written(tmp_path, plaques=one, units="in")
    doc = ezdxf.readfile(tmp_path / done.names[0])
    assert doc.header["$INSUNITS"] == 1
    (board,) = polygons(doc.modelspace(), "BOARD")
    assert board.bounds == pytest.approx((0, 0, 700 / 25.4, 190 / 25.4), abs=1e-5)
    before = (tmp_path / done.names[0]).read_bytes()
    written(tmp_path, plaques=one, units="in")
    assert (tmp_path / done.names[0]).read_bytes() == before


def test_another_orders_boards_are_left_alone(tmp_path: Path) -> None:
    written(tmp_path)
    with pytest.raises(CannotRun, match="another order"):
        written(tmp_path, title="Another order")


@pytest.mark.parametrize("grain", ["upright", "across"])
def test_backs_lie_exactly_behind_the_fronts(tmp_path: Path, grain: Any) -> None:
    """Turned over about the left end, x becomes −x. Each blank's own outline is then the mirror image of the
    front's, and every letter of the back is inside it, at its own place on the back."""
    part = BOARD.model_copy(update={"grain": grain, "size": (BoardSize(length=900.0, width=190.0),)})
    done, _, run = written(tmp_path, plaques=lettered_behind(), board=part)
    assert done.names == ("boards/board-1.dxf", "boards/board-1-back.dxf") and done.backs == 1
    front, back = (ezdxf.readfile(tmp_path / n).modelspace() for n in done.names)
    board, *edges = sorted(polygons(back, "BOARD"), key=lambda p: -p.area)
    assert board.bounds == pytest.approx((-900, 0, 0, 190), abs=1e-5) and len(edges) == 4
    assert not polygons(back, "EDGE") and not polygons(back, "POCKET")
    for edge in polygons(front, "EDGE"):
        over = shapely.transform(edge, lambda p: p * (-1, 1))
        assert any(over.symmetric_difference(e).area < 1e-3 for e in edges)
    letters = polygons(back, "ENGRAVE")
    art = run.plaques[0].artwork.list_pieces("back")
    assert len(letters) == 4 * sum(len(p.shape.outline) for p in art)
    # by hand: seen from the back, the foot is 150 wide from x = 0, and a letter is as far from the foot and its ends as
    # in the artwork
    x0 = min(float(p.points[:, 0].min()) for piece in art for p in piece.build_outline())
    y0 = min(float(p.points[:, 1].min()) for piece in art for p in piece.build_outline())
    for edge in edges:
        corner, along, up = _sharp_corner(edge)
        own = shapely.get_coordinates([x for x in letters if edge.contains(x)]) - corner
        assert float((own @ along).min()) == pytest.approx(x0, abs=0.05)
        assert float((own @ up).min()) == pytest.approx(y0, abs=0.05)


def _sharp_corner(edge: shapely.Polygon) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the corner of 80°, which is the left end of the foot seen from the back, with the directions along the
    foot (the side of 150) and up from it."""
    ring = shapely.get_coordinates(edge)[:-1]
    for k in range(4):
        a, b, before = ring[k], ring[(k + 1) % 4], ring[k - 1]
        for here, there, other in ((a, b, before), (b, a, ring[(k + 2) % 4])):
            slanted = math.hypot(*(other - here)) == pytest.approx(180 / math.cos(math.radians(10)), abs=1e-3)
            if math.hypot(*(there - here)) == pytest.approx(150, abs=1e-3) and slanted:
                along = (there - here) / 150
                return here, along, np.array([-along[1], along[0]])
    raise AssertionError("no foot with a slanted side")


def test_a_back_that_is_sawn_off_gets_no_drawing(tmp_path: Path) -> None:
    stock = StockConfig(sawn_off=6.0)
    done, *_ = written(tmp_path, plaques=lettered_behind(), stock=stock)
    assert done.backs == 0 and "No board drawings of the back" in done.said[0]


def test_marks_meet_when_the_board_is_turned_over(tmp_path: Path) -> None:
    """One in the middle of each clamp zone, cut from both sides at the same two places of the board."""
    marks = RegistrationConfig(at=((-10.0, 20.0), (-10.0, 150.0)), sheet=15.0, mark="hole", size=5.0)
    behind = LineConfig(text="Made by hand", face="eb-garamond", cap_height=3.0, side="back")
    asked = {"files": FilesConfig(registration=marks), "line": (*folder().order.line, behind)}
    done, *_ = written(tmp_path, plaques=lettered_behind(), **asked)
    front, back = (ezdxf.readfile(tmp_path / n).modelspace() for n in (done.names[0], done.names[-1]))
    middles = [[(p.centroid.x, p.centroid.y) for p in polygons(s, "REGISTRATION")] for s in (front, back)]
    assert sorted(middles[0]) == [pytest.approx((12.5, 95), abs=1e-3), pytest.approx((687.5, 95), abs=1e-3)]
    assert sorted((-x, y) for x, y in middles[1]) == [pytest.approx(m, abs=1e-3) for m in sorted(middles[0])]
    narrow = BOARD.model_copy(update={"clamp": 4.0})
    done, *_ = written(tmp_path, plaques=lettered_behind()[:1], board=narrow, **asked)
    assert any("No registration marks" in s for s in done.said)


def test_the_grooves_of_a_plaque_are_included(tmp_path: Path) -> None:
    """As many 3-D lines as in its own file, each inside the edge of its piece and equally deep."""
    one = (plaque(5, "Ida", post="", season="", stem="NotoSans", copies=2),)
    done, _, run = written(tmp_path, plaques=one, files=FilesConfig(grooves=True))
    space = ezdxf.readfile(tmp_path / done.names[0]).modelspace()
    lines = [np.array([v.dxf.location for v in e.vertices]) for e in space if e.dxf.layer == "GROOVE"]
    files = CutFiles(folder(board=BOARD, files=FilesConfig(grooves=True)), run.blank, tmp_path, "0.1.0", KEPT)
    own = files.plan_file(run.plaques[0], "front").grooves
    assert len(lines) == 2 * len(own) > 10
    assert min(float(g[:, 2].min()) for g in lines) == pytest.approx(min(float(g[:, 2].min()) for g in own), abs=1e-5)
    edges, letters = polygons(space, "EDGE"), shapely.union_all([x.buffer(0) for x in polygons(space, "ENGRAVE")])
    for line in lines:
        assert any(e.contains(shapely.MultiPoint(line[:, :2])) for e in edges)
        assert letters.distance(shapely.Point(line[len(line) // 2, :2])) < 0.02


def test_grooves_lie_on_their_letters(tmp_path: Path) -> None:
    """A groove's line is rotated and shifted like the outline it belongs to."""
    line = np.array([[10.0, 20.0, -0.1], [12.0, 25.0, -0.4]])
    by = (math.pi / 2, 100.0, 50.0)  # by hand: (x, y) goes to (100 − y, 50 + x)
    assert place_groove(line, by) == pytest.approx(np.array([[80.0, 60.0, -0.1], [75.0, 62.0, -0.4]]))
    piece = place_piece(PlacedContours((), x=10.0, y=20.0, turn=0.1), by)
    assert (piece.x, piece.y, piece.turn) == pytest.approx((80.0, 60.0, 0.1 + math.pi / 2))


def test_knots_and_screws_are_where_the_order_has_them(tmp_path: Path) -> None:
    size = BoardSize(length=900.0, width=190.0, defects=(BoardDefect(at=(430.0, 60.0), diameter=20.0),))
    part = BOARD.model_copy(update={"size": (size,), "screws": (BoardDefect(at=(450.0, 180.0), diameter=8.0),)})
    done, *_ = written(tmp_path, board=part)
    space = ezdxf.readfile(tmp_path / done.names[0]).modelspace()
    (knot,), clamps = polygons(space, "KNOT"), polygons(space, "CLAMP")
    assert (knot.centroid.x, knot.centroid.y, knot.bounds[2] - knot.bounds[0]) == pytest.approx((430, 60, 20), abs=1e-3)
    assert len(clamps) == 3 and all(e.disjoint(knot) for e in polygons(space, "EDGE"))
    assert all(e.disjoint(c) for e in polygons(space, "EDGE") for c in clamps)


def test_a_drawing_that_differs_when_read_back_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    order, run = folder(board=BOARD), outcome()
    plan, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    files = BoardFiles(run, plan, tmp_path, CutFiles(order, run.blank, tmp_path, "0.1.0", KEPT))
    add = files.drawings.manifest.add

    def other(name: str, data: bytes) -> None:
        head, mark, entities = data.partition(b"ENTITIES")
        add(name, head + mark + entities.replace(b" 10\r\n1", b" 10\r\n2", 1))

    monkeypatch.setattr(files.drawings.manifest, "add", other)
    with pytest.raises(CannotRun, match="read back"):
        files.write()
    assert drawings(tmp_path) == []


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_every_version_of_the_format(tmp_path: Path, version: Any) -> None:
    done, plan, _ = written(tmp_path, plaques=lettered_behind()[:1], files=FilesConfig(version=version))
    assert done.names[0] == ("boards/board-1-mm.dxf" if version == "R12" else "boards/board-1.dxf")
    doc = ezdxf.readfile(tmp_path / done.names[0])
    assert not doc.audit().errors
    told = {layer.dxf.name: layer for layer in doc.layers}
    assert all(abs(told[n].dxf.color) == COLOURS[n] for n in ("EDGE", "ENGRAVE", "SAW", "DATUM", "BOARD"))
    edges = [e for e in doc.modelspace() if e.dxf.layer == "EDGE"]
    assert len(edges) == len(plan.boards.boards[0].places)
