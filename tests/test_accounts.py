"""The accounts at the end of a run: they agree, and anything removed, added or changed behind their back is found."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import openpyxl
import pikepdf
import pytest

from pipeline import accounts, order_inputs
from pipeline.accounts import BROKEN
from pipeline.cli import main
from pipeline.output_kinds import check_accounts
from pipeline.outputs.revision import FIRST
from pipeline.outputs.row_totals import count_rows
from pipeline.run import run_order
from tests.test_every_stop import BOARD, STOPS_ORDERS, Job, names, text_of

ROWS = names("Ida Vex", "Bo 漢 Skua", "Una Tern", "Ida Vex")


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """Return an order with a stopped plaque, two rows of one design, a board and a row that is left out."""
    job = Job(tmp_path_factory.mktemp("whole"))
    job.write([*ROWS, ("Name", "Post")], end=BOARD)
    return job, run_order(job.folder, workers=1)


@pytest.fixture
def done(whole, tmp_path):
    """Return a copy of what was written, and the run's outcome."""
    job, ran = whole
    shutil.copytree(job.out, tmp_path / "out")
    return ran.outcome, tmp_path / "out"


def wrong(done) -> str:
    outcome, out = done
    return "\n".join(check_accounts(outcome, FIRST, out, files=True))


def test_the_accounts_of_a_run_hold(whole, done):
    job, ran = whole
    assert ran.broken == () and wrong(done) == "" and not (job.out / BROKEN).exists()
    assert [p.state for p in ran.outcome.plaques].count("stopped") == 1


@pytest.mark.parametrize("count", [1, 2])
def test_each_file_that_is_gone_or_changed_is_missed(done, count):
    _, out = done
    files = sorted((out / "cut").glob("*.dxf"))
    files[0].unlink()
    if count == 2:
        files[1].write_bytes(files[1].read_bytes() + b"999\nmine\n")
    told = wrong(done)
    assert f"cut/{files[0].name} is not there" in told
    assert (f"cut/{files[1].name} is not the file that was noted" in told) == (count == 2)


def test_a_file_of_no_plaque_is_told(done):
    _, out = done
    listed = out / "cut" / "written.sha256"
    listed.write_text(f"{listed.read_text(encoding='utf-8')}{64 * '0'}  bo-skua-4CDFHJKMNP.dxf\n", encoding="utf-8")
    (out / "cut" / "bo-skua-4CDFHJKMNP.dxf").write_bytes(b"0\nEOF\n")
    assert "cut/bo-skua-4CDFHJKMNP.dxf belongs to no plaque that may be cut" in wrong(done)


def test_a_stopped_piece_on_a_board_is_told(done):
    _, out = done
    board = next((out / "boards").glob("*.dxf"))
    text = board.read_text(encoding="utf-8")
    board.write_text(re.sub(r"row 2 (piece \d+ of \d+)", r"row 3 \1", text), encoding="utf-8")
    assert f"boards/{board.name} holds row 3" in wrong(done)


def test_a_stopped_piece_in_a_jig_load_is_told(done):
    """Names may look like a place: only the beginning of a comment counts."""
    _, out = done
    jigs = out / "jigs"
    jigs.mkdir(exist_ok=True)
    text = "999\r\nplace 1 at 0.0 0.0 turned 0: row 3 piece 1 of 1 4CDFHJKMNP row 9 piece 1 of 1 4CDFHJKMNP\r\n"
    (jigs / "load-1.dxf").write_text(text, encoding="utf-8", newline="")
    (jigs / "written.sha256").write_text(f"{64 * '0'}  load-1.dxf\n", encoding="utf-8")
    assert "jigs/load-1.dxf holds row 3" in wrong(done) and "row 9" not in wrong(done)
    text = "999\r\nplace 1 at 0.0 0.0 turned 0: row 'late, piece 2 of 3 WX.csv'!2 piece 1 of 1 4CDFHJKMNP Ann!3\r\n"
    (jigs / "load-1.dxf").write_text(text, encoding="utf-8", newline="")
    assert "holds row 'late, piece 2 of 3 WX.csv'!2 (4CDFHJKMNP)" in wrong(done)


def test_a_card_that_is_missing_is_missed(done):
    outcome, out = done
    mark = outcome.plaques[2].fingerprint
    with pikepdf.open(out / "proof.pdf", allow_overwriting_input=True) as pdf:
        for page in pdf.pages:
            for widget in page.obj.get("/Annots", ()):
                if str(widget.get("/T", "")) == f"correct_{mark}":
                    widget.T = "somewhere_else"
        pdf.save()
    assert f"proof.pdf has no card of {mark}" in wrong(done)
    (out / "proof.pdf").unlink()
    assert "There is no proof." in wrong(done)


def test_a_line_that_is_missing_is_missed(done):
    _, out = done
    book = openpyxl.load_workbook(out / "check.xlsx")
    book["Check"].delete_rows(4)
    book.save(out / "check.xlsx")
    report = json.loads((out / "report.json").read_text(encoding="utf-8"))
    report["plaques"][0]["state"] = "stopped"
    (out / "report.json").write_text(json.dumps(report), encoding="utf-8")
    told = wrong(done)
    assert "Row 4: has no line in check.xlsx" in told and "Row 2: has no line in report.json" in told


def test_a_check_sheet_without_its_columns_or_in_another_language_is_told(done):
    outcome, out = done
    told = check_accounts(replace(outcome, language="de"), FIRST, out, files=True)
    assert any("check.xlsx has no column “Zeile”" in line for line in told)
    book = openpyxl.load_workbook(out / "check.xlsx")
    book["Check"]["A1"] = "Line"
    book.save(out / "check.xlsx")
    assert "check.xlsx has no column “Row”." in wrong(done)


@pytest.mark.parametrize("language", ["de-AT", "pl"])
def test_the_accounts_of_an_order_in_another_language_hold_and_miss_a_line(tmp_path, language):
    job = Job(tmp_path)
    job.write(names("Ida Vex", "Bo 漢 Skua", "Una Tern"), end=f'\n[proof]\nlanguage = "{language}"\n')
    ran = run_order(job.folder, workers=1)
    assert ran.broken == ()
    book = openpyxl.load_workbook(job.out / "check.xlsx")
    book.worksheets[0].delete_rows(3)
    book.save(job.out / "check.xlsx")
    told = check_accounts(ran.outcome, FIRST, job.out, files=True)
    assert "Row 3: has no line in check.xlsx, or another one." in told


def test_broken_accounts_are_a_fault_of_the_tool_and_release_nothing(whole, tmp_path, monkeypatch, capsys):
    """A list of rows that loses one on the way: nothing of the run may be released until a run agrees."""
    job, _ = whole
    order = Job(shutil.copytree(job.folder, tmp_path / "order", ignore=shutil.ignore_patterns("out")))
    read = order_inputs.read_list

    def loses(folder):
        listing = read(folder)
        return replace(listing, recipients=listing.recipients[:-1])

    with monkeypatch.context() as patch:
        patch.setattr(order_inputs, "read_list", loses)
        assert main(["run", str(order.folder)]) == 3
        assert "Row 5: is neither a plaque, nor stopped, nor left out" in capsys.readouterr().err
    assert main(["release", str(order.folder)]) == 2
    assert "the accounts of the last run do not hold" in capsys.readouterr().err
    assert not order.released()
    assert main(["run", str(order.folder)]) == 1
    assert main(["release", str(order.folder)]) == 1
    assert "sign.not-signed" in capsys.readouterr().out


def test_every_paper_states_its_part_and_the_rest(whole):
    job, ran = whole
    sums = r"(\d+) rows in the list: ([^.]*)\."
    book = openpyxl.load_workbook(job.out / "check.xlsx", read_only=True)
    settings = " ".join(str(c.value) for row in book["Settings"].iter_rows() for c in row)
    papers = [ran.summary, text_of(job.out / "proof.pdf"), text_of(job.out / "shop.pdf"), settings]
    for paper in papers:
        total, parts = re.search(sums, paper).groups()
        assert int(total) == 6 == sum(int(n) for n in re.findall(r"\d+", parts)), paper[:300]
    told = json.loads((job.out / "report.json").read_text(encoding="utf-8"))["accounts"]
    assert told["rows"] == told["plaques"] + told["stopped"] + told["left_out"] + told["not_in_part"] == 6
    assert (told["plaques"], told["stopped"], sum(told["left_out_for"].values())) == (3, 1, 2)
    assert "Left out: " in text_of(job.out / "proof.pdf")


def test_a_row_in_two_places_or_none_is_open(whole):
    _, ran = whole
    assert count_rows(ran.outcome, {"here": [2, 4, 5]}).open == ()
    counted = count_rows(ran.outcome, {"here": [2, 4], "there": [2, 99]})
    assert counted.open == (2, 5, 99) and "3 not accounted for" in counted.describe()


# --- a part of the list ------------------------------------------------------------------------------------------


def tree(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_a_part_is_whole_in_itself_and_leaves_the_rest(whole, tmp_path, capsys):
    job, _ = whole
    order = Job(shutil.copytree(job.folder, tmp_path / "order"))
    before = tree(order.out)
    assert main(["run", str(order.folder), "--rows", "5,4"]) == 0
    part = order.out / "part-4-5"
    assert {path: data for path, data in tree(order.out).items() if not path.startswith("part-")} == before
    assert {p.name for p in part.iterdir()} == {"boards", "cut", "check.xlsx", "proof.pdf", "report.json", "shop.pdf"}
    assert len(list((part / "cut").glob("*.dxf"))) == 2
    assert "(only rows 4-5)" in capsys.readouterr().out
    for paper in ("proof.pdf", "shop.pdf"):
        with pikepdf.open(part / paper) as pdf:
            pages = len(pdf.pages)
        assert text_of(part / paper).count("only rows 4-5") >= pages
    book = openpyxl.load_workbook(part / "check.xlsx")
    assert all("only rows 4-5" in sheet.oddHeader.right.text for sheet in book)
    assert json.loads((part / "report.json").read_text(encoding="utf-8"))["part"] == "4-5"
    board = next((part / "boards").glob("*.dxf")).read_text(encoding="utf-8")
    assert "only rows 4-5" in board
    assert "2 not in this part" in text_of(part / "proof.pdf")
    assert main(["release", str(order.folder)]) == 1  # of the whole order, which nobody has signed
    assert "sign.not-signed" in capsys.readouterr().out


def test_a_part_with_a_stop_has_its_own_papers(whole, tmp_path, capsys):
    job, _ = whole
    order = Job(shutil.copytree(job.folder, tmp_path / "order"))
    assert main(["run", str(order.folder), "--rows", "3", "--out", str(tmp_path / "there")]) == 1
    assert not list((tmp_path / "there" / "part-3" / "cut").glob("*.dxf"))
    assert "no agreement is asked for" in text_of(tmp_path / "there" / "part-3" / "proof.pdf")
    assert main(["check", str(order.folder), "--rows", "2"]) == 0
    assert {p.name for p in (order.out / "part-2").iterdir()} == {"check.xlsx", "report.json"}
    assert main(["run", str(order.folder), "--rows", "90"]) == 2
    assert not (order.out / "part-90").exists()


def test_what_was_ready_and_is_stopped_leaves_no_file_though_its_list_is_lost(whole, tmp_path):
    """A folder whose own list is gone is not trusted: its files are put aside, not cut."""
    job, _ = whole
    order = Job(shutil.copytree(job.folder, tmp_path / "order"))
    (order.out / "cut" / "written.sha256").unlink()
    (order.out / "cut" / "jig.dxf").write_text("mine", encoding="utf-8")
    order.values = dict(job.values)
    order.write([*names("Ida Vex", "Bo Skua", "漢", "Ida Vex"), ("Name", "Post")])
    done = run_order(order.folder, workers=1)
    going = {Path(p.cut_file).name for p in done.outcome.plaques if p.cut_file}
    assert order.cut() == {*going, "jig.dxf"} and len(going) == 2
    assert [p.name for p in (order.out / "cut").glob("una-tern-*")] == [
        p.name for p in (order.out / "cut").glob("una-tern-*.dxf.changed")
    ]


def test_the_accounts_of_a_stopped_order_hold_too(tmp_path):
    order = Job(tmp_path)
    order.write()
    STOPS_ORDERS["pocket.beyond-reach"].do(order)
    done = run_order(order.folder, workers=1)
    assert done.broken == () and done.exit_status == 1
    assert accounts.read_noted_files(order.out / "cut") == {}
