"""The reported depth, the checked depth and the depth in the file are the same: that of the grooves as written."""

from __future__ import annotations

import ezdxf
import pytest

from pipeline.order_inputs import read_inputs
from pipeline.order_state import check_plaques
from pipeline.run import run_order

ORDER = """\
title = "Rowers of the year"
client = "Marsh Rowing Circle"
[list]
file = "names.csv"
columns = {{ name = "Name" }}
[blank]
shape = "rectangle"
width = 260
height = 50
thickness = 12
[cutter]
use = "{bit}"
[limits]
deepest = {deepest}
[[line]]
text = "{{name}}"
face = "{face}"
cap_height = {size}
[finish]
sanded_off = 0.15
compensate = {compensate}
[files]
grooves = true
"""


def order(folder, **how):
    (folder / "order.toml").write_text(ORDER.format(**how), encoding="utf-8")
    (folder / "names.csv").write_text("Name\nBo\n", encoding="utf-8")
    return folder


def state(folder):
    """Return whether the plaque can be cut, without writing anything."""
    return check_plaques(read_inputs(folder)).plaques[0].state


def depth_in_file(folder):
    (file,) = (folder / "out" / "cut").glob("*.dxf")
    lines = ezdxf.readfile(file).modelspace().query("POLYLINE[layer=='GROOVE']")
    return max(-vertex.dxf.location.z for line in lines for vertex in line.vertices)


@pytest.mark.parametrize("bit, face, size", [("vbit-30", "montserrat", 18.0), ("vbit-60", "roboto-slab", 11.0)])
@pytest.mark.parametrize("compensate", ["true", "false"])
def test_report_and_file_have_the_same_depth_within_the_limit(tmp_path, bit, face, size, compensate):
    how = {"bit": bit, "face": face, "size": size, "compensate": compensate}
    done = run_order(order(tmp_path, deepest=6.0, **how), workers=1)
    deep = depth_in_file(tmp_path)
    assert done.report["plaques"][0]["lines"][0]["groove_depth"] == pytest.approx(deep, abs=1e-4)
    assert state(order(tmp_path, deepest=deep - 0.002, **how)) == "stopped"
    assert state(order(tmp_path, deepest=deep + 0.002, **how)) == "ready"
