"""An engraver's questions: each with texts that raise it and texts that must not."""

from collections import Counter
from pathlib import Path

import openpyxl
import pytest
from openpyxl.comments import Comment
from openpyxl.styles import Font

from pipeline.core import catalogue
from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, Order, OrderFolder
from pipeline.core.errors import CannotRun
from pipeline.core.findings import Severity
from pipeline.intake.names.name_questions import _list_questions, question_text, remove_remarks
from pipeline.intake.names.wording import TextPlace, cut_text
from pipeline.intake.order.settled_questions import check_settled
from pipeline.intake.recipients.read_list import read_list
from pipeline.intake.spreadsheet.sheet import Cell, Row, Sheet
from tests.intake.one_list import read_one_list
from tests.load_script import load_script

PLACE = TextPlace(7, "B7")


def asked(raw, named=True, marks=frozenset()):
    text = cut_text(raw, PLACE).text
    found = question_text(raw, text, PLACE, named=named, marks=marks)
    for finding in found:
        assert finding.severity is Severity.ASK and "B7" in catalogue.format_message(finding)
        assert "?" in catalogue.format_for_client(finding) and catalogue.format_remedy(finding)
    return [f.code.removeprefix("text.") for f in found]


@pytest.mark.parametrize(
    ("text", "bare"),
    [
        ("Ada Skua (rtd), x2", "Ada Skua"),
        ("in memory of the late Sir Ivo Skua", "Sir Ivo Skua"),
        ("Agathe Late Skua", "Agathe Late Skua"),
        ("Friends of the late Ada Skua", "Friends of  Ada Skua"),
    ],
)
def test_only_remarks_are_taken_off_before_capitals_are_compared(text, bare):
    assert remove_remarks(text) == bare


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("TBC", "placeholder"),
        ("xxx", "placeholder"),
        ("N/A", "placeholder"),
        ("-", "placeholder"),
        ("to be confirmed", "placeholder"),
        ("First Last", "placeholder"),
        ("Name 3", "placeholder"),
        ("Not awarded", "placeholder"),
        ("i’w gadarnhau", "placeholder"),
        ("Ada Skua (deceased)", "remark-inside"),
        ("Ada Skua - spelling?", "remark-inside"),
        ("Ada Skua (née Tern)", "remark-inside"),
        ("Ada Skua?", "remark-inside"),
        ("Ada Skua*", "remark-inside"),
        ("Ada Skua†", "remark-inside"),
        ("Ada Skua (2 τεμάχια)", "remark-inside"),
        ("Ada Skua²", "remark-inside"),
        ("Ada Skua [NEW]", "remark-inside"),
        ("Ada & Ned Skua x2, Stroke, 2026", "remark-inside"),
        ("Ada Skua 2x; gold", "remark-inside"),
        ("Col. Ada Skua-Tern (rtd), Bow, 2025", "remark-inside"),
        ("the late Sir Ivo Skua", "remark-inside"),
        ("The Late Sir Ivo Skua, Patron", "remark-inside"),
        ("Ada Skua\nBo Tern", "several-names"),
        ("1. Ada Skua 2. Bo Tern", "several-names"),
        ("Ada Skua; Bo Tern", "several-names"),
        ("Ada Skua / Bo Tern", "several-names"),
        ("Ada Skua, Bo Tern and Cy Knot", "several-names"),
        ("Skua, Ada", "surname-first"),
        ("Ada Ada Skua", "doubled-word"),
        ("Friends of the the Reef", "doubled-word"),
        ("Skua,Ada", "space-odd"),
        ("Dr.Ada Skua", "space-odd"),
        ("Ada Skua , Chair", "space-odd"),
        ("Ada O 'Faran", "name-form"),
        ("Ada Skua- Tern", "space-odd"),
        ("Ada Skua,", "stray-mark"),
        ("- Ada Skua", "stray-mark"),
        ("'Ada Skua", "stray-mark"),
        ("Ada_Skua", "stray-mark"),
        ("Ada  Skua--Tern", "stray-mark"),
        ("Ada O`Faran", "stray-mark"),
        ("B0 Tern", "stray-digit"),
        ("Ada5 Skua", "stray-digit"),
        ("12. Ada Skua", "stray-digit"),
        ("[03/11/2026, 10:12] Joan: Ada Skua", "stray-digit"),
        ("4711", "stray-digit"),
        ("0'Faran Ada", "stray-digit"),
        ("Ada 🎉 Skua", "symbol"),
        ("Ada ★", "symbol"),
        ("Ada (Bo Skua", "unbalanced"),
        ('Ada "Bo Skua', "unbalanced"),
        ("Ada “Bo Skua", "unbalanced"),
        ("Ruth Mcfaran", "name-form"),
        ("Ada O’faran", "name-form"),
        ("Conor O Faran", "name-form"),
        ("A" + "da" * 127, "cut-short"),
    ],
)
def test_asked(text, code):
    assert code in asked(text)


@pytest.mark.parametrize(
    "text",
    [
        "Ada Skua",
        "J. R. Tern",
        "J.R. Tern",
        "Ada Skua Ph.D.",
        "Ada Skua, OBE",
        "Ada Skua Jr.",
        "Ada Skua, PhD, FRS",
        "Robert (Bo) Skua",
        "Ada “Dot” Skua",
        'Ada "Dot" Skua',
        "Sig.ra Elena Crispi",
        "Jory & Tamsin Pellow",
        "Jory and Tamsin Pellow",
        "Rhys ap Gwylan",
        "Lorcan Mac Giolla Mara",
        "Ruth McFaran",
        "Ada O’Faran",
        "Saoirse Ó Faráin",
        "Macey Machin",
        "Skerry Rope & Sail Company Ltd.",
        "3rd Skerry Scouts",
        "Ada Skua (1920–2001)",
        "Class of 2026",
        "Studio 54",
        "Marks & Tern 1998–2026",
        "Anne-Marie Ibáñez-Skua",
        "Ian d’Arcy",
        "Ibn al-Bahr",
        "風早美緒",
        "Нина О’Фаран",
        "King Charles’s Rock",
        "The Terns’ Nest",
        "’s-Gravenmeeuw",
        "Nurse No. 7",
        "Who Dares Team",
        "Ada Skua & Sons",
        "Bo Tern © 2026",
        "St. John Skua",
        "Yacht “Fulmar II”",
    ],
)
def test_not_asked(text):
    assert asked(text) == []


@pytest.mark.parametrize("text", ["Open", "12. Ada Skua", "Skua, Ada", "Regional (new)", "100 m", "Ada Skua; Bo Tern"])
def test_an_oddity_only_in_names_is_asked_about_only_there(text):
    assert asked(text, named=False) == []


def test_formatting_that_would_be_lost():
    assert asked("1st Skua", named=False, marks=frozenset({"superscript"})) == ["format-lost"]
    assert asked("Ada Skua", marks=frozenset({"part-struck"})) == ["format-lost"]


# --- the list as a whole -----------------------------------------------------------------------------------------


def sheet(names):
    rows = [Row(n, (Cell(n, 1, "text", name, name),)) for n, name in enumerate(["Name", *names], 1)]
    return Sheet(file="x.csv", path=Path("x.csv"), name="x", sha256="", rows=tuple(rows))


def read(names, **kw):
    return read_one_list(sheet(names), ListConfig(file="x.csv", columns={"name": "Name"}, **kw), ["name"])


def rows_asked(done):
    return {r.row: [f.code for f in r.findings] for r in done.recipients if r.findings}


PLAIN = ["Ada Kittiwake", "Bo Tern", "Cy Knot", "Dagny Tordalke", "Edda Hrafn"]


@pytest.mark.parametrize(
    ("usual", "odd", "code"),
    [
        (PLAIN, "Mr Fergus Ruff", "text.title-odd"),
        ([f"Ms {name}" for name in PLAIN], "Fergus Ruff", "text.title-odd"),
        ([f"Dr {name}" for name in PLAIN], "Dr. Fergus Ruff", "text.title-odd"),
        ([f"{name} Jr" for name in PLAIN], "Fergus Ruff Junior", "text.title-odd"),
        (
            ["Ada & Bo Tern", "Cy & Dagny Knot", "Edda & Isolde Auk", "Mo & Jo Ruff"],
            "Una and Val Smew",
            "text.ampersand-odd",
        ),
        (["Ada O’Tern", "Bo O’Knot", "Cy O’Hrafn", "Jo Auk"], "Mo O'Ruff", "text.apostrophe-odd"),
    ],
)
def test_one_name_that_differs_from_the_rest_is_asked_about(usual, odd, code):
    assert rows_asked(read([*usual, odd])) == {len(usual) + 2: [code]}
    assert rows_asked(read(usual)) == {}


def test_many_names_that_differ_from_the_rest_are_one_question():
    names = [
        *[f"{a} {b}" for a in ("Ada", "Bo", "Cy") for b in ("Tern", "Knot", "Auk")],
        *[f"Mr {n} Smew" for n in ("Dewi", "Ebbe", "Finn", "Gus", "Hal")],
    ]
    done = read(names)
    assert rows_asked(done) == {}
    (finding,) = [f for f in done.findings if f.code == "list.two-ways"]
    assert "5 of 14 names have a courtesy title: rows 11, 12" in catalogue.format_message(finding)
    assert catalogue.format_for_client(finding).endswith("?")


# --- off switches ------------------------------------------------------------------------------------------------


def test_a_settled_question_is_not_asked_and_the_reason_is_kept():
    names = [*PLAIN, "KESTER ROOKSBY", "TBC"]
    assert rows_asked(read(names)) == {7: ["text.case-odd"], 8: ["text.placeholder"]}
    done = read(names, settled={"text.case-odd": "capitals are wanted, Ms Pellow, 3 May"})
    assert rows_asked(done) == {8: ["text.placeholder"]}
    (note,) = done.findings
    assert note.code == "list.settled" and "row 7: capitals are wanted" in catalogue.format_message(note)


def test_settled_for_some_rows_only():
    names = [*PLAIN, "Ada Kittiwake", "Bo Tern"]
    done = read(names, settled={"list.repeated 7": "two sisters"})
    assert rows_asked(done) == {8: ["list.repeated"]}
    assert [f.code for f in done.findings] == ["list.settled"]


def test_settled_about_the_whole_list():
    done = read([*PLAIN, *[f"Mr {n} Skua" for n in ("A", "B", "C", "D")]], settled={"list.two-ways": "as typed"})
    assert [f.code for f in done.findings] == ["list.settled"]


@pytest.mark.parametrize(
    ("settled", "words"),
    [
        ({"text.case-od": "x"}, "did you mean “text.case-odd”"),
        ({"list.cell-error": "x"}, "cannot be settled"),
        ({"text.tidied": "x"}, "cannot be settled"),
        ({"list.repeated seven": "x"}, "“seven”"),
        ({"list.repeated": " "}, "has no reason"),
    ],
)
def test_invalid_settled_entries_are_refused(settled, words):
    (fault,) = check_settled(settled, "order.toml")
    assert words in str(fault).replace("Did", "did")


def test_every_question_about_a_list_can_be_settled():
    questions_there = [
        c for c, k in catalogue.KINDS.items() if k.severity is Severity.ASK and c[:5] in ("list.", "text.")
    ]
    assert len(questions_there) > 25
    assert not list(check_settled(dict.fromkeys(questions_there, "said so"), "order.toml"))


# --- thirty kinds of fault ---------------------------------------------------------------------------------------


def read_faulty(tmp_path, rows):
    book = openpyxl.Workbook()
    page = book.active
    page.append(("Recipient", "Post", "Copies"))
    for number, row in enumerate(rows, 2):
        for column, value in enumerate((row.name or None, row.post, row.copies), 1):
            cell = page.cell(number, column)
            cell.value = value
            if isinstance(value, str) and not value.startswith("#"):
                cell.data_type = "s"
        if row.mark == "hidden":
            page.row_dimensions[number].hidden = True
        if row.mark == "struck":
            page.cell(number, 1).font = Font(strike=True)
        if row.mark == "comment":
            page.cell(number, 1).comment = Comment("moved away", "M.T.")
    book.save(tmp_path / "list.xlsx")
    order = Order(
        title="x",
        list=ListConfig(file="list.xlsx", columns={"name": "Recipient", "post": "Post", "copies": "Copies"}),
        blank=BlankConfig(shape="disc", diameter=70.0),
        line=(LineConfig(text="{name}", face="eb-garamond", cap_height=8.0),),
    )
    return read_list(OrderFolder(order=order, folder=tmp_path, file=tmp_path / "order.toml", sha256="0" * 64))


def test_thirty_kinds_of_fault_are_caught_and_clean_rows_left_alone(tmp_path):
    made = load_script("intake/fault_list.py")
    assert made.TRUTH.read_text(encoding="utf-8") == made.truth(), "write it anew: python tests/intake/fault_list.py"
    assert len(made.FAULTS) >= 30
    rows = made.rows()
    done = read_faulty(tmp_path, rows)
    said = {r.row: {f.code for f in r.findings if f.severity != "note"} for r in done.recipients}
    missed, false = Counter(), []
    for number, row in enumerate(rows, 2):
        found = said.get(number, set())
        if row.fault and row.code not in found:
            missed[row.fault] += 1
        elif not row.fault and found:
            false.append((number, row.name, found))
    seeded = sum(bool(row.fault) for row in rows)
    print(f"caught {seeded - missed.total()} of {seeded} seeded; {len(false)} false of {len(rows) - seeded} clean")
    assert not missed, missed
    assert len(false) <= 0.01 * (len(rows) - seeded), false
    assert done.rows == len(rows) + 1 == len(done.account)


# --- honest lists ------------------------------------------------------------------------------------------------

LOCALES = (
    "en_GB en_US en_AU en_IE de_DE fr_FR es_ES it_IT pt_BR nl_NL da_DK sv_SE no_NO fi_FI pl_PL cs_CZ hu_HU ro_RO tr_TR "
    "el_GR ru_RU uk_UA he_IL ar_AA ja_JP zh_CN ko_KR vi_VN is_IS hr_HR"
).split()


@pytest.mark.slow
@pytest.mark.parametrize("whole", [False, True], ids=["first and family name", "with titles as they come"])
def test_correct_lists_raise_few_questions(whole):
    # Faker's names (MIT), lists of 60 in 30 languages; its Mcneil for McNeil is a real fault
    from faker import Faker

    names_in = asked_of = 0
    for locale in LOCALES:
        fake = Faker(locale)
        fake.seed_instance(4711)
        make = fake.name if whole else lambda fake=fake: f"{fake.first_name()} {fake.last_name()}"
        names = list(dict.fromkeys(make() for _ in range(60)))
        names_in += len(names)
        for recipient in read(names).recipients:
            asked_of += any(f.severity is Severity.ASK and f.code != "text.name-form" for f in recipient.findings)
    print(f"{asked_of} of {names_in} names asked about")
    assert names_in > 1600 and asked_of < 0.01 * names_in


def test_a_wrong_settled_key_stops_the_order():
    with pytest.raises(CannotRun):
        read(PLAIN, settled={"list.repeated x-y": "no"})


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("Ann Tillerby, Bert Ockham and Cleo Marsh", 3),
        ("Ann Tillerby, Bert Ockham, and Cleo Marsh", 3),
        ("Ann Tillerby, Bert Ockham", 2),
        ("Ann, Bert, Cleo", 3),
        ("Ann, Bert and Cleo", 3),
        ("Jörg Möwe, Änne Kranich und Ulf Seeschwalbe", 3),
        ("Íñigo Gaviota, Lucía Garza y Begoña Sola", 3),
        ("Ann Tillerby + Bert Ockham", 2),
    ],
)
def test_several_names_in_one_cell_are_asked_about(text, count):
    found = [(kind.code, facts) for kind, facts in _list_questions(text, text, True)]
    assert found == [("text.several-names", {"count": count})]


@pytest.mark.parametrize(
    "text",
    ["Ada Wren, Jr.", "Ada Wren, PhD, FRS", "Skua, Ada", "Skua, Ada Mary", "Ortega y Garza, José", "Wren, Ada, Dr",
     "Dai Fenwick and Edda Rooksby", "Ada Wren, OBE"],
)  # fmt: skip
def test_commas_in_one_name_are_not_several(text):
    assert "text.several-names" not in [kind.code for kind, _ in _list_questions(text, text, True)]
