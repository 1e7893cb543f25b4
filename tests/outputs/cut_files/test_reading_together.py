"""Lightweight polylines read all at once equal those read one by one, and anything unusual is left to the slow way."""

import dataclasses

import numpy as np
import pytest

from pipeline.core.model import Artwork
from pipeline.outputs.cut_files.dxf.dxf_reader import (
    UnreadableDrawing,
    _read_alike_together,
    _read_lwpolyline,
    _read_lwpolylines,
    _record,
    read_drawing,
)
from tests import builders
from tests.outputs.cut_files.test_cut_files import cut_files


@pytest.fixture(scope="module")
def data(tmp_path_factory):
    place = tmp_path_factory.mktemp("cut")
    line = builders.set_line(1, ("Søg & Øre",), centre=64.0, baseline=50.0, cap_height=11.0, stem="NotoSans")
    plaque = dataclasses.replace(builders.plaque(5, "Ada"), artwork=Artwork(lines=(line,)))
    made = cut_files(place, blank=builders.slanted_blank(), version="R2010", curves="arcs").make(plaque)
    return (place / made.cut_file).read_bytes()


@pytest.fixture(scope="module")
def records(data):
    entities = data.decode().partition("ENTITIES")[2].partition("\r\n  0\r\nENDSEC")[0]
    return [text for text in entities.split("\r\n  0\r\n") if text.startswith("LWPOLYLINE")]


def same(one, other):
    for field in dataclasses.fields(one):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if not (np.array_equal(a, b) if isinstance(a, np.ndarray) else a == b):
            return False
    return True


def test_reading_together_equals_reading_one_by_one(records):
    together = _read_alike_together(records)
    assert together is not None and len(together) == len(records) > 10
    assert any(curve.bulges.any() for curve in together) and any(not curve.bulges.all() for curve in together)
    for curve, text in zip(together, records, strict=True):
        assert same(curve, _read_lwpolyline(_record(text)))
        assert same(curve, _read_lwpolylines([text])[0])


UNUSUAL = {
    "a code of fewer places": lambda t: t.replace("\r\n 10\r\n", "\r\n10\r\n"),
    "y before x": lambda t: t.replace(" 10\r\n", "@").replace(" 20\r\n", " 10\r\n").replace("@", " 20\r\n"),
    "a width": lambda t: t.replace("\r\n 10\r\n", "\r\n 40\r\n0.0\r\n 10\r\n", 2),
    "no number": lambda t: t.replace("\r\n 20\r\n", "\r\n 20\r\nx", 1),
    "two numbers on a line": lambda t: t.replace("\r\n 20\r\n", "\r\n 20\r\n1.0 ", 1),
    "a vertex short": lambda t: t[: t.rindex("\r\n 10\r\n")],
    "a line short": lambda t: t[: t.rindex("\r\n")],
    "no handle": lambda t: t.replace("\r\n  5\r\n", "\r\n  6\r\n", 1),
    "no vertices": lambda t: t.partition("\r\n 10\r\n")[0],
    "a count that is none": lambda t: t.replace("\r\n 90\r\n", "\r\n 90\r\nmany ", 1),
}


@pytest.mark.parametrize("spoil", UNUSUAL.values(), ids=UNUSUAL)
def test_anything_unusual_is_left_to_the_slow_way(records, spoil):
    """Wherever it is among the others; the result is that of the slow way."""
    spoilt = spoil(records[1])
    assert spoilt != records[1]
    for texts in ([spoilt, *records[2:5]], [*records[2:5], spoilt], [records[0], spoilt, records[2]]):
        assert _read_alike_together(texts) is None
        try:
            wanted = [_read_lwpolyline(_record(text)) for text in texts]
        except (KeyError, ValueError):
            with pytest.raises(UnreadableDrawing):
                _read_lwpolylines(texts)
        else:
            assert all(map(same, _read_lwpolylines(texts), wanted))


def test_damage_that_cancels_out_over_two_records_is_found(records):
    """A vertex moved from one polyline to the next changes only the counts of these two."""
    head, last = records[1].rsplit("\r\n 10\r\n", 1)
    before, first, after = records[2].partition("\r\n 10\r\n")
    assert _read_alike_together([head, f"{before}{first}{last}\r\n 10\r\n{after}"]) is None


def test_line_ends_of_other_programs(data):
    one, other = read_drawing(data), read_drawing(data.replace(b"\r\n", b"\n"))
    assert one.properties == other.properties and one.comments == other.comments and one.layers == other.layers
    assert len(one.curves) == len(other.curves) and all(map(same, one.curves, other.curves))


def test_the_message_names_the_entity(data):
    head, name, rest = data.partition(b"ENTITIES")
    with pytest.raises(UnreadableDrawing, match="entity LWPOLYLINE number 1: could not convert"):
        read_drawing(head + name + rest.replace(b"\r\n 20\r\n", b"\r\n 20\r\nx", 1))
