"""Letters that are drawn without lifting the pen join: no land is measured between them."""

import numpy as np
import pytest

from pipeline.checks.glyph_metrics import GlyphMetrics
from pipeline.checks.land_check import CutSpread, measure_lands
from pipeline.core.config.order import Order
from pipeline.core.model import Blank
from pipeline.geometry.curves import Chain
from pipeline.layout.typesetter import LineText, Typesetter
from pipeline.lettering.font_face import open_face

POINT = 0.25  # mm, width of the cut line


def neighbours(face, text):
    zone = Chain(np.array([[0, 0, 0], [150, 0, 0], [150, 40, 0], [0, 40, 0]], float))
    blank = Blank(edge=zone, width=150.0, height=40.0, thickness=2.0, zones=(("LETTERING", zone),))
    line = {"text": "{name}", "face": face, "cap_height": 6.0}
    order = Order.model_validate(
        {"title": "T", "list": {"file": "l.csv"}, "blank": {"shape": "rectangle"}, "line": [line]}
    )
    setter = Typesetter(order, blank, [[open_face(face)]])
    artwork = setter.build_artwork(setter.set_lines([LineText(line=1, text=text)]))
    spots = measure_lands(artwork.lines, blank, CutSpread(0.0, POINT), GlyphMetrics())[1]
    return [spot for spot in spots if spot.kind == "neighbour"]


@pytest.mark.parametrize("face", ["hershey-scripts", "hershey-cursive"])
def test_joined_letters_leave_no_land_between(face):
    assert all(spot.width > 0.25 for spot in neighbours(face, "minimum"))


def test_letters_that_do_not_join_are_still_measured():
    (spot,) = neighbours("hershey-futural", "rr")
    assert 0.25 < spot.width < 6.0
    (close,) = neighbours("hershey-futural", "rt")
    assert close.width < spot.width
