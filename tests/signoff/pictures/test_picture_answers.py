"""Pictures of the pages through the sign command: which page it is, what is ticked and written, what is asked back."""

from __future__ import annotations

import io
import random
import subprocess
import sys
from pathlib import Path

import numpy as np
import openpyxl
import pikepdf
import pypdfium2
import pytest
from PIL import Image, ImageFilter

from pipeline.cli import main
from pipeline.signoff.design_answers import read_design_answers
from pipeline.signoff.pictures import picture_answers
from pipeline.signoff.pictures.empty_pages import EmptyProof
from pipeline.signoff.pictures.picture_answers import INSTALL, RECEIVED, WRITTEN, list_handwriting
from pipeline.signoff.pictures.picture_files import is_picture, read_pages
from pipeline.signoff.records.ledger import Ledger, read_verified_entries
from pipeline.signoff.returned import answer_formats
from tests.long.pictured_answers import PENS, TIMES, Writer, drawn, pictured
from tests.test_every_stop import Job, names

pytest.importorskip("cv2", reason="OpenCV (pip install -e '.[pictures]')")
pytestmark = pytest.mark.xdist_group("pictured answers")


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Job:
    job = Job(tmp_path_factory.mktemp("pictured") / "order")
    job.folder.mkdir()
    job.write(names("Ida Vex", "Bo Skua", "Una Tern", "Odd Marram"))
    assert main(["run", str(job.folder)]) == 0
    return job


@pytest.fixture
def job(made, tmp_path) -> Job:
    """Return the order with none of its answers recorded yet."""
    import shutil

    shutil.copytree(made.folder, tmp_path / "order")
    return Job(tmp_path / "order")


@pytest.fixture(autouse=True)
def _read_each_picture_once(monkeypatch):
    """Read each picture of the same proof only once in all these tests; PNG in this process, because starting one
    with OpenCV takes as long as reading a page. JPEG and PDF pass through the door."""
    apart = picture_answers.read_apart

    def read(reader, data, file, copies, order_id, **how):
        key = (data, file, order_id, tuple(sorted((k, c.sha256) for k, c in copies.items())))
        if key not in READ:
            given = (data, file, copies, order_id)
            READ[key] = reader(*given) if file.endswith(".png") else apart(reader, *given, **how)
        return READ[key]

    def either(*given, **how):
        # the other call only asks whether a PDF is flattened
        return (read if len(given) == 5 else apart)(*given, **how)

    monkeypatch.setattr(picture_answers, "read_apart", either)


def proof_of(job: Job, sent: str = "proof-A.pdf") -> tuple[EmptyProof, bytes]:
    data = (job.folder / "sent" / sent).read_bytes()
    return EmptyProof(data), data


def filled(job: Job, page: int, sent: str = "proof-A.pdf", **acts: str) -> np.ndarray:
    """Return a page with ticks and writing. acts: by field and number (`correct1`), what is done in the box, in
    order."""
    proof, data = proof_of(job, sent)
    look = drawn(data, page)
    writer = Writer(look, random.Random(page), PENS[0][0])
    numbers = {d.fingerprint: d.no for d in proof.identity.designs}
    for box in proof.get_page(page).boxes:
        kind, _, mark = box.field.partition("_")
        name = f"{kind}{numbers[mark]}" if mark in numbers else box.field.replace("-", "_")
        name += f"_{box.option.replace('-', '_')}" if kind == "decision" else ""
        place = [v * TIMES for v in box.place]
        for act in acts.get(name, "").split():
            if act == "write":
                writer.write(place[0] + 12, place[3] - 20, 24, 8)
            elif act == "beside":
                writer.write(place[0], place[3] + 10 * TIMES * 6, 24, 8)
            elif act == "stroke":
                writer.line([(place[0] + 8, place[3] - 8), (place[2] - 8, place[1] + 8)])
            else:
                getattr(writer, act)(place)
    return look


def list_answered(job: Job, sent: str) -> list[int]:
    """List the pages with boxes."""
    proof, _ = proof_of(job, sent)
    return [n for n in range(1, proof.size + 1) if proof.get_page(n).boxes]


def save(picture: np.ndarray, file: Path, **how: object) -> str:
    if file.suffix == ".png":
        how = {"compress_level": 1, **how}
    Image.fromarray(picture).save(file, **how)
    return str(file)


def decided(job: Job) -> dict[int, str]:
    return {e.no: e.decision for e in Ledger.open(job.folder).read_entries() if e.kind in ("answer", "reading")}


def told(capsys: pytest.CaptureFixture[str]) -> str:
    return " ".join(capsys.readouterr().out.split())


CARDS, LAST = 2, 3
READ: dict[object, object] = {}


def test_a_photographed_answer_from_reading_to_the_change_list(job, tmp_path, capsys):
    chance = random.Random(5)
    cards = filled(job, CARDS, correct1="tick", change2="write", correct3="tick strike", leave4="cross")
    last = filled(job, LAST, decision_agreed_with_changes="cross", name="write")
    pages = [
        save(pictured(look, way, chance), tmp_path / f"page {n}.jpg", quality=85)
        for n, (look, way) in enumerate(((cards, "scan 200"), (last, "phone 5")))
    ]
    given = ["sign", str(job.folder), *pages]
    assert main(given) == 1 and not decided(job)
    said = told(capsys)
    assert "1 agreed, 1 to be changed, 1 not to be cut, 1 unclear" in said, said
    assert "-name.png. Say who signed" in said
    assert main([*given, "--by", "Anna Dunlin", "--yes"]) == 1  # No. 3 is still open
    assert decided(job) == {1: "agreed", 2: "change", 3: "unclear", 4: "refused"}
    paper = next(e for e in Ledger.open(job.folder).read_entries() if e.kind == "paper")
    assert (paper.source_kind, [name for name, _ in paper.files]) == ("picture", ["page 0.jpg", "page 1.jpg"])
    kept = sorted(p.suffix for p in (job.folder / "received").rglob("*.*"))
    assert kept.count(".jpg") == 2 and kept.count(".png") >= 3
    book = openpyxl.load_workbook(job.out / "changes.xlsx")
    assert len(book.active._images) == 1  # the handwriting, for the maker to read
    capsys.readouterr()
    assert main([*given, "--by", "Anna Dunlin", "--decide", "3=agreed", "--decided-by", "Jo Sanderling"]) == 0
    assert decided(job)[3] == "agreed" and decided(job)[2] == "change"


def test_all_correct_counts_only_with_every_page(job, tmp_path, capsys):
    before = (job.folder / "signoff.sqlite").read_bytes()
    cards = save(filled(job, CARDS, correct1="tick"), tmp_path / "2.png")
    last = save(filled(job, LAST, decision_agreed_as_shown="tick"), tmp_path / "3.png")
    assert main(["sign", str(job.folder), last, "--by", "Anna", "--yes"]) == 1
    assert "page 2 of the proof is not in the pictures" in told(capsys) and not decided(job)
    assert main(["sign", str(job.folder), cards, "--by", "Anna", "--yes"]) == 1  # the signed page is missing
    assert not {"agreed"} & set(decided(job).values())
    (job.folder / "signoff.sqlite").write_bytes(before)
    assert main(["sign", str(job.folder), cards, last, "--by", "Anna", "--yes"]) == 0
    assert set(decided(job).values()) == {"agreed"}


@pytest.mark.parametrize("fax", [False, True])
def test_a_name_painted_over_leaves_nothing_agreed(job, tmp_path, capsys, fax):
    look = filled(job, CARDS, correct2="tick")
    look[470:560, 390:640] = 255  # the name on the first plaque: 28 × 10 mm
    look = faxed(look) if fax else look
    last = save(filled(job, LAST, decision_agreed_as_shown="tick"), tmp_path / "3.png")
    assert main(["sign", str(job.folder), save(look, tmp_path / "2.png"), last, "--by", "Anna", "--yes"]) == 1
    assert "a part of the page is covered" in told(capsys) and not decided(job)


def test_writing_on_the_signature_line_is_shown_to_the_maker(job, tmp_path, capsys):
    look, (proof, _) = filled(job, LAST, decision_agreed_as_shown="tick"), proof_of(job)
    left, top, _, bottom = (v * TIMES for v in proof.get_page(LAST).signature)
    Writer(look, random.Random(4)).write(left + 20, (top + bottom) / 2, 24, 8)
    pages = [save(filled(job, CARDS, correct1="tick"), tmp_path / "2.png"), save(look, tmp_path / "3.png")]
    main(["sign", str(job.folder), *pages, "--by", "Anna"])
    assert "-page-3-signature.png" in told(capsys) and not decided(job)
    assert [path.name for path in (job.folder / "received").rglob("*signature.png")]


def test_ink_beside_the_boxes_leaves_the_page_unclear(job, tmp_path):
    cards = save(filled(job, CARDS, correct1="tick", change1="beside"), tmp_path / "2.png")
    last = save(filled(job, LAST, decision_agreed_as_shown="tick"), tmp_path / "3.png")
    assert main(["sign", str(job.folder), cards, last, "--by", "Anna", "--yes"]) == 1
    assert not decided(job)


def faxed(look: np.ndarray, level: float = 150) -> np.ndarray:
    """Return a page in black and white, by a threshold that is not quite even."""
    grain = np.random.default_rng(1).normal(0, 8, look.shape[:2])
    return np.where(look.mean(axis=2) + grain > level, 255, 0).astype(np.uint8)


def dithered(look: np.ndarray) -> np.ndarray:
    """Return a page in black and white whose tones are dots."""
    return pictured(look, "fax toned", random.Random(2))


@pytest.mark.parametrize("machine", [faxed, dithered])
def test_a_fax_counts_where_its_marks_are_solid(job, tmp_path, machine):
    """And no print of its own is taken for a mark on it."""
    cards = save(machine(filled(job, CARDS, correct1="tick", leave4="cross")), tmp_path / "2.png")
    last = save(machine(filled(job, LAST, decision_agreed_with_changes="tick", name="write")), tmp_path / "3.png")
    assert main(["sign", str(job.folder), cards, last, "--by", "Anna", "--yes"]) == 0
    assert decided(job) == {1: "agreed", 2: "agreed", 3: "agreed", 4: "refused"}


def test_a_fax_of_which_one_mark_is_no_plain_tick_is_unclear(job, tmp_path, capsys):
    """Nothing of it is agreed: what is left of a cross in pencil may be one solid stroke, and others may be lost."""
    low = 110  # of 255, of the threshold: the pen has 94, the small print a little more than this
    cards = save(faxed(filled(job, CARDS, correct1="tick", leave4="stroke"), low), tmp_path / "2.png")
    last = save(filled(job, LAST, decision_agreed_with_changes="tick"), tmp_path / "3.png")
    assert main(["sign", str(job.folder), cards, last, "--by", "Anna", "--yes"]) == 1
    assert "others may be lost" in told(capsys) and not decided(job)


@pytest.mark.parametrize(("acts", "states"), [("", {"agreed"}), ("stroke", set())])
def test_a_page_of_a_fax_without_a_tick_counts_beside_one_that_shows_the_pen(job, tmp_path, acts, states):
    """Every page of a proof, of which only the last is ticked: all is agreed, unless a mark on another is broken or
    doubtful."""
    low = 110  # see above
    pages = [
        save(
            faxed(filled(job, page, correct1=acts if page == CARDS else "", decision_agreed_as_shown="tick"), low), file
        )
        for page, file in ((n, tmp_path / f"{n}.png") for n in (1, CARDS, LAST))
    ]
    assert main(["sign", str(job.folder), *pages, "--by", "Anna", "--yes"]) == (0 if states else 1)
    assert set(decided(job).values()) == states


@pytest.mark.parametrize(("acts", "why"), [("tick", "is broken"), ("", "no solid tick")])
def test_a_fax_that_may_have_lost_a_mark_is_unclear(job, tmp_path, capsys, acts, why):
    """A “do not cut” in pencil may be white in a fax: so may any mark where one is broken, or where none is seen."""
    just_lost = 92  # of 255: the pen has 94
    look = faxed(filled(job, CARDS, correct1=acts, correct2=acts), just_lost)
    cards = save(look, tmp_path / "2.png")
    last = save(filled(job, LAST, decision_agreed_as_shown="tick"), tmp_path / "3.png")
    assert main(["sign", str(job.folder), cards, last, "--by", "Anna", "--yes"]) == 1
    assert why in told(capsys) and not decided(job)


@pytest.mark.parametrize("way", ["scan 200", "fax plain", "fax coarse", "fax toned"])
def test_an_accent_on_a_name_leaves_the_page_unclear(job, tmp_path, way):
    look = filled(job, CARDS, correct1="tick")
    there = look[470:560, 390:640].min(axis=2) < 90  # the name on the first plaque
    x, y = 390 + int(np.flatnonzero(there.any(axis=0))[8]), 470 + int(np.flatnonzero(there.any(axis=1))[0])
    writer = Writer(look, random.Random(3), PENS[0][0])
    writer.line([(x, y - 4), (x + 6, y - 14)])
    cards = save(pictured(look, way, random.Random(2)), tmp_path / "2.png")
    last = save(filled(job, LAST, decision_agreed_as_shown="tick"), tmp_path / "3.png")
    assert main(["sign", str(job.folder), cards, last, "--by", "Anna", "--yes"]) == 1
    assert not decided(job)


def test_two_choices_and_one_page_twice_are_no_agreement(job, tmp_path, capsys):
    one = save(filled(job, CARDS, correct1="tick", leave1="tick"), tmp_path / "2 again.png")
    other = save(filled(job, CARDS, correct1="tick"), tmp_path / "2.png")
    assert main(["sign", str(job.folder), one, other, "--by", "Anna", "--yes"]) == 1
    assert "page 2 is there twice" in told(capsys)
    assert "agreed" not in decided(job).values()


def test_a_pdf_printed_flat_is_read_as_its_pages(job, tmp_path, capsys):
    """Filled in with pikepdf and drawn by PDFium into a new file, like printing to PDF."""
    proof, data = proof_of(job)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for page in pdf.pages:
            for note in page.obj.get("/Annots", []):
                if str(note.get("/T", "")).startswith("correct_"):
                    note.AS = note.V = pikepdf.Name.Yes
        whole = io.BytesIO()
        pdf.save(whole)
    filled_in = pypdfium2.PdfDocument(whole.getvalue())
    filled_in.init_forms()
    for page in filled_in:
        pypdfium2.raw.FPDFPage_Flatten(page, pypdfium2.raw.FLAT_PRINT)
    filled_in.save(str(tmp_path / "flat.pdf"))
    assert main(["sign", str(job.folder), str(tmp_path / "flat.pdf"), "--by", "Anna", "--yes"]) == 0
    said = told(capsys)
    assert "revision ," not in said and "pages as pictures of revision A" in said
    assert decided(job) == dict.fromkeys((1, 2, 3, 4), "agreed")
    assert proof.size == len(list(read_pages((tmp_path / "flat.pdf").read_bytes(), "flat.pdf")))


@pytest.mark.parametrize(
    ("way", "why"),
    [
        ("coarse", "its longer side is 930 pixels in the picture. Send it again with at least 1000"),
        ("dark", "too dark"),
        ("blurred", "too blurred"),
        ("other", "no mark of a proof"),
        ("two", "one page"),
    ],
)
def test_unreadable_pages_are_reported_with_the_reason(job, tmp_path, capsys, way, why):
    page = Image.fromarray(filled(job, CARDS, correct1="tick"))
    if way == "dark":
        page = page.point(lambda v: v // 8)
    elif way == "coarse":
        page = page.resize((round(page.width * 930 / page.height), 930), Image.Resampling.LANCZOS)
    elif way == "blurred":
        page = page.reduce(3).filter(ImageFilter.GaussianBlur(8))
    elif way == "other":
        page = Image.effect_noise((300, 400), 60).convert("RGB")
    else:
        both = Image.new("RGB", (page.width * 2, page.height))
        both.paste(page)
        both.paste(Image.fromarray(filled(job, LAST)), (page.width, 0))
        page = both
    page.save(tmp_path / "page.png")
    assert main(["sign", str(job.folder), str(tmp_path / "page.png"), "--by", "Anna", "--yes"]) == 1
    said = told(capsys)
    assert why in said and "None of it was recorded" in said and not decided(job)


def test_a_page_of_another_order_is_reported(job, tmp_path, capsys):
    other = Job(tmp_path / "other")
    other.folder.mkdir()
    other.write(names("Pia Plover", "Gil Avocet"))
    assert main(["run", str(other.folder)]) == 0
    page = save(filled(other, CARDS, correct1="tick"), tmp_path / "2.png")
    capsys.readouterr()
    assert main(["sign", str(job.folder), page, "--by", "Anna", "--yes"]) == 1
    assert "a page of another" in told(capsys) and not decided(job)


def bomb() -> bytes:
    """Return a PNG that declares 400 megapixels in its header (ISO/IEC 15948) and holds little."""
    import struct
    import zlib

    def part(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 20_000, 20_000, 1, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + part(b"IHDR", head)
        + part(b"IDAT", zlib.compress(bytes(20_000 * 2_501)))
        + part(b"IEND", b"")
    )


@pytest.mark.parametrize("data", [bomb(), b"\xff\xd8\xff\xe0" + bytes(200), b"II*\0" + b"\xff" * 60, b"BM" + bytes(80)])
def test_hostile_pictures_are_refused_with_a_reason(job, tmp_path, capsys, data):
    file = tmp_path / "page.jpg"
    file.write_bytes(data)
    assert is_picture(data)
    assert main(["sign", str(job.folder), str(file), "--by", "Anna", "--yes"]) == 1
    assert "page.jpg: " in told(capsys) and not decided(job)


def test_without_the_extra_the_message_says_how_to_install_it(job, tmp_path, capsys, monkeypatch):
    page = save(filled(job, CARDS, correct1="tick"), tmp_path / "2.png")
    monkeypatch.setattr("importlib.util.find_spec", lambda name, package=None: None)
    assert main(["sign", str(job.folder), page, "--by", "Anna", "--yes"]) == 1
    said = told(capsys)
    assert INSTALL.partition("venv/bin/")[2] in said
    assert INSTALL.partition(", ")[2] in (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")


def test_a_filled_in_form_does_not_import_the_picture_reader(job):
    """In a separate process, where nothing else has imported it."""
    code = (
        "import sys; from pipeline.cli import main; "
        f"main(['sign', {str(job.folder)!r}, {str(job.out / 'proof.pdf')!r}, '--by', 'Anna']); "
        "sys.exit(any(m == 'cv2' or m.endswith(('page_reading', 'page_finding')) for m in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_forms_that_belong_together_are_one_answer(tmp_path):
    for name in ("a.jpg", "b.jpg"):
        Image.new("RGB", (8, 8)).save(tmp_path / name)
    (tmp_path / "c.txt").write_text("all correct", encoding="utf-8")
    paths = [tmp_path / n for n in ("a.jpg", "c.txt", "b.jpg")]
    assert answer_formats.group_returned(paths) == [(paths[0], paths[2]), (paths[1],)]


@pytest.fixture(scope="module")
def volumes(tmp_path_factory) -> Job:
    """An order in two volumes: two names in capitals, one in each, are asked about once, in the first."""
    job = Job(tmp_path_factory.mktemp("volumes") / "order")
    job.folder.mkdir()
    job.write(names(*ODD), end='[proof]\nvolume = 6\nlayout = "compact"\n')  # fewer pages to read
    assert main(["run", str(job.folder)]) == 0
    return job


ODD = (
    "Ida Vex", "BO SKUA", "Una Tern", "Odd Marram", "Pia Plover", "Ann Gull",
    "Jo Knot", "GIL AVOCET", "Abe Ruff", "Eve Dunlin", "Max Godwit", "Ivo Curlew",
)  # fmt: skip


@pytest.mark.parametrize("given", [(1, 2), (2,)])
def test_a_question_about_plaques_of_both_volumes_is_read_in_the_first(volumes, tmp_path, capsys, given):
    """Ticked in a picture of the first volume, it settles the plaque of the second; without it nothing does."""
    import shutil

    shutil.copytree(volumes.folder, tmp_path / "order")
    job = Job(tmp_path / "order")
    pages = []
    for volume in given:
        sent = f"proof-A-{volume}.pdf"
        for number in list_answered(job, sent):
            look = filled(job, number, sent, q1_as_it_stands="tick", decision_agreed_as_shown="tick")
            pages.append(save(look, tmp_path / f"{volume} {number}.png"))
    assert main(["sign", str(job.folder), *pages, "--by", "Anna", "--yes"]) == 0
    entries = read_verified_entries(Ledger.open(job.folder))
    agreed = {a.entry.text[0] for a in read_design_answers(entries).values() if a.decision == "agreed"}
    assert agreed == (set(ODD) if 1 in given else set(ODD[6:]) - {"GIL AVOCET"})
    assert sum(e.kind == "paper" for e in entries) == len(given)
    assert "No. 8, list!A9: “GIL AVOCET”: question 1, in volume 1, is about it" in told(capsys)
    assert main(["sign", str(job.folder), *pages, "--by", "Anna", "--yes"]) == 0  # once more changes nothing
    assert len(read_verified_entries(Ledger.open(job.folder))) == len(entries)


@pytest.mark.parametrize("beside", ["letter", "telephone", "back"])
def test_a_picture_that_cannot_be_read_leaves_nothing_agreed(job, tmp_path, capsys, beside):
    """A letter may say that a name is wrong; an empty back says nothing."""
    pages = [save(filled(job, CARDS, correct1="tick"), tmp_path / "2.png")]
    pages.append(save(filled(job, LAST, decision_agreed_as_shown="tick"), tmp_path / "3.png"))
    if beside == "telephone":
        (tmp_path / "1.heic").write_bytes(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(300))
        pages.append(str(tmp_path / "1.heic"))
    else:
        sheet = np.full((1169, 827, 3), 246, np.uint8)
        if beside == "letter":
            Writer(sheet, random.Random(2)).write(90, 300, 14, 20)
        pages.append(save(sheet, tmp_path / "1.png"))
    assert main(["sign", str(job.folder), *pages, "--by", "Anna", "--yes"]) == (0 if beside == "back" else 1)
    assert set(decided(job).values()) == ({"agreed"} if beside == "back" else set())
    assert ("as JPEG" in told(capsys)) == (beside == "telephone")


@pytest.mark.parametrize("orientation", [1, 6])
def test_the_rows_of_a_fax_of_standard_resolution_are_repeated(orientation):
    """204 × 98 dots to an inch (ITU-T T.4, from memory): a square of the page is one in the picture."""
    dots, file = np.full((98, 204), 255, np.uint8), io.BytesIO()
    dots[24:73, 51:153] = 0
    Image.fromarray(dots).convert("1").save(
        file, "TIFF", dpi=(204, 98), compression="group4", tiffinfo={274: orientation}
    )
    (picture,) = read_pages(file.getvalue(), "fax.tif")
    ys, xs = np.nonzero(picture[..., 0] == 0)
    assert set(np.unique(picture)) == {0, 255}
    assert abs(np.ptp(ys) - np.ptp(xs)) <= 2  # on its side too: orientation 6


def test_a_blurred_page_is_not_an_empty_back(job):
    from pipeline.signoff.pictures.page_finding import is_blank

    page = Image.fromarray(filled(job, LAST))
    assert not is_blank(np.asarray(page.filter(ImageFilter.GaussianBlur(14))))
    assert is_blank(np.full((1169, 827, 3), 246, np.uint8))


def test_a_page_whose_mark_is_on_curled_paper_is_found_and_read(job):
    """Most of the page is flat; its lower corner with the mark is 4 mm beside where that has it."""
    import cv2

    from pipeline.signoff.pictures.page_finding import FoundPage, PageFinder
    from pipeline.signoff.pictures.page_reading import read_page

    proof, _ = proof_of(job)
    look = filled(job, CARDS, correct1="tick")
    ys, xs = np.mgrid[0 : look.shape[0], 0 : look.shape[1]].astype(np.float32)
    off = 60 * np.maximum(1 - 2 * xs / look.shape[1], 0) * np.maximum(4 * ys / look.shape[0] - 3, 0)
    picture = cv2.remap(look, xs, ys + off, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    found = PageFinder({("A", 0): proof}, proof.identity.order_id).find(picture)
    assert isinstance(found, FoundPage) and found.page.number == CARDS, found
    told = read_page(picture, found)
    assert not told.remarks and not told.hidden and [b.state for b in told.boxes].count("on") == 1


def test_a_page_written_on_twice_shows_both_writings(job, tmp_path):
    pages = []
    for n, act in enumerate(("write", "write write")):
        pages.append(save(filled(job, CARDS, change1=act), tmp_path / f"2 {n}.png"))
    pages.append(save(filled(job, LAST, decision_agreed_with_changes="tick"), tmp_path / "3.png"))
    assert main(["sign", str(job.folder), *pages, "--by", "Anna", "--yes"]) == 0
    assert len(openpyxl.load_workbook(job.out / "changes.xlsx").active._images) == 2


def test_a_typed_answer_names_no_picture_of_another_field():
    kept = f"{RECEIVED}/pictures-0123456789abcdef/proof-A-page-2-no-1-change.png"
    assert list_handwriting(f"{WRITTEN}{kept}") == (kept,)
    assert not list_handwriting(f"{WRITTEN}{RECEIVED}/../../photos/holiday.png")
