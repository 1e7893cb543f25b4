"""Questions to the client: one cause is one question, on the form and on the check sheet; and the answers to it."""

import csv
import datetime as dt
import io
import json
import shutil

import openpyxl
import pikepdf
import pytest

from pipeline.commands.sign_command import sign
from pipeline.core.language.texts import load_texts
from pipeline.core.units import MM
from pipeline.outputs.client_questions import build_client_questions
from pipeline.outputs.pdf.identity import FIELD, ProofIdentity
from pipeline.run import run_order
from tests import builders

NAMES = ("Ada Kelding", "Bram Thornaby", "Cora Hollin", "Dilys Fennick", "Edwin Saltram")
ORDER = """title = "Plates"
client = "Friends of Cressing"
[list]
file = "plates.xlsx"
columns = { name = "Name", born = "Born" }
[blank]
shape = "rectangle"
width = 100.0
height = 30.0
thickness = 1.5
[cutter]
use = "point"
[[line]]
text = "{name}"
face = "hershey-futural"
cap_height = 4.0
[[line]]
text = "{born}"
face = "hershey-futural"
cap_height = 4.0
"""


def plates(folder):
    """Return five plates with a column of dates, one name too long, one that is a placeholder."""
    folder.mkdir()
    book = openpyxl.Workbook()
    book.active.append(["Name", "Born"])
    for n, name in enumerate(NAMES, 1):
        book.active.append([name, dt.date(1940, n, 17)])
        book.active.cell(n + 1, 2).number_format = "dd/mm/yyyy"
    book.active.append(["Bartholomew Fotheringay-Penhallow of Upper Quarrington and of Saltram", "1940"])
    book.active.append(["TBC", "1941"])
    book.save(folder / "plates.xlsx")
    (folder / "order.toml").write_text(ORDER, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def asked_once(tmp_path_factory):
    """The plates after their run, which all tests here begin with."""
    folder = plates(tmp_path_factory.mktemp("asked") / "plates")
    run_order(folder)
    return folder


@pytest.fixture
def made(asked_once, tmp_path):
    """A copy of them for one test to sign."""
    return shutil.copytree(asked_once, tmp_path / "plates")


def asked(folder):
    with pikepdf.open(folder / "out" / "proof.pdf") as pdf:
        field = next(f for f in pdf.Root.AcroForm.Fields if str(f.T) == FIELD)
        return ProofIdentity.from_json(str(field.V).encode())


def returned(folder, name="returned.pdf", **values):
    """Fill in the proof: text, or True for a tick."""
    with pikepdf.open(folder / "out" / "proof.pdf") as pdf:
        fields = {str(f.T): f for f in pdf.Root.AcroForm.Fields}
        for key, value in {"name": "R. Pellow", **values}.items():
            field = fields[key]
            if key == "decision":
                field.V = pikepdf.Name(f"/{value}")
                for kid in field.Kids:
                    kid.AS = pikepdf.Name(f"/{value}" if f"/{value}" in dict(kid.AP.N) else "/Off")
            elif value is True:
                on = next(k for k in dict(field.AP.N) if k != "/Off")
                field.V = field.AS = pikepdf.Name(on)
            else:
                field.V = pikepdf.String(value)
        pdf.Root.AcroForm.NeedAppearances = True
        pdf.save(folder / name)
    return folder / name


def signed(folder, *papers, **more):
    """Return what `sign --json` prints about these papers."""
    said = []
    sign(folder, [str(p) for p in papers], clock=lambda: "2026-11-29T12:00:00Z", say=said.append, as_json=True, **more)
    return json.loads(said[-1])


def test_a_column_of_dates_a_placeholder_and_a_long_name_are_three_questions(made):
    dates, long, soon = sorted(asked(made).questions, key=lambda q: q.code != "list.not-text")
    assert dates.rows == (2, 3, 4, 5, 6) and dates.cells == ("B2", "B3", "B4", "B5", "B6")
    assert dates.words == ("“17/01/1940”, as in your list", "17 January 1940", "As written here")
    assert len(dates.fingerprints) == 5 and not dates.stopped
    assert {long.code, soon.code} == {"fit.too-long", "text.placeholder"}
    assert [q.stopped for q in (long, soon) if q.code == "fit.too-long"] == [(7,)]


def test_every_choice_is_a_box_and_every_question_has_a_line(made):
    with pikepdf.open(made / "out" / "proof.pdf") as pdf:
        there = {str(w.get("/T", "")) for page in pdf.pages for w in page.obj.get("/Annots", ())}
    for question in asked(made).questions:
        assert {question.line, *map(question.get_field_name, question.choices)} <= there
    assert not [name for name in there if name.startswith(("answer_", "choice_"))]


def test_as_shown_settles_the_question_for_every_plaque_concerned(made):
    dates = next(q for q in asked(made).questions if q.code == "list.not-text")
    found = signed(made, returned(made, **{dates.get_field_name("as-listed"): True, "decision": "agreed-as-shown"}))
    by_row = {row: a["answer"] for a in found["answers"] for row in a["rows"]}
    assert [by_row[row] for row in (2, 3, 4, 5, 6)] == ["agreed"] * 5
    assert by_row[8] == "unclear"  # its own question is still open


def test_another_choice_changes_every_plaque_concerned_and_is_reported_once(made):
    dates = next(q for q in asked(made).questions if q.code == "list.not-text")
    paper = returned(made, **{dates.get_field_name("way-1-dates"): True, "decision": "agreed-with-changes"})
    said = []
    sign(made, [str(paper)], clock=lambda: "2026-11-29T12:00:00Z", say=said.append)
    changes = openpyxl.load_workbook(made / "out" / "changes.xlsx").active
    wanted = [row for row in changes.iter_rows(min_row=2, values_only=True) if "17 January 1940" in str(row)]
    assert len(wanted) == 1 and "question" in " ".join(map(str, wanted[0]))


@pytest.mark.parametrize(
    "fill, answer",
    [
        (lambda q: {q.get_field_name("as-listed"): True, q.get_field_name("way-1-dates"): True}, "unclear"),
        (lambda q: {q.get_field_name("as-listed"): True, q.line: "or perhaps 17 Jan?"}, "unclear"),
        (lambda q: {q.get_field_name("written"): True}, "unclear"),
        (lambda q: {q.line: "17 Jan. 1940"}, "change"),
        (lambda q: {q.get_field_name("written"): True, q.line: "17 Jan. 1940"}, "change"),
        (lambda q: {q.get_field_name("as-listed"): True, q.line: "Yes, please."}, "agreed"),
        (lambda q: {}, "unclear"),
    ],
)
def test_contradictory_answers_are_unclear_and_written_ones_are_a_change(made, fill, answer):
    dates = next(q for q in asked(made).questions if q.code == "list.not-text")
    found = signed(made, returned(made, decision="agreed-with-changes", **fill(dates)))
    assert {a["answer"] for a in found["answers"] if set(a["rows"]) <= {2, 3, 4, 5, 6}} == {answer}


def test_a_plaque_ticked_as_correct_whose_question_is_answered_otherwise_is_unclear(made):
    told = asked(made)
    dates = next(q for q in told.questions if q.code == "list.not-text")
    mark = dates.fingerprints[0]
    found = signed(made, returned(made, **{f"correct_{mark}": True, dates.get_field_name("way-1-dates"): True}))
    assert next(a for a in found["answers"] if a["fingerprint"] == mark)["answer"] == "unclear"


def test_the_choice_for_a_name_that_cannot_be_cut_is_a_reply(made):
    long = next(q for q in asked(made).questions if q.code == "fit.too-long")
    found = signed(made, returned(made, **{long.get_field_name("leave-out"): True, "decision": "agreed-with-changes"}))
    assert "Leave it out" in json.dumps(found, ensure_ascii=False)


def test_an_identity_without_questions_is_unchanged_and_duplicate_numbers_are_refused(made):
    told = asked(made)
    plain = json.loads(told.to_json())
    plain.pop("questions")
    assert not ProofIdentity.from_json(json.dumps(plain).encode()).questions
    assert b"questions" not in ProofIdentity.from_json(json.dumps(plain).encode()).to_json()
    twice = json.loads(told.to_json())
    twice["questions"].append(twice["questions"][0])
    with pytest.raises(ValueError, match="one number"):
        ProofIdentity.from_json(json.dumps(twice).encode())


# --- the check sheet ----------------------------------------------------------------------------------------------


def sheet(folder, code, choice="", words="", agreed=(), name="returned.xlsx"):
    """Fill in the check sheet: an answer to the question with this code, and rows that are approved."""
    book = openpyxl.load_workbook(folder / "out" / "check.xlsx")
    page = book["Our questions"]
    heads = {c.value: c.column for c in page[1]}
    for row in page.iter_rows(min_row=2):
        if str(row[heads["Codes"] - 1].value).startswith(code):
            row[heads["Your choice"] - 1].value = choice or None
            row[heads["In your words"] - 1].value = words or None
    first = book.worksheets[0]
    heads = {c.value: c.column for c in first[1]}
    for row in first.iter_rows(min_row=2):
        if row[heads["Row"] - 1].value in agreed:
            row[heads["Your answer"] - 1].value = "agreed"
    sign_page = book["Sign-off"]
    for row in sign_page.iter_rows():
        if row[0].value == "Your name":
            row[1].value = "R. Pellow"
    book.save(folder / name)
    return folder / name


def answers(found):
    return {row: a["answer"] for a in found["answers"] for row in a["rows"]}


def test_the_check_sheet_asks_the_same_questions_once(made):
    book = openpyxl.load_workbook(made / "out" / "check.xlsx")
    rows = [*book["Our questions"].iter_rows(min_row=2, values_only=True)]
    assert [row[1] for row in rows] == [q.text for q in asked(made).questions]
    first = [*book.worksheets[0].iter_rows(values_only=True)]
    at = first[0].index("For the client")
    assert first[1][at] == "Please answer question 1 on the sheet “Our questions”."


@pytest.mark.parametrize("choice", ["2", "17 January 1940"])
def test_a_choice_on_the_sheet_changes_every_row_concerned(made, choice):
    found = answers(signed(made, sheet(made, "list.not-text", choice)))
    assert [found[row] for row in (2, 3, 4, 5, 6)] == ["change"] * 5


def test_as_shown_on_the_sheet_leaves_the_rows_to_their_own_answers(made):
    found = answers(signed(made, sheet(made, "list.not-text", "1", agreed=(2, 3))))
    assert (found[2], found[3], found[4]) == ("agreed", "agreed", "none")


def test_a_row_approved_against_the_answer_to_its_question_is_unclear(made):
    found = answers(signed(made, sheet(made, "list.not-text", "2", agreed=(2,))))
    assert found[2] == "unclear" and found[3] == "change"


def test_text_on_the_sheet_is_a_change_and_two_numbers_are_unclear(made):
    words = answers(signed(made, sheet(made, "list.not-text", words="17. Jan. 1940", name="a.xlsx")))
    assert words[2] == "change"
    two = answers(signed(made, sheet(made, "list.not-text", "1, 2", name="b.xlsx")))
    assert two[2] == "unclear"


def test_a_question_about_a_name_without_a_cut_is_a_reply(made):
    found = signed(made, sheet(made, "fit.too-long", words="Barty Penhallow"))
    assert "Barty Penhallow" in json.dumps(found, ensure_ascii=False)


def test_a_rewritten_question_is_reported(made):
    paper = sheet(made, "list.not-text", "1", agreed=(2,))
    book = openpyxl.load_workbook(paper)
    book["Our questions"].cell(2, 2).value = "Are all of these fine?"
    book.save(paper)
    found = signed(made, paper)
    assert answers(found)[2] == "unclear" or "Our questions" in json.dumps(found, ensure_ascii=False)


def test_a_list_without_dates_has_no_question_about_date_formats(tmp_path):
    folder = plates(tmp_path / "plates")
    out = io.StringIO()
    csv.writer(out).writerows([("Name", "Born"), *((name, "17 May 1940") for name in NAMES)])
    (folder / "plates.csv").write_text(out.getvalue(), encoding="utf-8")
    text = (folder / "order.toml").read_text(encoding="utf-8").replace("plates.xlsx", "plates.csv")
    (folder / "order.toml").write_text(text, encoding="utf-8")
    run_order(folder)
    assert not asked(folder).questions


@pytest.mark.parametrize(
    "language, quoted", [("en", "“EDWIN HOLLIN”"), ("de", "„EDWIN HOLLIN“"), ("es", "«EDWIN HOLLIN»")]
)
def test_names_in_a_question_have_the_quotation_marks_of_its_language(language, quoted):
    """Quotation marks as in Unicode CLDR for these languages (from memory)."""
    names = ("EDWIN HOLLIN", "RHONA PENHALLOW")
    people = tuple(builders.plaque(n, name, findings=(builders.capitals(n, name),)) for n, name in enumerate(names, 5))
    (question,) = build_client_questions(builders.outcome(people), MM, load_texts(language))
    assert quoted in question.words
    assert language == "en" or "“EDWIN" not in question.words
