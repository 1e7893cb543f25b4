"""Several lists on one sheet: side by side, one below the other, and the key that selects one of them."""

import json
from pathlib import Path

import openpyxl
import pytest

from pipeline.commands.start_command import start
from pipeline.core.config.order import ListConfig
from pipeline.core.errors import CannotRun
from pipeline.intake.new_order import plan_order
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.outside_rows import format_spans
from pipeline.intake.recipients.read_list import read_list
from pipeline.intake.spreadsheet.read_sheet import read_sheet
from pipeline.intake.spreadsheet.sheet_areas import SheetArea, list_area_faults, parse_area
from tests.intake.one_list import read_one_list

BESIDE = """Harbour wardens,,,Night watch,
Name,Post,,Name,Post
Ada Skua,Warden,,Ed Gull,Watch
Bo Tern,Cook,,Flo Rook,Watch
Cy Knot,Cook,,Gus Dunlin,Watch
,,,Hal Crake,Watch
"""
BELOW = """Wardens,
Name,Post
Ada Skua,Warden
Bo Tern,Cook

Night watch,
Recipient,Role
Ed Gull,Mate
Flo Rook,Mate
"""


def read(tmp_path, text, **part):
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    done = read_one_list(read_sheet(tmp_path / "list.csv"), ListConfig(file="list.csv", **part), ["name", "post"])
    rows = [a.row for a in done.account]
    assert len(rows) == len(set(rows)) == done.rows
    return done


def names(done):
    return [r.get_value("name") for r in done.recipients]


def codes(done):
    return [f.code for f in done.findings if f.severity == "ask"]


def test_a_list_beside_the_one_that_is_read_is_asked_about(tmp_path):
    done = read(tmp_path, BESIDE)
    assert names(done) == ["Ada Skua", "Bo Tern", "Cy Knot"] and codes(done) == ["list.beside"]
    found = next(f for f in done.findings if f.code == "list.beside")
    assert (found.get_fact("area"), found.get_fact("count")) == ("D2:E", 4)
    assert done.account[-1].reason == "a row of the list beside this one alone"


@pytest.mark.parametrize(
    ("area", "there"),
    [
        ("A2:B5", ["Ada Skua", "Bo Tern", "Cy Knot"]),
        ("A2:B", ["Ada Skua", "Bo Tern", "Cy Knot"]),
        ("D2:E", ["Ed Gull", "Flo Rook", "Gus Dunlin", "Hal Crake"]),
        ("$D$2:$E$4", ["Ed Gull", "Flo Rook"]),
        ("D:E", ["Ed Gull", "Flo Rook", "Gus Dunlin", "Hal Crake"]),
    ],
)
def test_an_area_selects_one_of_them(tmp_path, area, there):
    done = read(tmp_path, BESIDE, area=area, columns={"name": "Name", "post": "Post"})
    assert names(done) == there and codes(done) == []
    assert ("list.outside-area" in [f.code for f in done.findings]) == (area != "D:E")


def test_two_columns_of_one_heading_point_to_the_area(tmp_path):
    with pytest.raises(CannotRun, match="take one with area"):
        read(tmp_path, BESIDE, columns={"name": "Name", "post": "Post"})


def test_lists_side_by_side_without_a_gap_and_with_other_headings(tmp_path):
    text = "Name,Post,Name,Post\nAda Skua,Cook,Ed Gull,Mate\nBo Tern,Cook,Flo Rook,Mate\n"
    assert codes(read(tmp_path, text)) == ["list.beside"]
    text = "Name,Post,,Recipient,Team\nAda Skua,Cook,,Ed Gull,Seal\nBo Tern,Cook,,Flo Rook,Orca\n"
    assert codes(read(tmp_path, text)) == ["list.beside"]
    text = "Name,Post,,Remarks\nAda Skua,Cook,,left early\nBo Tern,Cook,,Ask Ed Gull\n"
    assert codes(read(tmp_path, text)) == []


def test_lists_one_below_the_other(tmp_path):
    done = read(tmp_path, BELOW)
    assert names(done) == ["Ada Skua", "Bo Tern", "Ed Gull", "Flo Rook"]
    assert [r.get_value("post") for r in done.recipients] == ["Warden", "Cook", "Mate", "Mate"]
    assert "list.second-header" in codes(done)
    both = read(tmp_path, BELOW, area=["A2:B4", "A7:B9"])
    assert names(both) == names(done) and "list.second-header" in codes(both)
    one = read(tmp_path, BELOW, area="A7:B9")
    assert names(one) == ["Ed Gull", "Flo Rook"] and codes(one) == []
    outside = next(f for f in one.findings if f.code == "list.outside-area")
    assert outside.get_fact("rows") == "1–4, 6" and outside.get_fact("count") == 5


def test_the_header_again_moves_the_column_of_the_name_though_its_other_words_are_unknown(tmp_path):
    """Only the name is lettered: read by their old column, crews would be cut and people left out."""
    text = (
        "Place,Name,Crew\n1,Ada Skua,Reeds\n,,\nPlace,Name,Crew\n1,Bo Tern,Weir\n,,\nPlace,Crew,Name\n1,Reeds,Cy Knot\n"
    )
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    part = ListConfig(file="list.csv", columns={"name": "Name"})
    done = read_one_list(read_sheet(tmp_path / "list.csv"), part, ["name"])
    assert names(done) == ["Ada Skua", "Bo Tern", "Cy Knot"]


def test_a_list_laid_out_across_the_sheet_is_a_guess(tmp_path):
    (tmp_path / "list.csv").write_text(
        "Event,100 m,200 m\nWinner,Ada Skua,Bo Tern\nClub,Reeds,Weir\n", encoding="utf-8"
    )
    assert plan_order(tmp_path / "list.csv").guessed
    part = ListConfig(file="list.csv", columns={"name": "Winner"})
    done = read_one_list(read_sheet(tmp_path / "list.csv"), part, ["name"])
    assert "list.header-unsure" in {f.code for f in done.findings}


def test_impossible_areas_are_refused():
    assert parse_area("a3:c40") == SheetArea(3, 1, 40, 3) and str(SheetArea(3, 1, 40, 3)) == "A3:C40"
    assert all(parse_area(text) is None for text in ("A3", "C1:A9", "A9:B3", "A0:B2", "A1:ZZZ9", "3:40", ""))
    said = [fault.found for fault in list_area_faults(["A1:B9", "D5:E9", "x"], "here")]
    assert said == ["“A1:B9” and “D5:E9” share rows", "“x”"]
    assert format_spans([3, 4, 5, 9, 1]) == "1, 3–5, 9"


def test_an_area_without_cells_is_refused_with_what_is_there(tmp_path):
    with pytest.raises(CannotRun, match="Row 1 has “Harbour wardens”"):
        read(tmp_path, BESIDE, area="H1:K9")


def test_an_order_begun_from_such_a_sheet_names_both_lists(tmp_path):
    (tmp_path / "list.csv").write_text(BESIDE, encoding="utf-8")
    said = []
    start(tmp_path / "list.csv", folder=tmp_path / "left", say=said.append)
    assert "--area D2:E" in said[0] and "with 4 names" in said[0]
    assert names(read_list(read_order(tmp_path / "left"))) == ["Ada Skua", "Bo Tern", "Cy Knot"]
    order = Path(tmp_path / "left" / "order.toml").read_text(encoding="utf-8")
    assert 'name = "Name", post = "Post"' in order and 'title  = "Harbour wardens"' in order
    said = []
    start(tmp_path / "list.csv", folder=tmp_path / "right", area="D2:E", say=said.append, as_json=True)
    assert json.loads(said[0])["recipients"] == 4
    assert 'area    = "D2:E"' in Path(tmp_path / "right" / "order.toml").read_text(encoding="utf-8")
    with pytest.raises(CannotRun, match="area"):
        start(tmp_path / "list.csv", folder=tmp_path / "third", area="D2", say=said.append)


# --- filters -----------------------------------------------------------------------------------------------------

ROWS = [("Bearer", "Crew"), ("Ada Skua", "Seal"), ("Bo Tern", "Orca"), ("Cy Knot", "Seal"), ("Di Auk", "Orca")]


def filtered(path, many=0):
    """Build a list with rows 3 and 5 hidden by a filter and row 4 by hand; `many` further rows."""
    import xlsxwriter

    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet()
    rows = ROWS + [(f"Ada Gull {'x' * (n % 7)}", "Seal") for n in range(many)]
    for number, row in enumerate(rows):
        sheet.write_row(number, 0, row)
    sheet.autofilter(0, 0, 2, 1)
    sheet.filter_column(1, "x == Seal")
    sheet.set_row(2, None, None, {"hidden": True})
    sheet.set_row(3, None, None, {"hidden": True})
    book.close()
    return path


@pytest.mark.parametrize("most", [200_000, 3], ids=["cell by cell", "by values"])
def test_filtered_rows_are_distinguished_from_rows_hidden_by_hand(tmp_path, most, monkeypatch):
    from pipeline.intake.spreadsheet import xlsx

    monkeypatch.setattr(xlsx, "MOST_CELLS", most)
    sheet = read_sheet(filtered(tmp_path / "list.xlsx"))
    assert [(r.number, r.filtered) for r in sheet.rows if r.hidden] == [(3, True), (4, False)] and sheet.filter_row == 1
    part = ListConfig(file="list.xlsx", columns={"name": "Bearer"})
    done = read_one_list(sheet, part, ["name"])
    said = {r.row: [f.code for f in r.findings] for r in done.recipients if r.findings}
    assert said == {3: ["list.row-filtered"], 4: ["list.row-hidden"]} and "list.filtered" in codes(done)
    left = read_one_list(sheet, ListConfig(file="list.xlsx", columns={"name": "Bearer"}, hidden="leave-out"), ["name"])
    reasons = {a.row: a.reason for a in left.account if a.fate == "left-out"}
    assert "by the sheet's filter" in reasons[3] and "hidden in the sheet" in reasons[4] and codes(left) == []
    used = read_one_list(sheet, ListConfig(file="list.xlsx", columns={"name": "Bearer"}, hidden="use"), ["name"])
    assert len(used.recipients) == 4 and codes(used) == []


def test_the_buttons_of_a_filter_and_bold_letters_mark_a_header(tmp_path):
    import xlsxwriter

    from pipeline.intake.recipients.header_row import guess_header

    for number, marked in enumerate(("filter", "bold", "")):
        book = xlsxwriter.Workbook(tmp_path / f"{number}.xlsx")
        sheet = book.add_worksheet()
        for at, row in enumerate([("Chief Steward", "Pier"), *ROWS[1:]]):
            sheet.write_row(at, 0, row, book.add_format({"bold": True}) if marked == "bold" and not at else None)
        if marked == "filter":
            sheet.autofilter(0, 0, 4, 1)
        book.close()
        head = guess_header(read_sheet(tmp_path / f"{number}.xlsx")).head
        assert (head is not None) == bool(marked), marked


def test_filtered_rows_of_an_open_document(tmp_path):
    import zipfile

    ods = Path(__file__).parents[1] / "lists" / "keepers.ods"
    with zipfile.ZipFile(ods) as old, zipfile.ZipFile(tmp_path / "list.ods", "w") as new:
        for part in old.infolist():
            new.writestr(part.filename, old.read(part).replace(b'visibility="collapse"', b'visibility="filter"'))
    assert [r.number for r in read_sheet(tmp_path / "list.ods").rows if r.filtered] == [8]
    assert not any(r.filtered for r in read_sheet(ods).rows)


def test_a_form_with_many_columns_is_not_several_lists(tmp_path):
    (tmp_path / "list.csv").write_text("".join(",".join(f"{r}.{c}" if c % 2 else "Ada Skua" for c in range(200)) + "\n"
                                               for r in range(6)), encoding="utf-8")  # fmt: skip
    plan = plan_order(tmp_path / "list.csv")
    assert plan.area is None and len(plan.nameless) == 13 and plan.nameless[-1] == "and 87 more columns"


# --- on several sheets -------------------------------------------------------------------------------------------

OTHER_LISTS = {
    "fewer of the columns": [["Name", "Post"], ["Ed Gull", "Mate"]],
    "headings in another language": [["Enw", "Rôl", "Nifer"], ["Siân Wylan", "Cogydd", 1]],
    "headings in unknown words": [["Keeper", "Apiary"], ["Ed Gull", "Weir Field"], ["Flo Rook", "Chalk Pit"]],
    "no headings": [["Ed Gull"], ["Flo Rook"]],
}
BY_EVENT = {
    "100 m freestyle": [["Gala of the Reed Harbour Swimmers"], ["Place", "Name", "Post"], [1, "Ada Skua", "Reeds"]],
    "200 m back": [["Place", "Name", "Post"], [1, "Bo Tern", "Weirside"], [2, "Cy Knot", "Reeds"]],
    "Notes": [["Collect on Friday"]],
    "Last year": [["Place", "Name", "Post"], [1, "Ed Gull", "Weirside"]],
}


def save_book(path, sheets, hidden=""):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    if hidden:
        book[hidden].sheet_state = "hidden"
    book.save(path)
    return path


def forget_sheet(file):
    """Take out of an order which sheet, header and guess `start` wrote, as in an order written by hand."""
    lines = file.read_text(encoding="utf-8").splitlines()
    kept = "".join(f"{line}\n" for line in lines if not line.startswith(("guessed", "sheet", "header")))
    file.write_text(kept, encoding="utf-8")
    return kept


@pytest.fixture
def gala(tmp_path):
    """A list for each event on a sheet of its own, last year's hidden."""
    return save_book(tmp_path / "gala.xlsx", BY_EVENT, hidden="Last year")


def test_a_sheet_that_was_guessed_among_others_alike_stays_a_question(gala):
    start(gala, say=str)
    folder = gala.parent / "gala"
    order = (folder / "order.toml").read_text(encoding="utf-8")
    assert "guessed = true" in order and "once sheet, header and columns are right" in order
    asked = {f.code: dict(f.facts) for f in read_list(read_order(folder)).findings if f.severity == "ask"}
    assert "list.header-unsure" not in asked  # its words are known
    assert "none of it on “200 m back”, “Notes”, “Last year” (hidden)" in str(asked["list.guessed"])


@pytest.mark.parametrize("other", OTHER_LISTS)
def test_any_other_sheet_that_may_hold_names_keeps_the_sheet_a_question(tmp_path, other):
    first = [["Name", "Post", "Qty"], ["Ada Skua", "Cook", 1], ["Bo Tern", "Mate", 1]]
    notes = [["Please engrave in capitals"], ["Collect on Friday"]]
    path = save_book(tmp_path / "list.xlsx", {"First": first, "Notes": notes, "Other": OTHER_LISTS[other]})
    plan = plan_order(path)
    assert plan.sheet.value == "First" and not plan.sheet.sure and plan.guessed
    start(path, say=str)
    forget_sheet(tmp_path / "list" / "order.toml")
    (found,) = [f for f in read_list(read_order(tmp_path / "list")).findings if f.code == "list.sheets-alike"]
    assert found.get_fact("others") == "“Other”"
    alone = save_book(tmp_path / "alone.xlsx", {"First": first, "Notes": notes})
    assert plan_order(alone).sheet.sure


def test_other_sheets_that_may_hold_names_are_asked_about_until_one_is_named(gala):
    start(gala, say=str)
    file = gala.parent / "gala" / "order.toml"
    kept = forget_sheet(file)
    done = read_list(read_order(file.parent))
    (found,) = [f for f in done.findings if f.code == "list.sheets-alike"]
    assert (found.get_fact("sheet"), found.get_fact("others")) == (
        "100 m freestyle",
        "“200 m back”, “Last year” (hidden)",
    )
    file.write_text(kept.replace("[list]", '[list]\nsheet = "100 m freestyle"'), encoding="utf-8")
    assert not [f for f in read_list(read_order(file.parent)).findings if f.code == "list.sheets-alike"]
