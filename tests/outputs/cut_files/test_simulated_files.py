"""The simulated cut of files: plaques of every sample order, read back and simulated; and a wrong file is detected."""

from dataclasses import replace

import ezdxf
import numpy as np
import pytest

from pipeline.cli import main
from pipeline.core.config.order import CutterConfig, FilesConfig
from pipeline.cutting.cutters import resolve_cutter
from pipeline.geometry.offset import offset_outline
from pipeline.outputs.cut_files.cut_files import CutFiles
from pipeline.outputs.cut_files.dxf.dxf_reader import read_drawing
from pipeline.outputs.cut_files.simulated_files import SimulatedCutFiles
from tests import builders
from tests.long.swept_samples import sweep_sample


@pytest.mark.parametrize("name", ["bench-plates", "science-medals", "regatta-plaques"])
def test_sample_orders_are_cut_as_designed(name, tmp_path):
    """A point, a laser, and a V-bit with a client's drawing: the plaque with most characters. More of them, and of
    all sample orders: `python -m tests.long.swept_samples`."""
    found = sweep_sample(name, tmp_path, 1)
    assert len(found) == 1
    assert all(swept.sound for swept in found), found


@pytest.fixture(scope="module")
def ada():
    return builders.plaque(5, "Ada &", post="R", season="8", stem="NotoSans")


def simulated(target, plaque, **parts):
    """Write the plaque's files and simulate them."""
    folder = builders.folder(**parts)
    files = CutFiles(folder, builders.slanted_blank(), target, "0.1.0")
    assert not files.make(plaque).findings
    return SimulatedCutFiles(resolve_cutter(folder.order, 19.0)[0], files, target), target / files.list_names(plaque)[0]


def moved(plaque, by, line=0):
    rows = tuple(
        replace(row, pieces=tuple(replace(p, x=p.x + by) for p in row.pieces))
        for row in plaque.artwork.lines[line].rows
    )
    lines = list(plaque.artwork.lines)
    lines[line] = replace(lines[line], rows=rows)
    return replace(plaque, artwork=replace(plaque.artwork, lines=tuple(lines)))


PARTS = {
    "outlines": {},
    "grooves": {"files": FilesConfig(grooves=True)},
    "splines in inches": {"files": FilesConfig(curves="splines"), "units": "in"},
    "R12": {"files": FilesConfig(version="R12", grooves=True)},
    "laser": {"cutter": CutterConfig(use="laser")},
    "end mill": {"cutter": CutterConfig(kind="end-mill", diameter=0.3)},
}


@pytest.mark.parametrize("kind", PARTS)
def test_simulating_each_letter_once_equals_simulating_everything(tmp_path, ada, kind, monkeypatch):
    sweep, path = simulated(tmp_path, ada, **PARTS[kind])
    drawing = read_drawing(path.read_bytes())
    quick = sweep.simulate_side(ada, "front", drawing)
    monkeypatch.setattr(sweep.files, "matches", lambda *_: False)
    whole = sweep.simulate_side(ada, "front", drawing)
    assert quick.overcut == pytest.approx(whole.overcut, abs=2e-3) and quick.overcut < 0.012
    assert quick.undercut == pytest.approx(whole.undercut, abs=2e-3) and quick.undercut < 0.012
    assert quick.uncut == pytest.approx(whole.uncut, rel=0.05, abs=0.01)


@pytest.mark.parametrize("kind", ["outlines", "grooves"])
def test_a_shifted_plaque_is_detected(tmp_path, ada, kind):
    """The same file compared with artwork shifted by 0.05 mm."""
    sweep, path = simulated(tmp_path, ada, **PARTS[kind])
    drawing = read_drawing(path.read_bytes())
    assert sweep.simulate_side(ada, "front", drawing).overcut < 0.012
    for line in (0, 2):
        aside = sweep.simulate_side(moved(ada, 0.05, line), "front", drawing)
        assert aside.overcut == pytest.approx(0.05, abs=0.01)
        assert aside.overcut_at is not None
    assert sweep.simulate(replace(ada, cut_file="", proved=())).proved == ()


def test_the_grooves_of_the_file_are_simulated_and_not_its_outlines(tmp_path, ada):
    """One groove 0.1 mm deeper, and one removed: the result shows what the bit would leave."""
    sweep, path = simulated(tmp_path, ada, files=FilesConfig(grooves=True))
    drawing = ezdxf.readfile(path)
    lines = list(drawing.modelspace().query('POLYLINE[layer=="GROOVE"]'))
    longest = max(lines, key=len)
    for vertex in longest.vertices:
        vertex.dxf.location += (0, 0, -0.1)
    drawing.saveas(path)
    deep = sweep.simulate_side(ada, "front", read_drawing(path.read_bytes()))
    assert deep.overcut == pytest.approx(0.1 * np.tan(np.radians(30)), abs=0.005)
    drawing.modelspace().delete_entity(longest)
    drawing.saveas(path)
    missing = sweep.simulate_side(ada, "front", read_drawing(path.read_bytes()))
    assert missing.undercut > 0.2
    assert missing.overcut < 0.012


def test_grown_outlines_are_compared_with_the_exact_offset(tmp_path, ada):
    """A chain that is 0.02 mm too far out everywhere gives 0.02 mm of overcut, although the file matches the chain."""

    def grow(by, said):
        lines = tuple(
            replace(
                line,
                grown=tuple(
                    replace(offset_outline(p.shape.outline, by / p.scale, 0.01 / p.scale), by=said / p.scale)
                    for p in line.rows[0].pieces
                ),
            )
            for line in ada.artwork.lines
        )
        return replace(ada, artwork=replace(ada.artwork, lines=lines))

    for by, over in ((0.06, 0.005), (0.08, 0.022)):
        plaque = grow(by, 0.06)
        sweep, path = simulated(tmp_path / str(by), plaque)
        assert sweep.simulate_side(plaque, "front", read_drawing(path.read_bytes())).overcut == pytest.approx(
            over, abs=0.005
        )


def test_the_summary_names_the_worst_deviation(tmp_path, capsys):
    (tmp_path / "order.toml").write_text(
        'title = "Trial"\nlist = { file = "list.csv" }\n'
        'blank = { shape = "rectangle", width = 90.0, height = 40.0 }\nlimits = { stroke = 0.1 }\n'
        '[[line]]\ntext = "{name}"\nface = "noto-sans"\ncap_height = 8.0\n',
        encoding="utf-8",
    )
    (tmp_path / "list.csv").write_text("Name\nIll\nEva\n", encoding="utf-8")
    assert main(["run", str(tmp_path), "--prove"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Simulated cut, worst of all files: overcut 0.0" in told
    assert "mm² left in corners of one plaque (row 3)" in told
