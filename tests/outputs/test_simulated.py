"""The simulated cut of whole orders: the files of every sample, read back and swept; and a wrong file is seen."""

from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.core.units import MM_PER_INCH
from pipeline.cutting.cutters import shelf
from pipeline.outputs.read_back import read_back
from pipeline.outputs.simulated import Simulated
from pipeline.run import run_order

SAMPLES = Path(__file__).resolve().parent.parent.parent / "sample_orders"


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(p.parent.name for p in SAMPLES.glob("*/order.toml")))
def test_simulated_cut_of_every_sample_order(name, tmp_path):
    """Nothing is cut farther outside the artwork than the files' tolerance and the groove's together, and nothing the
    cutter fits in is missed by more than .02 mm."""
    done = run_order(SAMPLES / name, out=tmp_path, prove=True)
    proved = [dict(p.proved) for p in done.outcome.plaques if p.cut_file]
    assert proved
    for figures in proved:
        assert figures["overcut"] < 0.02
        assert figures["undercut"] < 0.02
    report = next(p for p in done.report["plaques"] if p["cut_file"])
    assert {"overcut", "undercut", "uncut_area"} <= report["proved"].keys()


def test_a_plaque_drawn_elsewhere_is_seen(tmp_path):
    """The same file against artwork 0.05 mm aside."""
    order = SAMPLES / "bench-plates"
    done = run_order(order, out=tmp_path)
    plaque = next(p for p in done.outcome.plaques if p.cut_file)
    seen = Simulated(shelf()["point"], tolerance=0.01, mm=1.0, layer="ENGRAVE", target=tmp_path)
    contours = read_back(tmp_path / plaque.cut_file).contours
    assert seen.cut(plaque, "front", contours).overcut < 0.02
    rows = tuple(
        replace(row, pieces=tuple(replace(p, x=p.x + 0.05) for p in row.pieces)) for row in plaque.artwork.lines[0].rows
    )
    line = replace(plaque.artwork.lines[0], rows=rows)
    moved = replace(plaque, artwork=replace(plaque.artwork, lines=(line, *plaque.artwork.lines[1:])))
    assert seen.cut(moved, "front", contours).overcut == pytest.approx(0.05, abs=0.02)
    inches = Simulated(shelf()["point"], tolerance=0.01, mm=MM_PER_INCH, layer="ENGRAVE", target=tmp_path)
    assert inches.cut(plaque, "front", contours).overcut > 1
    assert seen.of(replace(plaque, cut_file="", proved=())).proved == ()
