"""Papers as they come back, made by meaning: a proof and a check sheet filled in as a client does, then changed in one
of the ways that papers are changed, by hand, by viewers, by accident or by malice. By hand:

    python -m tests.long.returned_papers [PDFs] [check sheets] [seed]

Of each it is known which plaques the client agreed to, and which of them may not count because something else was
written, drawn, lost or forged. None of the others may be agreed; nothing may end in a traceback, take more than ten
seconds or 500 MB. `tests/signoff/returned/test_returned_papers.py` runs a slice.
"""

from __future__ import annotations

import hashlib
import io
import random
import resource
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass, field
from pathlib import Path

import openpyxl
import pikepdf
import pikepdf.form
import pypdf
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from pikepdf import Array, Dictionary, Name, Stream, String
from pypdf.annotations import FreeText, Highlight, Line, Rectangle, Text
from pypdf.generic import ArrayObject, FloatObject

from pipeline.core.short_codes import build_order_id
from pipeline.outputs.pdf.identity import ATTACHMENT, FIELD
from pipeline.signoff.returned.answers import ReturnedPaper
from pipeline.signoff.returned.check_sheet_answers import SentSheet, read_answer_sheet
from pipeline.signoff.returned.returned_proof import read_proof_bytes
from pipeline.signoff.returned.sent_copy import SentCopy
from tests import builders
from tests import check_words as heads
from tests.signoff.rounds import Round

CODE = build_order_id("Wardens of the Shore 2026", "Tidewrack Seabird Trust")
NAMES = ("Ada Kittiwake", "Bo Fulmar", "Cy Gannet", "Márta Szélfuvás")
SECONDS, MEGABYTES = 10.0, 500.0


@dataclass
class Desk:
    """An order whose proof and check sheet were sent."""

    folder: Path
    trip: Round = field(init=False)

    def __post_init__(self) -> None:
        self.trip = Round(self.folder, tuple(builders.plaque(5 + n, name) for n, name in enumerate(NAMES)))
        self.trip.run(proof=True)
        self.proof = (self.folder / "sent" / "proof-A.pdf").read_bytes()
        self.sheet = self.folder / "sent" / "check-A.xlsx"
        self.marks = [p.fingerprint for p in self.trip.plaques]
        copy = self.folder / "sent" / "proof-A.pdf"
        self.copies = {("A", 0): SentCopy(path=copy, sha256=hashlib.sha256(self.proof).hexdigest())}
        with pikepdf.open(io.BytesIO(self.proof)) as pdf:
            self.pages = len(pdf.pages)
            self.on_page = {
                str(a.T).removeprefix("correct_"): n
                for n, page in enumerate(pdf.pages)
                for a in page.obj.get("/Annots", [])
                if str(a.get("/T", "")).startswith("correct_")
            }

    def read_proof(self, data: bytes) -> ReturnedPaper:
        return read_proof_bytes(data, "back.pdf", order_id=CODE, revision="A", copies=self.copies)

    def read_sheet(self, data: bytes) -> ReturnedPaper:
        file = self.folder / "back.xlsx"
        file.write_bytes(data)
        made = next(e for e in self.trip.ledger.read_entries() if e.kind == "proof")
        return read_answer_sheet(file, lambda revision: SentSheet(designs=made.designs, sheets=(self.sheet,)))


@dataclass
class Case:
    """A paper. may: fingerprints that may be agreed; must: that have to be, where nothing was changed that counts."""

    kind: str
    data: bytes
    may: set[str]
    must: set[str] = field(default_factory=set)


# --- proofs ----------------------------------------------------------------------------------------------------------


DECIDED = "decision"
"""The choice on the last page, ticked as the first of its options."""


def filled(desk: Desk, how: str, agreed: set[str], everything: bool, **more: str) -> bytes:
    """Filled in by a library that did not write it."""
    ticks = {f"correct_{mark}" for mark in agreed} | ({DECIDED} if everything else set())
    texts = {"name": "Rowan Petrel", "date": "2 May 2026", **more}
    return {"pikepdf": _by_pikepdf, "pypdf": _by_pypdf, "PDFium": _by_pdfium}[how](desk.proof, ticks, texts)


def _by_pikepdf(sent: bytes, ticks: set[str], texts: dict[str, str]) -> bytes:
    with pikepdf.open(io.BytesIO(sent)) as pdf:
        form = pikepdf.form.Form(pdf, pikepdf.form.DefaultAppearanceStreamGenerator)
        for name in ticks:
            if name == DECIDED:
                form[name].selected = form[name].options[0]
            else:
                form[name].checked = True
        for name, text in texts.items():
            form[name].value = text
        return saved(pdf)


def _by_pypdf(sent: bytes, ticks: set[str], texts: dict[str, str]) -> bytes:
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(sent))
    for page in writer.pages:
        values = {**texts, **dict.fromkeys(ticks - {DECIDED}, "/Yes")}
        writer.update_page_form_field_values(page, values, auto_regenerate=False)
        for widget in (a.get_object() for a in page.get("/Annots", []) if DECIDED in ticks):
            if "/Parent" in widget and "/agreed-as-shown" in widget["/AP"]["/N"]:
                on = pypdf.generic.NameObject("/agreed-as-shown")
                widget[pypdf.generic.NameObject("/AS")] = on
                widget["/Parent"].get_object()[pypdf.generic.NameObject("/V")] = on
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def _middle(box: list[float]) -> tuple[float, float]:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def _by_pdfium(sent: bytes, ticks: set[str], texts: dict[str, str]) -> bytes:
    import pypdfium2
    from pypdfium2 import raw

    with pikepdf.open(io.BytesIO(sent)) as known:
        places = {
            str(a.get("/T", DECIDED)): (
                n,
                (float(a.Rect[0]) + float(a.Rect[2])) / 2,
                (float(a.Rect[1]) + float(a.Rect[3])) / 2,
            )
            for n, page in enumerate(known.pages)
            for a in page.obj.get("/Annots", [])
            if "/T" in a or ("/Parent" in a and "/agreed-as-shown" in a.AP.N)
        }
    pdf = pypdfium2.PdfDocument(sent)
    pdf.init_forms()
    form = pdf.formenv
    for name in (*sorted(ticks), *texts):
        number, x, y = places[name]
        page = pdf[number]
        raw.FORM_OnMouseMove(form, page, 0, x, y)
        raw.FORM_OnLButtonDown(form, page, 0, x, y)
        raw.FORM_OnLButtonUp(form, page, 0, x, y)
        if name in texts:
            words = (texts[name] + "\0").encode("utf-16-le")
            buffer = (raw.FPDF_WCHAR * (len(words) // 2)).from_buffer_copy(words)
            raw.FORM_ReplaceSelection(form, page, buffer)
        raw.FORM_ForceToKillFocus(form)
        page.close()
    out = io.BytesIO()
    pdf.save(out)
    return out.getvalue()


def saved(pdf: pikepdf.Pdf, **how: object) -> bytes:
    out = io.BytesIO()
    pdf.save(out, **how)  # type: ignore[arg-type]
    return out.getvalue()


Change = Callable[[pikepdf.Pdf, Desk, random.Random, str], "set[str] | None"]
"""Changes a filled proof. The fingerprint is of the plaque it is aimed at. Gives those that may no longer count: None
for all."""


def page_of(pdf: pikepdf.Pdf, desk: Desk, mark: str) -> pikepdf.Page:
    return pdf.pages[desk.on_page[mark]]


def others(desk: Desk, mark: str) -> set[str]:
    """All plaques on the page of this one."""
    return {m for m, page in desk.on_page.items() if page == desk.on_page[mark]}


def field_of(pdf: pikepdf.Pdf, name: str) -> pikepdf.Object:
    return next(f for f in pdf.Root.AcroForm.Fields if str(f.get("/T", "")) == name)


def over(page: pikepdf.Page, operators: bytes) -> None:
    """Draws over a page, in points."""
    page.contents_add(b"q", prepend=True)
    page.contents_add(b"Q " + operators)


def drawn_over(pdf, desk, rng, mark):
    x, y = rng.randint(60, 400), rng.randint(100, 700)
    page = page_of(pdf, desk, mark)
    page.obj.Resources.Font.Hand = Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name("/Helvetica"))
    word = rng.choice(["NO", "wrong year", "see letter", "?", "Szélfúvás"]).encode("cp1252", "replace")
    size = rng.choice([7, 9, 14])
    over(page, b"q 0.1 0.1 0.6 rg BT /Hand %d Tf %d %d Td (%s) Tj ET Q" % (size, x, y, word))
    return others(desk, mark)


def line_over(pdf, desk, rng, mark):
    x, y = rng.randint(60, 300), rng.randint(100, 700)
    wide = rng.choice([0.5, 1, 2])
    operators = b"q 0.8 0 0 RG %.1f w %d %d m %d %d l S Q" % (wide, x, y, x + 90, y + 9)
    over(page_of(pdf, desk, mark), operators)
    return others(desk, mark)


def painted_out(pdf, desk, rng, mark):
    over(page_of(pdf, desk, mark), b"q 1 g 40 90 500 650 re f Q")
    return others(desk, mark)


def emptied(pdf, desk, rng, mark):
    page_of(pdf, desk, mark).obj.Contents = pdf.make_stream(b"")
    return others(desk, mark)


def cover_written_on(pdf, desk, rng, mark):
    over(pdf.pages[0], b"q 0 0 1 RG 2 w 100 300 m 200 320 l 150 280 l S Q")


def page_taken_out(pdf, desk, rng, mark):
    del pdf.pages[desk.on_page[mark]]
    return others(desk, mark)


def last_page_taken_out(pdf, desk, rng, mark):
    del pdf.pages[-1]


def pages_in_another_order(pdf, desk, rng, mark):
    first = pdf.pages[1]
    del pdf.pages[1]
    pdf.pages.append(first)
    return set()


def page_added(pdf, desk, rng, mark):
    pdf.add_blank_page()
    pdf.pages[-1].contents_add(b"0 0 1 RG 50 50 m 200 200 l S")


def page_for_a_page(pdf, desk, rng, mark):
    other = rng.choice([m for m in desk.marks if desk.on_page[m] != desk.on_page[mark]])
    page_of(pdf, desk, mark).obj.Contents = page_of(pdf, desk, other).obj.Contents
    page_of(pdf, desk, mark).obj.Resources = page_of(pdf, desk, other).obj.Resources
    return others(desk, mark)


def cropped(pdf, desk, rng, mark):
    page_of(pdf, desk, mark).obj.CropBox = Array([0, 0, 595, 400])
    return others(desk, mark)


def turned(pdf, desk, rng, mark):
    page_of(pdf, desk, mark).obj.Rotate = 180
    return others(desk, mark)


def in_a_layer(pdf, desk, rng, mark):
    layer = pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String("names")))
    pdf.Root.OCProperties = Dictionary(OCGs=Array([layer]), D=Dictionary(OFF=Array([layer])))
    page = page_of(pdf, desk, mark)
    page.obj.Resources.Properties = Dictionary(L=layer)
    page.contents_add(b"/OC /L BDC", prepend=True)
    page.contents_add(b"EMC")


def field_renamed(pdf, desk, rng, mark):
    kind = rng.choice(["correct", "change", "leave"])
    field_of(pdf, f"{kind}_{mark}").T = String(f"{kind}_{rng.choice([m for m in desk.marks if m != mark])[::-1]}")
    return {m for m in desk.marks if desk.on_page[m] == desk.on_page[mark]}  # whose field it is, nothing says


def fields_swapped(pdf, desk, rng, mark):
    other = rng.choice([m for m in desk.marks if desk.on_page[m] != desk.on_page[mark]])
    one, two = field_of(pdf, f"correct_{mark}"), field_of(pdf, f"correct_{other}")
    one.T, two.T = two.T, one.T
    return {mark, other}


def field_doubled(pdf, desk, rng, mark):
    pdf.Root.AcroForm.Fields.append(pdf.make_indirect(Dictionary(T=String(f"correct_{mark}"), FT=Name.Btn, V=Name.Yes)))


def fields_under_a_parent(pdf, desk, rng, mark):
    above = pdf.make_indirect(Dictionary(T=String("order"), Kids=pdf.Root.AcroForm.Fields))
    pdf.Root.AcroForm.Fields = Array([above])


def own_field(pdf, desk, rng, mark):
    page = page_of(pdf, desk, mark)
    box = Array([100, 100, 300, 120])
    words = String(rng.choice(["please no", "", "Anna with two n"]))
    made = Dictionary(Type=Name.Annot, Subtype=Name.Widget, Rect=box, FT=Name.Tx, T=String("mine"), V=words)
    made = pdf.make_indirect(made)
    page.obj.Annots.append(made)
    pdf.Root.AcroForm.Fields.append(made)
    return others(desk, mark)


def box_without_a_form(pdf, desk, rng, mark):
    made = Dictionary(Type=Name.Annot, Subtype=Name.Widget, Rect=Array([100, 100, 300, 120]), FT=Name.Tx)
    made.V = String("not this one")
    page_of(pdf, desk, mark).obj.Annots.append(pdf.make_indirect(made))
    return others(desk, mark)


def boxes_taken_off(pdf, desk, rng, mark):
    page = page_of(pdf, desk, mark)
    page.obj.Annots = Array(a for a in page.obj.Annots if not str(a.get("/T", "")).endswith(mark))
    return {mark}


def box_hidden(pdf, desk, rng, mark):
    field_of(pdf, f"{rng.choice(['correct', 'change', 'leave'])}_{mark}").F = rng.choice([2, 32, 34])
    return {mark}


def box_moved(pdf, desk, rng, mark):
    field_of(pdf, f"leave_{mark}").Rect = Array([5, 5, 15, 15])
    return {mark}


def value_only_shown(pdf, desk, rng, mark):
    name = rng.choice([f"change_{mark}", f"change_{mark}", "remarks"])
    f = field_of(pdf, name)
    size = [float(v) for v in f.Rect]
    made = Stream(pdf, b"/Tx BMC q BT /Helv 9 Tf 2 4 Td (Ada with one t) Tj ET Q EMC")
    made.update({"/Type": Name.XObject, "/Subtype": Name.Form})
    made.BBox = Array([0, 0, size[2] - size[0], size[3] - size[1]])
    made.Resources = Dictionary(Font=Dictionary(Helv=pdf.Root.AcroForm.DR.Font.Helv))
    f.AP = Dictionary(N=pdf.make_indirect(made))
    return None if name == "remarks" else {mark}


def drawing_in_a_field(pdf, desk, rng, mark):
    f = field_of(pdf, f"change_{mark}")
    made = Stream(pdf, b"q 0 0 0.6 RG 1 w 2 2 m 60 14 l 80 3 l S Q")
    made.update({"/Type": Name.XObject, "/Subtype": Name.Form})
    made.BBox = Array([0, 0, 200, 28])
    f.AP = Dictionary(N=pdf.make_indirect(made))
    return {mark}


def tick_that_lies(pdf, desk, rng, mark):
    f = field_of(pdf, f"correct_{mark}")
    how = rng.choice(["stored", "shown", "picture", "empty"])
    on = f.AP.N.Yes
    if how == "stored":
        f.V, f.AS = Name.Yes, Name.Off
    elif how == "shown":
        f.V, f.AS = Name.Off, Name.Yes
    elif how == "picture":  # the empty state shows a tick
        leave = field_of(pdf, f"leave_{mark}")
        leave.AP = Dictionary(N=Dictionary({"/Yes": on, "/Off": on}))
    else:  # ticked, and shown as not ticked
        f.AP = Dictionary(N=Dictionary({"/Yes": f.AP.N.Off, "/Off": f.AP.N.Off}))
    return {mark}


def choices_swapped(pdf, desk, rng, mark):
    f = field_of(pdf, "decision")
    kids = list(f.Kids)
    kids[0].AP, kids[-1].AP = kids[-1].AP, kids[0].AP
    f.V = Name("/agreed-as-shown")
    for kid in kids:
        kid.AS = Name("/agreed-as-shown") if "/agreed-as-shown" in kid.AP.N else Name.Off


def unknown_choice(pdf, desk, rng, mark):
    f = field_of(pdf, "decision")
    f.V = Name("/none-of-these")


def another_identity(pdf, desk, rng, mark):
    f = field_of(pdf, FIELD)
    f.V = String(str(f.V).replace('"pieces":1', f'"pieces":{rng.choice(["2", "-5", "99999999999", "1.5", "null"])}', 1))


def both_identities(pdf, desk, rng, mark):
    """Changed alike in both places."""
    old, new = rng.choice([('"pieces":1', '"pieces":-5'), ('"pieces":1', '"pieces":7'), ('"asked":false', '"asked":1')])
    f = field_of(pdf, FIELD)
    f.V = String(str(f.V).replace(old, new, 1))
    data = bytes(pdf.attachments[ATTACHMENT].get_file().read_bytes()).replace(old.encode(), new.encode(), 1)
    del pdf.attachments[ATTACHMENT]
    pdf.attachments[ATTACHMENT] = data


def deep_identity(pdf, desk, rng, mark):
    field_of(pdf, FIELD).V = String("[" * 100_000)


def letter_changed(pdf, desk, rng, mark):
    f = field_of(pdf, FIELD)
    f.V = String(str(f.V).replace('"revision":"A"', '"revision":"B"'))
    del pdf.attachments[ATTACHMENT]


def file_attached(pdf, desk, rng, mark):
    pdf.attachments["letter.txt"] = b"please do not cut any of these"


def remarks_made(pdf, desk, rng, mark):
    said = rng.choice(["No. 3 is wrong", "Bitte warten", "All good, but one r too many in the second", "👎", "不要刻"])
    field_of(pdf, "remarks").V = String(said)


def thanks_given(pdf, desk, rng, mark):
    field_of(pdf, "remarks").V = String(rng.choice(["Thank you!", "Many thanks.", "none", "-"]))
    return set()


def nobody_signed(pdf, desk, rng, mark):
    blank = rng.choice(["\u200b", "\u3164", "\u2800", "\u00ad", "\u202e\u2066", "\ufeff\u200d", "\u3000", "\U000e0041"])
    field_of(pdf, "name").V = String(blank * 3)


def script_added(pdf, desk, rng, mark):
    script = Dictionary(S=Name.JavaScript, JS=String("this.getField('x').value = 1"))
    pdf.Root.Names.JavaScript = Dictionary(Names=Array([String("a"), pdf.make_indirect(script)]))


def second_form(pdf, desk, rng, mark):
    pdf.Root.AcroForm.XFA = pdf.make_stream(b"<xdp:xdp xmlns:xdp='http://ns.adobe.com/xdp/'/>")


def loop_of_fields(pdf, desk, rng, mark):
    f = pdf.make_indirect(Dictionary(T=String("loop")))
    f.Kids = Array([f, f])
    pdf.Root.AcroForm.Fields.append(f)


def loop_of_pages(pdf, desk, rng, mark):
    pdf.Root.Pages.Kids.append(pdf.Root.Pages)


def value_of_another_kind(pdf, desk, rng, mark):
    odd = rng.choice([Array([1, 2]), Dictionary(A=1), 7, True, pdf.make_stream(b"Ada" * 3)])
    field_of(pdf, f"change_{mark}").V = odd
    return {mark}


def enormous_value(pdf, desk, rng, mark):
    field_of(pdf, f"change_{mark}").V = pdf.make_stream(b"A" * 30_000_000)
    return {mark}


def change_and_agreement(pdf, desk, rng, mark):
    field_of(pdf, f"change_{mark}").V = String("Ada Kittywake")
    return {mark}


ANNOTATIONS = (
    lambda rng: FreeText(text=rng.choice(["not this", "ok?"]), rect=(100, 100, 200, 120)),
    lambda rng: Text(text="one r too few", rect=(100, 100, 120, 120)),
    lambda rng: Line(p1=(100, 100), p2=(300, 110), rect=(100, 100, 300, 110), text=""),
    lambda rng: Rectangle(rect=(100, 100, 300, 200)),
    lambda rng: Highlight(
        rect=(100, 100, 200, 120),
        quad_points=ArrayObject([FloatObject(v) for v in (100, 120, 200, 120, 100, 100, 200, 100)]),
    ),
)


def annotated(data: bytes, desk: Desk, rng: random.Random, mark: str) -> tuple[bytes, set[str] | None]:
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(data))
    where = rng.choice(["card", "card", "cover", "last"])
    page = {"card": desk.on_page[mark], "cover": 0, "last": desk.pages - 1}[where]
    writer.add_annotation(page, rng.choice(ANNOTATIONS)(rng))
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue(), others(desk, mark) if where == "card" else None


CHANGES: tuple[Change, ...] = (
    drawn_over, drawn_over, line_over, painted_out, emptied, cover_written_on, page_taken_out, last_page_taken_out,
    pages_in_another_order, page_added, page_for_a_page, cropped, turned, in_a_layer, field_renamed, fields_swapped,
    field_doubled, fields_under_a_parent, own_field, box_without_a_form, boxes_taken_off, box_hidden, box_moved,
    value_only_shown, value_only_shown, drawing_in_a_field, tick_that_lies, tick_that_lies, choices_swapped,
    unknown_choice, another_identity, both_identities, deep_identity, letter_changed, file_attached, remarks_made,
    thanks_given, nobody_signed, script_added, second_form, loop_of_fields, loop_of_pages, value_of_another_kind,
    enormous_value, change_and_agreement,
)  # fmt: skip


def _resaved(data: bytes, rng: random.Random) -> bytes:
    """Written anew in one of the ways of viewers."""
    how = rng.choice(["streams", "plain", "linear", "qdf", "PDFium", "pypdf", "owner", "content"])
    if how == "PDFium":
        import pypdfium2

        out = io.BytesIO()
        pypdfium2.PdfDocument(data).save(out)
        return out.getvalue()
    if how == "pypdf":
        out = io.BytesIO()
        pypdf.PdfWriter(clone_from=io.BytesIO(data)).write(out)
        return out.getvalue()
    ways: dict[str, dict[str, object]] = {
        "streams": {"object_stream_mode": pikepdf.ObjectStreamMode.generate, "recompress_flate": True},
        "plain": {"object_stream_mode": pikepdf.ObjectStreamMode.disable, "compress_streams": False},
        "linear": {"linearize": True},
        "qdf": {"qdf": True},
        "owner": {"encryption": pikepdf.Encryption(owner="keep", user="")},
        "content": {"normalize_content": True},
    }
    with pikepdf.open(io.BytesIO(data)) as pdf:
        return saved(pdf, **ways[how])


def _updated(data: bytes, desk: Desk, rng: random.Random, mark: str) -> bytes:
    """An update after the end of the file in which the client takes an agreement back, as viewers append it."""
    reader = pypdf.PdfReader(io.BytesIO(data))
    writer = pypdf.PdfWriter(reader, incremental=True)
    page = writer.pages[desk.on_page[mark]]
    writer.update_page_form_field_values(page, {f"change_{mark}": "Ada Kittywake"}, auto_regenerate=False)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def proof_case(desk: Desk, rng: random.Random) -> Case:
    """One returned proof."""
    marks = set(desk.marks)
    everything = rng.random() < 0.5
    agreed = {m for m in desk.marks if rng.random() < 0.6} or {desk.marks[0]}
    how = rng.choice(["pikepdf", "pypdf", "PDFium"])
    data = filled(desk, how, agreed, everything)
    if everything:
        agreed = marks
    mark = rng.choice(desk.marks)
    sort = rng.choice(["saved", "changed", "changed", "changed", "changed", "annotated", "bytes", "cut", "after"])
    if sort == "saved":
        return Case(f"filled by {how}, saved anew", _resaved(data, rng), agreed, agreed)
    if sort == "annotated":
        data, gone = annotated(data, desk, rng, mark)
        return Case("annotated", data, agreed - (marks if gone is None else gone))
    if sort == "bytes":
        raw = bytearray(data)
        for _ in range(rng.choice([1, 3, 20])):
            raw[rng.randrange(len(raw))] = rng.randrange(256)
        return Case("bytes flipped", bytes(raw), agreed)
    if sort == "cut":
        longer = _updated(data, desk, rng, mark)
        at = rng.randrange(len(data) + 1, len(longer) - 1)
        return Case("update cut off", longer[:at], set())
    if sort == "after":
        return Case("bytes after the end", data + rng.choice([b"hello", b"%PDF-1.7", b"1 0 obj", b"%%EO"]), set())
    change = rng.choice(CHANGES)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        gone = change(pdf, desk, rng, mark)
        data = saved(pdf)
    harmless = gone == set()
    may = agreed - (marks if gone is None else gone)
    return Case(change.__name__.replace("_", " "), data, may, agreed if harmless else set())


# --- check sheets ----------------------------------------------------------------------------------------------------


def _answered(desk: Desk, rng: random.Random) -> tuple[openpyxl.Workbook, dict[str, int], set[str]]:
    book = openpyxl.load_workbook(desk.sheet)
    sheet = book[heads.SHEET]
    column = {c.value: c.column for c in sheet[1]}
    agreed = set()
    for row in range(2, sheet.max_row + 1):
        if rng.random() < 0.7:
            sheet.cell(row, column[heads.ANSWER]).value = rng.choice(["agreed", "Agreed", "x", "OK", "yes"])
            agreed.add(sheet.cell(row, column[heads.FINGERPRINT]).value)
    for row in book[heads.SIGN_SHEET].iter_rows():
        if row[0].value == heads.BY:
            row[1].value = "Rowan Petrel"
    return book, column, agreed


def sheet_case(desk: Desk, rng: random.Random) -> Case:
    """One returned check sheet."""
    book, column, agreed = _answered(desk, rng)
    sheet, sign = book[heads.SHEET], book[heads.SIGN_SHEET]
    row = rng.randint(2, sheet.max_row)
    mark = sheet.cell(row, column[heads.FINGERPRINT]).value
    kinds = (
        "as it is", "sorted", "own column", "comment", "struck", "struck in part", "coloured", "lettering overwritten",
        "pieces changed", "fingerprint changed", "row deleted", "row doubled", "sheet added", "written below",
        "remarks", "chart sheet", "far down", "far off", "nobody signed", "heading renamed", "note in another column",
        "cell text", "entities", "bomb", "bytes flipped", "cut off", "many far cells", "locked",
        "comment on the other sheet",
    )  # fmt: skip
    kind = rng.choice(kinds)
    gone: set[str] | None = {mark}

    def cell(name: str) -> openpyxl.cell.Cell:
        return sheet.cell(row, column[name])

    if kind in ("as it is", "sorted"):
        gone = set()
        if kind == "sorted":
            rows = [[c.value for c in r] for r in sheet.iter_rows(min_row=2)]
            fills = [[copy(c.fill) for c in r] for r in sheet.iter_rows(min_row=2)]
            for n, (values, grounds) in enumerate(zip(reversed(rows), reversed(fills), strict=True), 2):
                for c, (value, ground) in enumerate(zip(values, grounds, strict=True), 1):
                    sheet.cell(n, c).value, sheet.cell(n, c).fill = value, ground
    elif kind == "own column":
        sheet.cell(row, sheet.max_column + rng.randint(1, 5)).value = rng.choice(["no!", "ask Joan", 0, False])
    elif kind == "comment":
        cell(heads.TEXT).comment = Comment("one r too few", "Joan")
    elif kind == "comment on the other sheet":
        sign["A1"].comment = Comment("please wait", "Joan")
        gone = None
    elif kind == "struck":
        cell(rng.choice([heads.TEXT, heads.ANSWER, heads.ROW, heads.PIECES])).font = Font(strike=True)
        if cell(heads.ANSWER).font.strike and not cell(heads.ANSWER).value:
            gone = set(agreed) & {mark}
    elif kind == "struck in part":
        from openpyxl.cell.rich_text import CellRichText, TextBlock
        from openpyxl.cell.text import InlineFont

        text = str(cell(heads.TEXT).value)
        cell(heads.TEXT).value = CellRichText(TextBlock(InlineFont(strike=True), text[:5]), text[5:])
    elif kind == "coloured":
        cell(heads.TEXT).fill = PatternFill("solid", start_color="FFFF8888")
    elif kind == "lettering overwritten":
        cell(heads.TEXT).value = str(cell(heads.TEXT).value) + "s"
    elif kind == "pieces changed":
        cell(heads.PIECES).value = rng.choice([2, 0, -5, "two", 1e300, "1 000"])
    elif kind == "fingerprint changed":
        other = rng.choice(["ABC", "", str(mark)[::-1], desk.marks[desk.marks[0] == mark]])
        cell(heads.FINGERPRINT).value = other
        gone = {mark, other}
    elif kind == "row deleted":
        sheet.delete_rows(row)
    elif kind == "row doubled":
        sheet.append([c.value for c in sheet[row]])
    elif kind == "sheet added":
        book.create_sheet("Note")["C7"] = "none of these, please"
        gone = None
    elif kind == "written below":
        sheet.cell(sheet.max_row + 4, 2).value = "not yet!"
        gone = None
    elif kind == "remarks":
        next(r for r in sign.iter_rows() if r[0].value == heads.REMARKS)[1].value = "second one is wrong"
        gone = None
    elif kind == "chart sheet":
        book.create_chartsheet("Chart")
        gone = None
    elif kind == "far down":
        sheet["A200000"] = "x"
        gone = None
    elif kind == "far off":
        sheet["XFD1048576"] = "x"
        gone = None
    elif kind == "many far cells":
        for n in range(500):
            sheet.cell(1000 + 2000 * n, 16384 - n).value = "x"
        gone = None
    elif kind == "nobody signed":
        blank = rng.choice(["\u200b", "\u3164", "\u2800", "\u00ad", "\u3000", "\ufeff"])
        next(r for r in sign.iter_rows() if r[0].value == heads.BY)[1].value = blank
        gone = None
    elif kind == "heading renamed":
        sheet.cell(1, column[rng.choice([heads.ANSWER, heads.PIECES, heads.FINGERPRINT])]).value = "mine"
        gone = None
    elif kind == "note in another column":
        cell(rng.choice([heads.FOUND, heads.TO_DO, heads.QUESTION, heads.STATE, heads.SIGNED])).value = "no, wrong"
    elif kind == "cell text":
        cell(heads.ANSWER).value = rng.choice(["no", "agreed, but 2027", "=1+1", "not agreed", "agreed?", "\u200b"])
    out = io.BytesIO()
    book.save(out)
    data = out.getvalue()
    if kind in ("entities", "bomb"):
        data, gone = _repacked(data, kind), None
    elif kind == "bytes flipped":
        raw = bytearray(data)
        for _ in range(rng.choice([1, 3, 20, 200])):
            raw[rng.randrange(len(raw))] = rng.randrange(256)
        data, gone = bytes(raw), {mark} - {mark}
        return Case(kind, data, agreed)
    elif kind == "cut off":
        data, gone = data[: rng.randrange(len(data))], None
    elif kind == "locked":
        data, gone = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + data, None
    may = agreed - (set(desk.marks) if gone is None else gone)
    return Case(kind, data, may, agreed if gone == set() and kind in ("as it is", "sorted") else set())


def _repacked(data: bytes, kind: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            held = old.read(part)
            if part.filename == "xl/worksheets/sheet1.xml" and kind == "entities":
                bomb = (
                    b'<!DOCTYPE x [<!ENTITY a "'
                    + b"a" * 1000
                    + b'">'
                    + b"".join(b'<!ENTITY %c "%s">' % (98 + n, b"&%c;" % (97 + n) * 30) for n in range(9))
                    + b"]>"
                )
                held = held.replace(b"?>", b"?><!--" + b" " * 5000 + b"-->" + bomb, 1).replace(b"<v>", b"<v>&j;", 1)
            new.writestr(part, held)
        if kind == "bomb":
            new.writestr("xl/media/image1.bin", bytes(300 * 2**20))
    return out.getvalue()


# --- held against what the client meant -------------------------------------------------------------------------------


@dataclass
class Count:
    """What came of many papers."""

    papers: Counter[str] = field(default_factory=Counter)
    clear: Counter[str] = field(default_factory=Counter)  # nothing left to a person
    refused: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    slowest: tuple[float, str] = (0.0, "")


def judge(count: Count, case: Case, read: Callable[[bytes], ReturnedPaper]) -> None:
    """Reads a paper and notes everything that is not as it has to be."""
    begun = time.perf_counter()
    try:
        paper = read(case.data)
    except Exception as error:  # what a test of hostile papers is for
        count.wrong.append(f"{case.kind}: {type(error).__name__}: {error}")
        return
    took = time.perf_counter() - begun
    count.slowest = max(count.slowest, (took, case.kind))
    count.papers[case.kind] += 1
    taken = {a.fingerprint for a in paper.answers if a.decision == "agreed"} if paper.usable and paper.by else set()
    if not paper.usable:
        count.refused[case.kind] += 1
    elif not any(a.decision == "unclear" for a in paper.answers):
        count.clear[case.kind] += 1
    if taken - case.may:
        count.wrong.append(f"{case.kind}: {len(taken - case.may)} agreed that were not")
    if case.must - taken:
        told = "; ".join(str(p) for p in paper.problems)[:300]
        count.wrong.append(f"{case.kind}: {len(case.must - taken)} lost that were agreed ({told})")
    if took > SECONDS:
        count.wrong.append(f"{case.kind}: {took:.1f} s")


def run(desk: Desk, proofs: int, sheets: int, seed: int) -> tuple[Count, Count]:
    """Many papers, the same for the same seed."""
    rng, of_proofs, of_sheets = random.Random(seed), Count(), Count()
    for _ in range(proofs):
        judge(of_proofs, proof_case(desk, rng), desk.read_proof)
    for _ in range(sheets):
        judge(of_sheets, sheet_case(desk, rng), desk.read_sheet)
    return of_proofs, of_sheets


def megabytes() -> float:
    """The most that any process of the door held, this one's share included."""
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / (1024 if sys.platform == "linux" else 2**20)


def main(arguments: Sequence[str]) -> int:
    proofs, sheets, seed = (int(a) for a in (*arguments, *("1000", "500", "1")[len(arguments) :]))
    with tempfile.TemporaryDirectory() as folder:
        counts = run(Desk(Path(folder)), proofs, sheets, seed)
    for name, count in zip(("proofs", "check sheets"), counts, strict=True):
        print(f"{sum(count.papers.values())} {name}, the slowest {count.slowest[0]:.1f} s ({count.slowest[1]}):")
        for kind, number in sorted(count.papers.items()):
            print(f"  {number:4} {kind}: {count.refused[kind]} refused, {count.clear[kind]} without anything unclear")
        for line in count.wrong:
            print(f"  WRONG: {line}")
    print(f"at most {megabytes():.0f} MB in one process")
    return 1 if any(c.wrong for c in counts) or megabytes() > MEGABYTES else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
