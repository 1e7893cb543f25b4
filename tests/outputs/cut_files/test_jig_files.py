"""Drawings of jig loads: every signed piece in its place at the pitch, read by an independent reader."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import ezdxf
import pytest
import shapely

from pipeline.core import catalogue
from pipeline.core.config.order import FilesConfig
from pipeline.core.config.order_edits import apply_edits
from pipeline.core.config.shop_tables import BoardConfig, BoardSize, JigConfig, RatesConfig, SpareConfig, StockConfig
from pipeline.core.errors import CannotRun
from pipeline.core.units import Units
from pipeline.geometry.regions import build_chain_polygon
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.dxf.template import COLOURS
from pipeline.outputs.cut_files.file_contents import mirror_chain
from pipeline.outputs.cut_files.jig_files import JigFiles
from pipeline.outputs.cut_files.joint_drawings import WrittenDrawings
from pipeline.outputs.shop_sheet.shop_sheet import write_sheet
from pipeline.shopfloor.jig_layout import JigLayout, list_jig_places, plan_jigs, put_in_place
from pipeline.shopfloor.shop_plan import plan_shop
from tests.builders import KEPT, folder, lettered_behind, outcome
from tests.outputs.cut_files.test_board_files import polygons
from tests.outputs.shop_sheet.test_shop_sheet import text_of

JIG = JigConfig(columns=2, rows=2, across=160.0, up=190.0, first=(10.0, 20.0), size=(360.0, 420.0), unsigned=True)
COARSE = FilesConfig(tolerance=0.05)
"""Where letters lie does not depend on how finely they are drawn; coarse ones are quicker."""


def written(
    target: Path, signed: dict[int, int] | None = None, plaques: Any = None, **tables: Any
) -> tuple[WrittenDrawings, Any, Any]:
    order, run = folder(**{"jig": JIG, "files": COARSE, **tables}), outcome(plaques)
    plan, said = plan_shop(order, run.blank, run.plaques, signed, cache=KEPT)
    files = CutFiles(order, run.blank, target, "0.1.0", KEPT)
    return JigFiles(run, plan, target, files).write(), plan, said


def drawings(target: Path) -> list[str]:
    return sorted(f.name for f in (target / "jigs").glob("*.dxf"))


def test_places_are_at_the_pitch_from_the_zero_point() -> None:
    """By hand: place 4 of 3 columns is the first of the second row; 10 + 0 × 40 and 20 + 1 × 30."""
    places = list(list_jig_places(JigConfig(columns=3, rows=2, across=40.0, up=30.0, first=(10.0, 20.0))))
    assert [(p.x, p.y) for p in places] == [(10, 20), (50, 20), (90, 20), (10, 50), (50, 50), (90, 50)]
    assert [(p.column, p.row) for p in places[2:4]] == [(3, 1), (1, 2)]


@pytest.mark.parametrize("turn", [90, 180])
def test_every_piece_lies_in_its_place(tmp_path: Path, turn: Any) -> None:
    jig = JIG.model_copy(update={"turn": turn, "across": 195.0, "up": 195.0})
    done, plan, said = written(tmp_path, jig=jig)
    assert not [f for f in said if f.code.startswith("jig.")] and done.said == ()
    assert done.names == ("jigs/load-1.dxf", "jigs/load-2.dxf") and plan.pieces == 7
    for name, load in zip(done.names, plan.jigs.loads, strict=True):
        doc = ezdxf.readfile(tmp_path / name)
        assert not doc.audit().errors and doc.header["$INSUNITS"] == 4
        space = doc.modelspace()
        assert "EDGE" not in {e.dxf.layer for e in space}  # the blanks are already cut out
        blanks, letters = polygons(space, "BLANK"), polygons(space, "ENGRAVE")
        corners = sorted((b.bounds[0], b.bounds[1]) for b in blanks)
        meant = sorted((p.place.x, p.place.y) for p in load.pieces)
        assert all(at == pytest.approx(due, abs=1e-4) for at, due in zip(corners, meant, strict=True))
        assert all(b.disjoint(c) for i, b in enumerate(blanks) for c in blanks[:i])
        assert letters and all(sum(b.contains(x) for b in blanks) == 1 for x in letters)
        (jig_edge,) = polygons(space, "JIG")
        assert jig_edge.bounds == pytest.approx((0, 0, 360, 420))
        crossed = [tuple(round(v, 6) for p in e.get_points("xy") for v in p) for e in space if e.dxf.layer == "DATUM"]
        assert sorted(crossed) == [(-5, 0, 5, 0), (0, -5, 0, 5)]
        assert all(doc.layers.get(n).dxf.plot == 0 for n in ("BLANK", "JIG", "DATUM"))


def test_lettering_is_placed_in_the_blank_as_in_the_plaque_s_own_file(tmp_path: Path) -> None:
    _, plan, _ = written(tmp_path, files=FilesConfig())
    held = plan.jigs.loads[0].pieces[3]
    order, run = folder(jig=JIG), outcome()
    files = CutFiles(order, run.blank, tmp_path / "own", "0.1.0", KEPT)
    own = next(p for p in run.plaques if p.recipient.row == held.piece.row)
    (name, *_) = files.write(own)
    alone = polygons(ezdxf.readfile(tmp_path / "own" / name).modelspace(), "ENGRAVE")
    x0 = polygons(ezdxf.readfile(tmp_path / "own" / name).modelspace(), "EDGE")[0].bounds[0]
    space = ezdxf.readfile(tmp_path / "jigs/load-1.dxf").modelspace()
    blank = max(polygons(space, "BLANK"), key=lambda b: b.bounds[0] + b.bounds[1])
    there = [x for x in polygons(space, "ENGRAVE") if blank.contains(x)]
    meant = shapely.union_all([shapely.affinity.translate(x, held.place.x - x0, held.place.y) for x in alone])
    assert shapely.symmetric_difference(shapely.union_all(there), meant).area < 1e-3


def test_only_signed_pieces_unless_asked(tmp_path: Path) -> None:
    part = JIG.model_copy(update={"unsigned": False})
    done = written(tmp_path, jig=part)[0]
    assert done.names == () and done.said[0].startswith("No jig loads yet")
    done, plan, _ = written(tmp_path, {7: 1}, jig=part)
    assert done.names == ("jigs/load-1.dxf",)
    assert done.said[0].startswith("Jig loads: of 7 pieces, 6 are not signed off, and their places stay empty")
    first = plan.jigs.loads[0].pieces[0].piece
    assert (first.row, first.copy, first.signed) == (7, 1, True)
    head = (tmp_path / done.names[0]).read_text()
    assert re.findall(r"place (\d) at \S+ \S+ turned 0: (?:row (\d+)|(empty))", head) == [
        ("1", "7", ""), ("2", "", "empty"), ("3", "", "empty"), ("4", "", "empty"),
    ]  # fmt: skip
    assert first.name in head and len(polygons(ezdxf.readfile(tmp_path / done.names[0]).modelspace(), "BLANK")) == 1
    assert written(tmp_path, jig=part)[0].names == () and drawings(tmp_path) == []


def test_backs_are_in_the_same_places_turned_over(tmp_path: Path) -> None:
    done, plan, said = written(tmp_path, plaques=lettered_behind())
    assert done.backs == len(done.names) - len(plan.jigs.loads) > 0
    (differs,) = [f for f in said if f.code == "jig.back-differs"]  # the blank has one slanted side
    # by hand: the slanted side and its mirror image are farthest apart at the top corner, 180 tan 10° = 31.7 mm wide,
    # seen from there at right angles to the side: 31.7 cos 10° = 31.3
    assert differs.measured == pytest.approx(31.26, abs=0.02)
    front, back = (ezdxf.readfile(tmp_path / f"jigs/load-1{end}.dxf").modelspace() for end in ("", "-back"))
    for seen, over in zip(polygons(front, "BLANK"), polygons(back, "BLANK"), strict=False):
        x0, _, x1, _ = seen.bounds
        mirrored = shapely.affinity.translate(shapely.affinity.scale(seen, -1, 1, origin=(0, 0)), x0 + x1, 0)
        assert shapely.symmetric_difference(mirrored, over).area < 1e-3


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_backs_are_turned_about_the_pieces_own_upright_line(turn: int) -> None:
    """However the blanks lie: at 90 and 270 degrees that line runs across the jig, so that up and down are swapped.
    The shift of its outline is the same at every rotation."""
    blank = outcome().blank
    part = JIG.model_copy(update={"turn": turn, "across": 220.0, "up": 220.0, "size": None})
    layout, said = plan_jigs(blank, part, (), units=Units(), back=True)
    (differs,) = [f for f in said if f.code == "jig.back-differs"]
    assert differs.measured == pytest.approx(31.26, abs=0.02)
    ways = (1, -1) if turn in (90, 270) else (-1, 1)
    lain = []
    for edge in (blank.edge, mirror_chain(blank.edge, blank.width)):
        angle, dx, dy = put_in_place(edge, layout.places[0], turn)
        lain.append(build_chain_polygon(edge.transform(turn=angle, dx=dx, dy=dy), 0.01))
    seen, over = lain
    turned = shapely.affinity.scale(seen, *ways, origin=shapely.box(*seen.bounds).centroid)
    assert shapely.symmetric_difference(turned, over).area < 1e-3


@pytest.mark.parametrize(("across", "up"), [(140.0, 190.0), (160.0, 170.0)])
def test_places_that_overlap_stop_the_loads_and_the_advice_is_right(tmp_path: Path, across: float, up: float) -> None:
    jig = JIG.model_copy(update={"across": across, "up": up})
    done, plan, said = written(tmp_path, jig=jig)
    (found,) = [f for f in said if f.code == "jig.places-overlap"]
    assert plan.jigs is None and done.names == ()
    order, run = folder(jig=jig, files=COARSE), outcome()
    mended = apply_edits(order.order, found.ways[0].edits)
    again = order.model_copy(update={"order": mended})
    assert not [f for f in plan_shop(again, run.blank, run.plaques, cache=KEPT)[1] if f.code.startswith("jig.")]
    assert "into [jig]" in catalogue.format_remedy(found, order.order.unit)


def test_blanks_that_nest_by_their_slanted_sides_do_not_overlap(tmp_path: Path) -> None:
    """Outlines count, not bounding boxes: two slanted sides may be closer than the blanks are wide."""
    jig = JIG.model_copy(update={"columns": 2, "rows": 1, "across": 151.0})
    assert not [f for f in written(tmp_path, jig=jig)[2] if f.code == "jig.places-overlap"]


def test_a_place_beyond_the_machines_travel_stops_the_loads(tmp_path: Path) -> None:
    jig = JIG.model_copy(update={"bed": (320.0, 391.0)})  # 10 + 160 + 150 and 20 + 190 + 180: the last bit too low
    assert not [f for f in written(tmp_path, jig=jig.model_copy(update={"bed": (320.0, 390.0)}))[2] if "jig" in f.code]
    done, plan, said = written(tmp_path, jig=jig.model_copy(update={"bed": (319.0, 391.0)}))
    (found,) = [f for f in said if f.code == "jig.outside-bed"]
    assert (found.measured, plan.jigs, done.names) == (2.0, None, ())
    left = jig.model_copy(update={"first": (-1.0, 20.0), "bed": (400.0, 400.0)})
    assert [f.measured for f in written(tmp_path, jig=left)[2] if f.code == "jig.outside-bed"] == [2.0]


def test_a_board_and_a_jig_or_a_missing_pitch_cannot_be_planned() -> None:
    run = outcome()
    with pytest.raises(CannotRun, match="has a \\[board\\] too"):
        plan_shop(folder(jig=JIG, board=BoardConfig(size=(BoardSize(length=700, width=190),))), run.blank, run.plaques)
    with pytest.raises(CannotRun, match="columns = 2 needs it"):
        plan_shop(folder(jig=JigConfig(columns=2)), run.blank, run.plaques)
    with pytest.raises(CannotRun, match="1000000 places"):
        plan_shop(folder(jig=JigConfig(columns=1000, rows=1000, across=1.0, up=1.0)), run.blank, run.plaques)


def test_the_estimate_counts_the_loads() -> None:
    """Seven pieces in a jig of four: two loads."""
    run = outcome()
    for jig, loading in ((JIG, 8.0), (JIG.model_copy(update={"loading": 2.5}), 2.5)):
        plan, _ = plan_shop(folder(jig=jig, rates=RatesConfig(fixing=8.0)), run.blank, run.plaques, cache=KEPT)
        items = {i.name: i.minutes for i in plan.estimate.items}
        assert items["fixing the jig and zeroing it"] == 8.0 and items["loading the jig"] == 2 * loading
        assert "fixing and zeroing" not in items


def test_the_shop_sheet_lists_the_piece_in_each_place(tmp_path: Path) -> None:
    order, run = folder(jig=JIG, spare=SpareConfig(blanks=2, test_piece=True)), outcome()
    plan, _ = plan_shop(order, run.blank, run.plaques, {7: 1}, cache=KEPT)
    text = text_of(write_sheet(run, order, plan)[0])
    assert "2 loads" in text or "Loads 2, the last with 3" in text
    assert "9: 7 + 2 spare, and an offcut for the test piece" in text and "Test piece" in text
    assert "160 mm across, 190 mm up" in text
    for load in plan.jigs.loads:
        assert all(held.piece.name in text for held in load.pieces)
    assert text.count("not signed") == 6


def test_inches_and_equal_bytes(tmp_path: Path) -> None:
    done = written(tmp_path / "a", units="in")[0]
    doc = ezdxf.readfile(tmp_path / "a" / done.names[0])
    assert doc.header["$INSUNITS"] == 1
    assert polygons(doc.modelspace(), "JIG")[0].bounds == pytest.approx((0, 0, 360 / 25.4, 420 / 25.4), abs=1e-6)
    written(tmp_path / "b", units="in")
    assert all(
        (tmp_path / "a" / "jigs" / n).read_bytes() == (tmp_path / "b" / "jigs" / n).read_bytes()
        for n in drawings(tmp_path / "a")
    )


@pytest.mark.parametrize("version", ["R12", "R2018"])
def test_every_version_of_the_format(tmp_path: Path, version: Any) -> None:
    done = written(tmp_path, plaques=lettered_behind(), files=FilesConfig(version=version))[0]
    assert done.names[0] == ("jigs/load-1-mm.dxf" if version == "R12" else "jigs/load-1.dxf")
    doc = ezdxf.readfile(tmp_path / done.names[0])
    assert not doc.audit().errors
    assert all(abs(doc.layers.get(n).dxf.color) == COLOURS[n] for n in ("BLANK", "JIG", "ENGRAVE"))


def test_a_single_place_needs_no_pitch(tmp_path: Path) -> None:
    done, plan, said = written(tmp_path, jig=JigConfig(columns=1, unsigned=True))
    assert len(done.names) == plan.pieces == 7 and not [f for f in said if "jig" in f.code]
    assert isinstance(plan.jigs, JigLayout)


def test_roughing_passes_have_their_own_layer(tmp_path: Path) -> None:
    """Brass takes 0.2 mm per pass of a V-bit: deeper grooves are roughed at 0.2, 0.4 …, never deeper than the groove
    there, in every piece of the load as in its own file."""
    parts = {"stock": StockConfig(material="brass"), "files": FilesConfig(grooves=True, tolerance=0.05)}
    done = written(tmp_path, **parts)[0]
    space = ezdxf.readfile(tmp_path / done.names[0]).modelspace()
    by_layer: dict[str, list[list[Any]]] = {"ROUGH": [], "GROOVE": []}
    for e in space:
        if e.dxf.layer in by_layer:
            by_layer[e.dxf.layer].append([v.dxf.location for v in e.vertices])
    deepest = -min(p.z for line in by_layer["GROOVE"] for p in line)
    assert deepest > 0.6
    levels = sorted({round(-line[0].z, 6) for line in by_layer["ROUGH"]})
    assert levels == [round(0.2 * k, 6) for k in range(1, len(levels) + 1)]
    assert levels[-1] < deepest <= levels[-1] + 0.2
    tree = shapely.STRtree([shapely.LineString([(p.x, p.y) for p in line]) for line in by_layer["GROOVE"] if line[1:]])
    for line in by_layer["ROUGH"]:
        assert len({round(p.z, 9) for p in line}) == 1
        assert tree.query_nearest(shapely.Point(line[0].x, line[0].y), return_distance=True)[1][0] < 1e-4
    order, run = folder(**parts, jig=JIG), outcome()
    plain, _ = plan_shop(folder(jig=JIG, files=parts["files"]), run.blank, run.plaques, cache=KEPT)
    rough, _ = plan_shop(order, run.blank, run.plaques, cache=KEPT)
    minutes = [next(i.minutes for i in p.estimate.items if i.name == "lettering") for p in (plain, rough)]
    assert minutes[1] > 1.5 * minutes[0]  # several passes take longer
