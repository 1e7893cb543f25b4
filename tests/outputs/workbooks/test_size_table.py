"""The size table: the result of each same_size policy for every name, counted by hand, and the sheet that shows it."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import numpy as np
import openpyxl
import pytest

from pipeline.core.config.order import Order
from pipeline.core.model import Blank, LineSizes, Plaque, SizedName
from pipeline.geometry.curves import Chain
from pipeline.layout.size_policies import SizePolicies
from pipeline.layout.size_policies import build_size_table as table_of
from pipeline.layout.typesetter import LineText, Typesetter
from pipeline.lettering.font_face import open_face
from pipeline.lettering.shaping import shape_row
from pipeline.outputs.report import write_report_lines
from pipeline.outputs.workbooks import size_sheet, size_table_totals
from pipeline.outputs.workbooks.check_sheet import check_sheet
from tests import builders

NAMES = ("Ida Vex", "Ada Featherston", "Featherstone-Vex", "Bartholomew Featherstonehaugh-Cholmondeley")
ROOM = 70.0


@pytest.fixture(scope="module")
def noto():
    return open_face("noto-sans")


def table(noto, policy):
    order = Order.model_validate(
        {
            "title": "T",
            "list": {"file": "l.csv"},
            "blank": {"shape": "rectangle", "margin": 4.0},
            "line": [
                {"text": "{name}", "face": "noto-sans", "cap_height": 8.0, "smallest": 5.0, "breaks": 2}
                | {"same_size": policy}
            ],
        }
    )
    zone = Chain(np.array([[0, 0, 0], [ROOM + 8, 0, 0], [ROOM + 8, 60, 0], [0, 60, 0]], float))
    blank = Blank(edge=zone, width=ROOM + 8, height=60.0, thickness=5.0, zones=(("LETTERING", zone),))
    setter = Typesetter(order, blank, [[noto]])
    everybody = {row: [LineText(line=1, text=name)] for row, name in enumerate(NAMES, 2)}
    for line, (size, _) in setter.find_common_sizes(list(everybody.values())).items():
        setter.tops[line - 1] = size
    tried = SizePolicies(setter)
    plaques = [
        Plaque(
            recipient=builders.recipient(row, texts[0].text),
            text=(texts[0].text,),
            artwork=None,
            sizes=tried.compare_sizes([(t.text, t.setting) for t in setter.set_lines(texts)]),
        )
        for row, texts in everybody.items()
    ]
    return table_of(order, plaques)[0], setter


def fits(noto, text, size):
    row = shape_row([noto], text)
    return (row.ink[2] - row.ink[0]) * size / row.cap_units <= ROOM


def step_down(noto, text):
    """Return the largest whole quarter mm at which the text fits in one row, computed here."""
    return next(size for size in np.arange(8.0, 4.9, -0.25) if fits(noto, text, size))


def test_every_policy_gives_the_same_table(noto):
    """The table shows the result of each policy, so it must not depend on the order's own one."""
    tables = {policy: table(noto, policy)[0] for policy in size_table_totals.POLICIES}
    assert tables["all"].names == tables["most"].names == tables["each"].names
    assert [t.same_size for t in tables.values()] == ["all", "most", "each"]


def test_sizes_are_those_worked_out_by_hand(noto):
    sizes, setter = table(noto, "most")
    assert [name.row for name in sizes.names] == [2, 3, 4, 5]
    short, one, two, lost = sizes.names
    assert (short.most, short.each) == (8.0, 8.0)
    assert fits(noto, NAMES[1], 8.0) is False  # broken at its designed size, or smaller in one row
    assert (one.most, one.each) == (8.0, step_down(noto, NAMES[1]))
    assert two.most == two.each == step_down(noto, NAMES[2]) < 8.0  # a single word can't be broken
    assert (lost.most, lost.each) == (None, None)
    # with "all", the common size is the smallest of them
    everybody = [[LineText(line=1, text=name)] for name in NAMES[:3]]
    common = table(noto, "all")[1].tops[0]
    assert common == min(short.most, one.most, two.most)
    assert setter.find_common_sizes(everybody) == {}


def invented():
    names = [(2, "Ada", 8.0, 8.0), (3, "Bo", 8.0, 7.5), (4, "Cy", 6.5, 6.0), (5, "Di", 6.5, 5.5), (6, "Ed", 7.25, 7.0)]
    rows = [SizedName(row=row, text=text, most=most, each=each) for row, text, most, each in names]
    rows.append(SizedName(row=7, text="=SUM(A1)", most=None, each=None))
    return LineSizes(line=1, same_size="most", designed=8.0, names=tuple(rows))


def test_counts_and_the_names_that_limit_the_others():
    line = invented()
    assert size_table_totals.count_sizes(line) == {
        "all": {6.5: 5},
        "most": {6.5: 2, 7.25: 1, 8.0: 2},
        "each": {5.5: 1, 6.0: 1, 7.0: 1, 7.5: 1, 8.0: 1},
    }
    assert [name.row for name in size_table_totals.list_not_set(line)] == [7]
    held = size_table_totals.list_size_holders(line)
    assert [(h.size, [n.row for n in h.by], h.others) for h in held] == [(6.5, [4, 5], 7.25), (7.25, [6], 8.0)]


def test_a_line_on_which_no_name_fits():
    line = replace(invented(), names=(SizedName(row=7, text="x", most=None, each=None),))
    assert size_table_totals.count_sizes(line) == {"all": {}, "most": {}, "each": {}}
    assert size_table_totals.list_size_holders(line) == ()
    assert size_table_totals.report_sizes(line)["not_set"] == [7]


@pytest.fixture(scope="module")
def outcome():
    return replace(builders.outcome(), sizes=(invented(), LineSizes(line=2, same_size="all", designed=4.0, names=())))


def test_the_report_has_the_size_table(outcome):
    line, empty = json.loads("".join(write_report_lines(outcome, builders.folder())))["sizes"]
    assert line["policies"]["most"] == [
        {"cap_height": 6.5, "names": 2},
        {"cap_height": 7.25, "names": 1},
        {"cap_height": 8.0, "names": 2},
    ]
    assert line["held_down"][0] == {"cap_height": 6.5, "rows": [4, 5], "others": 7.25}
    assert empty["policies"] == {"all": [], "most": [], "each": []}


def test_the_sheet_has_numbers_and_a_chart_of_them(outcome):
    data = check_sheet(outcome, builders.folder())
    assert data == check_sheet(outcome, builders.folder())
    sheet = openpyxl.load_workbook(io.BytesIO(data))[size_sheet.SHEET]
    rows = [[c for c in row if c is not None] for row in sheet.iter_rows(values_only=True)]
    assert rows[0] == ["Line 1, designed at 8.00 mm"]
    assert [5.5, 0, 0, 1] in rows and [8, 0, 2, 1] in rows and ["cannot be set", 1] in rows
    assert [6.5, 2, 7.25, 12, "row 4 Cy; row 5 Di"] in rows
    (chart,) = sheet._charts
    last = 2 + len({5.5, 6.0, 6.5, 7.0, 7.25, 7.5, 8.0})
    assert [s.val.numRef.f for s in chart.series] == [f"Sizes!${c}$3:${c}${last}" for c in "BCD"]
    assert {s.cat.numRef.f for s in chart.series} == {f"Sizes!$A$3:$A${last}"}
    assert sheet.cell(last, 1).value == 8 and sheet.cell(3, 1).value == 5.5
