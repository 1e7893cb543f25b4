"""The life of an order from the first proof to the last delivery, and of a trophy over four years."""

from __future__ import annotations

import json

import openpyxl
import pytest

from pipeline.core.catalogue import format_message
from pipeline.core.model import Plaque
from pipeline.outputs.pdf.identity import ProofIdentity
from pipeline.signoff.pieces.piece_tally import tally_pieces
from pipeline.signoff.pieces.told_differences import list_untold_differences
from pipeline.signoff.records.kept_lettering import read_identity
from pipeline.signoff.records.ledger import LedgerEntry
from tests import builders
from tests.signoff.rounds import Round, filled


def asked(trip: Round) -> tuple[str, list[int]]:
    """Return the letter of the current proof, and the rows it asks the client about."""
    told = read_identity((trip.out / "proof.pdf").read_bytes())
    assert isinstance(told, ProofIdentity)
    return told.revision, sorted(row for d in told.designs for row in d.rows)


def cut_list(trip: Round) -> list[int]:
    """Return the rows of the cut list, each as often as it has to be cut."""
    sheet = openpyxl.load_workbook(trip.out / "released" / "cut-list.xlsx")["To cut"]
    head = [cell.value for cell in sheet[1]]
    lines = [r for r in sheet.iter_rows(min_row=2, values_only=True) if r[0]]
    return sorted(int(n) for r in lines for n in [r[head.index("Rows")]] * r[head.index("Pieces")])


def where(trip: Round) -> dict[str, int]:
    """Return the pieces of the whole order by state."""
    told = list(trip.pieces().values())
    return {state: n for state in told[0] if (n := sum(p[state] for p in told)) and state not in ("wanted", "signed")}


def sign(trip: Round, rows: list[int], name: str) -> None:
    file = filled(trip.out / "check.xlsx", trip.folder / name, dict.fromkeys(rows, "agreed"))
    assert trip.sign(file) == 0


@pytest.mark.slow
def test_the_whole_life_of_an_order(tmp_path):
    rows = list(range(2, 12))
    trip = Round(tmp_path, tuple(builders.plaque(row, name) for row, name in zip(rows, "ABCDEFGHIJ", strict=True)))
    trip.run(proof=True)
    assert asked(trip) == ("A", rows)
    sign(trip, rows, "back-a.xlsx")
    assert trip.release() == 0 and cut_list(trip) == rows and where(trip) == {"to_cut": 10}
    trip.mark("cut", rows="2-9")
    trip.mark("spoilt", rows="3,5", note="letter chipped")
    assert where(trip) == {"to_cut": 2, "cut": 6, "spoilt": 2}
    trip.run(proof=True)
    assert asked(trip) == ("A", rows)  # the same proof as before: nothing new is asked
    late = [12, 13, 14]
    trip.plaques += tuple(builders.plaque(row, name) for row, name in zip(late, "KLM", strict=True))
    trip.run(proof=True)
    assert asked(trip) == ("B", late)  # neither finished pieces nor those to be made again
    trip.mark("cut", rows="10")
    trip.run(proof=True)
    assert asked(trip) == ("B", late)  # another piece has been cut: the client still has proof B
    trip.mark("to-cut", rows="10")
    sign(trip, late, "back-b.xlsx")
    assert trip.release(as_json=True) == 0
    done = json.loads(trip.said[-1])
    assert done["release"] == 2 and {r["rows"][0]: r["new"] for r in done["released"] if r["new"]} == dict.fromkeys(
        [3, 5, *late], 1
    )
    assert cut_list(trip) == [3, 5, 10, 11, *late]
    assert where(trip) == {"to_cut": 7, "cut": 6, "spoilt": 2}
    trip.mark("cut", rows="3,5,10-14")
    trip.mark("delivered", rows="2-14")
    assert where(trip) == {"delivered": 13, "spoilt": 2}
    trip.release()
    assert cut_list(trip) == [] and trip.released == []
    trip.run(proof=True)
    assert asked(trip) == ("B", late) and len(list((trip.folder / "sent").glob("proof*"))) == 2  # nobody is asked again
    assert sorted(p.name for p in (trip.out / "released").iterdir() if p.is_dir()) == ["1", "2"]
    for number, listed in (("1", 10), ("2", 7)):
        manifest = json.loads((trip.out / "released" / number / "manifest.json").read_text())
        assert (manifest["release"], len(manifest["released"])) == (int(number), listed)
        assert (trip.out / "released" / number / "superseded.txt").exists()
    signed = sum(p["signed"] for p in trip.pieces().values())
    assert signed == 13 and sum(t.let_out for t in tally_pieces(trip.ledger.read_entries()).values()) == 13 + 2


def shields(years: int) -> tuple[Plaque, ...]:
    """One shield per year. In the third year the margin was changed, so that every shield is set smaller from then
    on."""
    names = (("Ada Tern", "2023"), ("Bo Skua", "2024"), ("Cy Gull", "2025"), ("Di Wren", "2026"))
    size = 7.5 if years >= 3 else 8.0
    return tuple(
        builders.plaque(row, name, season=season, cap_height=size)
        for row, (name, season) in enumerate(names[:years], 2)
    )


@pytest.mark.slow
def test_a_trophy_over_four_years_asks_each_year_about_its_own_shield_alone(tmp_path):
    trip = Round(tmp_path, ())
    told: list[LedgerEntry] = []
    for year in (1, 2, 3, 4):
        trip.plaques = shields(year)
        trip.run(proof=True)
        row = year + 1
        assert asked(trip) == ("ABCD"[year - 1], [row])
        entries = trip.ledger.read_entries()
        found = list_untold_differences(trip.plaques, entries, trip.look(trip.folder, None).folder)
        expected = {1: [], 2: [], 3: [2, 3], 4: []}[year]
        assert [f.row for f, _ in found] == expected  # reported in the year of the change, and never again
        assert all("is cut already" in format_message(f) for f, _ in found)
        trip.ledger.add([r for _, r in found], trip.clock())
        sign(trip, [row], f"back-{year}.xlsx")
        assert trip.release() == 0 and cut_list(trip) == [row]
        trip.mark("delivered", rows=str(row))
        assert where(trip) == {"delivered": year}
        told += [r for _, r in found]
    assert len(told) == 2
    trip.release()
    assert cut_list(trip) == [] and trip.released == []


def test_the_cover_names_the_shields_already_on_the_trophy(tmp_path):
    from pypdf import PdfReader

    trip = Round(tmp_path, (builders.plaque(2, "Ada Tern"),))
    trip.run()
    trip.sign(rows="2", by="Rowan Petrel", on="2 May 2026", paper="letter")
    trip.release()
    trip.mark("cut", rows="2")
    trip.plaques += (builders.plaque(3, "Bo Skua"),)
    trip.run(proof=True)
    cover = PdfReader(trip.out / "proof.pdf").pages[0].extract_text()
    assert "ALREADY MADE – NOTHING TO CHECK HERE" in cover and "Ada Tern" in cover and "Bo Skua" not in cover
