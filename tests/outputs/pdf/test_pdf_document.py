"""Papers drawn by our canvas, checked with pikepdf, pypdf, PDFium and qpdf."""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
import subprocess
import unicodedata

import numpy as np
import pdfplumber
import pikepdf
import pypdf
import pypdfium2
import pytest

from pipeline.outputs.pdf import fonts, styles
from pipeline.outputs.pdf.canvas import PaperCanvas, build_move
from pipeline.outputs.pdf.form_fields import FormBuilder
from pipeline.outputs.pdf.metadata import Attachment, DocumentInfo
from pipeline.outputs.pdf.text_style import TextStyle

TEXTS = [
    "plain",
    "(row 5) \\ and ) alone",
    "Björn Ærøskarv · 1 piece – “x”",
    "山田 太郎 / שרה כהן / محمد",
    "𐌰 😀 beyond the first plane",
]


def closed(pen: PaperCanvas, **about) -> bytes:
    return pen.finish(DocumentInfo(**{"title": "t", "author": "a", **about}))


def one_page(draw, **about) -> bytes:
    pen = PaperCanvas(210.0, 297.0)
    pen.begin_page()
    draw(pen)
    pen.turn_page()
    return closed(pen, **about)


def sound(data: bytes, tmp_path) -> None:
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert pdf.check_pdf_syntax() == []
    if shutil.which("qpdf"):
        (tmp_path / "p.pdf").write_bytes(data)
        ran = subprocess.run(["qpdf", "--check", "p.pdf"], cwd=tmp_path, capture_output=True, text=True, check=False)
        assert ran.returncode == 0, ran.stdout + ran.stderr


@pytest.mark.parametrize("text", TEXTS)
def test_document_metadata_texts_are_read_back_unchanged(text, tmp_path):
    """Title, tooltip of a field, bookmark: by two readers."""
    pen = PaperCanvas(210.0, 297.0)
    form = FormBuilder(pen)
    pen.begin_page()
    pen.add_bookmark(text)
    form.add_text_field("field", (10, 10, 20, 8), text)
    pen.turn_page()
    data = pen.finish(DocumentInfo(title=text, author="a"), form.fields)
    sound(data, tmp_path)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        root = pdf.Root
        assert {str(pdf.docinfo.Title), str(root.Outlines.First.Title), str(root.AcroForm.Fields[0].TU)} == {text}
    reader = pypdf.PdfReader(io.BytesIO(data))
    assert reader.metadata.title == reader.outline[0].title == text


def test_equal_drawings_give_equal_bytes_and_different_ones_another_id():
    def made(word: str) -> bytes:
        return one_page(lambda pen: pen.draw_text(10, 10, word, styles.BODY))

    def identity(data: bytes) -> bytes:
        with pikepdf.open(io.BytesIO(data)) as pdf:
            return bytes(pdf.trailer.ID[0])

    assert made("one") == made("one")
    assert identity(made("one")) != identity(made("two"))


def test_the_producer_names_the_drawing_library(tmp_path):
    assert "ReportLab" in pypdf.PdfReader(io.BytesIO(one_page(lambda pen: None))).metadata.producer


# --- bookmarks -------------------------------------------------------------------------------------------------------

TREE = [
    ("Cover", []),
    ("Plaques", [("Ada", []), ("Björn", [("Detail", []), ("More", [])]), ("Cid", [])]),
    ("Empty", []),
    ("Decision", [("Last", [])]),
]


def test_bookmarks_are_a_tree_and_lead_to_their_pages(tmp_path):
    pen, pages_of = PaperCanvas(210.0, 297.0), {}

    def add(items, level):
        for title, below in items:
            pen.begin_page()
            pages_of[title] = pen.page - 1
            pen.add_bookmark(title, level)
            pen.turn_page()
            add(below, level + 1)

    add(TREE, 0)
    data = closed(pen)
    sound(data, tmp_path)
    reader = pypdf.PdfReader(io.BytesIO(data))

    def read(items) -> list:
        found = []
        for item in items:
            if isinstance(item, list):
                found[-1] = (found[-1][0], read(item))
            else:
                assert reader.get_destination_page_number(item) == pages_of[item.title]
                assert item.typ == "/Fit"
                found.append((item.title, []))
        return found

    assert read(reader.outline) == TREE


# --- what a document says about itself -------------------------------------------------------------------------------


def test_title_language_metadata_and_attachment_are_written(tmp_path):
    pen = PaperCanvas(210.0, 297.0)
    pen.begin_page()
    pen.turn_page()
    parts = [b'{"a":', b"[1,2" + b",3" * 5000, b"]}"]
    attachment = Attachment(name="own.json", description="Über (this)", kind="application/json", parts=parts)
    said = {"title": "Ærø (A)", "author": "Shop", "subject": "proof X", "creator": "tool 1"}
    own = {"namespace": ("urn:own:1", "own"), "metadata": {"order": "A & B"}}
    data = closed(pen, **said, **own, attachment=attachment)
    sound(data, tmp_path)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        found = {k.strip("/").lower(): str(v) for k, v in pdf.docinfo.items()}
        assert found.pop("producer").startswith("ReportLab") and found == said
        with pdf.open_metadata() as meta:
            assert (meta["dc:title"], meta["{urn:own:1}order"]) == ("Ærø (A)", "A & B")
            assert not [key for key in meta if "Date" in key]
        assert str(pdf.Root.Lang) == "en" and pdf.Root.PageMode == "/UseNone"
        (name,) = pdf.attachments
        spec, whole = pdf.attachments[name], b"".join(parts)
        file = spec.get_file()
        assert (name, spec.filename, spec.description) == ("own.json", "own.json", "Über (this)")
        assert (file.read_bytes(), file.size, file.mime_type) == (whole, len(whole), "application/json")
        assert file.md5 == hashlib.md5(whole).digest()
        assert json.loads(file.read_bytes())["a"][:3] == [1, 2, 3]
        assert "/CreationDate" not in file.obj.Params
        assert [float(v) for v in pdf.pages[0].mediabox] == pytest.approx([0, 0, 595.276, 841.89], abs=1e-3)
    assert pypdf.PdfReader(io.BytesIO(data)).attachments["own.json"] == [whole]


# --- fields ----------------------------------------------------------------------------------------------------------


def test_fields_and_links_are_on_their_pages_in_the_order_of_creation(tmp_path):
    pen = PaperCanvas(210.0, 297.0)
    form = FormBuilder(pen)
    asked = []
    for page in (1, 2):
        pen.begin_page()
        pen.add_link(10, 20, 30, 5, 3 - page, f"page {3 - page}")
        form.add_tick_box(f"tick{page}", (10, 200, 4, 4), f"Ada (row {page})")
        form.add_text_field(f"text{page}", (20, 100, 50.5, 8), "Łódź", several=page == 2)
        form.add_choice("choice", f"option{page}", (30, 30, 4.6, 4.6), "one of two", "which")
        asked.append(["/Link", f"tick{page}", f"text{page}", "choice"])
        if page == 2:
            form.add_hidden("hidden", '{"a":"(b)"}', "unseen")
            asked[-1].append("hidden")
        pen.turn_page()
    data = pen.finish(DocumentInfo(title="t", author="a"), form.fields)
    sound(data, tmp_path)
    mm = 72 / 25.4
    with pikepdf.open(io.BytesIO(data)) as pdf:
        found = []
        for n, page in enumerate(pdf.pages):
            notes = list(page.obj.Annots)
            assert page.obj.Tabs == "/R"
            assert all(a.P.objgen == page.obj.objgen for a in notes[1:])
            found.append(["/Link", *(str(a.Parent.T if "/Parent" in a else a.T) for a in notes[1:])])
            assert notes[0].Dest[0].objgen == pdf.pages[1 - n].obj.objgen
            rects = [[float(v) / mm for v in a.Rect] for a in notes]
            assert rects[0] == pytest.approx([10, 20, 40, 25], abs=1e-3)
            assert rects[2] == pytest.approx([20, 100, 70.5, 108], abs=1e-3)
            for a in notes[1:4]:  # its appearance has the size of the field
                normal = a.AP.N if isinstance(a.AP.N, pikepdf.Stream) else a.AP.N.Off
                size = [float(v) for v in a.Rect]
                box = [float(v) for v in normal.BBox]
                assert box[2:] == pytest.approx([size[2] - size[0], size[3] - size[1]], abs=2e-3)
        assert found == asked
        fields = list(pdf.Root.AcroForm.Fields)
        assert [str(f.T) for f in fields] == ["tick1", "text1", "choice", "tick2", "text2", "hidden"]
        by_name = {str(f.T): f for f in fields}
        assert [set(k.AP.N.keys()) for k in by_name["choice"].Kids] == [{"/option1", "/Off"}, {"/option2", "/Off"}]
        assert str(by_name["hidden"].V) == '{"a":"(b)"}'
        assert by_name["text2"].Ff == 1 << 12 and "/Ff" not in by_name["text1"]
        assert str(by_name["tick2"].TU) == "Ada (row 2)" and str(by_name["text1"].TU) == "Łódź"


# --- text ------------------------------------------------------------------------------------------------------------


def test_hundreds_of_characters_are_all_found_in_place(tmp_path):
    """Over 500 characters of the text font, so that several subsets of it are needed."""
    letters = [c for c in sorted(fonts.get_known_characters()) if c.isalpha() and c.isprintable()]
    letters = [c for c in letters if len(c.encode("utf-16-be")) == 2][:600]
    assert len(letters) > 520
    rows = ["".join(letters[i : i + 40]) for i in range(0, len(letters), 40)]
    pen = PaperCanvas(400.0, 297.0)
    pen.begin_page()
    for i, row in enumerate(rows):
        pen.draw_text(10, 280 - 10 * i, row, styles.BODY)
    pen.turn_page()
    data = closed(pen)
    sound(data, tmp_path)
    whole = "".join(rows)
    assert re.sub(r"\s", "", pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text()) == whole
    assert re.sub(r"\s", "", pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range()) == whole
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        chars = pdf.pages[0].chars
        assert {c["fontname"].partition("+")[2] for c in chars} == {"NotoSans-Regular"}
    mm, at = 72 / 25.4, 0
    for row in rows:
        for k in range(len(row)):
            start = 10 + fonts.measure_width(row[:k], styles.BODY.mm)
            assert chars[at + k]["x0"] / mm == pytest.approx(start, abs=0.01)
        at += len(row)


def test_an_unused_font_is_not_embedded():
    pen = PaperCanvas(210.0, 297.0)
    pen.begin_page()
    pen.draw_text(10, 10, "Ada (a) \\ ", styles.BODY)
    pen.turn_page()
    data = closed(pen)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        carried = {str(font.BaseFont).partition("+")[2] for font in pdf.pages[0].resources.Font.values()}
        assert carried == {"NotoSans-Regular"}
    assert pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text().strip() == "Ada (a) \\"


def test_a_repeated_drawing_is_written_once_with_its_resources():
    pen = PaperCanvas(210.0, 297.0)
    for _ in range(3):
        pen.begin_page()
        with pen.define_form("outer", (0, 0, 50, 20)) as new:
            if new:
                with pen.define_form("inner", (0, 0, 5, 5)) as inner:
                    assert inner
                    pen.draw_box(0, 0, 5, 5, fill=styles.INK)
                pen.draw_form("inner", build_move(2, 2))
                pen.draw_text(1, 1, "said once", TextStyle(9, styles.INK))
        pen.draw_form("outer", build_move(10, 10))
        pen.turn_page()
    data = closed(pen)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        forms = pdf.pages[0].resources.XObject
        (outer,) = forms.values()
        assert sum(isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Form" for o in pdf.objects) == 2
        (inner,) = outer.Resources.XObject.values()
        assert "/XObject" not in inner.Resources
    for page in pypdf.PdfReader(io.BytesIO(data)).pages:
        assert page.extract_text().strip() == "said once"


SCRIPTS = ["שרה כהן", "דָּוִד לֵוִי", "محمد علي", "山", "山田太郎", "김민준 김민준", "a😀", "𠮷野家", "ชนาธิป", "अदिति"]


@pytest.mark.parametrize("name", SCRIPTS)
def test_invisible_text_is_found_in_every_script_and_draws_nothing(name, tmp_path):
    """Single characters too, and those beyond the BMP; it is placed over the lettering."""
    data = one_page(lambda pen: pen.draw_invisible_text(name, 30, 100, 60, 8))
    sound(data, tmp_path)
    page = pypdfium2.PdfDocument(data)[0]
    found = page.get_textpage().get_text_range()
    assert unicodedata.normalize("NFC", found) == unicodedata.normalize("NFC", name)
    assert np.asarray(page.render(scale=2).to_pil().convert("L")).min() == 255
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        chars, mm = pdf.pages[0].chars, 72 / 25.4
    assert min(c["x0"] for c in chars) / mm == pytest.approx(30, abs=0.05)
    assert max(c["x1"] for c in chars) / mm == pytest.approx(90, abs=0.05)


def test_no_line_ends_at_a_no_break_space():
    """French quotation marks keep theirs: « Gala » never leaves a mark alone on a line."""
    text = "la feuille de «\u00a0Gala\u202f»."
    for room in range(4, 40):
        rows = fonts.wrap(text, room, len)
        assert not any(row.startswith("»") or row.endswith("«") for row in rows) or room < 9
        assert " ".join(rows) == text or room < 9
    assert fonts.wrap("a  b\tc", 20, len) == ["a b c"]
