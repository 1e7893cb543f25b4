"""Malicious SVG files: refused with a reason, within limits of time and memory, and nothing is fetched or run."""

import gzip
import time

import pytest

from pipeline.artwork.artwork_file import read_artwork
from pipeline.core.errors import CannotRun

NS = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 10 10"'
RECT = '<rect width="5" height="5"/>'


def svg(body: str, head: str = "") -> str:
    return f"{head}<svg {NS}>{body}</svg>"


BOMB = "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefghi", "bcdefghij", strict=True))
USES = "".join(f'<g id="g{n + 1}">{f"""<use xlink:href="#g{n}"/>""" * 10}</g>' for n in range(9))

HOSTILE = {
    "entities within entities": svg("<desc>&j;</desc>", f'<!DOCTYPE svg [<!ENTITY a "a">{BOMB}]>'),
    "an entity from a file": svg("<desc>&x;</desc>", '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>'),
    "a parameter entity": svg(RECT, '<!DOCTYPE svg [<!ENTITY % x SYSTEM "http://example.org/x.dtd"> %x;]>'),
    "a script": svg("<script>alert(1)</script>" + RECT),
    "a script on loading": svg('<g onload="alert(1)"/>' + RECT),
    "a page inside": svg("<foreignObject><p/></foreignObject>" + RECT),
    "another file": svg('<use xlink:href="other.svg#a"/>' + RECT),
    "a picture elsewhere": svg('<image xlink:href="http://example.org/p.png" width="3" height="3"/>' + RECT),
    "a style sheet elsewhere": svg("<style>@import url(http://example.org/a.css);</style>" + RECT),
    "a style sheet beside it": f'<?xml-stylesheet href="a.css"?><svg {NS}>{RECT}</svg>',
    "a fill elsewhere": svg('<rect style="fill:url(http://example.org/#a)" width="3" height="3"/>'),
    "a million groups": f"<svg {NS}>" + "<g>" * 1_000_000,
    "a hundred million uses": svg(f'<defs><g id="g0">{RECT}</g>{USES}</defs><use xlink:href="#g9"/>'),
    "a use of itself": svg('<g id="a"><use xlink:href="#a"/><rect width="1" height="1"/></g>'),
    "too many shapes": svg(RECT * 60_000),
    "not a drawing": "<html><body/></html>",
    "cut short": f"<svg {NS}><rect width",
    "nothing": "   ",
    "no letters at all": "\0\1\2\3",
    "nothing painted": svg('<rect width="5" height="5" fill="none"/>'),
    "numbers without end": svg('<rect width="1e300" height="1e308"/>'),
    "not a number": svg('<path d="M nan 0 L inf 5 z"/>'),
    "a page of no size": f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1e-30 1">{RECT}</svg>',
    "dashes without end": svg('<path d="M0 0H10" stroke="#000" stroke-dasharray="1e-9"/>' * 200),
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_drawing_is_refused_soon_and_with_a_reason(tmp_path, text):
    file = tmp_path / "crest.svg"
    file.write_text(text, encoding="utf-8")
    start = time.process_time()
    try:
        found = read_artwork(file, None, as_lines=False)
    except CannotRun as error:
        assert error.faults[0].where == str(file)
        assert error.faults[0].found
    else:
        assert any(r.reason == "cannot" for r in found.remarks)
    assert time.process_time() - start < 5
    assert sorted(p.name for p in tmp_path.iterdir()) == ["crest.svg"]


def test_a_hundred_megabytes_are_not_opened(tmp_path):
    file = tmp_path / "crest.svg"
    with file.open("wb") as out:
        out.truncate(100 * 2**20)
    with pytest.raises(CannotRun, match="larger than 20 MB"):
        read_artwork(file, None, as_lines=False)


def test_compressed_drawings_are_refused(tmp_path):
    file = tmp_path / "crest.svg"
    file.write_bytes(gzip.compress(svg(RECT).encode()))
    with pytest.raises(CannotRun, match="packed"):
        read_artwork(file, None, as_lines=False)


def test_the_usual_document_type_is_accepted(tmp_path):
    """Common drawing programs write it; it names a file of the standard, which isn't fetched."""
    head = '<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/svg11.dtd">'
    file = tmp_path / "crest.svg"
    file.write_text(svg(RECT, head), encoding="utf-8")
    assert len(read_artwork(file, None, as_lines=False).outline) == 1


def test_sixteen_bit_files_are_read(tmp_path):
    file = tmp_path / "crest.svg"
    file.write_bytes(f'<?xml version="1.0" encoding="UTF-16"?>{svg(RECT)}'.encode("utf-16"))
    assert len(read_artwork(file, None, as_lines=False).outline) == 1
