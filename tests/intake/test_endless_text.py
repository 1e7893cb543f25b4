"""Endless texts stop their own row, quickly, and no other row."""

import time

import pytest

from pipeline.intake.names.name_questions import shorten
from pipeline.run import run_order

ORDER = """
title = "Shore Wardens"
[list]
file = "list.csv"
[blank]
shape = "rectangle"
width = 120.0
height = 60.0
thickness = 6.0
[[line]]
text = "{name}"
face = "noto-sans"
cap_height = 8.0
smallest = 3.0
breaks = 4
[[line]]
text = "{post}"
face = "noto-sans"
cap_height = 4.0
"""
ACUTE = "\u0301"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("Ada " * 2500, "text.endless"),
        ("a" * 501, "text.endless"),
        ("A" + ACUTE * 500 + "da Skua", "text.marks-piled-up"),
        ("A" + ACUTE * 13 + "da Skua", "text.marks-piled-up"),
        ("Á" + ACUTE * 12 + "da Skua", "text.marks-piled-up"),  # composed: one more than visible in the source
    ],
)
@pytest.mark.parametrize("column", ["name", "post"])
def test_an_endless_text_stops_only_its_row(tmp_path, text, code, column):
    endless = f"{text},Warden" if column == "name" else f"Ada Skua,{text}"
    (tmp_path / "list.csv").write_text(f"Name,Post\n{endless}\nIda Vex,Clerk\n", encoding="utf-8")
    (tmp_path / "order.toml").write_text(ORDER, encoding="utf-8")
    begun = time.process_time()
    done = run_order(tmp_path, files=False)
    assert time.process_time() - begun < 10
    stopped, ready = done.report["plaques"]
    stops = [f for f in stopped["findings"] if f["severity"] == "stop"]
    assert [f["code"] for f in stops] == [code]
    assert all(len(f["message"]) < 300 for f in stops)
    assert ready["state"] == "ready" and done.exit_status == 1


@pytest.mark.parametrize(
    "name",
    ["Nguyễn Thị Ngọc Ánh", "בְּרֵאשִׁ֖ית בָּרָ֣א", "ᾍδης Ὀδυσσεύς", "རྒྱལ་མཚན་བསྒྲུབས", "Zoë " * 40, "A" + ACUTE * 12],
    ids=shorten,
)
def test_real_names_with_many_marks_are_not_stopped(tmp_path, name):
    from pipeline.intake.order.order_file import read_order
    from pipeline.intake.recipients.read_list import read_list

    (tmp_path / "list.csv").write_text(f"Name,Post\n{name},Warden\n", encoding="utf-8")
    (tmp_path / "order.toml").write_text(ORDER, encoding="utf-8")
    (recipient,) = read_list(read_order(tmp_path)).recipients
    assert not {f.code for f in recipient.findings} & {"text.endless", "text.marks-piled-up"}
