"""The proof, checked by independent readers: pypdf, PDFium, pdfminer and, where installed, poppler and qpdf."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import unicodedata
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pdfplumber
import pikepdf
import pikepdf.form
import pypdf
import pypdfium2
import pytest
import shapely

from pipeline.core.catalogue import KINDS, cut_kinds, format_for_client
from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, Order, OrderFolder, ProofConfig
from pipeline.core.errors import CannotRun
from pipeline.core.findings import build_finding
from pipeline.core.language.texts import FOLDER, read_catalogue
from pipeline.core.model import Artwork, Piece, PlacedShape, Plaque, SetLine, SetRow, ShapedRow
from pipeline.outputs.pdf import fonts, styles
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.font_fallback import RepeatedLettering
from pipeline.outputs.pdf.identity import ATTACHMENT, ProofIdentity, add_drawings, read_drawings
from pipeline.outputs.pdf.packed_lettering import compute_box_round, parse_steps
from pipeline.outputs.proof import details
from pipeline.outputs.proof.changes import list_changed_spans
from pipeline.outputs.proof.proof import list_foreign_texts, write_proofs
from pipeline.outputs.proof.proof_entries import ProofPlace
from pipeline.outputs.revision import EarlierPlaque, Revision
from tests import builders
from tests.outputs.papers import proof_bytes, read_text
from tests.outputs.pdf.test_pdf_document import sound

MM = 72 / 25.4


def folder(**proof) -> OrderFolder:
    order = Order(
        title="Wardens of the Shore 2026",
        client="Tidewrack Seabird Trust",
        list=ListConfig(file="recipients.xlsx"),
        blank=BlankConfig(drawing="plaque.dxf"),
        line=(LineConfig(text="{name}", face="eb-garamond", cap_height=8.0),),
        proof=ProofConfig(shop="Harrow Lane Engraving", **{"layout": "page", **proof}),
    )
    return OrderFolder(order=order, folder=Path(), file=Path("order.toml"), sha256="0" * 64)


@pytest.fixture(scope="module")
def outcome():
    return builders.outcome()


@pytest.fixture(scope="module", params=["A4", "letter"])
def proof(request, outcome) -> bytes:
    return proof_bytes(outcome, folder(paper=request.param))[0]


@pytest.fixture(scope="module")
def a4(outcome) -> bytes:
    return proof_bytes(outcome, folder())[0]


def texts(data: bytes, tmp_path: Path) -> dict[str, str]:
    """Return the whole text as each engine reads it, with lines joined and whitespace normalised."""
    found = {
        "pypdf": " ".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(data)).pages),
        "pdfium": read_text(data),
    }
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        found["pdfminer"] = " ".join(p.extract_text() or "" for p in pdf.pages)
    if shutil.which("pdftotext"):
        (tmp_path / "p.pdf").write_bytes(data)
        ran = subprocess.run(["pdftotext", "-layout", "p.pdf", "-"], cwd=tmp_path, capture_output=True, check=True)
        found["poppler"] = ran.stdout.decode()
    return {name: " ".join(text.split()) for name, text in found.items()}


# --- a sound document ------------------------------------------------------------------------------------------------


def test_the_document_is_sound(proof, tmp_path):
    sound(proof, tmp_path)


def test_the_document_has_title_language_and_metadata(a4, outcome):
    with pikepdf.open(io.BytesIO(a4)) as pdf:
        root = pdf.Root
        assert str(root.Lang) == "en"
        assert root.ViewerPreferences.DisplayDocTitle and root.ViewerPreferences.PrintScaling == pikepdf.Name("/None")
        assert str(pdf.docinfo.Title) == "Wardens of the Shore 2026 · proof A"
        assert "/CreationDate" not in pdf.docinfo and "/ModDate" not in pdf.docinfo
        with pdf.open_metadata() as meta:
            assert meta["dc:title"] == "Wardens of the Shore 2026 · proof A"
            assert meta["{urn:plaques:proof:1}revision"] == "A"
        told = ProofIdentity.from_json(pdf.attachments[ATTACHMENT].get_file().read_bytes())
    assert told.order_sha256 == outcome.order_sha256
    assert {d.fingerprint for d in told.designs} == {p.fingerprint for p in outcome.plaques} - {""}
    assert [d.rows for d in told.designs if len(d.rows) > 1] == [(5, 10)]
    assert [u.row for u in told.unset] == [11, 12]


def test_bookmarks_lead_to_every_name(a4):
    def titles(items):
        return [t for i in items for t in (titles(i) if isinstance(i, list) else [i.title])]

    found = titles(pypdf.PdfReader(io.BytesIO(a4)).outline)
    assert {"Ada Kittiwake", "Björn Ærøskarv", "Your decision"} <= set(found)
    assert found.count("Ada Kittiwake") == 1


def test_a_plaque_costs_less_than_eight_kilobytes(outcome):
    def size(n: int) -> int:
        people = tuple(builders.plaque(5 + i, f"Ada Kittiwake {chr(65 + i)}") for i in range(n))
        return len(proof_bytes(builders.outcome(people), folder())[0])

    assert (size(24) - size(4)) / 20 < 8 * 1024


# --- reading matter --------------------------------------------------------------------------------------------------


def test_every_name_is_found_by_every_reader(a4, outcome, tmp_path):
    for engine, text in texts(a4, tmp_path).items():
        for plaque in outcome.plaques:
            if plaque.state != "stopped":
                for line in plaque.text:
                    assert line in text, f"{engine} does not find {line}"


def test_questions_reasons_and_numbers_are_on_the_proof(proof, outcome):
    text = read_text(proof)
    for plaque in outcome.plaques:
        for finding in plaque.findings:
            told = format_for_client(finding, choices=False)
            seen = finding.code != "fit.set-smaller"  # too small a difference to see
            assert (told.strip() in text.replace("￾", "")) == seen
            assert finding.code not in text
        if plaque.fingerprint:
            assert plaque.fingerprint in text
    assert "B5, B10" in text and "(B11)" in text
    pages = len(pypdf.PdfReader(io.BytesIO(proof)).pages)
    assert f"page 1 of {pages}" in text and f"page {pages} of {pages}" in text


SCRIPTS = {
    "NotoSans": ["Ελένη Παπαδοπούλου", "Наталья Щукина", "Nguyễn Thị Ánh"],
    "FrankRuhl": ["שרה כהן", "דָּוִד לֵוִי"],
    "NotoNaskh": ["محمد علي", "عائشة بنت خالد"],
    "DroidSans": ["山田太郎", "김민준"],
}


def foreign_plaque(row: int, name: str, stem: str) -> Plaque:
    """Return a plaque with its letters side by side: enough to test what a reader finds."""
    base = builders.plaque(row, "Ada Kittiwake")
    drawn = "".join(reversed(name)) if stem in ("FrankRuhl", "NotoNaskh") else name
    line = builders.set_line(1, (drawn,), centre=64.0, baseline=60.0, cap_height=8.0, stem=stem)
    rows = tuple(SetRow(text=name, pieces=r.pieces, x=r.x, baseline=r.baseline, width=r.width) for r in line.rows)
    line = SetLine(
        line=1, text=name, face=line.face, cap_height=8.0, tracking=0, rows=rows, width=line.width, slack=line.slack
    )
    return Plaque(
        recipient=builders.recipient(row, name),
        text=(name,),
        artwork=Artwork(lines=(line,)),
        fingerprint=base.fingerprint[:-2] + f"{row:02d}",
        cut_file=base.cut_file,
    )


def test_names_in_every_script_are_found(tmp_path):
    cases = [(name, stem) for stem, names in SCRIPTS.items() for name in names]
    people = tuple(foreign_plaque(10 + i, name, stem) for i, (name, stem) in enumerate(cases))
    found = texts(proof_bytes(builders.outcome(people), folder())[0], tmp_path)
    for name, stem in cases:
        # canonically equivalent counts: PDFium swaps two marks on one Hebrew letter
        readers = {e for e, text in found.items() if name in unicodedata.normalize("NFC", text)}
        # pdfminer does not put right-to-left text into reading order
        expected = set(found) - ({"pdfminer"} if stem in ("FrankRuhl", "NotoNaskh") else set())
        assert expected <= readers, f"{name}: found by {readers} only"


def test_text_that_no_face_can_draw_is_spelt_out_and_still_found():
    name = "ชนาธิป 😀"
    people = (builders.plaque(5, "Ada Kittiwake"), builders.stopped_unset(6, name, builders.too_long(6, name)))
    data = proof_bytes(builders.outcome(people), folder())[0]
    assert "U+0E0A" in read_text(data)


# --- true to scale -----------------------------------------------------------------------------------------------


def ruler_lengths(data: bytes) -> list[float]:
    """Return the lengths of the ruler, the only horizontal line on the cover that is neither as wide as the body nor
    a mark; mm."""
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        lines = [o for o in pdf.pages[0].lines if abs(o["top"] - o["bottom"]) < 0.01 and o["linewidth"] > 0]
    return [n for n in ((o["x1"] - o["x0"]) / MM for o in lines) if 50 < n < 160]


def test_the_ruler_is_one_hundred_millimetres(proof):
    assert ruler_lengths(proof) == [pytest.approx(100, abs=0.001)]


def test_the_ruler_of_an_order_in_inches_is_four_inches(outcome):
    in_mm = folder()
    in_inches = in_mm.model_copy(update={"order": in_mm.order.model_copy(update={"units": "in"})})
    data = proof_bytes(outcome, in_inches)[0]
    assert ruler_lengths(data) == [pytest.approx(4 * 25.4, abs=0.001)]
    assert "This bar is 4 inches" in " ".join(pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text().split())


def drawn_points(data: bytes, page: int) -> np.ndarray:
    """Return every point, on and off the curves, of the lettering on a page, in mm from the page's lower left."""
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        p = pdf.pages[page]
        out = []
        for o in [*p.curves, *p.lines, *p.rects]:
            # pdfminer gives a form the colours of a fresh page; nothing else is filled in this black
            if o["fill"] and not o["stroke"] and o["non_stroking_color"] in (0, (0,), [0]):
                out += [xy for step in o["path"] for xy in step[1:]]
        return np.array([(x / MM, (float(p.height) - y) / MM) for x, y in out])


def apart(a: np.ndarray, b: np.ndarray) -> float:
    """Return the greatest distance of a point of either from the other, mm."""

    def one_way(a, b):
        tree, asked = shapely.STRtree(shapely.points(b)), shapely.points(a)
        return float(shapely.distance(asked, tree.geometries[tree.nearest(asked)]).max())

    return max(one_way(a, b), one_way(b, a))


def points_of(pieces: Iterable[Piece]) -> np.ndarray:
    """Return every point of their outlines, on and off the curves, as cubics."""
    out = []
    for piece in pieces:
        for path in piece.build_outline():
            for s in path.list_segments():
                out += [s[0], s[-1]]
                if len(s) == 3:
                    out += [s[0] + (s[1] - s[0]) * 2 / 3, s[2] + (s[1] - s[2]) * 2 / 3]
                out += list(s[1:-1]) if len(s) == 4 else []
    return np.array(out)


def artwork_points(plaque: Plaque) -> np.ndarray:
    return points_of(plaque.artwork.list_pieces())


def test_at_true_size_the_curves_are_those_of_the_artwork(a4, outcome):
    text = [p.extract_text() for p in pypdf.PdfReader(io.BytesIO(a4)).pages]
    for plaque in (outcome.plaques[1], outcome.plaques[2]):
        page = next(i for i, t in enumerate(text) if plaque.fingerprint in t)
        assert "true size" in text[page]
        drawn, meant = drawn_points(a4, page), artwork_points(plaque)
        assert len(drawn) >= len(meant) * 0.6
        shift = drawn.min(axis=0) - meant.min(axis=0)  # position of the blank's corner on the page
        assert apart(drawn, meant + shift) < 0.01


def on_an_arc(row: int, name: str) -> Plaque:
    """Return a plaque with each letter rotated a little more than the one before."""
    base = builders.plaque(row, name)
    straight = base.artwork.lines[0].rows[0]
    pieces = tuple(
        Piece(shape=p.shape, scale=p.scale, x=p.x, y=p.y + 3 * i, turn=0.4 * i) for i, p in enumerate(straight.pieces)
    )
    turned = SetRow(text=name, pieces=pieces, x=straight.x, baseline=straight.baseline, width=straight.width)
    line = replace(base.artwork.lines[0], text=name, rows=(turned,))
    return Plaque(recipient=base.recipient, text=(name,), artwork=Artwork(lines=(line,)), fingerprint="X" * 10)


def test_rotated_pieces_are_where_the_artwork_has_them():
    plaque = on_an_arc(5, "Ada")
    data, pages = proof_bytes(builders.outcome((plaque,)), folder())
    drawn, meant = drawn_points(data, pages - 2), artwork_points(plaque)
    shift = drawn.min(axis=0) - meant.min(axis=0)
    assert apart(drawn, meant + shift) < 0.01


@pytest.mark.parametrize("side", [70.0, 400.0, 2400.0])
def test_the_scale_is_stated_and_everything_is_within_the_page(side, outcome):
    blank = replace(builders.disc_blank(side), zones=(("DISC", builders.circle(side / 2, side / 2, side / 2 - 3)),))
    data, pages = proof_bytes(replace(outcome, blank=blank), folder())
    text = pypdf.PdfReader(io.BytesIO(data)).pages[pages - 2].extract_text()
    assert ("of true size" not in text) == (side == 70.0)
    assert ("% of true size" in text) == (side != 70.0)
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        for page in pdf.pages:
            for c in page.chars:
                assert c["x0"] >= 17 * MM and c["x1"] <= float(page.width) - 17 * MM, c["text"]
                assert c["bottom"] >= 8 * MM and c["bottom"] <= float(page.height) - 8 * MM


# --- fields ----------------------------------------------------------------------------------------------------------


def test_fields_have_the_tooltips_and_flags_a_client_needs(a4, outcome):
    fields = pypdf.PdfReader(io.BytesIO(a4)).get_fields()
    marks = {p.fingerprint for p in outcome.plaques if p.fingerprint}
    expected = {f"{kind}_{m}" for m in marks for kind in ("correct", "leave", "change")}
    asked = ProofIdentity.from_json(fields["proof_identity"]["/V"].encode()).questions
    assert {row for question in asked for row in question.stopped} == {11, 12}
    expected |= {name for q in asked for name in (q.line, *map(q.get_field_name, q.choices))}
    expected |= {"decision", "remarks", "name", "date", "proof_identity"}
    assert set(fields) == expected
    for field in fields.values():
        assert not int(field.get("/Ff", 0)) & 0b10, f"{field['/T']} is required"
        assert "/MaxLen" not in field
    with pikepdf.open(io.BytesIO(a4)) as pdf:
        widgets = [a for p in pdf.pages for a in p.obj.get("/Annots", []) if a.Subtype == "/Widget"]
        assert len(widgets) == len(expected) + 2  # the decision has three
        assert all(str(w.TU) for w in widgets)


LONG = "Ünsal Çağlayan-Őszi, and please with the title: " + "Professor Emerita, " * 12
TYPED = {"text": "Αθηνά Παπά", "reply": "山田 太郎 / שרה כהן / محمد"}


def test_filled_by_pypdf_and_read_by_pikepdf(a4, outcome, tmp_path):
    mark, other = outcome.plaques[0].fingerprint, outcome.plaques[1].fingerprint
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(a4))
    values = {f"correct_{mark}": "/Yes", f"change_{other}": LONG, "name": TYPED["text"], "decision": "/new-proof"}
    for page in writer.pages:
        writer.update_page_form_field_values(page, values, auto_regenerate=False)
    writer.write(tmp_path / "back.pdf")
    with pikepdf.open(tmp_path / "back.pdf") as pdf:
        read = {str(f.T): f.get("/V") for f in pdf.Root.AcroForm.Fields}
    assert read[f"correct_{mark}"] == "/Yes" and read[f"correct_{other}"] == "/Off"
    assert str(read[f"change_{other}"]) == LONG
    assert str(read["name"]) == TYPED["text"]
    assert read["decision"] == "/new-proof"


def test_filled_by_pikepdf_and_read_by_pypdf(a4, outcome, tmp_path):
    mark = outcome.plaques[0].fingerprint
    with pikepdf.open(io.BytesIO(a4)) as pdf:
        form = pikepdf.form.Form(pdf)
        form[f"correct_{mark}"].checked = True
        form[f"change_{mark}"].value = TYPED["reply"]
        form["q2"].value = LONG
        pdf.save(tmp_path / "back.pdf")
    fields = pypdf.PdfReader(tmp_path / "back.pdf").get_fields()
    assert fields[f"correct_{mark}"]["/V"] == "/Yes"
    assert fields[f"change_{mark}"]["/V"] == TYPED["reply"]
    assert fields["q2"]["/V"] == LONG


def test_typed_into_by_pdfium_and_ticked_with_its_mouse(a4, outcome, tmp_path):
    """PDFium fills in like a person: it focuses a place and gets characters; the box is clicked."""
    raw = pypdfium2.raw
    mark = outcome.plaques[0].fingerprint
    doc = pypdfium2.PdfDocument(a4)
    doc.init_forms()
    with pikepdf.open(io.BytesIO(a4)) as pdf:
        spot = {}
        for n, page in enumerate(pdf.pages):
            for a in page.obj.get("/Annots", []):
                if a.Subtype == "/Widget" and "/T" in a:
                    spot[str(a.T)] = (n, [float(v) for v in a.Rect])

    def click(name: str):
        n, (x0, y0, x1, y1) = spot[name]
        page = doc[n]
        raw.FORM_OnMouseMove(doc.formenv, page, 0, (x0 + x1) / 2, (y0 + y1) / 2)
        raw.FORM_OnLButtonDown(doc.formenv, page, 0, (x0 + x1) / 2, (y0 + y1) / 2)
        raw.FORM_OnLButtonUp(doc.formenv, page, 0, (x0 + x1) / 2, (y0 + y1) / 2)
        return page

    click(f"correct_{mark}")
    page = click("name")
    for c in TYPED["text"]:
        raw.FORM_OnChar(doc.formenv, page, ord(c), 0)
    raw.FORM_ForceToKillFocus(doc.formenv)
    doc.save(str(tmp_path / "back.pdf"))
    fields = pypdf.PdfReader(tmp_path / "back.pdf").get_fields()
    assert fields[f"correct_{mark}"]["/V"] == "/Yes"
    assert fields["name"]["/V"] == TYPED["text"]


# --- what else may be asked of it ------------------------------------------------------------------------------------


def test_an_order_with_nothing_to_cut_has_a_proof(tmp_path):
    people = (builders.stopped_unset(12, "#REF!", builders.too_long(12, "#REF!")),)
    assert write_proofs(builders.outcome(people), folder(), tmp_path) == ("proof.pdf",)
    assert len(pypdf.PdfReader(tmp_path / "proof.pdf").pages) == 3
    assert "#REF!" in read_text((tmp_path / "proof.pdf").read_bytes())


def test_another_language_is_refused(outcome):
    with pytest.raises(CannotRun, match=r"\[proof\] language"):
        proof_bytes(outcome, folder(language="sv"))


def test_the_revision_comes_from_the_order_or_the_ledger(outcome):
    def told(**how):
        data = proof_bytes(outcome, folder(**how.pop("proof", {})), **how)[0]
        with pikepdf.open(io.BytesIO(data)) as pdf:
            return ProofIdentity.from_json(pdf.attachments[ATTACHMENT].get_file().read_bytes()).revision

    assert told() == "A"
    assert told(proof={"revision": "C"}) == "C"
    assert told(revision=Revision(letter="B")) == "B"


# --- a later revision ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def later(outcome) -> bytes:
    """Return proof B: Márta's name was corrected, Oyvind's question is still open, the rest is signed."""
    was = builders.plaque(6, "Márta Szelfuvas", post="Founder", cap_height=7.0)
    changed, still = outcome.plaques[1].fingerprint, outcome.plaques[4].fingerprint
    earlier = EarlierPlaque(
        revision="A",
        fingerprint=was.fingerprint,
        text=was.text,
        rows=(6,),
        cap_heights=(7.0, 4.0, 4.0),
        drawing=tuple(was.artwork.list_pieces()),
    )
    revision = Revision(
        letter="B",
        asks=frozenset({changed, still}),
        signed=tuple((p.fingerprint, "R. Pellow, 3 December") for p in outcome.plaques if p.fingerprint),
        earlier=((changed, earlier),),
    )
    return proof_bytes(outcome, folder(), revision)[0]


def test_a_later_revision_asks_only_for_what_is_open(later, outcome):
    fields = pypdf.PdfReader(io.BytesIO(later)).get_fields()
    asked = {name.split("_")[1] for name in fields if name.startswith("correct_")}
    assert asked == {outcome.plaques[1].fingerprint, outcome.plaques[4].fingerprint}
    pages = [p.extract_text() for p in pypdf.PdfReader(io.BytesIO(later)).pages]
    assert "proof B" in pages[0] and "It shows only what has changed" in " ".join(pages[0].split())
    (listed,) = [p for p in pages if "Answered earlier" in p and "R. Pellow, 3 December" in p]
    assert "Ada Kittiwake" in listed and "Márta" not in listed


def test_old_and_new_lettering_are_shown_side_by_side(later):
    reader = pypdf.PdfReader(io.BytesIO(later))
    (page,) = [i for i, p in enumerate(reader.pages) if "changed since proof A" in p.extract_text()]
    text = " ".join(reader.pages[page].extract_text().split())
    assert "letters now at 114 % of that size" in text and "8.00 mm" not in text and "Szelfuvas" in text
    with pdfplumber.open(io.BytesIO(later)) as pdf:
        found, size = (pdf.pages[page].search(said)[0] for said in ("changed since proof A", "letters now"))
        right = [word for word in pdf.pages[page].extract_words() if word["x0"] > found["x1"]]
    assert size["top"] >= found["bottom"] and any(
        word["text"] == "now" and abs(word["top"] - found["top"]) < 1 for word in right
    )  # none over another
    ink = np.asarray(pypdfium2.PdfDocument(later)[page].render(scale=3).to_pil().convert("RGB")).astype(int)
    top, foot = round(3 * (found["bottom"] + 1 * MM)), round(3 * (found["bottom"] + 20 * MM))
    half = ink.shape[1] // 2
    old, new = ((abs(ink[top:foot] - colour) <= 3).all(axis=2) for colour in ((111, 105, 98), (42, 39, 36)))
    assert new[:, half:].sum() > 500 and not new[:, :half].any()
    assert old[:, :half].sum() > 500 > 10 * old[:, half:].sum()  # a few edges of the new lettering are equally light


@pytest.mark.parametrize(
    ("old", "new", "changed"),
    [
        (["Käthe", "Großau"], ["Käthe Brömse", "Großau"], [" Brömse"]),  # not “e Bröms”
        (["Ada Skua", "Cook"], ["Ada Skuar", "Mate"], ["r", "Mate"]),
        (["Ada Skua"], ["Ada Skua", "Cook"], [" / Cook"]),
    ],
)
def test_only_new_letters_of_each_line_are_underlined(old, new, changed):
    shown = " / ".join(new)
    assert [shown[start:end] for start, end in list_changed_spans(new, old)] == changed


def carried_by(proof: bytes) -> bytes:
    with pikepdf.open(io.BytesIO(proof)) as pdf:
        return pdf.attachments[ATTACHMENT].get_file().read_bytes()


def test_a_proof_stores_its_lettering_for_the_next_revision(a4, outcome):
    """What the next revision shows as old is what this one showed: compared point by point with the artwork."""
    drawn = read_drawings(carried_by(a4))
    assert drawn.keys() == {p.fingerprint for p in outcome.plaques} - {""}
    for plaque in outcome.plaques:
        if plaque.fingerprint:
            assert apart(points_of(drawn[plaque.fingerprint]), artwork_points(plaque)) < 0.01


def test_repeated_rows_are_stored_once_and_read_as_before():
    """A line that is the same on three plaques; and the same lettering as earlier proofs stored it, row by row."""
    plaques = [builders.plaque(5 + i, f"Ada Kittiwake {c}", post="Founder") for i, c in enumerate("ABC")]
    marked = [(f"MARK{i}", p.artwork) for i, p in enumerate(plaques)]
    carried = b"".join(add_drawings(b'{"schema":1}', marked))
    drawings = json.loads(carried)["drawings"]
    assert any(isinstance(each, int) for each in drawings["plaques"]["MARK2"])
    at_first = {
        mark: [piece for each in pieces for piece in (drawings["rows"][each] if isinstance(each, int) else [each])]
        for mark, pieces in drawings["plaques"].items()
    }
    old = {"drawings": {"shapes": drawings["shapes"], "plaques": at_first}}
    for data in (carried, json.dumps(old).encode()):
        read = read_drawings(data)
        assert list(read) == [mark for mark, _ in marked]
        for mark, artwork in marked:
            assert [p.scale for p in read[mark]] == pytest.approx([p.scale for p in artwork.list_pieces()], abs=1e-8)
            assert points_of(read[mark]) == pytest.approx(points_of(artwork.list_pieces()), abs=1e-3)


@pytest.mark.parametrize(
    "pieces",
    [[7], [[99, 1, 2, 3]], [[0, 1, 2]], [[0, 1, 2, 3, 4, 5]], [[0, "1", 2, 3]], [[0, 1e999, 2, 3]], "no", 1, None],
)
def test_invalid_stored_lettering_is_not_shown(pieces):
    sound = {"shapes": ["M0 0L5 0L5 5Z"], "rows": [], "plaques": {"ONE": [[0, 1, 2, 3]], "TWO": pieces}}
    read = read_drawings(json.dumps({"drawings": sound}).encode())
    assert len(read["ONE"]) == 1 and read["TWO"] == ()


@pytest.mark.parametrize("data", [b"", b"no", b"[]", b'{"drawings":1}', b'{"drawings":{"shapes":[],"plaques":[]}}'])
def test_a_file_without_stored_drawings_has_none(data):
    assert dict(read_drawings(data)) == {}


def test_a_line_shared_by_all_plaques_is_where_the_artwork_has_it():
    """Such a line is a repeated drawing; on every card its points are those of the artwork."""
    plaques = tuple(builders.plaque(5 + i, f"Ada Kittiwake {c}", post="Founder") for i, c in enumerate("ABCD"))
    made = folder()
    same = (*made.order.line, LineConfig(text="Founder", face="eb-garamond", cap_height=8.0))
    made = made.model_copy(update={"order": made.order.model_copy(update={"line": same})})
    data, _ = proof_bytes(builders.outcome(plaques), made)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        forms = {f.objgen for p in pdf.pages for f in p.resources.XObject.values() if "/XObject" in f.Resources}
    assert len(forms) == 1
    text = [p.extract_text() for p in pypdf.PdfReader(io.BytesIO(data)).pages]
    for page in {next(i for i, t in enumerate(text) if p.fingerprint in t) for p in plaques}:
        first = min((p for p in plaques if p.fingerprint in text[page]), key=lambda p: text[page].index(p.fingerprint))
        drawn, meant = drawn_points(data, page), artwork_points(first)
        assert "of true size" not in text[page]
        drawn = drawn[drawn[:, 1] > drawn[:, 1].max() - np.ptp(meant[:, 1]) - 0.01]  # of the topmost card
        assert apart(drawn, meant + drawn.min(axis=0) - meant.min(axis=0)) < 0.01


def test_the_bounding_box_of_lettering_is_that_of_its_points(outcome):
    plaques = [*(p for p in outcome.plaques if p.artwork), on_an_arc(70, "Ada Kittiwake")]
    for plaque in plaques:
        points = artwork_points(plaque)
        assert compute_box_round(plaque.artwork.list_pieces()) == pytest.approx(
            (*points.min(axis=0), *points.max(axis=0)), abs=1e-4
        )
    assert compute_box_round(()) is None


@pytest.mark.parametrize("path", ["M1 2 3", "L1", "M1 2 x", "Q1 2 3 4", "M1 nan", "M1 2 C1 2 3 4 5"])
def test_foreign_path_data_is_refused(path):
    with pytest.raises(ValueError):
        list(parse_steps(path))


def test_one_card_with_much_text_does_not_shrink_the_others(outcome):
    many = tuple(builders.plaque(20 + i, f"Ada Kittiwake {chr(65 + i)}") for i in range(9))
    asked = builders.plaque(40, "Oyvind Storm", findings=(builders.moved(40),))
    lines = tuple(f"and of a further line of the dedication, number {i}" for i in range(26))
    long = replace(builders.plaque(41, "Jory Pellow"), text=("Jory Pellow", *lines))
    data, _ = proof_bytes(builders.outcome((*many, asked, long)), folder(paper="letter"))
    text = [p.extract_text() for p in pypdf.PdfReader(io.BytesIO(data)).pages]
    sizes = [t for t in text if "true size" in t and "correct as shown" in t]
    assert sum("of true size" not in t for t in sizes) >= 9
    assert any("of true size" in t for t in sizes)


def test_a_name_of_another_script_is_drawn_whole_where_words_alone_would_be_too_wide():
    """Two words that fit side by side as drawn stay together, although they wouldn't fit as code points."""
    name = "אליה כהן"
    row = ShapedRow(text=name, face="", shapes=(), advance=4000.0, ink=None, cap_units=700.0, units_per_em=1000)
    pen = PaperCanvas(210.0, 297.0, foreign={name: RepeatedLettering.from_shaped(row)})
    room = 1.2 * pen.measure_text(name, styles.NAME)
    assert pen.measure_text("אליה", styles.NAME) > room  # alone it would be spelt out in code points
    assert pen.wrap(name, styles.NAME, room) == [name]
    assert pen.wrap(f"Ida Vex {name}", styles.NAME, room) == ["Ida Vex", name]


def test_texts_in_other_scripts_can_be_shaped_for_the_proof(outcome, tmp_path):
    """A name that isn't part of any artwork is drawn from the row shaped for it."""
    name = "שרה כהן"
    people = (builders.plaque(5, "Ada Kittiwake"), builders.stopped_unset(6, name, builders.too_long(6, name)))
    made = builders.outcome(people)
    assert list_foreign_texts(made, folder().order) == {name}
    opened, _, cap = builders.font("FrankRuhl")
    x, placed = 0.0, []
    for c in reversed(name):
        if c != " ":
            placed.append(PlacedShape(shape=builders.shape(c, "FrankRuhl"), x=x, y=0.0))
        x += opened["hmtx"][opened.getBestCmap()[ord(c)]][0]
    row = ShapedRow(text=name, face="", shapes=tuple(placed), advance=x, ink=None, cap_units=cap, units_per_em=1000)
    data = proof_bytes(made, folder(), captions={name: row})[0]
    found = texts(data, tmp_path)
    assert all(name in found[e] for e in found if e != "pdfminer")
    assert "U+05" not in found["pdfium"]


def test_the_text_font_covers_all_messages_of_the_tool():
    catalogues = [read_catalogue(path) for path in FOLDER.glob("*.po")]
    forms = [m.string for catalogue in catalogues for m in catalogue if m.id]
    said = [text for form in forms for text in ([form] if isinstance(form, str) else form)]
    assert "Look at every {one}" in said
    said += [kind.client for kind in KINDS.values()]
    assert [t for t in said if not fonts.covers(t)] == []


# --- looking closer --------------------------------------------------------------------------------------------------


def with_place(row: int, name: str, kind) -> tuple[Plaque, np.ndarray]:
    """Return a plaque with a finding about a place on its third letter."""
    piece = builders.plaque(row, name).artwork.lines[0].rows[0].pieces[2]
    at = tuple(float(v) for v in piece.build_outline()[0].points.mean(axis=0))
    finding = build_finding(
        kind,
        line=1,
        row=row,
        cell=f"B{row}",
        at=at,
        measured=0.18,
        limit=0.2,
        unit="mm",
        facts={"text": name, "size": 9.0, "distance": 2000.0, "style": "a sturdier lettering style"},
    )
    return builders.plaque(row, name, findings=(finding,)), np.array(at)


def rings(data: bytes, page: int, colour: tuple[float, float, float]) -> list[tuple[np.ndarray, float]]:
    """Return centre and radius, mm, of every circle drawn in this colour."""
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        p = pdf.pages[page]
        found = [o for o in p.curves if o["stroke"] and o["stroking_color"] == pytest.approx(colour, abs=1e-4)]
        boxes = [
            (o["x0"] / MM, o["x1"] / MM, (float(p.height) - o["bottom"]) / MM, (float(p.height) - o["top"]) / MM)
            for o in found
        ]
    return [
        (np.array([(a + b) / 2, (c + d) / 2]), (b - a) / 2) for a, b, c, d in boxes if abs((b - a) - (d - c)) < 0.01
    ]


def showing():
    """Return the folder of an order whose proof shows what isn't finished."""
    own = folder()
    proof = own.order.proof.model_copy(update={"unfinished": "show"})
    return own.model_copy(update={"order": own.order.model_copy(update={"proof": proof})})


def test_a_place_that_cannot_be_cut_is_magnified_around_the_measured_point():
    """Every point of the letter in the detail is where a magnification about the ring's centre puts it."""
    plaque, at = with_place(5, "Jory Pellow", cut_kinds.STROKE_TOO_THIN)
    data, _ = proof_bytes(builders.outcome((plaque,)), showing())
    text = [p.extract_text() for p in pypdf.PdfReader(io.BytesIO(data)).pages]
    (page,) = [i for i, t in enumerate(text) if "× true size" in t]
    centre, _ = max(rings(data, page, styles.STOP_EDGE), key=lambda found: found[0][0])  # the rightmost
    times = details.CIRCLE / details.choose_detail_window(ProofPlace(at=tuple(at), measured=0.18))
    assert f"{times:.0f} × true size" in text[page]
    letter = plaque.artwork.lines[0].rows[0].pieces[2].build_outline()
    meant = centre + times * (np.concatenate([p.points[[0, -1]] for p in letter]) - at)
    tree = shapely.STRtree(shapely.points(drawn_points(data, page)))
    asked = shapely.points(meant)
    assert shapely.distance(asked, tree.geometries[tree.nearest(asked)]).max() < 0.02


def test_every_place_that_cannot_be_cut_is_shown_with_its_measurement():
    """Stroke and land of one plaque, each ringed on the lettering and magnified with letter and measurement below
    it; no texts of the page overlap."""
    plaque, at = with_place(5, "Jory Pellow", cut_kinds.STROKE_TOO_THIN)
    first = replace(plaque.findings[0], glyph="r")
    facts = {"text": "Jory Pellow", "close": "two letters stand too close"}
    there = (float(at[0]) + 20, float(at[1]))
    land = build_finding(
        cut_kinds.LAND_TOO_THIN, line=1, glyph="ll", at=there, measured=0.1, limit=0.2, unit="mm", facts=facts
    )
    plaque = replace(plaque, findings=(first, land, replace(land, at=there)))
    data, _ = proof_bytes(builders.outcome((plaque,)), showing())
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        (page,) = [p for p in pdf.pages if "× true size" in p.extract_text()]
        text, found = page.extract_text(), page.extract_words()
    assert "in “r” in “ll”" in text and "0.18" not in text
    circles = rings(data, page.page_number - 1, styles.STOP_EDGE)
    assert len(circles) == 4  # two on the lettering, two in the details
    boxes = [shapely.box(w["x0"], w["top"], w["x1"], w["bottom"]).buffer(-0.6) for w in found]
    assert not [1 for i, a in enumerate(boxes) for b in boxes[:i] if a.intersects(b)]


def test_lettering_drawn_too_small_is_shown_again(outcome):
    blank = replace(outcome.blank, width=900.0, height=300.0, edge=builders.rectangle(0, 0, 900, 300))
    data, pages = proof_bytes(replace(outcome, blank=blank), folder())
    text = pypdf.PdfReader(io.BytesIO(data)).pages[pages - 2].extract_text()
    assert "the lettering at true size" in text and "15 % of true size" in text
