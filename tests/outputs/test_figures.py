"""No paper of any order prints infinity or NaN as a figure."""

from __future__ import annotations

import re
from pathlib import Path

import openpyxl
import pytest

from pipeline.cli import main
from pipeline.run import run_order
from tests.test_every_stop import BOARD, MILLED, SMALL_BOARD, STOCK, Job, names, text_of

NONE = re.compile(r"(?<![\w])[-−]?(?:inf|nan|infinity)(?![\w])", re.IGNORECASE)
POUR = '[pour]\ndata_sheet = "Sheet 7"\nfills = "{fills}"\nby_volume = [100.0, 8.0]\nby_weight = [100.0, 8.0]\n'
ODD = {
    "a pour into the lettering, without a pocket": POUR.format(fills="lettering"),
    "a pocket no cutter of the order gets into": "[pocket]\ndepth = 6.0\nrough = { diameter = 16.0 }\n",
    "a pocket as deep as the stock": "[pocket]\ndepth = 12.0\nrough = { diameter = 6.0 }\n" + POUR.format(fills="both"),
    "nothing that goes": "[limits]\nstroke = 3.0\n" + MILLED + STOCK + BOARD + POUR.format(fills="both"),
    "no room at all": MILLED + SMALL_BOARD.replace("120.0", "70.0") + POUR.format(fills="pocket"),
    "nothing to reckon a feed or a price from": "[rates]\nstock_price = 0.0\n" + BOARD,
}


@pytest.mark.parametrize("what", ODD)
def test_every_figure_on_every_paper_is_finite(what: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = Job(tmp_path)
    job.write(names("I", "·", ".", ""), pocket="without a pocket" not in what, end=ODD[what])
    done = run_order(tmp_path, workers=1)
    assert done.broken == ()
    book = openpyxl.load_workbook(job.out / "check.xlsx", read_only=True)
    cells = " ".join(str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row)
    assert main(["compare", str(tmp_path), str(tmp_path)]) == 0
    papers = {
        "summary": done.summary,
        "check.xlsx": cells,
        "compare": capsys.readouterr().out,
        "report.json": (job.out / "report.json").read_text(encoding="utf-8"),
        "proof.pdf": text_of(job.out / "proof.pdf"),
        "shop.pdf": text_of(job.out / "shop.pdf"),
    }
    found = {name: m for name, text in papers.items() if (m := NONE.search(text))}
    assert {name: m.string[max(0, m.start() - 60) : m.end() + 20] for name, m in found.items()} == {}


def test_the_search_finds_such_figures() -> None:
    assert all(NONE.search(text) for text in ("inf mm", "it is nan", "-inf", "Infinity"))
    assert not any(NONE.search(text) for text in ("information", "Nancy", "in fact"))
