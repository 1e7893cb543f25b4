"""The mark on every page of a proof, read back from pictures of the pages by an independent reader."""

from __future__ import annotations

import pypdfium2
import pytest
import zxingcpp

from pipeline.outputs.proof.page_mark import PageMark, encode_modules, read_page_mark
from pipeline.outputs.revision import Revision
from tests import builders
from tests.outputs.papers import proof_bytes
from tests.outputs.proof.test_proof import folder


def marks_in(data: bytes, dpi: int) -> list[PageMark | None]:
    """Return what a barcode reader finds on each page, rendered at this resolution (dpi)."""
    out = []
    for page in pypdfium2.PdfDocument(data):
        found = zxingcpp.read_barcodes(page.render(scale=dpi / 72).to_pil().convert("L"))
        assert len(found) == 1, "one mark a page"
        out.append(read_page_mark(found[0].text))
    return out


@pytest.mark.parametrize("dpi", [110, 150, 300])
def test_every_page_is_identified_by_its_mark(dpi):
    """110 dpi: an A4 page photographed to 1.2 megapixels."""
    data, pages = proof_bytes(builders.outcome(), folder(), Revision(letter="B"))
    found = marks_in(data, dpi)
    assert [m and (m.page, m.revision, m.volume) for m in found] == [(n, "B", 0) for n in range(1, pages + 1)]
    assert len({m and (m.order_id, m.content) for m in found}) == 1


def test_two_proofs_with_the_same_letter_are_distinguished():
    whole = marks_in(proof_bytes(builders.outcome(), folder())[0], 110)[0]
    part = marks_in(proof_bytes(builders.outcome(builders.some_plaques()[:2]), folder())[0], 110)[0]
    assert whole and part and (whole.revision, whole.content) != (part.revision, part.content)


@pytest.mark.parametrize("revision", ["A", "AA", "3", "draft 2", "Überarbeitung", "第2版", "A:B/C"])
def test_every_mark_is_read_back(revision):
    mark = PageMark(order_id="NK7N3H", revision=revision, volume=4, page=123, content="7KX2MX".replace("2", "4"))
    assert read_page_mark(mark.to_text()) == mark
    assert mark.to_text().isascii() and set(mark.to_text()) <= set("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
    assert encode_modules(mark)


@pytest.mark.parametrize(
    "text",
    ["", "https://x.example", "PROOF1:NK7N3H:A:0:1", "PROOF2:NK7N3H:A:0:1:7K4TMX", "PROOF1:NK7N3H:%FF:0:1:7K4TMX",
     "PROOF1:nk7n3h:A:0:1:7K4TMX", "PROOF1:NK7N3H:A:0:1:7K4TMX:MORE", "PROOF1:NK7N3H:A:-1:1:7K4TMX"],
)  # fmt: skip
def test_foreign_codes_are_not_marks(text):
    assert read_page_mark(text) is None
