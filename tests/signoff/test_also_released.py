"""Files beside the DXF are released with a signed plaque, withdrawn with it, and held back when they were altered."""

from pathlib import Path

import openpyxl
import pytest

from pipeline.core.config.order import FilesConfig
from pipeline.core.storage.cache import Cache
from pipeline.outputs.cut_files.cut_files import CutFiles
from tests import builders
from tests.signoff.rounds import Round

FITTED = Cache(None)
KINDS = {".dxf", ".svg", ".pdf"}


class WithFiles(Round):
    """A small order with real files."""

    def made(self, plaque):
        folder = builders.folder(files=FilesConfig(version="R2000", also=["svg", "pdf"], curves="lines"))
        return CutFiles(folder, builders.slanted_blank(), self.out, "0.1.0", FITTED).render(plaque)

    def files(self, row: int) -> set[str]:
        return {Path(name).name for name in self.made(self.of(row))}

    @property
    def out_now(self) -> set[str]:
        papers = {"packing-list.pdf", "labels.pdf"}
        return {p.name for p in (self.out / "released").iterdir() if p.suffix in KINDS} - papers


@pytest.fixture
def trip(tmp_path):
    trip = WithFiles(tmp_path, (builders.plaque(5, "Ada", stem="NotoSans"), builders.plaque(6, "Bo", stem="NotoSans")))
    trip.run()
    assert trip.sign(rows="5-6", by="Rowan Petrel", on="2 May 2026", paper="letter.pdf") == 0
    return trip


def test_all_kinds_of_file_are_released_and_in_the_cut_list(trip):
    assert trip.release() == 0
    assert trip.out_now == trip.files(5) | trip.files(6)
    assert {Path(name).suffix for name in trip.out_now} == KINDS
    sheet = openpyxl.load_workbook(trip.out / "released" / "cut-list.xlsx")["To cut"]
    listed = {name for row in sheet.iter_rows(min_row=2, values_only=True) if row[0] for name in row[0].split("\n")}
    assert listed == trip.out_now
    for name in trip.out_now:
        assert (trip.out / "released" / name).read_bytes() == (trip.out / "cut" / name).read_bytes()


@pytest.mark.parametrize(("ending", "code"), [(".svg", "file.altered"), (".pdf", "file.missing")])
def test_one_altered_or_missing_file_holds_the_plaque_back(trip, ending, code):
    assert trip.release() == 0
    (name,) = (n for n in trip.files(5) if n.endswith(ending))
    path = trip.out / "cut" / name
    if code == "file.altered":
        path.write_bytes(path.read_bytes().replace(b'width="150mm"', b'width="151mm"'))
    else:
        path.unlink()
    assert trip.release() == 1
    assert trip.out_now == trip.files(6)
    sheet = openpyxl.load_workbook(trip.out / "released" / "cut-list.xlsx")["Held back"]
    held = [row for row in sheet.iter_rows(min_row=2, values_only=True) if row[0]]
    assert [row[6] for row in held] == [code]
    assert name in " ".join(map(str, held[0]))


def test_a_changed_plaque_has_all_its_files_withdrawn(trip):
    assert trip.release() == 0
    trip.change(5, "Ada Tern", stem="NotoSans")
    trip.run()
    assert trip.release() == 1
    assert trip.out_now == trip.files(6)
