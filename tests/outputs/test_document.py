"""Files written by the assembler of papers, held against what was asked by pikepdf, pypdf, PDFium and qpdf."""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
import subprocess

import pdfplumber
import pikepdf
import pypdf
import pypdfium2
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.ttLib.tables._g_l_y_f import Glyph

from pipeline.outputs.paper import document, faces, look, unseen
from pipeline.outputs.paper.about import About, Attachment, finish
from pipeline.outputs.paper.document import Document, string
from pipeline.outputs.paper.fields import Form
from pipeline.outputs.paper.outline import Outline
from pipeline.outputs.paper.pen import Pen, Style

TEXTS = [
    "",
    "plain",
    "(row 5) \\ and ) alone",
    "one\rtwo\nthree\r\nfour\tend",
    "Björn Ærøskarv · 1 piece – “x”",
    "þÿ at its head",
    "山田 太郎 / שרה כהן / محمد",
    "𐌰 😀 beyond the first plane",
    "\x18\x7f codes with another meaning in PDF",
]


def closed(doc: Document, info: str = "<<>>") -> bytes:
    """With one empty page, so that readers take it for a document."""
    pages = doc.reserve()
    page = doc.add(f"<</Type/Page/Parent {pages} 0 R/MediaBox[0 0 10 10]/Resources<<>>>>")
    doc.add(f"<</Type/Pages/Count 1/Kids[{page} 0 R]>>", pages)
    doc.close(doc.add(f"<</Type/Catalog/Pages {pages} 0 R>>"), doc.add(info))
    return b"".join(doc.parts)


def sound(data: bytes, tmp_path) -> None:
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert pdf.check_pdf_syntax() == []
    if shutil.which("qpdf"):
        (tmp_path / "p.pdf").write_bytes(data)
        ran = subprocess.run(["qpdf", "--check", "p.pdf"], cwd=tmp_path, capture_output=True, text=True, check=False)
        assert ran.returncode == 0, ran.stdout + ran.stderr


# --- objects ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", TEXTS)
def test_a_text_string_comes_back_as_it_was(text):
    data = closed(Document(), f"<</Title{string(text)}/After 7>>")
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert str(pdf.docinfo.Title) == text
        assert pdf.docinfo.After == 7
    info = pypdf.PdfReader(io.BytesIO(data)).metadata
    assert info["/Title"] == text


@pytest.mark.parametrize("count", [1, document.TOGETHER - 1, document.TOGETHER, 3 * document.TOGETHER + 5])
def test_every_object_stands_where_the_table_says(count, tmp_path):
    doc = Document()
    kept = doc.reserve()  # added last, after streams and many others
    numbers = {doc.add(f"<</Own {i}/Text{string(TEXTS[i % len(TEXTS)])}>>"): i for i in range(count)}
    packed, plain = b"packed " * 999, bytes(range(256)) * 3
    streams = {
        doc.stream(packed, "/Kind/One"): packed,
        doc.stream(plain, "/Kind/Two", plain=True): plain,
        doc.stream(b""): b"",
    }
    doc.add("[1 2 3]", kept)
    data = closed(doc)
    sound(data, tmp_path)
    reader = pypdf.PdfReader(io.BytesIO(data))
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for number, i in numbers.items():
            read = pdf.get_object(number, 0)
            assert (int(read.Own), str(read.Text)) == (i, TEXTS[i % len(TEXTS)])
            assert reader.get_object(number)["/Own"] == i
        for number, meant in streams.items():
            assert pdf.get_object(number, 0).read_bytes() == meant
            assert reader.get_object(number).get_data() == meant
        assert list(pdf.get_object(kept, 0)) == [1, 2, 3]
        assert pdf.trailer.Size == len(pdf.objects) + 1


def test_equal_objects_give_equal_bytes_and_others_another_identity():
    def made(word: str) -> bytes:
        return closed(Document(), f"<</Title({word})>>")

    marks = {re.search(rb"/ID\[<(\w+)><\1>\]", made(word))[1] for word in ("one", "two")}
    assert made("one") == made("one")
    assert len(marks) == 2


# --- bookmarks -------------------------------------------------------------------------------------------------------

TREE = [
    ("Cover", []),
    ("Plaques", [("Ada", []), ("Björn", [("Detail", []), ("More", [])]), ("Cid", [])]),
    ("Empty", []),
    ("Decision", [("Last", [])]),
]


def test_bookmarks_are_a_tree_with_every_link_and_count(tmp_path):
    doc = Document()
    pages = [doc.reserve() for _ in range(10)]
    root = doc.reserve()
    for page in pages:
        doc.add(f"<</Type/Page/Parent {root} 0 R/MediaBox[0 0 10 10]/Resources<<>>>>", page)
    doc.add(f"<</Type/Pages/Count 10/Kids[{' '.join(f'{p} 0 R' for p in pages)}]>>", root)
    outline, asked = Outline(doc), iter(range(10))
    pages_of = {}

    def add(items, level):
        for title, below in items:
            pages_of[title] = next(asked)
            outline.add(title, pages[pages_of[title]], level)
            add(below, level + 1)

    add(TREE, 0)
    data = b"".join(finish(doc, About(title="", author=""), pages=root, outline=outline.close(), form=0))
    sound(data, tmp_path)

    def read(node) -> list:
        """Its children by /Next, after those by /Prev were found the same the other way."""
        there, back = [], []
        item = node.get("/First")
        while item is not None:
            there.append(item)
            assert item.Parent.objgen == node.objgen
            item = item.get("/Next")
        item = node.get("/Last")
        while item is not None:
            back.append(item.objgen)
            item = item.get("/Prev")
        assert [i.objgen for i in there] == back[::-1]
        found = [(str(i.Title), read(i)) for i in there]
        assert node.get("/Count", 0) == count(found)
        return found

    def count(items) -> int:
        return sum(1 + count(below) for _, below in items)

    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert read(pdf.Root.Outlines) == TREE
        found = {str(o.Title): o.Dest for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/Dest" in o}
        order = [page.obj.objgen for page in pdf.pages]
        assert {title: order.index(dest[0].objgen) for title, dest in found.items()} == pages_of
        assert all(dest[1] == "/Fit" for dest in found.values())


# --- what a document says about itself -------------------------------------------------------------------------------


def test_title_language_metadata_and_attachment_are_what_was_asked_for(tmp_path):
    pen = Pen(210.0, 297.0)
    pen.begin()
    pen.turn_page()
    parts = [b'{"a":', b"[1,2" + b",3" * 5000, b"]}"]
    attachment = Attachment(name="own.json", description="Über (this)", kind="application/json", parts=parts)
    said = {"title": "Ærø (A)", "author": "Shop", "subject": "proof X", "producer": "tool 1"}
    about = About(**said, language="en", xmp=b"<x:xmpmeta xmlns:x='adobe:ns:meta/'/>", attachment=attachment)
    data = b"".join(pen.close(about))
    sound(data, tmp_path)
    assert about.xmp in data  # readable without the document
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert {k.strip("/").lower(): str(v) for k, v in pdf.docinfo.items()} == said
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


def test_fields_and_links_stand_on_their_pages_in_the_order_they_were_asked_for(tmp_path):
    pen = Pen(210.0, 297.0)
    form = Form(pen)
    asked = []
    for page in (1, 2):
        pen.begin()
        pen.link(10, 20, 30, 5, 3 - page)
        form.tick(f"tick{page}", (10, 200, 4, 4), f"Ada (row {page})")
        form.text(f"text{page}", (20, 100, 50.5, 8), "Łódź", several=page == 2)
        form.choice("choice", f"option{page}", (30, 30, 4.6, 4.6), "one of two")
        asked.append(["/Link", f"tick{page}", f"text{page}", "choice"])
        if page == 2:
            form.hidden("hidden", '{"a":"(b)"}', "unseen")
            asked[-1].append("hidden")
        pen.turn_page()
    data = b"".join(pen.close(About(title="t", author="a"), form.close()))
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
            for a in notes[1:4]:  # its appearance is as large as the field
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


def test_hundreds_of_characters_are_all_found_at_their_places(tmp_path):
    """Over 500 characters of the reading face, so that both bytes of a code are needed and every one of them occurs."""
    letters = [c for c in sorted(faces.known()) if c.isalpha() and c.isprintable()]
    letters = [c for c in letters if len(c.encode("utf-16-be")) == 2][:600]
    assert len(letters) > 520
    rows = ["".join(letters[i : i + 40]) for i in range(0, len(letters), 40)]
    pen = Pen(400.0, 297.0)
    pen.begin()
    for i, row in enumerate(rows):
        pen.text(10, 280 - 10 * i, row, look.BODY)
    pen.turn_page()
    data = b"".join(pen.close(About(title="t", author="a")))
    sound(data, tmp_path)
    whole = "".join(rows)
    assert re.sub(r"\s", "", pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text()) == whole
    assert re.sub(r"\s", "", pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range()) == whole
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        chars = pdf.pages[0].chars
        assert {c["fontname"] for c in chars} == {"AAAAAA+NotoSans-Regular"}
    mm, at = 72 / 25.4, 0
    for row in rows:
        for k in range(len(row)):
            start = 10 + faces.width(row[:k], look.BODY.mm)
            assert chars[at + k]["x0"] / mm == pytest.approx(start, abs=0.01)
        at += len(row)


def test_a_face_that_is_not_used_is_not_carried():
    pen = Pen(210.0, 297.0)
    pen.begin()
    pen.text(10, 10, "Ada (a) \\ ", look.BODY)
    pen.turn_page()
    data = b"".join(pen.close(About(title="t", author="a")))
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert list(pdf.pages[0].resources.Font.keys()) == ["/PaperSans"]
    assert pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text().strip() == "Ada (a) \\"


def test_a_drawing_that_comes_back_is_written_once_with_what_it_uses():
    pen = Pen(210.0, 297.0)
    for _ in range(3):
        pen.begin()
        with pen.form("outer", (0, 0, 50, 20)) as new:
            if new:
                with pen.form("inner", (0, 0, 5, 5)) as inner:
                    assert inner
                    pen.box(0, 0, 5, 5, fill=look.INK)
                pen.place("inner", "1 0 0 1 2 2")
                pen.text(1, 1, "said once", Style(9, look.INK))
        pen.place("outer", "1 0 0 1 10 10")
        pen.turn_page()
    data = b"".join(pen.close(About(title="t", author="a")))
    with pikepdf.open(io.BytesIO(data)) as pdf:
        forms = pdf.pages[0].resources.XObject
        assert len(forms) == 2
        assert sum(isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Form" for o in pdf.objects) == 2
        (outer,) = [f for f in forms.values() if "/XObject" in f.Resources]
        assert list(outer.Resources.Font.keys()) == ["/PaperSans"]
        (inner,) = outer.Resources.XObject.values()
        assert inner.Resources.keys() == set()
    for page in pypdf.PdfReader(io.BytesIO(data)).pages:
        assert page.extract_text().strip() == "said once"


def test_the_font_that_draws_nothing_is_what_its_library_builds():
    builder = FontBuilder(unseen.EM, isTTF=True)
    builder.setupGlyphOrder([".notdef"])
    builder.setupCharacterMap({})
    builder.setupGlyf({".notdef": Glyph()})
    builder.setupHorizontalMetrics({".notdef": (unseen.ADVANCE, 0)})
    builder.setupHorizontalHeader(ascent=unseen.HEIGHT, descent=0)
    builder.setupNameTable({"familyName": "PaperUnseen", "styleName": "Regular", "psName": "PaperUnseen"})
    builder.setupOS2(sTypoAscender=unseen.HEIGHT, usWinAscent=unseen.HEIGHT, usWinDescent=0)
    builder.setupPost()
    builder.font["head"].created = builder.font["head"].modified = 0
    builder.font.recalcTimestamp = False
    out = io.BytesIO()
    builder.font.save(out)
    assert unseen.font_file() == out.getvalue()
