"""An R12 drawing has no unit: what is reported instead, and that nothing is reported where it isn't needed."""

import ezdxf
import pytest

from pipeline.cli import main
from pipeline.run import run_order

ORDER = """
title = "Slate Markers"
units = "{units}"
[list]
file = "list.csv"
[blank]
shape = "rectangle"
width = {width}
height = {height}
thickness = {thickness}
margin = 0.0
[[line]]
text = "{{name}}"
face = "noto-sans"
cap_height = {cap}
[files]
version = "{version}"
"""
IN = {"units": "in", "width": 6.0, "height": 2.0, "thickness": 0.25, "cap": 0.5}
MM = {"units": "mm", "width": 150.0, "height": 50.0, "thickness": 6.0, "cap": 12.0}


def order(folder, **values):
    (folder / "list.csv").write_text("Name\nIda Vex\n", encoding="utf-8")
    (folder / "order.toml").write_text(ORDER.format(**values), encoding="utf-8")
    return folder


@pytest.mark.parametrize(("values", "version", "told"), [(IN, "R12", 1), (MM, "R12", 0), (IN, "R2000", 0)])
def test_an_order_in_inches_is_warned_that_r12_has_no_unit(tmp_path, values, version, told):
    done = run_order(order(tmp_path, **values, version=version), files=False)
    assert sum(f["code"] == "file.no-unit" for f in done.report["findings"]) == told
    assert done.exit_status == 0


def test_the_unit_is_in_the_comments_of_the_file(tmp_path, capsys):
    assert main(["run", str(order(tmp_path, **IN, version="R12"))]) == 0
    out, err = capsys.readouterr()
    assert "[file.no-unit]" in out
    assert err == ""
    (file,) = (tmp_path / "out" / "cut").glob("*.dxf")
    lines = file.read_text("ascii").splitlines()
    comments = [value for code, value in zip(lines[::2], lines[1::2], strict=False) if code.strip() == "999"]
    assert any("in inches" in line for line in comments)
    drawing = ezdxf.readfile(file)  # an independent reader: it keeps the comments and sees no unit
    assert drawing.header.get("$INSUNITS", 0) == 0
