"""The bench plates' drawing and list: created by their script; the plate is as described."""

import math
from pathlib import Path

import pytest

from pipeline.geometry.flatten import chain_area, chain_box
from pipeline.intake.drawing.blank_drawing import read_blank
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.read_list import read_list
from tests.load_script import load_script

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_orders" / "bench-plates"


def test_drawing_and_list_are_what_the_script_makes(tmp_path):
    made = load_script("make_samples/bench_plates.py")
    made.draw().saveas(tmp_path / "plate.dxf")
    made.write_list(tmp_path / "dedications.xlsx")
    for name in ("plate.dxf", "dedications.xlsx"):
        assert (tmp_path / name).read_bytes() == (SAMPLE / name).read_bytes(), name


def test_the_plate_is_as_described():
    blank, findings = read_blank(read_order(SAMPLE))
    assert findings == ()
    assert (blank.width, blank.height, blank.thickness) == (pytest.approx(100), pytest.approx(25), 1.5)
    assert chain_area(blank.edge) == pytest.approx(2500 - (4 - math.pi) * 4)
    assert [chain_area(k) for k in blank.keep_outs] == pytest.approx([math.pi * 1.6**2] * 2)
    assert [chain_box(k)[0] for k in blank.keep_outs] == pytest.approx([6 - 1.6, 94 - 1.6])


def test_every_wording_of_the_list_is_read():
    read = read_list(read_order(SAMPLE))
    assert [r.row for r in read.recipients] == list(range(4, 20))
    assert sum(r.copies for r in read.recipients) == 19
