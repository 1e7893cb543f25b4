"""Parts of SVG drawings that are hidden where they are defined and shown where they are used, and symbols in symbols
(SVG 1.1, 5.6 and 14.3.5: a used element inherits from the use, and `display` of an enclosing group doesn't reach
it)."""

import pytest

from pipeline.artwork.artwork_file import read_artwork
from pipeline.core.errors import CannotRun
from pipeline.geometry.flatten import outline_area

RECT = '<rect id="a" width="4" height="2"/>'
USE = '<use href="#a" x="1" y="1"/>'


def area(tmp_path, body):
    file = tmp_path / "crest.svg"
    file.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 20">{body}</svg>', encoding="utf-8")
    found = read_artwork(file, None, as_lines=False)
    assert not [r for r in found.remarks if r.reason == "cannot"]
    return outline_area(found.outline)


@pytest.mark.parametrize(
    ("body", "size"),
    [
        (f'<g style="display:none">{RECT}</g>{USE}', 8),
        (f'<g opacity="0">{RECT}<circle r="3"/></g>{USE}', 8),
        (f'<g visibility="hidden">{RECT}</g>{USE}', 8),
        (f'<defs style="display:none">{RECT}</defs>{USE}', 8),
        (f'<svg style="display:none"><symbol id="a">{RECT[:5]} width="4" height="2"/></symbol></svg>{USE}', 8),
        (
            '<g display="none"><clipPath id="c"><rect width="2" height="2"/></clipPath></g>'
            '<rect width="9" height="9" clip-path="url(#c)"/>',
            4,
        ),
        (
            '<symbol id="o"><use href="#i"/><use href="#i" x="5"/></symbol>'
            '<symbol id="i"><rect width="2" height="1"/></symbol>'
            '<use href="#o" y="3"/>',
            4,
        ),
        (
            '<symbol id="o"><g id="p"><rect width="2" height="1"/></g><use href="#p" y="4"/></symbol>'
            '<use href="#o"/><use href="#o" x="6"/>',
            8,
        ),
    ],
    ids=["display", "opacity", "visibility", "defs", "sprites", "clip", "symbols", "inner"],
)
def test_a_part_hidden_where_it_is_defined_shows_where_it_is_used(tmp_path, body, size):
    assert area(tmp_path, body) == pytest.approx(size, rel=1e-3)


@pytest.mark.parametrize(
    "body",
    [
        f'<rect id="a" display="none" width="4" height="2"/>{USE}',
        f'<defs>{RECT}</defs><g display="none">{USE}</g>',
        f'<defs>{RECT}</defs><g visibility="hidden">{USE}</g>',
        f'<g display="none">{RECT}</g>',
    ],
)
def test_a_part_hidden_itself_or_where_it_is_used_stays_hidden(tmp_path, body):
    with pytest.raises(CannotRun, match="nothing in it is painted"):
        area(tmp_path, body)
