"""Other typefaces for a line: narrower ones of the same kind that have every character, widest first."""

import time

import pytest

from pipeline.lettering.coverage import Coverage
from pipeline.lettering.other_faces import find_narrower_faces
from pipeline.lettering.shaping import shape_row

NAME = "Bartholomew Featherstonehaugh"


@pytest.fixture(scope="module")
def coverage(shelf):
    return Coverage(shelf)


def test_narrower_faces_widest_first(face, coverage):
    found = find_narrower_faces(NAME, face("cinzel"), coverage)
    names = [other.name for other in found]
    assert names[-1] == "oswald" and "cinzel" not in names
    assert [o.width for o in found] == sorted((o.width for o in found), reverse=True)
    assert all(o.width < 1 for o in found)
    assert not any(name.startswith("hershey") or name == "great-vibes" for name in names)
    row, own = shape_row([face("oswald")], NAME), shape_row([face("cinzel")], NAME)
    assert found[-1].width == pytest.approx((row.advance / row.cap_units) / (own.advance / own.cap_units))
    assert found[-1].caps == pytest.approx(row.advance / row.cap_units)


def test_only_faces_that_have_every_character(face, coverage):
    names = [other.name for other in find_narrower_faces("Nguyễn Thị Phượng", face("montserrat"), coverage)]
    assert names and all(face(name).covers("Nguyễn Thị Phượng") for name in names)
    assert not {"cinzel", "bodoni-moda", "besley"} & {*names}  # these lack Vietnamese


def test_a_single_line_face_is_replaced_by_single_line_faces_only(face, coverage):
    names = [other.name for other in find_narrower_faces(NAME, face("hershey-scripts"), coverage)]
    assert names and all(face(name).single_line for name in names)


def test_an_empty_text_has_no_other_faces(face, coverage):
    assert find_narrower_faces("  ", face("cinzel"), coverage) == ()
    assert find_narrower_faces(NAME, face("oswald"), coverage) == ()


def test_hundreds_of_letters_are_measured_without_being_drawn(face, coverage):
    own = face("cinzel")
    started = time.process_time()
    found = find_narrower_faces("A" * 300, own, coverage)
    assert found and time.process_time() - started < 2
    assert found[-1].caps > 100  # too long for any medal: callers can tell before anything is set
