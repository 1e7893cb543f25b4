"""A line's text: keyboard marks are reported, and changed only where the line asks for it."""

from pipeline.core import catalogue
from pipeline.core.config.order import BlankConfig, LineConfig, ListConfig, Order
from pipeline.core.model import Recipient
from pipeline.layout.line_texts import compose_line_texts


def said(name, **line):
    part = LineConfig(text="{name}", face="noto-sans", cap_height=8.0, **line)
    order = Order(
        title="Wardens",
        list=ListConfig(file="list.csv", language="en"),
        blank=BlankConfig(shape="rectangle", width=100.0, height=60.0),
        line=(part,),
    )
    recipient = Recipient(row=4, cell="B4", values=(("name", name),), raw=(("name", name),))
    texts, found = compose_line_texts(order, recipient)
    return texts[0].text, found


def test_keyboard_marks_are_reported_but_kept():
    text, (finding,) = said("Siobhan O'Quill")
    assert text == "Siobhan O'Quill"
    assert finding.code == "text.marks-typed" and finding.severity == "note"
    assert "“Siobhan O’Quill”" in catalogue.format_message(finding) and "apostrophes" in catalogue.format_message(
        finding
    )
    assert "tidy_quotes = true" in catalogue.format_remedy(finding)


def test_keyboard_marks_are_replaced_where_the_line_asks_for_it():
    text, (finding,) = said('Agnes "Aggie" O\'Quill', tidy_quotes=True)
    assert text == "Agnes “Aggie” O’Quill"
    assert finding.code == "text.marks-tidied"
    assert 'instead of “Agnes "Aggie" O\'Quill”' in catalogue.format_message(finding)
    assert "“Agnes “Aggie” O’Quill”" in catalogue.format_for_client(finding)


def test_typographic_marks_have_no_finding():
    assert said("Siobhan O’Quill", tidy_quotes=True) == ("Siobhan O’Quill", [])


def test_capitals_follow_the_language():
    assert said("Ευθυμία", case="capitals")[0] == "ΕΥΘΥΜΊΑ"  # the list states English: the accent is kept
    assert said("Ευθυμία", case="capitals", language="el")[0] == "ΕΥΘΥΜΙΑ"
