"""The layout of the proof: one decision, legible, several pieces per page, in every language."""

from __future__ import annotations

import ast
import io
import re
from datetime import date
from pathlib import Path

import numpy as np
import pdfplumber
import pikepdf
import pypdfium2
import pytest
from PIL import Image

from pipeline.core.config.order import NounConfig
from pipeline.core.errors import CannotRun
from pipeline.core.language.texts import ENGLISH, list_languages, load_texts
from pipeline.intake.order.order_file import read_order
from pipeline.outputs.pdf import styles
from pipeline.outputs.pdf.canvas import PaperCanvas
from pipeline.outputs.pdf.text_style import PAPERS, TextStyle
from pipeline.outputs.proof import page_frame, page_mark, type_sizes
from pipeline.outputs.revision import Revision
from tests import builders
from tests.new_language import needed
from tests.outputs.papers import proof_bytes, read_text
from tests.outputs.proof.test_proof import folder

PROOF = Path(styles.__file__).parents[1] / "proof"


def text_of(data: bytes) -> str:
    return read_text(data)


def many(count: int):
    return builders.outcome(tuple(builders.plaque(5 + n, f"Ada Kittiwake {chr(65 + n)}") for n in range(count)))


def numbered(outcome) -> Revision:
    marks = dict.fromkeys(p.fingerprint for p in outcome.plaques if p.fingerprint)
    return Revision(numbers=tuple((mark, n) for n, mark in enumerate(marks, 1)))


def test_no_text_is_smaller_than_ten_points():
    """Ten points is a common minimum for office documents; common practice, no source. Lettering at true size is
    larger than that here, so the invisible text over it doesn't count as small."""
    outcome = builders.outcome(findings=(builders.moved(5),))
    part = {"reply_by": date(2026, 12, 15), "telephone": "01632 960123", "message": "Mind the gap."}
    data = proof_bytes(outcome, folder(**part), numbered(outcome))[0]
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        sizes = {round(c["size"], 1) for page in pdf.pages for c in page.chars if "Noto" in c["fontname"]}
    assert sizes and min(sizes) >= 10.0


def test_no_style_of_the_proof_is_smaller_than_ten_points():
    """Including pages that the proof above doesn't have."""
    shared = {name for name, value in vars(styles).items() if isinstance(value, TextStyle)}
    for path in PROOF.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "styles":
                assert node.attr not in shared, f"{path.name} has {node.attr} of the workshop's papers"
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "TextStyle":
                assert float(ast.literal_eval(node.args[0])) >= 10, f"{path.name}:{node.lineno}"


def test_compact_pages_hold_more_and_each_piece_is_whole():
    outcome = many(12)
    counts = {layout: proof_bytes(outcome, folder(layout=layout))[1] for layout in ("page", "compact")}
    assert counts["compact"] < counts["page"]


def test_the_decision_appears_once():
    outcome = builders.outcome()
    with pikepdf.open(io.BytesIO(proof_bytes(outcome, folder())[0])) as pdf:
        names = [str(f.T) for f in pdf.Root.AcroForm.Fields]
        (choice,) = [f for f in pdf.Root.AcroForm.Fields if str(f.T) == "decision"]
        assert len(choice.Kids) == 3
    assert "all_correct" not in names and not any(name.startswith("answer_") for name in names)


def test_the_maker_s_details_and_noun_are_on_the_proof():
    outcome = builders.outcome()
    part = {"noun": NounConfig(one="medal", many="medals"), "price": "£ 312.50", "telephone": "01632 960123"}
    text = text_of(proof_bytes(outcome, folder(reply_by=date(2026, 12, 15), **part), numbered(outcome))[0])
    for words in ("15 December 2026", "Price: £ 312.50", "Call us on 01632 960123", "Look at every medal", "No. 3"):
        assert words in text
    assert "plaque" not in text.lower().replace("plaque.dxf", "")
    assert "Or just reply by message: “all correct”" in text


def test_the_client_s_logo_is_on_the_cover_as_it_is(tmp_path):
    Image.new("RGBA", (600, 300), (200, 30, 40, 255)).save(tmp_path / "logo.png")
    made = folder(logo="logo.png").model_copy(update={"folder": tmp_path})
    data, _ = proof_bytes(builders.outcome(), made)
    assert data == proof_bytes(builders.outcome(), made)[0]
    page = np.asarray(pypdfium2.PdfDocument(data)[0].render(scale=1).to_pil().convert("RGB")).astype(int)
    red = (abs(page - (200, 30, 40)) <= 3).all(axis=2)
    high, wide = np.ptp(np.argwhere(red), axis=0) / 72 * 25.4
    assert wide / high == pytest.approx(2.0, rel=0.05) and 40 < wide <= 60


@pytest.mark.parametrize(
    "bytes_", [b"", b"not a picture", b"\x89PNG\r\n\x1a\n" + b"\0" * 40, b"<svg/>", b"GIF89a" + b"\0" * 40]
)
def test_a_logo_that_is_not_a_picture_is_reported_by_name(tmp_path, bytes_):
    (tmp_path / "logo.png").write_bytes(bytes_)
    with pytest.raises(CannotRun, match=r"logo\.png"):
        proof_bytes(builders.outcome(), folder(logo="logo.png").model_copy(update={"folder": tmp_path}))


@pytest.mark.parametrize("name", ["../logo.png", "/etc/logo.png", "gone.png", "list.csv"])
def test_a_logo_missing_from_the_order_folder_stops_the_run_at_once(tmp_path, name):
    (tmp_path / "list.csv").write_text("name\nAda Tern\n", encoding="utf-8")
    (tmp_path / "order.toml").write_text(
        'title = "Stewards"\n[list]\nfile = "list.csv"\n[blank]\nshape = "rectangle"\nwidth = 90.0\nheight = 40.0\n'
        f'[[line]]\ntext = "{{name}}"\nface = "noto-sans"\ncap_height = 8.0\n[proof]\nlogo = "{name}"\n',
        encoding="utf-8",
    )
    with pytest.raises(CannotRun, match="logo"):
        read_order(tmp_path)


@pytest.mark.parametrize("language", list_languages())
def test_how_to_answer_has_two_rows_at_the_foot_of_a_page(language):
    """A third would run into the shop's name."""
    pen = PaperCanvas(*PAPERS["A4"])
    said = page_frame.describe_other_replies(load_texts(language))
    assert len(pen.wrap(said, type_sizes.QUIET, pen.width - 2 * page_frame.SIDE - page_mark.SIDE - 5)) <= 2


@pytest.mark.parametrize("language", [name for name in list_languages() if name != ENGLISH])
def test_a_proof_in_each_language_has_no_message_of_english(language):
    """Every message that has words and no facts, as a whole; what people typed stays as it is."""
    outcome = builders.outcome(findings=(builders.moved(5),))
    text = text_of(proof_bytes(outcome, folder(language=language, layout="compact"), numbered(outcome))[0])
    other = load_texts(language)
    for id, english in needed().items():
        if len(english) == 1 and len(english[0]) >= 12 and "{" not in english[0] and id.startswith("proof."):
            assert english[0] not in text, id
    for id in ("proof.cover.steps", "proof.sign.decision.changes", "proof.correct", "proof.next"):
        assert other.render_text(id) in text, id
    assert re.search(r"QR|\d", text)


@pytest.mark.parametrize("language", list_languages())
def test_foot_and_ruler_texts_fit_in_every_language(language):
    data, pages = proof_bytes(builders.outcome(), folder(language=language, paper="letter", telephone="01632 960123"))
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        for page in (pdf.pages[0], pdf.pages[pages - 1]):
            words = [w for w in page.extract_words() if w["bottom"] > float(page.height) - 45 * 72 / 25.4]
            for i, a in enumerate(words):
                assert a["x1"] <= float(page.width) - 17.5 * 72 / 25.4
                for b in words[:i]:
                    apart = a["x0"] >= b["x1"] - 0.5 or b["x0"] >= a["x1"] - 0.5
                    assert apart or a["top"] >= b["bottom"] - 3 or b["top"] >= a["bottom"] - 3, (a["text"], b["text"])
