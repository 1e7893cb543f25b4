"""A seeded sample of the shelf's glyphs, fitted and measured by dense sampling; `glyph_fit.py` does thousands."""

import math

import numpy as np
import pytest

from pipeline.geometry.curves import Chain, Path
from tests.geometry.glyph_fit import along_chains, along_outline, apart, drawn, measured

pytestmark = pytest.mark.xdist_group("glyph fit")  # the glyphs are measured once


@pytest.fixture(scope="module")
def found():
    return [measured(*glyph) for glyph in drawn(24, seed=7)]


def test_no_place_is_farther_off_than_the_tolerance(found):
    assert len(found) == 24
    assert len({f.face for f in found}) == 24  # each from a different typeface of the shelf
    for glyph in found:
        assert max(glyph.arcs, glyph.lines) <= 1.0, glyph
        assert glyph.said <= 1.0
        assert glyph.said >= max(glyph.arcs, glyph.lines) - 0.03, glyph  # the deviation that the fit reports is right


def test_arcs_are_fewer_than_chords_over_the_shelf(found):
    arcs, lines = (sum(f.vertices[k] for f in found) for k in (0, 1))
    assert arcs < 0.75 * lines


def test_the_measure_itself_is_right():
    """A quarter circle as a cubic misses the circle by 2.7e-4 of its radius; as a chord by r (1 - cos 45°)."""
    k = 4 / 3 * (math.sqrt(2) - 1)
    cubic = Path(np.array([[1, 0], [1, k], [k, 1], [0, 1]]), (3,), closed=False)
    outline = along_outline([cubic], 1e-3)
    arc = Chain(np.array([[1, 0, math.tan(math.pi / 8)], [0, 1, 0]]), closed=False)
    chord = Chain(np.array([[1, 0, 0], [0, 1, 0]], float), closed=False)
    assert apart(outline, along_chains([arc], 1e-3)) == pytest.approx(2.7e-4, rel=0.02)
    assert apart(outline, along_chains([chord], 1e-3)) == pytest.approx(1 - math.cos(math.pi / 4), rel=1e-3)
