"""Areas read from SVG drawings, compared with a renderer's pictures of the same file."""

import math
import re
from pathlib import Path

import pytest

from pipeline.geometry.flatten import outline_area, outline_box
from tests.artwork.rendered import area_error, read, widest_disc

ICONS = Path(__file__).resolve().parents[1] / "reference/icons"
NS = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
HEAD = '<svg {} viewBox="0 0 100 100" {}>{}</svg>'


def drawing(body: str, more: str = 'width="100" height="100"') -> str:
    return HEAD.format(NS, more, body)


STAR = "M50 5 L76 88 L6 36 L94 36 L24 88 Z"

DRAWINGS = {
    "rectangle with round corners": '<rect x="10" y="20" width="60" height="40" rx="12" ry="8"/>',
    "circle and ellipse": '<circle cx="30" cy="30" r="20"/><ellipse cx="70" cy="70" rx="25" ry="10"/>',
    "polygon and polyline": '<polygon points="10,10 50,15 30,60"/><polyline points="60,60 90,60 75,90"/>',
    "self-crossing, non-zero": f'<path d="{STAR}"/>',
    "self-crossing, even-odd": f'<path fill-rule="evenodd" d="{STAR}"/>',
    "arcs of every kind": '<path d="M20 50a30 20 30 1 0 50 10z M60 20A10 25 -15 0 1 90 40L60 40Z"/>',
    "short forms": '<path d="M10 80 C 40 10, 65 10, 95 80 S 150 150, 180 80 M10 20q10 -20 20 0t20 0t20 0v10h-60z"/>',
    "overlapping shapes": '<rect x="10" y="10" width="50" height="50"/><circle cx="60" cy="60" r="30"/>',
    "transforms": '<g transform="translate(50,50) rotate(30)"><rect x="-30" y="-10" width="60" height="20" '
    'transform="scale(1,2) skewX(20)"/></g>',
    "stroke of a line": '<line x1="10" y1="10" x2="90" y2="70" stroke="#000" stroke-width="6"/>',
    "caps and joins": '<path d="M20 20 L50 80 L80 20" fill="none" stroke="black" stroke-width="9" '
    'stroke-linecap="square" stroke-linejoin="bevel"/>',
    "mitres": '<path d="M20 20 L50 80 L80 20" fill="none" stroke="black" stroke-width="9" stroke-miterlimit="10"/>',
    "round": '<path d="M20 20 L50 80 L80 20z" fill="none" stroke="black" stroke-width="9" stroke-linejoin="round"/>',
    "dashes": '<circle cx="50" cy="50" r="40" fill="none" stroke="black" stroke-width="5" stroke-dasharray="12 5 2"/>',
    "a stretched stroke": '<g transform="scale(3,1)"><circle cx="16" cy="50" r="10" fill="none" stroke="black" '
    'stroke-width="3"/></g>',
    "fill and stroke": '<circle cx="50" cy="50" r="30" stroke="#000" stroke-width="8"/>',
    "used twice": '<defs><path id="a" d="M0 0h20v20h-20z"/></defs><use xlink:href="#a" x="10" y="10"/>'
    '<use href="#a" transform="translate(60 60) scale(1.5)"/>',
    "a symbol": '<symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></symbol>'
    '<use href="#s" x="20" y="20" width="40" height="40"/>',
    "a drawing inside": '<svg x="10" y="10" width="50" height="50" viewBox="0 0 10 10"><rect x="2" y="2" width="20" '
    'height="4"/></svg>',
    "clip paths within each other": '<clipPath id="c"><rect x="0" y="0" width="60" height="100"/></clipPath>'
    '<clipPath id="d"><circle cx="50" cy="50" r="30"/></clipPath><g clip-path="url(#c)"><rect width="100" height="100" '
    'clip-path="url(#d)"/></g>',
    "a clip path that is moved": '<clipPath id="c" transform="translate(10)"><circle cx="40" cy="50" r="20"/>'
    '</clipPath><g transform="rotate(20 50 50)"><rect width="100" height="100" clip-path="url(#c)"/></g>',
    "style sheet": "<style>.a{fill:none;stroke:#000;stroke-width:4px} #b{fill:black} g .c{display:none}</style>"
    '<rect class="a" x="20" y="20" width="60" height="60"/><circle id="b" cx="50" cy="50" r="10"/>'
    '<g><rect class="c" width="90" height="90"/></g>',
    "style attribute wins": '<style>rect{fill:none}</style><rect x="10" y="10" width="30" height="30" '
    'style="fill:#000" fill="none"/>',
    "inherited paint": '<g fill="none" stroke="black" stroke-width="4"><circle cx="50" cy="50" r="20"/>'
    '<g fill="black" stroke="none"><circle cx="20" cy="20" r="10"/></g></g>',
    "hidden things": '<rect width="50" height="50" visibility="hidden"/><rect x="50" y="50" width="50" height="50"/>'
    '<g opacity="0"><rect width="100" height="100"/></g><g display="none"><circle r="90"/></g>',
    "percentages and units": '<rect x="10%" y="10%" width="50%" height="5mm"/><circle cx="1in" cy="50pt" r="10px"/>',
    "white left standing": '<rect width="100" height="100"/><circle cx="50" cy="50" r="30" fill="#fff"/>'
    '<rect x="45" y="45" width="10" height="10"/>',
    "beyond the page": '<circle cx="0" cy="50" r="40"/>',
    "a link and a choice": '<a><rect width="20" height="20"/></a><switch><g systemLanguage="xx"><rect width="90" '
    'height="90"/></g><rect x="50" width="20" height="20"/></switch>',
}


@pytest.mark.parametrize("body", DRAWINGS.values(), ids=DRAWINGS)
def test_the_area_of_a_drawing_is_that_of_a_renderer(body):
    assert area_error(drawing(body), 100.0) < 0.005


@pytest.mark.parametrize("icon", sorted(ICONS.glob("*.svg")), ids=lambda icon: icon.stem)
def test_icons_have_the_area_and_the_widest_stroke_of_their_picture(icon):
    svg = icon.read_text(encoding="utf-8")
    assert area_error(svg, 24.0) < 0.005


def test_a_stroke_is_as_wide_as_it_is_drawn():
    for icon in ICONS.glob("outline-*.svg"):
        drawn = float(re.search(r'stroke-width="([\d.]+)"', icon.read_text(encoding="utf-8"))[1])
        assert widest_disc(icon.read_text(encoding="utf-8"), 24.0) > 0.95 * drawn


def test_a_stroke_that_does_not_stretch_is_as_wide_all_round():
    """An ellipse of 30 and 10 with 3 along all of it: 3 times its length, by Ramanujan's second formula (1914)."""
    body = '<g transform="scale(3,1)"><circle cx="16" cy="50" r="10" fill="none" stroke="black" {}/></g>'
    found = read(drawing(body.format('stroke-width="3" vector-effect="non-scaling-stroke"')))
    a, b = 30.0, 10.0
    h = ((a - b) / (a + b)) ** 2
    length = math.pi * (a + b) * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    assert outline_area(found.outline) == pytest.approx(3 * length, rel=0.002)


UNITS = {
    ('width="50mm" height="50mm"', 0.5),
    ('width="5cm" height="5cm"', 0.5),
    ('width="2in" height="2in"', 0.508),
    ('width="72pt" height="72pt"', 0.254),
    ('width="100" height="100"', None),
    ('width="100px"', None),
    ('width="100%" height="100%"', None),
    ("", None),
    ('width="50mm"', 0.5),
    ('width="50mm" height="80mm"', 0.5),  # the smaller: drawn whole and in proportion (SVG 1.1, 7.8)
}


@pytest.mark.parametrize(("size", "mm"), sorted(UNITS, key=str))
def test_a_drawing_has_its_stated_size_and_none_if_stated_in_pixels(size, mm):
    found = read(drawing('<rect x="10" y="10" width="40" height="20"/>', size))
    assert found.mm == (None if mm is None else pytest.approx(mm))
    assert outline_area(found.outline) == pytest.approx(800)


def test_the_drawing_is_turned_upright():
    found = read(drawing('<path d="M10 10h10v30h-10z"/>'))
    assert outline_box(found.outline) == pytest.approx((10, 60, 20, 90))


def test_curves_stay_curves():
    found = read(drawing('<circle cx="50" cy="50" r="40"/>'))
    assert len(found.outline) == 1
    assert set(found.outline[0].degrees) <= {2, 3}
    assert len(found.outline[0].degrees) <= 8


def test_a_page_of_no_size_counts_whole():
    svg = '<svg xmlns="http://www.w3.org/2000/svg"><rect x="-50" y="-50" width="60" height="20"/></svg>'
    found = read(svg)
    assert outline_area(found.outline) == pytest.approx(1200)
    assert found.mm is None


def test_a_drawing_without_a_namespace_is_read_anyway():
    assert outline_area(read('<svg viewBox="0 0 9 9"><rect width="3" height="3"/></svg>').outline) == pytest.approx(9)


def test_lines_are_followed_as_they_are_drawn():
    found = read(
        drawing('<path d="M10 10L50 50M20 20h10v10z" stroke="red" fill="none"/><circle cx="50" cy="50" r="9"/>'),
        as_lines=True,
    )
    assert [path.closed for path in found.outline] == [False, True, True]


SAID = {
    "text": ('<text x="10" y="20">Rowing</text><rect width="5" height="5"/>', "cannot", "Rowing"),
    "picture": (
        '<image href="data:image/png;base64,AA" width="5" height="5"/><rect width="5" height="5"/>',
        "cannot",
        "picture",
    ),
    "mask": ('<mask id="m"/><rect mask="url(#m)" width="5" height="5"/>', "cannot", "mask"),
    "gradient": ('<linearGradient id="g"/><rect fill="url(#g)" width="5" height="5"/>', "changed", "gradient"),
    "white": ('<rect width="50" height="50"/><rect fill="white" width="5" height="5"/>', "changed", "white"),
    "beyond": ('<rect width="150" height="50"/>', "changed", "outside the page"),
    "colours": (
        '<rect width="50" height="50" fill="#800000"/><circle cx="20" cy="20" r="9" fill="gold"/>',
        "colours",
        "another colour",
    ),
    "broken path": ('<path d="M 0 0 L nonsense"/><rect width="5" height="5"/>', "cannot", "understood"),
}


@pytest.mark.parametrize(("body", "reason", "word"), SAID.values(), ids=SAID)
def test_parts_not_cut_as_drawn_are_reported(body, reason, word):
    assert any(r.reason == reason and word in r.words for r in read(drawing(body)).remarks)


def test_a_plain_drawing_has_no_remarks():
    assert read(drawing('<circle cx="50" cy="50" r="9"/>')).remarks == ()
