"""The six small samples, one common design each: created by their script, and each ends as its about page says."""

import json
import re
import shutil
from pathlib import Path

import pytest
import shapely

from pipeline.commands.sample_designs import SAMPLE_DESIGNS
from pipeline.core.units import MM_PER_INCH
from pipeline.geometry.regions import build_polygon_from_outline
from pipeline.outputs.cut_files.dxf.dxf_reader import read_drawing
from pipeline.reference.report_page import find_unknown_fields
from pipeline.run import run_order
from tests.load_script import load_script
from tests.long.whole_samples import NAMES

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_orders"


MADE = load_script("make_samples/small_designs.py").files()
pytestmark = pytest.mark.xdist_group("small-designs")  # their letters are measured once


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """Run each of them once."""
    done = {}

    def run(name):
        if name not in done:
            folder = tmp_path_factory.mktemp("order") / name
            shutil.copytree(SAMPLES / name, folder, ignore=shutil.ignore_patterns("out", "signoff.sqlite*"))
            done[name] = folder, run_order(folder, workers=1)
        return done[name]

    return run


def plaques(runs, name):
    return {p["row"]: p for p in runs(name)[1].report["plaques"]}


def test_lists_and_drawings_are_what_the_script_makes():
    for sample, files in MADE.items():
        for name, data in files.items():
            assert (SAMPLES / sample / name).read_bytes() == data, f"{sample}/{name}"


def test_the_readme_has_every_design():
    rows = re.findall(r"^\| `([a-z-]+)` \| ([^|]+) \|", (ROOT / "README.md").read_text(encoding="utf-8"), re.M)
    assert {name: what for name, what in rows if (SAMPLES / name).is_dir()} == SAMPLE_DESIGNS
    assert {*NAMES, *MADE} == {*SAMPLE_DESIGNS}  # each is run, here or in tests/test_samples.py
    assert {path.parent.name for path in SAMPLES.glob("*/about.md")} == set(SAMPLE_DESIGNS)


SAID = {
    "left out": "fit.line-left-out",
    "dates": "list.date-set",
    "two lines": "fit.broken",
    "opened": "fit.set-looser",
    "smaller": "fit.set-smaller",
    "small first letter": "text.case-odd",
}
"""Words of the about pages, each with the code of what they tell."""


@pytest.mark.parametrize("name", MADE)
def test_it_ends_as_its_about_page_says(runs, name):
    folder, done = runs(name)
    said: dict[int, set[str]] = {}
    for line in (folder / "about.md").read_text(encoding="utf-8").splitlines():
        if found := re.match(r"\| ([\d, to]+) \|[^|]*\| (.*) \|", line):
            code = next(code for words, code in SAID.items() if words in found[2])
            for part in found[1].split(","):
                first, _, last = part.partition(" to ")
                for row in range(int(first), int(last or first) + 1):
                    said.setdefault(row, set()).add(code)
    plaque = done.report["plaques"]
    assert said == {p["row"]: codes for p in plaque if (codes := {f["code"] for f in p["findings"]})}
    assert {p["state"] for p in plaque} <= {"ready", "ask"} and done.exit_status == 0
    ready = re.search(r"(?:All|The other) (\d+) (?:\w+ )?are ready", (folder / "about.md").read_text(encoding="utf-8"))
    assert sum(p["state"] == "ready" for p in plaque) == int(ready[1])
    assert {f"cut/{p.name}" for p in (folder / "out" / "cut").glob("*.dxf")} >= {p["cut_file"] for p in plaque}
    assert {"proof.pdf", "shop.pdf", "check.xlsx"} <= {path.name for path in (folder / "out").iterdir()}
    assert find_unknown_fields(done.report) == set()


def test_the_honours_board_has_year_and_name_at_both_ends_of_one_baseline(runs):
    _, done = runs("honours-board")
    for plaque in done.outcome.plaques:
        (line,) = plaque.artwork.lines
        pieces = line.rows[0].pieces
        left, _, right, _ = shapely.total_bounds(
            [build_polygon_from_outline(piece.build_outline(), 0.01) for piece in pieces]
        ).tolist()
        assert (left, right) == pytest.approx((4.0, 296.0), abs=0.2)  # the margin is 4 mm
        assert len({round(piece.y, 6) for piece in pieces}) == 1
    assert len({p["lines"][0]["cap_height"] for p in done.report["plaques"]}) == 1


def test_the_choir_s_parts_are_on_the_baseline_of_the_names(runs):
    _, done = runs("choir-plates")
    for plaque in done.outcome.plaques:
        baselines = {line.line: line.rows[0].pieces[0].y for line in plaque.artwork.lines if line.rows}
        assert baselines.get(3, baselines[1]) == pytest.approx(baselines[1], abs=1e-9)
    assert plaques(runs, "choir-plates")[4]["lines"][0]["cap_height"] < 6.0


def test_the_discs_have_a_file_for_each_side_with_the_pins_at_the_same_places(runs):
    folder, done = runs("walkers-discs")
    for plaque in done.outcome.plaques:
        found = [
            sorted(tuple(c.points.mean(axis=0).round(3)) for c in drawing.curves if c.layer == "REGISTRATION")
            for drawing in (
                read_drawing((folder / "out" / f).read_bytes()) for f in (plaque.cut_file, plaque.back_file)
            )
        ]
        assert found[0] == found[1] and len(found[0]) == 2


def test_the_door_signs_are_in_inches_and_the_rooms_at_one_height(runs):
    folder, done = runs("door-signs")
    assert done.report["order"]["units"] == "in"
    heights = {round(plaque.artwork.lines[0].rows[0].pieces[0].y, 6) for plaque in done.outcome.plaques}
    assert len(heights) == 1
    drawing = read_drawing((folder / "out" / done.outcome.plaques[0].cut_file).read_bytes())
    edge = next(c for c in drawing.curves if c.layer == "EDGE")
    assert max(edge.points[:, 0]) == pytest.approx(9.0)
    assert done.outcome.plaques[0].artwork.lines[0].cap_height == pytest.approx(0.75 * MM_PER_INCH)


def test_the_shield_needs_no_layers(runs):
    folder, done = runs("trophy-shields")
    assert "layers" not in (folder / "order.toml").read_text(encoding="utf-8").partition("[cutter]")[0]
    codes = {f["code"] for f in done.report["findings"]}
    assert {"drawing.one-layer", "drawing.no-zone"} <= codes
    holes = json.dumps(done.report["findings"])
    assert "the 2 loops inside it are holes" in holes
