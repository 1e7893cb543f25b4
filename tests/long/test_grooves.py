"""A sample of the long run over grooves: six letters on a coarser raster. See grooves.py in this folder."""

import pytest

from tests.long.grooves import CASES, Found, chosen, judged

PIXEL = 0.01


@pytest.mark.parametrize("number", [0, 6, 7])
def test_letters_simulated_on_a_raster_are_as_designed(number, tmp_path):
    """A thin typeface, one cut deeper for sanding, one that is both: two letters each."""
    case, letters = chosen(20)[number]
    assert case is CASES[number]
    found = list(judged(case, letters, tmp_path / case.face, PIXEL))
    assert all(isinstance(f, Found) for f in found) and len(found) == 2
    for letter in found:
        assert letter.over < 0.01 + PIXEL / 2
        assert letter.under < 0.01 + PIXEL / 2
        assert letter.uncut < 0.01
        assert letter.deep_file == pytest.approx(letter.deep_report, abs=0.005)
        assert letter.deep_file <= letter.deepest
