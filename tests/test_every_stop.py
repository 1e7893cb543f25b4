"""Every kind of finding that stops, raised the way it happens: nothing that it stops is made, cached or released.

Each case is a small order that was run and signed while everything was fine; then the problem of the kind occurs. A
kind of severity stop without a case fails the test.
"""

from __future__ import annotations

import csv
import io
import itertools
import json
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import ezdxf
import openpyxl
import pypdf
import pypdfium2
import pytest

import pipeline.job
import pipeline.layout.typesetter
from pipeline.cli import main
from pipeline.core import catalogue
from pipeline.core.findings import Severity
from pipeline.cutting.v_carving import GroovePlanner
from pipeline.design_advice import DesignAdvisor
from pipeline.outputs.cut_files import manifest
from pipeline.outputs.explanation import explain
from pipeline.run import run_order
from tests.signoff.rounds import filled

pytestmark = pytest.mark.xdist_group("every stop")  # the orders that were fine are made once
NAMES = ("Ida Vex", "Bo Skua", "Una Tern")
ORDER = """
title = "Keepers of the Reach"
client = "Saltmarsh Rowers"
[list]
file = "{file}"
columns = {{ name = "Name", post = "Post" }}
[blank]
drawing = "plate.dxf"
thickness = {thickness}
margin = 1.0
[cutter]
use = "vbit-60"
{bit}
[[line]]
text = "{{name}}"
face = "noto-sans"
cap_height = 6.0
smallest = {smallest}
{end}
"""
EDGE = [(0, 0), (100, 0), (100, 60), (0, 60)]
ZONE = [(5, 5), (95, 5), (95, 25), (5, 25)]
POCKET = [(20, 35), (60, 35), (60, 50), (20, 50)]
HOLE = [(30, 10), (70, 10), (70, 20), (30, 20)]
STOCK = "[stock]\nrough = 16.0\n"
MILLED = "[pocket]\ndepth = 6.0\nrough = { diameter = 6.0, reach = 20.0 }\n"
GROOVES = "[files]\ngrooves = true\n"
SMALL_BOARD = "[board]\nunsigned = true\nsize = [{ length = 120.0, width = 190.0, count = 1 }]\n"
JIG = "[jig]\nunsigned = true\ncolumns = 2\nacross = 110.0\nbed = [400.0, 200.0]\n"
BOARD = "[board]\nunsigned = true\nsize = [{ length = 700.0, width = 190.0 }]\n"


@cache
def draw_plate(blocked: bool, pocket: bool) -> str:
    """Return the plate's drawing; drawn once, it is read once as well."""
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = 4
    loops = [("EDGE", EDGE), ("LETTERING", ZONE)]
    loops += [("POCKET", POCKET)] * pocket + [("KEEP_OUT", HOLE)] * blocked
    for layer, points in loops:
        doc.layers.add(layer)
        for p, q in itertools.pairwise([*points, points[0]]):
            doc.modelspace().add_line(p, q, dxfattribs={"layer": layer})
    text = io.StringIO()
    doc.write(text)
    return text.getvalue()


@dataclass
class Job:
    """The order folder, and how to rewrite it."""

    folder: Path
    values: dict[str, object] = field(default_factory=dict)

    def write(
        self,
        rows: list[tuple[object, ...]] | None = None,
        *,
        blocked: bool = False,
        pocket: bool = True,
        **values: object,
    ) -> None:
        """Write the order with other values, the list with other rows, the drawing with a keep-out in the zone or
        without a pocket."""
        self.values |= values
        given = {"file": "list.csv", "thickness": 12.0, "smallest": 6.0, "bit": "", "end": "", **self.values}
        (self.folder / "order.toml").write_text(ORDER.format(**given), encoding="utf-8")
        (self.folder / "plate.dxf").write_text(draw_plate(blocked, pocket), encoding="utf-8")
        text = io.StringIO(newline="")
        csv.writer(text).writerows([("Name", "Post"), *(rows or [(name, "Warden") for name in NAMES])])
        (self.folder / "list.csv").write_text(text.getvalue(), encoding="utf-8")

    @property
    def out(self) -> Path:
        return self.folder / "out"

    def cut(self) -> set[str]:
        return {p.name for p in (self.out / "cut").glob("*.dxf")}

    def released(self) -> set[str]:
        return {p.name for p in (self.out / "released").glob("*.dxf")}

    def file(self, stem: str) -> Path:
        (found,) = (self.out / "cut").glob(f"{stem}-*.dxf")
        return found

    def returned(self, answers: dict[int, object], name: str = "answer.xlsx", by: str = "Rowan Petrel") -> int:
        sheet = filled(self.out / "check.xlsx", self.folder / name, answers, by=by)  # type: ignore[arg-type]
        return main(["sign", str(self.folder), str(sheet)])


def names(*rows: object) -> list[tuple[object, ...]]:
    return [(name, "Warden") for name in rows]


CREST = '[[artwork]]\nfile = "crest.svg"\nat = [80.0, 42.0]\nwidth = 12.0\n'
BADGES = CREST.replace("crest", "{post}")
SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 12 12">{}</svg>'
RING = '<circle cx="6" cy="6" r="5.4" fill="none" stroke="#000" stroke-width="1.2"/>'


def with_crest(drawn: str, end: str = CREST, bit: str = "") -> Callable[[Job], None]:
    """Write the order with artwork drawn like this, 12 mm large."""

    def do(job: Job) -> None:
        (job.folder / "crest.svg").write_text(SVG.format(drawn), encoding="utf-8")
        job.write(end=end, bit=bit)

    return do


def badge_missing(job: Job) -> None:
    """The others have no badge, and stay as they were signed."""
    job.write([("Ida Vex", ""), ("Bo Skua", "Cook"), ("Una Tern", "")], end=BADGES)


def workbook(job: Job, cell: str, value: object) -> None:
    """Write the list as a workbook, with a value that text files can't hold."""
    book = openpyxl.Workbook()
    for row in [("Name", "Post"), *names(*NAMES)]:
        book.active.append(row)
    book.active[cell] = value
    book.save(job.folder / "list.xlsx")
    job.write(file="list.xlsx")


def disk_loses(patch: pytest.MonkeyPatch) -> None:
    """Simulate a disk that keeps only part of one plaque's drawings."""
    write = manifest.write_whole

    def short(target, data):
        write(target, data[:-2000] if "bo-skua" in target.name else data)

    patch.setattr(manifest, "write_whole", short)


def tool_fails(patch: pytest.MonkeyPatch) -> None:
    texts = pipeline.job.compose_line_texts

    def failing(order, recipient):
        if recipient.row == 3:
            raise ZeroDivisionError("division by zero")
        return texts(order, recipient)

    patch.setattr(pipeline.job, "compose_line_texts", failing)


def never_settles(patch: pytest.MonkeyPatch) -> None:
    """Lines that keep displacing each other: no rounds are left for them. `tests/layout/test_typesetter.py` has a
    block where this happens by itself, on every plaque."""
    patch.setattr(pipeline.layout.typesetter, "PASSES", 0)


def too_tall(job: Job) -> None:
    """Set capitals higher than the blank."""
    job.write(smallest=90.0)
    order = job.folder / "order.toml"
    order.write_text(order.read_text(encoding="utf-8").replace("cap_height = 6.0", "cap_height = 90.0"))


def cuts_aside(patch: pytest.MonkeyPatch) -> None:
    """Shift grooves off their letters; simulations are cached by tolerance, so that the order has its own."""
    right = GroovePlanner.plan_piece
    patch.setattr(GroovePlanner, "plan_piece", lambda self, *a: [way + (0.04, 0, 0) for way in right(self, *a)])


@dataclass(frozen=True)
class Case:
    """How a kind is raised. do: to the order that was signed and released. patch: to what the tool relies on. start:
    what the order had before. rows: those it stops. told: what the release may report instead."""

    do: Callable[[Job], object] = lambda job: None
    patch: Callable[[pytest.MonkeyPatch], None] | None = None
    start: str = ""
    rows: tuple[int, ...] = (3,)
    told: str = ""


ALL = (2, 3, 4)
LONG = "Bo Skua of the Inner and the Outer Reach"
STOPS_PLAQUES = {
    "list.name-missing": Case(lambda job: job.write(names("Ida Vex", "", "Una Tern"))),
    "list.cell-error": Case(lambda job: job.write(names("Ida Vex", "#REF!", "Una Tern"))),
    "list.no-result": Case(lambda job: workbook(job, "A3", '="Bo "&"Skua"')),
    "face.glyph-missing": Case(lambda job: job.write(names("Ida Vex", "Bo 漢 Skua", "Una Tern"))),
    "fit.too-long": Case(lambda job: job.write(names("Ida Vex", LONG, "Una Tern"))),
    "fit.too-tall": Case(too_tall, rows=ALL),
    "fit.outside-zone": Case(lambda job: job.write(names("Ida Vex", LONG, "Una Tern"), smallest=2.0), never_settles),
    "fit.hits-keep-out": Case(lambda job: job.write(blocked=True), rows=ALL),
    "stroke.too-thin": Case(lambda job: job.write(end="[limits]\nstroke = 2.0\n"), rows=ALL),
    "stroke.thin-after-sanding": Case(lambda job: job.write(end="[finish]\nsanded_off = 0.6\n"), rows=ALL),
    "land.too-thin": Case(lambda job: job.write(end="[limits]\nland = 3.0\n"), rows=ALL),
    "groove.too-deep": Case(lambda job: job.write(end="[limits]\ndeepest = 0.3\n"), rows=ALL),
    "stock.floor-too-thin": Case(lambda job: job.write(end="[stock]\nleast_floor = 11.9\n"), rows=ALL),
    "text.endless": Case(lambda job: job.write(names("Ida Vex", "Bo Skua " * 100, "Una Tern"))),
    "text.marks-piled-up": Case(lambda job: job.write(names("Ida Vex", "Bo Skua" + "\u0316" * 20, "Una Tern"))),
    "groove.wider-than-cutter": Case(lambda job: job.write(end=GROOVES, bit="diameter = 0.5"), rows=ALL),
    "groove.off-letter": Case(lambda job: job.write(end=GROOVES + "tolerance = 0.011\n"), cuts_aside, rows=ALL),
    "artwork.missing": Case(badge_missing),
    "artwork.cannot-cut": Case(with_crest(RING + '<text x="2" y="6">Rowers</text>'), rows=ALL),
    "artwork.no-size": Case(with_crest(RING, CREST.replace("width = 12.0\n", "")), rows=ALL),
    "artwork.does-not-fit": Case(with_crest(RING, CREST.replace("12.0", "60.0")), rows=ALL),
    "artwork.stroke-too-thin": Case(with_crest(RING.replace("1.2", "0.15")), rows=ALL),
    "artwork.land-too-thin": Case(with_crest('<path d="M0 0h5.95v12H0zM6.05 0H12v12H6.05z"/>'), rows=ALL),
    "artwork.groove-too-deep": Case(
        with_crest('<rect width="12" height="3"/>', CREST + "[limits]\ndeepest = 1.6\n"), rows=ALL
    ),
    "artwork.groove-too-wide": Case(
        with_crest('<rect width="12" height="3"/>', CREST + GROOVES, "diameter = 2.5"), rows=ALL
    ),
    "artwork.groove-off": Case(with_crest(RING, CREST + GROOVES + "tolerance = 0.012\n"), cuts_aside, rows=ALL),
    "file.read-back-differs": Case(lambda job: job.file("bo-skua").unlink(), disk_loses, told="file.missing"),
    "tool.fault": Case(patch=tool_fails, told="tool.fault|file.missing"),
}
STOPS_ORDERS = {
    "pocket.cutter-too-wide": Case(
        lambda job: job.write(end="[pocket]\ndepth = 6.0\nrough = { diameter = 16.0, reach = 20.0 }\n"), start=MILLED
    ),
    "pocket.beyond-reach": Case(
        lambda job: job.write(end="[pocket]\ndepth = 6.0\nrough = { diameter = 6.0, reach = 5.0 }\n"), start=MILLED
    ),
    "stock.too-thin": Case(lambda job: job.write(thickness=5.0, end=MILLED), start=MILLED),
    "stock.engraving-lost": Case(
        lambda job: job.write(end=STOCK + "[limits]\nstroke = 0.05\nshallowest = 1.0\n[finish]\nsanded_off = 0.1\n"),
        start=STOCK,
    ),
}
STOPS_BOARDS = {
    "board.no-room": Case(lambda job: job.write(end=SMALL_BOARD), start=BOARD),
}
STOPS_JIGS = {
    "jig.places-overlap": Case(lambda job: job.write(end=JIG.replace("110", "99")), start=JIG),
    "jig.outside-bed": Case(lambda job: job.write(end=JIG.replace("400", "200")), start=JIG),
}
TRIED_WITH_THE_LEDGER = {
    "sign.other-order": "a_copied_folder_with_another_title_releases_nothing_until_the_maker_says_it_is_the_same",
    "sign.covers-more": "what_an_earlier_version_signed_is_still_signed_or_told_by_name",
    "sign.made-differently": "files_made_in_another_way_are_for_the_maker_to_accept",
    "sign.ledger-older": "an_older_another_or_missing_ledger_releases_nothing",
    "file.elsewhere": "a_cut_file_that_is_a_link_to_elsewhere_is_held_back",
}
"""Kinds that come about by more than an edit: the tests of the sign-off that raise them."""
AGREED = dict.fromkeys(ALL, "agreed")
AT_RELEASE: dict[str, tuple[dict[int, object], Callable[[Job], object]]] = {
    "sign.not-signed": ({2: "agreed", 4: "agreed"}, lambda job: None),
    "sign.changed-since": (AGREED, lambda job: job.write(names("Ida Vex", "Bo Skuas", "Una Tern"))),
    "sign.more-pieces": (AGREED, lambda job: job.write(names("Ida Vex", "Bo Skua", "Bo Skua"))),
    "sign.change-wanted": ({**AGREED, 3: ("change", "Bo Skuar")}, lambda job: None),
    "sign.refused": ({**AGREED, 3: "do not cut"}, lambda job: None),
    "sign.contradicted": ({**AGREED, 3: ("agreed", "Bo Skuar")}, lambda job: None),
    "file.missing": (AGREED, lambda job: job.file("bo-skua").unlink()),
    "file.altered": (AGREED, lambda job: job.file("bo-skua").write_bytes(b"something else")),
}


def test_every_kind_that_stops_has_a_case():
    """A new kind needs a case here: how it is raised, and what must then not exist."""
    stops = {code for code, kind in catalogue.KINDS.items() if kind.severity is Severity.STOP}
    assert stops == {*STOPS_PLAQUES, *STOPS_ORDERS, *STOPS_BOARDS, *STOPS_JIGS, *AT_RELEASE, *TRIED_WITH_THE_LEDGER}
    assert {code for code in stops if catalogue.KINDS[code].stops == "order"} == {*STOPS_ORDERS, "sign.ledger-older"}
    assert {code for code in stops if catalogue.KINDS[code].stops == "boards"} == {*STOPS_BOARDS}
    assert {code for code in stops if catalogue.KINDS[code].stops == "jigs"} == {*STOPS_JIGS}


@pytest.mark.parametrize("code", TRIED_WITH_THE_LEDGER)
def test_a_kind_tried_elsewhere_is_tried_there(code):
    files = (Path(__file__).parent / "signoff").glob("test_*.py")
    bodies = [body for file in files for body in file.read_text(encoding="utf-8").split("\ndef test_")[1:]]
    (body,) = [body for body in bodies if body.startswith(f"{TRIED_WITH_THE_LEDGER[code]}(")]
    assert code in body.replace("\\", "")


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("fit.too-long", "this plaque: it gets no cut file"),
        ("pocket.cutter-too-wide", "every plaque of the order"),
        ("jig.outside-bed", "no drawing of a load. The single cut files stay good"),
        ("board.no-room", "The single cut files stay good"),
        ("sign.not-signed", "the release of this plaque"),
    ],
)
def test_explain_says_what_a_kind_stops(code, words):
    assert "What it stops" in explain(code) and words in " ".join(explain(code).split())
    assert "What it stops" not in explain("list.look-alike")


@pytest.fixture
def job(tmp_path) -> Job:
    folder = tmp_path / "order"
    folder.mkdir()
    return Job(folder)


def ran(job: Job, fresh: bool = False) -> tuple[int, dict]:
    """Return a run, and its report as written to disk."""
    status = run_order(job.folder, workers=1, fresh=fresh).exit_status
    return status, json.loads((job.out / "report.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def well(tmp_path_factory) -> Callable[[str], Path]:
    """Return orders with these tables from when everything was fine: run, signed and released, once each."""

    @cache
    def made(start: str) -> Path:
        job = Job(tmp_path_factory.mktemp("order"))
        job.write(end=start)
        assert run_order(job.folder, workers=1).exit_status == 0
        assert job.returned(AGREED) == 0 and main(["release", str(job.folder)]) == 0
        assert len(job.cut()) == len(job.released()) == 3
        return job.folder

    return made


@pytest.fixture
def signed(well, job) -> Callable[[str], None]:
    """Replace the order of the test by one that was signed and released."""
    return lambda start="": shutil.copytree(well(start), job.folder, dirs_exist_ok=True)


def codes(report: dict, row: int) -> set[str]:
    return {f["code"] for p in report["plaques"] if p["row"] == row for f in p["findings"]}


@pytest.fixture
def unadvised(monkeypatch) -> None:
    """No other design is tried for lines that are stopped on every plaque: tests/test_design_advice.py."""
    monkeypatch.setattr(DesignAdvisor, "advise_all", lambda self, faults: faults)


@pytest.mark.usefixtures("unadvised")
@pytest.mark.parametrize("code", [*STOPS_PLAQUES, *STOPS_ORDERS])
def test_nothing_stopped_is_cut_cached_or_released(code, job, signed, monkeypatch, capsys):
    case = (STOPS_PLAQUES | STOPS_ORDERS)[code]
    signed(case.start)
    case.do(job)
    if case.patch:
        case.patch(monkeypatch)
    status, report = ran(job, fresh=code == "tool.fault")  # whose plaques were made, and are cached
    assert status == (3 if code == "tool.fault" else 1)
    stopped = ALL if code in STOPS_ORDERS else case.rows
    going = {p["row"]: p for p in report["plaques"] if p["state"] != "stopped"}
    assert {*going} == {*ALL} - {*stopped}
    assert all(code in codes(report, row) for row in stopped)
    assert all(p["cut_file"] is None and p["fingerprint"] is None for p in report["plaques"] if p["row"] in stopped)
    files = {Path(p["cut_file"]).name for p in going.values()}
    assert job.cut() == files
    capsys.readouterr()
    assert main(["release", str(job.folder)]) == 1
    said = capsys.readouterr().out
    assert re.search(rf"  ({case.told or code}) \({len(stopped)}\)\n", said)
    assert job.released() == files
    main(["status", str(job.folder), "--json"])
    states = {p["row"]: p["state"] for p in json.loads(capsys.readouterr().out)["plaques"]}
    if not case.told:
        assert {row for row, state in states.items() if state == "stopped"} == {*stopped}


@pytest.mark.parametrize("code", STOPS_ORDERS)
def test_a_stop_of_the_order_is_reported_once_on_every_paper(code, job, capsys):
    case = STOPS_ORDERS[code]
    job.write(end=case.start + BOARD)
    assert run_order(job.folder, workers=1).exit_status == 0
    assert list((job.out / "boards").glob("*.dxf"))
    case.do(job)
    job.write(end=f"{job.values['end']}{BOARD}")
    done = run_order(job.folder, workers=1)
    assert done.summary.count(f"[{code}]") == 1
    assert "3 plaques: 0 ready, 3 cannot be cut." in done.summary
    assert "no plaque of the order can be cut" in " ".join(done.summary.split())
    assert not list((job.out / "boards").glob("*.dxf")) and "cut/" not in done.summary
    proof = text_of(job.out / "proof.pdf")
    assert "no agreement is asked for" in proof and "3 cannot be cut" in proof
    assert fields_of(job.out / "proof.pdf").isdisjoint({"decision"})
    assert not any(name.startswith(("correct_", "choice_")) for name in fields_of(job.out / "proof.pdf"))
    shop = text_of(job.out / "shop.pdf")
    assert "Nothing in this order may be cut" in shop and f"[{code}]" in shop
    assert not re.search("Order of operations|Tick list|Saw card|Time and cost", shop)


def test_one_option_that_cannot_be_cut_promises_nothing(job, tmp_path, capsys):
    other = Job(tmp_path / "other")
    other.folder.mkdir()
    other.write(end=MILLED)
    job.write()
    STOPS_ORDERS["pocket.beyond-reach"].do(job)
    assert main(["compare", str(job.folder), str(other.folder), "--json"]) == 0
    stopped, fine = json.loads(capsys.readouterr().out)
    assert (stopped["stopped"], stopped["minutes"], stopped["cost"]) == (3, None, None)
    assert "pocket.beyond-reach" in stopped["findings"] and fine["minutes"] > 0
    assert main(["compare", str(job.folder), str(other.folder)]) == 0


def test_a_stop_of_the_boards_leaves_the_single_files(job, signed, capsys):
    case = STOPS_BOARDS["board.no-room"]
    signed(case.start)
    assert list((job.out / "boards").glob("*.dxf"))
    case.do(job)
    status, report = ran(job)
    assert status == 1 and [p["state"] for p in report["plaques"]] == ["ready"] * 3
    assert not list((job.out / "boards").glob("*.dxf")) and len(job.cut()) == 3
    shop = text_of(job.out / "shop.pdf")
    assert "[board.no-room]" in shop and "Saw card" not in shop
    assert main(["release", str(job.folder)]) == 0 and len(job.released()) == 3


@pytest.mark.parametrize("code", STOPS_JIGS)
def test_a_stop_of_the_jig_leaves_the_single_files(code, job, signed, capsys):
    case = STOPS_JIGS[code]
    signed(case.start)
    assert len(list((job.out / "jigs").glob("*.dxf"))) == 2
    case.do(job)
    done = run_order(job.folder, workers=1)
    assert done.exit_status == 1 and [p.state for p in done.outcome.plaques] == ["ready"] * 3
    assert not list((job.out / "jigs").glob("*.dxf")) and len(job.cut()) == 3
    assert f"No jig loads: {code}, told above." in done.summary
    shop = text_of(job.out / "shop.pdf")
    assert f"[{code}]" in shop and "Pitch" not in shop
    assert main(["release", str(job.folder)]) == 0 and len(job.released()) == 3


def test_a_stop_of_the_paper_keeps_the_shop_sheet_back(job, monkeypatch, capsys):
    """No kind stops a paper yet; one that stops the order shows what would happen."""
    kind = catalogue.KINDS["stock.too-thin"]
    job.write(end=MILLED)
    assert run_order(job.folder, workers=1).exit_status == 0 and (job.out / "shop.pdf").exists()
    monkeypatch.setitem(catalogue.KINDS, kind.code, replace(kind, stops="paper"))
    STOPS_ORDERS[kind.code].do(job)
    done = run_order(job.folder, workers=1)
    assert done.exit_status == 1 and len(job.cut()) == 3
    assert not (job.out / "shop.pdf").exists()
    assert "No shop sheet: stock.too-thin" in done.summary and "shop.pdf" not in done.summary.split("In ")[-1]


def test_a_proof_with_nothing_to_agree_to_is_read_back(job, tmp_path, capsys):
    """Every name is too long: the client chooses shorter ones, and no decision was offered or is missed."""
    job.write(names(LONG, f"{LONG}, twice"))
    assert main(["run", str(job.folder)]) == 1
    fields = fields_of(job.out / "proof.pdf")
    assert {"q1", "q2", "name"} <= fields and "decision" not in fields
    writer = pypdf.PdfWriter(clone_from=job.out / "proof.pdf")
    for page in writer.pages:
        writer.update_page_form_field_values(page, {"q1": "Bo Skua", "name": "Joan Petrel", "date": "3 May"})
    writer.write(tmp_path / "back.pdf")
    capsys.readouterr()
    main(["sign", str(job.folder), str(tmp_path / "back.pdf")])
    said = capsys.readouterr().out
    assert "is missing" not in said and "Recorded in" in said and "Bo Skua" in said
    assert main(["release", str(job.folder)]) == 1 and job.released() == set()


@pytest.mark.parametrize("code", AT_RELEASE)
def test_what_the_client_has_not_agreed_to_is_not_released(code, job, signed, capsys):
    answers, do = AT_RELEASE[code]
    signed()
    if answers != AGREED:
        (job.folder / "signoff.sqlite").unlink()
        shutil.rmtree(job.out / "released")
        job.returned(answers)
    do(job)
    if not code.startswith("file."):
        run_order(job.folder, workers=1)
    capsys.readouterr()
    assert main(["release", str(job.folder)]) == 1
    assert f"{code} (1)" in capsys.readouterr().out
    held = {name for name in job.released() if name.startswith("bo-skua")}
    assert held == set() or code == "sign.more-pieces"  # the signed piece may be released
    assert len(job.released()) == 2


# --- reading papers ----------------------------------------------------------------------------------------------


def text_of(pdf: Path) -> str:
    """Return all words of a paper, separated by single spaces."""
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def fields_of(pdf: Path) -> set[str]:
    return {*(pypdf.PdfReader(pdf).get_fields() or {})}
