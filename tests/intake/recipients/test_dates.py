"""Dates set as the order says, columns of remarks, unused columns, the name column."""

import datetime as dt

import openpyxl
import pytest

from pipeline.core import catalogue
from pipeline.core.config.order import Order, OrderFolder
from pipeline.core.errors import CannotRun
from pipeline.intake.order.order_file import read_order
from pipeline.intake.recipients.date_texts import list_date_faults, set_date
from pipeline.intake.recipients.read_list import read_list

DAY = dt.date(2026, 5, 2)


def listed(tmp_path, rows, columns, *, lines=None, **part):
    """Read the list of these rows for an order with these columns."""
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "list.xlsx")
    lines = lines or [f"{{{key}}}" for key in columns]
    order = Order.model_validate(
        {
            "title": "Plates",
            "list": {"file": "list.xlsx", "columns": columns, **part},
            "blank": {"shape": "disc", "diameter": 60.0},
            "line": [
                {"face": "noto-sans", "cap_height": 4.0, **(line if isinstance(line, dict) else {"text": line})}
                for line in lines
            ],
        }
    )
    return read_list(OrderFolder(order=order, folder=tmp_path, file=tmp_path / "order.toml", sha256=""))


def codes(done):
    return [f.code for r in done.recipients for f in r.findings]


def finding(done, code):
    every = (*done.findings, *(f for r in done.recipients for f in r.findings))
    return next(f for f in every if f.code == code)


@pytest.mark.parametrize(
    "wish, language, text",
    [  # Unicode's tables (CLDR) of dates, 2 May 2026
        ("d MMMM y", None, "2 May 2026"),
        ("long", "en-GB", "2 May 2026"),
        ("long", "en", "May 2, 2026"),
        ("long", "de", "2. Mai 2026"),
        ("long", "fr", "2 mai 2026"),
        ("long", "cy", "2 Mai 2026"),
        ("long", "pl", "2 maja 2026"),
        ("d MMMM y", "nl-BE", "2 mei 2026"),
        ("MMMM 'of' y", "en", "May of 2026"),
        ("y", "xx-invented", "2026"),
        ("EEEE", "es", "sábado"),
    ],
)
def test_dates_by_unicode_s_patterns(wish, language, text):
    assert set_date(DAY, wish, language) == text


@pytest.mark.parametrize(
    "pattern, told",
    [
        ("d MMMM YYYY", "the year of a date is y"),
        ("DD.MM.y", "the day of the month is d"),
        ("day month", "put words between apostrophes"),
        ("d 'of MMMM", "an apostrophe has no partner"),
        ("ddd MMMM y", "more letters than any date has"),
        ("--", "it has no part of a date"),
        ("", "it has no part of a date"),
    ],
)
def test_an_invalid_pattern_is_reported_with_a_valid_one(pattern, told):
    (fault,) = list_date_faults(pattern, [], "order.toml, [list] dates")
    assert told in fault.found and "d MMMM y" in fault.expected


def test_a_wrong_pattern_or_column_is_reported_when_the_order_is_read(tmp_path):
    (tmp_path / "list.csv").write_text("Name,Born\nAda Skua,1985-05-02\n", encoding="utf-8")
    (tmp_path / "order.toml").write_text(
        'title = "Plates"\n[list]\nfile = "list.csv"\ncolumns = { name = "Name", born = "Born" }\n'
        'dates = { died = "d MMMM y", born = "dd/mm/yyyy" }\n[blank]\nshape = "disc"\ndiameter = 60.0\n'
        '[[line]]\ntext = "{name} {born}"\nface = "noto-sans"\ncap_height = 4.0\n',
        encoding="utf-8",
    )
    with pytest.raises(CannotRun) as caught:
        read_order(tmp_path, faces={"noto-sans"})
    told = str(caught.value)
    assert "“died” is not one of the columns" in told
    assert "dates" in told


def test_dates_are_set_as_the_order_says_and_nobody_is_asked(tmp_path):
    rows = [("Name", "Born", "Died"), ("Ada Skua", dt.date(1940, 9, 17), dt.datetime(2021, 1, 3)), ("Bo Auk", DAY, DAY)]
    columns = {"name": "Name", "born": "Born", "died": "Died"}
    done = listed(tmp_path, rows, columns, dates="d MMMM y")
    assert [r.get_value("born") for r in done.recipients] == ["17 September 1940", "2 May 2026"]
    assert codes(done) == ["list.date-set"] * 4
    assert "17 September 1940" in catalogue.format_message(finding(done, "list.date-set"))
    some = listed(tmp_path, rows, columns, dates={"born": "y"})
    assert [r.get_value("born") for r in some.recipients] == ["1940", "2026"]
    assert codes(some).count("list.not-text") == 2  # the other column is asked about


def test_the_language_of_the_row_then_of_the_list_then_of_the_line(tmp_path):
    rows = [("Name", "Born", "Language"), ("Ada Skua", DAY, "fr"), ("Bo Auk", DAY, None)]
    columns = {"name": "Name", "born": "Born", "language": "Language"}
    lines = ["{name}", {"text": "{born}", "language": "de"}]
    done = listed(tmp_path, rows, columns, dates="d MMMM y", lines=lines)
    assert [r.get_value("born") for r in done.recipients] == ["2 mai 2026", "2 Mai 2026"]
    dutch = listed(tmp_path, rows, columns, dates="d MMMM y", language="nl", lines=lines)
    assert [r.get_value("born") for r in dutch.recipients] == ["2 mai 2026", "2 mei 2026"]


def test_dates_typed_as_text_in_iso_s_form_are_dates_and_others_stay(tmp_path):
    rows = [("Name", "Born"), ("Ada Skua", "1985-05-02"), ("Bo Auk", "2/5/85"), ("Cy Tern", "1985-13-02"), ("Di", None)]
    done = listed(tmp_path, rows, {"name": "Name", "born": "Born"}, dates="d MMMM y")
    assert [r.get_value("born") for r in done.recipients] == ["2 May 1985", "2/5/85", "1985-13-02", ""]
    told = catalogue.format_message(finding(done, "list.date-as-typed"))
    assert "1 date that is set" in told and "2 texts that stay as typed: B3 “2/5/85”, B4 “1985-13-02”" in told


def test_a_date_as_the_sheet_shows_it_is_asked_about_with_the_edit_that_sets_it(tmp_path):
    rows = [("Name", "Born"), ("Ada Skua", DAY)]
    found = finding(listed(tmp_path, rows, {"name": "Name", "born": "Born"}), "list.not-text")
    assert [e.value for way in found.ways for e in way.edits] == ["d MMMM y"]
    assert 'dates = "d MMMM y"' in catalogue.format_remedy(found) and "2 May 2026" in catalogue.format_remedy(found)


def test_a_column_of_notes_is_reported_to_the_maker_only(tmp_path):
    rows = [("Name", "Notes", "Shoe size"), ("Ada Skua", "spelt with a k", 38), ("Bo Auk", None, 41)]
    done = listed(tmp_path, rows, {"name": "Name"})
    note = finding(done, "list.remark-beside")
    assert (note.cell, note.row) == ("B2", 2) and codes(done) == ["list.remark-beside"]
    assert catalogue.format_message(note) == "row 2 (under “Notes”), perhaps for you: “spelt with a k”"
    assert not catalogue.format_for_client(note)
    unused = finding(done, "list.column-unused")
    assert catalogue.format_message(unused) == "1 column of the list is not used: C “Shoe size”"


def test_a_column_of_notes_that_is_lettered_is_no_remark(tmp_path):
    rows = [("Name", "Notes"), ("Ada Skua", "for forty years of care")]
    assert not codes(listed(tmp_path, rows, {"name": "Name", "words": "Notes"}))


@pytest.mark.parametrize(
    "columns, named",
    [
        ({"event": "Event", "swimmer": "Swimmer"}, "Ada Skua"),
        ({"event": "Event", "name": "Swimmer"}, "Ada Skua"),
        ({"who": "Column", "event": "Event"}, "x"),
        ({"event": "Event", "lane": "Column"}, "50 m Freestyle"),
    ],
)
def test_the_recipient_is_the_named_one_in_whatever_column(tmp_path, columns, named):
    rows = [("Event", "Swimmer", "Column"), ("50 m Freestyle", "Ada Skua", "x")]
    (recipient,) = listed(tmp_path, rows, columns).recipients
    assert recipient.name == named


@pytest.mark.parametrize("pattern", ["d MMMM y HH:mm", "h a", "y-MM-dd H", "cc", "d m y"])
def test_pattern_parts_that_a_date_lacks_are_refused(pattern):
    (fault,) = list_date_faults(pattern, (), "order.toml: [list] dates")
    assert pattern in fault.found and ("time of day" in fault.found or "day of the week" in fault.found)
